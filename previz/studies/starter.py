"""A first scene file, written from a room's size, a window and a person.

The person sits at the window and the camera looks along that wall, so that the window lights one side of
the face; a lamp stands in shot behind, and a small box helps the window, or at night the lamp. Stop and
filter are set for about what the face gets.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from previz.errors import RequestError
from previz.physics.exposure import full_stop_series
from previz.scene.figure import PERSONS
from previz.scene.room import WALLS as OPENING_WALLS
from previz.scene.writing import number

WALLS = tuple(wall for wall in OPENING_WALLS if wall != "ceiling")
"""Where the window can be."""

LEAST_ROOM = (2.4, 2.4, 2.2)
"""Least room that a seated person, a lamp and a camera fit into. [m]  Common practice, no source."""

MOST_ROOM = (60.0, 60.0, 20.0)
"""Greatest room that one window and one lamp make sense in. [m]  Common practice, no source."""

FACE = 1.2
"""Height of a seated face. [m]  Common practice, no source."""

MARGIN = 0.15
"""Least wall beside and over a window. [m]"""


@dataclass(frozen=True)
class Outside:
    """The light outside, and what follows from it.

    Parameters
    ----------
    lux : float
        From the whole sky, on open level ground; 0 for night. [lx]
    sky : float
        Its colour temperature. [K]
    white_balance, helper : float
        Of the camera, and of the small box. [K]
    box : float
        What the small box gives the face. [lx]
    """

    lux: float
    sky: float
    white_balance: float
    helper: float
    box: float


OUTSIDE = {
    "day": Outside(6000.0, 6500.0, 5000.0, 5600.0, 300.0),
    "dusk": Outside(200.0, 9000.0, 3800.0, 5600.0, 120.0),
    "night": Outside(0.0, 9000.0, 3200.0, 3000.0, 120.0),
}
"""Common practice, no source."""


@dataclass(frozen=True)
class Start:
    """What a starter scene is written from.

    Parameters
    ----------
    room : (float, float, float)
        Across, deep, high. [m]
    wall : str
        One of `WALLS`, with the window.
    window : (float, float)
        Width and height. [m]
    person : str
        One of the built-in persons.
    outside : str
        One of `OUTSIDE`.
    title : str
    """

    room: tuple[float, float, float]
    wall: str
    window: tuple[float, float]
    person: str
    outside: str
    title: str


def check_start(start: Start) -> None:
    """Refuse what no scene can be written from.

    Raises
    ------
    RequestError
        The room is too small or too large, or the window does not fit its wall; says what would do.
    """
    for given, least, most, what in zip(start.room, LEAST_ROOM, MOST_ROOM, ("across", "deep", "high"),
                                        strict=True):
        if not least <= given <= most:
            raise RequestError(f"A room of {number(given)} m {what} is out of range for a starter scene; "
                               f"write {number(least)} m to {number(most)} m, or write the scene by hand.")
    if start.person not in PERSONS:
        raise RequestError(f"There is no '{start.person}'; write one of: {', '.join(PERSONS)}.")
    _, along = _extents(start)
    wide, high = along - 2 * MARGIN, start.room[2] - 2 * MARGIN
    width, height = start.window
    if not (0.2 <= width <= wide and 0.2 <= height <= high):
        widest, highest = (number(math.floor(100 * each) / 100) for each in (wide, high))
        raise RequestError(
            f"A window of {number(width)} m x {number(height)} m does not fit the {start.wall} wall; write "
            f"0.2 m to {widest} m across and 0.2 m to {highest} m high.")


def usual_window(room: tuple[float, float, float], wall: str) -> tuple[float, float]:
    """Return a window that suits a wall of a room: width and height. [m]"""
    along = room[1] if wall in ("east", "west") else room[0]
    return min(1.5, round(along - 2 * MARGIN - 0.6, 2)), min(1.2, round(room[2] - 1.1, 2))


def _extents(start: Start) -> tuple[float, float]:
    """Return how far the room goes in from the window's wall, and along it. [m]"""
    across, deep, _ = start.room
    return (across, deep) if start.wall in ("east", "west") else (deep, across)


