"""Boards, leaves with panels, drawers and their handles: what cases, desks and doors are joined from."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.kinds import Making
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import curve, rod, turned

BOARD = 0.02


@functools.lru_cache(maxsize=256)
def knob(radius: float = 0.014) -> Solid:
    """Return a turned knob that looks to -y from the origin. [m]"""
    r = radius
    return turned(
        [
            (0, 0),
            (0.5 * r, 0),
            (0.4 * r, 0.6 * r),
            (r, 1.1 * r),
            (1.05 * r, 1.5 * r),
            (0.7 * r, 1.9 * r),
            (0, 2 * r),
        ],
        12,
    ).turned(0, 90)


@functools.lru_cache(maxsize=256)
def pull(width: float = 0.09) -> Solid:
    """Return a bow handle that lies along x, before y = 0. [m]"""
    a = width / 2
    way = curve(
        [
            (-a, 0, 0),
            (-a, -0.018, 0),
            (-0.8 * a, -0.028, 0),
            (0, -0.031, 0),
            (0.8 * a, -0.028, 0),
            (a, -0.018, 0),
            (a, 0, 0),
        ],
        13,
    )
    return rod(way, 0.0045, 6)


@functools.lru_cache(maxsize=256)
def panelled(width: float, height: float, thickness: float, rail: float = 0.07, rows=(1.0,)) -> Solid:
    """Return a leaf of rails and stiles with raised panels on its face, y = 0, its corner at the origin.

    `rows` are shares of the height, from below; the leaf reaches to y = `thickness`. [m]
    """
    rail = min(rail, 0.25 * width, 0.3 * height / len(rows))
    lows = np.concatenate([[0.0], np.cumsum(rows)])[:-1] / np.sum(rows)
    inner = height - rail
    parts = [
        blocks(
            [(0, 0, 0), (width - rail, 0, 0)],
            [(rail, thickness, height), (width, thickness, height)],
            0.0025,
            2,
        )
    ]
    zs = [0.0, *(lows[1:] * inner), inner]
    parts.append(
        blocks(
            [(rail, 0.0006, z) for z in zs],
            [(width - rail, thickness - 0.0006, z + rail) for z in zs],
            0.0025,
            0,
        )
    )
    low = [(rail, 0.009, z + rail) for z in zs[:-1]]
    high = [(width - rail, thickness - 0.006, z) for z in zs[1:]]
    parts.append(
        blocks(
            [np.subtract(each, (0.004, 0, 0.004)) for each in low],
            [np.add(each, (0.004, 0, 0.004)) for each in high],
            0.0,
            2,
        )
    )
    field = 0.028
    fields = [(a, b) for a, b in zip(low, high, strict=True) if min(b[0] - a[0], b[2] - a[2]) > 3 * field]
    if fields:
        parts.append(
            blocks(
                [(a[0] + field, 0.0035, a[2] + field) for a, _ in fields],
                [(b[0] - field, 0.0105, b[2] - field) for _, b in fields],
                0.006,
                2,
            )
        )
    return joined(*parts)


@functools.lru_cache(maxsize=256)
def carcass(w: float, d: float, low: float, high: float, front: float = 0.0, middle: bool = False) -> Solid:
    """Return sides, bottom, top and back of a case about x = 0, open towards -y. [m]

    `front` is how far behind y = -d/2 it begins.
    """
    y0, y1, b = -d / 2 + front, d / 2, BOARD
    lows = [(-w / 2, y0, low), (w / 2 - b, y0, low)]
    highs = [(-w / 2 + b, y1, high), (w / 2, y1, high)]
    level = [(low, low + b), (high - b, high)] + (
        [((low + high) / 2, (low + high) / 2 + b)] if middle else []
    )
    sides = blocks(lows, highs, 0.002, 2)
    boards = blocks([(-w / 2 + b, y0, z) for z, _ in level], [(w / 2 - b, y1, z) for _, z in level], 0.002, 0)
    return joined(
        sides, boards, block((-w / 2 + b, y1 - 0.008, low + b), (w / 2 - b, y1 - 0.002, high - b), 0.0, 2)
    )


def plinth(w: float, d: float, high: float, back: float = 0.03) -> Solid:
    """Return what a case stands on, set back at its front. [m]"""
    return block((-w / 2 + 0.012, -d / 2 + back, 0), (w / 2 - 0.012, d / 2, high), 0.002)


def two_doors(
    making: Making,
    part: str,
    w: float,
    y: float,
    low: float,
    high: float,
    rows=(1.0,),
    latch: float | None = None,
) -> None:
    """Hang two leaves before a case, their faces at `y`. [m]"""
    gap, thick = 0.002, 0.02
    each = w / 2 - gap
    leaf = panelled(each - gap / 2, high - low - 2 * gap, thick, rows=rows)
    z = latch if latch is not None else (low + high) / 2
    handle = joined(knob(), block((-0.008, -0.002, -0.04), (0.008, 0.001, -0.018), 0.001))
    for side in (-1, 1):
        placed = leaf.moved(-w / 2 + gap, y, low + gap)
        grip = handle.moved(-0.03, y, z)
        if side > 0:
            placed, grip = placed.mirrored(), grip.mirrored()
        at = (side * (w / 2 - gap), y + thick, 0)
        # One is ajar further than the other.
        share = 1.0 if side < 0 else 0.55
        turn = -share if side < 0 else share
        making.hinge(part, placed, at, turn)
        making.hinge("handles", grip, at, turn)


def drawers(making: Making, part: str, x0: float, x1: float, y: float, heights, low: float) -> None:
    """Add drawer fronts one over the other, with two handles each, or one where they are narrow. [m]"""
    gap, z = 0.003, low
    wide = x1 - x0
    fronts, grips = [], []
    for high in heights:
        fronts.append(((x0 + gap, y, z + gap), (x1 - gap, y + 0.02, z + high - gap)))
        places = [-0.28 * wide, 0.28 * wide] if wide > 0.6 else [0.0]
        grips += [pull(min(0.09, 0.3 * wide)).moved((x0 + x1) / 2 + x, y, z + high / 2) for x in places]
        z += high
    making.add(part, blocks([a for a, _ in fronts], [b for _, b in fronts], 0.004, 0))
    making.add("handles", *grips)


def cornice(w: float, d: float, low: float, tall: float) -> Solid:
    """Return the moulded top of a case: boards that step out. [m]"""
    steps = [(0.018, 0.3), (0.008, 0.62), (0.0, 1.0)]
    z, parts = low, []
    for inset, share in steps:
        parts.append(
            block(
                (-w / 2 + inset, -d / 2 + inset + 0.0, z), (w / 2 - inset, d / 2, low + share * tall), 0.004
            )
        )
        z = low + share * tall
    return joined(*parts)
