"""Readings against the plan: what each lamp really gives, what is to be set, which reading cannot be so."""

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
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import lux_text
from previz.exposure.falsecolour import signed
from previz.physics.safety import Caution

TERMS = (
    ("Measured", "what a lamp gives against what the plan says it gives, in stops and as a share of it. ± is "
     "one standard error: of the meter, of what is metered in the plan, and of how well the readings tell "
     "the lamps apart."),
    ("Not told", "the readings say little of that lamp by itself: it is taken as planned. One more reading "
     "with it alone would tell."),
    ("Set to", "the level at which the lamp gives what the plan has of it; over 100 % it cannot, "
     "and what is left over is how far it is short at full."),
    ("Off", "a reading against what the lamps as found give there. A reading that is left out was weighed "
     "against all others and cannot be so, or the meter, the place or the lamps that were on were others."),
    ("What was on", "lamps that a reading names, and no others: daylight counts where 'daylight', 'all' or "
     "'all but' says so."),
)
"""What the heads mean."""


@dataclass(frozen=True)
class LampLine:
    """One lamp as the readings have it.

    Parameters
    ----------
    lamp : str
    planned, to_set : float or None
        Level; None for daylight, and where nothing is to be set. [1]
    stops, error : float
        Measured against the plan; -inf for a dead one. [stops]
    told, dead : bool
    verdict : str
        In words.
    short : float or None
        How far it is short at full. [stops]
    """

    lamp: str
    planned: float | None
    stops: float
    error: float
    told: bool
    dead: bool
    verdict: str
    to_set: float | None = None
    short: float | None = None


@dataclass(frozen=True)
class ReadingLine:
    """One reading, against the plan and against the lamps as found.

    Parameters
    ----------
    number : int
    place, on : str
        Where it was taken, and what was on.
    shown : str
        As it was written.
    unit : str
        Of the numbers, lx or cd/m².
    read, planned, found, error : float
        As read; by the plan; by the lamps as found, with its standard error.
    off : float
        In its own standard errors, against all others. [1]
    out : bool
        Whether it was left out.
    remark : str
    """

    number: int
    place: str
    on: str
    shown: str
    unit: str
    read: float
    planned: float
    found: float
    error: float
    off: float
    out: bool
    remark: str = ""

    @property
    def from_plan(self) -> float:
        """[stops]"""
        return between(self.read, self.planned)

    @property
    def from_found(self) -> float:
        """[stops]"""
        return between(self.read, self.found)


@dataclass(frozen=True, eq=False)
class ReadingsSheet:
    """All that the sheet says.

    Parameters
    ----------
    title, subject, aside : str
    sentences : tuple of str
    lamps : tuple of LampLine
    readings : tuple of ReadingLine
    pictures : tuple of (str, uint8 array)
        Name and still, sRGB: as planned, as it is, set right.
    cautions : tuple of Caution
    """

    title: str
    subject: str
    aside: str
    sentences: tuple[str, ...]
    lamps: tuple[LampLine, ...]
    readings: tuple[ReadingLine, ...]
    pictures: tuple[tuple[str, np.ndarray], ...] = ()
    cautions: tuple[Caution, ...] = ()


def between(one: float, other: float) -> float:
    """Return how far one light lies over another; -inf for none, inf over none, 0 for two of none. [stops]"""
    if one <= 0 and other <= 0:
        return 0.0
    with np.errstate(divide="ignore"):
        return float(np.log2(np.float64(max(one, 0.0)) / max(other, 0.0)))


def fine_stops(stops: float) -> str:
    """Return stops to a hundredth; words where it is no number."""
    if np.isfinite(stops):
        return signed(stops, 2)
    return "no light" if stops < 0 else "none planned"


def percent(share: float | None) -> str:
    """Return a share as percent, '–' for none; a small one to a tenth where that says more."""
    if share is None:
        return "–"
    whole = abs(share) >= 0.1 or abs(100 * share - round(100 * share)) < 0.05
    return f"{100 * share:.{0 if whole else 1}f} %"


def _measured(line: LampLine) -> Cell:
    if line.dead:
        return Cell("dead" if line.verdict.startswith("dead") else "dead?", strong=True)
    if not line.told:
        return Cell("not told")
    return Cell(signed(line.stops, 2), f"± {line.error:.2f}", strong=abs(line.stops) > 2 * line.error)


def _as_shown(line: ReadingLine) -> str:
    """Return a reading as it was written, where that is not the number itself."""
    return "" if line.shown.endswith((" lx", " cd/m2", " cd/m²")) else line.shown


_LAMPS = (
    Column("lamp", "", 1.6, lambda line: line.lamp, align="left"),
    Column("planned", "level", 0.8, lambda line: percent(line.planned)),
    Column("measured", "stops from the plan", 1.0, _measured),
    Column("gives", "of its plan", 0.8, lambda line: percent(2.0**line.stops)
           if line.told and not line.dead else "–"),
    Column("set to", "level", 0.9, lambda line: Cell(percent(line.to_set), strong=line.to_set is not None)),
    Column("left over", "stops", 0.9, lambda line: "–" if line.short is None else signed(-line.short, 2)),
    Column("", "", 3.6, lambda line: line.verdict, align="left", wraps=True),
)

_READINGS = (
    Column("reading", "", 0.6, lambda line: f"{line.number}"),
    Column("place", "", 2.0, lambda line: line.place, align="left", wraps=True),
    Column("on", "", 2.2, lambda line: line.on, align="left", wraps=True),
    Column("read", "", 1.1, lambda line: Cell(f"{lux_text(line.read)} {line.unit}", _as_shown(line))),
    Column("planned", "", 1.1, lambda line: f"{lux_text(line.planned)} {line.unit}"),
    Column("off", "stops from the plan", 0.9, lambda line: fine_stops(line.from_plan)),
    Column("by the lamps as found", "", 1.2, lambda line: Cell(f"{lux_text(line.found)} {line.unit}",
                                                               f"± {lux_text(line.error)}")),
    Column("off", "stops from that", 0.9, lambda line: Cell(fine_stops(line.from_found), strong=line.out)),
    Column("", "", 2.4, lambda line: line.remark, align="left", wraps=True),
)


def readings_blocks(sheet: ReadingsSheet, setting: Setting) -> list[Block]:
    """Return readings against the plan in blocks.

    Raises
    ------
    ValueError
        There is no reading.
    """
    if not sheet.readings:
        raise ValueError("a sheet of readings needs at least one")
    unit = setting.unit
    blocks = [heading(setting, sheet.title, sheet.subject, sheet.aside), space(0.4 * unit)]
    if sheet.pictures:
        plates = [Plate(([still],), name) for name, still in sheet.pictures]
        blocks += plate_rows(setting, plates, max(3, len(plates)))
    blocks += [paragraph(setting, words, colour=INK, size=1.0) for words in sheet.sentences]
    if sheet.lamps:
        blocks += Table(setting, _LAMPS, sheet.lamps).under(subheading(setting, "Lamps"))
        blocks.append(space(0.6 * unit))
    blocks += Table(setting, _READINGS, sheet.readings).under(subheading(setting, "Readings"))
    return [*blocks, *foot(setting, TERMS), *caution_blocks(setting, sheet.cautions)]


def write_readings(stem: Path, sheet: ReadingsSheet, words: dict[str, str], width: int = 2000) -> list[Path]:
    """Write readings against the plan as a PNG of a width [px] and a PDF; see `layout.write_sheet_files`."""
    setting = Setting(width)
    return write_sheet_files(stem, readings_blocks(sheet, setting), setting, words)


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence: 'key, fill and rim'."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
