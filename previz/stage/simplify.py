"""A mesh of many triangles made simpler, by the collapse of edges that change its shape least.

Source of the method: Garland and Heckbert, "Surface simplification using quadric error metrics", SIGGRAPH
1997, as the library fast-simplification has it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from previz.stage.mesh_files import MeshPart

LEAST = 12
"""Triangles that every part of a mesh keeps, if it has them."""


def simplified(parts: list[MeshPart], most: int, notes: list[str]) -> list[MeshPart]:
    """Return the parts of a mesh with about so many triangles together, each in the measure of what it had.

    Parameters
    ----------
    parts : list of MeshPart
    most : int
        Of triangles; a mesh that has no more is returned as it is.
    notes : list of str
        Takes a clause where it has more.
    """
    count = sum(len(part.faces) for part in parts)
    if count <= most:
        return parts
    made = [_simpler(part, max(LEAST, int(len(part.faces) * most / count))) for part in parts]
    left = sum(len(part.faces) for part in made)
    notes.append(f"is simplified from {count} to {left} triangles, as its piece says")
    return made


def _simpler(part: MeshPart, target: int) -> MeshPart:
    if len(part.faces) <= target:
        return part
    # It takes a while to import, and hardly a scene needs it.
    from fast_simplification import replay_simplification, simplify

    shown = part.material.picture is not None or part.material.glow_picture is not None
    pictured = shown and part.uv is not None
    points, faces, index = _welded(part, by_picture=pictured)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    size = float(np.ptp(points, axis=0).max()) or 1.0
    # It works in single precision.
    unit = ((points - middle) / size).astype(np.float32)
    faces = faces.astype(np.int32)
    # The edge of a picture's chart is an open edge, which would tear.
    made, kept, collapses = simplify(unit, faces, target_count=target, return_collapses=True,
                                     preserve_border=pictured)
    normals = uv = None
    if pictured or part.normals is not None:
        made, kept, moved = replay_simplification(unit, faces, collapses)
        of = np.asarray(moved)[index]
        if part.normals is not None:
            total = _sums(part.normals, of, len(made))
            normals = total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-12)
        if pictured:
            count = np.bincount(of, minlength=len(made))
            uv = _sums(part.uv, of, len(made)) / np.maximum(count, 1)[:, None]
    return replace(part, vertices=np.asarray(made, float) * size + middle, faces=np.asarray(kept, int),
                   normals=normals, uv=uv)


def _welded(part: MeshPart, *, by_picture: bool):
    """Return (points, faces, the point of each vertex); vertices of one place, and texel, are one point."""
    keys = np.column_stack([part.vertices, part.uv]) if by_picture else np.ascontiguousarray(part.vertices)
    # Rows of bytes sort faster than rows of numbers; adding 0 makes one of both zeros.
    rows = np.ascontiguousarray(keys + 0.0).view(np.dtype((np.void, 8 * keys.shape[1]))).reshape(-1)
    _, first, index = np.unique(rows, return_index=True, return_inverse=True)
    index = index.reshape(-1)
    faces = index[part.faces]
    flat = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    return part.vertices[first], faces[~flat], index


def _sums(values: np.ndarray, of: np.ndarray, count: int) -> np.ndarray:
    """Return the sums of rows of values by the number that each belongs to, shape (count, columns)."""
    return np.column_stack([np.bincount(of, values[:, k], count) for k in range(values.shape[1])])
