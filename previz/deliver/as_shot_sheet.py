"""What was shot against the plan: levels, colours, exposure, and what it does at the meters."""

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
    space,
    subheading,
    write_sheet_files,
)
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.readings_sheet import between, fine_stops, listed, percent
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import lux_text, settings_text, stops_text
from previz.exposure.falsecolour import signed
from previz.exposure.metering import Measured, from_working
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.physics.safety import Caution

TERMS = (
    ("Shot", "what was set on the day. A lamp that is not named is taken as planned."),
    ("Exposure", "of the camera as it was set against the plan: stop, ISO, shutter and ND together, "
     "+ is more light on the picture."),
    ("Meters", "what the levels and colours as shot give at each meter, worked out from what was metered of "
     "each lamp; the lamps are taken to give what the plan says they give."),
    ("From the stop", "over (+) or under (\N{MINUS SIGN}) the light that meters at the stop that the first "
     "camera was set to, in the plan and as shot."),
)
"""What the heads mean."""


@dataclass(frozen=True)
class ShotLamp:
    """One lamp: level [1] and colour [K] as planned and as shot; no colour for one with a measured spectrum.

    `named` says whether it was said of.
    """

    lamp: str
    planned: float
    shot: float
    planned_cct: float | None
    shot_cct: float | None
    named: bool
    daylight: bool = False

    @property
    def stops(self) -> float:
        """[stops]"""
        return between(self.shot, self.planned)

    @property
    def mired(self) -> float | None:
        """How much warmer (+) it was. [mired]"""
        if not self.planned_cct or not self.shot_cct:
            return None
        return 1e6 / self.shot_cct - 1e6 / self.planned_cct


@dataclass(frozen=True)
class ShotCamera:
    """One camera as planned and as shot."""

    camera: str
    planned: CameraSettings
    shot: CameraSettings

    @property
    def stops(self) -> float:
        """More (+) or less exposure. [stops]"""
        return float(np.log2(signal_per_luminance(self.shot) / signal_per_luminance(self.planned)))

    @property
    def mired(self) -> float:
        """How much warmer (+) a light it takes for white. [mired]"""
        return 1e6 / self.shot.white_balance - 1e6 / self.planned.white_balance


@dataclass(frozen=True)
class ShotMeter:
    """One meter: light by the plan and by the levels as shot [lx], and the first camera in both, if any."""

    meter: str
    planned: Measured
    shot: Measured
    planned_settings: CameraSettings | None = None
    shot_settings: CameraSettings | None = None

    @property
    def stops(self) -> float:
        """[stops]"""
        return between(self.shot.value, self.planned.value)

    @property
    def from_stop(self) -> tuple[float, float] | None:
        """From the working stop, as planned and as shot. [stops]"""
        if self.planned_settings is None or self.shot_settings is None:
            return None
        return (from_working(self.planned, self.planned_settings).value,
                from_working(self.shot, self.shot_settings).value)


@dataclass(frozen=True, eq=False)
class AsShotSheet:
    """All that the sheet says; `pictures` are stills with their names."""

    title: str
    subject: str
    sentences: tuple[str, ...]
    lamps: tuple[ShotLamp, ...]
    cameras: tuple[ShotCamera, ...]
    meters: tuple[ShotMeter, ...]
    pictures: tuple[tuple[str, np.ndarray], ...] = ()
    cautions: tuple[Caution, ...] = ()


def _kelvin(cct: float | None) -> str:
    return "–" if cct is None else f"{cct:.0f} K"


def _mired(mired: float | None) -> str:
    return "–" if mired is None else signed(mired)


def _level_off(line: ShotLamp) -> str:
    if line.planned <= 0 or line.shot <= 0:
        return "–" if line.planned <= 0 and line.shot <= 0 else "off" if line.shot <= 0 else "on"
    return fine_stops(line.stops)


_LAMPS = (
    Column("lamp", "", 2.0, lambda line: line.lamp, align="left"),
    Column("planned", "", 1.0, lambda line: percent(line.planned), group="level"),
    Column("shot", "", 1.0, lambda line: Cell(percent(line.shot), "" if line.named else "as planned",
                                                   strong=line.named)),
    Column("off", "stops", 1.0, _level_off),
    Column("planned", "", 1.0, lambda line: _kelvin(line.planned_cct), group="colour"),
    Column("shot", "", 1.0, lambda line: _kelvin(line.shot_cct)),
    Column("warmer", "mired", 1.0, lambda line: _mired(line.mired)),
)

