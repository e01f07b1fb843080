"""Measure the engine against the plain library: ratios from one run, on one stage.

Both sides render the same picture with the same number of samples and the same limits on paths.
The plain side is Mitsuba's own RGB `path` on the stage as `plain_scene` translates it. Times are the
least of several, after a first run that compiles.
"""

from __future__ import annotations

import contextlib
import dataclasses
import os
import time
from collections.abc import Callable

import numpy as np

from previz.engine.render import CameraJob, Limits, Sampling, open_stage
from previz.physics.light import lamp_band_xyz
from previz.stage.records import Camera, Stage

LIMITS = Limits(max_depth=8, roulette_depth=5)
"""Limits on paths for both sides."""

REPEATS = 3


def least_seconds(work: Callable[[int], None], repeats: int = REPEATS) -> float:
    """Return the least time of several runs, after one that compiles. [s]"""
    work(0)
    times = []
    for k in range(repeats):
        began = time.perf_counter()
        work(k + 1)
        times.append(time.perf_counter() - began)
    return min(times)


class Ours:
    """Our one pass: all lamps and bands, at so many pixels."""

    def __init__(self, stage: Stage, camera: Camera, width: int, height: int, bands: int):
        self.stage, self.camera = stage, camera
        self.width, self.height = width, height
        self.buffers = open_stage(stage, bands)
        self.weights = np.stack([lamp_band_xyz(lamp, bands)[:, 1] for lamp in stage.lamps])

    def _job(self, samples: int, seed: int) -> CameraJob:
        sampling = Sampling(samples, 1, seed, LIMITS)
        return CameraJob(self.buffers, self.stage, self.camera, self.width, self.height, sampling)

    def seconds(self, samples: int) -> float:
        """Return the time of one pass with its transfer to the host. [s]"""
        return least_seconds(lambda k: self._job(samples, k).step())

    def luminance(self, samples: int, seed: int) -> np.ndarray:
        """Return one noisy picture of the lamps as they are set, shape (rows, columns). [cd/m²]"""
        job = self._job(samples, seed)
        job.step()
        return job.sums.mixed(np.repeat(self.weights[:, :, None], 3, axis=2))[:, :, 0]


class Plain:
    """Mitsuba's own RGB `path` on the same stage, without patterns, reliefs and shines that it has not."""

    def __init__(self, stage: Stage, camera: Camera, width: int, height: int):
        from previz.engine.plain_scene import plain_scene

        none = dict.fromkeys(("pattern", "relief", "across", "fuzz", "texture_size"))
        bare = {name: dataclasses.replace(each, **none) for name, each in stage.surfaces.items()}
        self.scene = plain_scene(dataclasses.replace(stage, surfaces=bare), camera, width, height,
                                 max_depth=LIMITS.max_depth, rr_depth=LIMITS.roulette_depth)

    def picture(self, samples: int, seed: int) -> np.ndarray:
        """Return one noisy picture, shape (rows, columns, 3)."""
        from previz.engine.jit import dr, mi

        image = mi.render(self.scene, spp=samples, seed=seed)
        dr.eval(image)
        dr.sync_thread()
        return np.array(image)[:, :, :3]

    def seconds(self, samples: int, repeats: int = REPEATS) -> float:
        """Return the least time of some renders. [s]"""
        return least_seconds(lambda k: self.picture(samples, k), repeats)

    def luminance(self, samples: int, seed: int) -> np.ndarray:
        """Return one noisy picture's luminance, in the scene's own unit."""
        return self.picture(samples, seed) @ [0.2126, 0.7152, 0.0722]


def relative_mse(draw: Callable[[int], np.ndarray], renders: int) -> float:
    """Return the relative mean squared error of one render, from the spread of several.

    The estimators are unbiased, so the variance over independent renders is the squared error.
    A hundredth of the mean is added to each pixel's mean, so that black pixels do not divide by
    nothing.
    """
    pictures = np.stack([draw(seed + 1) for seed in range(renders)]).astype(float)
    mean = pictures.mean(axis=0)
    spread = pictures.var(axis=0, ddof=1)
    return float(np.mean(spread / (mean + 0.01 * mean.mean()) ** 2))


def equal_time_gain(ours, plain, samples: int, renders: int = 8) -> dict[str, float]:
    """Return how much lower our relative MSE is at equal time.

    The error of both falls with one over the samples, so each side's error is brought to the same
    time by its own time for one picture.

    Returns
    -------
    dict
        'gain', and each side's 'relative_mse' and 'seconds' for one picture.
    """
    measured = {}
    for name, side in (("ours", ours), ("plain", plain)):
        measured[f"{name}_seconds"] = side.seconds(samples)
        measured[f"{name}_relative_mse"] = relative_mse(
            lambda seed, side=side: side.luminance(samples, seed), renders)
    measured["gain"] = (measured["plain_relative_mse"] * measured["plain_seconds"]
                    / (measured["ours_relative_mse"] * measured["ours_seconds"]))
    return measured


def with_one_lamp(stage: Stage, index: int) -> Stage:
    """Return the stage with one lamp and no other emitters, as a plain render of it would have."""
    lamp = stage.lamps[index]
    emitters = tuple(dataclasses.replace(e, lamp=0) for e in stage.emitters if e.lamp == index)
    sun = stage.sun if stage.sun is not None and stage.sun.lamp == index else None
    sky = stage.sky if stage.sky is not None and stage.sky.lamp == index else None
    return dataclasses.replace(
        stage, lamps=(lamp,), emitters=emitters,
        sun=None if sun is None else dataclasses.replace(sun, lamp=0),
        sky=None if sky is None else dataclasses.replace(sky, lamp=0))


def pass_ratios(stage: Stage, camera: Camera, width: int, height: int, bands: int,
                samples: int) -> dict[str, float]:
    """Return our one pass over plain renders: of all lamps at once, and one by one.

    Returns
    -------
    dict
        'pass_ratio', 'per_lamp_ratio', and the seconds that they are made of.
    """
    ours = Ours(stage, camera, width, height, bands).seconds(samples)
    plain = Plain(stage, camera, width, height).seconds(samples)
    single = sum(Plain(with_one_lamp(stage, k), camera, width, height).seconds(samples, 1)
                 for k in range(len(stage.lamps)))
    return {"pass_ratio": ours / plain, "per_lamp_ratio": ours / single,
            "ours_seconds": ours, "plain_seconds": plain, "plain_one_by_one_seconds": single}


def usable_cores() -> int:
    """Return how many cores this process may run on."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextlib.contextmanager
def with_threads(count: int):
    """Run the engine on so many threads; afterwards on as many as before."""
    from previz.engine.jit import dr

    before = dr.thread_count()
    dr.set_thread_count(count)
    try:
        yield
    finally:
        dr.set_thread_count(before)
