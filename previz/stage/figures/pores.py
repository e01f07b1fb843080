"""The fine relief of skin: pores and the net of lines everywhere, folds of the face with age."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np

from previz.stage.figures.face_chart import ORIGIN, SHAPE, SPAN, TEXEL, chart, finer
from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.strands import scatter
from previz.stage.records import Relief

TILE = 256
"""Texels along a side of the tile of bare skin, which is 49 mm on a cheek."""

PORE_STEP = 4.2
"""Texels between pores: 0.8 mm on cheeks, 1.3 mm on the nose. Common practice, no source."""

PORE_DEPTH = 1.3e-4
"""Depth of a pore, of which sebum fills most. Common practice, no source. [m]"""

LINE_DEPTH = 7e-5
"""Depth of the net of fine lines; measured depths of the primary lines are 20 to
70 µm. From memory. [m]"""

OUTSIDE = 1.0
"""Length on the skin of neck, ears and hands over length in the texture, as the tile is laid on them;
on hands the texture is twice as large, and so are the lines of their skin. [m]"""


@cache
def net():
    """Return the heights of bare skin on a tile that repeats, shape (TILE, TILE). [m]"""
    return -PORE_DEPTH * _pores() - LINE_DEPTH * _net_of_lines()


def _pores():
    """Return pits on a jittered lattice, 1 at the deepest."""
    per_side = round(TILE / PORE_STEP)
    cell = TILE / per_side
    lattice = np.stack(np.meshgrid(np.arange(per_side), np.arange(per_side)), axis=-1).reshape(-1, 2)
    jitter = scatter(2 * len(lattice), 410).reshape(-1, 2)
    middle = (lattice + 0.1 + 0.8 * jitter) * cell
    depth = scatter(len(lattice), 411) ** 2
    width = 0.75 + 0.55 * scatter(len(lattice), 412)
    reach = np.arange(-3, 4)
    found = np.zeros(TILE * TILE)
    first = np.floor(middle).astype(int)
    for down in reach:
        for right in reach:
            at = first + [right, down]
            gap = np.sum((at + 0.5 - middle) ** 2, axis=1)
            row, column = at[:, 1] % TILE, at[:, 0] % TILE
            np.add.at(found, row * TILE + column, depth * np.exp(-gap / (2 * width**2)))
    return np.minimum(found, 1.0).reshape(TILE, TILE)


def _net_of_lines():
    """Return the creases of the skin's net, between bumps of four texels or so: 1 in a crease."""
    noise = band(_noise(413), 1 / 7, 1 / 3)
    coarse = band(_noise(414), 1 / 14, 1 / 6)
    both = np.abs(noise / noise.std()) + 0.7 * np.abs(coarse / coarse.std())
    return np.exp(-1.1 * both)


def _noise(salt):
    return scatter(TILE * TILE, salt).reshape(TILE, TILE) - 0.5


