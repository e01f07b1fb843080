"""A reference still beside the nearest that a scene's lamps make of it: levels, colours, and what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.canvas import INK
from previz.deliver.layout import (
    Block,
    Setting,
    foot,
    heading,
    paragraph,
    scale,
    space,
    subheading,
    write_sheet_files,
)
from previz.deliver.map import ExposureMap
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import ratio_text, settings_text, side_text, signed, stops_text
from previz.exposure.comparing.difference import difference_bands, difference_index
from previz.exposure.falsecolour import Band
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution

ACROSS = 4
"""Pictures side by side."""

TERMS = (
    ("against the scene", "Stops over (+) or under (−) the level that the scene has, counted from the lamps "
     "named above; ± is one standard error."),
    ("of full", "The same as a share of the lamp's output at full level. Over 100 % takes a bigger lamp."),
    ("colour", "Before gels, which stay as they are. The shift in mired is plus for warmer."),
    ("greatest share", "Most of the light that the lamp gives to any hundredth of the picture."),
    ("lit side, lit : shadow, colour", "Measured on the picture, not by meters: skin turned to either side "
     "of the face, its own colour divided out, the contrast curve undone. Readings of meters may differ by "
     "a third of a stop."),
    ("not explained", "The picture over what the lamps make of it, stop by stop: where it is lighter, light "
     "is missing in the scene; where it is darker, something stands in the way. Clipped, crushed and what "
     "the picture does not show is not read."),
)


@dataclass(frozen=True)
class LampLine:
    """What the table says of a lamp; `told` and `colour_told` are whether its numbers stand for something."""

    name: str
    state: str
    change: float
    error: float
    level: float
    cct: float | None
    cct_error: float | None
    shift: float | None
    share: float
    told: bool = True
    colour_told: bool = True


@dataclass(frozen=True, eq=False)
class PictureLine:
    """A picture, and the face in it: lit side [stops], lit : shadow, and colour off the balance [mired]."""

    name: str
    still: np.ndarray
    lit: float | None = None
    ratio: float | None = None
    warmer: float | None = None


@dataclass(frozen=True, eq=False)
class ReadSheet:
    """What stands on the sheet.

    Parameters
    ----------
    title, subject : str
    settings : CameraSettings
    pictures : sequence of PictureLine
        The reference first.
    lamps : sequence of LampLine
    stops : float array, shape (row, column)
        What is not explained; nan where nothing is read. [stops]
    things : int array, shape (row, column)
    exposure, exposure_error : float
        Against the camera as it is set. [stops]
    balance, tint, contrast : float
        Of the picture. [K, 1, 1]
    sentences : sequence of str
    figure : str
        Whose face was measured, '' for none.
    """

    title: str
    subject: str
    settings: CameraSettings
    pictures: Sequence[PictureLine]
    lamps: Sequence[LampLine]
    stops: np.ndarray
    things: np.ndarray
    exposure: float
    exposure_error: float
    balance: float
    tint: float
    contrast: float
    sentences: Sequence[str]
    figure: str = ""


def direction_text(side: float, height: float) -> str:
    """Return where light comes from as the camera has it: 'camera left, 40° off the lens, 30° high'."""
    across, up = side_text(side, height)
    if across == "by the lens":
        where = "by the lens"
    elif across == "behind":
        where = "behind, towards the lens"
    else:
        turn, hand = across.split()
        where = f"camera {hand}{', from behind' if abs(side) > 100 else ''}, {turn} off the lens"
    return f"{where}, {up}"


NOT_READ = (160, 170, 150)
"""sRGB of what is not read: in neither family of hues, and as far from every band as any quiet colour."""


def leftover_bands() -> tuple[Band, ...]:
    """Return the bands of what is not explained, and one for what is not read."""
    return (*difference_bands(), Band("not read", np.nan, np.nan, np.nan, NOT_READ))


def leftover_map(stops: np.ndarray, things: np.ndarray) -> ExposureMap:
    """Return what is not explained as a map."""
    index = difference_index(np.nan_to_num(stops))
    return ExposureMap(np.where(np.isfinite(stops), index, len(difference_bands())).astype(np.uint8),
                       leftover_bands(), things)


def _mired(value: float | None) -> str:
    return "–" if value is None else f"{signed(value)} mired"


def _lamp_columns() -> list[Column]:
    return [
        Column("lamp", "", 2.0, lambda each: each.name, align="left"),
        Column("against the scene", "stops", 1.2, lambda each: Cell(
            f"{signed(each.change, 2)} ± {each.error:.2f}" if each.told else "–")),
        Column("of full", "", 0.8, lambda each: f"{100 * each.level:.0f} %" if each.told else "–"),
        Column("colour", "", 1.3, lambda each: "stays" if each.cct is None else
               f"{each.cct:.0f} ± {each.cct_error:.0f} K" if each.told and each.colour_told else "not told"),
        Column("shift", "", 1.0, lambda each: _mired(each.shift)
               if each.told and each.colour_told else "–"),
        Column("greatest share", "", 0.9, lambda each: f"{100 * each.share:.0f} %"),
        Column("", "", 2.6, lambda each: Cell(each.state, strong=not each.told), align="left"),
    ]


def _picture_columns() -> list[Column]:
    return [
        Column("picture", "", 2.0, lambda each: each.name, align="left"),
        Column("lit side", "stops from grey, a card in it", 1.2, lambda each: stops_text(each.lit)),
        Column("lit : shadow", "", 1.0, lambda each: ratio_text(each.ratio)),
        Column("colour", "off the balance, + warmer", 1.2, lambda each: _mired(each.warmer)),
    ]


def read_blocks(sheet: ReadSheet, setting: Setting, cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a picture that was read in blocks; `cautions` are those that the scene calls for."""
    unit = setting.unit
    plates = [Plate(([each.still],), each.name) for each in sheet.pictures]
    plates.insert(min(3, len(plates)), Plate(([leftover_map(sheet.stops, sheet.things)],), "not explained"))
    camera = (f"{signed(sheet.exposure, 1)} ± {sheet.exposure_error:.1f} stops against "
              f"{settings_text(sheet.settings)}, balanced to {sheet.balance:.0f} K, green "
              f"{signed(sheet.tint, 3)}, contrast at grey {sheet.contrast:.2f}")
    blocks = [heading(setting, sheet.title, sheet.subject), space(0.6 * unit),
              *plate_rows(setting, plates, min(ACROSS, len(plates))),
              scale(setting, "not explained: stops over the lamps", leftover_bands()), space(0.4 * unit),
              *(paragraph(setting, each, colour=INK, size=0.95) for each in sheet.sentences),
              space(0.5 * unit),
              *Table(setting, _lamp_columns(), sheet.lamps).under(
                  subheading(setting, "Lamps", "as the picture has them")),
              paragraph(setting, f"The picture: {camera}."), space(0.5 * unit)]
    faces = [each for each in sheet.pictures if each.lit is not None]
    if faces:
        blocks += Table(setting, _picture_columns(), faces).under(
            subheading(setting, f"The face of {sheet.figure}", "measured on the pictures"))
    return [*blocks, *foot(setting, TERMS), *caution_blocks(setting, cautions)]


def write_read(stem: Path, sheet: ReadSheet, words: dict[str, str], cautions: Sequence[Caution] = (),
               width: int = 2200) -> list[Path]:
    """Write a picture that was read as a PNG of a width [px] and a PDF."""
    setting = Setting(width)
    return write_sheet_files(stem, read_blocks(sheet, setting, cautions), setting, words)
