"""What was shot against the plan: as rows and as a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.as_shot_sheet import (
    AsShotSheet,
    ShotCamera,
    ShotLamp,
    ShotMeter,
    sentences,
    write_as_shot,
)
from previz.physics.safety import Caution
from previz.studies.as_shot.record import Record
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows, measured_row, note_of


@dataclass(frozen=True, eq=False)
class AsShot(Result):
    """A shot against its plan; see `as_shot`."""

    study: ClassVar[str] = "as-shot"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "meter", "lamp", "reading")

    title: str
    record: Record
    lamps: tuple[ShotLamp, ...]
    cameras: tuple[ShotCamera, ...]
    meters: tuple[ShotMeter, ...]
    cautions: tuple[Caution, ...]
    pictures: tuple[tuple[str, np.ndarray], ...] = ()

    @property
    def sentences(self) -> list[str]:
        """What matters of it in a few sentences."""
        return sentences(self.lamps, self.cameras, self.meters)

    @property
    def subject(self) -> str:
        """What was shot, in a line."""
        parts = ["As shot, against the plan", self.record.option and f"option '{self.record.option}'",
                 self.record.take and f"take {self.record.take}"]
        return ", ".join(filter(None, parts))

    def _rows(self) -> list[Row]:
        of = {"option": self.record.option}
        rows = [row("take", self.record.take, **of)]
        for lamp in self.lamps:
            at = {**of, "lamp": lamp.lamp}
            note = "" if lamp.named else "as planned"
            rows += [row("level_planned", lamp.planned, **at), row("level_shot", lamp.shot, note=note, **at),
                     row("level_off", lamp.stops, note=note_of(lamp.stops) and "off", **at)]
            if lamp.planned_cct is not None:
                rows += [row("lamp_cct_planned", lamp.planned_cct, **at),
                         row("lamp_cct_shot", lamp.shot_cct, **at), row("lamp_warmer", lamp.mired, **at)]
        for camera in self.cameras:
            at = {**of, "camera": camera.camera}
            rows += camera_rows(camera.planned, **at)
            rows += [{**each, "quantity": f"shot_{each['quantity']}"}
                     for each in camera_rows(camera.shot, **at)]
            rows += [row("exposure_off", camera.stops, **at), row("balance_warmer", camera.mired, **at)]
        for meter in self.meters:
            at = {**of, "meter": meter.meter}
            rows += [measured_row("light_planned", meter.planned, **at),
                     measured_row("light_shot", meter.shot, **at), row("light_off", meter.stops, **at)]
            if meter.from_stop is not None:
                rows += [row("from_stop_planned", meter.from_stop[0], **at),
                         row("from_stop_shot", meter.from_stop[1], **at)]
        for number, reading in enumerate(self.record.readings, 1):
            words = ", ".join(f"{key} {text}" for key, text in reading.items())
            rows.append(row("reading_shown", words, reading=str(number), **of))
        rows += [row("reading_says", each, **of) for each in self.sentences]
        return rows + caution_rows(self.cautions)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        made = AsShotSheet(self.title, self.subject, tuple(self.sentences), self.lamps, self.cameras,
                           self.meters, self.pictures, self.cautions)
        return write_as_shot(Path(path), made, self._words(self.subject))
