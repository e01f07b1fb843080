"""Where one lamp's light is sent, and the scene changed to send it there."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from previz.scene.light import Light
from previz.scene.modifiers import Board, Diffusion
from previz.scene.records import Item, Target
from previz.scene.scene import Scene
from previz.scene.surface import Surface
from previz.sight.face_view import Head
from previz.stage.records import Stage

NEAR_LAMP, NEAR_FACE = 0.3, 0.4
"""A frame stays this far from the lamp and from the face. [m]"""

BOARD_SIDE, BOARD_HEIGHT = 45.0, 15.0
"""Where a board stands if the scene has none: to the side of where the face points, across from
the lamp, and above the face.  Common practice, no source. [deg]"""

FRAME, BOARD = "study frame", "study board"
"""Names of what a study puts into the scene."""


Thing = TypeVar("Thing", bound=Item)


@dataclass(frozen=True, eq=False)
class Setup:
    """One use of the lamp.

    Parameters
    ----------
    kind : str
        'direct', 'frame' or 'board'.
    size, distance : float
        Of the board or frame, and from the face to it; for 'direct' the lamp's own. [m]
    scene : Scene
        With its people.
    """

    kind: str
    size: float
    distance: float
    scene: Scene

    @property
    def name(self) -> str:
        """What plots, tables and messages call it."""
        return self.kind if self.kind == "direct" else f"{self.kind} {self.size:g} m at {self.distance:g} m"

    @property
    def bare(self) -> Scene:
        """The scene without its people."""
        return replace(self.scene, figures=())


@dataclass(frozen=True, eq=False)
class Setups:
    """Every use of one lamp on one face.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    stage : Stage
        Built of it.
    lamp : Light
        Of that scene.
    head : Head
        The face that it lights.
    sizes, distances : tuple of float
        Sides of boards and frames, and from the face to them. [m]
    transmission : float
        Of the frames' cloth. [1]
    surface : str
        Of the boards.
    """

    scene: Scene
    stage: Stage
    lamp: Light
    head: Head
    sizes: tuple[float, ...]
    distances: tuple[float, ...]
    transmission: float
    surface: str

    @property
    def face(self) -> np.ndarray:
        """Where the light is to go. Shape (3,) [m]"""
        return self.head.nose

    @property
    def lamp_at(self) -> np.ndarray:
        """Where the lamp stands. Shape (3,) [m]"""
        return np.asarray(self.lamp.at, float)

    def all(self) -> tuple[list[Setup], list[str]]:
        """Return every use, straight first, and why some are left out."""
        found = [Setup("direct", self._own_size(), float(np.linalg.norm(self.lamp_at - self.face)),
                       self._scene(self.face))]
        left_out = []
        for kind, made in (("frame", self._frame), ("board", self._board)):
            for distance in self.distances:
                for size in self.sizes:
                    why, changed = made(size, distance)
                    if changed is None:
                        left_out.append(f"{kind} {size:g} m at {distance:g} m left out: {why}")
                    else:
                        found.append(Setup(kind, size, distance, changed))
        return found, left_out

    def _own_size(self) -> float:
        corners = np.concatenate([e.vertices for e in self.stage.emitters
                                  if e.name == self.lamp.name])
        return float(np.ptp(corners, axis=0).max())

    def _frame(self, size: float, distance: float) -> tuple[str, Scene | None]:
        """Return (why not or '', changed scene) of a frame between lamp and face."""
        towards = self.lamp_at - self.face
        reach = float(np.linalg.norm(towards))
        if distance > reach - NEAR_LAMP or distance < NEAR_FACE:
            return f"the lamp stands {reach:.1f} m from the face", None
        at = self.face + towards / reach * distance
        why = self._outside(at, size)
        sheet = Diffusion(name=FRAME, size=(size, size), at=tuple(at), facing=_at(self.lamp_at),
                          transmission=self.transmission, spread=1.0)
        return why, None if why else self._scene(self.face, diffusion=(sheet,))

    def _board(self, size: float, distance: float) -> tuple[str, Scene | None]:
        """Return (why not or '', changed scene) of a board that the lamp is aimed at."""
        at = self.face + self._board_direction() * distance
        why = self._outside(at, size)
        sheet = Board(name=BOARD, size=(size, size), at=tuple(at), facing=_at(at + self._between(at)),
                      surface=Surface(name=self.surface))
        return why, None if why else self._scene(at, boards=(sheet,))

    def _board_direction(self) -> np.ndarray:
        """Return the direction from the face to the board: as the scene's own, or across."""
        for board in self.scene.boards:
            towards = np.asarray(board.at, float) - self.face
            if towards @ self.head.ahead > 0:
                return towards / np.linalg.norm(towards)
        level = np.array([*self.head.ahead[:2], 0.0])
        level /= np.linalg.norm(level)
        left = np.array([-level[1], level[0], 0.0])
        across = -np.sign((self.lamp_at - self.face) @ left) or 1.0
        turn, up = np.radians(BOARD_SIDE), np.radians(BOARD_HEIGHT)
        flat = np.cos(turn) * level + across * np.sin(turn) * left
        return np.cos(up) * flat + np.sin(up) * np.array([0.0, 0, 1])

    def _between(self, at: np.ndarray) -> np.ndarray:
        """Return the direction in the middle between lamp and face, in which a matte board gives most."""
        offsets = [each - at for each in (self.lamp_at, self.face)]
        half = sum(each / np.linalg.norm(each) for each in offsets)
        return half / np.linalg.norm(half)

    def _outside(self, at: np.ndarray, size: float) -> str:
        """Return why a sheet does not fit; '' where it does."""
        if self.scene.room is None:
            return "" if at[2] > size / 2 * 0.5 else "it would stand in the ground"
        walls = np.asarray(self.scene.room.size, float)
        if np.any(at < 0.05) or np.any(at > walls - 0.05):
            return "it would stand outside the room"
        return ""

    def _scene(self, aim: np.ndarray, **more: tuple[Item, ...]) -> Scene:
        """Return the scene with its people, this lamp alone and sent to a point."""
        lamp = replace(self.lamp, aim=_at(aim), on=True)
        kept: dict[str, tuple[Item, ...]] = {"boards": (), "diffusion": (), **more}
        for name in ("flags", "nets", "grids"):
            # What hangs before another lamp goes with it.
            kept[name] = tuple(each for each in getattr(self.scene, name) if each.before is None
                               or each.before.name == self.lamp.name)
        places = self.stage.places
        pieces: dict[str, Any] = {name: tuple(pinned(item, places) for item in items)
                                  for name, items in kept.items()}
        cameras = tuple(pinned(camera, places) for camera in self.scene.cameras)
        meters = tuple(pinned(meter, places) for meter in self.scene.meters)
        return replace(self.scene, lights=(pinned(lamp, places),), daylight=None, haze=None,
                       cameras=cameras, meters=meters, **pieces)


def pinned(item: Thing, places: Mapping[str, np.ndarray]) -> Thing:
    """Return an item whose targets are points of the stage: it no longer needs the things that it names."""
    changes: dict[str, Any] = {}
    for each in dataclasses.fields(item):
        value = getattr(item, each.name)
        if isinstance(value, Target) and value.point is None and each.name != "before":
            point = places.get(value.text.strip())
            if point is not None:
                changes[each.name] = _at(point)
    return replace(item, **changes) if changes else item


def _at(point: np.ndarray) -> Target:
    x, y, z = (float(each) for each in point)
    return Target("", (x, y, z))
