"""Where a lamp or a sheet may stand: in the box, off walls and bodies, off faces, out of frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from previz.errors import RequestError
from previz.scene import geometry
from previz.sight.straight import in_frame
from previz.studies.outside import FLOOR, NEAREST, OFF_WALL

if TYPE_CHECKING:
    from previz.studies.balance.placed import Answered, Move

ROUND_ABOUT = 3.0
"""Outdoors a thing is moved so far at most where no box is given, and up to `HIGHEST`. [m]"""

HIGHEST = 4.0
"""As high as a high stand goes. [m]  Common practice, no source."""

IN_A_BODY = 0.4
"""Under a head nothing stands so near to its upright axis. [m]  Common practice, no source."""

AT_AN_END = 0.03
"""A place so near the end of the box, in parts of its width, is bound by it. [1]"""

AXES = ("x", "y", "z")


class Allowed:
    """Where a thing that stands at a place [m] may be put.

    Raises
    ------
    RequestError
        The room is too small.
    """

    def __init__(self, known: Answered, move: Move, at: tuple[float, float, float], *, in_shot: bool):
        self.known, self.move, self.at, self.in_shot = known, move, np.asarray(at, float), in_shot
        self.faces = [np.asarray(head.face, float) for head in known.stage.heads]
        room = known.scene.room
        if move.within is not None:
            self.low, self.high = np.array(move.within, float).T
        elif room is not None:
            self.low = np.array([OFF_WALL, OFF_WALL, FLOOR])
            self.high = np.asarray(room.size, float) - OFF_WALL
            if np.any(self.high < self.low):
                raise RequestError("The room is too small to move a thing about in.", "Give a box.")
        else:
            self.low = np.array([*(self.at[:2] - ROUND_ABOUT), FLOOR])
            self.high = np.array([*(self.at[:2] + ROUND_ABOUT), max(HIGHEST, self.at[2])])

    def may(self, at: np.ndarray, radius: float) -> bool:
        """Return whether it may stand at a place, with a radius about it. [m]"""
        if np.any(at < self.low - 1e-9) or np.any(at > self.high + 1e-9):
            return False
        scene, spot = self.known.scene, (float(at[0]), float(at[1]), float(at[2]))
        if scene.room is not None and geometry.wall_around(scene.room, spot):
            return False
        if any(geometry.is_inside(piece, spot) for piece in scene.pieces):
            return False
        for face in self.faces:
            if np.linalg.norm(at - face) < NEAREST or (
                    at[2] < face[2] and np.linalg.norm((at - face)[:2]) < IN_A_BODY):
                return False
        if self.move.keep_side and self._side(at) != self._side(self.at):
            return False
        return self.in_shot or not any(in_frame(camera, at, radius) for camera in self.known.stage.cameras)

    def _side(self, at: np.ndarray) -> bool:
        """Return on which side it is of the line from the face nearest to its place to the first camera."""
        if not self.faces or not self.known.stage.cameras:
            return True
        face = min(self.faces, key=lambda each: float(np.linalg.norm(each - self.at)))
        ahead = np.asarray(self.known.stage.cameras[0].position, float) - face
        off = at - face
        return bool(ahead[0] * off[1] - ahead[1] * off[0] > 0)

    def bounds(self, at: tuple[float, float, float]) -> tuple[str, ...]:
        """Return the ends of the box that a place lies at, in words."""
        found = []
        for axis, value, low, high in zip(AXES, at, self.low, self.high, strict=True):
            near = AT_AN_END * (high - low)
            if high - low > 0.02 and value <= low + near:
                found.append(f"the least {axis}, {low:.2f} m")
            elif high - low > 0.02 and value >= high - near:
                found.append(f"the greatest {axis}, {high:.2f} m")
        return tuple(found)
