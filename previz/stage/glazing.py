"""Glass in meshes: which of its parts are sheets and which are bodies, by their shape.

A part of a mesh whose edges all join two faces is closed. A closed part that is far wider than it
is thick, and faces mostly along one line, is a pane with both of its faces; any other closed part is a body,
which refracts. What is open is a pane of one face, as is the wall of a vessel drawn as one skin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.optics import WINDOW_INDEX, normal_reflectance
from previz.physics.uplift import reflectance_from_rgb
from previz.stage import shapes
from previz.stage.mesh_parts import inside_out, parts_of, sound_faces
from previz.stage.records import SMOOTH, Glass, Mesh, Surface

if TYPE_CHECKING:
    from previz.scene.light import Light
    from previz.stage.surfaces import SurfaceRegistry

ZEROS = np.zeros(81)

CLEAR, THIN = "glass", "thin glass"
"""The library's names of glass that light passes through."""

USUAL_THICKNESS = 0.004
"""Of a pane that does not say. [m]"""

GAP = 5e-4
"""What a body is lifted by. Glass that stands on something touches it at a few points only: light
does not pass as through one piece. [m]"""

LEAST_LEAN = 0.7
"""Cosine of a corner's normal to its face under which the face is flat: 45 deg, as in the engine. [1]"""

CLEAREST = 0.9995
"""Most that a colour lets through; more is taken as all. [1]"""

SCATTERS = 0.6
"""Roughness of frosted glass from which on light that comes through leaves evenly in all directions. [1]"""


@dataclass(frozen=True, eq=False)
class Glazing:
    """What glass a mesh is made of, whatever its shape.

    Parameters
    ----------
    name : str
        Of the surfaces that come of it.
    ior : float
        Index of refraction. [1]
    tint : float array, shape (81,)
        What passes through one sheet, or through one side of a body, other than what is mirrored. [1]
    absorption : float array, shape (81,)
        Of the glass itself. [1/m]
    thickness : float
        Of a sheet drawn as one face; 0 where it is not known. [m]
    roughness : float
        GGX width alpha of its faces. [1]
    hollow : bool
        True where closed parts are thin walls too.
    """

    name: str
    ior: float = WINDOW_INDEX
    tint: np.ndarray = field(default_factory=lambda: np.ones(81))
    absorption: np.ndarray = field(default_factory=lambda: np.zeros(81))
    thickness: float = 0.0
    roughness: float = 0.0
    hollow: bool = False


def transmission_from_rgb(colour) -> np.ndarray:
    """Return the spectrum of what a colour lets through, shape (81,). [1]"""
    curve = np.clip(reflectance_from_rgb(np.clip(np.asarray(colour, float), 0, 1)), 1e-4, 1)
    return np.where(curve >= CLEAREST, 1.0, curve)


class GlazingError(Exception):
    """A mesh's glass that cannot be rendered: what is wrong, and what to do."""

    def __init__(self, message: str, advice: str):
        super().__init__(message)
        self.message, self.advice = message, advice


def written_glazing(piece) -> Glazing | None:
    """Return the glass that a scene has a piece made of; None for any other surface.

    Glass that is to scatter, or to have a picture, is a surface as others are.
    """
    made = piece.surface
    if made is None or made.name not in (CLEAR, THIN):
        return None
    if made.metal or any(value is not None for value in (
            made.reflectance, made.gloss, made.transmission)) or made.pictures:
        return None
    tint = np.ones(81) if made.colour is None else transmission_from_rgb(made.colour)
    return Glazing(f"{piece.name}: {made.name}", WINDOW_INDEX, tint,
                   roughness=made.roughness or 0.0, hollow=made.name == THIN)


def glaze(mesh: Mesh, glazing: Glazing, registry: SurfaceRegistry,
          notes: list[str] | None = None) -> list[Mesh]:
    """Return a mesh as sheets and bodies of glass, whatever its own surface; the registry takes theirs.

    The notes take a line where a body is not closed, and is taken for a thin skin.

    Raises
    ------
    GlazingError
        A closed part does not say which side is inside, or a body is frosted.
    """
    open_, panes, bodies = [], [], []
    faces = sound_faces(np.asarray(mesh.vertices, float), np.array(mesh.faces))
    parts = parts_of(np.asarray(mesh.vertices, float), faces)
    if not parts:
        raise GlazingError("has no face with an area", "Export it again as triangles.")
    torn = 0 if glazing.hollow else sum(part.is_torn() for part in parts)
    if torn and notes is not None:
        many = "1 body" if torn == 1 else f"{torn} bodies"
        notes.append(f"Check: the glass of {mesh.name} has {many} with holes or with edges that join three "
                     "faces, rendered as thin glass. Close it in the program that it comes from for light to "
                     "be refracted.")
    for part in inside_out(parts):
        faces[part.faces] = faces[part.faces][:, ::-1]
    for part in parts:
        if not part.closed:
            open_.append(part)
            continue
        if not part.wound:
            raise GlazingError("is closed, but some of its faces look in and some out",
                               "Have its normals recalculated in the program it comes from.")
        (panes if part.is_pane() else open_ if glazing.hollow else bodies).append(part)
    if bodies and glazing.roughness >= SMOOTH:
        raise GlazingError("is frosted glass in a closed body, and only clear bodies can be "
                           "rendered", "Set its roughness to 0, or make it a sheet.")
    made = []
    for group, make in ((open_, _open_sheet), (panes, _closed_sheet), (bodies, _body)):
        if group:
            surface = registry.add(make(glazing, group))
            own = np.concatenate([part.faces for part in group])
            made.append(_cut(mesh, faces[own], surface, GAP if make is _body else 0.0))
    return made


