"""Read meshes from files: glTF, OBJ, PLY and STL, in metres with z up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from previz.errors import SceneError
from previz.physics.uplift import reflectance_from_rgb
from previz.stage import shapes
from previz.stage.glass_files import FileGlass
from previz.stage.glazing import Glazing, GlazingError, glaze, transmission_from_rgb
from previz.stage.mesh_files import FileMaterial, MeshPart, read_parts
from previz.stage.mesh_sources import unusable
from previz.stage.picture_files import linear_picture
from previz.stage.plain_files import FileError
from previz.stage.records import Mesh, Surface
from previz.stage.surfaces import GLOSS_F0, LIGHTEST, ONES, SurfaceRegistry

if TYPE_CHECKING:
    from previz.scene.piece import Piece

UNIT_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}

LEAST_CUT = 0.02
"""Share that a picture cuts away of a mesh from which on it is pointed out. [1]"""

LARGEST = 10_000.0
"""A mesh wider than this has been given the wrong unit. [m]"""


def _problem(piece, message: str, advice: str) -> SceneError:
    return SceneError([piece.where("mesh").problem(message, advice)])


def _faceless(piece) -> SceneError:
    return _problem(piece, f"the mesh '{Path(piece.mesh).name}' has no faces",
                    "Export it as triangles; points and curves cannot be lit.")


def _check(piece, part: MeshPart) -> None:
    """Refuse a part without faces, or with points that are no numbers."""
    if len(part.faces) == 0:
        raise _faceless(piece)
    bad = np.count_nonzero(~np.isfinite(part.vertices).all(axis=1))
    if bad:
        raise _problem(piece, f"the mesh '{Path(piece.mesh).name}' has {bad} of {len(part.vertices)} points "
                       "that are not finite numbers", "Clean it in the program it comes from and export "
                       "it again.")


def piece_meshes(piece: Piece, registry: SurfaceRegistry, surface: str | None, glazing: Glazing | None,
                 notes: list[str]) -> list[tuple[Mesh, FileMaterial]]:
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
        Takes a line for each material that is rendered otherwise than its file has it.

    Raises
    ------
    SceneError
        The file cannot be read, has no faces, has points that are not numbers, is absurdly
        large for its unit, or has glass that cannot be rendered.
    """
    path, missing = Path(piece.mesh), list[str]()
    try:
        parts = read_parts(str(path), missing)
    except FileError as fault:
        raise unusable(piece, fault) from fault
    except Exception as error:
        # Readers of mesh files raise nearly anything on a broken file; all of it means this.
        raise _problem(piece, f"the mesh '{path.name}' cannot be read: {error}",
                       "Export it again as GLB, OBJ, PLY or STL.") from error
    notes += [f"Check: {each}; {piece.name} is rendered without it." for each in missing]
    up = piece.up or ("y" if path.suffix.lower() in (".gltf", ".glb") else "z")
    scale = UNIT_METRES[piece.units or "m"] * piece.scale
    to_z_up = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], float) if up == "y" else np.eye(3)
    axes = shapes.turned(np.radians(piece.turn)) @ to_z_up
    if not parts:
        raise _faceless(piece)
    built, materials, faults = [], [], []
    textures: dict[tuple, np.ndarray] = {}
    for part in parts:
        _check(piece, part)
        turn = part.pose[:3, :3]
        faces = part.faces[:, ::-1] if np.linalg.det(turn) < 0 else part.faces
        vertices = (part.vertices @ turn.T + part.pose[:3, 3]) * scale @ axes.T
        mesh = Mesh(piece.name, surface or "", vertices, faces, _normals(part, turn, axes), part.uv)
        kept = surface is None and glazing is None
        own = part.material.glass if kept else None
        if kept and part.material.cut > LEAST_CUT:
            notes.append(f"Check: the picture of material '{part.material.name}' in '{path.name}' cuts away "
                         f"{100 * part.material.cut:.0f} % of {piece.name}; it is rendered whole.")
        try:
            if glazing is not None:
                built += glaze(mesh, glazing, registry)
            elif own is not None:
                size = scale * np.cbrt(abs(np.linalg.det(turn)))
                built += glaze(mesh, _glazing(piece, part.material, own, size), registry)
            else:
                built.append(replace(mesh, surface=surface or registry.add(
                    _surface(piece, part.material, textures))))
        except GlazingError as error:
            faults.append(_glass_problem(piece, part, error))
        materials += [part.material] * (len(built) - len(materials))
    if faults:
        raise SceneError(faults)
    return list(zip(_put_down(piece, built), materials, strict=True))


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


def _put_down(piece, meshes: list[Mesh]) -> list[Mesh]:
    """Move the meshes so that the file's own origin is at the piece's place."""
    points = np.concatenate([m.vertices for m in meshes])
    extent = float(np.max(points.max(axis=0) - points.min(axis=0)))
    name = Path(piece.mesh).name
    if extent > LARGEST:
        raise _problem(piece, f"the mesh '{name}' is {extent:.0f} m across",
                       "Write the `units` that it was made in, or a `scale`.")
    if extent <= 0:
        raise _problem(piece, f"the mesh '{name}' has no size",
                       "All of its points are in one place; export it again.")
    return [replace(mesh, vertices=mesh.vertices + np.asarray(piece.at)) for mesh in meshes]


def _surface(piece, material: FileMaterial, textures: dict) -> Surface:
    """Return the material that came with a part of a file."""
    curve = np.clip(reflectance_from_rgb(np.clip(material.rgb, 0, 1)), 0, LIGHTEST)
    metal, rough = material.metal, max(material.roughness, 0.05) ** 2
    return Surface(_name(piece, material), 0 * ONES if metal else curve, 0 * ONES,
                   curve if metal else GLOSS_F0 * ONES, material.gloss, rough,
                   None if metal else _texture(material, textures))


def _texture(material: FileMaterial, made: dict) -> np.ndarray | None:
    """Return a material's picture as linear light; parts of one material share it, by what is made."""
    if material.picture is None:
        return None
    key = (id(material.picture), *np.asarray(material.rgb, float))
    if key not in made:
        made[key] = linear_picture(material.picture, material.rgb, LIGHTEST)
    return made[key]
