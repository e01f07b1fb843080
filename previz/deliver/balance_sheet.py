"""Levels for what is wanted: the picture before and after, each want, and every lamp that moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.balance_words import miss_text, value_text, wanted_text
from previz.deliver.canvas import INK
from previz.deliver.layout import (
    Block,
    Setting,
    doubt_blocks,
    foot,
    heading,
    map_scales,
    paragraph,
    space,
    subheading,
    write_sheet_files,
)
from previz.deliver.map import ExposureMap
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import settings_text, signed
from previz.frames.records import Short
from previz.levels.answers import Reading
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution

TERMS = (
    ("Level", "of a face, in stops from the working stop of its camera, by a flat meter on the brighter "
     "(lit) or darker (shadow) cheek; of a thing, a patch or a background, in stops from 18 % grey, its mean "
     "as the camera sees it; of a window what is seen through it."),
    ("Lit : shadow", "both cheeks as metered."),
    ("Colour", "temperature of the light on the lit side; too warm or too cool in mired."),
    ("±", "the standard error of the meters. What is met is off by no more than the want allows."),
    ("Dimmer", "a share of the light; tungsten grows warmer as it is dimmed, and is counted so."),
    ("After", "worked out from the lamps' light as it was metered and rendered: nothing was rendered anew, "
     "and the depth of field is that of the stop before."),
)
"""What the heads mean."""


def terms(moved: str = "") -> tuple[tuple[str, str], ...]:
    """Return what the heads mean, of levels alone or of a lamp that was moved too."""
    if not moved:
        return TERMS
    return (*TERMS[:-1], ("After", f"with '{moved}' where it is moved to, rendered and metered there; levels "
                          "are worked out from that, and the depth of field is that of the stop before."))


@dataclass(frozen=True, eq=False)
class WantLine:
    """One want before and after.

    Parameters
    ----------
    name, words : str
        Of the want; what it is of.
    camera : str
        Whose working stop counts.
    before, after : Reading
    """

    name: str
    words: str
    camera: str
    before: Reading
    after: Reading


@dataclass(frozen=True)
class LampLine:
    """One lamp before and after.

    Parameters
    ----------
    name : str
    before, after : float
        Level; 0 for off. [1]
    colours : (str, str)
        Colour and gels, before and after.
    watts : float
        At full level. [W]
    held : bool
        It may not be moved.
    """

    name: str
    before: float
    after: float
    colours: tuple[str, str]
    watts: float
    held: bool = False

    @property
    def stops(self) -> float:
        """How far its level moves; inf for one that was off, -inf for one that goes off. [stops]"""
        with np.errstate(divide="ignore", invalid="ignore"):
            return float(np.nan_to_num(np.log2(np.float64(self.after) / self.before), posinf=np.inf,
                                       neginf=-np.inf))

    @property
    def moved(self) -> bool:
        """Whether anything of it changes."""
        return self.before != self.after or self.colours[0] != self.colours[1]


@dataclass(frozen=True, eq=False)
class Seen:
    """One camera's picture before and after.

    Parameters
    ----------
    camera : str
    settings : (CameraSettings, CameraSettings)
    stills : pair of uint8 array, shape (row, column, 3)
        sRGB.
    charts : pair of ExposureMap
    """

    camera: str
    settings: tuple[CameraSettings, CameraSettings]
    stills: tuple[np.ndarray, np.ndarray]
    charts: tuple[ExposureMap, ExposureMap]


def level_text(level: float) -> str:
    """Return a dimmer's level: '62.5 %', 'off'."""
    return f"{100 * level:.1f} %" if level else "off"


def move_text(line: LampLine) -> str:
    """Return how far a lamp's level moves."""
    if not line.moved and line.held:
        return "held"
    if line.before == line.after:
        return "–"
    if not line.before:
        return "on"
    return f"{signed(line.stops, 2)}" if line.after else "off"


def _want_columns() -> list[Column]:
    def read(of: Reading) -> Cell:
        return Cell(*value_text(of.want, of.value))

    return [
        Column("want", "", 1.8, lambda w: w.name, align="left", wraps=True),
        Column("of", "", 2.6, lambda w: Cell(w.words, f"camera {w.camera}" if w.camera else ""),
               align="left"),
        Column("wanted", "stops, ratio or K", 1.1, lambda w: wanted_text(w.after.want)),
        Column("before", "", 1.0, lambda w: read(w.before)),
        Column("after", "", 1.0, lambda w: read(w.after)),
        Column("", "", 1.6, lambda w: Cell(miss_text(w.after), strong=not w.after.met), align="left"),
    ]


