"""What may be done with the place of a lamp, and what came of trying other places."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from previz.errors import RequestError
from previz.frames.records import Frames
from previz.levels.response import Response
from previz.levels.wants import COLOUR, MIRED_A_STOP, Want
from previz.scene.light import Light
from previz.scene.modifiers import Sheet
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.scene.soft_lamps import OverheadSoft, Panel, SoftBox
from previz.stage.records import Stage
from previz.studies.balance.allowed import AXES
from previz.studies.balance.solving import Solution
from previz.studies.balance.subjects import Needed
from previz.studies.result import Row, row

COARSE = 0.03
"""Relative standard error of the meters of a place. [1]"""

GAIN = 0.02
"""A place has to do better than the present by so much. [stops²]"""

SHEETS = ("boards", "diffusion", "flags", "nets", "grids")
"""Lists of a scene that hold sheets."""

Movable = Light | Sheet
"""What can be moved."""


@dataclass(frozen=True)
class Move:
    """What may be done with the place of a lamp.

    Parameters
    ----------
    lamp : str
        Or a board, frame, flag, net or grid.
    within : tuple of three (float, float), or None
        Least and most x, y and z [m]; None for anywhere in the room, off its walls, or round about.
    keep_side : bool
        It stays on its side of the line from the nearest face to the first camera.
    sizes : (float, float) or None
        Width of a soft lamp's front, least and most, its shape kept [m]; None for the one that it has.
    aims : tuple of Target
        What it may be aimed at; none for what it is aimed at now.
    """

    lamp: str
    within: tuple[tuple[float, float], tuple[float, float], tuple[float, float]] | None = None
    keep_side: bool = False
    sizes: tuple[float, float] | None = None
    aims: tuple[Target, ...] = ()


def is_sheet(scene: Scene, name: str) -> bool:
    """Return whether a name is that of a board, frame, flag, net or grid."""
    return any(each.name == name for section in SHEETS for each in getattr(scene, section))


def movable_sheet(scene: Scene, move: Move) -> Sheet:
    """Return the sheet that is to be moved, as a scene has it.

    Raises
    ------
    RequestError
        It goes with a lamp, or what may be done is a lamp's.
    """
    sheet: Sheet = next(each for section in SHEETS for each in getattr(scene, section)
                        if each.name == move.lamp)
    if sheet.at is None:
        raise RequestError(f"{sheet.label} stands before a lamp and goes where that is aimed.",
                           "Move the lamp, or give it a place of its own.")
    if move.sizes is not None or move.aims:
        raise RequestError(f"{sheet.label} is no lamp: its size and aim stay.",
                           "Leave out --sizes and --aim-at.")
    return sheet


def put(scene: Scene, item: Movable) -> Scene:
    """Return a scene with a lamp or sheet where, and as large as, another record of it is."""
    sections = ("lights",) if isinstance(item, Light) else SHEETS
    changes: dict[str, Any] = {}
    for section in sections:
        items = getattr(scene, section)
        if any(each.name == item.name for each in items):
            fields = {name: getattr(item, name) for name in ("at", "aim", "size") if hasattr(item, name)}
            changes[section] = tuple(replace(each, **fields) if each.name == item.name else each
                                     for each in items)
    return replace(scene, **changes)


def missed_of(solution: Solution) -> float:
    """Return what is missed in all. [stops²]"""
    return float(sum((each.want.weight * np.nan_to_num(each.miss, nan=20.0, posinf=20.0, neginf=-20.0)
                      / (MIRED_A_STOP if each.want.kind == COLOUR else 1.0)) ** 2 for each in solution.after))


def met_of(solution: Solution) -> int:
    """Return how many wants are met."""
    return sum(each.met for each in solution.after)


def movable(scene: Scene, move: Move) -> Light:
    """Return the lamp that is to be moved, as a scene has it.

    Raises
    ------
    RequestError
        There is no such lamp, or it cannot be moved so.
    """
    lights = {each.name: each for each in scene.lights}
    if move.lamp not in lights:
        sheets = [each.name for section in SHEETS for each in getattr(scene, section)]
        known = f"The lamps are: {', '.join(lights) or 'none'}."
        raise RequestError(f"There is no lamp '{move.lamp}' to move.",
                           f"{known} Boards, frames and flags: {', '.join(sheets)}." if sheets else known)
    light = lights[move.lamp]
    if light.kind == "glow":
        raise RequestError(f"{light.label} is a piece of the set: it shines where that stands.",
                           "Move the piece, or choose another lamp.")
    if not light.on and light.may_move is None:
        raise RequestError(f"{light.label} is off: wherever it stands it gives nothing.",
                           f"Say what it may do, as --may '{move.lamp} 0 % to 100 %'.")
    if move.sizes is not None and not isinstance(light, SoftBox | Panel | OverheadSoft):
        raise RequestError(f"{light.label} has no front whose size could be another.",
                           "Leave out its sizes, or choose a soft lamp.")
    if move.aims and light.aim is None:
        raise RequestError(f"{light.label} is not aimed.", "Leave out what it may be aimed at.")
    return light


def check_aims(stage: Stage, aims: Iterable[Target]) -> None:
    """Refuse what a stage does not have, as something to aim a lamp at.

    Raises
    ------
    RequestError
        With what there is.
    """
    for aim in aims:
        if aim.point is None and aim.text not in stage.places:
            named = sorted(name for name in stage.places if aim.text.partition(".")[0] in name)
            near = f"There are: {', '.join(named[:12])}." if named else "Write a thing, or a part of one."
            raise RequestError(f"There is no '{aim.text}' to aim at.", near)


@dataclass(frozen=True, eq=False)
class Answered:
    """One scene's wants with the answer of levels, and what that was worked out from.

    Parameters
    ----------
    scene : Scene
        With what may move.
    stage, metered : Stage
        Of it; with meters at marks.
    wants : tuple of Want
    needed : Needed
    frames : dict of str to Frames
        Of cameras whose views are wanted.
    response : Response
    solution : Solution
    """

    scene: Scene
    stage: Stage
    metered: Stage
    wants: tuple[Want, ...]
    needed: Needed
    frames: Mapping[str, Frames]
    response: Response
    solution: Solution


@dataclass(frozen=True, eq=False)
class Place:
    """A place that was metered.

    Parameters
    ----------
    item : Light or Sheet
        The lamp or sheet there.
    missed : float
        What wants miss in all with the best levels. [stops²]
    met : int
        How many wants are met.
    """

    item: Movable
    missed: float
    met: int


@dataclass(frozen=True, eq=False)
class Placed:
    """What came of trying other places.

    Parameters
    ----------
    before : Light or Sheet
        As it stands.
    best : Place
        That of now, where none does better.
    now : Place
    places : tuple of Place
        All that were metered, the best first.
    tried : int
        Places that were looked at.
    bounds : tuple of str
        Limits that the best place lies at, in words.
    wants : int
        How many there are.
    """

    before: Movable
    best: Place
    now: Place
    places: tuple[Place, ...]
    tried: int
    bounds: tuple[str, ...]
    wants: int

    @property
    def better(self) -> bool:
        """Whether a place does better than that of now."""
        return self.best is not self.now

    def words(self) -> list[str]:
        """Return what was found, a sentence each."""
        if not self.tried:
            return [f"'{self.before.name}' stays where it is: levels alone meet every want."]
        name, many = self.before.name, f"{self.tried} places looked at, {len(self.places)} metered"
        if not self.better:
            return [f"No other place of '{name}' does better ({many})."]
        there = self.best.item
        words = f"Move '{name}' to {coordinates(there)}"
        aim = getattr(there, "aim", None)
        if aim != getattr(self.before, "aim", None):
            words += f", aimed at {aim}"
        size, was = getattr(there, "size", None), getattr(self.before, "size", None)
        if size != was and size is not None:
            words += f", {size[0]:.2f} x {size[1]:.2f} m large"
        gone = float(np.linalg.norm(np.subtract(there.at, self.before.at)))
        lines = [f"{words}: {gone:.2f} m from where it stands. {self._gain()} ({many})."]
        if self.bounds:
            lines.append(f"It is held back by {' and '.join(self.bounds)}.")
        return lines


    def _gain(self) -> str:
        """Return what the move brings: wants met, or else wants that miss by less."""
        if self.best.met > self.now.met:
            return f"{self.best.met} of {self.wants} wants are met then, {self.now.met} where it stands"
        misses = [float(np.sqrt(each.missed / max(self.wants, 1))) for each in (self.best, self.now)]
        return (f"No place that was tried meets more wants than {self.now.met} of {self.wants}, but they "
                f"miss by {misses[0]:.2f} stops on average then, by {misses[1]:.2f} where it stands")

    def rows(self, **of: str) -> list[Row]:
        """Return its numbers as rows: each place that was metered, the best first, and that of now."""
        of = {**of, "lamp" if isinstance(self.before, Light) else "thing": self.before.name}
        rows = [row("places_tried", self.tried, **of), row("places_metered", len(self.places), **of)]
        for place in (self.now, *self.places):
            note = "where it stands" if place is self.now else ""
            note = "moved there" if self.better and place is self.best else note
            rows += [row(f"place_{axis}", value, note=note, **of)
                     for axis, value in zip(AXES, place.item.at, strict=True)]
            rows += [row("place_met", place.met, note=note, **of),
                     row("place_missed", float(np.sqrt(place.missed)), note=note, **of)]
        return rows


def coordinates(item: Movable) -> str:
    """Return a place in words."""
    return ", ".join(f"{axis} {value:.2f}" for axis, value in zip(AXES, item.at, strict=True)) + " m"


def best_of(now: Place, tried: Iterable[Place]) -> tuple[Place, tuple[Place, ...]]:
    """Return the best place, that of now where none does better, and all that were tried, the best first."""
    order = tuple(sorted(tried, key=lambda each: (-each.met, each.missed)))
    if not order:
        return now, order
    first = order[0]
    better = first.met > now.met or first.met == now.met and first.missed < now.missed - GAIN
    return first if better else now, order
