"""The moon: where it stands, how much of it is lit, how bright it is and of what colour.

The phase angle is the angle at the moon between sun and earth: 0 for a full moon, 90 for a half
moon, 180 for a new moon.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.daylight import air_mass, sun_spectrum
from previz.physics.sky_level import CLEAR_AIR
from previz.physics.solar import (
    days_since_2000,
    equatorial,
    horizontal,
    refracted,
    sun_longitude,
)
from previz.physics.spectra import normalise, resample

MOON_ANGLE_DEG = 0.518
"""Mean full angle of the disc: twice 0.2725 times the mean parallax. [deg]"""

MEAN_PARALLAX_DEG = 0.9507
"""Horizontal parallax at the mean distance of 384 400 km. [deg]"""

LX_PER_FC = 10.763910416709722
EARTH_KM, SUN_KM = 6378.14, 149_597_870.7
"""Radius of the earth's equator, and mean distance of the sun. [km]"""

# Albedo of the disc relative to 550 nm: it rises by some three quarters over the visible range.
# From memory: disc photometry of the moon, Kieffer and Stone 2005.
_ALBEDO_NM = (400.0, 450.0, 500.0, 550.0, 600.0, 650.0, 700.0)
_ALBEDO = (0.70, 0.80, 0.90, 1.00, 1.09, 1.17, 1.24)


@dataclass(frozen=True)
class MoonPlace:
    """Where the moon stands and what of it is lit.

    Parameters
    ----------
    altitude_deg, azimuth_deg : float
        Above the horizon, seen from the ground; clockwise from true north. [deg]
    phase_angle_deg : float
        0 full, 180 new. [deg]
    parallax_deg : float
        Its horizontal parallax, which tells its distance. [deg]
    """

    altitude_deg: float
    azimuth_deg: float
    phase_angle_deg: float
    parallax_deg: float


def moon_ecliptic(days: float) -> tuple[float, float, float]:
    """Return the moon's longitude and latitude on the ecliptic, and its parallax.

    Parameters
    ----------
    days : float
        Since noon of 1 January 2000. [d]

    Returns
    -------
    (float, float, float)
        [deg]

    Source
    ------
    The low-precision formulae of the Astronomical Almanac (from memory): within 0.3° in longitude,
    0.2° in latitude and 0.003° in parallax.
    """
    t = days / 36525.0

    def wave(function: Callable[[float], float], terms: Sequence[tuple[float, float, float]]) -> float:
        return sum(size * function(np.radians(at + rate * t)) for size, at, rate in terms)

    longitude = 218.32 + 481267.881 * t + wave(np.sin, (
        (6.29, 135.0, 477198.87), (-1.27, 259.3, -413335.36), (0.66, 235.7, 890534.22),
        (0.21, 269.9, 954397.74), (-0.19, 357.5, 35999.05), (-0.11, 186.5, 966404.03),
    ))  # fmt: skip
    latitude = wave(np.sin, (
        (5.13, 93.3, 483202.02), (0.28, 228.2, 960400.89), (-0.28, 318.3, 6003.15),
        (-0.17, 217.6, -407332.21),
    ))  # fmt: skip
    parallax = 0.9508 + wave(np.cos, (
        (0.0518, 135.0, 477198.87), (0.0095, 259.3, -413335.36), (0.0078, 235.7, 890534.22),
        (0.0028, 269.9, 954397.74),
    ))  # fmt: skip
    return float(longitude % 360.0), float(latitude), float(parallax)


