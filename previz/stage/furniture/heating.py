"""Heating, water and pipes: radiators, a stove, a sink, pipes and cables."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.soft import cushion
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import curve, loft, rod, sweep, turned


@functools.lru_cache(maxsize=256)
def _valve() -> Solid:
    """Return a valve with its wheel, about the origin, its pipe running down. [m]"""
    return joined(
        rod([(0, 0, -0.02), (0, 0, 0.022)], 0.011, 10),
        rod([(-0.026, 0, 0), (0.02, 0, 0)], 0.009, 10),
        turned([(0, 0), (0.007, 0), (0.007, 0.012), (0.02, 0.014), (0.021, 0.022), (0, 0.024)], 14).moved(
            0, 0, 0.02
        ),
    )


@builds("radiator")
def radiator(making: Making) -> None:
    """Build a radiator of iron columns, two deep, on feet, a valve at its right."""
    w, d, h = making.size
    right = 0.05
    long = w - right
    count = max(2, round(long / 0.06))
    each = long / count
    column = np.linspace(0, 1, 9)
    ring = np.array([(0.46 * np.cos(t), 0.46 * np.sin(t)) for t in np.arange(10) * 2 * np.pi / 10])
    ring = np.sign(ring) * np.abs(ring / 0.46) ** 0.85 * 0.46
    low, high = 0.1 * h, h
    z = low + (high - low) * np.array([0, 0.012, 0.05, 0.1, 0.5, 0.9, 0.955, 0.988, 1.0])
    wide = np.array([0.45, 0.75, 0.97, 0.88, 0.88, 0.88, 0.97, 0.75, 0.4])
    assert len(column) == len(z)
    y = 0.24 * d
    one = loft(
        np.array(
            [
                np.column_stack([ring[:, 0] * each * s * 1.06, ring[:, 1] * 0.46 * d * s, np.full(10, k)])
                for s, k in zip(wide, z, strict=True)
            ]
        ),
        smooth=True,
    )
    hub = [rod([(0, -y, k), (0, y, k)], 0.021, 10, scale=[0.9, 0.9]) for k in (low + 0.055, high - 0.055)]
    section = joined(one.moved(0, -y, 0), one.moved(0, y, 0), *hub)
    for k in range(count):
        making.add("iron", section.moved(-w / 2 + each * (k + 0.5), 0, 0))
    x0, x1 = -w / 2 + each / 2, -w / 2 + long - each / 2
    for k in (low + 0.055, high - 0.055):
        making.add("iron", rod([(x0, 0, k), (x1 + 0.02, 0, k)], 0.017, 12))
    foot = loft(
        np.array(
            [
                [
                    (sx * 0.4 * each * s, sy * 0.47 * d * g, k)
                    for sx, sy in ((1, 1), (-1, 1), (-1, -1), (1, -1))
                ]
                for s, g, k in ((1.0, 1.0, 0.0), (0.8, 0.9, 0.02), (0.7, 0.72, low + 0.03))
            ]
        ),
        smooth=False,
    )
    making.add("iron", foot.moved(x0, 0, 0), foot.moved(x1, 0, 0))
    making.add(
        "valve",
        _valve().moved(w / 2 - 0.021, 0, low + 0.055),
        rod([(w / 2 - 0.021, 0, 0), (w / 2 - 0.021, 0, low + 0.04)], 0.0085, 10),
    )


@builds("panel radiator")
def panel_radiator(making: Making) -> None:
    """Build a pressed steel radiator: upright grooves, a grille on top, a valve."""
    w, d, h = making.size
    long, low = w - 0.05, 0.12 * h
    count = max(4, round(long / 0.05))
    pitch = long / count
    x = -w / 2 + pitch * (np.arange(count) + 0.5)
    face = -d / 2
    making.add(
        "steel",
        cushion((long, 0.02, h - low - 0.02), 0.009, 0, steps=(4, 2, 4)).moved(
            -0.025, face + 0.018, (h + low - 0.02) / 2
        ),
        cushion((long, 0.02, h - low - 0.02), 0.009, 0, steps=(4, 2, 4)).moved(
            -0.025, d / 2 - 0.022, (h + low - 0.02) / 2
        ),
    )
    rib = cushion((0.62 * pitch, 0.016, h - low - 0.11), 0.0078, 0, steps=(4, 2, 4)).moved(
        0, face + 0.008, (h + low - 0.02) / 2
    )
    making.add("steel", *(rib.moved(k, 0, 0) for k in x))
    slots = np.arange(-w / 2 + 0.012, -w / 2 + long - 0.012, 0.022)
    making.add(
        "steel",
        blocks(
            [
                (-w / 2 + 0.003, face + 0.008, h - 0.03),
                (-w / 2 + 0.003, d / 2 - 0.018, h - 0.03),
                (-w / 2 + 0.003, face + 0.008, h - 0.03),
                (-w / 2 + long - 0.012, face + 0.008, h - 0.03),
            ],
            [
                (-w / 2 + long - 0.003, face + 0.016, h),
                (-w / 2 + long - 0.003, d / 2 - 0.01, h),
                (-w / 2 + 0.012, d / 2 - 0.01, h),
                (-w / 2 + long - 0.003, d / 2 - 0.01, h),
            ],
            0.002,
        ),
        blocks(
            [(k, face + 0.012, h - 0.012) for k in slots],
            [(k + 0.009, d / 2 - 0.012, h - 0.006) for k in slots],
            0.001,
        ),
    )
    making.add(
        "steel",
        *(
            block((k - 0.015, d / 2 - 0.014, low + 0.1), (k + 0.015, d / 2, h - 0.1), 0.002)
            for k in (-0.3 * w, 0.25 * w)
        ),
    )
    making.add(
        "valve",
        _valve().moved(w / 2 - 0.021, 0, low + 0.04),
        rod([(w / 2 - 0.021, 0, 0), (w / 2 - 0.021, 0, low + 0.03)], 0.0085, 10),
    )


@builds("stove")
def stove(making: Making) -> None:
    """Build an iron stove on legs: plates round a hollow, a door with a window of mica, a pipe to the top."""
    w, d, h = making.size
    tall = min(0.42 * h, 0.9)
    leg, plate = 0.16 * tall, 0.018
    y0, y1 = -d / 2 + 0.04, d / 2 - 0.03
    x = w / 2 - 0.025
    foot = sweep(
        curve([(0.022, 0.022, 0), (0.012, 0.012, 0.4 * leg), (-0.012, -0.012, leg)], 6),
        [(0.018, -0.018), (0.018, 0.018), (-0.018, 0.018), (-0.018, -0.018)],
        [1.1, 0.7, 0.7, 0.9, 1.15, 1.3],
    )
    for sx in (-1, 1):
        for sy in (-1, 1):
            one = foot.placed(np.diag([sx, sy, 1.0]))
            one = one._replace(faces=one.faces[:, ::-1]) if sx * sy < 0 else one
            making.add("iron", one.moved(sx * (x - 0.03), (y0 + y1) / 2 + sy * ((y1 - y0) / 2 - 0.03), 0))
    low, high = leg, tall - 0.03
    making.add(
        "iron",
        cushion((w, d - 0.03, 0.03), 0.012, 0, steps=(4, 4, 2)).moved(0, 0.015, tall - 0.015),
        cushion((w - 0.01, d - 0.04, 0.024), 0.01, 0, steps=(4, 4, 2)).moved(0, 0.012, low + 0.006),
        blocks(
            [(-x, y0, low), (x - plate, y0, low), (-x + plate, y1 - plate, low)],
            [(-x + plate, y1, high), (x, y1, high), (x - plate, y1, high)],
            0.004,
            2,
        ),
    )
    # The front leaves a hole for the door.
    a, b, c, e = -0.62 * x, 0.62 * x, low + 0.3 * (high - low), high - 0.14 * (high - low)
    making.add(
        "iron",
        blocks(
            [(-x + plate, y0, low), (-x + plate, y0, e), (-x + plate, y0, c), (b, y0, c)],
            [
                (x - plate, y0 + plate, c),
                (x - plate, y0 + plate, high),
                (a, y0 + plate, e),
                (x - plate, y0 + plate, e),
            ],
            0.003,
        ),
    )
    making.add(
        "iron",
        blocks(
            [(-0.5 * x, y0 - 0.012, low + 0.05 * tall)], [(0.5 * x, y0 + 0.002, low + 0.13 * tall)], 0.004
        ),
        turned([(0, 0), (0.032, 0), (0.03, 0.008), (0.012, 0.012), (0, 0.012)], 16)
        .turned(0, 90)
        .moved(0, y0 - 0.012, low + 0.09 * tall),
    )
    _stove_door(making, a - 0.012, b + 0.012, y0, c - 0.012, e + 0.012)
    _stove_top(making, tall, y1 - 0.13)


def _stove_top(making: Making, tall: float, at: float) -> None:
    """Add the rings on a stove's top and its pipe, whose middle is at y = `at`. [m]"""
    w, _, h = making.size
    for ring in (0.3, 0.2):
        making.add(
            "iron",
            turned(
                [
                    (ring * w - 0.02, 0),
                    (ring * w, 0),
                    (ring * w, 0.004),
                    (ring * w - 0.003, 0.006),
                    (ring * w - 0.02, 0.006),
                ],
                32,
            ).moved(0, -0.02, tall),
        )
    r = min(0.062, 0.16 * w)
    making.add(
        "iron",
        rod([(0, at, tall - 0.005), (0, at, h)], r, 24),
        turned([(r, 0), (r + 0.022, 0), (r + 0.02, 0.014), (r + 0.004, 0.03), (r, 0.03)], 24).moved(
            0, at, tall
        ),
        *(
            turned([(r - 0.001, 0), (r + 0.004, 0), (r + 0.004, 0.035), (r - 0.001, 0.035)], 24).moved(
                0, at, z
            )
            for z in np.arange(tall + 0.5, h - 0.1, 0.5)
        ),
    )


