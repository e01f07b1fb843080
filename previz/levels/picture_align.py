"""One picture laid over another: sizes, and where marked points of both fall together."""

from __future__ import annotations

import numpy as np

from previz.physics.arrays import FloatArray

BENT_FROM = 0.01
"""A likeness that misses marks by more than this is given up for a homography. [of the width]"""


def resized(pixels: np.ndarray, shape: tuple[int, int]) -> FloatArray:
    """Return a picture at another size, each pixel the mean of the area that it takes.

    Parameters
    ----------
    pixels : array, shape (row, column, 3)
    shape : (int, int)
        Rows and columns.
    """
    rows, columns = (_areas(old, new) for old, new in zip(pixels.shape[:2], shape, strict=True))
    half = np.tensordot(rows, np.asarray(pixels, float), 1)
    return np.moveaxis(np.tensordot(half, columns, (1, 1)), -1, 1)


def _areas(old: int, new: int) -> FloatArray:
    """Return how much of each new pixel each old one takes. Shape (new, old)"""
    edges = np.arange(new + 1) * (old / new)
    low, high = edges[:-1, None], edges[1:, None]
    own = np.arange(old)[None, :]
    return np.clip(np.minimum(high, own + 1) - np.maximum(low, own), 0, None) / (high - low)


def fitted(frame: FloatArray, picture: FloatArray, aspects: tuple[float, float]) -> tuple[FloatArray, float]:
    """Return what takes places of a frame to those of a picture, and how far it misses.

    A likeness (shift, turn, scale) by least squares; from four points on a homography where that misses.

    Parameters
    ----------
    frame, picture : float array, shape (point, 2)
        From the left and the top, as shares of width and height.
    aspects : (float, float)
        Width over height of the frame and of the picture.

    Returns
    -------
    float array, shape (3, 3)
        Homogeneous, in units of each one's own width.
    float
        Root mean square miss at the points. [of the picture's width]

    Raises
    ------
    ValueError
        There are fewer than two points, or they fall together.
    """
    one = np.asarray(frame, float) / [1, aspects[0]]
    two = np.asarray(picture, float) / [1, aspects[1]]
    if len(one) < 2 or min(np.ptp(one, axis=0).max(), np.ptp(two, axis=0).max()) < 0.02:
        raise ValueError("two points that lie apart are the least that lines up two pictures")
    z, w = one @ [1, 1j], two @ [1, 1j]
    turned = np.vdot(z - z.mean(), w - w.mean()) / np.vdot(z - z.mean(), z - z.mean())
    shift = w.mean() - turned * z.mean()
    alike = np.array([[turned.real, -turned.imag, shift.real], [turned.imag, turned.real, shift.imag],
                      [0, 0, 1]])
    miss = _miss(alike, one, two)
    if len(one) < 4 or miss <= BENT_FROM:
        return alike, miss
    bent = _homography(one, two)
    return bent, _miss(bent, one, two)


def _miss(matrix: FloatArray, one: FloatArray, two: FloatArray) -> float:
    return float(np.sqrt(np.mean(np.sum((moved(matrix, one) - two) ** 2, axis=1))))


def moved(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """Return where a homography takes points, shape (..., 2)."""
    made = np.asarray(points, float) @ matrix[:, :2].T + matrix[:, 2]
    return made[..., :2] / made[..., 2:]


def _homography(one: FloatArray, two: FloatArray) -> FloatArray:
    """Return the homography of least algebraic error (direct linear transformation)."""
    rows = []
    for (x, y), (u, v) in zip(one, two, strict=True):
        rows += [[-x, -y, -1, 0, 0, 0, u * x, u * y, u], [0, 0, 0, -x, -y, -1, v * x, v * y, v]]
    found = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    return found / found[2, 2]


def warped(pixels: FloatArray, shape: tuple[int, int], matrix: FloatArray) -> FloatArray:
    """Return a picture at the pixels of a frame, nan where it does not reach.

    Parameters
    ----------
    pixels : float array, shape (row, column, 3)
    shape : (int, int)
        Rows and columns of the frame.
    matrix : float array, shape (3, 3)
        From `fitted`.
    """
    high, wide = pixels.shape[:2]
    # A picture that is finer than the frame is brought to its scale first, so that no pixel is left out.
    middle = moved(matrix, np.array([[0.5, 0.25], [0.5 + 1 / shape[1], 0.25]]))
    step = float(np.hypot(*(middle[1] - middle[0]))) * wide
    if step > 1.5:
        pixels = resized(pixels, (max(2, round(high / step)), max(2, round(wide / step))))
        high, wide = pixels.shape[:2]
    row, column = np.indices(shape)
    places = np.stack([(column + 0.5) / shape[1], (row + 0.5) / shape[1]], axis=-1)
    found = moved(matrix, places) * wide - 0.5
    x, y = found[..., 0], found[..., 1]
    inside = (x >= -0.5) & (y >= -0.5) & (x <= wide - 0.5) & (y <= high - 0.5)
    left, top = (np.clip(np.floor(each), 0, n - 2).astype(int) for each, n in ((x, wide), (y, high)))
    across, down = (np.clip(each - first, 0, 1)[..., None] for each, first in ((x, left), (y, top)))
    upper = pixels[top, left] * (1 - across) + pixels[top, left + 1] * across
    lower = pixels[top + 1, left] * (1 - across) + pixels[top + 1, left + 1] * across
    return np.where(inside[..., None], upper * (1 - down) + lower * down, np.nan)
