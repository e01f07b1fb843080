"""Doors and stairs."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.joinery import panelled
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.seats import turned_leg
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import curve, loft, rod, sweep, turned

LEAF = 0.042
"""Thickness of a door's leaf. [m]"""


def architrave(width: float, height: float, wide: float, deep: float, sill: bool = False) -> Solid:
    """Return the moulding round an opening, its inner edge from (0, 0) to (width, height) in x and z.

    It stands on y = 0 and reaches to y = -deep; with a `sill` it goes all round. [m]
    """
    profile = np.array(
        [
            (0.006, 0),
            (0.004, 0.55),
            (0.012, 0.62),
            (0.5 * wide, 0.7),
            (0.72 * wide, 1.0),
            (0.95 * wide, 1.0),
            (wide, 0.88),
            (wide, 0.0),
        ]
    )
    profile[:, 1] *= deep
    corners = [
        (0, 0, -1, 0 if not sill else -1),
        (0, height, -1, 1),
        (width, height, 1, 1),
        (width, 0, 1, 0 if not sill else -1),
    ]
    rings = [np.array([(x + a * sx, -b, z + a * sz) for a, b in profile]) for x, z, sx, sz in corners]
    pairs = list(zip(rings, rings[1:], strict=False)) + ([(rings[-1], rings[0])] if sill else [])
    return joined(*(_length(np.array(pair)) for pair in pairs))


def _length(rings) -> Solid:

    return loft(rings)


@functools.lru_cache(maxsize=256)
def door_handle(part: float = 0.0) -> Solid:
    """Return a lever handle with its plate and keyhole, on y = 0, the lever towards -x. [m]"""
    plate = block((-0.02, -0.004, -0.1), (0.02, 0.0, 0.07), 0.002)
    neck = rod([(0, 0, 0.02), (0, -0.045, 0.02)], 0.009, 10)
    lever = rod(
        curve([(0.004, -0.045, 0.02), (-0.05, -0.047, 0.022), (-0.115, -0.045, 0.016)], 8),
        0.0085,
        8,
        scale=[1, 1.1, 1.1, 1, 0.95, 0.9, 0.9, 0.7],
    )
    key = turned([(0, 0), (0.008, 0), (0.008, 0.003), (0, 0.003)], 10).turned(0, 90).moved(0, -0.004, -0.05)
    return joined(plate, neck, lever, key)


def door_leaf(width: float, height: float) -> tuple[Solid, Solid]:
    """Return (leaf, handles and hinges) of a panelled door, x from 0 at its hinge, y from 0 to `LEAF`. [m]"""
    face = panelled(width, height, LEAF / 2, 0.105, (0.8, 1.15))
    rear = face.turned(2, 180).moved(width, LEAF, 0)
    metal = door_handle().moved(width - 0.055, 0, min(1.02, 0.5 * height))
    back = door_handle().mirrored().turned(2, 180).moved(width - 0.055, LEAF, min(1.02, 0.5 * height))
    hinges = [
        rod([(0, -0.006, z - 0.045), (0, -0.006, z + 0.045)], 0.007, 8)
        for z in (0.14 * height, 0.52 * height, 0.88 * height)
    ]
    return joined(face, rear), joined(metal, back, *hinges)


@builds("door")
def door(making: Making) -> None:
    """Build a door that stands in its frame."""
    w, d, h = making.size
    wide = 0.075
    x, top = w / 2 - wide, h - wide
    lining = d - 0.068
    making.add(
        "frame",
        blocks(
            [(-x - 0.03, -lining / 2, 0), (x, -lining / 2, 0)],
            [(-x, lining / 2, top + 0.03), (x + 0.03, lining / 2, top + 0.03)],
            0.002,
            2,
        ),
        block((-x, -lining / 2, top), (x, lining / 2, top + 0.03), 0.002),
        blocks(
            [
                (-x, LEAF - lining / 2, 0),
                (x - 0.013, LEAF - lining / 2, 0),
                (-x, LEAF - lining / 2, top - 0.013),
            ],
            [(-x + 0.013, lining / 2 - 0.02, top), (x, lining / 2 - 0.02, top), (x, lining / 2 - 0.02, top)],
            0.002,
        ),
    )
    front = architrave(2 * x, top, wide, 0.018).moved(-x, -lining / 2, 0)
    making.add("frame", front, front.turned(2, 180))
    leaf, metal = door_leaf(2 * x - 0.006, top - 0.009)
    at = (-x + 0.003, -lining / 2, 0)
    # What stands out of the frame when shut is no part of the size.
    metal = metal._replace(
        vertices=np.column_stack(
            [metal.vertices[:, 0], np.clip(metal.vertices[:, 1], -0.05, LEAF + 0.05), metal.vertices[:, 2]]
        )
    )
    making.hinge("leaf", leaf.moved(at[0], at[1], 0.005), at, -1.0)
    making.hinge("handles", metal.moved(at[0], at[1], 0.005), at, -1.0)