def _stove_door(making: Making, a: float, b: float, y: float, c: float, e: float) -> None:
    thick, rim = 0.014, 0.035
    frame = blocks(
        [(a, y - thick, c), (a, y - thick, e - rim), (a, y - thick, c + rim), (b - rim, y - thick, c + rim)],
        [(b, y - 0.001, c + rim), (b, y - 0.001, e), (a + rim, y - 0.001, e - rim), (b, y - 0.001, e - rim)],
        0.004,
    )
    bars = np.linspace(a + rim, b - rim, 4)[1:-1]
    grid_ = blocks(
        [(x - 0.005, y - thick + 0.001, c + rim) for x in bars]
        + [(a + rim, y - thick + 0.002, (c + e) / 2 - 0.005)],
        [(x + 0.005, y - 0.004, e - rim) for x in bars] + [(b - rim, y - 0.005, (c + e) / 2 + 0.005)],
        0.002,
    )
    at = (a, y, 0)
    making.hinge("iron", joined(frame, grid_), at, -1.0)
    making.hinge(
        "mica",
        block(
            (a + rim - 0.006, y - 0.0055, c + rim - 0.006),
            (b - rim + 0.006, y - 0.0045, e - rim + 0.006),
            0.0,
        ),
        at,
        -1.0,
    )
    z = (c + e) / 2
    making.hinge(
        "handles",
        joined(
            rod([(b - 0.02, y - thick + 0.002, z), (b - 0.02, y - 0.04, z)], 0.006, 8),
            rod(
                curve(
                    [
                        (b - 0.02, y - 0.038, z + 0.02),
                        (b - 0.02, y - 0.04, z),
                        (b - 0.015, y - 0.044, z - 0.05),
                    ],
                    6,
                ),
                0.008,
                8,
            ),
        ),
        at,
        -1.0,
    )
    for k in (c + 0.05, e - 0.05):
        making.add(
            "handles", rod([(a - 0.002, y - 0.008, k - 0.02), (a - 0.002, y - 0.008, k + 0.02)], 0.007, 8)
        )
