"""Where on the face each place of its texture lies, as grids; the same for everyone.

Grids are maps of the texture: columns along u, rows down v, as tiles of `stage.records` are laid. On the
texture u runs down the face and v to its left. Whatever is painted or carved there is told in the face's own
lengths: `across` and `over`, from between the eyes, in halves of the distance of the eyes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.skin import bare

TEXEL = 2e-4
"""Side of a texel of the finest map, in texture coordinates: 0.19 mm on cheeks, 0.30 mm on the nose. [1]"""

ORIGIN = (0.745, 0.393)
"""Least u and v of the chart. [1]"""

SHAPE = (900, 1150)
"""Rows and columns of the finest map."""

SPAN = (SHAPE[1] * TEXEL, SHAPE[0] * TEXEL)
"""Width and height of the chart, in u and v. [1]"""

_GRID = (90, 115)
_SAMPLES = 9
_MARGIN = 4


@dataclass(frozen=True)
class Chart:
    """The face on a coarse grid.

    Parameters
    ----------
    across, over : float array, shape (90, 115)
        To the left and upwards of the middle between the eyes, over half their distance. [1]
    lips : float array, shape (90, 115)
        1 on the red of the lips. [1]
    rim : float array, shape (90, 115)
        1 where a lid touches the eye, and 0 from two millimetres away. [1]
    scale : float array, shape (90, 115)
        Length on the face over length in the texture. [m]
    area : float array, shape (90, 115)
        Area on the face of each place, over that of the whole; 0 outside it. [1]
    """

    across: np.ndarray
    over: np.ndarray
    lips: np.ndarray
    rim: np.ndarray
    scale: np.ndarray
    area: np.ndarray


def inside(uv):
    """Return which texture coordinates lie in the chart."""
    low, size = np.array(ORIGIN), np.array(SPAN)
    return ((uv > low) & (uv < low + size)).all(axis=-1)


def in_chart(uv):
    """Return texture coordinates as shares of the chart. [1]"""
    return (uv - ORIGIN) / SPAN


def finer(grid, shape):
    """Return a grid at more places, linear between its own."""
    for axis, count in enumerate(shape):
        place = (np.arange(count) + 0.5) * grid.shape[axis] / count - 0.5
        low = np.clip(np.floor(place).astype(int), 0, grid.shape[axis] - 2)
        part = np.clip(place - low, 0, 1).reshape((-1, 1) if axis == 0 else (1, -1)).astype(grid.dtype)
        grid = grid.take(low, axis=axis) * (1 - part) + grid.take(low + 1, axis=axis) * part
    return grid


@cache
def chart():
    """Return the face on the grid: the mean of the persons, each quad sampled on a lattice."""
    data = body_data()
    head = np.zeros(len(data.lips), bool)
    head[bare().head_rows] = True
    quads = data.quads["skin"]
    kept = head[quads].all(axis=1) & inside(data.uv).any(axis=1)
    points = np.concatenate([data.shapes.mean(axis=0)[: len(data.lips)], data.lips[:, None]], axis=1)
    corners = np.concatenate([data.uv[kept], points[quads[kept]]], axis=2)
    samples = lattice(corners, _SAMPLES)
    first, second = corners[:, 1] - corners[:, 0], corners[:, 3] - corners[:, 0]
    area = np.linalg.norm(np.cross(first[:, 2:5], second[:, 2:5]), axis=1)
    flat = np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
    scale = np.sqrt(area / np.maximum(flat, 1e-9))
    eyes = data.eyes.mean(axis=0)
    half, middle = (eyes[0, 1] - eyes[1, 1]) / 2, eyes[:, :3].mean(axis=0)
    near = np.min([np.linalg.norm(samples[:, :, 2:5] - ball[:3], axis=2) - ball[3] for ball in eyes], axis=0)
    rim = np.exp(-((np.maximum(near, 0) / 1.1e-3) ** 2))
    values = np.stack([
        (samples[:, :, 3] - middle[1]) / half, (samples[:, :, 4] - middle[2]) / half, samples[:, :, 5], rim,
        np.broadcast_to(scale[:, None], samples.shape[:2]),
        np.broadcast_to(area[:, None] / _SAMPLES**2, samples.shape[:2]),
    ], axis=2)
    *kept, area = gathered(in_chart(samples[:, :, :2]).reshape(-1, 2), values.reshape(-1, 6), _GRID)
    return Chart(*kept, area / area.sum())


def lattice(corners, count):
    """Return places between the corners of quads, shape (quads, count², ...), linear between them."""
    step = (np.arange(count) + 0.5) / count
    a, b = (each.ravel() for each in np.meshgrid(step, step))
    shares = np.stack([(1 - a) * (1 - b), a * (1 - b), a * b, (1 - a) * b])
    return np.einsum("qkc,ks->qsc", corners, shares)


def gathered(places, values, shape):
    """Return samples as grids, empty places filled from their neighbours; of the last value the sums.

    `places`, shape (n, 2), are shares of the grid's width and height, v upwards.
    """
    column, row = np.floor(places * shape[::-1]).astype(int).T
    there = (column >= 0) & (column < shape[1]) & (row >= 0) & (row < shape[0])
    at = (shape[0] - 1 - row[there]) * shape[1] + column[there]
    size = shape[0] * shape[1]
    count = np.bincount(at, minlength=size).reshape(shape)
    *sums, last = (np.bincount(at, each, size).reshape(shape) for each in values[there].T)
    return [*(_filled(each / np.maximum(count, 1), count > 0) for each in sums), last]


def _filled(grid, known):
    """Return a grid whose unknown places near known ones have the mean of those beside them, and others 0."""
    grid, known = np.where(known, grid, 0.0), known.astype(float)
    for _ in range(_MARGIN):
        wide, seen = np.pad(grid * known, 1), np.pad(known, 1)
        around = [(slice(1 + a, 1 + a + len(grid)), slice(1 + b, 1 + b + grid.shape[1]))
                  for a in (-1, 0, 1) for b in (-1, 0, 1)]
        total, many = sum(wide[at] for at in around), sum(seen[at] for at in around)
        grid = np.where(known > 0, grid, total / np.maximum(many, 1))
        known = np.maximum(known, many > 0)
    return grid
