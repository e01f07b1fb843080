"""Brickwork, tiles, slabs, setts and cobbles: units in courses with joints between."""

from __future__ import annotations

import numpy as np

from previz.stage.patterns.drawn import Canvas, Drawn, draws
from previz.stage.patterns.noise import cells

BRICK = (0.215, 0.065)
"""Length and height of a brick's face, with joints of 10 mm in 225 by 75 mm.  Source: BS EN 771-1 and the
coordinating size of BS 4729, from memory. [m]"""

JOINT = 0.010
"""Between bricks. [m]  Source: as `BRICK`."""

GROUT = 0.003
"""Between glazed tiles (common practice, no source). [m]"""


def _bond(canvas: Canvas, unit, joint: float, shift: float = 0.5, rough: float = 0.0):
    """Return (number of the unit, place from its middle, depth inside its edge) of units in courses.

    `unit` is the length and height of a face, `rough` how far its edges may lie aside. [m]
    """
    pitch = unit[0] + joint, unit[1] + joint
    across, upward = (round(canvas.size[k] / pitch[k]) for k in (0, 1))
    course = np.floor(canvas.v / pitch[1]).astype(int) % upward
    start = (course % 2) * shift * pitch[0] if shift else 0.0 * course
    column = np.floor((canvas.u - start) / pitch[0]).astype(int)
    number = course * across + column % across
    x = canvas.u - start - (column + 0.5) * pitch[0]
    y = canvas.v - (np.floor(canvas.v / pitch[1]) + 0.5) * pitch[1] + 0 * x
    if rough:
        x = x + (canvas.lot(61, number) - 0.5) * rough
        y = y + (canvas.lot(62, number) - 0.5) * rough + (canvas.lot(63, number) - 0.5) * rough * x / unit[0]
    return number, (x, y), _rounded(np.abs(x) - unit[0] / 2, np.abs(y) - unit[1] / 2, joint * 0.35)


def _rounded(x, y, corner: float):
    """Return the depth inside a rectangle with rounded corners, of distances beyond its edges. [m]"""
    x, y = x + corner, y + corner
    return corner - np.hypot(np.maximum(x, 0), np.maximum(y, 0)) - np.minimum(np.maximum(x, y), 0)


@draws("brick")
def brick(size: float) -> Drawn:
    """Stretcher bond with recessed mortar; `size` is a brick's length. [m]"""
    face = size, size * BRICK[1] / BRICK[0]
    canvas = Canvas((10 * (face[0] + JOINT), 30 * (face[1] + JOINT)), 512, 512, 21)
    number, (x, y), depth = _bond(canvas, face, JOINT, rough=0.004)
    sandy = canvas.noise.band(0.006, 0.05, slope=0.4)
    clouds = canvas.noise.band(0.012, 0.4, slope=1.2)
    depth = depth + 0.0008 * clouds
    shown = canvas.inside(depth - 0.0005)
    burnt = canvas.lot(1, number)
    of_brick = 0.78 + 0.44 * canvas.lot(2, number) - 0.34 * (burnt > 0.88) + 0.16 * (burnt < 0.10)
    pits = np.clip(sandy - 1.7, 0, 1)
    face_tone = of_brick * (1 + 0.07 * clouds + 0.05 * sandy - 0.35 * pits)
    mortar = (0.92 + 0.06 * clouds + 0.05 * sandy) * (0.72 + 0.28 * np.clip(-depth / 0.004, 0, 1))
    lean = [(canvas.lot(k, number) - 0.5) * 0.02 for k in (3, 4)]
    proud = (canvas.lot(5, number) - 0.5) * 0.002
    of_face = proud + lean[0] * x + lean[1] * y + 0.00025 * sandy - 0.0012 * pits + 0.0004 * clouds
    over = np.clip(0.5 + depth / 0.007, 0, 1)
    over = over * over * (3 - 2 * over)
    height = over * of_face + (1 - over) * (-0.005 + 0.0003 * sandy)
    return Drawn(canvas.size, height, shown * face_tone + (1 - shown) * mortar, 1 - shown)


def _tiled(size: float, high: float, counts, shift: float, seed: int, bevel: float) -> Drawn:
    canvas = Canvas((counts[0] * (size + GROUT), counts[1] * (high + GROUT)), 512, 512, seed)
    number, (x, y), depth = _bond(canvas, (size, high), GROUT, shift)
    shown = np.clip(0.5 + (depth + GROUT / 2 - canvas.step[0] / 2) / canvas.step[0] + 0.1, 0, 1)
    waves = canvas.noise.band(0.03, 0.12, slope=1.0)
    lean = [(canvas.lot(k, number) - 0.5) * 0.009 for k in (1, 2)]
    tone = 0.965 + 0.07 * canvas.lot(3, number)
    edge = np.clip(1 - depth / bevel, 0, 1)
    height = lean[0] * x + lean[1] * y + 0.00003 * waves - bevel * 0.22 * edge**2 - 0.001 * (1 - shown)
    dirt = canvas.noise.band(0.01, 0.4)
    return Drawn(canvas.size, height, shown * tone + (1 - shown) * (0.85 + 0.12 * dirt), 1 - shown, shown,
                 1 + 6 * (1 - shown))