def moon_position(moment: datetime, *, latitude_deg: float, longitude_deg: float) -> MoonPlace:
    """Return where the moon stands at a place and a time.

    Parameters
    ----------
    moment : datetime
        With its time zone.
    latitude_deg, longitude_deg : float
        North and east are positive. [deg]

    Returns
    -------
    MoonPlace

    Raises
    ------
    ValueError
        The moment has no time zone.

    Source
    ------
    `moon_ecliptic`; phase angle after Meeus, Astronomical Algorithms, 2nd ed., chapter 48.
    """
    days = days_since_2000(moment)
    longitude, latitude, parallax = moon_ecliptic(days)
    seen = equatorial(np.radians(longitude), np.radians(latitude), days)
    altitude, azimuth = horizontal(
        *seen, days, latitude_deg=latitude_deg, longitude_deg=longitude_deg
    )
    # It is near enough that an observer sees it lower than the earth's middle would.
    altitude -= parallax * float(np.cos(np.radians(altitude)))
    separation = np.arccos(np.clip(
        np.cos(np.radians(latitude)) * np.cos(np.radians(longitude) - sun_longitude(days)), -1, 1
    ))  # fmt: skip
    away = EARTH_KM / np.sin(np.radians(parallax))
    phase = np.arctan2(SUN_KM * np.sin(separation), away - SUN_KM * np.cos(separation))
    return MoonPlace(altitude + refracted(altitude), azimuth, float(np.degrees(phase)), parallax)


def phase_angle(lit_share: float) -> float:
    """Return the phase angle at which a share of the disc is lit: k = (1 + cos i) / 2.

    Parameters
    ----------
    lit_share : float
        k, 1 full, 0.5 half. [1]

    Returns
    -------
    float
        i. [deg]

    Raises
    ------
    ValueError
        The share is outside 0 to 1.
    """
    if not 0 <= lit_share <= 1:
        raise ValueError(f"the lit share of the moon lies from 0 to 1, got {lit_share!r}")
    return float(np.degrees(np.arccos(2 * lit_share - 1)))


def moon_outside(phase_angle_deg: float = 0.0, parallax_deg: float = MEAN_PARALLAX_DEG) -> float:
    """Return the illuminance of a surface that faces the moon outside the air.

    10^(-0.4 (3.84 + 0.026 |i| + 4e-9 i⁴)) footcandles at mean distance.

    Parameters
    ----------
    phase_angle_deg, parallax_deg : float
        i, and its parallax. [deg]

    Returns
    -------
    float
        [lx]

    Source
    ------
    Krisciunas and Schaefer 1991, PASP 103, 1033, eq. 20 (as quoted in public programs).

    Limits
    ------
    Without the brightening of some 35 % within a few degrees of full.
    """
    angle = abs(float(phase_angle_deg))
    footcandles = 10 ** (-0.4 * (3.84 + 0.026 * angle + 4e-9 * angle**4))
    return float(LX_PER_FC * footcandles * (parallax_deg / MEAN_PARALLAX_DEG) ** 2)


def moon_illuminance(altitude_deg: float, phase_angle_deg: float = 0.0,
                     parallax_deg: float = MEAN_PARALLAX_DEG) -> float:
    """Return the illuminance of a surface that faces the moon, in clear air.

    `moon_outside` times exp(-c m), with the same clear air as the sun's.

    Parameters
    ----------
    altitude_deg : float
        [deg]
    phase_angle_deg : float
        i. [deg]
    parallax_deg : float
        [deg]

    Returns
    -------
    float
        0 with the moon down. [lx]

    Source
    ------
    c is `sky_level.CLEAR_AIR`.
    """
    if altitude_deg <= 0:
        return 0.0
    outside = moon_outside(phase_angle_deg, parallax_deg)
    return float(outside * np.exp(-CLEAR_AIR * air_mass(altitude_deg)))


def moon_spectrum(altitude_deg: float) -> FloatArray:
    """Return the spectrum of moonlight: the sun's light off a slightly reddish disc.

    Parameters
    ----------
    altitude_deg : float
        0 to 90. [deg]

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Source
    ------
    `daylight.sun_spectrum`; the disc's albedo from memory.
    """
    disc = resample(_ALBEDO_NM, np.array(_ALBEDO))
    return normalise(sun_spectrum(altitude_deg) * disc)
