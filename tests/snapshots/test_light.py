"""Snapshots: the light that a stage of everything has, with the same seed of random numbers, lamp by lamp."""

import numpy as np
import pytest
import snapshot

from previz.engine import backend
from previz.engine.render import CameraJob, Limits, Sampling, luminance_weights, open_stage

pytestmark = pytest.mark.engine

WIDTH, HEIGHT, BLOCK, BANDS = 24, 16, 4, 3


def blocks(plane):
    """Means over squares of pixels, of a plane (row, column). Shape (blocks,)"""
    rows, columns = (size // BLOCK for size in plane.shape)
    return plane.reshape(rows, BLOCK, columns, BLOCK).mean(axis=(1, 3)).ravel()


def hold_light(part, now):
    """Hold numbers by lamp against those kept.

    Other processors round otherwise: a path in a thousand goes another way from there on. So of each lamp one
    number in three may be off by more than 2 %, and one in ten of all.
    """
    now = {name: [float(f"{value:.4g}") for value in values] for name, values in now.items()}
    if snapshot.KEEP:
        snapshot.keep("light", part, now)
        return
    before = snapshot.kept("light")[part]
    assert before.keys() == now.keys()
    off = {name: ~np.isclose(now[name], before[name], rtol=0.02, atol=1e-12) for name in before}
    changed = [name for name, each in off.items() if each.mean() > 1 / 3]
    assert not changed and np.concatenate(list(off.values())).mean() <= 0.1, (
        f"{part}: the light of {', '.join(changed) or 'many lamps'} changed; see tests/snapshot.py")


def test_snapshot_picture(built):
    """Every lamp's part of a picture, and what the picture shows."""
    backend.start()
    stage = built("everything")
    job = CameraJob(open_stage(stage, BANDS), stage, stage.cameras[0], WIDTH, HEIGHT,
                    Sampling(8, 2, 1, Limits()))
    while not job.finished:
        job.step()
    light = luminance_weights(BANDS)
    now = {}
    for number, lamp in enumerate(stage.lamps):
        gathered = job.gathered(number)
        now[lamp.name] = [*blocks(np.einsum("brc,b->rc", gathered.slices, light))]
    hold_light("picture", now)
    planes = job.planes()
    flat = {name: np.atleast_3d(plane.T).T.astype(float).sum(axis=0) for name, plane in planes.items()
            if isinstance(plane, np.ndarray)}
    hold_light("planes", {name: blocks(np.nan_to_num(plane, posinf=99.0)) for name, plane in flat.items()})
