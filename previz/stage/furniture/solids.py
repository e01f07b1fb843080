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


def sweep(
    path, section, scale=None, *, upward=(0.0, 0.0, 1.0), closed: bool = False, smooth: bool | None = None
) -> Solid:
    """Return a section carried along a path, with ends.

    Parameters
    ----------
    path : float array, shape (n, 3)
        [m]
    section : float array, shape (m, 2)
        Corners counter-clockwise, first coordinate towards the right of someone who goes along the path
        with their head towards `upward`, second upwards. [m]
    scale : float array, shape (n,) or (n, 2), optional
        Enlarges the section along the path. [1]
    closed : bool
        Whether the path's end joins its start, which is not repeated.
    smooth : bool, optional
        Whether the section is rounded; by its corners where not given.
    """
    path, section = np.asarray(path, float), np.asarray(section, float)
    if closed:
        path = np.concatenate([path, path[:1]])
    steps = np.diff(path, axis=0)
    steps = _unit(steps)
    ahead = np.concatenate([steps[:1], steps[:-1] + steps[1:], steps[-1:]])
    if closed:
        ahead[0] = ahead[-1] = steps[0] + steps[-1]
    ahead = _unit(ahead)
    right = cross(ahead, np.asarray(upward, float))
    weak = (right * right).sum(axis=1) < 0.0025
    if weak.any():
        # Straight up or down, it keeps the side that it had, or any.
        right[weak] = np.cross(ahead[weak], [0.0, 1.0, 0.0001]) if weak.all() else right[~weak].mean(axis=0)
    right = _unit(right)
    up = cross(right, ahead)
    grow = np.ones((len(path), 2))
    if scale is not None:
        scale = np.asarray(scale, float)
        scale = np.concatenate([scale, scale[:1]]) if closed else scale
        grow = np.broadcast_to(scale[:, None] if scale.ndim == 1 else scale, (len(path), 2))
    # In a bend the section is cut on the slant, so that a straight run keeps its width.
    bend = np.ones(len(path))
    inner = np.einsum("ij,ij->i", ahead[1:-1], steps[1:]) if len(path) > 2 else np.zeros(0)
    bend[1:-1] = 1 / np.clip(inner, 0.6, 1)
    flat = section[None] * grow[:, None]
    rings = path[:, None] + flat[..., :1] * right[:, None] * bend[:, None, None] + flat[..., 1:] * up[:, None]
    return loft(rings, ends=not closed, smooth=smooth)


