"""Colours of the sky from place to place, over its mean colour: clear air, and clouds in it."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.physics.colourtemp import planckian_xy, uv_from_xy, xy_from_uv
from previz.physics.spectra import observer
from previz.physics.uplift import basis

TURBIDITY = {"clear": 2.5, "intermediate": 5.0, "overcast": 10.0}
"""Haze of the air, over that of air alone, of a named sky.  Common practice, no source."""

LEAST_CHANNEL = 0.02
"""Deep blues lie outside Rec. 709: less of a channel than this counts as this, over a luminance of 1. [1]"""

GREEN_LEFT = 0.15
"""Of how far the model's colours lie from black bodies to the green.  Common practice, no source. [1]"""

_PEREZ = {
    "x": ((-0.0193, -0.2592), (-0.0665, 0.0008), (-0.0004, 0.2125), (-0.0641, -0.8989), (-0.0033, 0.0452)),
    "y": ((-0.0167, -0.2608), (-0.0950, 0.0092), (-0.0079, 0.2102), (-0.0441, -1.6537), (-0.0109, 0.0529)),
}
_ZENITH = {
    "x": ((0.00166, -0.00375, 0.00209, 0.0), (-0.02903, 0.06377, -0.03202, 0.00394),
          (0.11693, -0.21196, 0.06052, 0.25886)),
    "y": ((0.00275, -0.00610, 0.00317, 0.0), (-0.04214, 0.08970, -0.04153, 0.00516),
          (0.15346, -0.26756, 0.06670, 0.26688)),
}  # fmt: skip


def clear_chromaticity(
    zenith: ArrayLike, from_sun: ArrayLike, sun_zenith: float, turbidity: float
) -> FloatArray:
    """Return the chromaticity of a clear sky: x = x_zenith F(theta, gamma) / F(0, theta_sun), y alike.

    F = (1 + A exp(B / cos theta)) (1 + C exp(D gamma) + E cos² gamma), A to E linear in the turbidity.

    Parameters
    ----------
    zenith, from_sun : float array, shape (...)
        theta of the place and gamma, its angle from the sun. [rad]
    sun_zenith : float
        theta_sun, 0 to pi/2. [rad]
    turbidity : float
        2 very clear, 10 hazy. [1]

    Returns
    -------
    float array, shape (..., 2)
        CIE x, y. [1]

    Source
    ------
    Preetham, Shirley and Smits, "A practical analytic model for daylight", SIGGRAPH 1999, appendix A.2
    (from memory), in the form of Perez et al. 1993.
    """
    cosine = np.maximum(np.cos(np.asarray(zenith, float)), 0.01)
    angle = np.asarray(from_sun, float)
    found = []
    for axis in ("x", "y"):
        lobes = tuple(slope * turbidity + start for slope, start in _PEREZ[axis])
        terms = np.array([turbidity**2, turbidity, 1.0]) @ np.array(_ZENITH[axis])
        top = terms @ np.array([sun_zenith**3, sun_zenith**2, sun_zenith, 1.0])
        overhead = _lobe(np.asarray(1.0), np.asarray(sun_zenith), lobes)
        found.append(top * _lobe(cosine, angle, lobes) / overhead)
    return np.stack(found, axis=-1)


def _lobe(cos_zenith: FloatArray, gamma: FloatArray, terms: tuple[float, ...]) -> FloatArray:
    a, b, c, d, e = terms
    return np.asarray((1 + a * np.exp(b / cos_zenith)) * (1 + c * np.exp(d * gamma) + e * np.cos(gamma) ** 2))


def less_green(xy: ArrayLike) -> FloatArray:
    """Return chromaticities of which what lies on the green side of black bodies is drawn towards them.

    The model has no ozone, which takes green and yellow from light that comes a long way through the air, so
    its skies about a low sun are greener than skies are. What is left of the distance is `GREEN_LEFT`.
    """
    uv = uv_from_xy(np.asarray(xy, float))
    locus = _black_bodies()
    near = np.argmin(np.sum((uv[..., None, :] - locus) ** 2, axis=-1), axis=-1)
    off = uv - locus[near]
    kept = np.where(off[..., 1:] > 0, GREEN_LEFT, 1.0)
    return xy_from_uv(locus[near] + off * kept)


@functools.cache
def _black_bodies() -> FloatArray:
    return np.stack([uv_from_xy(planckian_xy(1e6 / mired)) for mired in np.arange(12.0, 560.0, 4.0)])


def rec709_of_xy(xy: ArrayLike) -> FloatArray:
    """Return linear Rec. 709 of luminance 1, no channel under `LEAST_CHANNEL`. Shape (..., 3)"""
    x, y = np.moveaxis(np.asarray(xy, float), -1, 0)
    xyz = np.stack([x / y, np.ones_like(x), (1 - x - y) / y], axis=-1)
    return np.maximum(xyz @ REC709_FROM_XYZ.T, LEAST_CHANNEL)


def channel_luminances(spectrum: ArrayLike) -> FloatArray:
    """Return the luminance that each channel of a colour keeps of a light: they sum to 1. Shape (3,)"""
    seen = np.asarray(spectrum, float) * observer()[1]
    return basis() @ seen / seen.sum()


def shared_out(
    luminance: FloatArray, colour: FloatArray, projected: FloatArray, spectrum: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return a sky's (radiance per lux, colour over the mean) from how bright and coloured its cells are.

    The light of the whole sky on level ground is 1 lx of the lamp's own colour, in every channel, whatever
    the cells are like: they share it out.

    Parameters
    ----------
    luminance : float array, shape (rows, columns)
        Relative. [1]
    colour : float array, shape (rows, columns, 3)
        Linear Rec. 709 of luminance 1. [1]
    projected : float array, shape (rows,)
        Projected solid angle of a cell. [sr]
    spectrum : float array, shape (81,)
        Of the lamp.

    Returns
    -------
    float array, shape (rows, columns), and float array, shape (rows, columns, 3)
        [1/sr] and [1]
    """
    light = luminance[..., None] * colour
    light /= np.einsum("rck,r->k", light, projected)
    radiance = light @ channel_luminances(spectrum)
    return radiance, light / np.maximum(radiance, 1e-12)[..., None]
