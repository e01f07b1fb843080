"""The portrait sheet: one head under a handful of classic placements, hard above soft.

It is made to judge the head by: whether nose shadow, cheek triangle, sockets, eye-lights and the
edge on the hair are where a set would have them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.face_values import ratio_texts, side_texts
from previz.deliver.layout import (
    Block,
    Setting,
    doubt_blocks,
    foot,
    heading,
    subheading,
    together,
    write_sheet_files,
)
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.exposure.faces import KEY_TO_FILL, LIT_TO_SHADOW, FaceLight
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution


@dataclass(frozen=True, eq=False)
class PortraitCell:
    """One placement.

    Parameters
    ----------
    name, words : str
        What it is called, and how the lamp is found on a floor.
    head, eyes : uint8 array, shape (row, column, 3)
        The portrait, and both eyes close. sRGB.
    face : FaceLight
        Lit and shadow side.
    settings : CameraSettings
        Whose stop is the working stop: that of a meter at the face, held towards the lamp.
    note : str
        Why the pictures were not denoised; '' if they were.
    short : tuple of frames.records.Short
        Of 'lit side' and 'shadow side', those that fall short of the request.
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


def portrait_blocks(rows: Sequence[PortraitRow], setting: Setting, *, title: str, subject: str,
                    note: str, cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a portrait sheet in blocks.

    Parameters
    ----------
    rows : sequence of PortraitRow
        Each with the same placements, their pictures of one shape.
    setting : Setting
    title, subject : str
        Whose head, and how it is lit and taken.
    note : str
        What the numbers mean.
    cautions : sequence of Caution

    Raises
    ------
    ValueError
        There are no rows, or they differ in their placements.
    """
    if not rows or not rows[0].cells:
        raise ValueError("a portrait sheet needs at least one row with a placement")
    if len({tuple(cell.name for cell in row.cells) for row in rows}) != 1:
        raise ValueError("the rows of a portrait sheet must have the same placements")
    blocks = [heading(setting, title, subject)]
    for row in rows:
        plates = [Plate(([cell.head], [cell.eyes]), below=cell.name,
                        under=(cell.words, *face_texts(cell)))
                  for cell in row.cells]
        pictures, = plate_rows(setting, plates, len(plates), between=0.8, gap=0.3)
        blocks.append(together(subheading(setting, row.name, row.words), pictures))
    return [*blocks, *doubt_blocks(setting, doubted(rows)), *foot(setting, (), note),
            *caution_blocks(setting, cautions)]


def doubted(rows: Sequence[PortraitRow]) -> list[tuple[str, tuple]]:
    """Return the readings of a sheet that are short of the request, as `trust.doubts` takes them."""
    return [(f"{row.name}, {cell.name}", cell.short) for row in rows for cell in row.cells]


def face_texts(cell: PortraitCell) -> tuple[str, ...]:
    """Return both sides of a face in lux and stops, and both ratios, a line each."""
    (lit, lit_stops), (shadow, shadow_stops) = (
        side_texts(each, cell.settings) for each in (cell.face.lit, cell.face.shadow))
    ratio, alone = ratio_texts(cell.face)
    return (f"lit side {lit} lx, {lit_stops}", f"shadow side {shadow} lx, {shadow_stops}",
            f"{LIT_TO_SHADOW} {ratio}", f"{KEY_TO_FILL} {alone}")


def write_portrait_sheet(path: Path, rows: Sequence[PortraitRow], *, title: str, subject: str,
                         note: str, words: dict[str, str], cautions: Sequence[Caution] = (),
                         width: int = 2400) -> None:
    """Write a portrait sheet as a PNG of a width [px]; the rest is of `portrait_blocks`."""
    setting = Setting(width)
    blocks = portrait_blocks(rows, setting, title=title, subject=subject, note=note, cautions=cautions)
    write_sheet_files(path, blocks, setting, words, None)
