"""Read meshes from files: glTF, OBJ, PLY and STL, in metres with z up."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from previz.errors import SceneError
from previz.physics.uplift import reflectance_from_rgb
from previz.stage import shapes
from previz.stage.records import Mesh, Surface
from previz.stage.surfaces import GLOSS_F0, LIGHTEST, ONES, SurfaceShelf

UNIT_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}

LARGEST = 10_000.0
"""A mesh wider than this has been given the wrong unit. [m]"""


def _problem(piece, message: str, advice: str) -> SceneError:
    return SceneError([piece.where("mesh").problem(message, advice)])


def _load(piece):
    """Return the file's trimesh scene.

    Raises
    ------
    SceneError
        The file is not what its name says.
    """
    import trimesh

    path = Path(piece.mesh)
    try:
        return trimesh.load_scene(path, process=False)
    except Exception as error:
        # Readers of mesh files raise nearly anything on a broken file; all of it means this.
        raise _problem(piece, f"the mesh '{path.name}' cannot be read: {error}",
                       "Export it again as GLB, OBJ, PLY or STL.") from error


def _checked(piece, vertices, faces):
    """Return float vertices and int faces, or say what is wrong with them."""
    name = Path(piece.mesh).name
    vertices, faces = np.asarray(vertices, float), np.asarray(faces, int)
    if len(faces) == 0:
        raise _problem(piece, f"the mesh '{name}' has no faces",
                       "Export it as triangles; points and curves cannot be lit.")
    bad = np.count_nonzero(~np.isfinite(vertices).all(axis=1))
    if bad:
        raise _problem(piece, f"the mesh '{name}' has {bad} of {len(vertices)} points that are "
                       "not finite numbers", "Clean it in the program it comes from and export "
                       "it again.")
    return vertices, faces


def piece_meshes(piece, shelf: SurfaceShelf, surface: str | None) -> list[Mesh]:
    """Return a mesh file as the stage's meshes, one for each of its materials.

    Parameters
    ----------
    piece : scene.piece.Piece
        With `mesh` set.
    shelf : SurfaceShelf
        Takes the file's materials.
    surface : str or None
        The stage's surface that replaces the file's own, if any.

    Raises
    ------
    SceneError
        The file cannot be read, has no faces, has points that are not numbers, or is absurdly
        large for its unit.
    """
    scene = _load(piece)
    suffix = Path(piece.mesh).suffix.lower()
    up = piece.up or ("y" if suffix in (".gltf", ".glb") else "z")
    scale = UNIT_METRES[piece.units or "m"] * piece.scale
    to_z_up = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], float) if up == "y" else np.eye(3)
    axes = shapes.turned(np.radians(piece.turn)) @ to_z_up
    built = []
    for node in scene.graph.nodes_geometry:
        matrix, key = scene.graph[node]
        part = scene.geometry[key]
        if not hasattr(part, "faces"):
            continue
        vertices, faces = _checked(piece, part.vertices, part.faces)
        turn = matrix[:3, :3]
        if np.linalg.det(turn) < 0:
            faces = faces[:, ::-1]
        vertices = (vertices @ turn.T + matrix[:3, 3]) * scale @ axes.T
        normals = _normals(part, turn, axes)
        uv = getattr(part.visual, "uv", None)
        name = surface or shelf.add(_surface(piece, part))
        built.append(Mesh(piece.name, name, vertices, faces, normals,
                          None if uv is None else np.asarray(uv, float)))
    if not built:
        raise _problem(piece, f"the mesh '{Path(piece.mesh).name}' has no faces",
                       "Export it as triangles; points and curves cannot be lit.")
    return _put_down(piece, built)


def _normals(part, turn, axes) -> np.ndarray | None:
    """Return the file's own smooth normals in the world, None where it has none."""
    if "vertex_normals" not in part._cache.cache:
        return None
    normals = np.asarray(part.vertex_normals, float) @ np.linalg.inv(turn) @ axes.T
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
    shift = np.asarray(piece.at)
    return [Mesh(m.name, m.surface, m.vertices + shift, m.faces, m.normals, m.uv) for m in meshes]


def _surface(piece, part) -> Surface:
    """Return the material that came with a part of a file."""
    material = getattr(part.visual, "material", None)
    rgb, gloss, roughness, metal, texture = np.full(3, 0.5), 0.0, 0.5, False, None
    name = piece.name
    if material is not None:
        name = f"{piece.name}: {getattr(material, 'name', None) or 'material'}"
        simple = material if hasattr(material, "baseColorFactor") else (
            material.to_pbr() if hasattr(material, "to_pbr") else None)
        if simple is not None:
            rgb = _factor(simple.baseColorFactor)
            roughness = 0.8 if simple.roughnessFactor is None else float(simple.roughnessFactor)
            metal = simple.metallicFactor is not None and float(simple.metallicFactor) > 0.5
            gloss = 1.0 if metal else max(0.0, 1 - roughness)
            texture = _picture(simple.baseColorTexture, rgb)
    elif part.visual.kind in ("vertex", "face"):
        rgb = np.asarray(part.visual.main_color, float)[:3] / 255
    curve = np.clip(reflectance_from_rgb(np.clip(rgb, 0, 1)), 0, LIGHTEST)
    return Surface(name, 0 * ONES if metal else curve, 0 * ONES,
                   curve if metal else GLOSS_F0 * ONES, gloss, max(roughness, 0.05) ** 2,
                   None if metal else texture)


def _factor(value) -> np.ndarray:
    """Return a material's base colour as linear Rec. 709."""
    if value is None:
        return np.ones(3)
    colour = np.asarray(value, float)[:3]
    # trimesh gives bytes where the file had floats; glTF factors are linear light.
    return colour / 255 if np.asarray(value).dtype.kind in "ui" else colour


def _picture(image, factor) -> np.ndarray | None:
    if image is None:
        return None
    from previz.physics.uplift import linear_from_srgb

    encoded = np.asarray(image.convert("RGB"), np.float32) / 255
    return np.clip(linear_from_srgb(encoded) * factor, 0, LIGHTEST).astype(np.float32)
