"""Where the sun stands at a place and a time."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

_J2000 = 2451545.0


def julian_day(moment: datetime) -> float:
    """Return the Julian day of a moment.

    Parameters
    ----------
    moment : datetime
        With its time zone.

    Returns
    -------
    float
        Days since noon of 1 January 4713 BC. [d]

    Raises
    ------
    ValueError
        The moment has no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("a moment needs its time zone, such as 2026-06-21 17:30 +02:00")
    return moment.astimezone(UTC).timestamp() / 86400.0 + 2440587.5


def sun_position(moment: datetime, *, latitude_deg: float, longitude_deg: float,
                 refraction: bool = True) -> tuple[float, float]:
    """Return altitude and azimuth of the middle of the sun.

    Parameters
    ----------
    moment : datetime
        With its time zone.
    latitude_deg, longitude_deg : float
        North and east are positive. [deg]
    refraction : bool
        Lift the sun by the bending of the air at 1010 hPa and 10 °C.

    Returns
    -------
    (float, float)
        Altitude above the horizon, and azimuth clockwise from true north. [deg]

    Raises
    ------
    ValueError
        The place is not on the globe or the moment has no time zone.

    Source
    ------
    Meeus, Astronomical Algorithms, 2nd ed., chapter 25 (low accuracy) and 16 (refraction after
    Saemundsson), coefficients from memory; within 0.05° of Reda and Andreas, NREL/TP-560-34302.
    """
    if not (-90 <= latitude_deg <= 90 and -180 <= longitude_deg <= 180):
        raise ValueError(
            f"latitude -90..90 and longitude -180..180 deg, got {latitude_deg}, {longitude_deg}"
        )
    days = days_since_2000(moment)
    right_ascension, declination = equatorial(sun_longitude(days), 0.0, days)
    altitude, azimuth = horizontal(
        right_ascension, declination, days, latitude_deg=latitude_deg, longitude_deg=longitude_deg
    )
    return (altitude + refracted(altitude) if refraction else altitude), azimuth


def days_since_2000(moment: datetime) -> float:
    """Return the days since noon of 1 January 2000. [d]

    Parameters
    ----------
    moment : datetime
        With its time zone.
    """
    return julian_day(moment) - _J2000


def sun_longitude(days: float) -> float:
    """Return the sun's apparent longitude along the ecliptic.

    Parameters
    ----------
    days : float
        Since noon of 1 January 2000. [d]

    Returns
    -------
    float
        [rad]

    Source
    ------
    Meeus, Astronomical Algorithms, 2nd ed., chapter 25 (low accuracy), coefficients from memory.
    """
    century = days / 36525.0
    mean_longitude = 280.46646 + 36000.76983 * century
    anomaly = np.radians(357.52911 + 35999.05029 * century)
    centre = (
        (1.914602 - 0.004817 * century) * np.sin(anomaly)
        + 0.019993 * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    node = np.radians(125.04 - 1934.136 * century)
    return float(np.radians(mean_longitude + centre - 0.00569 - 0.00478 * np.sin(node)))


def equatorial(longitude: float, latitude: float, days: float) -> tuple[float, float]:
    """Return right ascension and declination of a place on the ecliptic's grid.

    Parameters
    ----------
    longitude, latitude : float
        Along the ecliptic, and north of it. [rad]
    days : float
        Since noon of 1 January 2000. [d]

    Returns
    -------
    (float, float)
        [rad]
    """
    century = days / 36525.0
    node = np.radians(125.04 - 1934.136 * century)
    tilt = np.radians(23.439291 - 0.0130042 * century + 0.00256 * np.cos(node))
    right_ascension = np.arctan2(
        np.sin(longitude) * np.cos(tilt) - np.tan(latitude) * np.sin(tilt), np.cos(longitude)
    )
    sine = np.sin(latitude) * np.cos(tilt) + np.cos(latitude) * np.sin(tilt) * np.sin(longitude)
    return float(right_ascension), float(np.arcsin(np.clip(sine, -1.0, 1.0)))


def horizontal(right_ascension: float, declination: float, days: float, *, latitude_deg: float,
               longitude_deg: float) -> tuple[float, float]:
    """Return altitude and azimuth of a place in the sky, seen from the middle of the Earth.

    Parameters
    ----------
    right_ascension, declination : float
        [rad]
    days : float
        Since noon of 1 January 2000. [d]
    latitude_deg, longitude_deg : float
        North and east are positive. [deg]

    Returns
    -------
    (float, float)
        Altitude above the horizon, and azimuth clockwise from true north. [deg]
    """
    sidereal = np.radians(280.46061837 + 360.98564736629 * days + longitude_deg)
    hour = sidereal - right_ascension
    latitude = np.radians(latitude_deg)
    east = -np.cos(declination) * np.sin(hour)
    north = np.sin(declination) * np.cos(latitude) - np.cos(declination) * np.cos(hour) * np.sin(
        latitude
    )
    up = np.sin(declination) * np.sin(latitude) + np.cos(declination) * np.cos(hour) * np.cos(
        latitude
    )
    altitude = float(np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))))
    return altitude, float(np.degrees(np.arctan2(east, north)) % 360.0)


def refracted(altitude: float) -> float:
    """Return how far the air lifts what stands at an altitude, at 1010 hPa and 10 °C.

    Parameters
    ----------
    altitude : float
        Without air. [deg]

    Returns
    -------
    float
        From 1° down to 2° down it goes to 0: what is not seen has no apparent place. [deg]

    Source
    ------
    Meeus, Astronomical Algorithms, 2nd ed., chapter 16 (after Saemundsson).
    """
    high = max(altitude, -1.0)
    lift = 1.02 / 60 / np.tan(np.radians(high + 10.3 / (high + 5.11)))
    return max(float(lift), 0.0) * min(max(2.0 + altitude, 0.0), 1.0)
