"""Triangles against Heron's formula, and points drawn on them against the centroid."""

import numpy as np

from previz.physics.triangles import areas, doubled_normals, drawn_points

CORNERS = np.random.default_rng(3).normal(size=(20, 3, 3))


def test_areas():
    """Heron of Alexandria: A² = s (s - a) (s - b) (s - c), with s half the round of the sides."""
    sides = np.linalg.norm(CORNERS - np.roll(CORNERS, 1, axis=1), axis=2)
    half = sides.sum(axis=1) / 2
    expected = np.sqrt(half * np.prod(half[:, None] - sides, axis=1))
    np.testing.assert_allclose(areas(CORNERS), expected, rtol=1e-9)


def test_normals():
    """They are square to both edges, and along z for a triangle that runs round it."""
    normals = doubled_normals(CORNERS)
    for k in (1, 2):
        np.testing.assert_allclose(
            np.einsum("ni,ni->n", normals, CORNERS[:, k] - CORNERS[:, 0]), 0, atol=1e-12)
    np.testing.assert_allclose(doubled_normals(np.array([[[0, 0, 0], [2, 0, 0], [0, 3, 0]]])), [[0, 0, 6]])


def test_drawn_points():
    """Their mean is the centroid, within 5 standard errors, and their spread that of a triangle.

    Over an even triangle the mean square of the distance from the centroid is the sum of the squared
    sides over 36 (polar moment of a triangle).
    """
    count = 20_000
    for corners in CORNERS[:5]:
        points = drawn_points(np.broadcast_to(corners, (count, 3, 3)), np.random.default_rng(1))
        off = points - corners.mean(axis=0)
        assert np.all(np.abs(off.mean(axis=0)) < 5 * off.std(axis=0) / np.sqrt(count) + 1e-12)
        squares = np.sum(off**2, axis=1)
        expected = np.sum((corners - np.roll(corners, 1, axis=0)) ** 2) / 36
        assert abs(squares.mean() - expected) < 5 * squares.std() / np.sqrt(count)
