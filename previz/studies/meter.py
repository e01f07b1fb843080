"""Meter options of a scene: a request in; every meter's reading with its error out."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.atomic import write_text
from previz.deliver.meter_card import table_text
from previz.engine.gather import Standing
from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.faces import cheeks_of, faces_in, key_lamps
from previz.exposure.meter_report import CameraNote, Report, SpotReading, spot_reading
from previz.exposure.metering import Mixed
from previz.exposure.metering_colour import ColourReport, arriving_spectrum, colour_report
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.physics.safety import Caution, together
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import Aim
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.read import SceneFile
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.colours import stage_colours
from previz.stage.outdoors import sky_direction
from previz.stage.records import Patch, Stage
from previz.studies.light_rows import figure_rows, key_lamp_rows, place_rows, places_of, spot_rows
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows, short_rows
from previz.studies.selection import label_of, select, select_options

BETWEEN = "\n" + "─" * 100 + "\n\n"
"""What stands between the tables of two options."""

SECONDS = 120.0
"""Meters of an option are not run for longer, where nothing else is said. [s]"""


@dataclass(frozen=True)
class Meters:
    """What is metered, and what is reported of it.

    Parameters
    ----------
    cameras : tuple of str
        Whose settings stops are counted at, and whose spot meters read; all without any.
    spots : tuple of str
        What the spot meters point at; without any, every face and all that takes 2 % of the frame.
    no_spots : bool
        Leave the spot meters out.
    patches : tuple of tuple of float
        (across, down) or (across, down, width, height) of patches of the picture that they point
        at, too, in shares of it. [1]
    skies : tuple of (float, float)
        (azimuth from true north, altitude) of degrees of the sky that they point at, too. [deg]
    key_lamps : tuple of str
        The lamps that make the key; the strongest at the face without any.
    reference : float or None
        Colour temperature of what SSI compares with; None for that of the light itself. [K]
    seconds : float
        Go on with an option for so long at most. [s]
    explain : bool
        Say which lamps' light is used again, and which are run.
    """

    cameras: tuple[str, ...] = ()
    spots: tuple[str, ...] = ()
    no_spots: bool = False
    patches: tuple[tuple[float, ...], ...] = ()
    skies: tuple[tuple[float, float], ...] = ()
    key_lamps: tuple[str, ...] = ()
    reference: float | None = None
    seconds: float = SECONDS
    explain: bool = False

    def pointed(self, scene: Scene) -> tuple[Patch, ...]:
        """Return patches and places of the sky as a stage has them."""
        north = 0.0 if scene.daylight is None else scene.daylight.north
        made = [Patch(f"patch at {100 * x:g} %, {100 * y:g} %", middle=(x, y),
                      size=(size[0], size[1]) if size else None)
                for x, y, *size in self.patches]
        made += [Patch(f"sky at {azimuth:g} deg, {altitude:g} deg",
                       towards=sky_direction(azimuth, altitude, north)) for azimuth, altitude in self.skies]
        return tuple(made)


@dataclass(frozen=True, eq=False)
class Metered(Result):
    """What the meters of a scene read, a report for each option."""

    study: ClassVar[str] = "meter"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "figure", "meter", "receptor", "lamp", "thing")

    title: str
    reports: tuple[Report, ...]

    def _rows(self) -> list[Row]:
        return [each for report in self.reports for each in _rows(report)]

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of all options that are metered."""
        return together(each for report in self.reports for each in report.cautions)

    def table(self) -> str:
        """Return the readings as tables to read."""
        return BETWEEN.join(table_text(each) for each in self.reports)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the tables as a text; return its file."""
        path = Path(f"{path}.txt")
        path.parent.mkdir(parents=True, exist_ok=True)
        write_text(path, self.table())
        return [path]


def _rows(report: Report) -> Iterator[Row]:
    of = {"option": report.option}
    for name, value in (("requested_error", report.precision), ("wavelength_bands", report.bands),
                        *zip(("paths_fewest", "paths_most"), report.paths, strict=True)):
        yield row(name, value, **of)
    for camera in report.cameras:
        yield from camera_rows(camera.settings, camera=camera.name, **of)
    for place in report.places:
        yield from place_rows(place, report.short, **of)
    yield from short_rows(report.short, **of)
    yield from caution_rows(report.cautions, **of)
    for face in report.faces:
        yield from figure_rows(face, report.cameras, report.short, **of)
    for lamps in report.key_lamps:
        yield from key_lamp_rows(lamps, **of)
    for spot in report.spots:
        yield from spot_rows(spot, **of)


def meter(file: SceneFile, request: Request, *, options: Sequence[str] = (), meters: Meters = Meters(),
          progress: Progress | None = None) -> Metered:
    """Meter options of a scene, all without any; size and samples of the request play no part in it.

    Raises
    ------
    RequestError
        There is no such option, camera, lamp or thing, or nothing to meter with.
    """
    progress, stages = progress or Progress(), {}
    progress.show(SETTING_UP)
    for name in select_options(file, options):
        scene = file.scene(name or None)
        stage = build_stage(scene)
        stages[name] = replace(stage, patches=stage.patches + meters.pointed(scene))
    for stage in stages.values():
        _check(stage, meters)
    # An option without the key has its own readings all the same.
    select(meters.key_lamps, list(dict.fromkeys(
        lamp.name for stage in stages.values() for lamp in stage.lamps)), "lamp")
    with progress.running(len(stages) * (1 if meters.no_spots else 2)):
        reports = [_Run(name, stage, meters, request, progress).report()
                   for name, stage in stages.items()]
    return Metered(file.title or file.path.stem, tuple(reports))


def _check(stage: Stage, meters: Meters) -> None:
    """Refuse names that a stage does not have, before anything is traced."""
    select(meters.cameras, [camera.name for camera in stage.cameras], "camera")
    if not stage.probes and not stage.cameras:
        raise RequestError("The scene has nothing to meter with; add a figure, a camera, or a "
                           "place under 'meters:'.")


class _Run:
    """One run of the meters of one option."""

    def __init__(self, option: str, stage: Stage, meters: Meters, request: Request, progress: Progress):
        self.option, self.stage, self.meters = option, stage, meters
        self.request, self.progress = request, progress
        self.label = label_of(option, "")
        self.until = time.monotonic() + meters.seconds
        self.cameras = [c for c in stage.cameras if not meters.cameras or c.name in meters.cameras]
        self.notes = tuple(CameraNote(c.name, settings_of(c)) for c in self.cameras)

    def report(self) -> Report:
        job = StageJob(self.stage, self.request.meter_order())
        run = StageMeters(job)
        if self.meters.spots:
            select(self.meters.spots, run.spot_names(), "thing")
        try:
            incident = run.incident(self._effort("incident meters"))
            gathered, spots = [incident], tuple[SpotReading, ...]()
            if not self.meters.no_spots:
                self.progress.show(f"{self.label}looking through the cameras")
                aims = [aim for camera in self.cameras
                        for find in (run.aims, run.patch_aims) for aim in find(camera, self.meters.spots)]
                gathered.append(run.spots(aims, self._effort("spot meters")))
                spots = self._spots(aims, gathered[-1])
        finally:
            job.close()
        if self.meters.explain:
            self.progress.say(f"{self.label}meters:")
            for line in run.explained():
                self.progress.say(f"  {line}")
        precision, short = self.request.precision, list[Short]()
        for each in gathered:
            short += run.short(each, precision)
        return self._report(incident, gathered, spots, tuple(short))

    def _report(self, incident: Batches, gathered: Sequence[Batches], spots: tuple[SpotReading, ...],
              short: tuple[Short, ...]) -> Report:
        mixed = metering.mix(incident, self.stage.lamps, stage_colours(self.stage))
        faces = faces_in(mixed)
        keys = [name for name in self.meters.key_lamps if name in incident.lights]
        made = []
        for face in faces:
            left, right = cheeks_of(face.figure)
            made.append(key_lamps(face.figure, mixed[left], mixed[right], keys))
        paths = [int(n) * each.sums.shape[1] for each in gathered for n in each.paths]
        return Report(
            title=self.stage.title, option=self.option, cameras=self.notes,
            places=tuple(places_of(mixed, self.notes, partial(self._colour, incident))), faces=faces,
            key_lamps=tuple(filter(None, made)), spots=spots, precision=self.request.precision,
            short=short, paths=(min(paths), max(paths)) if paths else (0, 0),
            bands=self.request.bands, lamps=tuple(lamp.name for lamp in self.stage.lamps),
            cautions=self.stage.reminders)

    def _effort(self, what: str) -> Effort:
        """Return the effort of one set of meters, which is one unit of the progress."""
        done, label, precision = None, f"{self.label}{what}", self.request.precision

        def report(state: Standing) -> None:
            nonlocal done
            if done is None:
                # What was there before says nothing about the pace.
                self.progress.skip(state.share)
                self.progress.show(f"{label}: starting the engine")
            else:
                self.progress.add(state.share - done, f"{label}: {state.unfinished} not yet at "
                                  f"{100 * precision:g} %, worst {100 * state.worst:.1f} % "
                                  f"('{state.name}')")
            done = state.share

        return Effort(precision, max(self.until - time.monotonic(), 0.0), report)

    def _colour(self, incident: Batches, mixed: Mixed) -> ColourReport | None:
        """Return the colour of the light at a meter, None in the dark."""
        spectrum = arriving_spectrum(incident, self.stage.lamps, incident.names.index(mixed.name))
        return colour_report(mixed, spectrum, self.meters.reference) if np.any(spectrum) else None

    def _spots(self, aims: Sequence[Aim], seen: Batches) -> tuple[SpotReading, ...]:
        mixed = metering.mix(seen, self.stage.lamps, stage_colours(self.stage))
        by_camera = {note.name: note for note in self.notes}
        return tuple(
            spot_reading(mixed[f"{aim.name}, {aim.camera.name}"], aim.name,
                         by_camera[aim.camera.name], aim.share) for aim in aims)
