"""What a lamp becomes: emitters, a body, guides, and how its output counts in lumens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from previz.physics.beam import AngularTable, lambertian_front
from previz.physics.photometric import Photometry, halves
from previz.scene.light import Light
from previz.stage import shapes
from previz.stage.lights.ahead import face_ahead
from previz.stage.records import Emitter, Guide, Mesh

HOUSING = "lamp housing"
"""Surface of the bodies of lamps."""

HOUSING_ALBEDO = 0.09
"""About what a housing sends back of the light on it, paint and gloss together. [1]"""

FAINT_BACK = 1e-4
"""Share of the lumens below which what a file shows behind a face is left out. [1]"""


@dataclass(frozen=True)
class Fixture:
    """A lamp as light and triangles.

    Parameters
    ----------
    emitters : tuple of Emitter
        Their `lamp` is set by `build`.
    meshes : tuple of Mesh
        The body.
    peak : float
        Intensity in the middle of the beam of one lumen, which turns an output written as cd into
        lumens. [cd/lm]
    ahead : function or None
        Distance [m] -> what a meter there reads of one lumen [lx/lm], for an output written as
        lux at a distance; None where `peak` over the distance squared is right at any distance.
    guides : tuple of Guide
    area : float or None
        Of a Lambertian face at its full luminance, which turns an output written as cd/m² into lumens;
        None where that is the lamp's `size`. [m²]
    """

    emitters: tuple[Emitter, ...]
    meshes: tuple[Mesh, ...]
    peak: float
    ahead: Callable[[float], float] | None = None
    guides: tuple[Guide, ...] = ()
    area: float | None = None

    def reading(self, distance: float) -> float:
        """Return what a meter reads of one lumen in the middle of the beam. [lx/lm]"""
        return self.peak / distance**2 if self.ahead is None else self.ahead(distance)

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
    photometry : Photometry or None
        A measured distribution that takes the place of the kind's own.
    parts : tuple of glow.GlowPart
        The piece that gives the light of a lamp that is one.
    """

    at: np.ndarray
    aim: np.ndarray | None
    along: np.ndarray | None
    support: Callable[[np.ndarray], float]
    surface: Callable[..., str]
    photometry: Photometry | None = None
    parts: tuple = ()

    def axes(self, roll_deg: float) -> np.ndarray:
        """Return world-from-light axes, z towards the aim, or straight down without one."""
        ahead = np.array([0.0, 0.0, -1.0]) if self.aim is None else self.aim - self.at
        return shapes.aimed(ahead, np.radians(roll_deg))


Builder = Callable[[Light, Setting], Fixture]

BUILDERS: dict[str, Builder] = {}
"""Kind of lamp -> what builds it; filled by `builds`."""


def builds(*kinds: type[Light]) -> Callable[[Builder], Builder]:
    """Mark a function as the one that builds some kinds of lamp, which their records say."""
    def keep(function: Builder) -> Builder:
        BUILDERS.update({each.kind: function for each in kinds})
        return function

    return keep


@dataclass(frozen=True)
class Beam:
    """How one lumen leaves a lamp's face.

    Parameters
    ----------
    table : AngularTable or None
        What leaves it, at one lumen; None for a Lambertian face.
    share : float
        How much of the lamp's lumens that is. [1]
    peak : float
        Intensity in the middle of the beam for each lumen stated. [cd/lm]
    back : AngularTable or None
        What a measured lamp sends back, theta from straight back.
    back_share : float
    """

    table: AngularTable | None
    share: float = 1.0
    peak: float = 1 / np.pi
    back: AngularTable | None = None
    back_share: float = 0.0

    def through(self, cut: Callable[[AngularTable], tuple[AngularTable, float]]) -> Beam:
        """Return the beam after something on the face that takes light away by angle."""
        table, left = cut(lambertian_front() if self.table is None else self.table)
        return replace(self, table=table, share=self.share * left)

    def ahead(self, face: shapes.Triangles, focus: float = np.inf) -> Callable[[float], float]:
        """Return what a meter ahead of a face reads of one lumen, by distance. [lx/lm]"""
        return face_ahead(face, self.table, self.share, focus)


def beam_of(setting: Setting, own: AngularTable | None) -> Beam:
    """Return a lamp's beam: its measured one, else the kind's own."""
    if setting.photometry is None:
        return Beam(None) if own is None else Beam(own, 1.0, float(own.intensity(0.0)))
    table = setting.photometry.table
    (front, front_share), (back, back_share) = halves(table)
    if back_share < FAINT_BACK:
        back, front_share, back_share = None, 1.0, 0.0
    peak = float(table.intensity(0.0))
    return Beam(front, front_share, peak, back, back_share)


def body(name: str, parts, axes: np.ndarray, at, surface: str = HOUSING) -> Mesh:
    """Return what of a lamp stands in the light, its parts given in the lamp's own axes."""
    return Mesh(name, surface, *shapes.place(shapes.join(*parts), axes, at), role="lamp")
