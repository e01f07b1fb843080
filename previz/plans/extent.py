"""What of a scene a plan shows to scale, and what stands too far away for that.

A lamp for the sun, 30 m outside, would shrink a room to nothing. What stands far off is drawn at the edge, in
its true direction, with a break and its true coordinates.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from previz.plans.clip import clipped
from previz.plans.outlines import Footprint
from previz.plans.walls import outer
from previz.scene.figure import Figure
from previz.scene.scene import Scene
from previz.stage.records import Stage

NEAR = 0.4
"""How far outside something may stand and still be drawn to scale, over the longer side of the room. [1]"""

NEAREST, OUTDOORS = 1.5, 8.0
"""And never less than so far, round a room, and round people where there is none. [m]"""


@dataclass(frozen=True, eq=False)
class Extent:
    """A rectangle that is drawn to scale. [m]"""

    low: np.ndarray
    high: np.ndarray

    def has(self, at: np.ndarray) -> bool:
        """Whether a point lies in it."""
        return bool(np.all(at >= self.low - 1e-9) and np.all(at <= self.high + 1e-9))

    def grown(self, by: float) -> Extent:
        """Return the rectangle with so much more on every side. [m]"""
        return Extent(self.low - by, self.high + by)

    def edge_towards(self, inside: np.ndarray, outside: np.ndarray) -> np.ndarray:
        """Return where the line from a point to another leaves it; its nearest point if it never enters."""
        line = clipped(inside, outside, self.low, self.high)
        return np.clip(outside, self.low, self.high) if line is None else line[1]


def marks_of(figure: Figure) -> tuple[np.ndarray, list[tuple[str, np.ndarray]]]:
    """Return where a figure comes from, shape (2,), and name and place of each mark in turn. [m]"""
    home = figure if figure.home is None else figure.home
    return (np.array(home.at[:2], float),
            [(mark.name, np.array(mark.at[:2], float)) for mark in home.marks])


def extent_of(scene: Scene, stage: Stage, prints: Mapping[str, Footprint]) -> Extent:
    """Return what is drawn to scale of a scene."""
    core = _core(scene, prints)
    side = float((core.high - core.low).max())
    limit = core.grown(max(NEAR * side, OUTDOORS if scene.room is None else NEAREST))
    points = [core.low, core.high]
    if scene.room is None and limit.has(np.zeros(2)):
        points.append(np.zeros(2))
    for place in set_up(scene, stage).values():
        if limit.has(place):
            points.append(place)
    for piece in scene.pieces:
        if piece.name in prints:
            bounds = np.array(prints[piece.name].area.bounds).reshape(2, 2)
            if np.all(bounds[1] > limit.low) and np.all(bounds[0] < limit.high):
                points += list(np.clip(bounds, limit.low, limit.high))
    return Extent(np.min(points, axis=0), np.max(points, axis=0))


def set_up(scene: Scene, stage: Stage) -> dict[str, np.ndarray]:
    """Return name -> where it stands, of lamps, sheets, cameras, figures and their marks; shape (2,) [m]."""
    found = {rig.name: np.asarray(rig.position, float)[:2] for rig in stage.rig}
    found |= {grip.name: np.asarray(grip.position, float)[:2] for grip in stage.grip}
    found |= {camera.name: np.asarray(camera.position, float)[:2] for camera in stage.cameras}
    for figure in scene.figures:
        found[figure.name] = np.array(figure.at[:2], float)
        for mark, at in marks_of(figure)[1]:
            found[f"{figure.name}.{mark}"] = at
    return found


def _core(scene: Scene, prints: Mapping[str, Footprint]) -> Extent:
    """Return the walls' outside; without a room, where people go, else cameras, lamps or pieces."""
    if scene.room is not None:
        return Extent(*outer(scene.room))
    points = []
    for figure in scene.figures:
        points += [np.array(figure.at[:2], float), *(at for _, at in marks_of(figure)[1])]
    if not points:
        points = [np.array(camera.at[:2], float) for camera in scene.cameras]
    if not points:
        points = [np.array(light.at[:2], float) for light in scene.lights if light.at is not None]
    if not points:
        points = [np.array(prints[each.name].area.centroid.coords[0]) for each in scene.pieces
                  if each.name in prints]
    if not points:
        points = [np.zeros(2)]
    low, high = np.min(points, axis=0), np.max(points, axis=0)
    # Something always has an extent: two metres round a lone thing.
    short = np.maximum(2.0 - (high - low), 0.0) / 2
    return Extent(low - short, high + short)
