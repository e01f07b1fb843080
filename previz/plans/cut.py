"""Where a section is cut: an upright plane along a line of the floor; and the set as seen square to it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from previz.errors import RequestError
from previz.plans import symbols
from previz.plans.drafting import NAME, Thing
from previz.plans.labels import Line
from previz.plans.lengths import METRIC, said
from previz.plans.records import Shape
from previz.units import UnitError, parse

if TYPE_CHECKING:
    from previz.scene.scene import Scene
    from previz.stage.records import Stage

SHORTEST = 0.05
"""Two points nearer than that give no direction that a tape could follow. [m]"""

EXAMPLES = "'y = 1.5 m', 'x = 2 m', '0.5 m, 0.2 m to 4.7 m, 3.4 m' or 'key to clerk'"

_AXIS = re.compile(r"\s*([xy])\s*=\s*(.+?)\s*", re.IGNORECASE)
_TO = re.compile(r"\s*(.+?)\s+to\s+(.+?)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Cut:
    """An upright plane, and which way one looks at it.

    Parameters
    ----------
    start : (float, float)
        Where lengths along it count from: where it enters the room, or its first point. [m]
    along : (float, float)
        Unit vector to the right; one looks to the left of it as seen from above.
    text : str
        In words: 'y = 1.50 m'.
    length : float
        From where it enters the set to where it leaves it. [m]
    through : str
        What it was laid through where nobody wrote it; '' for none.
    """

    start: tuple[float, float]
    along: tuple[float, float]
    text: str = ""
    length: float = 0.0
    through: str = ""

    @property
    def ahead(self) -> np.ndarray:
        """Unit vector that one looks along, shape (2,)."""
        return np.array([-self.along[1], self.along[0]])

    @property
    def axes(self) -> np.ndarray:
        """The section's own axes in the set: along, up, and towards whoever looks. Rows, shape (3, 3)"""
        return np.array([[*self.along, 0.0], [0.0, 0.0, 1.0], [*-self.ahead, 0.0]])

    def turned(self, points: np.ndarray) -> np.ndarray:
        """Return points in the section's axes: along, height, how far this side. Shape (..., 3) [m]"""
        return np.asarray((np.asarray(points, float) - [*self.start, 0.0]) @ self.axes.T)

    @property
    def looking(self) -> str:
        """Which way one looks, by the set's own north (+y)."""
        bearing = float(np.degrees(np.arctan2(self.ahead[0], self.ahead[1]))) % 360
        names = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
        even = abs((bearing + 22.5) % 45 - 22.5) < 0.5
        return names[round(bearing / 45) % 8] if even else f"to {bearing:.0f}°"


def cut_of(text: str, scene: Scene, stage: Stage, system: str = METRIC) -> Cut:
    """Return the cut that a person writes.

    Parameters
    ----------
    text : str
        'y = 1.5 m' (one looks north), 'x = 2 m' (west), or two points of the floor or things with 'to'
        between.
    scene, stage, system

    Raises
    ------
    RequestError
        It is none of these, names nothing of the scene, or misses the set.
    """
    axis = _AXIS.fullmatch(text)
    if axis is not None:
        return _within(_level(axis[1].lower(), _length(axis[2], text), system), scene, stage, text)
    pair = _TO.fullmatch(text)
    if pair is None:
        raise RequestError(f"'{text}' is no place for a section", f"Write {EXAMPLES}.")
    one, two = (_point(part, stage, text) for part in pair.groups())
    way = two - one
    long = float(np.hypot(*way))
    if long < SHORTEST:
        raise RequestError(f"Section '{text}': both ends are one place of the floor",
                           "Name two places apart.")
    cut = Cut(_pair(one), _pair(way / long), text.strip())
    return _within(cut, scene, stage, text)


def default_cut(scene: Scene, stage: Stage, system: str = METRIC) -> Cut:
    """Return the cut through the first person, or the set's middle, along which lamps are spread most."""
    places = np.array([[0.0, 0.0, 0.0]] if not stage.rig else [rig.position for rig in stage.rig])[:, :2]
    low, high = _extent(scene, stage)
    # One lamp far outside would always have its way.
    places = np.clip(places, low, high)
    middle, through = (low + high) / 2, "the middle of the set"
    if scene.figures:
        through = f"the eyes of {scene.figures[0].name}"
        middle = np.asarray(stage.places[f"{scene.figures[0].name}.eyes"], float)[:2]
    spread = np.ptp(places, axis=0)
    name = "y" if spread[0] >= spread[1] else "x"
    at = round(float(middle[1 if name == "y" else 0]), 2)
    cut = _within(_level(name, at, system), scene, stage, f"{name} = {at} m")
    return replace(cut, through=through)


