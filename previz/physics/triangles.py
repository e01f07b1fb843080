"""Triangles, as plain numbers: normals, areas, and points drawn on them."""

from __future__ import annotations

import numpy as np


def doubled_normals(corners: np.ndarray) -> np.ndarray:
    """Return normals of triangles as long as twice their areas, shape (n, 3), of corners (n, 3, 3). [m²]"""
    return np.asarray(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]))


def areas(corners: np.ndarray) -> np.ndarray:
    """Return the areas of triangles, shape (n,), of corners (n, 3, 3). [m²]"""
    return np.asarray(0.5 * np.linalg.norm(doubled_normals(corners), axis=1))


def drawn_points(corners: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Return a point drawn evenly on each triangle, shape (n, 3), of corners (n, 3, 3). [m]

    Source
    ------
    Turk, "Generating random points in triangles", Graphics Gems, 1990 (from memory).
    """
    count = len(corners)
    root, other = np.sqrt(random.random(count))[:, None], random.random(count)[:, None]
    a, b, c = (corners[:, k] for k in range(3))
    return np.asarray(a * (1 - root) + b * root * (1 - other) + c * root * other)