def _lamp_columns() -> list[Column]:
    return [
        Column("lamp", "", 2.0, lambda lamp: lamp.name, align="left"),
        Column("before", "dimmer", 1.0, lambda lamp: level_text(lamp.before)),
        Column("after", "dimmer", 1.0, lambda lamp: Cell(level_text(lamp.after),
                                                        strong=lamp.before != lamp.after)),
        Column("moves", "stops", 0.8, move_text),
        Column("colour and gels", "before", 2.0, lambda lamp: lamp.colours[0], align="left"),
        Column("colour and gels", "after", 2.0, lambda lamp: Cell(
            lamp.colours[1], strong=lamp.colours[0] != lamp.colours[1]), align="left"),
        Column("draws", "W at full level", 1.0, lambda lamp: f"{lamp.watts:.0f}"),
    ]


def balance_blocks(wants: Sequence[WantLine], lamps: Sequence[LampLine], seen: Sequence[Seen],
                   said: Sequence[str], setting: Setting, *, title: str, subject: str,
                   short: Sequence[Short] = (), cautions: Sequence[Caution] = (),
                   moved: str = "") -> list[Block]:
    """Return levels for what is wanted, in blocks.

    Parameters
    ----------
    wants : sequence of WantLine
    lamps : sequence of LampLine
        All that the option has but sun, sky and moon.
    seen : sequence of Seen
        Pictures, one for each camera; may be none.
    said : sequence of str
        The answer in sentences, the verdict first.
    setting : Setting
    title, subject : str
        Of the scene; the option, and by what rule.
    short : sequence of Short
        Meters that did not come to the requested error.
    cautions : sequence of Caution
        That the scene calls for as it is set then.
    moved : str
        Lamp that stands elsewhere after; '' for none.

    Raises
    ------
    ValueError
        Nothing is wanted.
    """
    if not wants:
        raise ValueError("a balance needs at least one want")
    unit = setting.unit
    blocks = [heading(setting, title, subject), space(0.4 * unit)]
    for each in seen:
        plates = []
        for when, still, chart, settings in zip(("before", "after"), each.stills, each.charts, each.settings,
                                                strict=True):
            # Of several cameras each has a row.
            pictures = ([still], [chart]) if len(seen) == 1 else ([still, chart],)
            plates.append(Plate(pictures, f"Camera {each.camera}, {when}", settings_text(settings)))
        blocks += plate_rows(setting, plates, 2)
    if seen:
        blocks += map_scales(setting, "map: stops from 18 % grey", [
            (f"camera {each.camera}", chart) for each in seen for chart in each.charts])
    blocks += [paragraph(setting, words, colour=INK, size=1.15 if number == 0 else 1.0)
               for number, words in enumerate(said)]
    blocks += [space(0.6 * unit),
               *Table(setting, _want_columns(), wants).under(subheading(setting, "What is wanted"))]
    if lamps:
        blocks += [space(0.6 * unit), *Table(setting, _lamp_columns(), lamps).under(subheading(
            setting, "Lamps", "sun, sky and moon stay as they are"))]
    return [*blocks, *doubt_blocks(setting, [("", short)]), *foot(setting, terms(moved)),
            *caution_blocks(setting, cautions)]


def write_balance(stem: Path, wants: Sequence[WantLine], lamps: Sequence[LampLine], seen: Sequence[Seen],
                  said: Sequence[str], words: dict[str, str], width: int = 2200, *, title: str, subject: str,
                  short: Sequence[Short] = (), cautions: Sequence[Caution] = (),
                  moved: str = "") -> list[Path]:
    """Write levels for what is wanted as a PNG of a width [px] and a PDF; the rest is of `balance_blocks`."""
    setting = Setting(width)
    return write_sheet_files(stem, balance_blocks(wants, lamps, seen, said, setting, title=title,
                                                  subject=subject, short=short, cautions=cautions,
                                                  moved=moved), setting, words)
