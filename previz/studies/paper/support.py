"""What holds a lamp or a sheet: a stand, what is overhead, a clamp, the set.

A stand is taken wherever nothing else is written or near, and its foot may not stand in a piece. Lengths
here are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.plans.lengths import METRIC, said
from previz.plans.lines import Point
from previz.scene.modifiers import Sheet
from previz.scene.scene import Scene
from previz.stage.build import BOOM_END
from previz.stage.records import Emitter, Mesh, Stage
from previz.stage.stands import ON_CAMERA, ON_STAND, UNDER_CEILING

STAND, BOOM, FLOOR, ON, CLAMP, ABOVE, SET, CAMERA, LAMP = (
    "stand", "boom", "floor", "on", "clamp", "above", "set", "camera", "lamp")
"""Ways to be held; those that a scene file writes as `hung` stand beside them by their own words."""

OVERHEAD = (ABOVE, BOOM, "cord", "pipe")
"""Ways under which people may pass whatever the height."""

HEAD_HEIGHT = 2.0
"""Over this everything is overhead. [m]  Source: check value 7.4."""

LOW_PIECE = 0.15
"""What is no higher, such as a rail, is stepped over and cables are laid across. [m]"""

CLEAR = 0.3
"""From a piece to the pole of a stand beside it. [m]"""

OF_THE_SET = ("practical", "backdrop", "screen", "sign", "glow", "headlamp")
"""Kinds that belong to the set whether they are in shot or not."""

HUNG_WORDS = {"cord": "hung by a cord", "pipe": "hung by a pipe", "boom": "on a boom",
              "wall plate": "on a wall plate"}

ABOVE_WORDS, FLOOR_WORDS = "overhead", "on the floor"
SET_WORDS, CAMERA_WORDS = "on the set", "on the camera"


@dataclass(frozen=True)
class Support:
    """What holds one thing.

    Parameters
    ----------
    way : str
        `STAND`, ..., or what it is hung by.
    text : str
        As lists say it.
    foot : (float, float)
        Where its stand, or what it is fixed to, is over the floor. [m]
    height : float
        Over the floor, of what holds it at its upper end. [m]
    aside : float
        How far the stand is from under it; 0 straight under. [m]
    by : str
        The piece, lamp or camera that holds it.
    """

    way: str
    text: str
    foot: tuple[float, float]
    height: float
    aside: float = 0.0
    by: str = ""

    @property
    def is_overhead(self) -> bool:
        """Whether it hangs over what people may do under it."""
        return self.way in OVERHEAD or (self.way in ("wall plate", CLAMP) and self.height >= HEAD_HEIGHT)


@dataclass(frozen=True)
class Body:
    """Box round one part of a piece: its corners. [m]"""

    name: str
    low: np.ndarray
    high: np.ndarray

    def is_over(self, at: Any) -> bool:
        """Whether a point lies over or under it, on the plan."""
        return bool(np.all(self.low[:2] <= at[:2]) and np.all(np.asarray(at[:2]) <= self.high[:2]))


class Supports:
    """What holds everything in one option of a scene.

    Parameters
    ----------
    scene : Scene
    stage : Stage
        Built of it.
    system : str
        Of lengths in words.
    """

    def __init__(self, scene: Scene, stage: Stage, system: str = METRIC):
        self.scene, self.stage, self.system = scene, stage, system
        pieces = {piece.name for piece in scene.pieces}
        self.bodies = [Body(mesh.name, mesh.vertices.min(axis=0), mesh.vertices.max(axis=0))
                       for mesh in stage.meshes if mesh.name in pieces]
        self.places = {grip.name: grip.position for grip in stage.grip}

    def is_inside(self, at: Any) -> bool:
        """Return whether a point is within the walls."""
        room = self.scene.room
        return room is not None and 0 <= at[0] <= room.size[0] and 0 <= at[1] <= room.size[1]

    def is_outdoors(self, at: Any) -> bool:
        """Return whether wind can get at a point: outside the walls, where the scene has sky or ground."""
        open_air = self.scene.daylight is not None or self.scene.ground is not None
        return open_air and not self.is_inside(at)

    def ceiling(self, at: Any) -> float:
        """Return the height of the ceiling over a point, inf where there is none. [m]"""
        room = self.scene.room
        return room.size[2] if room is not None and room.ceiling and self.is_inside(at) else np.inf

    def of(self, item: Any) -> Support:
        """Return what holds a lamp, a board, a frame, a flag, a net or a grid."""
        return self._sheet(item) if isinstance(item, Sheet) else self._lamp(item)

    def _lamp(self, light: Any) -> Support:
        at = light.at
        here = (float(at[0]), float(at[1]))
        if light.hung is not None:
            return self._hung(light.hung, light.name, at)
        if light.held == "above":
            return Support(ABOVE, ABOVE_WORDS, here, at[2])
        on = self._on_camera(light)
        if on is not None:
            return Support(CAMERA, CAMERA_WORDS, here, at[2], by=on)
        if light.flame or light.in_shot or light.kind in OF_THE_SET:
            return Support(SET, SET_WORDS, here, at[2])
        return self._standing(light.name, at, self._lowest(light.name, at))

    def _sheet(self, item: Any) -> Support:
        at = self.places[item.name]
        if getattr(item, "before", None) is not None:
            where = f"before {item.before.name} at {said(item.distance, self.system)}"
            return Support(LAMP, where, (float(at[0]), float(at[1])), float(at[2]), by=item.before.name)
        if item.hung is not None:
            return self._hung(item.hung, item.name, at)
        # A sheet that touches the floor falls over without a stand.
        return self._standing(item.name, at, np.inf)

    def _hung(self, way: str, name: str, at: Any) -> Support:
        foot = self.stage.places.get(name + BOOM_END, np.asarray(at, float)) if way == "boom" else at
        aside = float(np.hypot(foot[0] - at[0], foot[1] - at[1]))
        return Support(way, HUNG_WORDS[way], (float(foot[0]), float(foot[1])), float(foot[2]), aside)

    def _standing(self, name: str, at: Any, low: float) -> Support:
        here, height = (float(at[0]), float(at[1])), float(at[2])
        if self.ceiling(at) - height <= UNDER_CEILING:
            return Support(ABOVE, ABOVE_WORDS, here, height)
        over = [body for body in self.bodies
                if body.is_over(at) and 0 <= body.low[2] - height <= UNDER_CEILING]
        if over:
            by = min(over, key=lambda body: float(body.low[2])).name
            return Support(CLAMP, f"clamped to {by}", here, height, by=by)
        under = max((body for body in self.bodies if body.is_over(at) and LOW_PIECE < body.high[2] <= height),
                    key=lambda body: float(body.high[2]), default=None)
        if low - (float(under.high[2]) if under else 0.0) < ON_STAND:
            return (Support(ON, f"on {under.name}", here, height, by=under.name) if under
                    else Support(FLOOR, FLOOR_WORDS, here, height))
        foot, by = self._beside(here)
        aside = float(np.hypot(foot[0] - here[0], foot[1] - here[1]))
        return Support(STAND, f"stand beside {by}, on an arm" if by else STAND, foot, height, aside, by)

    def _lowest(self, name: str, at: Any) -> float:
        """Return the height of the lower edge of a lamp's body. [m]"""
        parts: list[Mesh | Emitter] = [*self.stage.meshes, *self.stage.emitters]
        return min((float(part.vertices[:, 2].min()) for part in parts if part.name == name),
                   default=float(at[2]))

    def _beside(self, here: tuple[float, float]) -> tuple[tuple[float, float], str]:
        """Return the nearest free place of the floor for a pole, and what is in its way straight under."""
        tall = [body for body in self.bodies if body.high[2] > LOW_PIECE]
        standing = [body for body in tall if body.is_over(here)]
        if not standing:
            return here, ""
        tries = []
        for body in standing:
            for axis in (0, 1):
                for edge in (body.low[axis] - CLEAR, body.high[axis] + CLEAR):
                    place = [here[0], here[1]]
                    place[axis] = float(edge)
                    if not any(each.is_over(place) for each in tall) and (
                            self.is_inside(place) or not self.is_inside(here)):
                        tries.append((place[0], place[1]))
        best = min(tries, key=lambda at: np.hypot(at[0] - here[0], at[1] - here[1]), default=here)
        return best, standing[0].name

    def _on_camera(self, light: Any) -> str | None:
        if light.held != "camera":
            return None
        return next((camera.name for camera in self.stage.cameras
                     if np.linalg.norm(np.asarray(light.at, float) - camera.position) < ON_CAMERA), None)


def point_of(at: Any) -> Point:
    """Return a place as a line has it. [m]"""
    return float(at[0]), float(at[1]), float(at[2])
