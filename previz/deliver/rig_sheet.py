"""What of the rig is in a picture: marked on the still, and listed thing by thing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image

from previz.deliver.canvas import INK, width_of
from previz.deliver.compare_table import within_text
from previz.deliver.layout import Block, Setting, heading, paragraph, space, write_sheet_files
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.exposure.comparing.coverage import FAINT, Sighting
from previz.physics.safety import Caution

STRAY, KEPT, EDGE = (255, 170, 40), (235, 235, 232), (20, 20, 22)
"""Outline of what was not meant to be seen, of what was left in shot, and what lies next to both."""

LEAST_RING = 1.0
"""Half the side of the smallest ring round a thing. [units]"""

_NOTE = (
    "A full line goes round what is seen itself, a broken one round a reflection. Share: of the "
    "frame. Brightens: by how much a reflection lifts the place where it lies, with the lamps as "
    "set; under a tenth of a stop in glass, under half a stop in rough gloss, or in black it is "
    "not marked. Stands and cameras are taken to be where what they carry is written; their light "
    "is not known."
)


def rig_text(sighting: Sighting) -> str:
    """Return one thing of the rig in a line: what, where, how large, and whether it is meant."""
    parts = [sighting.name + (f" {within_text(sighting)}" if sighting.within else ""),
             sighting.side, share_text(sighting.share)]
    if sighting.lift is not None:
        parts.append(lift_text(sighting.lift))
    return f"{', '.join(parts)}: {meaning(sighting)}"


def share_text(share: float) -> str:
    """Return a share of the frame. [1]"""
    percent = 100 * share
    if percent < 0.01:
        return "under 0.01 % of the frame"
    digits = 0 if percent >= 9.95 else 1 if percent >= 0.095 else 2
    return f"{percent:.{digits}f} % of the frame"


def lift_text(lift: float) -> str:
    """Return how far a reflection stands out. [stops]"""
    if lift > 5.95:
        return "the only light there"
    return f"brightens its place by {lift:.1f} stops"


def meaning(sighting: Sighting) -> str:
    """Return whether a thing was meant to be seen."""
    if sighting.where == FAINT:
        return FAINT
    return "left in shot" if sighting.on_purpose else "not meant to be seen"


def marked(still: np.ndarray, spotted: Sequence, size: tuple[int, int], unit: float) -> np.ndarray:
    """Return a still with the rig marked on it, uint8 of shape (height, width, 3), sRGB.

    Parameters
    ----------
    still : uint8 array, shape (row, column, 3)
        sRGB.
    spotted : sequence of rig_seen.Spotted, or anything with its fields
        What is marked, in the order of its numbers.
    size : (int, int)
        Width and height to be shown at. [px]
    unit : float
        The module of the sheet. [px]
    """
    image = Image.fromarray(np.ascontiguousarray(still)).resize(size, Image.Resampling.LANCZOS)
    pixels = np.array(image)
    thick = max(2, round(0.16 * unit))
    row, column = np.mgrid[:size[1], :size[0]]
    for each in spotted:
        mask = _grown_to(each.mask, size, LEAST_RING * unit)
        ring = _spread(mask, thick) & ~mask
        if each.sighting.within:
            # A broken line, in whichever direction it runs.
            ring &= ((row + column) // (4 * thick)) % 2 == 0
        pixels[_spread(ring, 1) & ~mask] = EDGE
        pixels[ring] = KEPT if each.sighting.on_purpose else STRAY
    return pixels


def _grown_to(mask: np.ndarray, size: tuple[int, int], least: float) -> np.ndarray:
    """Return a mask at the size it is shown; what is small becomes a square that can be seen."""
    whole = Image.fromarray(mask.astype(np.uint8) * 255)
    shown = np.array(whole.resize(size, Image.Resampling.BICUBIC)) > 127
    if not shown.any():
        shown = np.array(whole.resize(size, Image.Resampling.NEAREST)) > 0
    rows, columns = np.nonzero(shown)
    middle = (rows.mean(), columns.mean())
    if np.ptp(rows) < 2 * least and np.ptp(columns) < 2 * least:
        top, left = (max(0, round(m - least)) for m in middle)
        shown[top:round(middle[0] + least) + 1, left:round(middle[1] + least) + 1] = True
    return shown


def _spread(mask: np.ndarray, reach: int) -> np.ndarray:
    """Return a mask grown by some pixels on all sides."""
    for axis in (0, 1):
        grown = mask.copy()
        for step in range(1, reach + 1):
            for shift in (step, -step):
                moved = np.roll(mask, shift, axis)
                # What leaves at one edge does not come in at the other.
                edge = slice(0, shift) if shift > 0 else slice(shift, None)
                moved[(edge, slice(None)) if axis == 0 else (slice(None), edge)] = False
                grown |= moved
        mask = grown
    return mask


def _picture(setting: Setting, still: np.ndarray, spotted: Sequence) -> Block:
    unit = setting.unit
    wide = round(setting.inner)
    size = (wide, round(wide * still.shape[0] / still.shape[1]))
    painted = marked(still, spotted, size, unit)

    def draw(paper, left, top, width):
        paper.picture((round(left), round(top)), painted, smooth=True)
        high = round(0.95 * unit)
        for number, each in enumerate(spotted, 1):
            x0, y0, x1, _ = each.sighting.box
            words = str(number)
            half = max(0.85 * unit, width_of(words, high, "strong") / 2 + 0.35 * unit)
            x = np.clip(left + (x0 + x1) / 2 * size[0], left + half, left + size[0] - half)
            above = top + y0 * size[1] - (LEAST_RING + 0.9) * unit
            y = above if above - 0.85 * unit > top else top + y0 * size[1] + 1.2 * unit
            colour = KEPT if each.sighting.on_purpose else STRAY
            paper.fill(round(x - half), round(y - 0.85 * unit), round(x + half),
                       round(y + 0.85 * unit), colour)
            paper.text((x, y + 0.34 * unit), words, high, weight="strong", align="centre",
                       colour=INK)

    return Block(size[1] + 0.8 * unit, draw)


def rig_blocks(still: np.ndarray, spotted: Sequence, setting: Setting, *, title: str,
               subject: str, cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a marked still with its list in blocks.

    Parameters
    ----------
    still : uint8 array, shape (row, column, 3)
        sRGB.
    spotted : sequence of rig_seen.Spotted
        Everything that was found; what is too faint is listed and not marked.
    setting : Setting
    title, subject : str
        Of the picture.
    cautions : sequence of Caution
        Of the scene.
    """
    shown = [each for each in spotted if each.sighting.where != FAINT]
    faint = [each for each in spotted if each.sighting.where == FAINT]
    stray = sum(not each.sighting.on_purpose for each in shown)
    aside = f"{stray} not meant to be seen" if stray else "nothing that was not meant to be seen"
    blocks = [heading(setting, title, subject, aside), space(0.4 * setting.unit),
              _picture(setting, still, shown)]
    if shown:
        numbers = {id(each): str(n) for n, each in enumerate(shown, 1)}
        columns = [
            Column("", "", 0.3, lambda each: numbers[id(each)], align="left"),
            Column("what", "", 1.5, lambda each: each.sighting.name, align="left"),
            Column("seen", "itself, or mirrored in", 1.8, lambda each: "itself"
                   if not each.sighting.within else within_text(each.sighting), align="left"),
            Column("where", "in the frame", 0.9, lambda each: each.sighting.side, align="left"),
            Column("share", "of the frame", 0.9,
                   lambda each: share_text(each.sighting.share).removesuffix(" of the frame")),
            Column("brightens", "stops", 0.8, lambda each: "–" if each.sighting.lift is None
                   else "6 or more" if each.sighting.lift > 5.95 else f"{each.sighting.lift:.1f}"),
            Column("", "", 1.4, lambda each: Cell(meaning(each.sighting),
                                                  strong=not each.sighting.on_purpose),
                   align="left"),
        ]
        blocks += Table(setting, columns, shown).blocks()
    else:
        blocks.append(paragraph(setting, "No lamp, stand, board, frame, flag or other camera is in "
                                         "this picture, itself or mirrored.", colour=INK, size=1.0))
    blocks.append(space(0.5 * setting.unit))
    if faint:
        blocks.append(paragraph(setting, "Mirrored, but too faint to notice with the lamps as set: "
                                + "; ".join(dict.fromkeys(
                                    f"{each.sighting.name} {within_text(each.sighting)}"
                                    for each in faint)) + "."))
    return [*blocks, paragraph(setting, _NOTE), *caution_blocks(setting, cautions)]


def write_rig(path: Path, still: np.ndarray, spotted: Sequence, *, title: str, subject: str,
              words: dict[str, str], cautions: Sequence[Caution] = (), width: int = 1600) -> None:
    """Write a still with the rig marked on it and its list as a PNG of a width [px]."""
    setting = Setting(width)
    blocks = rig_blocks(still, spotted, setting, title=title, subject=subject, cautions=cautions)
    write_sheet_files(path, blocks, setting, words, None)
