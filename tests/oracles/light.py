"""Closed forms of light that tests hold the program to; the program itself has no use for them."""

from __future__ import annotations

import numpy as np

from previz.physics.beam import BEAM_LEVEL, AngularTable
from previz.physics.daylight import SUN_ANGLE_DEG

SUN_SOLID_ANGLE = float(4 * np.pi * np.sin(np.radians(SUN_ANGLE_DEG) / 4) ** 2)
"""Solid angle of the disc. [sr]"""


def isotropic():
    """Return a lamp that shines the same everywhere.

    Returns
    -------
    AngularTable
        1 / 4pi. [cd/lm]
    """
    theta = np.linspace(0.0, 180.0, 13)
    return AngularTable(theta, np.zeros(1), np.full((theta.size, 1), 0.25 / np.pi))


def angle_from_exponent(exponent, level=BEAM_LEVEL):
    """Return the full angle at which a cos^n beam falls to `level`: 2 acos(level^(1/n)).

    Parameters
    ----------
    exponent : float array, shape (...)
        n, above 0. [1]
    level : float
        0.5 for the beam, 0.1 for the field. [1]

    Returns
    -------
    float array, shape (...)
        Full angle. [deg]
    """
    return np.degrees(2 * np.arccos(level ** (1.0 / np.asarray(exponent, dtype=float))))


def cosine_power_flux(peak, exponent):
    """Return the lumens of a cos^n beam: 2 pi I0 / (n + 1).

    Parameters
    ----------
    peak : float array, shape (...)
        I0. [cd]
    exponent : float array, shape (...)
        n. [1]

    Returns
    -------
    float array, shape (...)
        Flux. [lm]
    """
    return 2 * np.pi * np.asarray(peak, dtype=float) / (np.asarray(exponent, dtype=float) + 1)


def overcast_zenith_luminance(sun_altitude_deg):
    """Return a typical luminance of an overcast zenith: 8600 sin h + 123.

    Parameters
    ----------
    sun_altitude_deg : float array, shape (...)
        h, 0 to 90. [deg]

    Returns
    -------
    float array, shape (...)
        Lz. [cd/m²]

    Source
    ------
    Krochmann and Seidl; a figure for planning, ±50 %.
    """
    return 8600 * np.sin(np.radians(np.asarray(sun_altitude_deg, dtype=float))) + 123


def overcast_illuminance(sun_altitude_deg):
    """Return a typical illuminance of level ground under an overcast sky: 7 pi Lz / 9.

    Parameters
    ----------
    sun_altitude_deg : float array, shape (...)
        h, 0 to 90. [deg]

    Returns
    -------
    float array, shape (...)
        E. [lx]
    """
    return 7 * np.pi / 9 * overcast_zenith_luminance(sun_altitude_deg)


def point_illuminance(intensity, distance, incidence_deg=0.0):
    """Return the illuminance from a point: E = I cos(theta) / d².

    Parameters
    ----------
    intensity, distance, incidence_deg : float array, shape (...)
        I [cd], d [m], and the angle between the ray and the receiver's normal. [deg]

    Returns
    -------
    float array, shape (...)
        E; 0 from behind. [lx]
    """
    facing = np.maximum(np.cos(np.radians(np.asarray(incidence_deg, dtype=float))), 0.0)
    return np.asarray(intensity, dtype=float) * facing / np.asarray(distance, dtype=float) ** 2


def exitance(luminance):
    """Return the flux that leaves a diffuse surface: M = pi L.

    Parameters
    ----------
    luminance : float array, shape (...)
        L. [cd/m²]

    Returns
    -------
    float array, shape (...)
        M. [lm/m²]
    """
    return np.pi * np.asarray(luminance, dtype=float)


def diffuse_luminance(illuminance, reflectance):
    """Return the luminance of a lit diffuse surface: L = rho E / pi.

    Parameters
    ----------
    illuminance, reflectance : float array, shape (...)
        E [lx] and rho [1].

    Returns
    -------
    float array, shape (...)
        L. [cd/m²]
    """
    lux = np.asarray(illuminance, dtype=float)
    return np.asarray(reflectance, dtype=float) * lux / np.pi


