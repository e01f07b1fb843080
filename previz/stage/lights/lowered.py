"""What a lamp becomes: emitters, a body, guides, and how its output counts in lumens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from previz.physics.beam import AngularTable
from previz.stage import shapes
from previz.stage.records import Emitter, Guide, Mesh

HOUSING = "lamp housing"
"""Surface of the bodies of lamps."""

FACE_GAP = 0.002
"""How far a lamp's face stands off its housing. [m]"""


@dataclass(frozen=True)
class Lowered:
    """A lamp as light and triangles.

    Parameters
    ----------
    emitters : tuple of Emitter
        Their `lamp` is set by `build`.
    meshes : tuple of Mesh
        The body.
    guides : tuple of Guide
    peak : float
        Intensity in the middle of the beam of one lumen, which turns an output written as cd or
        as lux at a distance into lumens. [cd/lm]
    """

    emitters: tuple[Emitter, ...]
    meshes: tuple[Mesh, ...]
    guides: tuple[Guide, ...]
    peak: float

    def of_lamp(self, index: int) -> tuple[Emitter, ...]:
        """Return the emitters as those of one lamp of the stage."""
        return tuple(replace(emitter, lamp=index) for emitter in self.emitters)


@dataclass(frozen=True)
class Setting:
    """What a lamp's function needs to know of the scene round it.

    Parameters
    ----------
    at : float array, shape (3,)
        Place of the lamp. [m]
    aim : float array, shape (3,), or None
        The point it is aimed at. [m]
    along : float array, shape (3,), or None
        Direction that a tube lies in.
    support : function
        (x, y, z) -> height of the top of whatever stands under a point. [m]
    surface : function
        A scene's surface record -> name of the stage's surface.
    """

    at: np.ndarray
    aim: np.ndarray | None
    along: np.ndarray | None
    support: Callable[[np.ndarray], float]
    surface: Callable[..., str]

    def axes(self, roll_deg: float) -> np.ndarray:
        """Return world-from-light axes, z towards the aim."""
        return shapes.aimed(self.aim - self.at, np.radians(roll_deg))


def flat_face(name: str, face: shapes.Triangles, axes: np.ndarray, at, table: AngularTable | None,
              focus: float = np.inf) -> Emitter:
    """Return an emitter of one flat face, given in the plane z=0 looking along +z."""
    vertices, faces = shapes.place(face, axes, np.asarray(at) + axes[:, 2] * FACE_GAP)
    return Emitter(0, name, vertices, faces, table=table, world_from_light=axes, flat=True,
                   focus=focus)


def body(name: str, parts, axes: np.ndarray, at) -> Mesh:
    """Return a lamp's housing, its parts given in the lamp's own axes."""
    vertices, faces = shapes.place(shapes.join(*parts), axes, at)
    return Mesh(name, HOUSING, vertices, faces, role="lamp")
