"""What is allowed in a scene and yet is hardly meant: things out of the room, in people, in walls.

`check` reports these of a good scene; nothing is refused for them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from previz.scene import geometry
from previz.scene.camera import Camera
from previz.scene.figure import Figure
from previz.scene.records import Place
from previz.scene.room import Opening, Room
from previz.scene.scene import Scene
from previz.units import show

Doubt = tuple[Place, str, str]
"""Place, message and advice."""

Point = tuple[float, float, float]

FORGIVEN = 0.02
"""A sheet may reach so far into a wall that it leans on. [m]"""

TRUNK = 0.11
"""How near to a figure's axis a point is surely in its body. [m]  Common practice, no source."""

USUAL_STATURE = 1.7
"""Of a figure that does not say its own. [m]"""

EYES = 0.93
"""Height of the eyes over stature. [1]  Source: ANSUR II, medians 1640 of 1755 mm, 1517 of 1626 mm."""

TORSO = 0.5
"""Height of a seated figure over its seat, over stature. [1]  Source: ANSUR II, medians 918 of 1755 mm,
857 of 1626 mm."""

SEAT = 0.45
"""Height of a seat that is not given. [m]"""


def rough_place(scene: Scene, name: str) -> Point | None:
    """Return about where a thing of the scene is, None where it has no place of its own. [m]

    A figure stands for its eyes, all parts of it alike.
    """
    for item in scene.all_items():
        if item.name != name:
            continue
        if isinstance(item, Figure):
            return _upright(item, EYES)
        if isinstance(item, Opening):
            return geometry.opening_middle(scene.room, item)
        return getattr(item, "at", None)
    return None


def _stature(figure) -> float:
    return USUAL_STATURE if figure.stature is None else figure.stature


def _upright(figure, share: float) -> Point:
    """Return a point over a figure's place: standing by its stature, seated by its torso."""
    x, y, z = figure.at
    if figure.pose == "lying":
        return x, y, z + 0.15
    if figure.pose in ("seated", "leaning"):
        seat = SEAT if figure.seat is None else figure.seat
        return x, y, z + seat + TORSO * _stature(figure) * share
    return x, y, z + _stature(figure) * share


def opening_points(room: Room, opening: Opening) -> list[Point]:
    """Return nine points of an opening, the fifth its middle. [m]"""
    across, deep, high = room.size
    points = []
    for up in (0.02, 0.5, 0.98):
        for along in (0.02, 0.5, 0.98):
            a = opening.along + along * opening.size[0]
            b = opening.sill + up * opening.size[1]
            points.append({"west": (0.0, a, b), "east": (across, a, b), "south": (a, 0.0, b),
                           "north": (a, deep, b), "ceiling": (a, b, high)}[opening.wall])
    return points


def is_outside(room: Room, point: Point) -> bool:
    """Return whether a point is not between the walls, over the floor and under a ceiling."""
    across, deep, high = room.size
    x, y, z = point
    return not (0 <= x <= across and 0 <= y <= deep and z >= 0 and (z <= high or not room.ceiling))


def doubts(scene: Scene) -> Iterator[Doubt]:
    """Yield what is hardly meant in a good scene."""
    if scene.room is not None:
        yield from _outside(scene)
        yield from _through_walls(scene)
    yield from _in_bodies(scene)
    yield from _mains(scene)


def _mains(scene) -> Iterator[Doubt]:
    """Yield circuits that are fused for more than what feeds them, and lamps that no circuit has to feed."""
    mains = scene.mains
    for circuit in mains.circuits:
        if None not in (circuit.breaker, mains.supply) and circuit.breaker > mains.supply:
            yield circuit.where("breaker"), (
                f"{circuit.label} is fused for {show(circuit.breaker, 'current')}, and the supply for "
                f"{show(mains.supply, 'current')}"
            ), "Check the two: the supply's fuse would go first."  # fmt: skip
    for light in scene.lights:
        if light.circuit and (light.flame or not light.mains):
            yield light.where("circuit"), f"{light.label} is on a circuit and draws nothing from the mains", (
                "Leave out 'circuit', or write another kind of lamp."
            )  # fmt: skip


def _outside(scene) -> Iterator[Doubt]:
    room = scene.room
    across, deep, high = (show(each, "length") for each in room.size)
    inside = f"inside the room x runs from 0 m to {across}, y to {deep} and z to {high}"
    shot_outside = any(is_outside(room, camera.at) for camera in scene.cameras)
    for item in (*scene.cameras, *_lamps(scene)):
        if not is_outside(room, item.at):
            continue
        aim = getattr(item, "aim", None)
        at = None if aim is None else aim.point or rough_place(scene, aim.name)
        if at is not None and is_outside(room, at):
            continue
        if at is None and shot_outside:
            continue
        if not _looks_in(room, item, at):
            sees = "sees" if isinstance(item, Camera) else "lights"
            yield item.where("at"), (
                f"{item.label} is outside the room and no opening is before it, so it {sees} nothing in "
                "there"
            ), f"Move it in ({inside}), or before a window or a door."  # fmt: skip


def _lamps(scene) -> list:
    """Return the lamps that are things of their own."""
    return [light for light in scene.lights if light.kind != "glow"]


def _looks_in(room, item, aim) -> bool:
    """Return whether a camera or lamp outside has an opening before it."""
    x, y, z = item.at
    across, deep, high = room.size
    beyond = {"west": x < 0, "east": x > across, "south": y < 0, "north": y > deep,
              "ceiling": z > high}  # fmt: skip
    if not room.ceiling and z > high:
        return True
    widest = _half_view(item) if isinstance(item, Camera) else math.pi / 2
    for opening in room.openings:
        if not beyond[opening.wall]:
            continue
        if aim is None or any(_angle(item.at, aim, p) <= widest for p in opening_points(room, opening)):
            return True
    return False


