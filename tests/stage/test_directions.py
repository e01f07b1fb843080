"""Which way things look: bearings, cameras, frames and meters whose sides differ."""

import numpy as np
import pytest

from previz.stage import outdoors, views
from previz.stage.records import Patch


@pytest.mark.parametrize(("azimuth", "north", "east", "northwards"), [
    (0, 0, 0, 1), (90, 0, 1, 0), (200, 0, -0.342020, -0.939693), (350, 20, 0.173648, 0.984808),
    (10, -20, -0.173648, 0.984808), (359, 359, -0.034899, 0.999391), (45, 315, 0, 1)])
def test_bearings_across_north(azimuth, north, east, northwards):
    """Clockwise from true north, which is itself turned clockwise from +y; sines and cosines of the sum."""
    towards = outdoors.sky_direction(azimuth, 30, north)
    np.testing.assert_allclose(towards, [east * 0.866025, northwards * 0.866025, 0.5], atol=1e-5)
    turn = np.degrees(np.arctan2(towards[1], towards[0]))
    assert (outdoors.compass(azimuth, north) - turn) % 360 == pytest.approx(0, abs=1e-9) or \
        (outdoors.compass(azimuth, north) - turn) % 360 == pytest.approx(360)


def test_a_camera_that_leans_clockwise():
    """Roll is clockwise as the operator sees it: the right side of the camera goes down."""
    right, up, forward = views.camera_axes((1, 2, 1.5), (1, 7, 1.5), 10.0).T
    np.testing.assert_allclose(forward, [0, 1, 0], atol=1e-12)
    turn = np.radians(10)
    np.testing.assert_allclose(right, [np.cos(turn), 0, -np.sin(turn)], atol=1e-12)
    np.testing.assert_allclose(up, [np.sin(turn), 0, np.cos(turn)], atol=1e-12)


@pytest.mark.parametrize(("aspect", "squeeze", "width", "height"), [
    (16 / 9, 1.0, 24.0, 13.5), (1.0, 1.0, 18.0, 18.0), (2.39, 2.0, 43.02, 18.0), (4.0, 2.0, 48.0, 12.0)])
def test_the_frame_is_the_largest_that_fits(aspect, squeeze, width, height):
    """On 24 x 18 mm behind 50 mm; a squeeze widens the sensor before the frame is cut."""
    across, up = views.frame_tangents((0.024, 0.018), 0.05, aspect, squeeze)
    assert (across, up) == pytest.approx((width / 100, height / 100))


def test_where_a_patch_lies(stage_of):
    """Across from the left and down from the top, each with its own extent; a round one in both."""
    stage = stage_of("cameras: [{name: A, at: [0 m, 0 m, 1 m], aim: [0 m, 3 m, 1 m], lens: 35 mm, "
                     "stop: T2.8, iso: 800, aspect: '16:9'}]\n")
    camera, = stage.cameras
    same, where = views.patch_view(camera, Patch("p", "A", (0.2, 0.7), (0.1, 0.3), 1.0))
    assert same is camera and where == pytest.approx((0.2, 0.7, 0.05, 0.15, False))
    _, where = views.patch_view(camera, Patch("p", "A", (0.2, 0.7), None, 2.0))
    half = np.tan(np.radians(1.0))
    across, up = camera.tan_half
    assert where == pytest.approx((0.2, 0.7, half / 2 / across, half / 2 / up, True))
    assert where[3] / where[2] == pytest.approx(16 / 9)


def test_cheeks_look_to_their_own_sides(stage_of):
    """Of a figure that faces east, the left cheek looks north-east and the right one south-east."""
    stage = stage_of("figures: [{name: porter, at: [2 m, 1 m], facing: [9 m, 1 m, 1.6 m]}]\n")
    probes = {probe.name: probe for probe in stage.probes}
    left, right = (probes[f"porter: {side} cheek"] for side in ("left", "right"))
    for probe, side in ((left, 1), (right, -1)):
        # The head may nod; its turn is what counts.
        assert np.degrees(np.arctan2(probe.normal[1], probe.normal[0])) == pytest.approx(side * 45, abs=2)
        assert side * (probe.position[1] - 1) > 0.02
    chin, forehead = (probes[f"porter: {part}"] for part in ("under chin", "forehead"))
    assert chin.normal[2] < -0.5 < 0.2 < forehead.normal[2]
    assert chin.position[2] < left.position[2] < forehead.position[2]
    dome = probes["porter: left cheek, dome"]
    assert (dome.position - left.position) @ left.normal == pytest.approx(
        views.DOME_OFF_SKIN - views.FLAT_OFF_SKIN)
    head, = stage.heads
    np.testing.assert_allclose(head.left @ [0, 1, 0], 1, atol=1e-3)
    assert head.centre[0] < head.face[0]
