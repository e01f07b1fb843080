"""Shots that were rendered before and are in the cache, for sheets of all that there is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from previz.errors import PrevizError
from previz.exposure.camera import settings_of
from previz.exposure.picture import develop
from previz.frames import Frames
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Request
from previz.scene.read import SceneFile
from previz.stage.build import build_stage
from previz.stage.records import Camera
from previz.studies.render import Shot
from previz.studies.state import state_of


def kept_shots(file: SceneFile, request: Request, wanted: Iterable[tuple[str, str]]) -> list[Shot]:
    """Return the shots of some (option, camera) that are in the cache as the scene is now.

    They are of the request's settings, refined or not. Nothing is rendered or metered; what is not
    there, or was rendered before the scene was changed, is left out. What of the rig is in the picture is
    not looked for.
    """
    options: dict[str, list[str]] = {}
    for option, name in wanted:
        if not option or option in file.option_names:
            options.setdefault(option, []).append(name)
    shots = []
    for option, names in options.items():
        try:
            stage = build_stage(file.scene(option or None))
        except PrevizError:
            # What this option has wrong is no matter of those that were requested.
            continue
        job = StageJob(stage, request.meter_order())
        for camera in (each for each in stage.cameras if each.name in names):
            job = job.like(request.order(camera.aspect))
            frames = _frames(job, camera)
            if frames is not None:
                shots.append(Shot(option, camera, stage, frames, develop(frames, stage.lamps,
                                                                        settings_of(camera)),
                                  state=state_of(job.paths, camera, stage.lamps)))
        if stage.probes and any(shot.option == option for shot in shots):
            meters = StageMeters(job)
            # Any precision will do, so nothing is traced.
            gathered = meters.incident(Effort(np.inf))
            short = meters.short(gathered, request.precision)
            shots = [replace(shot, gathered=gathered, short=short) if shot.option == option else shot
                     for shot in shots]
    return shots


def _frames(job: StageJob, camera: Camera) -> Frames | None:
    """Return a camera's frames if they are there, rendered to an end or refined."""
    found = job.cached(camera)
    return found if found is not None else job.like(replace(job.order, refined=True)).cached(camera)
