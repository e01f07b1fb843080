"""Hold what was shot against the plan; nothing is rendered for it but meters that are missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from previz.deliver.as_shot_sheet import ShotCamera, ShotLamp, ShotMeter
from previz.exposure.camera import settings_of
from previz.exposure.metering import mix
from previz.exposure.picture import develop
from previz.physics.exposure import CameraSettings
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.cautions import for_changed
from previz.stage.outdoors import MOON, SKY, SUN
from previz.stage.records import Stage
from previz.studies.as_shot.record import Record, shot_of
from previz.studies.as_shot.result import AsShot
from previz.studies.changes import changed_scene, lamp_lights, staged_camera
from previz.studies.readings.written import Cell, ReadingsError, filled, read_csv, readings_in

SECONDS = 120.0
"""Meters are not run for longer, where nothing else is said. [s]"""


def as_shot(scene: Scene, request: Request, *, table: Path | str | None = None, shot: Sequence[str] = (),
            record: Record | None = None, take: str = "", readings: Path | str | None = None,
            seconds: float = SECONDS, title: str = "", progress: Progress | None = None) -> AsShot:
    """Return what was shot against the plan.

    Parameters
    ----------
    scene : Scene
        As planned.
    request : Request
        Of the meters; pictures are there if their frames are kept.
    table : path-like, optional
        CSV file of lamps and cameras; see `record.COLUMNS`.
    shot : sequence of str
        Typed lines: 'key, 65 %, 4300 K', 'A, T4, ISO 800'.
    record : Record, optional
        In place of both: one that was kept.
    take : str
        What it is called.
    readings : path-like, optional
        CSV file of readings of the day, which are kept with it.
    seconds : float
        Run meters for so long at most. [s]

    Raises
    ------
    ReadingsError
        With every fault of the tables, each at its place.
    RequestError
        Nothing is said of what was shot, or the scene has no such lamp or camera.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    stage = build_stage(scene)
    if record is None:
        record = shot_of(scene, stage, None if table is None else Path(table), shot, take=take,
                         readings=_readings(readings))
    changed = changed_scene(scene, stage, record.changes())
    lights = lamp_lights(changed, stage)
    after = replace(stage, lamps=tuple(lights))
    cameras = tuple(ShotCamera(camera.name, settings_of(camera), settings_of(staged_camera(stage, written)))
                    for camera, written in zip(stage.cameras, changed.cameras, strict=True))
    first = (cameras[0].planned, cameras[0].shot) if cameras else None
    meters = tuple(_meters(stage, after, first, request, seconds, progress))
    return AsShot(title or scene.title, record, tuple(_lamps(scene, changed, stage, after, record)), cameras,
                  meters, for_changed(changed, after), _pictures(stage, after, cameras, request))


def _readings(path: Path | str | None) -> list[dict[str, Cell]]:
    if path is None:
        return []
    rows, problems = read_csv(Path(path))
    rows, _ = filled(rows)
    _, faults = readings_in(rows)
    if problems or faults:
        raise ReadingsError([*problems, *faults])
    return rows


def _lamps(scene: Scene, changed: Scene, stage: Stage, after: Stage, record: Record) -> Iterator[ShotLamp]:
    was, now = ({light.name: light for light in each.lights} for each in (scene, changed))
    for before, lamp in zip(stage.lamps, after.lamps, strict=True):
        outside = lamp.name in (SUN, MOON, SKY)
        # Of daylight the output changes, of a lamp its level.
        planned = 1.0 if outside else before.level * before.on
        shot = lamp.output / before.output if outside and before.output > 0 else lamp.level * lamp.on
        cct = None if outside else (was[lamp.name].cct, now[lamp.name].cct)
        yield ShotLamp(lamp.name, planned, shot, cct and cct[0], cct and cct[1], lamp.name in record.lamps,
                       outside)


def _meters(stage: Stage, after: Stage, first: tuple[CameraSettings, CameraSettings] | None, request: Request,
            seconds: float, progress: Progress) -> Iterator[ShotMeter]:
    if not stage.probes:
        return
    job = StageJob(stage, request.meter_order())
    try:
        with progress.running(1.0):
            gathered = StageMeters(job).incident(Effort(
                request.precision, seconds, lambda state: progress.show(f"meters: {state.unfinished} left")))
    finally:
        job.close()
    planned, shot = mix(gathered, stage.lamps), mix(gathered, after.lamps)
    for probe in stage.probes:
        # The domed one beside a flat one says the same of levels.
        if probe.dome:
            continue
        yield ShotMeter(probe.name, planned[probe.name].light(), shot[probe.name].light(), *(first or ()))


def _pictures(stage: Stage, after: Stage, cameras: Sequence[ShotCamera],
              request: Request) -> tuple[tuple[str, np.ndarray], ...]:
    """Return the first camera's stills as planned and as shot, where its frames are kept."""
    if not stage.cameras:
        return ()
    view, settings = stage.cameras[0], cameras[0]
    job = StageJob(stage, request.order(view.aspect))
    frames = job.cached(view)
    job.close()
    if frames is None:
        return ()
    return ((f"camera {view.name}, as planned", develop(frames, stage.lamps, settings.planned).still),
            ("as shot", develop(frames, after.lamps, settings.shot).still))


