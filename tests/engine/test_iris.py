"""The iris: discs out of focus have its corners, and as much light as through a round opening."""

from dataclasses import replace

import numpy as np
import pytest

from previz.physics.taking import Iris
from previz.stage.fingerprint import seen_by

pytestmark = pytest.mark.engine


@pytest.mark.parametrize("blades", [3, 6, 9])
def test_places_are_even_over_a_polygon_of_the_round_ones_area(engine, tiny, blades):
    """All lie within it; its radius follows from the area, and the moment is R² (2 + cos 2pi/n) / 6."""
    mi, dr = engine
    from previz.engine.starts import CameraStart

    camera = replace(tiny.camera((0, 0, 0), (0, 1, 0), lens_radius=0.01), iris=Iris(blades, 20.0))
    start = CameraStart(camera, 16, 9)
    rng = mi.PCG32(size=200_000)
    x, y = np.array(start._on_blades(mi.Point2f(rng.next_float32(), rng.next_float32())), float)
    wedge = 2 * np.pi / blades
    # Area n/2 R² sin(2 pi / n) = pi.
    radius = np.sqrt(2 * np.pi / (blades * np.sin(wedge)))
    assert np.hypot(x, y).max() == pytest.approx(radius, rel=0.01)
    # Angles from the corner that is 20° clockwise from straight up.
    angle = (np.arctan2(x, y) - np.radians(20)) % wedge - wedge / 2
    assert np.all(np.hypot(x, y) * np.cos(angle) <= radius * np.cos(wedge / 2) * (1 + 1e-5))
    moment = radius**2 * (2 + np.cos(wedge)) / 6
    assert np.mean(x**2 + y**2) == pytest.approx(moment, rel=0.01)
    for axis in (x, y):
        assert np.mean(axis) == pytest.approx(0, abs=0.01)
        assert np.mean(axis**2) == pytest.approx(moment / 2, rel=0.015)


def test_a_lamp_out_of_focus_is_a_hexagon_of_as_much_light(tiny):
    """A lamp at 4 m with the focus at 1 m spreads over the pupil's shape; the area is the round one's."""
    stage = tiny.stage(emitters=[tiny.ball_lamp(0.01, (0, 4, 0), subdivisions=1)])
    camera = tiny.camera((0, 0, 0), (0, 1, 0), tan_half=(0.08, 0.08), lens_radius=0.04, focus=1.0)
    round_, six = (tiny.luminance(tiny.picture(stage, each, 64, 64, 256, passes=2))[0]
                   for each in (camera, replace(camera, iris=Iris(6))))
    assert six.sum() == pytest.approx(round_.sum(), rel=0.02)
    lit = [each > 0.3 * each.max() for each in (round_, six)]
    assert lit[1].sum() == pytest.approx(lit[0].sum(), rel=0.05)
    # A corner straight up reaches farther than the round edge, and a side's middle less far.
    up, across = (np.ptp(np.flatnonzero(lit[1].any(axis=axis))) for axis in (1, 0))
    corner = np.sqrt(2 * np.pi / (6 * np.sin(np.pi / 3)))
    assert up / np.ptp(np.flatnonzero(lit[0].any(axis=1))) == pytest.approx(corner, rel=0.06)
    assert across / up == pytest.approx(np.cos(np.pi / 6), rel=0.06)


def test_frames_depend_on_it_where_there_is_a_pupil(tiny):
    camera = tiny.camera((0, 0, 0), (0, 1, 0), lens_radius=0.04)
    assert seen_by(replace(camera, iris=Iris(6))) != seen_by(camera)
    bare = replace(camera, lens_radius=0.0)
    assert str(seen_by(replace(bare, iris=Iris(6)))) == str(seen_by(bare))
