"""Build the pieces of a set: plain solids and furniture."""

from __future__ import annotations

from functools import partial

import numpy as np

from previz.errors import SceneError
from previz.scene.piece import USUAL_SIZES
from previz.stage import shapes
from previz.stage.glazing import Glazing, GlazingError, glaze, written_glazing
from previz.stage.records import Mesh
from previz.stage.surfaces import SurfaceRegistry

BOXES = ("box", "cabinet", "partition", "panel")
"""Shapes that can show a picture, one on each side."""

FURNITURE = {
    "table": shapes.table, "desk": partial(shapes.table, panels=True),
    "bench": partial(shapes.table, leg=0.05, top=0.04), "chair": shapes.chair,
    "stool": partial(shapes.chair, back=False), "shelf": shapes.shelf,
}  # fmt: skip


def _solid(shape: str, size) -> tuple[shapes.Triangles, np.ndarray | None]:
    """Return (triangles standing on z=0 and centred, smooth normals or None)."""
    w, d, h = size
    if shape in BOXES:
        return shapes.box((-w / 2, -d / 2, 0), (w / 2, d / 2, h)), None
    if shape in FURNITURE:
        return FURNITURE[shape](size), None
    if shape == "cylinder":
        vertices, faces = shapes.frustum(0.5, 0.5, 1.0)
        return (vertices * [w, d, h], faces), None
    vertices, faces = shapes.ball(1.0, subdivisions=4)
    half = np.array([w, d, h]) / 2
    normals = vertices / half
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return (vertices * half + [0, 0, h / 2], faces), normals


def piece_mesh(piece, surface: str) -> Mesh:
    """Return one of the built-in shapes, turned and put in its place."""
    size = piece.size or USUAL_SIZES[piece.shape]
    axes = shapes.turned(np.radians(piece.turn))
    if piece.shape in BOXES and piece.surface is not None and piece.surface.fitted:
        w, d, h = size
        *body, uv = shapes.pictured_box((-w / 2, -d / 2, 0), (w / 2, d / 2, h))
        return Mesh(piece.name, surface, *shapes.place(tuple(body), axes, piece.at), uv=uv)
    body, normals = _solid(piece.shape, size)
    vertices, faces = shapes.place(body, axes, piece.at)
    return Mesh(piece.name, surface, vertices, faces,
                None if normals is None else normals @ axes.T)


def glazed_meshes(piece, glazing: Glazing, registry: SurfaceRegistry) -> list[Mesh]:
    """Return one of the built-in shapes made of glass, as `glazing.glaze` does it.

    Raises
    ------
    SceneError
        It is a body of frosted glass.
    """
    try:
        return glaze(piece_mesh(piece, ""), glazing, registry)
    except GlazingError as error:
        raise SceneError([piece.where("surface").problem(
            f"{piece.label} {error.message}", error.advice)]) from error


def check_glass(piece) -> None:
    """Refuse a shape of glass that cannot be rendered, as `glazed_meshes` does."""
    glazing = written_glazing(piece)
    if glazing is not None:
        glazed_meshes(piece, glazing, SurfaceRegistry())