_CAMERAS = (
    Column("camera", "", 1.0, lambda line: line.camera, align="left"),
    Column("planned", "", 2.6, lambda line: settings_text(line.planned), align="left"),
    Column("shot", "", 2.6, lambda line: settings_text(line.shot), align="left"),
    Column("exposure", "stops", 0.9, lambda line: fine_stops(line.stops)),
    Column("balance", "mired", 0.9, lambda line: _mired(line.mired)),
)


def _from(number: int):
    return lambda line: "–" if line.from_stop is None else stops_text(line.from_stop[number])


_METERS = (
    Column("meter", "", 2.4, lambda line: line.meter, align="left"),
    Column("planned", "lx", 1.0, lambda line: Cell(lux_text(line.planned.value),
                                                   f"± {lux_text(line.planned.paths)}")),
    Column("shot", "lx", 1.0, lambda line: Cell(lux_text(line.shot.value), f"± {lux_text(line.shot.paths)}")),
    Column("off", "stops", 1.0, lambda line: fine_stops(line.stops)),
    Column("planned", "stops", 1.0, _from(0), group="from the stop"),
    Column("shot", "stops", 1.0, _from(1)),
)


def as_shot_blocks(sheet: AsShotSheet, setting: Setting) -> list[Block]:
    """Return what was shot against the plan in blocks.

    Raises
    ------
    ValueError
        There is neither lamp nor camera.
    """
    if not sheet.lamps and not sheet.cameras:
        raise ValueError("a record of a shot needs a lamp or a camera")
    unit = setting.unit
    blocks = [heading(setting, sheet.title, sheet.subject), space(0.4 * unit)]
    if sheet.pictures:
        plates = [Plate(([still],), name) for name, still in sheet.pictures]
        blocks += plate_rows(setting, plates, max(2, len(plates)))
    blocks += [paragraph(setting, words, colour=INK, size=1.0) for words in sheet.sentences]
    for title, columns, rows in (("Lamps", _LAMPS, sheet.lamps), ("Cameras", _CAMERAS, sheet.cameras),
                                 ("Meters", _METERS, sheet.meters)):
        if rows:
            blocks += Table(setting, columns, rows).under(subheading(setting, title))
            blocks.append(space(0.6 * unit))
    return [*blocks, *foot(setting, TERMS), *caution_blocks(setting, sheet.cautions)]


def write_as_shot(stem: Path, sheet: AsShotSheet, words: dict[str, str], width: int = 2000) -> list[Path]:
    """Write what was shot as a PNG of a width [px] and a PDF; see `layout.write_sheet_files`."""
    setting = Setting(width)
    return write_sheet_files(stem, as_shot_blocks(sheet, setting), setting, words)


def _level_words(line: ShotLamp) -> str:
    if line.shot <= 0:
        return f"{line.lamp} off"
    if line.planned <= 0:
        return f"{line.lamp} on at {percent(line.shot)}, planned off"
    return (f"{line.lamp} {fine_stops(line.stops)} stop{'' if abs(line.stops) <= 1 else 's'} "
            f"({percent(line.shot)} for {percent(line.planned)})")


def sentences(lamps: Sequence[ShotLamp], cameras: Sequence[ShotCamera],
              meters: Sequence[ShotMeter]) -> list[str]:
    """Return what matters of it in a few sentences."""
    said = []
    off = sorted((each for each in lamps if each.named and abs(each.stops) >= 0.1),
                 key=lambda each: -abs(each.stops))
    if off:
        said.append(f"Levels off the plan: {', '.join(map(_level_words, off))}.")
    warm = [f"{each.lamp} {_mired(each.mired)}" for each in lamps if abs(each.mired or 0.0) >= 10]
    if warm:
        said.append(f"Colours off the plan: {', '.join(warm)} mired, + is warmer.")
    for each in cameras:
        if abs(each.stops) >= 0.1:
            said.append(f"Camera {each.camera} was exposed {abs(each.stops):.2f} stops "
                        f"{'over' if each.stops > 0 else 'under'} the plan.")
    for stops, words in ((-np.inf, "there is no light at"),
                         (np.inf, "there is light where none was planned, at")):
        found = [each.meter for each in meters if each.stops == stops]
        if found:
            said.append(f"By the levels as shot {words} {listed(found)}.")
    worst = max((each for each in meters if np.isfinite(each.stops)), key=lambda each: abs(each.stops),
                default=None)
    if worst is not None and abs(worst.stops) >= 0.1:
        said.append(f"By the levels as shot {worst.meter} is furthest off, {fine_stops(worst.stops)} stops.")
    return said or ["As planned, within a tenth of a stop and 10 mired."]