def band(noise, low, high):
    """Return noise on a tile with the wavelengths from 1/high to 1/low texels. [cycles/texel]"""
    rows, columns = (np.fft.fftfreq(count)[:, None] for count in noise.shape)
    frequency = np.hypot(rows, columns[: noise.shape[1] // 2 + 1].T)
    kept = smooth_step(frequency, 0.7 * low, low) * (1 - smooth_step(frequency, high, 1.4 * high))
    return np.fft.irfft2(np.fft.rfft2(noise) * kept, noise.shape)


def _slopes(height, step_u, step_v):
    """Return slopes of heights on a tile that repeats, steps in metres on the skin."""
    along = (np.roll(height, -1, axis=1) - np.roll(height, 1, axis=1)) / (2 * step_u)
    upwards = (np.roll(height, 1, axis=0) - np.roll(height, -1, axis=0)) / (2 * step_v)
    return np.stack([along, upwards], axis=-1).astype(np.float32)


@cache
def skin_relief():
    """Return the relief of skin without folds, over the skin's own texture coordinates."""
    size = TILE * TEXEL
    return Relief(_slopes(net(), TEXEL * OUTSIDE, TEXEL * OUTSIDE), (size, size))


@cache
def hand_relief():
    """Return the relief of hands over their chart: the same net, which the texture makes larger there."""
    size = TILE * TEXEL
    # Length on a hand over length in its texture is 1.75 m.
    return Relief(skin_relief().slopes / np.float32(1.75), (size / HANDS_SPAN[0], size / HANDS_SPAN[1]))


@cache
def lip_relief():
    """Return the relief of lips over the chart of the face: creases from edge to edge, a millimetre apart."""
    rows, columns = 128, 32
    noise = np.repeat(scatter(rows, 430)[:, None] - 0.5, columns, axis=1)
    noise = noise + 0.6 * (scatter(rows * columns, 431).reshape(rows, columns) - 0.5)
    lines = band(noise, 1 / 12, 1 / 5)
    height = -9e-5 * np.exp(-1.5 * np.abs(lines / lines.std()))
    # A texel is 0.1 mm across a lip, whose texture is 1.7 m over 1, and 0.3 mm along its creases.
    size = (columns * 1.8e-4 / SPAN[0], rows * 6e-5 / SPAN[1])
    return Relief(_slopes(height, 3e-4, 1e-4), size)


@lru_cache(8)
def face_relief(age):
    """Return the relief of a face at an age [years], over the chart of the face."""
    return Relief(_pored(age) + _folded(age), (1.0, 1.0))


def _pored(age):
    """Return the slopes of the net over the chart, in phase with those beside it."""
    tile = skin_relief().slopes
    first = round(ORIGIN[0] / TEXEL)
    last = round((ORIGIN[1] + SPAN[1]) / TEXEL)
    rows = (-last + np.arange(SHAPE[0])) % TILE
    columns = (first + np.arange(SHAPE[1])) % TILE
    strength = finer(_strength(age).astype(np.float32), SHAPE)
    return tile[rows][:, columns] * strength[:, :, None]


def _strength(age):
    """Return how strong the net is on each place of the face: least on lids, most on the nose."""
    face = chart()
    a, o = np.abs(face.across), face.over
    strength = 0.85 + 0.5 * blob(a, o, 0.0, -1.15, 0.4, 0.5) + 0.35 * blob(a, o, 0.0, 1.4, 1.1, 0.6)
    strength += 0.3 * blob(a, o, 0.8, -1.05, 0.4, 0.45) + 0.25 * blob(a, o, 0.0, -3.1, 0.45, 0.35)
    strength -= 0.55 * blob(a, o, 1.0, -0.1, 0.5, 0.4)
    edge = edge_of_chart(face.across.shape)
    return (1 - edge) + edge * strength * (0.85 + 0.3 * smooth_step(age, 20, 75))


def blob(a, o, across, over, wide, high):
    """Return a soft spot about a place of the face and its mirror place, 1 in its middle."""
    return np.exp(-(((a - across) / wide) ** 2) - ((o - over) / high) ** 2)


@cache
def edge_of_chart(shape):
    """Return 0 on the edge of the chart and 1 inside, where nothing may show that the chart ends."""
    rows, columns = (np.minimum(np.arange(n) + 0.5, n - np.arange(n) - 0.5) / n for n in shape)
    return smooth_step(rows, 0.0, 0.1)[:, None] * smooth_step(columns, 0.0, 0.07)[None, :]


HANDS_SPAN = (0.405, 0.188)
"""Width and height of the chart of the hands. [1]"""

_HALF = 2
"""The folds are wider than the pores: they are worked out at every other texel."""


def folds(age):
    """Return how deep the folds of a face are over the chart, shape of it halved. [m]

    Forehead, between the brows, corners of the eyes, under the eyes, beside the mouth, over the lip. Depths
    grow from 30 to 75 years; those measured at the eyes' corners go from some 50 µm to some 300 µm (from
    memory), the fold beside the mouth goes deeper.
    """
    shape = (SHAPE[0] // _HALF, SHAPE[1] // _HALF)
    face, left = chart(), slice(0, shape[0] // 2)
    a, over = (finer(grid.astype(np.float32), shape)[left] for grid in (face.across, face.over))
    a = np.abs(a)
    depth = np.zeros_like(a)
    wobble = 0.05 * np.sin(2.9 * a + 0.4) + 0.02 * np.sin(8.3 * a + over)
    for number, (height, width, share) in enumerate(((1.12, 0.95, 0.6), (1.45, 1.35, 1.0), (1.80, 1.2, 0.8),
                                                     (2.12, 0.9, 0.5))):
        line = over - height - wobble * (1 + 0.4 * number) - 0.10 * a
        depth += share * 1.6e-4 * np.exp(-((a / width) ** 4)) * _crease(line, 0.032)
    brow = 0.16 + 0.09 * np.maximum(over - 0.4, 0)
    depth += 1.6e-4 * _crease(a - brow, 0.030) * blob(a, over, 0.16, 0.62, 0.6, 0.30)
    depth += _at_eyes(a, over) + _at_mouth(a, over)
    # Both halves of a face are alike, but no fold is as deep all along, nor as its mirror fold.
    depth = np.concatenate([depth, depth[::-1]])
    uneven = finer(band(_noise(415), 1 / 90, 1 / 24)[:64, :80].astype(np.float32), shape)
    uneven *= 0.4 / uneven.std()
    return np.float32(smooth_step(age, 24.0, 78.0)) * depth * np.clip(0.8 + uneven, 0.15, 1.5)


def _crease(distance, width):
    """Return 1 on a line and 0 away from it, distances in halves of that of the eyes."""
    return np.exp(-((distance / width) ** 2))


def _at_eyes(a, over):
    """Return the depth of crow's feet, and of the fine lines under the lower lid. [m]"""
    away, bearing = np.hypot(a - 1.38, over + 0.06), np.arctan2(over + 0.06, a - 1.38)
    feet = np.zeros_like(a)
    for angle, length, share in ((-0.75, 0.6, 0.7), (-0.42, 0.75, 0.9), (-0.08, 0.8, 1.0), (0.27, 0.7, 0.9),
                                 (0.62, 0.5, 0.6)):
        bent = away * np.sin(bearing - angle - 0.25 * (away - 0.3))
        feet += share * _crease(bent, 0.022) * smooth_step(away, 0.1, 0.25) * (
            1 - smooth_step(away, 0.6 * length, length)) * (np.abs(bearing - angle) < 1.2)
    found = 1.7e-4 * feet
    for radius, share in ((0.62, 0.8), (0.76, 1.0), (0.95, 0.6)):
        ring = np.hypot((a - 0.98) * 0.85, over + 0.02) - radius
        found += 0.9e-4 * share * _crease(ring, 0.022) * smooth_step(-over, 0.25, 0.55) * (
            1 - smooth_step(np.abs(a - 1.0), 0.45, 0.8))
    return found


def _at_mouth(a, over):
    """Return the depth of the folds beside nose and mouth, and of the lines over the lip. [m]"""
    down = np.clip((-1.25 - over) / 1.15, 0, 1)
    beside = 0.62 + 0.50 * down**1.3
    found = 3.6e-4 * _crease(a - beside, 0.085) * smooth_step(-over, 1.2, 1.5) * (
        1 - smooth_step(-over, 2.15, 2.55))
    found += 2.2e-4 * _crease(a - 0.86 - 0.1 * (-2.4 - over), 0.06) * smooth_step(-over, 2.4, 2.55) * (
        1 - smooth_step(-over, 2.75, 3.1))
    lip = np.maximum(np.cos(2 * np.pi * a / 0.115 + 1.5 * np.sin(9 * over)), 0) ** 4
    return found + 0.7e-4 * lip * blob(a, over, 0.0, -1.83, 0.62, 0.12)


def _folded(age):
    """Return the slopes of the folds over the chart."""
    depth = folds(age)
    scale = finer(chart().scale.astype(np.float32), depth.shape)
    step = 2 * _HALF * TEXEL * np.clip(scale, 0.5, 3.0)
    rise = np.zeros((*depth.shape, 2), np.float32)
    rise[:, 1:-1, 0] = -(depth[:, 2:] - depth[:, :-2])
    rise[1:-1, :, 1] = -(depth[:-2] - depth[2:])
    rise /= step[:, :, None]
    rise *= edge_of_chart(depth.shape).astype(np.float32)[:, :, None]
    return rise.repeat(_HALF, axis=0).repeat(_HALF, axis=1)
