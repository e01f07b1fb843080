"""Single and many scatterings against a general-purpose renderer's own: shafts, low lamps, bounded haze.

A third scene, a beam in haze that fills everything, is in `test_against_plain_path`.
"""

import dataclasses

import numpy as np
import pytest

from previz.physics.light import lamp_band_xyz
from previz.stage.records import Haze

pytestmark = pytest.mark.engine

WIDTH, HEIGHT, RUNS = 24, 16, 8
LOW, HIGH = np.full(3, -0.1), np.array([3.1, 2.5, 2.1])


def ours(tiny, stage, camera, samples):
    """Luminance of the mix, one picture a run: (runs, row, column)."""
    buffers = tiny.open_stage(stage, 1)
    weights = np.array([lamp_band_xyz(lamp, 1)[0, 1] for lamp in stage.lamps])
    return np.stack([np.einsum("lrc,l->rc", np.asarray(tiny.picture(
        stage, camera, WIDTH, HEIGHT, samples, passes=1, seed=1 + 100 * k, buffers=buffers,
        max_depth=1000).slices[:, 0], float), weights) for k in range(RUNS)])


def hold(tiny, folder, stage, camera, samples, plain_samples):
    """Hold our mix against the library's, tile by tile and as a whole, within the noise.

    What counts is the sum of both variances; a path of ours takes less time than one of theirs.
    """
    mine = ours(tiny, stage, camera, samples)
    theirs = tiny.plain_passes(stage, camera, WIDTH, HEIGHT, samples=plain_samples, passes=RUNS, seed=77,
                          max_depth=-1)[:, 1]
    (a, a_var), (b, b_var) = ((x.mean(0), x.var(0, ddof=1) / RUNS) for x in (mine, theirs))
    tiny.z_test(folder, a, a_var, b, b_var)
    tiny.agree(a.mean(), np.sqrt(a_var.sum() + b_var.sum()) / a.size, b.mean(), 0.02)


def haze(density, g, albedo=0.95):
    """Haze in a box that ends inside the room's walls."""
    return Haze(density, np.full(81, albedo), g, 0.0, 0.0, LOW, HIGH)


def view(tiny):
    return tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.4))


def test_low_lamps(tiny, tmp_path):
    """Two balls of light low in a room of bounded, forward-scattering haze."""
    stage = tiny.stage(
        tiny.closed_box((0, 0, 0), (3, 2.4, 2)), haze=haze(0.25, 0.6),
        emitters=[tiny.ball_lamp(0.12, (0.8, 1.6, 0.6), index=0),
                  tiny.ball_lamp(0.15, (1.9, 1.5, 0.5), index=1)],
        lamps=[tiny.lamp("one", output=200), tiny.lamp("two", output=300)])
    hold(tiny, tmp_path, stage, view(tiny), 96, 80)


def test_sun_through_a_roof(tiny, tmp_path):
    """The sun through an open roof, half covered: a shaft with an edge in bounded haze."""
    box = tiny.closed_box((0, 0, 0), (3, 2.4, 2))
    # The two faces that lie in the plane of the roof are taken out; a flat cover stands for one half.
    corners = np.asarray(box.vertices)[np.asarray(box.faces)]
    box = dataclasses.replace(box, faces=np.asarray(box.faces)[corners[:, :, 2].min(axis=1) < 1.9])
    stage = tiny.stage(box, tiny.patch(1.6, 2.6, (0.8, 1.2, 2.05), (0, 0, -1)), haze=haze(0.2, 0.75),
                       sun=tiny.sun((0.3, 0.5, 0.9), angle_deg=4.0),
                       lamps=[tiny.lamp("sun", unit="lx", output=1000)])
    hold(tiny, tmp_path, stage, view(tiny), 96, 80)