def polygon_factor(corners, point, normal):
    """Return the configuration factor of a flat polygon from a receiver facing any way.

    F = sum over the edges of gamma · (u · n) / 2pi, gamma the angle an edge subtends and u the
    unit normal of its plane with the receiver; the part below the receiver's horizon is cut off.

    Parameters
    ----------
    corners : float array, shape (n, 3)
        In order; either way round. [m]
    point, normal : float array, shape (3,)
        Receiver, not in the polygon's plane, and the way it faces. [m, 1]

    Returns
    -------
    float
        F. [1]

    Source
    ------
    Lambert 1760, Photometria.
    """
    facing = np.asarray(normal, dtype=float) / np.linalg.norm(normal)
    seen = _above_horizon(np.asarray(corners, dtype=float) - np.asarray(point, dtype=float), facing)
    if len(seen) < 3:
        return 0.0
    ends = np.roll(seen, -1, axis=0)
    cross = np.cross(seen, ends)
    size = np.linalg.norm(cross, axis=1)
    angle = np.arctan2(size, np.sum(seen * ends, axis=1))
    share = np.divide(cross @ facing, size, out=np.zeros_like(size), where=size > 0)
    return float(abs(np.sum(angle * share)) / (2 * np.pi))


def _above_horizon(corners, facing):
    """Cut a polygon, seen from the origin, by the plane through the origin."""
    heights = corners @ facing
    kept = []
    for here, there, up, next_up in zip(
        corners, np.roll(corners, -1, axis=0), heights, np.roll(heights, -1), strict=True
    ):
        if up >= 0:
            kept.append(here)
        if (up > 0 > next_up) or (up < 0 < next_up):
            kept.append(here + (there - here) * (up / (up - next_up)))
    return np.array(kept).reshape(-1, 3)


def sphere_factor(radius, distance):
    """Return the configuration factor of a ball straight ahead: (R / d)².

    Parameters
    ----------
    radius, distance : float array, shape (...)
        R, and d to its middle, beyond R. [m]

    Returns
    -------
    float array, shape (...)
        F; exact however near. [1]
    """
    return (np.asarray(radius, dtype=float) / np.asarray(distance, dtype=float)) ** 2


def tube_illuminance(luminance, *, radius, length, distance):
    """Return the illuminance facing the middle of a thin diffuse tube.

    With I' = 2 r L and alpha = atan(l / 2d): E = I' / d · (alpha + sin alpha cos alpha).

    Parameters
    ----------
    luminance : float
        L. [cd/m²]
    radius, length, distance : float
        r, l (inf for an endless tube) and d to the axis. [m]

    Returns
    -------
    float
        E. [lx]

    Limits
    ------
    For a tube thin against the distance.
    """
    alpha = np.arctan(np.asarray(length, dtype=float) / (2 * distance))
    return float(2 * radius * luminance / distance * (alpha + np.sin(alpha) * np.cos(alpha)))


def enclosure_illuminance(flux, area, reflectance):
    """Return the mean illuminance inside a closed diffuse room: Phi / (A (1 - rho)).

    Parameters
    ----------
    flux : float
        Phi. [lm]
    area : float
        A of all its surfaces. [m²]
    reflectance : float array, shape (...)
        rho, the same everywhere (or the area mean, as an estimate), below 1. [1]

    Returns
    -------
    (float array, float array), each of shape (...)
        All light, and the part that has bounced, Phi rho / (A (1 - rho)). [lx]

    Raises
    ------
    ValueError
        A reflectance is outside 0 to below 1.

    Source
    ------
    Sumpner 1892; theory of the integrating sphere.
    """
    rho = np.asarray(reflectance, dtype=float)
    if np.any((rho < 0) | (rho >= 1)):
        raise ValueError("a closed room's reflectance lies from 0 to below 1")
    total = flux / (area * (1 - rho))
    return total, total * rho


def penumbra_width(source_width, *, to_object, object_to_wall):
    """Return the width of the soft edge of a shadow: source · (object to wall) / (to object).

    Parameters
    ----------
    source_width : float
        [m]
    to_object, object_to_wall : float
        Source to shadow-casting edge, and edge to wall. [m]

    Returns
    -------
    float
        [m]
    """
    return source_width * object_to_wall / to_object
