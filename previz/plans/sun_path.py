"""The way of the sun on the scene's day, where it stands, and the moon: an inset beside a plan.

A circle of bearings as they lie on the plan, the horizon outside and the zenith in the middle; rings are
altitudes. All lengths are mm of paper about the middle of the inset.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.solar import sun_position
from previz.plans import symbols
from previz.plans.records import Disc, Shape, Words
from previz.stage.outdoors import resolved, shining

if TYPE_CHECKING:
    from previz.scene.daylight import Daylight
    from previz.scene.scene import Scene

RADIUS, MIDDLE = 14.5, 4.0
"""Of the horizon's circle, and its height in the inset. [mm]"""

RINGS = (30.0, 60.0)
"""Altitudes that have a ring. [deg]"""

STEP_MIN = 5
"""Between places of the sun. [min]"""

SIZE = 1.9
"""Height of the type. [mm]"""

Part = Shape | Disc | Words


def sun_path_inset(scene: Scene) -> tuple[Part, ...]:
    """Return an inset of 45 x 45 mm about (0, 0); () for a scene without sun, moon or time. [mm]"""
    daylight = scene.daylight
    if daylight is None or daylight.sun is None and daylight.moon is None and daylight.time is None:
        return ()
    return tuple(_inset(daylight))


def sky_place(azimuth: float, altitude: float, north: float) -> np.ndarray:
    """Return where a place in the sky lies in the inset, shape (2,). [mm]

    Parameters
    ----------
    azimuth, altitude : float
        Clockwise from true north; over the horizon. [deg]
    north : float
        How far true north is turned clockwise from the top of the plan. [deg]
    """
    turn = np.radians(90.0 - azimuth - north)
    away = RADIUS * (90.0 - altitude) / 90.0
    return np.array([away * np.cos(turn), away * np.sin(turn) + MIDDLE])


