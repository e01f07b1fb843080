"""What all that is drawn on a plan has, and what it is drawn by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from shapely.geometry.base import BaseGeometry

from previz.plans.extent import Extent
from previz.plans.labels import Line
from previz.plans.lengths import said
from previz.plans.outlines import Footprint
from previz.plans.records import Disc, Mark, Shape
from previz.scene.scene import Scene
from previz.stage.build import BOOM_END
from previz.stage.records import Stage

NAME, MORE = 2.4, 2.1
"""Heights of the type: a name, and what follows it. [mm]"""


@dataclass(frozen=True, eq=False)
class Thing:
    """Something on a plan.

    Parameters
    ----------
    name : str
    at : float array, shape (2,)
        Where it is. [m]
    marks : tuple of marks
    solid : float array, shape (n, 2)
        Points of what a name is set beside, and no name is set on. [m]
    lines : tuple of Line
        What is written; () for nothing.
    number : str
    tag : str
        In the strips of dimensions; '' for none.
    optional : bool
        Its name may be left out.
    within : shapely geometry or None
        Where its name may also stand. [m]
    open : bool
        True where names may lie on it.
    outwards : (float, float)
        Where its name is to be rather, (0, 0) for anywhere.
    upright : bool
        Its name runs upwards.
    """

    name: str
    at: np.ndarray
    marks: tuple[Mark, ...]
    solid: np.ndarray
    lines: tuple[Line, ...] = ()
    number: str = ""
    tag: str = ""
    optional: bool = False
    within: BaseGeometry | None = None
    open: bool = False
    outwards: tuple[float, float] = (0.0, 0.0)
    upright: bool = False


@dataclass(frozen=True, eq=False)
class Drafting:
    """What all things are drawn by.

    Parameters
    ----------
    scene, stage, tags, system
        As `plan.draw_plan` has them.
    unit : float
        A mm of paper in m of the set.
    extent : Extent
        What is to scale.
    window : Extent
        What is drawn at all: with room for names round it.
    rim : Extent
        Where what stands farther away is drawn.
    prints : dict of str to Footprint
    """

    scene: Scene
    stage: Stage
    tags: dict[str, str]
    system: str
    unit: float
    extent: Extent
    window: Extent
    rim: Extent
    prints: dict[str, Footprint] = field(default_factory=dict)

    def said(self, length: float) -> str:
        """Return a length as it is written."""
        return said(length, self.system)

    def point(self, target: object) -> np.ndarray | None:
        """Return the point that a target means, shape (3,), None for no target. [m]"""
        if target is None:
            return None
        text, point = getattr(target, "text", ""), getattr(target, "point", None)
        return np.asarray(self.stage.places[text.strip()] if point is None else point, float)

    def far_lines(self, at: np.ndarray) -> list[Line]:
        """Return what is said of a thing beyond the edge: its true place."""
        if self.scene.room is None:
            return [Line(f"east {self.said(at[0])},", MORE), Line(f"north {self.said(at[1])}", MORE)]
        return [Line(f"{self.said(at[0])} from W wall,", MORE), Line(f"{self.said(at[1])} from S wall", MORE)]

    def boom(self, name: str) -> Iterator[Shape | Disc]:
        """Yield the boom that a thing hangs by, and the stand that takes it."""
        end = self.stage.places.get(name + BOOM_END)
        if end is not None and self.extent.has(end[:2]):
            start = np.asarray(self.stage.places[name], float)[:2]
            yield Shape("grip", np.array([start, end[:2]]), pen="hidden", name=name, part="boom")
            foot = float(end[0]), float(end[1])
            yield Disc("grip", foot, 0.9 * self.unit, "outline", "ink", name, "stand")

    def bounds(self, at: np.ndarray) -> Extent:
        """Return what bounds a line of sight from a point: the room that it is in, or the drawing."""
        if self.scene.room is not None:
            room = Extent(np.zeros(2), np.array(self.scene.room.size[:2], float))
            if room.has(at):
                return room
        return self.window
