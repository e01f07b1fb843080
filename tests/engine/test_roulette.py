"""Russian roulette ends few of the paths that matter, and none of the light."""

import numpy as np
import pytest

from previz.checks.benches.setting import window_room
from previz.engine.render import CameraJob, Limits, Sampling, open_stage
from previz.physics.light import lamp_band_xyz

RENDERS = 10


@pytest.fixture(scope="module")
def draw():
    """Return renders of a pale room under a window with some limits, shape (render, pixel)."""
    stage = window_room("clear")
    buffers = open_stage(stage, 4)
    weights = lamp_band_xyz(stage.lamps[0], 4)[:, 1]

    def pictures(limits):
        found = []
        for seed in range(RENDERS):
            job = CameraJob(buffers, stage, stage.cameras[0], 24, 14, Sampling(32, 1, seed, limits))
            job.step()
            found.append(job.sums.mean[:, 0] @ weights)
        return np.array(found)

    return pictures


def test_roulette_keeps_the_light_and_most_of_the_precision(draw):
    """In a pale room paths go far; ending them takes no light and adds little error."""
    usual, whole = draw(Limits()), draw(Limits(roulette_depth=64))
    mean = np.array([pictures.mean() for pictures in (usual, whole)])
    error = np.array([pictures.mean(axis=1).std(ddof=1) for pictures in (usual, whole)]) / RENDERS**0.5
    # Five standard errors of the difference, as ten renders each tell them to a quarter only.
    assert abs(mean[0] - mean[1]) < 5 * np.hypot(*error)
    # 1.3 times, from the same random numbers each run; a chance to go on of the throughput, whatever
    # its first point sends on, had 4.2 times.
    squared = [(p.var(axis=0, ddof=1) / (p.mean(axis=0) + 0.01 * p.mean()) ** 2).mean()
               for p in (usual, whole)]
    assert squared[0] < 2 * squared[1], squared
