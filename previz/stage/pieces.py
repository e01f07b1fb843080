"""Build the pieces of a set: exact solids, furniture and dressing."""

from __future__ import annotations

import random

import numpy as np

from previz.errors import SceneError
from previz.scene.furniture import KINDS
from previz.scene.piece import USUAL_SIZES
from previz.scene.surface import Surface
from previz.stage import furniture, shapes
from previz.stage.furniture.solids import Solid
from previz.stage.glazing import GlazingError, glass_of, glaze
from previz.stage.records import Mesh
from previz.stage.surfaces import SurfaceRegistry
from previz.stage.yard import YARD

BOXES = ("box", "partition", "panel")
"""Solids that can show a picture, one on each side."""

PLAIN = Surface(name="grey paint")
"""What a solid is made of where nothing is written."""


def _solid(shape: str, size) -> tuple[shapes.Triangles, np.ndarray | None]:
    """Return (triangles standing on z=0 and centred, smooth normals or None)."""
    w, d, h = size
    if shape in BOXES:
        return shapes.box((-w / 2, -d / 2, 0), (w / 2, d / 2, h)), None
    if shape == "cylinder":
        vertices, faces = shapes.frustum(0.5, 0.5, 1.0)
        return (vertices * [w, d, h], faces), None
    vertices, faces = shapes.ball(1.0, subdivisions=4)
    half = np.array([w, d, h]) / 2
    normals = vertices / half
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return (vertices * half + [0, 0, h / 2], faces), normals


def _plain_mesh(piece, surface: str) -> Mesh:
    """Return one of the exact solids, turned and put in its place."""
    size = piece.size or USUAL_SIZES[piece.shape]
    axes = shapes.turned(np.radians(piece.turn))
    if _shows_picture(piece):
        w, d, h = size
        *body, uv = shapes.pictured_box((-w / 2, -d / 2, 0), (w / 2, d / 2, h))
        return Mesh(piece.name, surface, *shapes.place(tuple(body), axes, piece.at), uv=uv)
    body, normals = _solid(piece.shape, size)
    vertices, faces = shapes.place(body, axes, piece.at)
    return Mesh(piece.name, surface, vertices, faces, None if normals is None else normals @ axes.T)


def _shows_picture(piece) -> bool:
    return (
        piece.shape in (*BOXES, "cabinet") and piece.surface is not None and piece.surface.fitted
    )


def shape_meshes(piece, registry: SurfaceRegistry) -> list[tuple[str, Mesh]]:
    """Return (part, mesh) of one of the built-in shapes, turned and put in its place.

    A part of glass may be several meshes, as `glazing.glaze` does it.

    Raises
    ------
    SceneError
        A part is a body of frosted glass, or a file that a surface names cannot be used.
    """
    if piece.shape not in KINDS or _shows_picture(piece):
        return _of_surface(piece, "", _plain_mesh(piece, ""), piece.surface or PLAIN, registry)
    made = []
    kind, written = KINDS[piece.shape], {each.part: each.surface for each in piece.also}
    main = piece.surface or kind.parts[kind.main]
    axes = shapes.turned(np.radians(piece.turn))
    # Two tables are not sawn from one board.
    chance = random.Random(piece.name)
    aside = np.array([chance.uniform(0, 7), chance.uniform(0, 7)])
    parts = furniture.build(piece.shape, piece.size or kind.size, piece.name, piece.open, int(piece.variant))
    for part, solid in parts.items():
        surface = main if part == kind.main else written.get(part) or kind.parts[part] or main
        placed = solid.placed(axes, piece.at)
        uv = _once(solid) if surface.fitted else placed.uv + aside
        mesh = Mesh(piece.name, "", placed.vertices, placed.faces, placed.normals, uv)
        made += _of_surface(piece, part, mesh, surface, registry)
    return made


def _once(solid: Solid) -> np.ndarray:
    """Return texture coordinates that show a picture once, from the front, or from above on what lies."""
    low, high = solid.vertices.min(axis=0), solid.vertices.max(axis=0)
    upward = 1 if high[2] - low[2] < high[1] - low[1] else 2
    return ((solid.vertices - low) / np.maximum(high - low, 1e-9))[:, [0, upward]]


def _of_surface(
    piece, part: str, mesh: Mesh, surface: Surface, registry: SurfaceRegistry
) -> list[tuple[str, Mesh]]:
    glazing = glass_of(surface, piece.name)
    if glazing is None:
        own = registry.of(surface)
        return [(part, Mesh(mesh.name, own, mesh.vertices, mesh.faces, mesh.normals, mesh.uv))]
    try:
        return [(part, each) for each in glaze(mesh, glazing, registry)]
    except GlazingError as error:
        field = "surface" if not part or part == KINDS[piece.shape].main else "also"
        raise SceneError(
            [piece.where(field).problem(f"{piece.label} {error.message}", error.advice)]
        ) from error


def check_glass(piece) -> None:
    """Refuse a shape of glass that cannot be rendered, as `shape_meshes` does."""
    if piece.shape not in YARD:
        shape_meshes(piece, SurfaceRegistry())