@builds("stairs")
def stairs(making: Making) -> None:
    """Build a straight flight: treads with nosings, risers, stringers, a newel, balusters and a handrail."""
    w, d, h = making.size
    guard = min(0.9, 0.3 * h)
    rise_all = h - guard
    count = max(2, round(rise_all / 0.18))
    rise, going = rise_all / count, (d - 0.06) / count
    side = 0.035
    y = -d / 2 + 0.03 + going * np.arange(count)
    z = rise * (np.arange(count) + 1)
    making.add(
        "wood",
        blocks(
            [(-w / 2 + side, a - 0.025, b - 0.03) for a, b in zip(y, z, strict=True)],
            [(w / 2 - side, a + going + 0.012, b) for a, b in zip(y, z, strict=True)],
            0.008,
            0,
        ),
        blocks(
            [(-w / 2 + side, a, b - rise) for a, b in zip(y, z, strict=True)],
            [(w / 2 - side, a + 0.016, b - 0.03) for a, b in zip(y, z, strict=True)],
            0.001,
            0,
        ),
    )
    y_end = d / 2 - 0.005
    slope = rise / going
    foot = -d / 2 + 0.005
    lift = 0.04
    low_cut = foot + 0.2
    profile = np.array(
        [
            (foot, 0),
            (low_cut + 0.1, 0),
            (y_end, (y_end - low_cut - 0.1) * slope),
            (y_end, rise_all + 0.0),
            (y_end - 0.06, rise_all + lift),
            (foot, lift + 0.12),
        ]
    )
    profile[3, 1] = profile[4, 1]

    for x in (-w / 2, w / 2 - side):
        rings = np.array([[(x + k, a, b) for a, b in profile] for k in (0.0, side)])
        making.add("wood", loft(rings, smooth=False))
    _balustrade(making, y, z, going, w, d, h, guard)


def _balustrade(making: Making, y, z, going: float, w: float, d: float, h: float, guard: float) -> None:
    x = w / 2 - 0.02
    post = block((-0.04, -0.04, 0), (0.04, 0.04, 1.0), 0.006, 2)
    bottom = z[0] + guard + 0.02
    making.add(
        "handrail",
        post._replace(vertices=post.vertices * [0.5, 1, bottom + 0.06]).moved(x, y[0] - 0.0 + 0.012, 0),
    )
    a, b = np.array([x, y[0], z[0] + guard - 0.06]), np.array([x, d / 2 - 0.03, h - 0.03])
    section = np.array(
        [
            (0.02, -0.02),
            (0.019, 0.002),
            (0.02, 0.014),
            (0.01, 0.025),
            (-0.01, 0.025),
            (-0.02, 0.014),
            (-0.019, 0.002),
            (-0.02, -0.02),
        ]
    )
    making.add("handrail", sweep([a, b], section))
    making.add("handrail", block((x - 0.02, d / 2 - 0.04, h - guard - 0.1), (x + 0.02, d / 2, h), 0.004, 2))

    baluster = turned_leg(1.0, 0.015, 8)
    for k in range(1, len(y)):
        at = y[k] + 0.3 * going
        top = np.interp(at, [a[1], b[1]], [a[2], b[2]]) - 0.015
        making.add(
            "wood", baluster._replace(vertices=baluster.vertices * [1, 1, top - z[k]]).moved(x, at, z[k])
        )