def _level(axis: str, at: float, system: str) -> Cut:
    text = f"{axis} = {said(at, system)}"
    return Cut((0.0, at), (1.0, 0.0), text) if axis == "y" else Cut((at, 0.0), (0.0, 1.0), text)


def _length(text: str, whole: str) -> float:
    try:
        return parse(text, "length")
    except UnitError as error:
        raise RequestError(f"Section '{whole}': {error.message}", error.advice) from None


def _point(text: str, stage: Stage, whole: str) -> np.ndarray:
    """Return the point of the floor that a person means: two lengths, or a thing's name."""
    if text.strip() in stage.places:
        return np.asarray(stage.places[text.strip()], float)[:2]
    parts = text.strip("[] ").split(",")
    if len(parts) == 2:
        return np.array([_length(part.strip(), whole) for part in parts])
    like = get_close_matches(text.strip(), list(stage.places), n=1)
    raise RequestError(f"Section '{whole}': nothing is called '{text.strip()}'",
                       f"Did you mean '{like[0]}'?" if like else
                       f"Name a thing of the scene, or write {EXAMPLES}.")


def _extent(scene: Scene, stage: Stage) -> tuple[np.ndarray, np.ndarray]:
    """Return the floor that a cut has to cross: the room, or what the set covers without one. [m]"""
    if scene.room is not None:
        return np.zeros(2), np.array(scene.room.size[:2], float)
    bodies = [np.asarray(mesh.vertices, float)[:, :2] for mesh in stage.meshes
              if mesh.role != "outside" and len(mesh.vertices)]
    bodies += [np.asarray(camera.position, float)[None, :2] for camera in stage.cameras]
    points = np.concatenate(bodies) if bodies else np.zeros((1, 2))
    return points.min(axis=0), points.max(axis=0)


def _within(cut: Cut, scene: Scene, stage: Stage, text: str) -> Cut:
    """Return a cut that counts from where it enters the set."""
    low, high = _extent(scene, stage)
    start, along = np.array(cut.start), np.array(cut.along)
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (low - start) / along, (high - start) / along
    still = np.abs(along) < 1e-12
    outside = still & ((start < low - 1e-9) | (start > high + 1e-9))
    enters = float(np.max(np.where(still, -np.inf, np.minimum(one, two))))
    leaves = float(np.min(np.where(still, np.inf, np.maximum(one, two))))
    if outside.any() or leaves <= enters:
        size = " x ".join(f"{a:.2f}" for a in high - low)
        raise RequestError(f"The section '{text}' misses the set, which is {size} m", f"Write {EXAMPLES}.")
    return replace(cut, start=_pair(start + along * enters), length=leaves - enters)


def _pair(point: np.ndarray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def cut_things(cut: Cut, unit: float) -> Iterator[Thing]:
    """Yield both ends of a section as a plan shows them: a heavy line with an arrow the way one looks.

    `unit` is a mm of paper in m of the set.
    """
    along, ahead = np.array(cut.along), cut.ahead
    for at, inwards in ((np.array(cut.start), along), (np.array(cut.start) + cut.length * along, -along)):
        ends = np.array([at, at + 5.0 * unit * inwards])
        foot = at + 1.2 * unit * inwards
        marks = (Shape("dimensions", ends, pen="cut", name="section A", part="section"),
                 *symbols.arrow(foot, foot + 4.5 * unit * ahead, unit, "dimensions", "outline", "section A",
                                "section"))
        solid = np.array([at, ends[1], foot + 4.5 * unit * ahead])
        yield Thing("section A", at, marks, solid, (Line("A", NAME, True),))


def turned(stage: Stage, cut: Cut) -> Stage:
    """Return a stage in the axes of a section: along it, up, and towards whoever looks at it.

    What draws a plan from above then draws the section. Places, meshes, faces of lamps, cameras and what
    paperwork has are turned; light is not.
    """
    axes = cut.axes
    meshes = tuple(replace(m, vertices=cut.turned(m.vertices), normals=None) for m in stage.meshes)
    emitters = tuple(replace(e, vertices=cut.turned(e.vertices), world_from_light=axes @ e.world_from_light)
                     for e in stage.emitters)
    cameras = tuple(replace(c, position=cut.turned(c.position), world_from_camera=axes @ c.world_from_camera)
                    for c in stage.cameras)
    rig = tuple(replace(each, position=cut.turned(each.position)) for each in stage.rig)
    grip = tuple(replace(each, position=cut.turned(each.position)) for each in stage.grip)
    around = stage.around
    if around is not None:
        outlines = {name: (cut.turned(c), u @ axes.T, v @ axes.T)
                    for name, (c, u, v) in around.outlines.items()}
        around = replace(around, outlines=outlines)
    return replace(stage, meshes=meshes, emitters=emitters, cameras=cameras, rig=rig, grip=grip,
                   around=around, places={name: cut.turned(at) for name, at in stage.places.items()})
