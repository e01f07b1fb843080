"""Lines within boxes: how far they run there, and what is left of them."""

from __future__ import annotations

import numpy as np


def clipped(one: np.ndarray, two: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray | None:
    """Return the part of a line from one point to another within a box, shape (2, 2), or None.

    Source
    ------
    Liang and Barsky 1984, "A new concept and method for line clipping".
    """
    shares = _shares(np.array([[*one, *two]], float), np.array([[*low, *high]], float))[0, 0]
    if shares[0] >= shares[1]:
        return None
    along = np.subtract(two, one)
    return np.array([one + along * shares[0], one + along * shares[1]])


def lengths_within(lines: np.ndarray, boxes: np.ndarray) -> np.ndarray:
    """Return how much of each line lies in each box, shape (boxes, lines).

    Parameters
    ----------
    lines : float array, shape (lines, 4)
        x, y of both ends.
    boxes : float array, shape (boxes, 4)
        Low and high corner.
    """
    shares = _shares(lines, boxes)
    long = np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1])
    return np.asarray(np.maximum(shares[..., 1] - shares[..., 0], 0.0) * long)


def _shares(lines: np.ndarray, boxes: np.ndarray) -> np.ndarray:
    """Return where along each line (0 to 1) it enters and leaves each box. Shape (boxes, lines, 2)"""
    enters = np.zeros((len(boxes), len(lines)))
    leaves = np.ones((len(boxes), len(lines)))
    for axis in (0, 1):
        start, along = lines[:, axis], lines[:, 2 + axis] - lines[:, axis]
        still = np.abs(along) < 1e-12
        step = np.where(still, 1.0, along)
        one = (boxes[:, None, axis] - start) / step
        two = (boxes[:, None, 2 + axis] - start) / step
        low, high = np.minimum(one, two), np.maximum(one, two)
        if still.any():
            # One that does not move along this axis is between its sides all the way, or never.
            inside = (one <= 0) & (two >= 0)
            low = np.where(still, np.where(inside, 0.0, 2.0), low)
            high = np.where(still, np.where(inside, 1.0, -1.0), high)
        np.maximum(enters, low, out=enters)
        np.minimum(leaves, high, out=leaves)
    return np.stack([np.minimum(enters, 1.0), np.maximum(leaves, 0.0)], axis=2)
