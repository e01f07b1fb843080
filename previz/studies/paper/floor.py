"""The floor of a scene as cables lie on it: walls, openings, pieces, where people go, what cameras see."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from previz.plans.areas import (
    Area,
    Place,
    everything_but,
    footprints,
    has,
    hull,
    is_empty,
    outline,
    room_walls,
    seen_floor,
    wall_gap,
    way_between,
)
from previz.plans.lines import Point
from previz.plans.routes import TOUCH, Floor, Gap, Route, runs_over
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.paper.support import LOW_PIECE

AROUND = 1.5
"""How far the floor goes on beyond all that stands on it. [m]"""

NEAR_FLOOR = 0.3
"""What stands lower than this is in the way of a cable. [m]"""

FLAT = 0.02
"""What is flatter, such as a carpet, is not told of as crossed. [m]"""

DOOR_SILL = 0.05
"""An opening whose sill is no higher is a door. [m]"""

OVER_SILL = ", over its sill"

SHUT = 1000.0
"""By how much longer another way may be than one through a glazed window. [m]  Common practice, no source."""

WAY_WIDTH = 0.8
"""Width of floor that somebody takes who goes or stands. [m]  Common practice, no source."""

OFF_WALL, BESIDE_DOOR = 0.3, 0.4
"""Where the distribution stands: off the wall, and to the side of a door. [m]  Common practice, no source."""

AT_CAMERA = 1.2
"""Width of floor that a camera's crew stand on, which no cable lies across if there is a way round. [m]
Common practice, no source."""

BEFORE_DOOR = 0.6
"""So far before a door its way begins. [m]  Common practice, no source."""

ANY_HEIGHT = 100.0
"""Tangent of half an angle of view that leaves nothing out above and below. [1]"""

BEHIND_CAMERA = 3.0
"""Where it stands without a room: so far behind the first camera. [m]  Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Way:
    """A place that is told of where a cable lies in it.

    Parameters
    ----------
    text : str
        As lists have it.
    shape : Polygon
        [m]
    through : str
        The door that it is before.
    least : float
        Less of a cable in it is none. [m]
    """

    text: str
    shape: Area
    through: str = ""
    least: float = TOUCH


@dataclass(frozen=True, eq=False)
class SceneFloor:
    """The floor of one option.

    Parameters
    ----------
    floor : Floor
    source, source_name : (float, float, float) and str
        Where the distribution stands [m], and what lists call it.
    ways : tuple of Way
        Of people, and pieces that a cable goes over.
    sills : dict of str to str
        What is said of openings with a sill.
    room : Polygon or None
        [m]
    """

    floor: Floor
    source: Point
    source_name: str
    ways: tuple[Way, ...]
    sills: Mapping[str, str]
    room: Area | None = None

    @property
    def rooms(self) -> tuple[Area, ...]:
        """The room, which no way to what is in it ends outside of. [m]"""
        return () if self.room is None else (self.room,)

    def crossed(self, route: Route) -> Iterator[str]:
        """Yield what a route goes through and across."""
        if not route.reaches:
            yield "no way without going through a wall"
        for name in route.gaps:
            yield f"{name}{self.sills.get(name, '')}"
        for way in self.ways:
            if way.through not in route.gaps and runs_over(route, way.shape, way.least):
                yield way.text


def floor_of(scene: Scene, stage: Stage, feet: Sequence[Place], source: Point | None = None,
             source_name: str = "") -> SceneFloor:
    """Return the floor of one option, with the distribution's place.

    Parameters
    ----------
    scene : Scene
    stage : Stage
        Built of it.
    feet : sequence of (float, float)
        What cables go to. [m]
    source : (float, float, float) or None
        Where the distribution stands, where that is given. [m]
    source_name : str
        What lists call it then.
    """
    solid, low_pieces = _pieces(scene, stage)
    people = list(_people(scene))
    gaps, sills = _gaps(scene)
    place, name = _source(scene, stage, feet, source, solid)
    name = source_name or name
    low, high = _extent(scene, [*feet, place[:2]])
    pictures = [_seen(scene, camera, low, high) for camera in stage.cameras]
    seen = [area for area in pictures if not is_empty(area)]
    walls = [room_walls(scene.room.size, scene.room.wall_thickness)] if scene.room else []
    crews = [way_between([_flat(camera.position)], AT_CAMERA) for camera in stage.cameras]
    floor = Floor(low, high, [*walls, *solid], gaps, [*seen, *crews, *(way.shape for way in people)])
    room = outline((0.0, 0.0), scene.room.size[:2]) if scene.room else None
    return SceneFloor(floor, place, name, (*people, *_before_doors(scene), *low_pieces), sills, room)


