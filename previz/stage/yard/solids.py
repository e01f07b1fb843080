"""Parts of yard pieces: a surface and triangles, and the solids that most are made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage import shapes
from previz.stage.shapes import Triangles

MAIN = ""
"""Surface of parts that are of the piece's own."""


@dataclass(frozen=True)
class Part:
    """Triangles of one surface.

    Parameters
    ----------
    surface : str
        A name of the library, or `MAIN`.
    body : (vertices, faces)
        [m]
    normals : float array, shape (n, 3), or None
        Smooth ones.
    """

    surface: str
    body: Triangles
    normals: np.ndarray | None = None


def made(surface: str, *bodies: Triangles) -> Part:
    """Return bodies as one part with flat faces."""
    return Part(surface, shapes.join(*bodies))


def rounded(surface: str, *bodies: Triangles, limit: float = 40.0) -> Part:
    """Return bodies as one part, smooth where faces meet at less than `limit`. [deg]"""
    return Part(surface, *creased(*shapes.join(*bodies), limit))


def block(x0, x1, y0, y1, z0, z1) -> Triangles:
    """Return an upright box between its faces. [m]"""
    return shapes.box((x0, y0, z0), (x1, y1, z1))


def rod(one, two, radius: float, sides: int = 8, end: float | None = None) -> Triangles:
    """Return a closed round bar from a point to another; `end` is its radius there. [m]"""
    one, two = np.asarray(one, float), np.asarray(two, float)
    length = float(np.linalg.norm(two - one))
    return shapes.place(
        shapes.frustum(radius, radius if end is None else end, length, sides=sides),
        shapes.aimed(two - one),
        one,
    )


def lathe(profile, sides: int = 24) -> Triangles:
    """Return a body turned about z from (radius, height), from below upwards; no ends. [m]"""
    profile = np.asarray(profile, float)
    turn = np.arange(sides) * 2 * np.pi / sides
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    vertices = np.concatenate([np.column_stack([ring * r, np.full(sides, z)]) for r, z in profile])
    i = np.arange(sides)
    j = (i + 1) % sides
    faces = [
        np.concatenate([np.stack([i, j, j + sides], 1), np.stack([i, j + sides, i + sides], 1)]) + k * sides
        for k in range(len(profile) - 1)
    ]
    found = np.concatenate(faces)
    return vertices, found[_wide(vertices, found)]


def _wide(vertices, faces) -> np.ndarray:
    """Return which faces have an area."""
    return np.linalg.norm(shapes.crosses(vertices[faces]), axis=1) > 1e-10


def extruded(profile, x0: float, x1: float) -> Triangles:
    """Return a bar along x of a cross-section of (y, z), counter-clockwise seen from +x, star-shaped. [m]"""
    profile = np.asarray(profile, float)
    count = len(profile)
    ends = [np.column_stack([np.full(count, x), profile]) for x in (x0, x1)]
    middle = profile.mean(axis=0)
    vertices = np.concatenate([*ends, [[x0, *middle], [x1, *middle]]])
    i = np.arange(count)
    j = (i + 1) % count
    faces = np.concatenate(
        [
            np.stack([i, i + count, j + count], 1),
            np.stack([i, j + count, j], 1),
            np.stack([np.full(count, 2 * count), i, j], 1)[:, [0, 2, 1]][:, [0, 2, 1]][:, ::-1],
            np.stack([np.full(count, 2 * count + 1), i + count, j + count], 1),
        ]
    )
    return vertices, faces


def creased(vertices, faces, limit: float = 40.0):
    """Return ((vertices, faces), normals), smooth only where faces meet at less than `limit`. [deg]"""
    faces = np.asarray(faces)[_wide(vertices, faces)]
    if not len(faces):
        return (np.zeros((0, 3)), faces), np.zeros((0, 3))
    cross = shapes.crosses(vertices[faces])
    unit = cross / np.linalg.norm(cross, axis=1, keepdims=True)
    # Corners at one place count as one, whichever part of the body they belong to.
    _, place = np.unique(np.rint(vertices * 1e5).astype(np.int64), axis=0, return_inverse=True)
    corner = place.ravel()[faces].ravel()
    order = np.argsort(corner, kind="stable")
    of_face = np.repeat(np.arange(len(faces)), 3)
    start = np.searchsorted(corner[order], np.arange(corner.max() + 2))
    many = np.diff(start)
    normals = np.zeros((len(corner), 3))
    close = np.cos(np.radians(limit))
    for k in range(int(many.max())):
        has = many[corner] > k
        other = of_face[order[np.minimum(start[corner] + k, len(order) - 1)]]
        near = has & (np.einsum("ij,ij->i", unit[other], unit[of_face]) > close)
        normals[near] += cross[other[near]]
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    return (vertices[faces.ravel()], np.arange(len(corner)).reshape(-1, 3)), normals


def pickets(run, half: float, low: float, high, y: float, thick: float, tip: float) -> Triangles:
    """Return upright boards with pointed heads at places along x. [m]"""
    bodies = []
    for x, top in zip(run, np.broadcast_to(high, len(run)), strict=True):
        outline = np.array(
            [(x - half, low), (x + half, low), (x + half, top - tip), (x, top), (x - half, top - tip)]
        )
        front = np.column_stack([outline[:, 0], np.full(5, y), outline[:, 1]])
        back = front + [0, thick, 0]
        i = np.arange(5)
        j = (i + 1) % 5
        faces = np.concatenate(
            [
                [[0, 1, 2], [0, 2, 4], [2, 3, 4]],
                [[7, 6, 5], [9, 7, 5], [9, 8, 7]],
                np.stack([j, i, i + 5], 1),
                np.stack([j, i + 5, j + 5], 1),
            ]
        )
        bodies.append((np.concatenate([front, back]), faces))
    return shapes.join(*bodies)
