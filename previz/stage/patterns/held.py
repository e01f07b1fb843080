"""A drawn tile held to its surface: the mean over the tile sends back exactly what the surface does.

Tiles are read bilinearly, share and factor each for itself, so their product's mean counts each texel with
its neighbours. All that is summed lies on a coarse grid, so that the sums have no rounding and a tile is
the same on every machine.
"""

from __future__ import annotations

import numpy as np

GRID = 4096.0
"""Steps of one that shares and factors lie on. [1]"""

FINE = 2.0**24
"""Steps of one that the correction lies on. [1]"""

STEEPEST = 2.0
"""Greatest slope; a relief is a shading of a plane, and hides nothing. [1]"""

SLOPE_GRID = 2048.0
"""Steps of one that slopes lie on. [1]"""


def gridded(values, shape, steps: float = GRID) -> np.ndarray:
    """Return values on the grid, shape as given."""
    return np.broadcast_to(np.rint(np.asarray(values, float) * steps) / steps, shape)


def mean_of_product(one: np.ndarray, two: np.ndarray) -> float:
    """Return the mean of the product of two tiles that are read bilinearly and repeat. [1]

    Between two texels the product of two straight lines has the mean (2 a c + a d + b c + 2 b d) / 6.
    """
    along = 4 * two + np.roll(two, 1, 1) + np.roll(two, -1, 1)
    both = 4 * along + np.roll(along, 1, 0) + np.roll(along, -1, 0)
    return float(np.sum(one * both)) / (36 * one.size)


def _least_around(values: np.ndarray) -> np.ndarray:
    """Return the least of each texel and its neighbours."""
    for axis in (0, 1):
        values = np.minimum(values, np.minimum(np.roll(values, 1, axis), np.roll(values, -1, axis)))
    return values


def _corrected(share, tone, ratio: float) -> np.ndarray:
    """Return the tone by a factor that makes the mean of (1 - share + share * ratio) * tone one."""
    plain = float(np.sum(tone)) / tone.size
    mean = plain + (ratio - 1) * mean_of_product(share, tone) if np.any(share) else plain
    return tone * (np.rint(FINE / mean) / FINE)


def held(share: np.ndarray, tone: np.ndarray, ratio: float, peaks: tuple[float, float]):
    """Return (share, tone) with which a tile sends back what its surface does, nowhere more than it may.

    Parameters
    ----------
    share, tone : float array, shape (rows, columns)
        On the grid; see `gridded`. [1]
    ratio : float
        Luminance of what else shows over that of the surface. [1]
    peaks : (float, float)
        Greatest of the surface's reflectance over what it may be at most, and of what else shows. [1]

    Notes
    -----
    Where the brightest places would send back more than they may, they are held, and the rest is raised.
    Where even that is not enough (white with a dark pattern) the pattern shows less.
    """
    for faded in (1.0, 0.75, 0.5, 0.25, 0.0):
        part = gridded(share * faded, share.shape)
        # Both of a product lie between the values at a place's corners: each is held to its neighbours'.
        most = _least_around(1 / np.maximum((1 - part) * peaks[0] + part * peaks[1], 1e-6))
        most = np.floor(most * GRID) / GRID
        made = _corrected(part, tone, ratio)
        if np.all(made <= most):
            return part, made
        if _mean(part, most, ratio) > 1:
            return part, _raised(part, tone, most, ratio)
    return part, np.ones_like(tone)


def _mean(share, tone, ratio: float) -> float:
    return float(np.mean(tone)) + (ratio - 1) * mean_of_product(share, tone)


def _raised(share, tone, most, ratio: float) -> np.ndarray:
    """Return a tone cut to `most` whose mean is still right: it is mixed with `most` after it is cut."""
    cut = gridded(np.minimum(_corrected(share, tone, ratio), most), tone.shape)
    cut = np.minimum(cut, most)
    low, high = _mean(share, cut, ratio), _mean(share, most, ratio)
    mix = np.rint((1 - low) / (high - low) * FINE) / FINE
    return cut + mix * (most - cut)