def _extent(scene: Scene, places: Sequence[Place]) -> tuple[Place, Place]:
    corners = [np.asarray(place, float) for place in places]
    if scene.room is not None:
        thick = scene.room.wall_thickness
        corners += [np.array([-thick, -thick]), np.array(scene.room.size[:2]) + thick]
    low, high = np.min(corners, axis=0) - AROUND, np.max(corners, axis=0) + AROUND
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _pieces(scene: Scene, stage: Stage) -> tuple[list[Area], list[Way]]:
    """Return what stands in a cable's way, and what is so low that it goes over."""
    solid: list[Area] = []
    over: list[Way] = []
    for piece in scene.pieces:
        meshes = [mesh for mesh in stage.meshes if mesh.name == piece.name]
        if not meshes:
            continue
        corners = np.concatenate([mesh.vertices for mesh in meshes])
        if corners[:, 2].min() > NEAR_FLOOR:
            continue
        if corners[:, 2].max() <= LOW_PIECE:
            if corners[:, 2].max() > FLAT:
                over.append(Way(f"over {piece.name}", hull(corners), least=FLAT))
        elif piece.mesh is not None:
            # What is under a machine is nobody's to lay cables through.
            solid.append(hull(corners[corners[:, 2] < NEAR_FLOOR]))
        else:
            for mesh in meshes:
                solid += footprints(mesh.vertices, mesh.faces, LOW_PIECE / 2, NEAR_FLOOR)
    return solid, over


def _people(scene: Scene) -> Iterator[Way]:
    for figure in scene.figures:
        home = figure.home or figure
        stops = [("", home.at), *((mark.name, mark.at) for mark in home.marks)]
        if len(stops) == 1:
            yield Way(f"place of {figure.name}", way_between([_flat(figure.at)], WAY_WIDTH))
        for (one, start), (other, end) in pairwise(stops):
            begin = f"from {one} " if one else ""
            yield Way(f"way of {figure.name} {begin}to {other}",
                      way_between([_flat(start), _flat(end)], WAY_WIDTH))


def _flat(at: Any) -> Place:
    return float(at[0]), float(at[1])


def _gaps(scene: Scene) -> tuple[list[Gap], dict[str, str]]:
    """Return the openings that cables may go through, and what is said of those with a sill."""
    gaps, sills = [], {}
    room = scene.room
    for opening in room.openings if room else ():
        if opening.wall == "ceiling":
            continue
        assert room is not None
        shape = wall_gap(room.size, room.wall_thickness, opening.wall, opening.along, opening.size[0])
        is_shut = opening.sill > DOOR_SILL and opening.glass != "none"
        sill = opening.sill if opening.sill > DOOR_SILL else 0.0
        if sill:
            sills[opening.name] = OVER_SILL + (", to stand open" if is_shut else "")
        along = "x" if opening.wall in ("north", "south") else "y"
        gaps.append(Gap(opening.name, shape, along, 2 * sill, SHUT if is_shut else 0.0))
    return gaps, sills


def _before_doors(scene: Scene) -> Iterator[Way]:
    """Yield the floor before each door, inside and outside, that everybody goes over who goes through."""
    room = scene.room
    for opening in room.openings if room else ():
        if opening.wall == "ceiling" or opening.sill > DOOR_SILL:
            continue
        assert room is not None
        deep = room.wall_thickness + BEFORE_DOOR
        for shape in (wall_gap(room.size, deep, opening.wall, opening.along, opening.size[0]),
                      wall_gap(room.size, -BEFORE_DOOR, opening.wall, opening.along, opening.size[0])):
            yield Way(f"before {opening.name}", shape, opening.name)


