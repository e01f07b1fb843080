"""Forms that are carried along a path or turned on a lathe."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.solids import CHAMFER, CREASE, Solid, _run, _unit, cross, grid, grids, joined


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


def loft(
    rings: np.ndarray, *, ends: bool = True, smooth: bool | None = None, apex: int | None = None
) -> Solid:
    """Return the body through rings of corners, shape (rings, corners, 3), whichever way they go round.

    Corners that are sharper than `CREASE` are edges, unless it is `smooth`; all are where that is False.
    `apex` is a corner that sees all of a hollow section.
    """
    if _volume(rings) < 0:
        rings = rings[:, ::-1]
        apex = None if apex is None else rings.shape[1] - 1 - apex
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
        strips += [_end(rings[0], False, apex), _end(rings[-1], True, apex)]
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


def _end(ring, out: bool, apex: int | None = None) -> Solid:
    """Return the flat end of a loft, a fan round its middle, or round a point near one of its corners."""
    count = len(ring)
    middle = ring.mean(axis=0)
    if apex is not None:
        middle = 0.98 * ring[apex] + 0.02 * middle
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
    path = np.asarray(path, float)
    # Square to the plane that it bends in, nothing of it points that way.
    _, axes = np.linalg.eigh(np.cov(path.T))
    return sweep(path, circle(radius, sides), scale, upward=axes[:, 0], closed=closed, smooth=True)


def rods(paths: np.ndarray, radius: float, sides: int = 5) -> Solid:
    """Return many thin rods at once along paths (rods, points, 3), each drawn to a point at its ends. [m]"""
    ahead = _unit(np.gradient(paths, axis=1))
    right = cross(ahead, np.array([0.31, 0.52, 0.2]))
    right = _unit(np.where((right * right).sum(axis=2, keepdims=True) > 1e-3, right, ahead[..., [1, 2, 0]]))
    up = cross(right, ahead)
    turn = np.arange(sides + 1) * 2 * np.pi / sides
    ring = radius * np.stack([np.cos(turn), np.sin(turn)])
    ring[:, -1] = ring[:, 0]
    points = paths[:, :, None] + right[:, :, None] * ring[0][:, None] + up[:, :, None] * ring[1][:, None]
    tips = np.repeat(paths[:, [0, -1], None], sides + 1, axis=2)
    return grids(np.concatenate([tips[:, :1], points, tips[:, 1:]], axis=1), around=True)


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
