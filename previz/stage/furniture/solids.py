"""Solid forms that furniture is put together from, with smooth normals and texture coordinates.

Each returns a `Solid` that is closed, its faces counter-clockwise from outside. Texture coordinates are
in metres, u along the grain: along a board, a leg, a pipe.
"""

from __future__ import annotations

import functools
import itertools
from typing import NamedTuple

import numpy as np

CHAMFER = 0.003
"""Of an edge that a hand has taken the sharpness off; it shows as a line of light. [m]
Common practice, no source."""

CREASE = np.cos(np.radians(38))
"""Cosine of the angle from which on two strips of a swept form meet in an edge. [1]"""


class Solid(NamedTuple):
    """Triangles with normals and texture coordinates for each corner.

    Parameters
    ----------
    vertices, normals : float array, shape (n, 3)
        [m], [1]
    faces : int array, shape (m, 3)
    uv : float array, shape (n, 2)
        [m]
    """

    vertices: np.ndarray
    faces: np.ndarray
    normals: np.ndarray
    uv: np.ndarray

    def moved(self, *step) -> Solid:
        """Return it moved. [m]"""
        return self._replace(vertices=self.vertices + np.asarray(step, float))

    def turned(self, axis: int, angle: float) -> Solid:
        """Return it turned about x (0), y (1) or z (2) through the origin. [deg]"""
        return self.placed(rotation(axis, angle))

    def placed(self, axes, origin=(0.0, 0.0, 0.0)) -> Solid:
        """Return it turned by world-from-local `axes` (3, 3) and moved to `origin` [m]."""
        axes = np.asarray(axes, float)
        return self._replace(
            vertices=self.vertices @ axes.T + np.asarray(origin, float), normals=self.normals @ axes.T
        )

    def mirrored(self) -> Solid:
        """Return its mirror image in x."""
        flip = np.array([-1.0, 1, 1])
        return self._replace(
            vertices=self.vertices * flip, normals=self.normals * flip, faces=self.faces[:, ::-1]
        )

    def shifted(self, du: float, dv: float = 0.0) -> Solid:
        """Return it with another piece of the pattern on it. [m]"""
        return self._replace(uv=self.uv + [du, dv])


def rotation(axis: int, angle: float) -> np.ndarray:
    """Return the matrix of a turn about an axis. [deg]"""
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    one, two = (axis + 1) % 3, (axis + 2) % 3
    made = np.eye(3)
    made[one, one] = made[two, two] = c
    made[one, two], made[two, one] = -s, s
    return made


def joined(*solids: Solid) -> Solid:
    """Return several solids as one."""
    starts = np.cumsum([0, *(len(each.vertices) for each in solids)])
    return Solid(
        np.concatenate([each.vertices for each in solids]),
        np.concatenate([each.faces + start for each, start in zip(solids, starts, strict=False)]),
        np.concatenate([each.normals for each in solids]),
        np.concatenate([each.uv for each in solids]),
    )


class _Template(NamedTuple):
    signs: np.ndarray
    inset: np.ndarray
    normals: np.ndarray
    across: np.ndarray
    faces: np.ndarray


@functools.cache
def _template(grain: int) -> _Template:
    """Return a box with chamfered edges: which corner and side each of its points belongs to.

    Faces, chamfers and corners have points of their own, so that texture coordinates need no seam; a
    chamfer's normals are those of the faces beside it, and shade as a rounded edge.
    """
    signs, inset, normals, across, faces = [], [], [], [], []
    axes = np.eye(3)

    def patch(points, normal):
        """Add a fan of (sign, axis whose face the point lies on)."""
        start = len(signs)
        corners = np.array([np.where(np.arange(3) == axis, s, 0.9 * np.asarray(s)) for s, axis in points])
        # Any positive offsets give the order of the corners round the patch.
        if np.cross(corners[1] - corners[0], corners[2] - corners[0]) @ normal < 0:
            points = points[::-1]
        along = axes[grain] - normal * normal[grain]
        if np.linalg.norm(along) < 0.3:
            along = axes[(grain + 1) % 3] - normal * normal[(grain + 1) % 3]
        along = along / np.linalg.norm(along)
        for sign, axis in points:
            signs.append(sign)
            inset.append(np.where(np.arange(3) == axis, 0.0, 1.0))
            normals.append(axes[axis] * sign[axis])
            across.append(np.stack([along, np.cross(normal, along)], axis=1))
        faces.extend([start, start + k, start + k + 1] for k in range(1, len(points) - 1))

    square = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    # The six faces come first: without chamfers they are the whole box.
    for axis in range(3):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        for side in (-1, 1):
            points = []
            for a, b in square:
                sign = np.zeros(3)
                sign[axis], sign[one], sign[two] = side, a, b
                points.append((sign, axis))
            patch(points, axes[axis] * side)
    for axis in range(3):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        for a, b in square:
            ends = []
            for end in (-1, 1):
                sign = np.zeros(3)
                sign[axis], sign[one], sign[two] = end, a, b
                ends.append(sign)
            normal = (axes[one] * a + axes[two] * b) / np.sqrt(2)
            patch([(ends[0], one), (ends[1], one), (ends[1], two), (ends[0], two)], normal)
    for sign in itertools.product((-1.0, 1.0), repeat=3):
        sign = np.array(sign)
        patch([(sign, 0), (sign, 1), (sign, 2)], sign / np.sqrt(3))
    return _Template(*(np.array(each) for each in (signs, inset, normals, across, faces)))


