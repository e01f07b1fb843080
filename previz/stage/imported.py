"""Read meshes from files: glTF, OBJ, PLY and STL, in metres with z up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.errors import SceneError
from previz.physics.uplift import reflectance_from_rgb
from previz.stage import shapes
from previz.stage.glass_files import FileGlass
from previz.stage.glazing import Glazing, GlazingError, glaze, transmission_from_rgb
from previz.stage.mesh_faults import MOST_TOLD, Fault, MeshError, few
from previz.stage.mesh_files import SIZELESS, FileMaterial, MeshPart, read_parts
from previz.stage.mesh_sizes import WIDEST, bounds, size_notes
from previz.stage.picture_files import linear_picture
from previz.stage.picture_maps import of_few, relief_of, roughness_pattern
from previz.stage.plain_files import FileError
from previz.stage.records import Mesh, Pattern, Surface
from previz.stage.simplify import simplified
from previz.stage.surfaces import GLOSS_F0, LIGHTEST, ONES, SurfaceRegistry

if TYPE_CHECKING:
    from previz.scene.piece import Piece

UNIT_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}

LEAST_CUT = 0.02
"""Share that a picture cuts away of a mesh from which on it is pointed out. [1]"""

LARGEST = 10_000.0
"""A mesh wider than this has been given the wrong unit; farther from its origin, single precision has too
little detail. [m]"""

LEAST = 1e-4
"""A mesh smaller than this is smaller than the engine's steps off a surface. [m]"""


def problems_of(piece, faults: Iterable[Fault]) -> SceneError:
    """Return what is wrong with a piece's mesh at the place where it is named."""
    found, name = list(faults), Path(piece.mesh).name
    told = [(f"the mesh '{name}' {message}", advice) for message, advice in found[:MOST_TOLD]]
    if len(found) > len(told):
        message, advice = told[-1]
        told[-1] = f"{message}; and {few(len(found) - len(told), 'more fault')}", advice
    return SceneError(piece.where("mesh").problem(*each) for each in told)


def piece_meshes(piece: Piece, registry: SurfaceRegistry, surface: str | None, glazing: Glazing | None,
                 notes: list[str], most: float = WIDEST) -> list[tuple[Mesh, FileMaterial]]:
    """Return a mesh file as the stage's meshes, with the material that the file has for each.

    Parameters
    ----------
    piece
        With `mesh` set.
    registry
        Takes the file's materials.
    surface : str or None
        The stage's surface that replaces the file's own, if any.
    glazing
        The glass that replaces the file's own materials, if any.
    notes
        Takes a line for each thing that is repaired, or rendered otherwise than its file has it.

    most : float
        Size from which on the mesh is pointed out; as of `mesh_sizes.widest`. [m]

    Raises
    ------
    SceneError
        The file cannot be read, has no faces, has numbers that are none, is absurdly large for its unit or
        far from its place, or has glass that cannot be rendered; with all that is wrong.
    """
    path, said, missing = Path(piece.mesh), list[str](), list[str]()
    try:
        parts = read_parts(str(path), missing, said)
        if piece.triangles is not None:
            parts = simplified(parts, int(piece.triangles), said)
    except FileError as error:
        raise problems_of(piece, [(f"cannot be read: {error.message}", error.advice)]) from error
    except MeshError as error:
        raise problems_of(piece, error.faults) from error
    notes += [f"Check: the mesh '{path.name}' {each}." for each in said]
    notes += [f"Check: {each}; {piece.name} is rendered without it." for each in missing]
    up = piece.up or ("y" if path.suffix.lower() in (".gltf", ".glb") else "z")
    scale = UNIT_METRES[piece.units or "m"] * piece.scale
    to_z_up = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], float) if up == "y" else np.eye(3)
    axes = shapes.turned(np.radians(piece.turn)) @ to_z_up
    with np.errstate(over="ignore", invalid="ignore"):
        placed = [(part.vertices @ part.pose[:3, :3].T + part.pose[:3, 3]) * scale @ axes.T for part in parts]
    _bounded(piece, placed)
    if not any(np.any(shapes.crosses(points[part.faces]))
               for part, points in zip(parts, placed, strict=True)):
        raise problems_of(piece, [("has no face with an area", "Export it again as triangles.")])
    built, materials, faults = [], [], []
    textures: dict[tuple, Any] = {}
    for part, vertices in zip(parts, placed, strict=True):
        turn = part.pose[:3, :3]
        faces = part.faces[:, ::-1] if np.linalg.det(turn) < 0 else part.faces
        mesh = Mesh(piece.name, surface or "", vertices, faces, _normals(part, turn, axes), part.uv)
        kept = surface is None and glazing is None
        own = part.material.glass if kept else None
        if kept and part.material.cut > LEAST_CUT:
            notes.append(f"Check: the picture of material '{part.material.name}' in '{path.name}' cuts away "
                         f"{100 * part.material.cut:.0f} % of {piece.name}; it is rendered whole.")
        try:
            if glazing is not None:
                built += glaze(mesh, glazing, registry, notes)
            elif own is not None:
                size = scale * np.cbrt(abs(np.linalg.det(turn)))
                built += glaze(mesh, _glazing(piece, part.material, own, size), registry, notes)
            else:
                built.append(replace(mesh, surface=surface or registry.add(
                    _surface(piece, part.material, textures))))
        except GlazingError as error:
            faults.append(_glass_problem(piece, part, error))
        materials += [part.material] * (len(built) - len(materials))
    if faults:
        raise SceneError(faults)
    notes += size_notes(piece, *bounds(placed), sum(len(mesh.faces) for mesh in built), most)
    # The file's own origin is at the piece's place.
    at = np.asarray(piece.at)
    return [(replace(mesh, vertices=mesh.vertices + at), material)
            for mesh, material in zip(built, materials, strict=True)]


