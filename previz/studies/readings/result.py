"""What readings say of a plan: lamps, walls, what is to be set; as rows, as a sheet, as an option."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.readings_sheet import LampLine, ReadingLine, ReadingsSheet, write_readings
from previz.errors import RequestError
from previz.levels.outputs import Calibration
from previz.physics.safety import Caution
from previz.scene.read import SceneFile
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.changes import Changes, changed_scene
from previz.studies.readings.places import Taken
from previz.studies.readings.planned import Planned, with_walls
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows
from previz.studies.saving import save_option


@dataclass(frozen=True)
class ColourLine:
    """Colour temperature at a reading: as read, and by the plan. [K]"""

    number: int
    place: str
    on: str
    read: float
    planned: float

    @property
    def mired(self) -> float:
        """How much warmer (+) than planned. [mired]"""
        return 1e6 / self.read - 1e6 / self.planned


@dataclass(frozen=True, eq=False)
class Corrected(Result):
    """A plan under readings; see `readings`.

    Parameters
    ----------
    scene, stage : Scene, Stage
        As planned.
    scout : bool
        Whether sky and walls were fitted, or lamps alone.
    taken : tuple of Taken
    planned : Planned
    found : Calibration
    lamps : tuple of LampLine
    lines : tuple of ReadingLine
    colours : tuple of ColourLine
    sentences : tuple of str
    daylight : dict of str to (float, float)
        Sky, sun and moon that the readings tell: as planned, as found. [lx]
    pictures : tuple of (str, uint8 array)
    """

    study: ClassVar[str] = "readings"
    axes: ClassVar[tuple[str, ...]] = ("option", "reading", "place", "lamp")

    title: str
    option: str
    scene: Scene
    stage: Stage
    scout: bool
    error: float
    taken: tuple[Taken, ...]
    planned: Planned
    found: Calibration
    lamps: tuple[LampLine, ...]
    lines: tuple[ReadingLine, ...]
    colours: tuple[ColourLine, ...]
    sentences: tuple[str, ...]
    cautions: tuple[Caution, ...]
    daylight: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    pictures: tuple[tuple[str, np.ndarray], ...] = ()

    @property
    def subject(self) -> str:
        """What was read, in a line."""
        what = "Scout: sky and walls by readings" if self.scout else "Readings against the plan"
        return f"{what}{f', option {self.option!r}' if self.option else ''}"

    def _rows(self) -> list[Row]:
        of = {"option": self.option}
        rows = [row("reading_error", self.error, **of)]
        for line in self.lamps:
            at = {**of, "lamp": line.lamp}
            rows.append(row("output_verdict", line.verdict, **at))
            if line.planned is not None:
                rows.append(row("level_planned", line.planned, **at))
            note = "dead" if line.dead else "" if line.told else "not told by the readings"
            rows += [row("output_off", line.stops, line.error, note=note, **at),
                     row("output_factor", 2.0**line.stops, 2.0**line.stops * np.log(2) * line.error
                         if not line.dead else None, note=note, **at)]
            if line.to_set is not None:
                rows.append(row("level_to_set", line.to_set, **at))
            if line.short is not None:
                rows.append(row("short_at_full", -line.short, **at))
        for name, (was, found) in self.daylight.items():
            rows += [row("daylight_planned", was, lamp=name, **of),
                     row("daylight_found", found, lamp=name, **of)]
        if len(self.planned.walls) > 1:
            own, (factor, error) = self.planned.reflectance, self.found.walls
            note = "" if self.found.walls_told else "not told by the readings"
            rows += [row("walls_planned", own, **of),
                     row("walls_found", own * factor, own * error, note=note, **of)]
        for each in self.lines:
            rows += self._reading_rows(each)
        for colour in self.colours:
            at = {**of, "reading": str(colour.number), "place": colour.place}
            rows += [row("colour_read", colour.read, note=colour.on, **at),
                     row("colour_planned", colour.planned, **at), row("colour_off", colour.mired, **at)]
        rows += [row("reading_says", each, **of) for each in self.sentences]
        return rows + caution_rows(self.cautions)

    def _reading_rows(self, line: ReadingLine) -> list[Row]:
        at = {"option": self.option, "reading": str(line.number), "place": line.place}
        kind = "luminance" if line.unit == "cd/m²" else "light"
        note = "left out" if line.out else ""
        return [row("reading_number", line.number, **at),
                row("reading_shown", line.shown, note=line.on, **at),
                row(f"{kind}_read", line.read, note=note, **at), row(f"{kind}_planned", line.planned, **at),
                row(f"{kind}_by_lamps_found", line.found, line.error, **at),
                row("reading_from_plan", line.from_plan, **at),
                row("reading_from_found", line.from_found, note=line.remark or note, **at),
                row("reading_studentised", line.off, note=note, **at)]

    def changes(self) -> Changes:
        """Return what turns the plan into what is there: outputs that the readings tell, as levels.

        A level ends at 100 %: what a lamp gives over that is not in it.
        """
        from previz.studies.changes import LampChange
        from previz.studies.readings.places import DAYLIGHT

        made: dict[str, LampChange] = {}
        for line in self.lamps:
            if line.dead:
                made[line.lamp] = LampChange(on=False)
            elif line.told and line.lamp in DAYLIGHT:
                made[line.lamp] = LampChange(dimmer=round(min(2.0**line.stops, 16.0), 4))
            elif line.told and line.planned:
                made[line.lamp] = LampChange(dimmer=round(min(line.planned * 2.0**line.stops, 1.0), 4))
        return Changes(made)

    def as_found(self) -> Scene:
        """Return the scene as the readings have it."""
        after = changed_scene(self.scene, self.stage, self.changes())
        return with_walls(after, self.found.walls[0]) if self.found.walls_told else after

    def save(self, file: SceneFile, name: str, *, own: bool = False) -> Path:
        """Write the scene as the readings have it as an option of its file; return what was written.

        Raises
        ------
        RequestError
            The readings change nothing.
        DataError
            See `saving.save_option`.
        """
        after = self.as_found()
        if after == self.scene:
            raise RequestError("The readings change nothing of the plan; there is no option to save.")
        return save_option(file, name, self.option, after, own=own)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        made = ReadingsSheet(self.title, self.subject, f"a reading ± {100 * self.error:g} %", self.sentences,
                             self.lamps, self.lines, self.pictures, self.cautions)
        return write_readings(Path(path), made, self._words(f"Readings: {self.subject}"))