def blocks(low, high, chamfer: float = CHAMFER, grain: int | None = None) -> Solid:
    """Return boxes with chamfered edges between pairs of corners, arrays of shape (n, 3) [m], as one.

    Parameters
    ----------
    chamfer : float
        Never more than a quarter of the thinnest side of any. [m]
    grain : int
        Axis that the grain runs along; the longest of the first where none is given.
    """
    low, high = np.atleast_2d(np.asarray(low, float)), np.atleast_2d(np.asarray(high, float))
    low, high = np.broadcast_arrays(low, high)
    middle, half = (low + high) / 2, np.abs(high - low) / 2
    made = _template(int(np.argmax(half[0])) if grain is None else grain)
    if chamfer == 0:
        made = _Template(*(each[:24] for each in made[:-1]), made.faces[:12])
    cut = np.minimum(chamfer, half.min(axis=1) / 2)[:, None, None]
    local = made.signs * (half[:, None] - made.inset * cut)
    count, each = len(low), len(made.signs)
    uv = np.einsum("nki,kij->nkj", local, made.across)
    # Boards beside each other are not sawn from one place.
    uv = uv + (np.arange(count) * np.array([[0.37], [0.61]])).T[:, None]
    faces = made.faces + each * np.arange(count)[:, None, None]
    return Solid(
        (local + middle[:, None]).reshape(-1, 3),
        faces.reshape(-1, 3),
        np.tile(made.normals, (count, 1)),
        uv.reshape(-1, 2),
    )


def block(low, high, chamfer: float = CHAMFER, grain: int | None = None) -> Solid:
    """Return one box of `blocks`."""
    return blocks([low], [high], chamfer, grain)


def grid(points: np.ndarray, *, around: bool = False, flip: bool = False) -> Solid:
    """Return a smooth skin through rows of points, shape (rows, columns, 3); u runs from row to row.

    It faces (next row) x (next column), or the other way with `flip`; `around` says that the last column
    is the first again, and normals go across that seam. It is open: what closes it is up to the caller.
    """
    return grids(points[None], around=around, flip=flip)


@functools.lru_cache(maxsize=256)
def _quads(rows: int, columns: int, flip: bool) -> np.ndarray:
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    faces = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    return faces[:, ::-1] if flip else faces


def grids(points: np.ndarray, *, around: bool = False, flip: bool = False) -> Solid:
    """Return many skins of `grid` as one, shape (skins, rows, columns, 3)."""
    count, rows, columns, _ = points.shape
    a, b, c, d = points[:, :-1, :-1], points[:, 1:, :-1], points[:, 1:, 1:], points[:, :-1, 1:]
    one, two, slant = b - a, d - a, c - a
    left, right = cross(one, slant), cross(slant, two)
    normals = np.zeros_like(points)
    both = left + right
    normals[:, :-1, :-1] += both
    normals[:, 1:, 1:] += both
    normals[:, 1:, :-1] += left
    normals[:, :-1, 1:] += right
    if around:
        normals[:, :, 0] += normals[:, :, -1]
        normals[:, :, -1] = normals[:, :, 0]
    along = np.zeros((count, rows, 1))
    along[:, 1:, 0] = np.cumsum(np.sqrt((np.diff(points, axis=1) ** 2).sum(axis=3)).mean(axis=2), axis=1)
    across = np.zeros((count, 1, columns))
    across[:, 0, 1:] = np.cumsum(np.sqrt((np.diff(points, axis=2) ** 2).sum(axis=3)).mean(axis=1), axis=1)
    uv = np.empty((count, rows, columns, 2))
    uv[..., 0], uv[..., 1] = along, across
    faces = _quads(rows, columns, flip) + rows * columns * np.arange(count)[:, None, None]
    # A triangle that has shrunk to a line is no face.
    area = np.stack([(left**2).sum(axis=3), (right**2).sum(axis=3)], axis=-1).reshape(-1)
    faces = faces.reshape(-1, 3)
    if area.min() <= 1e-24:
        faces = faces[area > 1e-24]
    return Solid(
        points.reshape(-1, 3), faces, _unit((-normals if flip else normals).reshape(-1, 3)), uv.reshape(-1, 2)
    )


def cross(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Return cross products along the last axis, without the general case's cost."""
    ax, ay, az = one[..., 0], one[..., 1], one[..., 2]
    bx, by, bz = two[..., 0], two[..., 1], two[..., 2]
    made = np.empty(np.broadcast_shapes(one.shape, two.shape))
    made[..., 0], made[..., 1], made[..., 2] = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    return made


def _run(lengths) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(lengths)])


def _unit(vectors) -> np.ndarray:
    length = np.sqrt((vectors * vectors).sum(axis=-1, keepdims=True))
    if length.min() > 1e-15:
        return vectors / length
    any_way = np.eye(vectors.shape[-1])[-1]
    return np.where(length > 1e-15, vectors / np.maximum(length, 1e-15), any_way)