def loft(rings: np.ndarray, *, ends: bool = True, smooth: bool | None = None) -> Solid:
    """Return the body through rings of corners, shape (rings, corners, 3), whichever way they go round.

    Corners that are sharper than `CREASE` are edges, unless it is `smooth`; all are where that is False.
    """
    if _volume(rings) < 0:
        rings = rings[:, ::-1]
    whole = np.concatenate([rings, rings[:, :1]], axis=1)
    side = _unit(np.diff(whole[len(whole) // 2], axis=0))
    turn = np.einsum("ij,ij->i", side, np.roll(side, 1, axis=0))
    sharp = np.zeros(len(turn), bool) if smooth else turn < CREASE
    if smooth is False:
        sharp[:] = True
    if not sharp.any():
        strips = [grid(whole, around=True, flip=True)]
    else:
        starts = np.flatnonzero(sharp)
        doubled = np.concatenate([rings, rings, rings[:, :1]], axis=1)
        run = _run(np.linalg.norm(np.diff(doubled, axis=1), axis=2).mean(axis=0))
        strips = [
            grid(doubled[:, a : b + 1], flip=True).shifted(0, run[a])
            for a, b in zip(starts, [*starts[1:], starts[0] + len(turn)], strict=True)
        ]
    if ends:
        strips += [_end(rings[0], False), _end(rings[-1], True)]
    return joined(*strips)


def _volume(rings) -> float:
    """Return six times the volume of a loft wound as `grid` does it with `flip`. [m³]"""
    own = rings - rings[0].mean(axis=0)
    over = np.roll(own, -1, axis=1)
    a, b, c, d = own[:-1], own[1:], over[1:], over[:-1]
    skin = (cross(b, c) * a).sum() + (cross(c, d) * a).sum()
    last, after = own[-1], over[-1]
    return float(-skin + (cross(last, after) * own[-1].mean(axis=0)).sum())


@functools.lru_cache(maxsize=128)
def _fan(count: int, out: bool) -> np.ndarray:
    k = np.arange(count)
    faces = np.stack([k, (k + 1) % count, np.full(count, count)], axis=1)
    return faces if out else faces[:, ::-1]


def _end(ring, out: bool) -> Solid:
    """Return the flat end of a loft, a fan round its middle."""
    count = len(ring)
    middle = ring.mean(axis=0)
    spokes = ring - middle
    own = cross(spokes, np.roll(spokes, -1, axis=0))
    normal = own.sum(axis=0)
    normal = normal / max(float(np.sqrt(normal @ normal)), 1e-30)
    reach = (spokes * spokes).sum(axis=1)
    far = int(reach.argmax())
    along = spokes[far] / max(float(np.sqrt(reach[far])), 1e-30)
    other = np.array(
        [
            normal[1] * along[2] - normal[2] * along[1],
            normal[2] * along[0] - normal[0] * along[2],
            normal[0] * along[1] - normal[1] * along[0],
        ]
    )
    uv = np.zeros((count + 1, 2))
    uv[:-1, 0], uv[:-1, 1] = spokes @ along, spokes @ other
    points = np.concatenate([ring, middle[None]])
    faces = _fan(count, out)
    area = (own * own).sum(axis=1)
    if area.min() <= 1e-20 * reach[far] ** 2:
        faces = faces[area > 1e-20 * reach[far] ** 2]
    normals = np.empty((count + 1, 3))
    normals[:] = normal if out else -normal
    return Solid(points, faces, normals, uv)


def circle(radius: float, sides: int = 12, flat: float = 1.0) -> np.ndarray:
    """Return the section of a round rod, its height `flat` of its width. Shape (sides, 2) [m]"""
    turn = np.arange(sides) * 2 * np.pi / sides
    return radius * np.stack([np.cos(turn), flat * np.sin(turn)], axis=1)


def square(width: float, height: float, chamfer: float = CHAMFER) -> np.ndarray:
    """Return the section of a bar with its edges taken off. Shape (8, 2) [m]"""
    x, y = width / 2, height / 2
    c = min(chamfer, x / 2, y / 2)
    return np.array(
        [
            (x, -y + c),
            (x, y - c),
            (x - c, y),
            (-x + c, y),
            (-x, y - c),
            (-x, -y + c),
            (-x + c, -y),
            (x - c, -y),
        ]
    )


def rod(path, radius: float, sides: int = 8, scale=None, closed: bool = False) -> Solid:
    """Return a round rod along a path (n, 3). [m]"""
    return sweep(path, circle(radius, sides), scale, closed=closed, smooth=True)


def curve(points, count: int = 12) -> np.ndarray:
    """Return a smooth path through points, shape (count, 3). [m]

    Source
    ------
    Catmull and Rom 1974, "A class of local interpolating splines".
    """
    points = np.asarray(points, float)
    ends = np.concatenate([2 * points[:1] - points[1:2], points, 2 * points[-1:] - points[-2:-1]])
    t = np.linspace(0, len(points) - 1, count)
    k = np.minimum(t.astype(int), len(points) - 2)
    f = (t - k)[:, None]
    p0, p1, p2, p3 = (ends[k + j] for j in range(4))
    return 0.5 * (
        2 * p1 + (p2 - p0) * f + (2 * p0 - 5 * p1 + 4 * p2 - p3) * f**2 + (3 * p1 - p0 - 3 * p2 + p3) * f**3
    )


def turned(profile, sides: int = 24) -> Solid:
    """Return a body turned on a lathe about z.

    Parameters
    ----------
    profile : float array, shape (n, 2)
        Radius and height, from the axis or a rim below round the outside to the top; where its ends are
        not on the axis they are joined, as those of a ring are. [m]
    sides : int
    """
    profile = np.asarray(profile, float)
    if profile[0, 0] > 0 or profile[-1, 0] > 0:
        profile = np.concatenate([profile, profile[:1]])
    profile = profile[np.concatenate([[True], np.any(np.abs(np.diff(profile, axis=0)) > 1e-9, axis=1)])]
    step = _unit(np.diff(profile, axis=0))
    turn = np.arange(sides + 1) * 2 * np.pi / sides
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    ring[-1] = ring[0]
    starts = [0, *(1 + np.flatnonzero(np.einsum("ij,ij->i", step[1:], step[:-1]) < CREASE)), len(profile) - 1]
    run = _run(np.linalg.norm(np.diff(profile, axis=0), axis=1))
    girth = max(
        float(
            np.average((profile[1:, 0] + profile[:-1, 0]) / 2, weights=np.abs(np.diff(profile[:, 1])) + 1e-9)
        ),
        1e-9,
    )
    strips = []
    for a, b in zip(starts[:-1], starts[1:], strict=True):
        part = profile[a : b + 1]
        points = np.concatenate(
            [part[:, None, :1] * ring[None], np.broadcast_to(part[:, None, 1:], (len(part), sides + 1, 1))],
            axis=2,
        )
        skin = grid(points, around=True, flip=True)
        slope = _unit(part[-1] - part[0])
        if abs(slope[0]) > 0.8:
            uv = skin.vertices[:, :2] * [1.0, 1.0 if slope[0] < 0 else -1.0]
        else:
            uv = np.stack(np.meshgrid(run[a : b + 1], turn * girth, indexing="ij"), axis=-1).reshape(-1, 2)
        strips.append(_axis_normals(skin._replace(uv=uv), part, sides))
    return joined(*strips)


def _axis_normals(skin: Solid, part, sides: int) -> Solid:
    """Return a turned skin whose points on the axis have the axis for their normal."""
    normals = skin.normals
    for row in (0, -1):
        if part[row, 0] == 0:
            k = slice(0, sides + 1) if row == 0 else slice(-(sides + 1), None)
            mean = normals[k].sum(axis=0)
            inner = part[1 if row == 0 else -2] - part[row]
            sign = (inner[0] if row == 0 else inner[0]) * (-1 if row == 0 else 1)
            normals[k] = [0, 0, np.sign(mean[2]) if abs(mean[2]) > 1e-6 else np.sign(sign) or 1.0]
    return skin
