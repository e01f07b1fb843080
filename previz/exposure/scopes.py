"""Scopes: where the levels and colours of a picture lie, counted pixel by pixel.

The scene in stops from 18 % grey; the picture as a screen shows it in percent of full code; the
colours of both in the CIE 1976 u', v' diagram, where equal steps appear about alike.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.camera import balanced_acescg_from_xyz
from previz.physics.chromatic_adaptation import D65_XY, REC709_XY, xyz_from_rgb
from previz.physics.colourtemp import planckian_xy
from previz.physics.daylight import daylight_xy
from previz.physics.exposure import CameraSettings, stops_from_grey
from previz.physics.spectra import observer
from previz.physics.uplift import linear_from_srgb

Reach = tuple[float, float]
"""Lowest and highest value of a scale."""

STOPS = (-8.0, 8.0)
"""Reach of the scale in stops. [stops]"""

PERCENT = (-4.0, 104.0)
"""Reach of a signal scale. [%]"""

UV_ACROSS, UV_UP = (0.05, 0.50), (0.13, 0.60)
"""Part of the u', v' diagram that is shown: all of the BT.709 triangle. [1]"""

DARKEST_COLOUR = 0.01
"""What is darker than this signal has no colour to plot. [1]"""

LOCUS_K = (2000, 2700, 3200, 4300, 5600, 6500, 10000)
"""Colour temperatures that are marked. [K]"""


def uv_from_xyz(xyz: ArrayLike) -> np.ndarray:
    """Return CIE 1976 u', v': 4X / (X + 15Y + 3Z), 9Y / (X + 15Y + 3Z).

    Parameters
    ----------
    xyz : float array, shape (3, ...)
        [any]

    Returns
    -------
    float array, shape (2, ...)
        nan where there is no light. [1]

    Source
    ------
    CIE 15:2018, section 8.2.1 (ISO/CIE 11664-5).
    """
    x, y, z = np.asarray(xyz, dtype=float)
    below = x + 15 * y + 3 * z
    below = np.where(below > 0, below, np.nan)
    return np.stack([4 * x / below, 9 * y / below])


def uv_from_chromaticity(xy: ArrayLike) -> np.ndarray:
    """Return u', v' of CIE 1931 x, y. Shapes (2,) [1]"""
    x, y = np.asarray(xy, dtype=float)
    return uv_from_xyz(np.array([x, y, 1 - x - y]))


def scene_xyz(linear: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return X, Y, Z of an exposed, balanced picture as it was before the balance.

    Scene-linear ACEScg of shape (3, row, column) [1] gives as much; Y is the signal, 0.18 for mid grey. [1]
    """
    back = np.linalg.inv(balanced_acescg_from_xyz(settings.white_balance, settings.tint))
    return np.einsum("ij,jrc->irc", back, np.asarray(linear, float))


def shown_percent(still: ArrayLike) -> np.ndarray:
    """Return the code values of a still in percent of full. Shape (3, row, column) [%]"""
    return np.moveaxis(np.asarray(still, float), -1, 0) * (100 / 255)


def shown_xyz(still: ArrayLike) -> np.ndarray:
    """Return X, Y, Z of a still on an sRGB screen. Shape (3, row, column) [1]

    Source
    ------
    IEC 61966-2-1.
    """
    linear = linear_from_srgb(np.moveaxis(np.asarray(still, float), -1, 0) / 255)
    return np.einsum("ij,jrc->irc", xyz_from_rgb(REC709_XY, D65_XY), linear)


