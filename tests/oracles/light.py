"""Closed forms of light that tests hold the program to; the program itself has no use for them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.beam import AngularTable
from previz.physics.daylight import SUN_ANGLE_DEG
from previz.physics.exposure import CameraSettings, signal_per_luminance

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


def signal_luminance(xyz: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return the luminance signal of a picture.

    It is taken before white balance, as a spot meter takes it, so a colour that the balance
    changes keeps its exposure.

    Parameters
    ----------
    xyz : float array, shape (3, row, column)
        Scene. [cd/m²]
    settings : CameraSettings
        The camera.

    Returns
    -------
    float array, shape (row, column)
        Signal, 0.18 for mid grey. [1]
    """
    return np.asarray(xyz)[1] * signal_per_luminance(settings)
