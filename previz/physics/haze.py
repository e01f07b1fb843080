"""Haze: what air with droplets in it takes from a beam, and how it glows.

Density is the extinction coefficient beta, in each metre. Droplets scatter almost all they take.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray

RANGE_CONTRAST = 0.02
"""Contrast left at the meteorological range.  Source: AMS Glossary."""

MOR_CONTRAST = 0.05
"""Share of a beam left at the meteorological optical range.  Source: CIE e-ILV term 772."""

MASS_EXTINCTION = (1.5, 5.5)
"""Extinction of a gram of stage fog, droplets of 1 to 2 micrometres, lowest and highest. [m²/g]

Source: Mie theory run once for such droplets."""


def _density(density: ArrayLike) -> FloatArray:
    beta = np.asarray(density, dtype=float)
    if not np.all(np.isfinite(beta) & (beta >= 0)):
        raise ValueError(f"a haze density must be 0 /m or more, got {density!r}")
    return beta


def beam_transmission(density: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return what is left of a beam: exp(-beta d).

    Parameters
    ----------
    density, distance : float array, shape (...)
        beta [/m] and d [m].

    Returns
    -------
    float array, shape (...)
        [1]

    Raises
    ------
    ValueError
        The density is negative or not finite.

    Source
    ------
    Beer-Lambert law.
    """
    return np.exp(-_density(density) * np.asarray(distance, dtype=float))


def visibility(density: ArrayLike, contrast: float = MOR_CONTRAST) -> FloatArray:
    """Return how far one sees: V = ln(1 / contrast) / beta.

    Parameters
    ----------
    density : float array, shape (...)
        beta, above 0. [/m]
    contrast : float
        0.05 for the meteorological optical range, 0.02 for the meteorological range. [1]

    Returns
    -------
    float array, shape (...)
        [m]

    Source
    ------
    Koschmieder's law; AMS Glossary; CIE e-ILV term 772.
    """
    return -np.log(contrast) / _density(density)


def density_from_visibility(distance: ArrayLike, contrast: float = MOR_CONTRAST) -> FloatArray:
    """Return the density that gives a visibility; the inverse of `visibility`.

    Parameters
    ----------
    distance : float array, shape (...)
        V, above 0. [m]
    contrast : float
        As in `visibility`. [1]

    Returns
    -------
    float array, shape (...)
        beta. [/m]

    Raises
    ------
    ValueError
        The distance is not above 0.
    """
    reach = np.asarray(distance, dtype=float)
    if not np.all(reach > 0):
        raise ValueError(f"a visibility must be above 0 m, got {distance!r}")
    return -np.log(contrast) / reach


def _airlight_integral(u: float, upper: float) -> float:
    """Integral of exp(-u tan xi) from 0 to `upper`, at most 90°."""
    node, weight = np.polynomial.legendre.leggauss(256)
    angle = (node + 1) * upper / 2
    # At 90° the tangent has no end; exp(-u tan) is 0 there for u above 0, which is all we need.
    with np.errstate(over="ignore"):
        value = np.exp(-u * np.tan(np.minimum(angle, np.pi / 2 - 1e-12)))
    return float(np.sum(weight * value) * upper / 2)


def airlight(intensity: float, density: float, *, distance: float, angle_deg: float,
             depth: float = np.inf) -> float:
    """Return the glow of hazy air along a view past a bare lamp, scattered once, evenly.

    L = A0 (F(A1, pi/4 + atan((Tp - Ts cos g) / (Ts sin g)) / 2) - F(A1, g / 2)), with
    A0 = beta I exp(-Ts cos g) / (2 pi D sin g), A1 = Ts sin g, T = beta · distance and
    F(u, v) the integral of exp(-u tan xi) from 0 to v.

    Parameters
    ----------
    intensity : float
        I of the lamp, the same in all directions. [cd]
    density : float
        beta, all of it scattering. [/m]
    distance : float
        D from the eye to the lamp. [m]
    angle_deg : float
        g between the view and the direction of the lamp, above 0 and below 180. [deg]
    depth : float
        How far the view goes; inf for no wall. [m]

    Returns
    -------
    float
        L. [cd/m²]

    Raises
    ------
    ValueError
        An argument is out of range.

    Source
    ------
    Sun, Ramamoorthi, Narasimhan and Nayar 2005, SIGGRAPH (form from memory; equals direct
    integration).
    """
    beta = float(_density(density))
    if not (0 < angle_deg < 180 and distance > 0 and depth > 0):
        raise ValueError("airlight needs an angle between 0 and 180 deg and distances above 0 m")
    if beta == 0:
        return 0.0
    angle = np.radians(angle_deg)
    lamp = beta * distance
    across, along = lamp * np.sin(angle), lamp * np.cos(angle)
    far = np.arctan2(beta * depth - along, across) if np.isfinite(depth) else np.pi / 2
    end = np.pi / 4 + far / 2
    scale = beta * intensity * np.exp(-along) / (2 * np.pi * distance * np.sin(angle))
    return float(scale * (_airlight_integral(across, end) - _airlight_integral(across, angle / 2)))


def droplet_mass(density: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return an estimate of the droplets in the air.

    Parameters
    ----------
    density : float array, shape (...)
        beta. [/m]

    Returns
    -------
    (float array, float array), each of shape (...)
        Least and most, from beta over the mass extinction. [mg/m³]

    Limits
    ------
    An estimate within a factor of two, for the paperwork; only a measurement can show.
    """
    beta = _density(density)
    low, high = MASS_EXTINCTION
    return beta / high * 1000, beta / low * 1000