def waveform(values: ArrayLike, reach: Reach, levels: int, columns: int) -> np.ndarray:
    """Return how many pixels of each column of a picture have each level.

    Parameters
    ----------
    values : float array, shape (row, column)
        [as the reach]
    reach : (float, float)
        Lowest and highest level; what lies beyond is counted at the end.
    levels, columns : int
        Size of the result; columns are joined or repeated evenly.

    Returns
    -------
    float array, shape (levels, columns)
        Share of the column's pixels, the highest level first; each column sums to 1. [1]
    """
    plane = np.asarray(values, dtype=float)
    level = _level(plane, reach, levels)
    at = np.minimum((np.arange(plane.shape[1]) + 0.5) * columns / plane.shape[1], columns - 1)
    column = np.broadcast_to(at.astype(int), plane.shape)
    counts = np.bincount((level * columns + column).ravel(), minlength=levels * columns)
    counts = counts.reshape(levels, columns).astype(float)
    if plane.shape[1] < columns:
        # A column between two pixels shows the nearer one.
        source = ((np.arange(columns) + 0.5) * plane.shape[1] / columns).astype(int)
        counts = counts[:, at.astype(int)[source]]
    return counts / np.maximum(counts.sum(axis=0), 1)


def _level(values: np.ndarray, reach: Reach, levels: int) -> np.ndarray:
    share = (values - reach[0]) / (reach[1] - reach[0])
    share = np.where(np.isnan(share), 0.0, share)
    return (levels - 1) - np.clip(share * levels, 0, levels - 1).astype(int)


def histogram(values: ArrayLike, reach: Reach, levels: int) -> np.ndarray:
    """Return the share of a picture at each level, the highest first; see `waveform`. Shape (levels,) [1]"""
    counts = np.bincount(_level(np.asarray(values, float), reach, levels).ravel(),
                         minlength=levels)
    return counts / np.asarray(values).size


def stops_on_scale(signal: ArrayLike) -> np.ndarray:
    """Return a signal in stops from 18 % grey, black at the foot of the scale. [stops]"""
    return np.maximum(stops_from_grey(np.maximum(signal, 0)), STOPS[0])


def chromaticities(xyz: ArrayLike, size: tuple[int, int]) -> np.ndarray:
    """Return how many pixels have each chromaticity of the part of u', v' that is shown.

    Parameters
    ----------
    xyz : float array, shape (3, row, column)
        Y as a signal; what is too dark to have a colour is left out. [1]
    size : (int, int)
        Columns and rows.

    Returns
    -------
    float array, shape (rows, columns)
        v' upwards. [pixels]
    """
    u, v = uv_from_xyz(xyz)
    keep = np.isfinite(u) & (np.asarray(xyz)[1] > DARKEST_COLOUR)
    counts, _, _ = np.histogram2d(v[keep], u[keep], bins=(size[1], size[0]), range=(UV_UP, UV_ACROSS))
    return counts[::-1]


@lru_cache(maxsize=1)
def spectral_locus() -> np.ndarray:
    """Return u', v' of the spectrum's colours. Shape (2, 81) [1]"""
    return uv_from_xyz(np.asarray(observer()))


def black_body_locus() -> tuple[np.ndarray, dict[int, np.ndarray]]:
    """Return u', v' of black bodies, and of those that are marked.

    Returns
    -------
    line : float array, shape (2, n)
        u', v' along the locus. [1]
    marks : dict of int to float array, shape (2,)
        By temperature. [K]
    """
    kelvins = 1e6 / np.linspace(1e6 / 1600, 1e6 / 25000, 60)
    line = np.array([uv_from_chromaticity(planckian_xy(k)) for k in kelvins]).T
    return line, {k: uv_from_chromaticity(planckian_xy(k)) for k in LOCUS_K}


def daylight_locus() -> np.ndarray:
    """Return u', v' of CIE daylight from 4000 K to 25 000 K. Shape (2, n) [1]"""
    kelvins = 1e6 / np.linspace(1e6 / 4000, 1e6 / 25000, 40)
    return np.array([uv_from_chromaticity(daylight_xy(k)) for k in kelvins]).T


def video_triangle() -> np.ndarray:
    """Return u', v' of the BT.709 primaries, closed. Shape (2, 4) [1]

    Source
    ------
    ITU-R BT.709-6, item 1.3.
    """
    corners = [uv_from_chromaticity(xy) for xy in REC709_XY]
    return np.array([*corners, corners[0]]).T
