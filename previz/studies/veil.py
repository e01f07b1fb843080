"""What the air alone adds to a picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.engine.render import Sampling
from previz.exposure.comparing.views import pinhole_rays
from previz.exposure.mix import mix_xyz
from previz.physics.exposure import MID_GREY
from previz.rendering.job import StageJob
from previz.rendering.size import LEAST_SIDE
from previz.stage.records import Camera, Haze

AIR_SIZE, AIR_SAMPLES = 96, 32
"""Width of the two small pictures, with and without haze, that show what the air adds [px], and
their paths a pixel."""

OPEN_AIR = 100.0
"""Depth at which a line of sight that meets nothing is taken to end. [m]"""

STEPS = 64
"""Points along a line of sight at which the density of haze that thins is taken."""


def optical_depth(haze: Haze, origin: np.ndarray, directions: np.ndarray,
                  distances: np.ndarray) -> np.ndarray:
    """Return the haze that lies along lines of sight: the integral of its density.

    Parameters
    ----------
    haze : Haze
        The air.
    origin : float array, shape (3,)
        [m]
    directions : float array, shape (n, 3)
        Unit vectors.
    distances : float array, shape (n,)
        How far each reaches. [m]

    Returns
    -------
    float array, shape (n,)
        [1]
    """
    share = (np.arange(STEPS) + 0.5) / STEPS
    along = distances[:, None] * share
    points = origin + directions[:, None, :] * along[..., None]
    inside = np.all((points > haze.low) & (points < haze.high), axis=-1)
    density = haze.density * np.exp(-haze.thinning * (points[..., 2] - haze.floor))
    return np.where(inside, density, 0.0).mean(axis=1) * distances


def veil_of(job: StageJob, camera: Camera, signal_per_luminance: float) -> float | None:
    """Return what the air adds to the picture, over mid grey: with haze less what comes through it.

    Two small pictures, one without the haze; the middle of their pixels. None in clear air. [1]
    """
    haze = job.stage.haze
    if haze is None:
        return None
    size = (AIR_SIZE, max(LEAST_SIDE, round(AIR_SIZE / camera.aspect)))
    order = replace(job.order, width=size[0], height=size[1], exact=True,
                    sampling=Sampling(AIR_SAMPLES, 1, job.order.sampling.seed))
    levels = []
    for stage in (job.stage, replace(job.stage, haze=None)):
        small = StageJob(stage, order)
        frames = small.cached(camera) or small.render(camera, lambda *_: None)
        small.close()
        levels.append(mix_xyz(frames, stage.lamps)[1].ravel())
    hazy, clear = levels
    rows, columns = frames.shape
    axes = np.asarray(camera.world_from_camera, float)
    rays = pinhole_rays(rows, columns, axes, camera.tan_half)[0].reshape(-1, 3)
    depth = np.asarray(frames.depth).ravel()
    reach = np.where(np.isfinite(depth), depth, OPEN_AIR) / (rays @ axes[:, 2])
    through = np.exp(-optical_depth(haze, camera.position, rays, reach))
    return max(float(np.median(hazy - through * clear)) * signal_per_luminance / MID_GREY, 0.0)
