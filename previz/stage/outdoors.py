"""The light from outside: sun and sky."""

from __future__ import annotations

import numpy as np

from previz.physics import daylight as day
from previz.physics.lamps import spectrum_of
from previz.physics.light import LampLight
from previz.stage.records import Sky, Sun

SUN = "sun"
SKY = "sky"
CELLS = (64, 180)
"""Zenith and azimuth cells of a sky."""

LOWEST_SUN = 0.5
"""A sun or sky is not computed with the sun lower than this. [deg]"""


def compass(azimuth_deg: float, north_deg: float) -> float:
    """Return the angle counter-clockwise from +x of a compass bearing.

    Parameters
    ----------
    azimuth_deg : float
        Clockwise from true north. [deg]
    north_deg : float
        How far true north is turned clockwise from +y. [deg]
    """
    return 90.0 - (azimuth_deg + north_deg)


def lower_daylight(daylight, first_lamp: int) -> tuple[list[LampLight], Sun | None, Sky | None]:
    """Return the lamps that stand for sun and sky, and where they shine from.

    Parameters
    ----------
    daylight : scene.daylight.Daylight or None
    first_lamp : int
        Index that the first of them gets.
    """
    lamps: list[LampLight] = []
    sun_at = sky_at = None
    if daylight is None:
        return lamps, None, None
    ones = np.ones(81)
    sun = daylight.sun
    altitude = 45.0 if sun is None else max(sun.altitude, LOWEST_SUN)
    bearing = 0.0 if sun is None else compass(sun.azimuth, daylight.north)
    if sun is not None and sun.illuminance != 0:
        output = sun.illuminance
        if output is None:
            output = float(day.sun_illuminance(altitude))
        spectrum = (day.sun_spectrum(altitude) if sun.cct is None
                    else spectrum_of("daylight" if sun.cct >= 4000 else "blackbody", sun.cct))
        up, turn = np.radians(altitude), np.radians(bearing)
        towards = np.array([np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.sin(up)])
        sun_at = Sun(first_lamp + len(lamps), towards, day.SUN_ANGLE_DEG)
        lamps.append(LampLight(SUN, "lx", output, spectrum, ones))
    if daylight.sky != "none":
        output = daylight.illuminance
        if output is None:
            output = float(day.overcast_illuminance(altitude))
        cct = daylight.sky_cct or day.SKY_CCT[daylight.sky]
        dome = day.sky_dome(daylight.sky, zenith_cells=CELLS[0], azimuth_cells=CELLS[1],
                            sun_altitude_deg=altitude, sun_azimuth_deg=bearing)
        sky_at = Sky(first_lamp + len(lamps), dome)
        lamps.append(LampLight(SKY, "lx", output, spectrum_of("daylight", cct), ones))
    return lamps, sun_at, sky_at