@dataclass(frozen=True)
class _Layout:
    """Where things stand: (in from the window's wall, along it), and the way to the set's axes."""

    person: tuple[float, float]
    camera: tuple[float, float]
    table: tuple[float, float]
    helper: tuple[float, float]
    window: float
    sill: float
    to_set: Callable[[tuple[float, float]], tuple[float, float]]

    def at(self, place: tuple[float, float], *height: float) -> str:
        """Return a place as a point of the scene file."""
        return _metres((*self.to_set(place), *height))

    def facing(self) -> float:
        """Return the azimuth that the person faces: to the camera, turned to the window. [deg]"""
        towards = np.subtract(self.camera, self.person)
        towards = towards / np.linalg.norm(towards) + [-0.45, 0.0]
        there = (self.person[0] + towards[0], self.person[1] + towards[1])
        ahead = np.subtract(self.to_set(there), self.to_set(self.person))
        return round(math.degrees(math.atan2(ahead[1], ahead[0])) % 360)


def _layout(start: Start) -> _Layout:
    far, along = _extents(start)
    across, deep, high = start.room
    to_set = {"west": lambda p: p, "east": lambda p: (across - p[0], p[1]),
              "south": lambda p: (p[1], p[0]), "north": lambda p: (p[1], deep - p[0])}[start.wall]
    width, height = start.window
    person = (min(max(0.36 * far, 0.95), 1.6), min(max(0.55 * along, along - 3.2), along - 1.0))
    back = min(2.3, person[1] - 0.3)
    camera = (min(person[0] + 0.5, far - 0.3), person[1] - back)
    table = (min(person[0] + 0.45, far - 0.35), min(person[1] + 0.95, along - 0.35))
    # By day the box stands between window and camera; at night on the lamp's side of the camera.
    before = person[1] - min(0.8, 0.5 * back)
    helper = (min(person[0] + 1.0, far - 0.25) if start.outside == "night" else max(person[0] - 0.8, 0.2),
              max(before, 0.3))
    middle = min(max(person[1] + 0.2, width / 2 + MARGIN), along - width / 2 - MARGIN)
    sill = min(0.9, round(high - height - MARGIN, 2))
    return _Layout(person, camera, table, helper, round(middle - width / 2, 2), sill, to_set)


def _window_lux(start: Start, layout: _Layout) -> float:
    """Return about what a face that is turned half to the window gets from its sky. [lx]

    The CIE overcast sky has at 15 deg a luminance of 0.21 of its horizontal illuminance (which is 7 pi / 9 of
    that of the zenith); nine tenths come through the glass.
    """
    width, height = start.window
    aside = layout.window + width / 2 - layout.person[1]
    distance = math.hypot(layout.person[0], aside, layout.sill + height / 2 - FACE)
    angle = width * height * layout.person[0] / distance / distance**2
    return 0.9 * 0.21 * OUTSIDE[start.outside].lux * min(angle, 2.0) * 0.7


def _exposure(lux: float) -> tuple[float, float]:
    """Return (T-stop, density) for a light at ISO 800 and 1/48 s: full stops from T2 to T5.6."""
    wanted = math.sqrt(lux * 800 / 48 / 250)
    stops = full_stop_series(2, 5)
    # A density of 0.6 is two stops: half the T-number.
    density = next((each for each in (0.0, 0.6, 1.2, 1.8)
                    if wanted * 10 ** (-each / 2) <= stops[-1] * 1.2), 2.4)
    nearest = stops[np.argmin(np.abs(np.log(stops * 10 ** (density / 2) / wanted)))]
    return float(f"{nearest:.2g}"), density


def starter(start: Start) -> str:
    """Return the text of a scene file that can be rendered as it stands.

    Raises
    ------
    RequestError
        See `check_start`.
    """
    check_start(start)
    layout = _layout(start)
    return f"""\
# One person at a window. Change a number, save, and render again: previz watch FILE
previz: 1
title: {_quoted(start.title)}

{_set(start, layout)}
{_person(start, layout)}
{_light(start, layout)}
{_camera(start, layout)}
# What 'previz balance FILE' finds levels for.
wants:
  - {{name: face at the stop, lit_side: person, stops: 0}}
  - {{name: fill two under, shadow_side: person, stops: -2}}

# Each option is this scene with a few values replaced; 'previz render FILE' shows them side by side.
options:
  with the helper: {{}}
  without it:
    lights: {{helper: {{on: no}}}}
"""


