"""Pictures that a GPU is to make while somebody waits, on the scene of the bench."""

from __future__ import annotations

import time

import numpy as np

from previz.checks.benches.setting import Setting

ONE_PATH, WHOLE, PATHS, PASSES = (1280, 720), (1920, 1080), 256, 8
"""Sizes of the pictures [px], and the paths a pixel of the second and its passes."""


def device(setting: Setting) -> tuple[dict, dict]:
    """Return 'one_path_720p_s', one path a pixel mixed to a picture, and 'picture_1080p_s', all paths of a
    fine picture with its planes and each lamp's light on the host. [s]

    The first is the median of several with other random numbers, the second one run; kernels are compiled
    before, and paths are as long as those of any render.
    """
    from previz.engine.render import CameraJob, Sampling, open_stage
    from previz.physics.light import lamp_band_xyz

    stage = setting.stage()
    camera, buffers = stage.cameras[0], open_stage(stage, setting.bands)
    weights = np.array([lamp_band_xyz(lamp, setting.bands) for lamp in stage.lamps], np.float32)
    small, large, paths = (((160, 90), (160, 90), 8) if setting.quick else (ONE_PATH, WHOLE, PATHS))

    def one_path(seed: int) -> float:
        began = time.perf_counter()
        job = CameraJob(buffers, stage, camera, *small, Sampling(1, 1, seed))
        job.step()
        job.sums.mixed(weights)
        return time.perf_counter() - began

    def whole(size: tuple[int, int], samples: int) -> tuple[float, float]:
        began = time.perf_counter()
        job = CameraJob(buffers, stage, camera, *size, Sampling(samples, PASSES))
        while not job.finished:
            job.step()
        traced = time.perf_counter() - began
        job.frames()
        return traced, time.perf_counter() - began

    one_path(0)
    whole((160, 90), PASSES)
    once = [one_path(seed + 1) for seed in range(9)]
    traced, finished = whole(large, paths)
    return ({"one_path_720p_s": float(np.median(once)), "picture_1080p_s": finished},
            {"one_path_size": list(small), "picture_size": list(large), "picture_paths": paths,
             "picture_traced_s": traced, "picture_lamps": len(stage.lamps)})