def _half_view(camera) -> float:
    """Return half of the angle across a camera's picture, corner to corner. [rad]"""
    return math.atan(math.hypot(camera.sensor[0] * camera.squeeze, camera.sensor[1]) / 2 / camera.lens)


def _angle(at, one, other) -> float:
    a, b = ([q - p for p, q in zip(at, each, strict=True)] for each in (one, other))
    size = math.hypot(*a) * math.hypot(*b)
    if size == 0:
        return 0.0
    return math.acos(max(-1.0, min(1.0, sum(p * q for p, q in zip(a, b, strict=True)) / size)))


def _in_bodies(scene) -> Iterator[Doubt]:
    for item in (*scene.cameras, *_lamps(scene)):
        for figure in scene.figures:
            if _in_figure(figure, item.at):
                does = "sees the inside of it" if isinstance(item, Camera) else "lights its inside"
                yield item.where("at"), f"{item.label} is inside {figure.label} and {does}", (
                    "Move it out, or move the figure."
                )  # fmt: skip
        for lamp in scene.lights:
            radius = lamp.diameter / 2 if lamp.ball else 0.0
            if lamp is not item and math.dist(lamp.at, item.at) < radius:
                does = "sees nothing but it" if isinstance(item, Camera) else "lights only its inside"
                yield item.where("at"), f"{item.label} is inside {lamp.label} and {does}", (
                    "Move one of the two."
                )  # fmt: skip


def _in_figure(figure, point) -> bool:
    """Return whether a point is in a figure's trunk or head, as far as its place and pose show."""
    if figure.pose in ("lying", "leaning", "walking"):
        # Their trunks are not over their places.
        return False
    # Under the hips there is air between and around the legs.
    low, high = _upright(figure, 0.05 if figure.pose == "seated" else 0.5)[2], _upright(figure, 0.97)[2]
    x, y, z = point
    return low <= z <= high and math.hypot(x - figure.at[0], y - figure.at[1]) < TRUNK


def _through_walls(scene) -> Iterator[Doubt]:
    """Yield the boards, frames and other sheets that go through a wall."""
    room = scene.room
    for item in sheets(scene):
        middle, ends = _corners(scene, item)
        wall = geometry.wall_around(room, middle)
        advice = "Move it off the wall, or make it smaller."
        if wall:
            yield item.where("at" if item.at else "before"), f"{item.label} is in {wall}", advice
            continue
        if is_outside(room, middle):
            continue
        worst = max(((depth, name) for end in ends for depth, name in _crossings(room, middle, end)),
                    default=(0.0, ""))
        if worst[0] > FORGIVEN:
            yield item.where("at" if item.at else "before"), (
                f"{item.label} goes through {worst[1]} by {show(round(worst[0], 2), 'length')}"
            ), advice  # fmt: skip


def sheets(scene: Scene) -> tuple:
    """Return everything flat that stands in the light."""
    return (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets, *scene.grids)


def _corners(scene, item) -> tuple[Point, list[Point]]:
    """Return the middle and the corners of a sheet, as the stage will put them. [m]"""
    if item.at is not None:
        middle, facing = item.at, _point(scene, item.facing)
    else:
        lamp = next(each for each in scene.lights if each.name == item.before.name)
        direction = _unit(_minus(_point(scene, lamp.aim), lamp.at) if lamp.aim else (0.0, 0.0, -1.0))
        middle = tuple(a + b * item.distance for a, b in zip(lamp.at, direction, strict=True))
        facing = lamp.at
    ahead = _unit(_minus(facing, middle))
    level = _unit(_cross((0.0, 0.0, 1.0) if abs(ahead[2]) < 0.9999 else (0.0, 1.0, 0.0), ahead))
    up = _cross(ahead, level)
    cosine, sine = math.cos(math.radians(item.turn)), math.sin(math.radians(item.turn))
    across = [(a * cosine + b * sine) * item.size[0] / 2 for a, b in zip(level, up, strict=True)]
    rise = [(b * cosine - a * sine) * item.size[1] / 2 for a, b in zip(level, up, strict=True)]
    ends = [tuple(m + a * x + b * y for m, x, y in zip(middle, across, rise, strict=True))
            for a in (-1, 1) for b in (-1, 1)]
    return middle, ends


def _point(scene, target) -> Point:
    """Return about where a target is; the middle of the world for what has no place yet."""
    if target.point is not None:
        return target.point
    return rough_place(scene, target.name) or (0.0, 0.0, 0.0)


def _minus(one, other) -> Point:
    return tuple(a - b for a, b in zip(one, other, strict=True))


def _cross(a, b) -> Point:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def _unit(direction) -> Point:
    size = math.hypot(*direction)
    return tuple(x / size for x in direction) if size > 1e-9 else (0.0, 1.0, 0.0)


def _crossings(room, middle, end) -> Iterator[tuple[float, str]]:
    """Yield how far beyond each wall a corner is, where it does not reach through an opening."""
    across, deep, high = room.size
    beyond = (("west", -end[0], 0), ("east", end[0] - across, 0), ("south", -end[1], 1),
              ("north", end[1] - deep, 1), ("floor", -end[2], 2),
              ("ceiling", end[2] - high if room.ceiling else -1.0, 2))
    for name, depth, axis in beyond:
        if depth <= 0:
            continue
        # Where the edge leaves the room, a hair inside the wall.
        share = 1 - (depth - 1e-4) / abs(end[axis] - middle[axis])
        place = tuple(a + (b - a) * share for a, b in zip(middle, end, strict=True))
        if geometry.wall_around(room, place):
            wall = f"the {name} wall" if name not in ("floor", "ceiling") else f"the {name}"
            yield depth, wall
