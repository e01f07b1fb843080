"""Pots and kettles: ware with spouts, taps and lids."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.crockery import SIDES, handle, vessel
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.swept import circle, curve, rod, sweep, turned


@builds("teapot")
def teapot(making: Making) -> None:
    """Build a teapot with its lid on."""
    w, d, h = making.size
    r = min(d / 2, 0.31 * w)
    x, tall = -0.02 * w, 0.8 * h
    body = [
        (0.0, 0),
        (0.55 * r, 0),
        (0.6 * r, 0.03 * tall),
        (0.86 * r, 0.2 * tall),
        (r, 0.48 * tall),
        (0.9 * r, 0.76 * tall),
        (0.62 * r, 0.95 * tall),
        (0.56 * r, tall),
        (0.5 * r, tall),
        (0, tall - 0.003),
    ]
    lid = [
        (0.0, 0.0),
        (0.5 * r, 0.0),
        (0.555 * r, 0.004),
        (0.5 * r, 0.022 * h / 0.15),
        (0.28 * r, 0.06 * h),
        (0.0, 0.075 * h),
    ]
    making.add("china", turned(body, SIDES).moved(x, 0, 0), turned(lid, SIDES).moved(x, 0, tall))
    grip = [
        (0, 0),
        (0.06 * r, 0),
        (0.08 * r, 0.02 * h),
        (0.17 * r, 0.05 * h),
        (0.18 * r, 0.08 * h),
        (0.1 * r, 0.115 * h),
        (0, 0.125 * h),
    ]
    making.add("knob", turned(grip, 16).moved(x, 0, h - 0.125 * h))
    a, b = x + 0.9 * r, w / 2
    spout = curve(
        [
            (a - 0.01, 0, 0.35 * tall),
            (a + 0.45 * (b - a), 0, 0.5 * tall),
            (a + 0.7 * (b - a), 0, 0.75 * tall),
            (b - 0.004, 0, tall),
        ],
        10,
    )
    making.add("china", rod(spout, 0.011, 14, scale=np.linspace(1.9, 0.72, 10)))
    a, b = x - 0.84 * r, -w / 2 + 0.005
    making.add(
        "china",
        handle(
            [
                (a, 0, 0.8 * tall),
                (a + 0.6 * (b - a), 0, 0.92 * tall),
                (b, 0, 0.66 * tall),
                (b + 0.004, 0, 0.42 * tall),
                (a + 0.4 * (b - a), 0, 0.2 * tall),
                (a - 0.003, 0, 0.2 * tall),
            ],
            0.014,
            0.009,
        ),
    )


@builds("urn")
def urn(making: Making) -> None:
    """Build a tea urn: a drum on a foot, a lid with a knob, two grips, a tap to the front."""
    w, d, h = making.size
    r = 0.43 * w
    y = d / 2 - r
    z, tall = 0.1 * h, 0.72 * h
    foot = [(0, 0), (0.9 * r, 0), (0.9 * r, 0.2 * z), (0.75 * r, 0.4 * z), (0.72 * r, z), (0, z)]
    body = [
        (0, z),
        (0.92 * r, z),
        (0.985 * r, z + 0.008),
        (r, z + 0.02),
        (r, z + tall - 0.014),
        (1.02 * r, z + tall - 0.01),
        (1.02 * r, z + tall),
        (0, z + tall),
    ]
    top = z + tall
    lid = [
        (0, top),
        (r, top),
        (r, top + 0.01),
        (0.94 * r, top + 0.02),
        (0.6 * r, top + 0.055 * h),
        (0.2 * r, top + 0.075 * h),
        (0, top + 0.08 * h),
    ]
    making.add("metal", *(turned(each, 40).moved(0, y, 0) for each in (foot, body, lid)))
    k = top + 0.075 * h
    making.add(
        "grips",
        turned(
            [
                (0, k),
                (0.012, k),
                (0.012, k + 0.02 * h),
                (0.026, k + 0.045 * h),
                (0.024, k + 0.075 * h),
                (0, h),
            ],
            16,
        ).moved(0, y, 0),
    )
    for side in (-1, 1):
        x = side * r * 0.985
        grip = curve(
            [
                (x, y, 0.66 * h),
                (side * (w / 2 - 0.008), y, 0.67 * h),
                (side * (w / 2 - 0.006), y, 0.56 * h),
                (x, y, 0.55 * h),
            ],
            11,
        )
        making.add("grips", rod(grip, 0.007, 8))
    front = y - r
    ahead = -d / 2
    tap = z + 0.05 * h
    making.add(
        "tap",
        rod([(0, front + 0.01, tap), (0, ahead + 0.012, tap)], 0.011, 12),
        rod(
            curve(
                [
                    (0, ahead + 0.018, tap + 0.004),
                    (0, ahead + 0.009, tap - 0.012),
                    (0, ahead + 0.009, tap - 0.045),
                ],
                6,
            ),
            0.009,
            12,
        ),
        rod([(0, ahead + 0.022, tap), (0, ahead + 0.022, tap + 0.04)], 0.005, 8),
        rod([(-0.022, ahead + 0.022, tap + 0.042), (0.022, ahead + 0.022, tap + 0.042)], 0.0055, 8),
    )


@builds("kettle")
def kettle(making: Making) -> None:
    """Build a kettle with a spout and a grip over its lid."""
    w, d, h = making.size
    r = d / 2
    x, tall = -w / 2 + r, 0.62 * h
    body = [
        (0, 0),
        (0.92 * r, 0),
        (0.99 * r, 0.03 * tall),
        (r, 0.12 * tall),
        (0.97 * r, 0.5 * tall),
        (0.78 * r, 0.84 * tall),
        (0.5 * r, 0.98 * tall),
        (0.46 * r, tall),
        (0.46 * r, tall + 0.008),
        (0.2 * r, tall + 0.018),
        (0, tall + 0.02),
    ]
    making.add("metal", turned(body, SIDES).moved(x, 0, 0))
    k = tall + 0.018
    making.add(
        "grip",
        turned(
            [(0, k), (0.008, k), (0.008, k + 0.008), (0.015, k + 0.018), (0.012, k + 0.028), (0, k + 0.03)],
            14,
        ).moved(x, 0, 0),
    )
    a = x + 0.9 * r
    spout = curve(
        [
            (a - 0.012, 0, 0.38 * tall),
            (a + 0.35 * (w / 2 - a), 0, 0.58 * tall),
            (w / 2 - 0.01, 0, 0.98 * tall),
        ],
        9,
    )
    making.add("metal", rod(spout, 0.0125, 14, scale=np.linspace(1.8, 0.75, 9)))
    arch = curve(
        [
            (x - 0.66 * r, 0, 0.9 * tall),
            (x - 0.72 * r, 0, 0.93 * h),
            (x, 0, h - 0.004),
            (x + 0.72 * r, 0, 0.93 * h),
            (x + 0.66 * r, 0, 0.9 * tall),
        ],
        19,
    )
    making.add("metal", rod(arch, 0.004, 6))
    making.add("grip", rod(arch[6:13], 0.0088, 10, scale=[0.7, 1.0, 1.1, 1.1, 1.1, 1.0, 0.7]))


@builds("saucepan")
def saucepan(making: Making) -> None:
    """Build a saucepan."""
    w, d, h = making.size
    r = d / 2
    x = -w / 2 + r
    making.add(
        "metal",
        vessel(
            [(0.95 * r, 0), (0.985 * r, 0.03 * h), (r, 0.09 * h), (r, 0.97 * h), (r, 0.985 * h)],
            0.003,
            0.005,
            40,
        ).moved(x, 0, 0),
    )
    long = w / 2 - x - r
    making.add(
        "metal",
        sweep(
            [(x + r - 0.002, 0, 0.86 * h), (x + r + 0.3 * long, 0, 0.9 * h)],
            circle(0.012, 8, 0.4),
            smooth=True,
        ),
    )
    making.add(
        "grip",
        sweep(
            curve(
                [(x + r + 0.26 * long, 0, 0.9 * h), (x + r + 0.6 * long, 0, 0.94 * h), (w / 2, 0, 0.95 * h)],
                7,
            ),
            circle(0.0135, 10, 0.6),
            [0.8, 1, 1, 0.95, 0.95, 1, 0.7],
            smooth=True,
        ),
    )
