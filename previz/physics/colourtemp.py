"""Chromaticity, and where it lies along and across the line of black bodies.

CCT says how warm a light is; Duv how far it lies from the Planckian locus, plus towards green,
minus towards magenta, in the CIE 1960 (u, v) plane.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.blackbody import radiance
from previz.physics.spectra import WAVELENGTHS_NM, xyz_of

COOLEST_K, WARMEST_K = 100000.0, 1000.0
"""Ends of the tabulated locus. [K]"""

_TABLE_STEP = 1.0025
_NEAR_LOCUS = 0.002


def xy_of(spectrum: ArrayLike) -> FloatArray:
    """Return the CIE 1931 chromaticity of a spectrum.

    Parameters
    ----------
    spectrum : float array, shape (..., 81)
        Spectral power. [any]

    Returns
    -------
    float array, shape (..., 2)
        x, y. [1]

    Raises
    ------
    ValueError
        The last axis is not the 81 samples.
    """
    return xy_from_xyz(xyz_of(spectrum))


def xy_from_xyz(xyz: ArrayLike) -> FloatArray:
    """Return the chromaticity of tristimulus values: X and Y over X + Y + Z.

    Parameters
    ----------
    xyz : float array, shape (..., 3)
        [any]

    Returns
    -------
    float array, shape (..., 2)
        x, y. [1]
    """
    values = np.asarray(xyz, dtype=float)
    return values[..., :2] / values.sum(axis=-1, keepdims=True)


def xyz_from_xy(xy: ArrayLike) -> FloatArray:
    """Return the tristimulus values at Y = 1 of a chromaticity.

    Parameters
    ----------
    xy : float array, shape (..., 2)
        [1]

    Returns
    -------
    float array, shape (..., 3)
        X, 1, Z. [1]
    """
    x, y = np.moveaxis(np.asarray(xy, dtype=float), -1, 0)
    return np.stack([x / y, np.ones_like(x), (1 - x - y) / y], axis=-1)


def uv_from_xy(xy: ArrayLike) -> FloatArray:
    """Return CIE 1960 u, v: u = 4x / (12y - 2x + 3), v = 6y / (12y - 2x + 3).

    Parameters
    ----------
    xy : float array, shape (..., 2)
        CIE 1931 chromaticity. [1]

    Returns
    -------
    float array, shape (..., 2)
        u, v. [1]

    Source
    ------
    CIE 15:2018, section 9.
    """
    values = np.asarray(xy, dtype=float)
    x, y = values[..., 0], values[..., 1]
    return np.stack([4 * x, 6 * y], axis=-1) / (12 * y - 2 * x + 3)[..., None]


def xy_from_uv(uv: ArrayLike) -> FloatArray:
    """Return CIE 1931 x, y: x = 3u / (2u - 8v + 4), y = 2v / (2u - 8v + 4).

    Parameters
    ----------
    uv : float array, shape (..., 2)
        CIE 1960 chromaticity. [1]

    Returns
    -------
    float array, shape (..., 2)
        x, y. [1]
    """
    values = np.asarray(uv, dtype=float)
    u, v = values[..., 0], values[..., 1]
    return np.stack([3 * u, 2 * v], axis=-1) / (2 * u - 8 * v + 4)[..., None]


def planckian_xy(temperature: float) -> FloatArray:
    """Return the chromaticity of a black body.

    Parameters
    ----------
    temperature : float
        [K]

    Returns
    -------
    float array, shape (2,)
        x, y. [1]

    Raises
    ------
    ValueError
        The temperature is not above 0.
    """
    return xy_of(radiance(WAVELENGTHS_NM, temperature))


@cache
def _locus() -> tuple[FloatArray, FloatArray]:
    """Temperatures (n,), and their u, v (n, 2), from warm to cool."""
    count = int(np.ceil(np.log(COOLEST_K / WARMEST_K) / np.log(_TABLE_STEP))) + 1
    kelvin = np.geomspace(WARMEST_K, COOLEST_K, count)
    uv = uv_from_xy(np.stack([planckian_xy(each) for each in kelvin]))
    return kelvin, uv


def cct_duv(xy: FloatArray) -> tuple[float, float]:
    """Return correlated colour temperature and distance from the Planckian locus.

    The nearest point of a table of black bodies in steps of 0.25 % is refined by the triangle it makes
    with its neighbours, or, at 0.002 or more from the locus, by a parabola through the three
    distances.

    Parameters
    ----------
    xy : float array, shape (2,)
        CIE 1931 chromaticity. [1]

    Returns
    -------
    (float, float)
        CCT [K] and Duv [1], plus above the locus (green).

    Raises
    ------
    ValueError
        The chromaticity is not finite, or its nearest black body is outside 1000 to 100 000 K.

    Source
    ------
    Ohno, Leukos 10 (2014) 47, combined method.

    Limits
    ------
    CCT has little meaning beyond |Duv| 0.05 (CIE 15).
    """
    u, v = uv_from_xy(xy)
    if not (np.isfinite(u) and np.isfinite(v)):
        raise ValueError(f"a chromaticity must be finite, got {xy!r}")
    kelvin, locus = _locus()
    distance = np.hypot(locus[:, 0] - u, locus[:, 1] - v)
    nearest = int(np.argmin(distance))
    if nearest in (0, kelvin.size - 1):
        raise ValueError(
            f"x {xy[0]:.4f}, y {xy[1]:.4f} has no colour temperature from "
            f"{WARMEST_K:.0f} to {COOLEST_K:.0f} K"
        )
    left, right = nearest - 1, nearest + 1
    base = np.hypot(*(locus[right] - locus[left]))
    along = (distance[left] ** 2 - distance[right] ** 2 + base**2) / (2 * base)
    share = along / base
    cct = kelvin[left] + (kelvin[right] - kelvin[left]) * share
    away = np.sqrt(max(distance[left] ** 2 - along**2, 0.0))
    foot = locus[left] + (locus[right] - locus[left]) * share
    sign = 1.0 if v >= foot[1] else -1.0
    if away >= _NEAR_LOCUS:
        a, b, c = np.polyfit(kelvin[left : right + 1] - kelvin[nearest],
                             distance[left : right + 1], 2)  # fmt: skip
        offset = -b / (2 * a)
        cct = kelvin[nearest] + offset
        away = a * offset**2 + b * offset + c
    return float(cct), float(sign * away)


def xy_from_cct_duv(cct: float, duv: float = 0.0) -> FloatArray:
    """Return the chromaticity at a distance square to the Planckian locus.

    Parameters
    ----------
    cct : float
        [K]
    duv : float
        Distance in CIE 1960 u, v; plus is towards green. [1]

    Returns
    -------
    float array, shape (2,)
        x, y. [1]

    Raises
    ------
    ValueError
        The temperature is not above 0.

    Source
    ------
    ANSI C78.377 for the sign of Duv (from memory); Ohno 2014 for the construction.
    """
    here = uv_from_xy(planckian_xy(cct))
    if duv == 0.0:
        return xy_from_uv(here)
    step = cct * 1e-4
    ahead = uv_from_xy(planckian_xy(cct + step)) - uv_from_xy(planckian_xy(cct - step))
    du, dv = ahead / np.hypot(*ahead)
    # Towards higher temperatures u falls; turning that direction clockwise points up, to green.
    return xy_from_uv(here + duv * np.array([dv, -du]))


def mired(kelvin: ArrayLike) -> FloatArray:
    """Return reciprocal megakelvin: 10⁶ / T.

    Parameters
    ----------
    kelvin : float array, shape (...)
        T; or mireds, for the inverse. [K]

    Returns
    -------
    float array, shape (...)
        [mired]
    """
    return 1e6 / np.asarray(kelvin, dtype=float)


def mired_shift(from_kelvin: ArrayLike, to_kelvin: ArrayLike) -> FloatArray:
    """Return the shift that turns one colour temperature into another; plus is warmer.

    Parameters
    ----------
    from_kelvin, to_kelvin : float array, shape (...)
        [K]

    Returns
    -------
    float array, shape (...)
        [mired]
    """
    return mired(to_kelvin) - mired(from_kelvin)


def shifted_kelvin(kelvin: float, shift: float) -> float:
    """Return the colour temperature after a mired shift.

    Parameters
    ----------
    kelvin : float
        [K]
    shift : float
        Plus is warmer. [mired]

    Returns
    -------
    float
        [K]

    Raises
    ------
    ValueError
        The shift leads past infinite temperature.
    """
    after = 1e6 / kelvin + shift
    if not after > 0:
        raise ValueError(f"{kelvin:g} K shifted by {shift:+g} mired is past any temperature")
    return float(1e6 / after)