def _set(start: Start, layout: _Layout) -> str:
    """Return the room and what stands in it."""
    opening = (f"{{name: window, wall: {start.wall}, along: {number(layout.window)} m, "
               f"sill: {number(layout.sill)} m, size: {_metres(start.window)}}}")
    stool, table = layout.at(layout.person), layout.at(layout.table)
    return f"""\
# Across (east), deep (north), high. The floor's corner in the south-west is [0 m, 0 m].
room:
  size: {_metres(start.room)}
  surfaces: {{floor: dark oak, walls: {{name: cream paint, reflectance: 0.4}}, ceiling: white paint}}
  openings:
    - {opening}

ground: gravel

pieces:
  - {{name: stool, shape: stool, at: {stool}, size: [0.38 m, 0.38 m, 0.46 m], surface: pine}}
  - {{name: table, shape: table, at: {table}, size: [0.5 m, 0.5 m, 0.7 m], surface: dark oak}}
"""


def _person(start: Start, layout: _Layout) -> str:
    """Return who sits there, and the way they look."""
    seen = "A" if start.outside == "night" else "window"
    return f"""\
figures:
  - {{name: person, person: {start.person}, pose: seated, at: {layout.at(layout.person)}, seat: 0.46 m,
     facing: {layout.facing():g} deg, looking_at: {seen}}}
"""


def _light(start: Start, layout: _Layout) -> str:
    """Return daylight and lamps."""
    light, night = OUTSIDE[start.outside], start.outside == "night"
    sky = ("# No daylight: it is night." if night else "daylight: "
           f"{{sky: overcast, illuminance: {number(light.lux)} lx, sky_cct: {number(light.sky)} K}}")
    why = ("goes on from the lamp, so that the face is not left to it alone" if night
           else "goes on from the window, so that the face keeps its level when the day does not")
    height = _helper_height(start)
    reach = math.dist((*layout.helper, height), (*layout.person, FACE))
    lumens = round(light.box * math.pi * reach**2, -1)
    return f"""\
# What comes from outside.
{sky}

lights:
  # In shot: the lamp that the room seems to be lit by.
  - {{name: table lamp, kind: practical, at: {layout.at(layout.table, 1.1)}, output: 500 lm, cct: 2700 K,
     in_shot: yes}}
  # Out of shot: it {why}.
  - {{name: helper, kind: soft box, at: {layout.at(layout.helper, height)}, aim: person.face,
     size: [0.5 m, 0.4 m], output: {number(lumens)} lm, cct: {number(light.helper)} K}}
"""


def _camera(start: Start, layout: _Layout) -> str:
    """Return the camera, set for about what the face gets."""
    light = OUTSIDE[start.outside]
    stop, density = _exposure(0.75 * light.box + _window_lux(start, layout))
    nd = f"nd: {number(density)}, " if density else ""
    aim = (layout.person[0] - 0.25, layout.person[1])
    return f"""\
cameras:
  - {{name: A, at: {layout.at(layout.camera, 1.25)}, aim: {layout.at(aim, 1.15)}, focus: person.eyes,
     lens: 28 mm, stop: T{number(stop)}, iso: 800, {nd}white_balance: {number(light.white_balance)} K}}
"""


def _helper_height(start: Start) -> float:
    return min(1.75, start.room[2] - 0.3)


def _metres(numbers: Sequence[float]) -> str:
    """Return lengths as a list of a scene file. [m]"""
    return "[" + ", ".join(f"{number(round(each, 2))} m" for each in numbers) + "]"


def _quoted(text: str) -> str:
    """Return a text as YAML reads it back, in quotes."""
    return "'" + " ".join(text.split()).replace("'", "''") + "'"
