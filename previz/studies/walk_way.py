"""A figure's way through a scene: who walks, by which marks, its meters, and the figure at its marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from previz.errors import RequestError
from previz.exposure.comparing.walk import Point, Strip, strip_of
from previz.exposure.faces import CHEEKS
from previz.frames.batches import Batches
from previz.physics.exposure import CameraSettings
from previz.physics.light import LampLight
from previz.scene.figure import Figure, Mark
from previz.scene.records import Item, Target
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.colours import stage_colours
from previz.stage.heads import Head
from previz.stage.records import Stage
from previz.stage.way import (
    AHEAD,
    TURNING,
    Step,
    Stop,
    cheek_probes,
    cheeks_in,
    in_the_way,
    length_of,
    steps_along,
)
from previz.studies.selection import select, select_one

MOST = 240
"""Most places of one strip."""

START = "start"
"""What the figure's own place is called on a way, where no mark is called so."""

UPRIGHT = "upright, to be carried along the way"
"""Name of the mark from which the head between marks is taken."""

FAR = 100.0
"""How far ahead who walks looks. [m]"""


@dataclass(frozen=True, eq=False)
class Way:
    """A way through a stage: what is metered of it, with nobody there.

    Parameters
    ----------
    stage : Stage
        The option's, without the body of who walks, and with meters at the cheeks of every step alone.
    points : tuple of Point
        What the meters belong to.
    length : float
        [m]
    notes : tuple of str
        What it goes through, in words.
    carried : str
        How the head is between marks; see `stage.way.steps_along`.
    """

    figure: str
    stage: Stage
    points: tuple[Point, ...]
    length: float
    notes: tuple[str, ...] = ()
    carried: str = AHEAD


def walker(scene: Scene, figure: str = "") -> Figure:
    """Return the figure that walks: the one named, or the only one that has marks.

    Raises
    ------
    RequestError
        There is none, or there are several.
    """
    figures = {each.name: each for each in scene.figures}
    if figure:
        return figures[select_one(figure, figures, "figure")]
    able = [each for each in scene.figures if each.marks]
    if not able:
        raise RequestError("No figure of the scene has marks to walk along.", NO_MARKS)
    if len(able) > 1:
        listed = ", ".join(f"'{each.name}'" for each in able)
        raise RequestError(f"Several figures have marks: {listed}. Say who walks, with a figure's name.")
    return able[0]


NO_MARKS = "Write them to the figure in the order of the way: 'marks: [{name: door, at: [1 m, 2 m]}, ...]'."


def stops_of(figure: Figure, marks: tuple[str, ...] = ()) -> list[str]:
    """Return the marks of a figure's way in order; '' for its own place.

    Raises
    ------
    RequestError
        There is no such mark, or there are fewer than two places.
    """
    known = [mark.name for mark in figure.marks]
    if not known:
        raise RequestError(f"The figure '{figure.name}' has no marks to walk along.", NO_MARKS)
    if marks:
        for each in marks:
            select((each,), known, f"mark of '{figure.name}'")
    way = list(marks) or [*([""] if figure.home is None else []), *known]
    if len(way) < 2:
        raise RequestError(f"The way of '{figure.name}' has one place, '{way[0]}'; it takes two.",
                           "Add a mark under 'marks:', or name two.")
    return way


def way_of(scene: Scene, figure: str, marks: tuple[str, ...] = (), every: float = 0.25,
           carried: str = AHEAD) -> Way:
    """Return a figure's way through one option of a scene, with its meters.

    Raises
    ------
    RequestError
        There is no way, or it has too many places.
    """
    who = next(each for each in scene.figures if each.name == figure)
    names = stops_of(who, marks)
    stage = build_stage(_with_upright(scene, who))
    at = {"": who.at, **{mark.name: mark.at for mark in who.marks}}
    stops = [Stop(name, np.asarray(at[name], float), stage.head(figure, name), _watched(who, name, stage))
             for name in names]
    length = length_of(stops)
    if not length > 0:
        raise RequestError(f"The marks of '{figure}' are all at one place; a walk goes from one to another.")
    if not every > 0 or carried not in (AHEAD, TURNING):
        raise RequestError(f"A way is not taken every {every:g} m, the face {carried!r}.",
                           f"Give a length, and '{AHEAD}' or '{TURNING}'.")
    if length / every > MOST:
        raise RequestError(f"The way of '{figure}' is {length:.1f} m, and {MOST} places are the most of it.",
                           f"Take one every {np.ceil(100 * length / MOST) / 100:g} m.")
    head, feet = stage.head(figure, UPRIGHT), np.asarray(who.at, float)
    upright = Head(figure, "", head.nose - feet, head.face - feet, head.ahead)
    steps = steps_along(stops, upright, every, carried)
    cheeks = cheeks_in(stage.head(figure), stage.probes)
    start = START if START not in names else f"own {START}"
    points = tuple(_point(figure, step, start) for step in steps)
    probes = [probe for step, point in zip(steps, points, strict=True)
              for probe in cheek_probes(step.head, cheeks, point.meters)]
    bare = replace(stage, meshes=tuple(mesh for mesh in stage.meshes if mesh.name != figure),
                   probes=tuple(probes))
    notes = tuple(_through_text(*each) for each in in_the_way(steps, stage.meshes))
    return Way(figure, bare, points, length, notes, carried)


