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
    start, along = lines[None, :, :2], lines[None, :, 2:] - lines[None, :, :2]
    with np.errstate(divide="ignore", invalid="ignore"):
        one = (boxes[:, None, :2] - start) / along
        two = (boxes[:, None, 2:] - start) / along
    still = np.abs(along) < 1e-12
    inside = (start >= boxes[:, None, :2]) & (start <= boxes[:, None, 2:])
    enters = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, two)).max(axis=2)
    leaves = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(one, two)).min(axis=2)
    return np.stack([np.clip(enters, 0.0, 1.0), np.clip(leaves, 0.0, 1.0)], axis=2)
