"""What passes of a render have gathered of one lamp, and how sure it is.

Each pass gives a picture of its own, of weight w: the paths a pixel that were planned for it,
whatever they may have become at single pixels. Kept are the weighted mean of the passes and

    scatter = sum of w · (pass - mean)²      of the luminance
    inverse = sum of w / n,  spread = sum of w² / n      with n the paths that a pixel really got

As a pass of n paths has the variance v / n, the scatter is on average v · (inverse - spread / W),
with W the sum of the weights, and the variance of the mean is v · spread / W². With n = w that is
the usual variance of a mean from its parts. Weights are fixed before a pass and its paths are
chosen by earlier passes alone; so the mean is unbiased wherever the paths were sent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


def variance(scatter: np.ndarray, weight: float, passes: int, inverse: float | np.ndarray,
             spread: float | np.ndarray) -> np.ndarray:
    """Return the variance of the mean luminance.

    Parameters
    ----------
    scatter : float32 array, shape (...)
        See the module.
    weight : float
        Sum of the weights.
    passes : int
    inverse, spread : float or array that goes with `scatter`
        See the module.

    Returns
    -------
    float32 array, shape (...)
        inf from a single pass, which says nothing of its spread.
    """
    if passes < 2:
        return np.full_like(scatter, np.inf)
    # Passes with few paths at a pixel say little of its spread; the difference stays above 0.
    known = np.maximum(inverse - spread / weight, 1e-6)
    return (scatter * np.asarray(spread / (known * weight**2), np.float32)).astype(np.float32)


@dataclass(frozen=True, eq=False)
class Gathered:
    """What passes have gathered of one lamp.

    Parameters
    ----------
    slices : float32 array, shape (band, row, column)
        Mean of the passes. [as `Frames.slices`]
    scatter : float32 array, shape (row, column)
        See the module.
    weight : float
        Sum of the weights of the passes. [paths a pixel]
    passes : int
        How many there are.
    next_pass : int
        Number that the next pass draws its random numbers by; none is used twice.
    inverse, spread : float, or float32 array of shape (row, column)
        See the module; one number where all pixels had the same paths.
    """

    slices: np.ndarray
    scatter: np.ndarray
    weight: float
    passes: int
    next_pass: int
    inverse: float | np.ndarray
    spread: float | np.ndarray

    @property
    def variance(self) -> np.ndarray:
        """Variance of the mean luminance, as `Frames.variance`. Shape (row, column)"""
        return variance(self.scatter, self.weight, self.passes, self.inverse, self.spread)

    @property
    def even(self) -> bool:
        """True where all pixels had the same paths."""
        return np.ndim(self.inverse) == 0

    def same_passes(self, other: Gathered) -> bool:
        """Return True where both come from the very same passes."""
        mine, theirs = ((p.weight, p.passes, p.next_pass, p.even) for p in (self, other))
        if mine != theirs or self.slices.shape != other.slices.shape:
            return False
        return self.even or bool(np.array_equal(self.inverse, other.inverse)
                                 and np.array_equal(self.spread, other.spread))
