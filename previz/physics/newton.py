"""Newton's method for the small problems of colour: two or three numbers that hit a target."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray

_STEP = 1e-5
"""Step of the numerical derivative. [as the numbers]"""

_ROUNDS = 40
"""Newton steps allowed."""


def solve(residual: Callable[..., Any], start: ArrayLike, *,
          tolerance: float = 1e-10) -> FloatArray | None:
    """Find where a vector function is zero, by damped Newton steps.

    Parameters
    ----------
    residual : callable
        Maps a float array of shape (n,) to the n numbers that shall vanish.
    start : float array, shape (n,)
        First guess.
    tolerance : float
        Largest remainder that counts as zero. [as `residual`]

    Returns
    -------
    float array, shape (n,), or None
        The solution; None where none was reached.
    """
    at = np.array(start, dtype=float)
    here = np.asarray(residual(at), dtype=float)
    for _ in range(_ROUNDS):
        if np.max(np.abs(here)) <= tolerance:
            return at
        slopes = np.empty((here.size, at.size))
        for axis in range(at.size):
            nudge = np.zeros_like(at)
            nudge[axis] = _STEP
            slopes[:, axis] = (residual(at + nudge) - residual(at - nudge)) / (2 * _STEP)
        try:
            move = np.linalg.solve(slopes, -here)
        except np.linalg.LinAlgError:
            return None
        # Halve the step until it helps: the chromaticity plane is far from linear at a distance.
        for _ in range(12):
            there = np.asarray(residual(at + move), dtype=float)
            if np.all(np.isfinite(there)) and np.linalg.norm(there) < np.linalg.norm(here):
                break
            move = move / 2
        else:
            return None
        at, here = at + move, there
    return at if np.max(np.abs(here)) <= tolerance else None
