"""What wants hang on, in rows, in sentences and on a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.balance_words import miss_text, value_text, wanted_text
from previz.deliver.what_if_sheet import write_what_if
from previz.deliver.what_if_words import (
    HangLine,
    change_text,
    gone_text,
    least_text,
    most_text,
    off_text,
    sentences,
    share_text,
)
from previz.exposure.metering import Measured
from previz.frames.records import Short
from previz.levels.dependence import Dependence, OnLamp
from previz.levels.wants import COLOUR
from previz.physics.safety import Caution
from previz.studies.balance.result import standing_rows, text_columns
from previz.studies.balance.subjects import Subject
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows, short_rows

CHANGES = ("half a stop more", "half a stop less", "out")
"""What a change of a lamp is called in rows, in the order of `OnLamp.changes`."""

TOLD = 0.02
"""A change by less is left out of the text; rows and sheet have it. [stops]"""


@dataclass(frozen=True, eq=False)
class WhatIf(Result):
    """What wants hang on; see `what_if`.

    Parameters
    ----------
    option : str
    held : bool
        Whether nothing was wanted, and what is there is to stay.
    step : float
        How far off the mark; 0 where nobody steps. [m]
    subjects : tuple of Subject
    wants : tuple of HangLine
        In the same order.
    notes : tuple of str
        Steps that there is no room for.
    short : tuple of Short
        Meters that did not come to the requested error.
    cautions : tuple of Caution
    """

    study: ClassVar[str] = "what-if"
    axes: ClassVar[tuple[str, ...]] = ("option", "want", "camera", "figure", "mark", "meter", "thing", "lamp",
                                       "change")

    title: str
    option: str
    held: bool
    step: float
    subjects: tuple[Subject, ...]
    wants: tuple[HangLine, ...]
    notes: tuple[str, ...]
    short: tuple[Short, ...]
    cautions: tuple[Caution, ...]

    @property
    def said(self) -> list[str]:
        """What the wants hang on in a few sentences."""
        return sentences(self.wants, self.step)

    def _rows(self) -> list[Row]:
        rows: list[Row] = []
        for subject, line in zip(self.subjects, self.wants, strict=True):
            of = {"option": self.option, **subject.axes}
            rows += _standing_rows(line.of, of)
            for lamp in line.of.lamps:
                rows += _lamp_rows(line.of, lamp, of)
            for other in (*line.of.weather, *line.of.steps):
                rows += _change_rows(line.of, other.change, {**of, "lamp": other.lamp, "change": other.what})
        if self.step:
            rows.append(row("step_off_mark", self.step, option=self.option))
        rows += [row("what_if_summary", words, option=self.option) for words in self.said]
        rows += [row("no_room", words, option=self.option) for words in self.notes]
        return [*rows, *short_rows(self.short, option=self.option), *caution_rows(self.cautions)]

    def table(self) -> str:
        """Return the answer as text: the sentences, each want, and what changes do to it."""
        wants: list[tuple[str, ...]] = [("want", "wanted", "now", "", "hangs most on", "missed by")]
        lamps: list[tuple[str, ...]] = [("want", "lamp", "share", *CHANGES)]
        others: list[tuple[str, ...]] = [("want", "what", "moves", "then")]
        for line in self.wants:
            of, most = line.of, most_text(line.of)
            wants.append((line.name, "as it is" if self.held else wanted_text(of.reading.want),
                          " ".join(value_text(of.reading.want, of.reading.value)).strip(),
                          miss_text(of.reading), f"{most[0]}, {most[1]}" if most[1] else most[0],
                          " ".join(least_text(of)).strip()))
            lamps += [(line.name, each.lamp, share_text(each),
                       *(_told(of, change) for change in each.changes)) for each in of.lamps
                      if any(_shown(of, change) for change in each.changes)]
            others += [(line.name, other.what, change_text(of, other.change), off_text(of, other.change))
                       for other in (*of.weather, *of.steps) if other in of.steps or _shown(of, other.change)]
        tables = [text_columns(each) for each in (wants, lamps, others) if len(each) > 1]
        if not self.held and not all(line.reading.met for line in self.wants):
            tables.append(["--as-it-is asks the same of the light that is there, whatever is wanted."])
        return "\n\n".join("\n".join(each) for each in (self.said, *tables, self.notes) if each) + "\n"

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        subject = "What if: what the light hangs on" + (f", option '{self.option}'" if self.option else "")
        return write_what_if(Path(path), self.wants, self.said, self._words(subject), title=self.title,
                             subject=subject, held=self.held, notes=self.notes, short=self.short,
                             cautions=self.cautions)


def _shown(of: Dependence, change: Measured) -> bool:
    """Return whether a change is large enough to be told of."""
    return of.gone(change) or abs(change.value) / of.unit >= TOLD


def _told(of: Dependence, change: Measured) -> str:
    """Return a change in text, with what it makes of a want that it turns: '−0.31, missed'."""
    met = off_text(of, change) == "met"
    return change_text(of, change) + ("" if met == of.reading.met else ", met" if met else ", missed")


def _standing_rows(of: Dependence, axes: dict[str, str]) -> Iterator[Row]:
    reading, unit = of.reading, "mired" if of.reading.want.kind == COLOUR else "stops"
    yield from standing_rows(reading.want, {"before": reading.value}, axes)
    yield row(f"{unit}_allowed", reading.want.within, **axes)
    yield row(f"off_{unit}", reading.miss, reading.value.error, **axes)
    yield row("want_met", reading.met, note=miss_text(reading), **axes)


def _lamp_rows(of: Dependence, lamp: OnLamp, axes: dict[str, str]) -> Iterator[Row]:
    on = {**axes, "lamp": lamp.lamp}
    yield row("want_share", lamp.share, **on)
    if lamp.shadow_share is not None:
        yield row("want_shadow_share", lamp.shadow_share, **on)
    missed = bool(np.isnan(lamp.room[0]))
    for quantity, end, free in (("may_fall", lamp.room[0], "may go out"), ("may_rise", lamp.room[1], "any")):
        yield row(quantity, end, note="missed as set" if missed else free if np.isinf(end) else "", **on)
    for what, change in zip(CHANGES, lamp.changes, strict=True):
        yield from _change_rows(of, change, {**on, "change": what})


def _change_rows(of: Dependence, change: Measured, axes: dict[str, str]) -> Iterator[Row]:
    """Yield how far one change moves a want, and how it stands then."""
    unit = "mired" if of.reading.want.kind == COLOUR else "stops"
    then = of.then(change)
    gone = of.gone(change)
    moved = (None, None) if gone else change[:2]
    note = gone_text(of, change) if gone else ""
    yield row(f"moves_{unit}", *moved, note=note, **axes)
    yield row(f"off_{unit}", then.miss, None if gone else then.value.error, note=note, **axes)
    yield row("met_then", then.met, note=off_text(of, change), **axes)