def _inset(daylight: Daylight) -> Iterator[Part]:
    north = daylight.north
    yield Disc("sheet", (0.0, MIDDLE), RADIUS, "outline", "", "sky", "horizon")
    for altitude in RINGS:
        yield Disc("sheet", (0.0, MIDDLE), RADIUS * (90 - altitude) / 90, "thin", "", "sky", "altitude")
    for letter, azimuth in (("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)):
        tick = [sky_place(azimuth, altitude, north) for altitude in (-5.0, 5.0)]
        yield Shape("sheet", np.array(tick), pen="outline", name="sky", part="bearing")
        x, y = sky_place(azimuth, -17.0, north)
        yield Words("sheet", (float(x), float(y - 0.36 * 2.3)), letter, 2.3, "centre", strong=letter == "N",
                    name="sky")
    told: list[str] = []
    path = np.zeros((0, 3))
    if daylight.time is not None:
        path = day_path(daylight)
        now = path[np.abs(path[:, 0] - 60 * daylight.time.hour - daylight.time.minute).argmin()]
        yield from _path(path, daylight, sky_place(now[1], now[2], north))
        told.append(_day_said(daylight, path))
    side = _free_side(path[path[:, 2] > 0])
    for altitude in RINGS:
        x, y = sky_place(side, altitude + 9.0, north)
        yield Words("sheet", (float(x), float(y - 0.36 * 1.7)), f"{altitude:.0f}°", 1.7, "centre", quiet=True,
                    name="sky")
    yield from _bodies(daylight, told)
    for count, text in enumerate(told):
        yield Words("sheet", (0.0, -17.2 - 2.4 * count), text, SIZE, "centre", name="sky")


def day_path(daylight: Daylight) -> np.ndarray:
    """Return the sun's places over the local day, shape (n, 3).

    Minutes since midnight [min], azimuth and altitude [deg].
    """
    assert daylight.time is not None and daylight.latitude is not None and daylight.longitude is not None
    midnight = daylight.time.replace(hour=0, minute=0, second=0, microsecond=0)
    rows = []
    for minutes in range(0, 24 * 60 + 1, STEP_MIN):
        moment = midnight + datetime.timedelta(minutes=minutes)
        altitude, azimuth = sun_position(moment, latitude_deg=daylight.latitude,
                                         longitude_deg=daylight.longitude)
        rows.append((minutes, azimuth, altitude))
    return np.array(rows, float)


def _free_side(path: np.ndarray) -> float:
    """Return the bearing on which figures of rings are farthest from the sun's way. [deg]"""
    if not len(path):
        return 0.0
    way = np.array([sky_place(azimuth, altitude + 8.0, 0.0) for _, azimuth, altitude in path])

    def room(side: float) -> float:
        spots = (sky_place(side, altitude + 9.0, 0.0) for altitude in RINGS)
        return min(float(np.hypot(*(way - spot).T).min()) for spot in spots)

    return float(max(np.arange(0.0, 360.0, 15.0), key=lambda side: round(room(float(side)), 3)))


def _path(path: np.ndarray, daylight: Daylight, sun: np.ndarray) -> Iterator[Part]:
    """Yield the sun's way over the horizon, with ticks at full hours and figures at some."""
    runs = np.split(path, np.nonzero(np.diff(path[:, 2] > 0))[0] + 1)
    for run in runs:
        if len(run) > 1 and run[0, 2] > 0:
            points = np.array([sky_place(azimuth, altitude, daylight.north) for _, azimuth, altitude in run])
            yield Shape("sheet", points, pen="outline", name="sun", part="sun path")
    hours = [row for row in path if row[2] > 0 and row[0] % 60 == 0 and row[0] < 24 * 60]
    every = 1 if len(hours) <= 5 else 2 if len(hours) <= 11 else 3
    for minutes, azimuth, altitude in hours:
        at = sky_place(azimuth, altitude, daylight.north)
        inwards = np.array([0.0, MIDDLE]) - at
        inwards = inwards / max(float(np.hypot(*inwards)), 1e-9)
        yield Shape("sheet", np.array([at - inwards * 0.6, at + inwards * 0.6]), pen="outline", name="sun",
                    part="hour")
        # The sun itself is not to be written over.
        if (minutes / 60) % every == 0 and np.hypot(*(at + inwards * 2.1 - sun)) > 3.0:
            x, y = at + inwards * 2.1
            yield Words("sheet", (float(x), float(y - 0.36 * 1.7)), f"{minutes / 60:.0f}", 1.7, "centre",
                        name="sun")


def _day_said(daylight: Daylight, path: np.ndarray) -> str:
    """Return the day with when the sun rises and sets."""
    assert daylight.time is not None
    day = f"{daylight.time:%Y-%m-%d}"
    up = path[:, 2] > 0
    turns = []
    for k in np.nonzero(up[1:] != up[:-1])[0]:
        (one, _, low), (two, _, high) = path[k], path[k + 1]
        minutes = round(one + (two - one) * low / (low - high))
        turns.append(f"{'up' if up[k + 1] else 'down'} {minutes // 60:02d}:{minutes % 60:02d}")
    if not turns:
        return f"{day}: the sun {'never sets' if up[0] else 'stays down'}"
    return f"{day}: sun {', '.join(turns)}"


def _bodies(daylight: Daylight, told: list[str]) -> Iterator[Part]:
    """Yield sun and moon where they stand, and tell it in words."""
    now, north = resolved(daylight), daylight.north
    clock = "" if daylight.time is None else f"{daylight.time:%H:%M} "
    shown = shining(now)
    sun = None if now.sun is None else (now.sun.azimuth, now.sun.altitude)
    if daylight.time is not None and daylight.latitude is not None and daylight.longitude is not None:
        altitude, azimuth = sun_position(daylight.time, latitude_deg=daylight.latitude,
                                         longitude_deg=daylight.longitude)
        sun = sun if now.sun is not None else (azimuth, altitude)
    if sun is not None and sun[0] is not None and sun[1] is not None and sun[1] > 0:
        yield from symbols.sun_marks(sky_place(sun[0], sun[1], north), 1.0, "sheet", 1.2)
        hidden = "" if shown is not None and shown[0] == "sun" else ", hidden"
        told.append(f"{clock}sun {sun[0]:.0f}°, {sun[1]:.0f}° high{hidden}")
    moon = now.moon
    if moon is not None and moon.altitude is not None and moon.altitude > 0 and moon.azimuth is not None:
        at = sky_place(moon.azimuth, moon.altitude, north)
        lit = 1.0 if moon.phase is None else float(moon.phase)
        yield from symbols.moon_marks(at, lit, _lit_side(daylight, at, sun), 1.0, "sheet", 1.4)
        told.append(f"{clock}moon {moon.azimuth:.0f}°, {moon.altitude:.0f}° high, {lit:.0%} lit")


def _lit_side(daylight: Daylight, at: np.ndarray, sun: tuple[float | None, float | None] | None) -> float:
    """Return where the moon's lit side points in the inset: to the sun, up or down, else right. [deg]"""
    if sun is None or sun[0] is None or sun[1] is None or daylight.time is None:
        return 0.0
    x, y = sky_place(sun[0], sun[1], daylight.north) - at
    return float(np.degrees(np.arctan2(y, x)))


