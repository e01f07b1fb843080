"""The first light of a scene: a small picture on few paths, seconds before the one that was ordered.

It has the usual transport, and nothing of it goes into the picture that follows, which stays what it is bit
for bit. It is for the eye alone: no number is read off it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from previz.exposure.camera import settings_of
from previz.exposure.picture import develop
from previz.rendering.request import Request
from previz.stage.records import Camera, Stage

WIDTH = 320
"""Most of the picture's width. [px]"""

PATHS = 2
"""Paths a pixel."""

POINTS = 1 << 12
"""Points from which is measured what lamps give where: enough for so few paths."""

PLANE_SAMPLES = 2
"""Rays a pixel for what the denoiser goes by."""


USUAL_ROUGHNESS = (0.3, 0.4, 0.9, 0.5, 0.38, 0.28, 0.27, 0.25, 0.7, 0.8, 0.45, 0.2, 0.09, 0.1225, 0.2025,
                   0.05)
"""Of people, cloth, lamps and the usual surfaces; each takes hundredths of a second to tabulate. [1]"""


def tabulate(enough: Callable[[], bool]) -> None:
    """Tabulate what most scenes need, while there is nothing else to do."""
    from previz.engine.gloss import albedo_tables

    for roughness in USUAL_ROUGHNESS:
        if enough():
            return
        albedo_tables(roughness)


def load_engine(backend: str) -> None:
    """Load what a first light needs, which takes longest; without a word where there is no engine."""
    from previz.engine.backend import start
    from previz.errors import EngineError

    try:
        start(backend)
    except EngineError:
        return
    from previz.engine import kernel, planes, starts, upload  # noqa: F401


def first_light(stage: Stage, camera: Camera, request: Request) -> np.ndarray:
    """Return a small still of a camera. uint8 array, shape (row, column, 3)

    Raises
    ------
    EngineError
        No backend can serve.
    """
    from previz.engine.render import CameraJob, Sampling, open_stage, plane_values

    width, height = request.pixels(camera.aspect)
    width, height = min(width, WIDTH), max(1, round(min(width, WIDTH) * height / width))
    buffers = open_stage(stage, request.bands, request.backend, POINTS)
    job = CameraJob(buffers, stage, camera, width, height, Sampling(PATHS, 1, request.seed))
    job.step()
    planes, _ = plane_values(buffers, camera, width, height, PLANE_SAMPLES)
    return develop(job.frames(planes=planes), stage.lamps, settings_of(camera), "fast").still
