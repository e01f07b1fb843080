"""Walls where they are cut, and the openings in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import box

from previz.plans.outlines import CUT, footprints, rings
from previz.plans.records import Shape
from previz.scene.room import Opening, Room
from previz.scene.scene import Scene
from previz.stage.records import Stage

SIDES = ("south", "east", "north", "west")


@dataclass(frozen=True)
class Hole:
    """Where an opening lies in its wall, from above: low and high corner. [m]"""

    low: tuple[float, float]
    high: tuple[float, float]

    @property
    def middle(self) -> np.ndarray:
        """Shape (2,). [m]"""
        return (np.array(self.low) + self.high) / 2


def outer(room: Room) -> tuple[np.ndarray, np.ndarray]:
    """Return the low and the high corner of a room's walls, from outside. [m]"""
    thick = room.wall_thickness
    return np.array([-thick, -thick]), np.array([room.size[0] + thick, room.size[1] + thick])


def hole_of(room: Room, opening: Opening) -> Hole:
    """Return where an opening lies from above."""
    across, deep, _ = room.size
    thick, one, two = room.wall_thickness, opening.along, opening.along + opening.size[0]
    if opening.wall == "ceiling":
        return Hole((one, opening.sill), (two, opening.sill + opening.size[1]))
    return {
        "west": Hole((-thick, one), (0.0, two)), "east": Hole((across, one), (across + thick, two)),
        "south": Hole((one, -thick), (two, 0.0)), "north": Hole((one, deep), (two, deep + thick)),
    }[opening.wall]


def is_cut(opening: Opening) -> bool:
    """Whether the cut goes through an opening."""
    return opening.wall != "ceiling" and opening.sill < CUT < opening.sill + opening.size[1]


def wall_shapes(room: Room) -> Iterator[Shape]:
    """Yield the walls as they are cut: filled, and round all of it one outline."""
    low, high = outer(room)
    across, deep, _ = room.size
    # They overlap in the corners, so that no seam shows there.
    bands = {"south": box(*low, high[0], 0), "north": box(low[0], deep, *high),
             "west": box(*low, 0, high[1]), "east": box(across, low[1], *high)}
    holes = shapely.union_all([box(*hole.low, *hole.high) for opening in room.openings if is_cut(opening)
                               for hole in (hole_of(room, opening),)])
    for side, band in bands.items():
        for points, _ in rings(band.difference(holes)):
            yield Shape("walls", points, True, "", "cut", f"{side} wall", "cut")
    whole = box(*low, *high).difference(box(0, 0, across, deep)).difference(holes)
    for points, _ in rings(whole):
        yield Shape("walls", points, True, "cut", "", "walls", "outline")


def opening_shapes(scene: Scene, stage: Stage) -> Iterator[Shape]:
    """Yield what is drawn of openings: sills, glass, bars and what hangs there; over the cut dashed."""
    assert scene.room is not None
    room = scene.room
    hung = footprints(stage, (each.name for each in room.openings))
    for opening in room.openings:
        hole, name = hole_of(room, opening), opening.name
        low, high = np.array(hole.low), np.array(hole.high)
        corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
        if not is_cut(opening):
            # One in the ceiling lies over all that is drawn, and so on its layer.
            above = opening.wall == "ceiling"
            yield Shape("pieces" if above else "openings", corners, True, "hidden", "", name, "overhead"
                        if above or opening.sill >= CUT else "below the cut")
            continue
        yield Shape("openings", corners, True, "", "paper", name, "outline")
        lengthwise = 0 if opening.wall in ("north", "south") else 1
        for level in (low[1 - lengthwise], high[1 - lengthwise]):
            # A sill is looked down on; over a door the wall goes on above the cut.
            yield Shape("openings", _line(low, high, lengthwise, level), False,
                        "outline" if opening.sill > 0 else "hidden", "", name,
                        "sill" if opening.sill > 0 else "head")
        for made in [hung[name]] if name in hung else []:
            for points, closed in rings(made.area):
                yield Shape("openings", points, closed, "thin", "paper", name, "bars")
        for pane in stage.panes:
            if pane.name == name:
                yield Shape("openings", _line(low, high, lengthwise, float(pane.centre[1 - lengthwise])),
                            False, "outline", "", name, "glass")


def _line(low: np.ndarray, high: np.ndarray, lengthwise: int, level: float) -> np.ndarray:
    ends = np.array([low, high])
    ends[:, 1 - lengthwise] = level
    return ends
