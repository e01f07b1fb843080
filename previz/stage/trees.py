"""Trees and bushes: trunk, boughs and leaves from a few numbers, the same for the same name.

Shapes are invented; sizes are in metres, or over the height where that is said.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from previz.stage import shapes
from previz.stage.shapes import Triangles

LEAF = 0.11
"""Half the length of a spray of leaves of a tree near by. [m]  Common practice, no source."""


def drawn_by(*words: str) -> np.random.Generator:
    """Return the generator that a name has, on any machine."""
    return np.random.default_rng([zlib.crc32(word.encode()) for word in words])


def tubes(start, end, first, last, sides: int) -> Triangles:
    """Return open tapered tubes from points to points. Shapes (n, 3), (n, 3), (n,), (n,) [m]"""
    start, end = np.asarray(start, float), np.asarray(end, float)
    along = end - start
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    other = np.where(np.abs(along[:, 2:]) < 0.9, [[0.0, 0, 1]], [[1.0, 0, 0]])
    right = np.cross(along, other)
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    up = np.cross(along, right)
    turn = np.arange(sides) * 2 * np.pi / sides
    ring = right[:, None] * np.cos(turn)[:, None] + up[:, None] * np.sin(turn)[:, None]
    low = start[:, None] + ring * np.asarray(first, float)[:, None, None]
    high = end[:, None] + ring * np.asarray(last, float)[:, None, None]
    vertices = np.concatenate([low, high], axis=1).reshape(-1, 3)
    i = np.arange(sides)
    j = (i + 1) % sides
    one = np.concatenate([np.stack([i, j, j + sides], 1), np.stack([i, j + sides, i + sides], 1)])
    faces = (one[None] + (np.arange(len(start)) * 2 * sides)[:, None, None]).reshape(-1, 3)
    return vertices, faces


def sprays(middle, size, rng, flat: float = 0.5) -> Triangles:
    """Return leaf-shaped quads of any lean about points. Shapes (n, 3) and (n,) [m]

    `flat` is how much rather level than upright they lie. [1]
    """
    count = len(middle)
    along = rng.normal(size=(count, 3)) * [1, 1, 1 - 0.6 * flat]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(along, rng.normal(size=(count, 3)))
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-6)
    size = np.broadcast_to(size, count)[:, None]
    tip, side = along * size, across * size * (0.35 + 0.25 * rng.random((count, 1)))
    corners = np.stack(
        [middle - tip, middle + side - 0.2 * tip, middle + tip, middle - side - 0.2 * tip], axis=1
    )
    faces = np.array([[0, 1, 2], [0, 2, 3]])[None] + (np.arange(count) * 4)[:, None, None]
    return corners.reshape(-1, 3), faces.reshape(-1, 3)


def shards(middle, size, rng) -> Triangles:
    """Return ragged triangles of any lean about points, as of leaves far off. Shapes (n, 3) and (n,) [m]"""
    count = len(middle)
    along = rng.normal(size=(count, 3))
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(along, rng.normal(size=(count, 3)))
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-6)
    size = np.broadcast_to(size, count)[:, None]
    corners = np.stack(
        [
            middle + along * size,
            middle - 0.6 * along * size + 0.75 * across * size,
            middle - 0.5 * along * size - 0.75 * across * size,
        ],
        axis=1,
    )
    return corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3)


@dataclass(frozen=True)
class Tree:
    """A tree that stands on z = 0 about the origin.

    Parameters
    ----------
    wood : (vertices, faces)
    leaves : (vertices, faces) or None
        None for a bare one.
    """

    wood: Triangles
    leaves: Triangles | None


def _boughs(start, direction, length, rng, *, each: int, lean: float, shrink: float):
    """Return (start, direction, length) of boughs that leave others, `each` of them, near their far ends."""
    at = np.repeat(start, each, axis=0)
    along = np.repeat(direction, each, axis=0)
    long = np.repeat(length, each)
    place = 0.35 + 0.65 * np.tile((np.arange(each) + 1) / each, len(start))
    side = rng.normal(size=at.shape)
    side -= along * np.einsum("ij,ij->i", side, along)[:, None]
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-6)
    towards = along + lean * side + [0, 0, 0.12]
    towards /= np.linalg.norm(towards, axis=1, keepdims=True)
    return at + along * (long * place)[:, None], towards, long * shrink * (0.75 + 0.5 * rng.random(len(at)))


def tree(size, name: str, *, bare: bool = False) -> Tree:
    """Return a broad-leaved tree to be seen from near by.

    Parameters
    ----------
    size : (float, float, float)
        Extent of its crown across and its height, about. [m]
    name : str
        What it is drawn by.
    bare : bool
        Without leaves.
    """
    wide, deep, high = size
    rng = drawn_by(name, "tree")
    levels = 5
    steps = np.linspace(0, 0.72 * high, levels)
    bend = np.cumsum(rng.normal(size=(levels, 2)) * 0.018 * high, axis=0) * (np.arange(levels) > 0)[:, None]
    spine = np.column_stack([bend, steps])
    thick = 0.028 * high * (1 - 0.8 * steps / high)
    parts = [
        tubes(spine[:-1], spine[1:], thick[:-1], thick[1:], 9),
        tubes(spine[:1], spine[:1] + [0, 0, 0.03 * high], thick[:1] * 1.5, thick[:1], 9),
    ]
    count = 11
    share = (np.arange(count) + rng.random(count) * 0.6) / count
    base = np.column_stack(
        [
            *(np.interp(0.27 * high + 0.45 * high * share, steps, bend[:, k]) for k in (0, 1)),
            0.27 * high + 0.45 * high * share,
        ]
    )
    turn = np.arange(count) * 2.4 + rng.random(count)
    rise = 0.35 + 0.9 * share
    towards = np.column_stack([np.cos(turn), np.sin(turn), rise])
    towards /= np.linalg.norm(towards, axis=1, keepdims=True)
    length = 0.36 * high * (1 - 0.55 * share)
    level, ends = (base, towards, length), []
    for each, lean, shrink, width, sides in (
        (4, 0.7, 0.62, 0.010, 5),
        (4, 0.8, 0.6, 0.0042, 4),
        (0, 0, 0, 0.0016, 3),
    ):
        start, direction, long = level
        end = start + direction * long[:, None]
        parts.append(
            tubes(start, end, np.full(len(long), width * high), np.full(len(long), 0.4 * width * high), sides)
        )
        ends.append((start, end))
        if each:
            level = _boughs(*level, rng, each=each, lean=lean, shrink=shrink)
    wood = shapes.join(*parts)
    low, tips = ends[2]
    spread = np.abs(tips[:, :2] - tips[:, :2].mean(axis=0)).max(axis=0) + 0.3
    leaves = None
    scale = np.array([wide / 2 / spread[0], deep / 2 / spread[1], high / (tips[:, 2].max() + 0.2)])
    if not bare:
        many = int(np.clip(3600 / len(tips), 8, 40))
        where = rng.random((len(tips), many, 1))
        middle = low[:, None] * (1 - where) + tips[:, None] * where
        middle = (middle + rng.normal(size=middle.shape) * 0.030 * high).reshape(-1, 3) * scale
        leaves = sprays(middle, LEAF * max(high / 8, 0.4) * (0.7 + 0.6 * rng.random(len(middle))), rng)
    wood = wood[0] * scale, wood[1]
    every = wood[0] if leaves is None else np.concatenate([wood[0], leaves[0]])
    # The trunk keeps its place: the crown is fitted about it.
    fit = np.array([wide, deep, high]) / (
        every.max(axis=0) - np.minimum(every.min(axis=0), [np.inf, np.inf, 0])
    )
    return Tree((wood[0] * fit, wood[1]), None if leaves is None else (leaves[0] * fit, leaves[1]))


def bush(size, name: str) -> Tree:
    """Return a bush: stems from the ground and leaves all over. `size` is its extent. [m]"""
    wide, deep, high = size
    rng = drawn_by(name, "bush")
    count = 26
    turn, out = rng.random(count) * 2 * np.pi, rng.random(count) ** 0.5
    foot = np.column_stack(
        [np.cos(turn) * out * 0.15 * wide, np.sin(turn) * out * 0.15 * deep, np.zeros(count)]
    )
    tip = np.column_stack(
        [np.cos(turn) * out * 0.42 * wide, np.sin(turn) * out * 0.42 * deep, high * (0.9 - 0.45 * out**2)]
    )
    wood = tubes(foot, tip, np.full(count, 0.012 * high), np.full(count, 0.003 * high), 4)
    many = 1500
    direction = rng.normal(size=(many, 3))
    direction[:, 2] = np.abs(direction[:, 2]) - 0.25
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    lumps = 1 + 0.16 * np.sin(5 * np.arctan2(direction[:, 1], direction[:, 0]) + rng.random() * 6)
    radius = (rng.random(many) ** 0.3 * lumps)[:, None]
    middle = direction * radius * [0.46 * wide, 0.46 * deep, 0.62 * high] + [0, 0, 0.36 * high]
    middle[:, 2] = np.maximum(middle[:, 2], 0.04)
    return Tree(wood, sprays(middle, 0.07 * high**0.5 * (0.7 + 0.6 * rng.random(many)), rng))


def far_tree(rng: np.random.Generator, detail: int, bare: bool) -> tuple[Triangles, Triangles, Triangles]:
    """Return (trunk, body of the crown, its ragged edge) of a tree of height 1, on `detail` triangles."""
    wide = 0.26 + 0.12 * rng.random()
    trunk = shapes.frustum(0.028, 0.015, 0.5, sides=5, closed=False)
    if bare:
        count = max(detail // 5, 8)
        turn, share = rng.random(count) * 2 * np.pi, rng.random(count)
        foot = np.column_stack([np.zeros((count, 2)), 0.25 + 0.5 * share])
        reach = wide * (1.1 - 0.6 * share)
        tip = foot + np.column_stack(
            [np.cos(turn) * reach, np.sin(turn) * reach, 0.15 + 0.2 * rng.random(count)]
        )
        return trunk, tubes(foot, tip, 0.010 * np.ones(count), 0.002 * np.ones(count), 3), _nothing()
    lumps = int(np.clip(detail // 90, 1, 5))
    turn = np.arange(lumps) * 2.4 + rng.random(lumps)
    rise = (np.arange(lumps) + 0.5) / lumps
    out = np.sqrt(np.maximum(1 - (1.6 * rise - 0.7) ** 2, 0.1)) * (lumps > 1)
    middles = np.column_stack(
        [
            np.cos(turn) * out * 0.62 * wide,
            np.sin(turn) * out * 0.62 * wide,
            0.36 + 0.46 * rise if lumps > 1 else np.full(1, 0.58),
        ]
    )
    part = 0.58 + 0.2 * rng.random((lumps, 1)) if lumps > 1 else np.ones((1, 1))
    size = np.array([wide, wide, 0.9 * wide]) * part
    middles[:, 2] = np.minimum(middles[:, 2], 1 - size[:, 2])
    bodies = []
    for middle, half in zip(middles, size, strict=True):
        vertices, faces = shapes.ball(1.0, subdivisions=0)
        bodies.append(
            (vertices * (1 + 0.12 * rng.normal(size=(len(vertices), 1))) * half * 0.42 + middle, faces)
        )
    many = max(detail - sum(len(f) for _, f in bodies) - 10, 8)
    of = rng.integers(0, lumps, many)
    away = rng.normal(size=(many, 3))
    away /= np.linalg.norm(away, axis=1, keepdims=True)
    at = middles[of] + away * size[of] * (0.45 + 0.62 * rng.random((many, 1)) ** 0.6)
    long = 2.1 * wide / np.sqrt(many) * (0.7 + 0.7 * rng.random(many))
    return trunk, shapes.join(*bodies), shards(at, long, rng)


def _nothing() -> Triangles:
    return np.zeros((0, 3)), np.zeros((0, 3), int)
