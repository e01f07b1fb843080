"""A picture in regions: pixels of one thing in one cell of a grid, so that noise matters little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.levels.picture_model import CLIPPED, CRUSHED, LEFT_OUT, PLAIN
from previz.physics.arrays import FloatArray

GRID = (18, 32)
"""Cells of the picture, rows and columns."""

BLOCKS = (4, 6)
"""Parts of the picture whose faults are taken to be of one piece, rows and columns."""

LEAST_PIXELS = 6
"""Of a region; a smaller one says nothing. [1]"""

HIGHEST_CODE, LOWEST_CODE = 0.984, 0.016
"""What is beyond is clipped or crushed: 251 and 4 of 255. [1]  Common practice, no source."""

MOST_BEYOND = 0.02
"""Part of a region's pixels that may be clipped before its mean is not one. [1]"""


@dataclass(frozen=True, eq=False)
class Cells:
    """Which pixel belongs to which region.

    Parameters
    ----------
    number : int array, shape (row, column)
        -1 for none.
    count : int
        Regions.
    block : int array, shape (region,)
        Part of the picture that it lies in.
    pixels : float array, shape (region,)
    """

    number: NDArray[np.int64]
    count: int
    block: NDArray[np.int64]
    pixels: FloatArray

    def sum(self, plane: NDArray[np.generic]) -> FloatArray:
        """Return the sum over each region of a plane of shape (row, column). Shape (region,)"""
        inside = self.number >= 0
        weights = np.asarray(plane, float)[inside]
        return np.asarray(np.bincount(self.number[inside], weights, self.count), float)

    def mean(self, plane: NDArray[np.generic]) -> FloatArray:
        """Return the mean over each region of a plane of shape (row, column). Shape (region,)"""
        return self.sum(plane) / self.pixels

    def spread(self, values: FloatArray, empty: float = np.nan) -> FloatArray:
        """Return a number of each region at all of its pixels. Shape (row, column)"""
        return np.where(self.number >= 0, np.append(np.asarray(values, float), empty)[self.number], empty)


def cells_of(things: NDArray[np.int64], seen: NDArray[np.bool_]) -> Cells:
    """Return the regions of a picture: what one cell of the grid shows of one thing.

    Parameters
    ----------
    things : int array, shape (row, column)
        What each pixel sees.
    seen : bool array, shape (row, column)
        Pixels that the other picture has too.
    """
    rows, columns = things.shape
    row, column = np.indices(things.shape)
    own = things - things.min(initial=0)
    cell = (row * GRID[0] // rows) * GRID[1] + column * GRID[1] // columns
    key = np.where(seen, cell * (int(own.max(initial=0)) + 1) + own, -1)
    _, number, counts = np.unique(key, return_inverse=True, return_counts=True)
    number = number.reshape(things.shape)
    kept = (counts >= LEAST_PIXELS)
    kept[number[~seen]] = False
    order = np.cumsum(kept) - 1
    number = np.where(kept[number], order[number], -1)
    count = int(kept.sum())
    pixels = np.bincount(number[number >= 0], minlength=count).astype(float)
    block = (row * BLOCKS[0] // rows) * BLOCKS[1] + column * BLOCKS[1] // columns
    first = np.zeros(count, np.int64)
    first[number[number >= 0]] = block[number >= 0]
    return Cells(number, count, first, pixels)


def pooled(cells: Cells, linear: FloatArray, code: FloatArray, step: FloatArray, *, bend: float = 1.0,
           joint: bool = False) -> tuple[FloatArray, NDArray[np.int64], FloatArray]:
    """Return a picture by regions: mean light, what is known of it, and its error.

    Parameters
    ----------
    cells : Cells
    linear : float array, shape (row, column, 3)
        Light before the curve is undone. [1]
    code : float array, shape (row, column, 3)
        As displayed, 0 to 1. [1]
    step : float array, shape (row, column, 3)
        Light that a step of the code makes. [1]
    bend : float
        How much of a curve may be left in the light, as a logarithm of its slope. [1]
    joint : bool
        Whether a channel's light follows from all three codes, so that it is lost with any of them.

    Returns
    -------
    value, state, error : arrays, shape (region, 3)
        As in `picture_model.Regions`.
    """
    value = np.empty((cells.count, 3))
    state = np.full((cells.count, 3), PLAIN, dtype=np.int64)
    error = np.empty((cells.count, 3))
    for channel in range(3):
        plane, shown = linear[..., channel], code[..., channel]
        mean = cells.mean(plane)
        over, under = cells.mean(shown > HIGHEST_CODE), cells.mean(shown < LOWEST_CODE)
        safe = np.log2(np.maximum(plane, 1e-5))
        spread = np.sqrt(np.maximum(cells.mean(safe**2) - cells.mean(safe) ** 2, 0))
        # A curve of a mean is not the mean of the curve; how far by structure, a third of half its square.
        rough = np.log(2) / 6 * spread**2 * bend
        steps = cells.mean(step[..., channel]) / np.sqrt(12.0 * cells.pixels)
        value[:, channel] = mean
        error[:, channel] = np.hypot(rough, steps / np.maximum(mean, 1e-6) / np.log(2))
        both = (over > MOST_BEYOND) & (under > MOST_BEYOND)
        state[over > MOST_BEYOND, channel] = CLIPPED
        state[under > MOST_BEYOND, channel] = CRUSHED
        state[both | ~np.isfinite(mean), channel] = LEFT_OUT
    if joint:
        state[(state != PLAIN).any(axis=1)] = LEFT_OUT
    return value, state, error
