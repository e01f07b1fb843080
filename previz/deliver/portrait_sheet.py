"""The portrait sheet: one head under a handful of classic placements, hard above soft.

It is made to judge the head by: whether nose shadow, cheek triangle, sockets, eye-lights and the
edge on the hair are where a set would have them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.deliver.atomic import write_png
from previz.deliver.canvas import QUIET, Canvas, wrapped
from previz.deliver.face_values import ratio_texts, side_texts
from previz.deliver.still import png_info
from previz.exposure.faces import KEY_TO_FILL, LIT_TO_SHADOW, FaceLight
from previz.exposure.trust import doubts
from previz.physics.exposure import CameraSettings


@dataclass(frozen=True, eq=False)
class PortraitCell:
    """One placement.

    Parameters
    ----------
    name, words : str
        What it is called, and how the lamp is found on a floor.
    head, eyes : uint8 array, shape (row, column, 3)
        The portrait and the close look at both eyes. sRGB.
    face : FaceLight
        Lit and shadow side.
    settings : CameraSettings
        Whose stop is the working stop: that of a meter at the face, held towards the lamp.
    note : str
        Why the pictures were not denoised; '' if they were.
    short : tuple of frames.records.Short
        Of 'lit side' and 'shadow side', those that did not come to what was asked for.
    """

    name: str
    words: str
    head: np.ndarray
    eyes: np.ndarray
    face: FaceLight
    settings: CameraSettings
    note: str = ""
    short: tuple = ()


@dataclass(frozen=True, eq=False)
class PortraitRow:
    """All placements of one size of source.

    Parameters
    ----------
    name, words : str
        'hard' or 'soft', and what the source is.
    cells : tuple of PortraitCell
    """

    name: str
    words: str
    cells: tuple[PortraitCell, ...]


def draw_portrait_sheet(rows, *, title, subject, note, width=2400):
    """Lay out a portrait sheet.

    Parameters
    ----------
    rows : sequence of PortraitRow
        Each with the same placements, their pictures of one shape.
    title, subject : str
        Whose head, and how it is lit and taken.
    note : str
        What the numbers mean.
    width : int
        1000 or more. [px]

    Returns
    -------
    Canvas

    Raises
    ------
    ValueError
        There are no rows, they differ in their placements, or the sheet is too narrow.
    """
    rows = tuple(rows)
    if not rows or not rows[0].cells:
        raise ValueError("a portrait sheet needs at least one row with a placement")
    if width < 1000:
        raise ValueError(f"a sheet must be 1000 px wide or more, got {width}")
    if len({tuple(cell.name for cell in row.cells) for row in rows}) != 1:
        raise ValueError("the rows of a portrait sheet must have the same placements")
    unit, count = max(10, round(width / 125)), len(rows[0].cells)
    margin, gap = 3 * unit, round(0.9 * unit)
    wide = (width - 2 * margin - gap * (count - 1)) // count
    heights = [round(wide * p.shape[0] / p.shape[1]) for p in (rows[0].cells[0].head,
                                                                rows[0].cells[0].eyes)]
    line = round(1.5 * unit)
    block = 2 * line + sum(heights) + round(0.3 * unit) + 7 * line
    note = " ".join(filter(None, (doubts(doubted(rows)), note)))
    notes = wrapped(note, unit, width - 2 * margin)
    head = margin + 5 * unit
    canvas = Canvas(width, head + len(rows) * block + len(notes) * line + margin)
    canvas.text((margin, margin + round(1.4 * unit)), title, 2 * unit, weight="strong",
                room=width - 2 * margin)  # fmt: skip
    canvas.text((margin, margin + round(3.4 * unit)), subject, round(1.2 * unit), colour=QUIET,
                room=width - 2 * margin)  # fmt: skip
    for number, row in enumerate(rows):
        top = head + number * block
        taken = canvas.text((margin, top + line), row.name, round(1.3 * unit), weight="strong")
        canvas.text((margin + taken + unit, top + line), row.words, round(1.1 * unit),
                    colour=QUIET, room=width - 2 * margin - taken - unit)  # fmt: skip
        for column, cell in enumerate(row.cells):
            at = (margin + column * (wide + gap), top + 2 * line - round(0.5 * unit))
            _draw_cell(canvas, cell, at, (wide, *heights), unit)
    canvas.paragraph((margin, head + len(rows) * block + unit), note, unit, width - 2 * margin)
    return canvas


def _draw_cell(canvas, cell, at, size, unit):
    (left, top), (wide, head, eyes) = at, size
    line = round(1.45 * unit)
    canvas.picture((left, top), cell.head, (wide, head))
    below = top + head + round(0.3 * unit)
    canvas.picture((left, below), cell.eyes, (wide, eyes))
    base = below + eyes + line
    canvas.text((left, base), cell.name, round(1.15 * unit), weight="strong", room=wide)
    canvas.text((left, base + line), cell.words, unit, colour=QUIET, room=wide)
    for number, words in enumerate(face_texts(cell)):
        canvas.text((left, base + (2 + number) * line), words, unit, colour=QUIET, room=wide)


def doubted(rows) -> list:
    """Return the readings of a sheet that are not as good as was asked for, as `trust.doubts` takes them."""
    return [(f"{row.name}, {cell.name}", cell.short) for row in rows for cell in row.cells]


def face_texts(cell) -> tuple[str, ...]:
    """Return both sides of a face in lux and stops, and both ratios, a line each."""
    (lit, lit_stops), (shadow, shadow_stops) = (
        side_texts(each, cell.settings) for each in (cell.face.lit, cell.face.shadow))
    ratio, alone = ratio_texts(cell.face)
    return (f"lit side {lit} lx, {lit_stops}", f"shadow side {shadow} lx, {shadow_stops}",
            f"{LIT_TO_SHADOW} {ratio}", f"{KEY_TO_FILL} {alone}")


def write_portrait_sheet(path, rows, *, title, subject, note, words, width=2400):
    """Write a portrait sheet.

    Parameters
    ----------
    path : path-like
        A .png; replaced in one step.
    rows, title, subject, note, width
        As in `draw_portrait_sheet`.
    words : dict of str to str
        What the file says of itself.
    """
    canvas = draw_portrait_sheet(rows, title=title, subject=subject, note=note, width=width)
    write_png(path, canvas.image, png_info(words))
