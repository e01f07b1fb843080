"""Where things stand: openings that fit their walls, points inside walls and solid pieces."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from previz.scene.fields import INVALID
from previz.scene.figure import Figure
from previz.scene.piece import SOLID_SHAPES, Piece
from previz.scene.records import Item
from previz.scene.room import Opening, Room
from previz.units import show

Point = tuple[float, float, float]

NEAR = 1e-6
"""Rounding that is forgiven: a lamp at 2.7 m under a ceiling of 2.7 m is not in it. [m]"""


SAME_PLACE = 1e-6
"""Two points so near each other are one, and give no direction. [m]"""

FINEST = 8 * 2.0**-23
"""Least extent of a thing over how far it is from the origin: eight steps of a single-precision number,
as which positions are held. [1]  Source: IEEE 754, binary32."""


def too_fine(at: Point, extents: Iterable[float]) -> bool:
    """Return whether a thing of some extents [m] would lose its shape where it stands, for rounding."""
    return min(extents, default=math.inf) < FINEST * max(abs(each) for each in at)


def opening_middle(room: Room, opening: Opening, up: float = 0.5) -> Point:
    """Return the middle of an opening at its wall's inside face, or a share `up` of its height. [m]"""
    across, deep, high = room.size
    a = opening.along + opening.size[0] / 2
    b = opening.sill + up * opening.size[1]
    if opening.wall == "ceiling":
        return a, opening.sill + opening.size[1] / 2, high
    return {"west": (0.0, a, b), "east": (across, a, b), "south": (a, 0.0, b),
            "north": (a, deep, b)}[opening.wall]


def part_of_thing(room: Room | None, thing: Item, part: str | None) -> Point | None:
    """Return where a part of a thing is, 'top' or its middle; None where only a build shows it. [m]

    Meshes and figures are as their files and poses have them; what stands before a lamp goes with that.
    """
    top = part == "top"
    if isinstance(thing, Opening):
        if room is None or INVALID in (room.size, thing.along, thing.sill, thing.size, thing.wall):
            return None
        return opening_middle(room, thing, 1.0 if top else 0.5)
    at = getattr(thing, "at", None)
    if at in (None, INVALID) or isinstance(thing, Figure):
        return None
    if isinstance(thing, Piece):
        if thing.size in (None, INVALID):
            return None
        return at[0], at[1], at[2] + thing.size[2] * (1.0 if top else 0.5)
    return at


def _wall_extent(room: Room, wall: str) -> tuple[float, float]:
    """Return how far a wall runs along and up; for the ceiling, in x and y. [m]"""
    across, deep, high = room.size
    if wall == "ceiling":
        return across, deep
    return (across if wall in ("north", "south") else deep), high


def opening_faults(room: Room) -> Iterator[tuple[Opening, str, str, str]]:
    """Yield each opening that cannot be where it is: opening, field, message and advice.

    Parameters
    ----------
    room : Room
        Openings that hold `INVALID` are passed over.
    """
    if room.size is INVALID:
        return
    placed = []
    for each in room.openings:
        if INVALID in (each.wall, each.along, each.sill, each.size):
            continue
        if each.wall == "ceiling" and room.ceiling is False:
            message = f"{each.label} is in the ceiling of a room that has none"
            yield each, "wall", message, "Choose a wall, or leave out 'ceiling: no'."
            continue
        fault = _unfit(room, each)
        if fault:
            yield each, *fault
        other = next((one for one in placed if _overlap(one, each)), None)
        if other:
            message = f"{each.label} overlaps {other.label} on line {other.place.line}"
            yield each, "along", message, "Move one of them, or make it smaller."
        placed.append(each)


def _unfit(room, opening):
    where = "the ceiling" if opening.wall == "ceiling" else f"the {opening.wall} wall"
    names = ("along", "sill")
    extents = _wall_extent(room, opening.wall)
    for name, start, size, extent in zip(
        names, (opening.along, opening.sill), opening.size, extents, strict=True
    ):
        if start + size > extent + NEAR:
            message = (
                f"{opening.label} ends at {show(start + size, 'length')} and {where} at "
                f"{show(extent, 'length')}"
            )
            return name, message, f"Make '{name}' or 'size' smaller."
    return None


def _overlap(one, other):
    if one.wall != other.wall:
        return False
    return all(
        min(a + b, c + d) - max(a, c) > NEAR
        for a, b, c, d in zip(
            (one.along, one.sill), one.size, (other.along, other.sill), other.size, strict=True
        )
    )


def wall_around(room: Room, point: Point) -> str | None:
    """Return what part of the room a point [m] is inside of, such as 'the west wall'; None for none.

    An opening in it is not part of a wall, nor is any place beyond its outer side.
    """
    if INVALID in (room.size, room.wall_thickness):
        return None
    x, y, z = point
    across, deep, high = room.size
    thick = room.wall_thickness
    below_top = z < high + (thick if room.ceiling else 0.0) - NEAR
    if not (
        -thick + NEAR < x < across + thick - NEAR
        and -thick + NEAR < y < deep + thick - NEAR
        and -thick + NEAR < z
        and below_top
    ):
        return None
    sides = {
        "west": x < -NEAR, "east": x > across + NEAR, "south": y < -NEAR, "north": y > deep + NEAR,
    }  # fmt: skip
    crossed = [name for name, beyond in sides.items() if beyond]
    if z < -NEAR:
        return "the floor"
    if z > high + NEAR:
        return None if not crossed and _in_opening(room, "ceiling", x, y) else "the ceiling"
    if len(crossed) > 1:
        return f"the corner of the {crossed[0]} and {crossed[1]} walls"
    if crossed:
        along = x if crossed[0] in ("north", "south") else y
        return None if _in_opening(room, crossed[0], along, z) else f"the {crossed[0]} wall"
    return None


def _in_opening(room, wall, along, up):
    return any(
        each.wall == wall
        and INVALID not in (each.along, each.sill, each.size)
        and each.along < along < each.along + each.size[0]
        and each.sill < up < each.sill + each.size[1]
        for each in room.openings
    )


def is_inside(piece: Piece, point: Point) -> bool:
    """Return whether a point [m] is inside a piece; anything but a solid shape has no inside."""
    if piece.shape not in SOLID_SHAPES or INVALID in (piece.at, piece.size, piece.turn):
        return False
    if piece.size is None:
        return False
    east, north, up = (a - b for a, b in zip(point, piece.at, strict=True))
    turn = math.radians(piece.turn)
    across = east * math.cos(turn) + north * math.sin(turn)
    deep = north * math.cos(turn) - east * math.sin(turn)
    width, depth, height = (each / 2 for each in piece.size)
    up -= height
    if piece.shape == "sphere":
        return (across / width) ** 2 + (deep / depth) ** 2 + (up / height) ** 2 < 1 - NEAR
    if abs(up) >= height - NEAR:
        return False
    if piece.shape == "cylinder":
        return (across / width) ** 2 + (deep / depth) ** 2 < 1 - NEAR
    return abs(across) < width - NEAR and abs(deep) < depth - NEAR
