"""What may be done with the place of a lamp, and what came of trying other places."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from previz.errors import RequestError
from previz.frames.records import Frames
from previz.levels.response import Response
from previz.levels.wants import Want
from previz.scene.light import Light
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.scene.soft_lamps import OverheadSoft, Panel, SoftBox
from previz.stage.records import Stage
from previz.studies.balance.solving import Solution
from previz.studies.balance.subjects import Needed
from previz.studies.result import Row, row

AXES = ("x", "y", "z")


@dataclass(frozen=True)
class Move:
    """What may be done with the place of a lamp.

    Parameters
    ----------
    lamp : str
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


def movable(scene: Scene, move: Move) -> Light:
    """Return the lamp that is to be moved, as a scene has it.

    Raises
    ------
    RequestError
        There is no such lamp, or it cannot be moved so.
    """
    lights = {each.name: each for each in scene.lights}
    if move.lamp not in lights:
        raise RequestError(f"There is no lamp '{move.lamp}' to move.",
                           f"The lamps are: {', '.join(lights) or 'none'}.")
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
        Of cameras whose background is wanted.
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
    light : Light
        The lamp there.
    missed : float
        What wants miss in all with the best levels. [stops²]
    met : int
        How many wants are met.
    """

    light: Light
    missed: float
    met: int


@dataclass(frozen=True, eq=False)
class Placed:
    """What came of trying other places.

    Parameters
    ----------
    before : Light
        The lamp as it stands.
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

    before: Light
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
        light = self.best.light
        words = f"Move '{name}' to {coordinates(light)}"
        if light.aim != self.before.aim:
            words += f", aimed at {light.aim}"
        size, was = getattr(light, "size", None), getattr(self.before, "size", None)
        if size != was and size is not None:
            words += f", {size[0]:.2f} x {size[1]:.2f} m large"
        gone = float(np.linalg.norm(np.subtract(light.at, self.before.at)))
        lines = [f"{words}: {gone:.2f} m from where it stands. {self.best.met} of {self.wants} wants are met "
                 f"then, {self.now.met} where it stands ({many})."]
        if self.bounds:
            lines.append(f"It is held back by {' and '.join(self.bounds)}.")
        return lines


    def rows(self, **of: str) -> list[Row]:
        """Return its numbers as rows: each place that was metered, the best first, and that of now."""
        of = {**of, "lamp": self.before.name}
        rows = [row("places_tried", self.tried, **of), row("places_metered", len(self.places), **of)]
        for place in (self.now, *self.places):
            note = "where it stands" if place is self.now else ""
            note = "moved there" if self.better and place is self.best else note
            rows += [row(f"place_{axis}", value, note=note, **of)
                     for axis, value in zip(AXES, place.light.at, strict=True)]
            rows += [row("place_met", place.met, note=note, **of),
                     row("place_missed", float(np.sqrt(place.missed)), note=note, **of)]
        return rows


def coordinates(light: Light) -> str:
    """Return a lamp's place in words."""
    return ", ".join(f"{axis} {value:.2f}" for axis, value in zip(AXES, light.at, strict=True)) + " m"
