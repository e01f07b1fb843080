"""Straight lines, as plain numbers: through a pinhole's picture, and where they cross a rectangle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def pinhole_directions(x: np.ndarray, y: np.ndarray, axes: np.ndarray,
                       tan_half: Sequence[float]) -> np.ndarray:
    """Return the directions in which a pinhole camera sees places of its frame.

    Parameters
    ----------
    x : float array, shape (column,)
        From the middle of the frame, 1 at its right edge. [1]
    y : float array, shape (row,)
        From the middle of the frame, 1 at its upper edge. [1]
    axes : float array, shape (3, 3)
        Columns: right, up, forward.
    tan_half : (float, float)
        Tangent of half the angle of view, across and up. [1]

    Returns
    -------
    float array, shape (row, column, 3)
        Unit vectors.
    """
    plane = np.stack(np.broadcast_arrays(np.asarray(x)[None, :] * tan_half[0],
                                         np.asarray(y)[:, None] * tan_half[1], 1.0), axis=-1)
    unit = plane / np.linalg.norm(plane, axis=-1)[..., None]
    return np.asarray(unit @ np.asarray(axes, float).T)


def rectangle_reach(origins: np.ndarray, directions: np.ndarray, centre: np.ndarray,
                    half_u: np.ndarray, half_v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return how far along lines the plane of a rectangle is crossed, and whether within it.

    Parameters
    ----------
    origins, directions : float array, shape (n, 3) or (3,), and (n, 3)
        Where the lines begin [m], and unit vectors.
    centre, half_u, half_v : float array, shape (3,)
        Middle and half edges, square to each other. [m]

    Returns
    -------
    reach : float array, shape (n,)
        Below 0 behind the origin, not finite where a line never meets the plane. [m]
    inside : bool array, shape (n,)
        True where the rectangle is crossed ahead of the origin.
    """
    directions = np.asarray(directions, float)
    normal = np.cross(half_u, half_v)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = ((centre - np.asarray(origins, float)) @ normal) / (directions @ normal)
        offset = origins + directions * reach[:, None] - centre
        inside = reach > 0
        for half in (np.asarray(half_u, float), np.asarray(half_v, float)):
            inside &= np.abs(offset @ half) <= half @ half
    return reach, inside