def _glass_problem(piece, part: MeshPart, error: GlazingError):
    of = f" of '{part.name}'" if part.name else ""
    what = "glass" if part.material.name is None else f"material '{part.material.name}'"
    return piece.where("mesh").problem(
        f"the {what}{of} in '{Path(piece.mesh).name}' {error.message}", error.advice)


def _name(piece, material: FileMaterial) -> str:
    return piece.name if material.name is None else f"{piece.name}: {material.name}"


def _glazing(piece, material: FileMaterial, glass: FileGlass, scale: float) -> Glazing:
    """Return the glass of a part of a file; `scale` makes metres of its unit."""
    if glass.fault:
        raise GlazingError(glass.fault, glass.advice)
    left = transmission_from_rgb(glass.attenuation)
    return Glazing(_name(piece, material), max(glass.ior, 1.0001), transmission_from_rgb(glass.tint),
                   -np.log(left) / glass.distance, glass.thickness * scale, glass.roughness**2,
                   glass.volume is False)


def _normals(part: MeshPart, turn, axes) -> np.ndarray | None:
    """Return the file's own smooth normals in the world, None where it has none."""
    if part.normals is None:
        return None
    normals = part.normals @ np.linalg.inv(turn) @ axes.T
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.where(length > 1e-9, normals / np.maximum(length, 1e-9), 0)


def _bounded(piece, points: list[np.ndarray]) -> None:
    """Refuse a mesh whose size or distance cannot be, by the points of its parts about its own origin. [m]"""
    low, high = bounds(points)
    extent, away = float(np.max(high - low)), float(np.max(np.abs([low, high])))
    units = "Write the `units` that it was made in, or a `scale`."
    if not extent <= LARGEST:
        wide = f"is {extent:.0f} m across" if extent < 1e15 else "is wider than all numbers of metres"
        raise problems_of(piece, [(wide, units)])
    if extent <= 0:
        raise problems_of(piece, [SIZELESS])
    if extent < LEAST:
        raise problems_of(piece, [(f"is {1000 * extent:.2g} mm across", units)])
    if away > LARGEST:
        raise problems_of(piece, [(
            f"is {extent:.3g} m across and lies {away:.0f} m from its own origin, too far for any detail",
            "Move it to its origin in the program that it comes from and export it again.")])


def _surface(piece, material: FileMaterial, textures: dict) -> Surface:
    """Return the material that came with a part of a file."""
    curve = np.clip(reflectance_from_rgb(np.clip(material.rgb, 0, 1)), 0, LIGHTEST)
    metal, rough = material.metal, max(material.roughness, 0.05) ** 2
    relief = pattern = None
    if material.normals is not None:
        relief = _shared(textures, (id(material.normals), material.leaning),
                         lambda: relief_of(material.normals, (1.0, 1.0), material.leaning))
    if material.rough_picture is not None:
        pattern = _shared(textures, (id(material.rough_picture), rough, metal),
                          lambda: _rough_pattern(material, rough, curve))
    return Surface(_name(piece, material), 0 * ONES if metal else curve, 0 * ONES,
                   curve if metal else GLOSS_F0 * ONES, material.gloss, rough,
                   None if metal else _texture(material, textures), pattern=pattern, relief=relief)


def _rough_pattern(material: FileMaterial, width: float, curve) -> Pattern:
    """Return how the shine of a material varies that has a texture of its roughness."""
    codes = of_few(material.rough_picture)[..., 1] / np.float32(255)
    mean = max(float(np.mean(codes)), 1e-6)
    rough = np.clip(codes * (material.roughness / mean), 0, 1)
    gloss = None if material.metal or not material.gloss else (1 - rough) / material.gloss
    return roughness_pattern(rough, width, (1.0, 1.0), curve, gloss)


def _shared(made: dict, key: tuple, make):
    """Return what parts of one material share, made where it has not been."""
    if key not in made:
        made[key] = make()
    return made[key]


def _texture(material: FileMaterial, made: dict) -> np.ndarray | None:
    """Return a material's picture as linear light; parts of one material share it, by what is made."""
    if material.picture is None:
        return None
    return _shared(made, (id(material.picture), *np.asarray(material.rgb, float)),
                   lambda: linear_picture(material.picture, material.rgb, LIGHTEST))