def lamps_within(meshes: Iterable[Mesh], surfaces: Mapping[str, Surface],
                 lights: Sequence[Light]) -> list[str]:
    """Return a line for each lamp that stands in a body of glass, which may be meant to be hollow."""
    lines = []
    for mesh in meshes:
        glass = surfaces[mesh.surface].glass
        if glass is None or glass.thickness > 0:
            continue
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        lines += [f"Check: {light.name} is within {mesh.name}, a body of glass, and its light is found by "
                  "chance alone. If that is hollow, write `surface: thin glass` for it."
                  for light in lights
                  if np.all(low < np.asarray(light.at)) and np.all(np.asarray(light.at) < high)]
    return lines


def _cut(mesh: Mesh, faces, surface: str, lift: float) -> Mesh:
    used, index = np.unique(faces, return_inverse=True)
    vertices, faces = np.asarray(mesh.vertices, float)[used] + [0, 0, lift], index.reshape(faces.shape)
    normals = None if mesh.normals is None else np.asarray(mesh.normals, float)[used]
    if normals is not None:
        vertices, faces, normals = _flattened(vertices, faces, normals)
    return Mesh(mesh.name, surface, vertices, faces, normals, None, mesh.role)


def _flattened(vertices, faces, normals):
    """Return a mesh whose faces are flat where the normals of their corners lean from them.

    Boxes come with the mean normals of their corners, which would bend what is mirrored in a pane.
    """
    corners = vertices[faces]
    own = shapes.crosses(corners)
    own /= np.maximum(np.linalg.norm(own, axis=1, keepdims=True), 1e-20)
    leans = np.abs(np.einsum("fki,fi->fk", normals[faces], own)).min(axis=1) < LEAST_LEAN
    count = 3 * np.count_nonzero(leans)
    faces = faces.copy()
    faces[leans] = len(vertices) + np.arange(count).reshape(-1, 3)
    return (np.concatenate([vertices, corners[leans].reshape(-1, 3)]), faces,
            np.concatenate([normals, np.repeat(own[leans], 3, axis=0)]))


def _surface(glazing: Glazing, kind: str, crossings: int, length: float, **more) -> Surface:
    """Return clear glass that takes its tint so often on a length [m], and what more `Glass` says."""
    density = glazing.absorption - np.log(glazing.tint) * crossings / length
    return Surface(f"{glazing.name}{kind}", ZEROS, ZEROS, normal_reflectance(glazing.ior) * np.ones(81),
                   1.0, 0.0, glass=Glass(glazing.ior, density, **more))


def _sheet(glazing: Glazing, kind: str, thickness: float, closed: bool) -> Surface:
    clear = _surface(glazing, kind, 1, thickness, thickness=thickness, closed=closed)
    if glazing.roughness < SMOOTH:
        return clear
    # Frost: its faces' slopes turn light by twice their angle, as those of a thin sheet do in
    # glTF's KHR_materials_transmission. Both faces of a closed one share that between them.
    faces = 2 if closed else 1
    lobe = 2 * glazing.roughness / np.sqrt(faces)
    return replace(clear, name=f"{clear.name}, frosted", roughness=glazing.roughness, glass=None,
                   transmission=np.minimum(clear.glass.tint ** (1 / faces), 0.98),
                   lobe=0.0 if glazing.roughness >= SCATTERS else float(lobe))


def _open_sheet(glazing: Glazing, group) -> Surface:
    return _sheet(glazing, "", glazing.thickness or USUAL_THICKNESS, False)


def _closed_sheet(glazing: Glazing, group) -> Surface:
    thickness = 2 * sum(abs(p.volume) for p in group) / sum(p.area for p in group)
    return _sheet(glazing, ", both faces", max(thickness, 1e-6), True)


def _body(glazing: Glazing, group) -> Surface:
    # Cauchy: the mean chord of a body is 4 V / A, and has a side at each end.
    chord = 4 * abs(sum(p.volume for p in group)) / sum(p.area for p in group)
    return _surface(glazing, ", body", 2, max(chord, 1e-6))