@draws("tiles")
def tiles(size: float) -> Drawn:
    """Square glazed tiles with grout, each a little out of the plane; `size` is a tile's side. [m]"""
    return _tiled(size, size, (12, 12), 0.0, 22, 0.004)


@draws("offset tiles")
def offset_tiles(size: float) -> Drawn:
    """Glazed tiles twice as long as high in stretcher bond, with a bevel; `size` is a tile's length. [m]"""
    return _tiled(size, size / 2, (10, 20), 0.5, 23, 0.008)


@draws("slabs")
def slabs(size: float) -> Drawn:
    """Paving slabs with open joints; `size` is a slab's side. [m]"""
    joint = 0.008
    canvas = Canvas((6 * (size + joint), 6 * (size + joint)), 512, 512, 24)
    number, (x, y), depth = _bond(canvas, (size, size), joint, rough=0.003)
    clouds, sandy = canvas.noise.band(0.02, 1.2), canvas.noise.band(0.007, 0.03, slope=0.3)
    shown = canvas.inside(depth)
    tone = (0.86 + 0.28 * canvas.lot(1, number)) * (1 + 0.07 * clouds + 0.05 * sandy)
    lean = [(canvas.lot(k, number) - 0.5) * 0.012 for k in (2, 3)]
    height = lean[0] * x + lean[1] * y + 0.0002 * sandy - 0.006 * np.exp(-np.maximum(depth, -0.01) / 0.005)
    return Drawn(canvas.size, height, tone * (0.45 + 0.55 * shown), 1 - shown,
                 roughness=1 + 0.15 * clouds)


@draws("setts")
def setts(size: float) -> Drawn:
    """Squared paving stones in courses of uneven lengths; `size` is how wide a course is. [m]"""
    courses, stones = 16, 10
    canvas = Canvas((stones * size * 1.5, courses * size), 512, 512, 25)
    course = np.floor(canvas.v / size).astype(int)
    whole = canvas.size[0] / stones
    place = (canvas.u + canvas.lot(1, course) * whole * stones) % canvas.size[0]
    slot = np.floor(place / whole).astype(int)
    left = slot * whole + (canvas.lot(2, course, slot) - 0.5) * 0.4 * whole
    after = place < left
    slot = np.where(after, slot - 1, slot)
    right_of = (slot + 1) * whole + (canvas.lot(2, course, (slot + 1) % stones) - 0.5) * 0.4 * whole
    beyond = place >= right_of
    slot = np.where(beyond, slot + 1, slot)
    ends = [each * whole + (canvas.lot(2, course, each % stones) - 0.5) * 0.4 * whole for each in (slot, slot + 1)]
    number = course * stones + slot % stones
    x, half = place - (ends[0] + ends[1]) / 2, (ends[1] - ends[0]) / 2
    y = canvas.v - (course + 0.5) * size
    bumps = canvas.noise.band(0.008, 0.09, slope=0.8)
    depth = _rounded(np.abs(x) - half + 0.006, np.abs(y) - size / 2 + 0.006, 0.018) + 0.0015 * bumps
    return _stones(canvas, number, (x, y), depth, bumps, 0.012 * size / 0.1)


def _stones(canvas: Canvas, number, aside, depth, bumps, rise: float) -> Drawn:
    """Return paving stones with domed heads of which so much stands out of the joints. [m]"""
    shown = canvas.inside(depth)
    dome = np.clip(depth / (1.6 * rise), 0, 1)
    dome = 1 - (1 - dome) ** 2.2
    lean = [(canvas.lot(k, number) - 0.5) * 0.10 for k in (3, 4)]
    sunk = (canvas.lot(5, number) - 0.5) * 0.3 * rise
    height = dome * (rise + sunk + lean[0] * aside[0] + lean[1] * aside[1] + 0.0005 * bumps)
    tone = (0.72 + 0.56 * canvas.lot(6, number)) * (1 + 0.07 * bumps)
    tone = shown * tone * (0.70 + 0.30 * dome) + (1 - shown) * (0.75 + 0.1 * bumps)
    return Drawn(canvas.size, height + 0.0006 * (1 - dome) * bumps, tone, 1 - shown, 0.3 + 0.7 * dome,
                 1.35 - 0.5 * dome)


@draws("cobbles")
def cobbles(size: float) -> Drawn:
    """Round stones set in earth; `size` is from stone to stone. [m]"""
    counts = 16, 16
    canvas = Canvas((16 * size, 16 * size), 384, 384, 26)
    _, gap, aside, number = cells(canvas.u, canvas.v, canvas.size, counts, 26, 0.62)
    bumps = canvas.noise.band(0.010, 0.08, slope=0.9)
    return _stones(canvas, number, aside, gap / 2 - 0.03 * size + 0.0012 * bumps, bumps, 0.20 * size)
