"""Colour temperature of a mix of lamps: by lines of equal temperature, which are straight in X, Y, Z too."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.colourtemp import planckian_xy, uv_from_xy

WARMEST, COOLEST = 690.0, 20.0
"""Ends of the table. [mired]"""

_STEP = 2.0


@cache
def _table() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return mired (n,), u v of black bodies (n, 2), and unit vectors along the locus to the warm (n, 2)."""
    mired = np.arange(COOLEST, WARMEST + _STEP / 2, _STEP)
    uv = uv_from_xy(np.stack([planckian_xy(1e6 / each) for each in mired]))
    along = np.gradient(uv, axis=0)
    return mired, uv, along / np.linalg.norm(along, axis=1)[:, None]


def mired_of(xyz: ArrayLike) -> np.ndarray:
    """Return the correlated colour temperature of light; the end of the table beyond it, nan in the dark.

    Parameters
    ----------
    xyz : float array, shape (..., 3)
        X, Y, Z. [any]

    Returns
    -------
    float array, shape (...)
        [mired]

    Source
    ------
    Between the two isotherms of a table that it lies between, by the distances to them: Robertson, JOSA 58
    (1968) 1528 (from memory).
    """
    values = np.asarray(xyz, dtype=float)
    mired, uv, along = _table()
    x, y, z = np.moveaxis(values, -1, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        here = np.stack([4 * x, 6 * y], axis=-1) / (x + 15 * y + 3 * z)[..., None]
    beyond = np.einsum("...c,nc->...n", here, along) - np.einsum("nc,nc->n", uv, along)
    # Light is warmer than the isotherms that it has passed.
    number = np.clip((beyond > 0).sum(axis=-1), 1, mired.size - 1)
    low = np.take_along_axis(beyond, number[..., None] - 1, axis=-1)[..., 0]
    high = np.take_along_axis(beyond, number[..., None], axis=-1)[..., 0]
    share = np.clip(low / (low - high), 0.0, 1.0)
    return mired[number - 1] + _STEP * share


def isotherm(mired: float) -> np.ndarray:
    """Return the plane of a colour temperature in X, Y, Z: n . XYZ is above 0 for warmer light.

    Parameters
    ----------
    mired : float
        Clipped to the table. [mired]

    Returns
    -------
    float array, shape (3,)
        Per unit of Y, about the distance in CIE 1960 u, v. [1]
    """
    table, uv, along = _table()
    here = np.array([np.interp(mired, table, uv[:, k]) for k in (0, 1)])
    towards = np.array([np.interp(mired, table, along[:, k]) for k in (0, 1)])
    towards /= np.linalg.norm(towards)
    plane = np.array([4 * towards[0], 6 * towards[1], 0.0]) - (here @ towards) * np.array([1.0, 15.0, 3.0])
    return plane / 18.0