def _through_text(name: str, first: float, last: float) -> str:
    """Return what a way goes through in words."""
    where = f"at {first:.1f} m" if last - first < 0.05 else f"from {first:.1f} to {last:.1f} m"
    return f"The way, straight from mark to mark, goes through '{name}' {where}; a mark more leads round it."


def _point(figure: str, step: Step, start: str) -> Point:
    mark = None if step.mark is None else step.mark or start
    label = f"{figure} at {step.metres:.2f} m" + (f", {mark}" if mark else "")
    ahead = step.head.ahead
    return Point(step.metres, mark, _three(step.head.face),
                 float(np.degrees(np.arctan2(ahead[1], ahead[0]))),
                 (f"{label}: {CHEEKS[0]} cheek", f"{label}: {CHEEKS[1]} cheek"))


def _three(place: np.ndarray) -> tuple[float, float, float]:
    """Return a place as plain numbers. [m]"""
    x, y, z = (float(each) for each in place)
    return x, y, z


def _with_upright(scene: Scene, who: Figure) -> Scene:
    """Return the scene with one mark more, at which the figure would stand and look towards +x."""
    eyes = Target(point=(who.at[0] + FAR, who.at[1], who.at[2] + 0.935 * (who.stature or 1.7)))
    upright = Mark(name=UPRIGHT, at=who.at, facing=0.0, pose="standing", looking_at=eyes, head_turn=0.0,
                  head_tilt=0.0)
    changed = replace(who, marks=(*who.marks, upright))
    if who.home is not None:
        changed = replace(changed, home=replace(who.home, marks=(*who.home.marks, upright)))
    return replace(scene, figures=tuple(changed if each.name == who.name else each for each in scene.figures))


def _watched(who: Figure, mark: str, stage: Stage) -> np.ndarray | None:
    """Return the point that a figure's eyes are on at a mark, '' for where it is; None for ahead. [m]"""
    target = (who.at_mark(mark) if mark else who).looking_at
    if target is None:
        return None
    return np.asarray(target.point if target.point is not None else stage.places[target.text.strip()], float)


def lamp_places(stage: Stage) -> dict[str, np.ndarray]:
    """Return where lamps stand, by name. [m]"""
    return {rig.name: np.asarray(rig.position, float) for rig in stage.rig}


def strip_under(way: Way, gathered: Batches, lamps: Sequence[LampLight], strip: Strip,
                settings: CameraSettings | None = None) -> Strip:
    """Return a strip of the same way under other lamps and, on request, another stop, by arithmetic."""
    return strip_of(strip.figure, way.points, gathered, lamps, settings or strip.settings,
                    colours=stage_colours(way.stage), least=strip.least, wanted=strip.wanted,
                    places=lamp_places(way.stage))


def at_mark(scene: Scene, who: Figure, mark: str, stage: Stage) -> Scene:
    """Return the scene with a figure at one of its marks, '' for where it is, and lamps left as they are.

    What an option that moves the figure would turn along with it (a lamp that is aimed at the figure's face)
    stays aimed where it is on this stage; cameras follow the figure as they are written.
    """
    if not mark:
        return scene
    moved = who.at_mark(mark)

    def held(item: Item) -> Item:
        fixed: dict[str, Any] = {
            field.name: Target(point=_three(stage.places[value.text.strip()]))
            for field in fields(item)
            if isinstance(value := getattr(item, field.name), Target) and value.name == who.name}
        return replace(item, **fixed) if fixed else item

    figures = tuple(moved if each.name == who.name else each for each in scene.figures)
    changed: dict[str, Any] = {section: tuple(held(each) for each in getattr(scene, section))
                               for section in HELD}
    return replace(scene, **changed, figures=figures)


HELD = ("lights", "boards", "diffusion", "flags", "nets", "grids", "meters")
"""What stands as it was put while a figure walks."""
