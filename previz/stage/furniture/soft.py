"""Soft forms: cushions, mattresses, bags, and cloth that hangs or lies."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.solids import Solid, grid, joined
from previz.stage.furniture.swept import rod


@functools.cache
def _cube(steps: tuple[int, int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return (points on the cube of half-width 1, faces, (u axis, v axis) of each point).

    Points crowd towards the edges, where a cushion bends.
    """
    points, faces, axes, start = [], [], [], 0
    for axis in range(3):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        for side in (-1.0, 1.0):
            s, t = (np.sin(np.linspace(-1, 1, steps[k] + 1) * np.pi / 2) for k in (one, two))
            s[0] = t[0] = -1.0
            s[-1] = t[-1] = 1.0
            sheet = np.zeros((len(s), len(t), 3))
            sheet[..., axis] = side
            sheet[..., one], sheet[..., two] = s[:, None], t[None]
            index = start + np.arange(len(s) * len(t)).reshape(len(s), len(t))
            a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
            own = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
            faces.append(own if side > 0 else own[:, ::-1])
            points.append(sheet.reshape(-1, 3))
            # The grain of cloth runs along x where it can.
            u, v = (one, two) if one == 0 or (two != 0 and one == 1) else (two, one)
            axes.append(np.tile([u, v], (len(s) * len(t), 1)))
            start += len(s) * len(t)
    return np.concatenate(points), np.concatenate(faces), np.concatenate(axes)


def cushion(
    size, radius: float, crown: float = 0.0, *, steps=(8, 8, 4), dents=None, sag: float = 0.0
) -> Solid:
    """Return a stuffed body about the origin, its edges rounded and its faces domed.

    Parameters
    ----------
    size : (float, float, float)
        [m]
    radius : float
        Of its edges. [m]
    crown : float
        How far top and bottom stand over their edges, within the size. [m]
    dents : random.Random, optional
        Draws what makes it uneven.
    sag : float
        How much lower the middle of the top lies for having been sat on. [m]
    """
    half = np.asarray(size, float) / 2
    cube, faces, axes = _cube(tuple(steps))
    radius = min(radius, *(half * 0.98))
    body = half - [0, 0, min(crown, 0.6 * half[2])]
    radius = min(radius, body.min() * 0.98)
    flat = cube * body
    core = np.clip(flat, -(body - radius), body - radius)
    # A point on the cube's skin goes to where its direction from the core meets the rounded edge.
    away = flat - core
    bent = np.count_nonzero(np.abs(away) > 1e-12, axis=1) > 1
    length = np.linalg.norm(away, axis=1, keepdims=True)
    normals = np.where(length > 1e-12, away / np.maximum(length, 1e-12), 0)
    # Spread evenly over the bend instead of crowding at the flat sides.
    angle = np.where(bent[:, None], np.tan(np.clip(away / radius, -1, 1) * np.pi / 4), away / radius)
    angle /= np.maximum(np.linalg.norm(angle, axis=1, keepdims=True), 1e-12)
    normals = np.where(bent[:, None], angle, normals)
    points = core + normals * radius
    x, y = points[:, 0] / half[0], points[:, 1] / half[1]
    dome = (half[2] - body[2]) * (1 - x**2) * (1 - y**2)
    slope = -2 * (half[2] - body[2]) * np.stack([x * (1 - y**2) / half[0], y * (1 - x**2) / half[1]], axis=1)
    if sag:
        well = np.exp(-2.5 * (x**2 + y**2))
        dome = dome - np.where(points[:, 2] > 0, sag * well, 0)
    if dents is not None:
        wave, lean = _waves(dents, x, y, 0.02 * half.min())
        dome, slope = dome + wave, slope + lean / half[:2]
    upright = np.clip(points[:, 2] / body[2], -1, 1)
    points = points + np.stack([0 * dome, 0 * dome, dome * upright], axis=1)
    tilt = normals[:, 2:] * upright[:, None]
    normals = normals - np.column_stack([slope * np.abs(tilt), np.zeros(len(points))])
    normals = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    rows = np.arange(len(points))
    # Around a bend the cloth is longer than its shadow.
    unrolled = np.where(
        np.abs(flat - core) > 1e-12,
        np.clip(flat, -(body - radius), body - radius)
        + np.arctan2(np.abs(away), radius) * np.sign(away) * radius,
        flat,
    )
    uv = np.stack([unrolled[rows, axes[:, 0]], unrolled[rows, axes[:, 1]]], axis=1)
    corners = points[faces]
    own = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sound = np.einsum("ij,ij->i", own, own) > 1e-22
    return Solid(points, faces[sound], normals, uv)


def _waves(dents, x, y, height):
    """Return (heights, slopes over x and y) of a few broad waves."""
    wave, lean = np.zeros_like(x), np.zeros((len(x), 2))
    for _ in range(3):
        a, b = dents.uniform(-2.6, 2.6), dents.uniform(-2.6, 2.6)
        phase, much = dents.uniform(0, 6.28), dents.uniform(0.3, 1.0) * height
        at = a * x + b * y + phase
        wave += much * np.sin(at)
        lean += much * np.cos(at)[:, None] * [a, b]
    return wave, lean


def outline(width: float, depth: float, corner: float, steps: int = 4) -> np.ndarray:
    """Return a rectangle with round corners, counter-clockwise from above, shape (n, 2). [m]"""
    corner = min(corner, width / 2 * 0.98, depth / 2 * 0.98)
    turn = np.linspace(0, np.pi / 2, steps + 1)
    parts = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        angle = turn + k * np.pi / 2
        middle = np.array([sx * (width / 2 - corner), sy * (depth / 2 - corner)])
        parts.append(middle + corner * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    return np.concatenate(parts)


def piping(width: float, depth: float, z: float, corner: float, radius: float = 0.005) -> Solid:
    """Return the cord along the seam of a cushion, at a height. [m]"""
    way = outline(width, depth, corner, 3)
    return rod(np.column_stack([way, np.full(len(way), z)]), radius, 5, closed=True)


def sheet(points: np.ndarray, thickness: float) -> Solid:
    """Return cloth or paper through rows of points, shape (rows, columns, 3), with both sides and hems.

    The thickness goes to the side away from (next row) x (next column), along its normals. [m]
    """
    face = grid(points)
    under = points - (face.normals * thickness).reshape(points.shape)
    back = grid(under, flip=True)
    rims = []
    for a, b in ((under[0], points[0]), (points[-1], under[-1])):
        rims.append(grid(np.stack([a, b])))
    for a, b in ((points[:, 0], under[:, 0]), (under[:, -1], points[:, -1])):
        rims.append(grid(np.stack([a, b])))
    return joined(face, back, *rims)
