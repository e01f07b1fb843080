"""The light from outside: sun or moon, and the sky."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, overload

import numpy as np

from previz.physics import daylight as day
from previz.physics import moon as lunar
from previz.physics import sky_level
from previz.physics.lamps import spectrum_of
from previz.physics.light import LampLight
from previz.physics.solar import sun_position
from previz.stage.heavens import built_sky, with_face
from previz.stage.records import Sky, Sun

if TYPE_CHECKING:
    from previz.scene.daylight import Daylight

SUN = "sun"
MOON = "moon"
SKY = "sky"
CELLS = (64, 180)
"""Zenith and azimuth cells of a sky."""

LOWEST_SUN = 0.5
"""A sun or sky is not computed with the sun lower than this. [deg]"""

USUAL_ALTITUDE = 45.0
"""Altitude of the sun that a sky is taken to have that has none. [deg]"""


def compass(azimuth_deg: float, north_deg: float) -> float:
    """Return the angle counter-clockwise from +x of a compass bearing. [deg]

    Parameters
    ----------
    azimuth_deg : float
        Clockwise from true north. [deg]
    north_deg : float
        How far true north is turned clockwise from +y. [deg]
    """
    return 90.0 - (azimuth_deg + north_deg)


def sky_direction(azimuth_deg: float, altitude_deg: float, north_deg: float) -> np.ndarray:
    """Return the direction of a place in the sky, from bearings as in `compass`. Shape (3,)"""
    turn, up = np.radians(compass(azimuth_deg, north_deg)), np.radians(altitude_deg)
    return np.array([np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.sin(up)])


@overload
def resolved(daylight: Daylight) -> Daylight: ...


@overload
def resolved(daylight: None) -> None: ...


def resolved(daylight: Daylight | None) -> Daylight | None:
    """Return daylight with every place and strength as a number, no time left to follow from.

    A sun that is down keeps its place under the horizon and gives 0 lx; so does a moon that is
    down, or whose light the sun's drowns.
    """
    if daylight is None:
        return None
    sun, moon = daylight.sun, daylight.moon
    height = None
    if daylight.time is not None:
        spot = {"latitude_deg": daylight.latitude, "longitude_deg": daylight.longitude}
        height, bearing = sun_position(daylight.time, **spot)
        if sun is not None and sun.altitude is None:
            sun = replace(sun, altitude=height, azimuth=bearing)
    if sun is not None:
        sun = replace(sun, illuminance=_sun_level(sun))
    if moon is not None:
        moon = _moon(daylight, moon)
        if sun is not None and sun.illuminance > 0 or (height or 0.0) > 0:
            moon = replace(moon, illuminance=0.0)
    sky = daylight.illuminance
    if sky is None and daylight.sky != "none":
        sky = _sky_level(daylight.sky, sun, moon, height)
    return replace(daylight, sun=sun, moon=moon, illuminance=sky, time=None)


def _sun_level(sun) -> float:
    if sun.altitude < 0:
        return 0.0
    if sun.illuminance is not None:
        return sun.illuminance
    return sky_level.clear_sun_illuminance(sun.altitude)


def _moon(daylight, moon):
    """Return a moon with its place, phase and strength."""
    parallax = lunar.MEAN_PARALLAX_DEG
    angle = lunar.phase_angle(1.0 if moon.phase is None else moon.phase)
    altitude, azimuth = moon.altitude, moon.azimuth
    if altitude is None:
        place = lunar.moon_position(daylight.time, latitude_deg=daylight.latitude,
                                    longitude_deg=daylight.longitude)
        altitude, azimuth, parallax = place.altitude_deg, place.azimuth_deg, place.parallax_deg
        if moon.phase is None:
            angle = place.phase_angle_deg
    level = moon.illuminance
    if altitude <= 0:
        level = 0.0
    elif level is None:
        level = lunar.moon_illuminance(altitude, angle, parallax)
    lit = (1 + np.cos(np.radians(angle))) / 2
    return replace(moon, altitude=altitude, azimuth=azimuth, phase=float(lit), illuminance=level)


def _sky_level(sky: str, sun, moon, height: float | None) -> float:
    """Return what a sky gives by the altitudes of sun and moon. [lx]"""
    if height is None:
        height = sun.altitude if sun is not None else (None if moon is not None else USUAL_ALTITUDE)
    level = 0.0 if height is None else sky_level.sky_illuminance(sky, height)
    if moon is not None and moon.altitude > 0:
        # Air scatters the moon's light as it does the sun's.
        outside = lunar.moon_outside(lunar.phase_angle(moon.phase))
        level += sky_level.sky_illuminance(sky, moon.altitude, outside)
    return level + sky_level.STARLIGHT


def shining(daylight: Daylight | None):
    """Return ('sun' or 'moon', record) of what is in the sky of `resolved` daylight as a disc, or None."""
    if daylight is None:
        return None
    for name, body in ((SUN, daylight.sun), (MOON, daylight.moon)):
        if body is not None and body.illuminance != 0:
            return name, body
    return None


def _leading(daylight):
    """Return (altitude, azimuth) of the body that the sky is brightest round; numbers in deg."""
    found = shining(daylight)
    if found is not None:
        return max(found[1].altitude, LOWEST_SUN), found[1].azimuth
    for body in (daylight.sun, daylight.moon):
        if body is not None and (body.altitude >= 0 or body is daylight.sun):
            return max(body.altitude, LOWEST_SUN), body.azimuth
    return USUAL_ALTITUDE, None


def build_daylight(daylight: Daylight | None,
                   first_lamp: int) -> tuple[list[LampLight], Sun | None, Sky | None]:
    """Return the lamps that stand for sun (or moon) and sky, and where they shine from.

    `first_lamp` is the index that the first of them gets.
    """
    lamps: list[LampLight] = []
    disc = sky_at = None
    if daylight is None:
        return lamps, None, None
    daylight = resolved(daylight)
    ones = np.ones(81)
    altitude, azimuth = _leading(daylight)
    bearing = 0.0 if azimuth is None else compass(azimuth, daylight.north)
    found = shining(daylight)
    if found is not None:
        name, body = found
        own, angle = ((day.sun_spectrum, day.SUN_ANGLE_DEG) if name == SUN
                      else (lunar.moon_spectrum, lunar.MOON_ANGLE_DEG))
        spectrum = (own(altitude) if body.cct is None
                    else spectrum_of("daylight" if body.cct >= 4000 else "blackbody", body.cct))
        disc = Sun(first_lamp + len(lamps), sky_direction(azimuth, altitude, daylight.north), angle)
        if name == MOON and body.face:
            disc = with_face(disc, body, _sun_direction(daylight), (daylight.latitude or 0.0) < 0)
        lamps.append(LampLight(name, "lx", body.illuminance, spectrum, ones))
    if daylight.sky != "none":
        cct = daylight.sky_cct or day.SKY_CCT[daylight.sky]
        index = first_lamp + len(lamps)
        if daylight.clouds is not None or daylight.colours or daylight.stars:
            sky_at, cct = built_sky(index, daylight, altitude, bearing, cct, found is not None)
        else:
            sky_at = Sky(index, day.sky_dome(
                daylight.sky, zenith_cells=CELLS[0], azimuth_cells=CELLS[1], sun_altitude_deg=altitude,
                sun_azimuth_deg=bearing))
        lamps.append(LampLight(SKY, "lx", daylight.illuminance, spectrum_of("daylight", cct),
                               ones))
    return lamps, disc, sky_at


def _sun_direction(daylight) -> np.ndarray | None:
    """Return the unit vector to the sun, down as it may be, where its place is known. Shape (3,)"""
    sun = daylight.sun
    if sun is None or sun.altitude is None:
        return None
    return sky_direction(sun.azimuth, sun.altitude, daylight.north)
