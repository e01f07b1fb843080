"""What a study of one lamp found, as rows and as a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.study_sheet import lit_part, write_study
from previz.exposure.meter_report import CameraNote
from previz.exposure.metering import Measured, from_working
from previz.frames.records import Short
from previz.physics.safety import Caution
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows, measured_row, note_of, short_rows
from previz.studies.study.pictures import Pictures
from previz.studies.study.ring import EIGHTH, Use

GUESSED = "the lamp's watts are not stated: guessed from its lumens"
UNKNOWN = "it draws nothing from the mains"
UNSEEN = "no light of the source is seen from the face"
"""Notes of what is no number, or not a sure one."""


@dataclass(frozen=True, eq=False)
class Study(Result):
    """What a study found.

    Rows are of a use ('direct', 'frame 1.2 m at 2 m'), and of a meter or camera where they name one.
    The angle that a source fills and what follows from it is measured in a picture and has no standard
    error; a wrap angle's comes of its meters' errors, each by itself.

    Parameters
    ----------
    title, option, lamp, kind, figure : str
        What was studied.
    steps : tuple of Use
        Direct first.
    left_out : tuple of str
        Uses that the room or the lamp's place does not allow, and why.
    spill : str
        What spill is read on.
    throw : float
        From the lamp to the face. [m]
    camera : CameraNote or None
        From whose stop light is counted: the scene's first camera.
    pictures : Pictures
        One of each kind; empty without pictures.
    """

    study: ClassVar[str] = "study"
    axes: ClassVar[tuple[str, ...]] = ("option", "lamp", "figure", "use", "camera", "meter", "angle")

    title: str
    option: str
    lamp: str
    kind: str
    figure: str
    steps: tuple[Use, ...]
    left_out: tuple[str, ...]
    spill: str
    throw: float
    camera: CameraNote | None = None
    pictures: Pictures = Pictures()

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of the uses that there are pictures of."""
        return self.pictures.cautions

    @property
    def doubtful(self) -> list[tuple[str, tuple[Short, ...]]]:
        """Readings that are not as good as requested, as `trust.doubts` takes them."""
        return [(step.name, step.short) for step in self.steps]

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF."""
        return write_study(Path(path), self, self.pictures.examples,
                           self._words(f"Bounce against direct, '{self.lamp}'."), self.pictures.cautions)

    def _rows(self) -> list[Row]:
        of = {"option": self.option or "", "lamp": self.lamp, "figure": self.figure}
        rows = [row("throw", self.throw, **of)]
        for step in self.steps:
            rows += self._of_step(step, {**of, "use": step.name})
        for line in self.left_out:
            use, _, why = line.partition(" left out: ")
            rows.append(row("left_out", why, use=use, **of))
        return rows + caution_rows(self.pictures.cautions, **of)

    def _of_step(self, step: Use, of: dict[str, str]) -> Iterator[Row]:
        light = step.brightest
        yield row("use_size", step.size, **of)
        yield row("use_distance", step.distance, **of)
        yield measured_row("brightest", light, **of)
        yield row("band_error", light.bands, meter="brightest", **of)
        if self.camera is not None:
            yield measured_row("stops_from_working", from_working(light, self.camera.settings),
                               camera=self.camera.name, **of)
        loss_error = 0.0 if step.kind == "direct" else _stops_error(light, self.steps[0].brightest)
        times = 2.0**-step.loss if np.isfinite(step.loss) else np.nan
        yield row("loss", step.loss, loss_error, note=note_of(step.loss), **of)
        yield row("output_for_same_light", times, times * np.log(2) * loss_error, note=note_of(step.loss),
                  **of)
        per_watt = step.per_watt
        yield row("brightest_per_watt", per_watt, None if per_watt is None else per_watt * _relative(light),
                  note=UNKNOWN if per_watt is None else GUESSED if step.guessed else "", **of)
        unseen = "" if np.isfinite(step.across) else UNSEEN
        yield row("source_width", step.across, note=unseen, **of)
        yield row("source_height", step.up, note=unseen, **of)
        for name, value in zip(("lit_width", "lit_height"), lit_part(step) or (), strict=False):
            yield row(name, value, **of)
        yield row("nose_edge", step.edge, note=unseen, **of)
        yield row("wrap_to_half", step.wrap, step.wrap_error(0.5), note=_never(step.wrap), **of)
        yield row("wrap_to_eighth", step.ends, step.wrap_error(EIGHTH), note=_never(step.ends), **of)
        if step.wall is not None:
            yield row("spill_from_brightest", step.spill, _stops_error(step.wall, light), meter=self.spill,
                      note=note_of(step.spill), **of)
        if step.name in self.pictures.in_shot:
            yield row("in_shot", self.pictures.in_shot[step.name], **of)
        for angle, each in zip(step.ring.angles, step.readings, strict=True):
            yield measured_row("round_the_head", each, angle=f"{angle:g}", **of)
        yield from short_rows(step.short, **of)


def _never(angle: float) -> str:
    return "" if np.isfinite(angle) else "never falls so far"


def _relative(light: Measured) -> float:
    """Return a reading's relative standard error; nan of no light. [1]"""
    return light.paths / light.value if light.value > 0 else np.nan


def _stops_error(one: Measured, other: Measured) -> float:
    """Return the standard error of the stops between two readings that know nothing of each other."""
    return float(np.hypot(_relative(one), _relative(other)) / np.log(2))
