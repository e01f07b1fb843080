"""The sheet of a camera's options: still and map of each, and one table of readings.

It is made to be decided from: the same picture size for all, the same scale of colours, and every
number a meter's, not a pixel's.
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
    map_scales,
    space,
    write_sheet_files,
)
from previz.deliver.map import ExposureMap
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Column, Table
from previz.deliver.wording import settings_text
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution

HEADS = (
    # Group, head, and share of the table's width, in the order of `cells`.
    ("lit side", "lx", 0.8), ("", "stops", 0.8),
    ("shadow side", "lx", 0.8), ("", "stops", 0.8),
    ("ratio", "lit : shadow", 1.1), ("", "key alone : fill", 1.1),
    ("spill on the back wall", "lx", 0.9), ("", "stops", 0.9),
)

NOTES = (
    "Lit and shadow side are flat incident meters on the brighter and the darker cheek of the face "
    "that the camera is on. Stops are over (+) or under (\N{MINUS SIGN}) the stop that is set (C = 250 "
    "lx s, ISO 2720). Lit : shadow is as metered; key alone is what the lit side has over the shadow "
    "side. Both ratios are in print: say which one you mean. Maps count from 18 % grey before balance "
    "and view."
)


@dataclass(frozen=True, eq=False)
class SheetOption:
    """One option on the sheet.

    Parameters
    ----------
    name : str
        Of the option.
    note : str
        What it changes, in a few words; may be empty.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    chart : ExposureMap
        Of the same frame.
    settings : CameraSettings
        The camera in this option.
    face : FaceLight or None
        Of the face that the camera is on; None if there is no meter.
    spill : Measured or None
        On the back wall; None if there is no meter. [lx]
    short : tuple of frames.records.Short
        Meters whose readings are not to be trusted as the others are.
    """

    name: str
    note: str
    still: np.ndarray
    chart: ExposureMap
    settings: CameraSettings
    face: FaceLight | None = None
    spill: Measured | None = None
    short: tuple = ()


def sheet_blocks(options: Sequence[SheetOption], setting: Setting, *, title: str,
                 subject: str, cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a camera's options in blocks.

    Parameters
    ----------
    options : sequence of SheetOption
        Stills of one shape.
    setting : Setting
    title : str
        Of the scene.
    subject : str
        What all have in common: the camera, for one.
    cautions : sequence of Caution
        Of the scene.

    Raises
    ------
    ValueError
        There are no options, or they do not share a shape.
    """
    if not options:
        raise ValueError("a sheet needs at least one option")
    if len({option.still.shape for option in options}) != 1:
        raise ValueError("the stills of a sheet must have one size")
    same = len({option.settings for option in options}) == 1
    plates = [Plate(([option.still, option.chart],), option.name, option.note,
                    under=() if same else (settings_text(option.settings),)) for option in options]
    return [
        heading(setting, title, subject, settings_text(options[0].settings) if same else ""),
        space(0.6 * setting.unit),
        # From four options on two pairs stand side by side, so the sheet stays near a page's shape.
        *plate_rows(setting, plates, 1 if len(options) <= 3 else 2, between=2.2, gap=1.2),
        space(0.6 * setting.unit),
        *map_scales(setting, "stops from 18 % grey",
                    [(option.name, option.chart) for option in options], 11.0),
        space(0.4 * setting.unit),
        *Table(setting, _columns(), options, 1.05).blocks(),
        *doubt_blocks(setting, [(option.name, option.short) for option in options]),
        *foot(setting, (), NOTES), *caution_blocks(setting, cautions),
    ]


def cells(option: SheetOption) -> tuple[str, ...]:
    """Return the table's words for one option, in the order of `HEADS`."""
    lit = shadow = spill = ratios = ("–", "–")
    if option.face is not None:
        lit, shadow = (side_texts(each, option.settings)
                       for each in (option.face.lit, option.face.shadow))
        ratios = ratio_texts(option.face)
    if option.spill is not None:
        spill = side_texts(option.spill, option.settings)
    return (*lit, *shadow, *ratios, *spill)


def _columns() -> list[Column]:
    return [Column("option", "", 2.6, lambda option: option.name, align="left"), *(
        Column(head, "", share, lambda option, number=number: cells(option)[number], group)
        for number, (group, head, share) in enumerate(HEADS))]


def write_sheet(path: Path, options: Sequence[SheetOption], *, title: str, subject: str,
                words: dict[str, str], cautions: Sequence[Caution] = (), width: int = 2000) -> None:
    """Write the sheet of a camera's options as a PNG of a width [px]; see `sheet_blocks`."""
    setting = Setting(width)
    blocks = sheet_blocks(options, setting, title=title, subject=subject, cautions=cautions)
    write_sheet_files(path, blocks, setting, words, None)