def _seen(scene: Scene, camera: Any, low: Place, high: Place, whole: bool = False) -> Area:
    """Return the floor in a camera's picture: of the room that it is in, or of all that is outside.

    With `whole` also what is under the picture or over it, where what stands there may be seen.
    """
    within = None
    if scene.room is not None:
        inside = outline((0.0, 0.0), scene.room.size[:2])
        at = camera.position
        within = inside if has(inside, (float(at[0]), float(at[1]))) else everything_but(
            inside, low, high)
    across, up = camera.tan_half
    return seen_floor(camera.position, camera.world_from_camera, (across, ANY_HEIGHT if whole else up), low,
                      high, within)


def _source(scene: Scene, stage: Stage, feet: Sequence[Place], source: Point | None,
            solid: Sequence[Area]) -> tuple[Point, str]:
    """Return where the distribution stands [m], and what lists call it."""
    written = source if source is not None else getattr(scene.mains, "at", None)
    if written is not None:
        x, y, z = (float(each) for each in written)
        return (x, y, max(z, 0.0)), "distribution"
    middle = np.mean(np.asarray(feet, float), axis=0) if feet else np.zeros(2)
    room = scene.room
    if room is None:
        return _without_room(stage, middle)
    doors = [opening for opening in room.openings if opening.wall != "ceiling" and opening.sill <= DOOR_SILL]
    if doors:
        places = [(at, f"box by {door.name}") for door in doors for at in _at_door(room, door)]
        (x, y), name = min(places, key=lambda each: math.dist(each[0], middle))
        return (x, y, 0.0), name
    return _by_a_wall(scene, stage, middle, solid)


def _at_door(room: Any, door: Any) -> list[Place]:
    """Return the places on both sides of a door, by the wall inside, that there is wall for. [m]"""
    across, deep = room.size[:2]
    length = across if door.wall in ("north", "south") else deep
    sides = [door.along - BESIDE_DOOR, door.along + door.size[0] + BESIDE_DOOR]
    fitting = [along for along in sides if 0 < along < length] or [door.along + door.size[0] / 2]
    return [{"west": (OFF_WALL, along), "east": (across - OFF_WALL, along), "south": (along, OFF_WALL),
             "north": (along, deep - OFF_WALL)}[door.wall] for along in fitting]


def _by_a_wall(scene: Scene, stage: Stage, middle: np.ndarray, solid: Sequence[Area]) -> tuple[Point, str]:
    """Return a corner, or else a place by a wall, that is free, beside all pictures, near to the lamps."""
    assert scene.room is not None
    across, deep = scene.room.size[:2]
    off = min(OFF_WALL, across / 2, deep / 2)
    low, high = (0.0, 0.0), (across, deep)
    pictures = [_seen(scene, camera, low, high, whole=True) for camera in stage.cameras]
    places: dict[str, list[Place]] = {
        "in the south-west corner": [(off, off)],
        "in the south-east corner": [(across - off, off)],
        "in the north-east corner": [(across - off, deep - off)],
        "in the north-west corner": [(off, deep - off)]}
    along_x, along_y = (np.arange(off, side, off)[1:].tolist() for side in (across, deep))
    places |= {"by the south wall": [(x, off) for x in along_x],
               "by the north wall": [(x, deep - off) for x in along_x],
               "by the west wall": [(off, y) for y in along_y],
               "by the east wall": [(across - off, y) for y in along_y]}

    def worth(choice: tuple[str, Place]) -> tuple[bool, bool, bool, float]:
        name, at = choice
        return (any(has(area, at) for area in solid), any(has(area, at) for area in pictures),
                "corner" not in name, math.dist(at, middle))

    name, at = min(((name, at) for name, group in places.items() for at in group), key=worth)
    return (*at, 0.0), f"box {name}"


def _without_room(stage: Stage, middle: np.ndarray) -> tuple[Point, str]:
    if not stage.cameras:
        return (float(middle[0]), float(middle[1]) - BEHIND_CAMERA, 0.0), "box beside the lamps"
    camera = stage.cameras[0]
    ahead = np.asarray(camera.world_from_camera, float)[:2, 2]
    size = float(np.hypot(*ahead))
    ahead = ahead / size if size > 1e-6 else np.array([0.0, 1.0])
    at = np.asarray(camera.position, float)[:2] - BEHIND_CAMERA * ahead
    return (float(at[0]), float(at[1]), 0.0), f"box behind camera {camera.name}"
