"""Lines through a pinhole and a rectangle against plain geometry."""

import numpy as np
import pytest

from previz.physics.rays import pinhole_directions, rectangle_reach


def test_the_edges_of_a_pinholes_frame_lie_at_half_the_angle_of_view():
    """The middle is the lens axis; an edge is atan(tan_half) off it, however the camera turns."""
    turn = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])
    seen = pinhole_directions(np.array([-1.0, 0, 1]), np.array([1.0, 0, -1]), turn, (0.6, 0.4))
    assert seen.shape == (3, 3, 3)
    assert seen[1, 1] == pytest.approx(turn[:, 2])
    right, up, ahead = turn.T
    assert np.degrees(np.arctan2(seen[1, 2] @ right, seen[1, 2] @ ahead)) == pytest.approx(
        np.degrees(np.arctan(0.6)))
    assert np.degrees(np.arctan2(seen[0, 1] @ up, seen[0, 1] @ ahead)) == pytest.approx(
        np.degrees(np.arctan(0.4)))
    assert np.linalg.norm(seen, axis=-1) == pytest.approx(np.ones((3, 3)))


def test_points_of_a_slanted_rectangle_are_met_at_their_distance():
    """Lines aimed at points in and out of it: the distance is that of the point, from either side."""
    random = np.random.default_rng(1)
    centre, u = np.array([1.0, 2, 3]), np.array([0.4, 0.3, 0])
    v = np.array([0.0, 0, 0.5])
    places = random.uniform(-1.5, 1.5, (500, 2))
    points = centre + places[:, :1] * u + places[:, 1:] * v
    origins = np.array([[0.0, 0, 0], [3.0, 4, 3.2]])[random.integers(0, 2, 500)]
    gaps = points - origins
    far = np.linalg.norm(gaps, axis=1)
    reach, inside = rectangle_reach(origins, gaps / far[:, None], centre, u, v)
    assert reach == pytest.approx(far)
    edge = np.abs(np.abs(places) - 1).min(axis=1) < 1e-9
    assert np.array_equal(inside[~edge], (np.abs(places) < 1).all(axis=1)[~edge])


def test_what_lies_behind_or_runs_along_a_rectangle_is_not_met():
    """A line away from it, and one parallel to it."""
    half = np.array([1.0, 0, 0]), np.array([0.0, 1, 0])
    reach, inside = rectangle_reach(np.zeros(3), np.array([[0.0, 0, -1], [1.0, 0, 0]]),
                                    np.array([0.0, 0, 2]), *half)
    assert reach[0] == pytest.approx(-2) and not np.isfinite(reach[1])
    assert not inside.any()
