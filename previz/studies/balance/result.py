"""Levels for what is wanted: each want before and after, each lamp, in rows and on a sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.balance_sheet import LampLine, Seen, WantLine, level_text, move_text, write_balance
from previz.deliver.balance_words import (
    miss_text,
    place_words,
    remedy_text,
    sentences,
    value_text,
    wanted_text,
)
from previz.deliver.wording import NO_LIGHT, settings_text
from previz.exposure.metering import Measured
from previz.frames.records import Short
from previz.levels.answers import Reading
from previz.levels.wants import COLOUR, RATIO, Want
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution
from previz.scene.read import SceneFile
from previz.scene.scene import Scene
from previz.studies.balance.placed import Placed
from previz.studies.balance.solving import Solution
from previz.studies.balance.subjects import Subject
from previz.studies.changes import Changes
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows, short_rows
from previz.studies.saving import save_option

_REMEDY_SHARES = ("flagged", "blacked")


@dataclass(frozen=True, eq=False)
class Balance(Result):
    """Levels, colours and exposure for what is wanted; see `balance`.

    Parameters
    ----------
    file : SceneFile
    option : str
        That was balanced; '' for the scene as written.
    rule : str
        What was made small.
    subjects : tuple of Subject
        What is wanted, in the order of the readings.
    solution : Solution
    lamps : tuple of LampLine
    settings : dict of str to (CameraSettings, CameraSettings)
        By camera, before and after.
    changed : Scene
        The option as it is then.
    seen : tuple of Seen
        Pictures; none where none were requested.
    short : tuple of Short
        Meters that did not come to the requested error.
    cautions : tuple of Caution
        Of the scene as it is set then.
    placed : Placed or None
        Where a lamp was moved to, if it might be; everything else is then of that place, and what is before
        of its old one.
    """

    study: ClassVar[str] = "balance"
    axes: ClassVar[tuple[str, ...]] = ("option", "want", "camera", "figure", "mark", "meter", "lamp", "thing")

    title: str
    file: SceneFile
    option: str
    rule: str
    subjects: tuple[Subject, ...]
    solution: Solution
    lamps: tuple[LampLine, ...]
    settings: Mapping[str, tuple[CameraSettings, CameraSettings]]
    changed: Scene
    seen: tuple[Seen, ...]
    short: tuple[Short, ...]
    cautions: tuple[Caution, ...]
    placed: Placed | None = None

    @property
    def met(self) -> bool:
        """Whether every want is met."""
        return self.solution.met

    @property
    def changes(self) -> Changes:
        """What is set otherwise than the option has it."""
        return self.solution.changes

    @property
    def said(self) -> list[str]:
        """The answer in a few sentences, the verdict first."""
        found = sentences(self.solution.after, self.solution.conflict, self.solution.remedies)
        moved = [f"camera {name} to {settings_text(after)}" for name, (before, after) in self.settings.items()
                 if before != after]
        placed = [] if self.placed is None else self.placed.words()
        return [*found[:1], *placed, *([f"Set {', '.join(moved)}."] if moved else []), *found[1:]]

    @property
    def wants(self) -> list[WantLine]:
        """Each want before and after."""
        return [WantLine(before.want.name, subject.words, before.want.camera, before, after)
                for subject, before, after in zip(self.subjects, self.solution.before, self.solution.after,
                                                  strict=True)]

    def save(self, name: str, *, own: bool = False) -> Path:
        """Write the answer as an option into the scene file, or into a file of its own; return it.

        Raises
        ------
        DataError
            See `studies.saving.save_option`.
        """
        return save_option(self.file, name, self.option, self.changed, own=own)

    def _rows(self) -> list[Row]:
        rows = [row("rule", self.rule, option=self.option), *self._want_rows()]
        for line in self.lamps:
            of = {"option": self.option, "lamp": line.name}
            rows += [row("dimmer_before", line.before, **of), row("dimmer_after", line.after, **of),
                     row("dimmer_moves", line.stops if line.moved else 0.0, note=move_text(line), **of),
                     row("colour_before", line.colours[0], **of), row("colour_after", line.colours[1], **of),
                     row("full_load", line.watts, **of)]
        for camera, both in self.settings.items():
            of = {"option": self.option, "camera": camera}
            for when, settings in zip(("before", "after"), both, strict=True):
                rows += [row(f"stop_{when}", settings.stop, **of),
                         row(f"nd_{when}", settings.nd_density, **of)]
            first = both[0]
            rows += [row("camera_iso", first.iso, **of), row("camera_shutter", first.shutter_s, **of),
                     row("camera_balance", first.white_balance, **of), row("camera_tint", first.tint, **of)]
        rows += list(self._remedy_rows())
        if self.placed is not None:
            rows += self.placed.rows(option=self.option)
        rows += [row("answer", words, option=self.option) for words in self.said]
        return [*rows, *short_rows(self.short, option=self.option), *caution_rows(self.cautions)]

    def _want_rows(self) -> Iterator[Row]:
        for subject, before, after in zip(self.subjects, self.solution.before, self.solution.after,
                                          strict=True):
            of = {"option": self.option, **subject.axes}
            yield from _reading_rows(after.want, before, after, of)
            yield row("want_met", after.met, note=miss_text(after), **of)

    def _remedy_rows(self) -> Iterator[Row]:
        for name in self.solution.conflict:
            yield row("excludes_others", True, option=self.option, want=name)
        for each in self.solution.remedies:
            of = {"option": self.option, "lamp": each.lamp, "camera": each.camera,
                  "meter": place_words(each.meter)}
            quantity = "remedy_share" if each.kind in _REMEDY_SHARES else "remedy_stops"
            yield row(quantity, each.amount, note=remedy_text(each), **of)

    def table(self) -> str:
        """Return the answer as text: the sentences, each want, and every lamp that moves."""
        lines = [*self.said, ""]
        wants: list[tuple[str, ...]] = [("want", "of", "wanted", "before", "after", "")]
        several = len({each.camera for each in self.wants if each.camera}) > 1
        for each in self.wants:
            value, error = value_text(each.after.want, each.after.value)
            by = f", camera {each.camera}" if several and each.camera and "camera" not in each.words else ""
            wants.append((each.name, each.words + by, wanted_text(each.after.want),
                          value_text(each.before.want, each.before.value)[0], f"{value} {error}".strip(),
                          miss_text(each.after)))
        lamps: list[tuple[str, ...]] = [("lamp", "before", "after", "stops", "colour and gels", "then")]
        lamps += [(line.name, level_text(line.before), level_text(line.after), move_text(line),
                   line.colours[0], line.colours[1] if line.colours[0] != line.colours[1] else "")
                  for line in self.lamps]
        moving = ["", *text_columns(lamps)] if self.lamps else []
        return "\n".join([*lines, *text_columns(wants), *moving]) + "\n"

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        of = f"Levels for what is wanted, option '{self.option}'" if self.option else (
            "Levels for what is wanted")
        subject = f"{of}, by {self.rule}"
        return write_balance(Path(path), self.wants, self.lamps, self.seen, self.said, self._words(subject),
                             title=self.title, subject=subject, short=self.short, cautions=self.cautions,
                             moved=self.placed.before.name if self.placed and self.placed.better else "")


def text_columns(lines: list[tuple[str, ...]]) -> list[str]:
    """Return lines of words with their columns under each other."""
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    return ["  ".join(text.ljust(wide) for text, wide in zip(line, widths, strict=True)).rstrip()
            for line in lines]


def _reading_rows(want: Want, before: Reading, after: Reading, of: dict[str, str]) -> Iterator[Row]:
    """Yield what is wanted and how it stands, in the unit of the want."""
    yield from standing_rows(want, {"before": before.value, "after": after.value}, of)
    unit = "mired" if want.kind == COLOUR else "stops"
    yield row(f"{unit}_missed", after.miss, after.value.error, **of)
    yield row(f"{unit}_allowed", want.within, **of)


def standing_rows(want: Want, read: Mapping[str, Measured], of: dict[str, str]) -> Iterator[Row]:
    """Yield what is wanted and what it reads, 'before' or 'after', in the unit of the want."""
    if want.kind == COLOUR:
        yield row("wanted_cct", 1e6 / want.target, **of)
        for when, value in read.items():
            kelvin = 1e6 / value.value if value.value > 0 else np.nan
            yield row(f"cct_{when}", kelvin, kelvin**2 / 1e6 * value.error, **of)
    elif want.kind == RATIO:
        yield row("wanted_ratio", 2.0**want.target, **of)
        for when, value in read.items():
            yield row(f"ratio_{when}", 2.0**value.value, 2.0**value.value * np.log(2) * value.error, **of)
    else:
        note = "at most" if want.at_most else "at least" if want.at_least else ""
        yield row("wanted_level", want.target, note=note, **of)
        for when, value in read.items():
            yield _level(f"level_{when}", value, of)


def _level(quantity: str, value: Measured, of: dict[str, str]) -> Row:
    return row(quantity, value.value, value.error, note="" if np.isfinite(value.value) else NO_LIGHT, **of)
