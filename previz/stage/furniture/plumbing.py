"""A sink, pipes and cables."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.soft import cushion, outline
from previz.stage.furniture.solids import block, blocks
from previz.stage.furniture.swept import curve, loft, rod, turned


@builds("sink")
def sink(making: Making) -> None:
    """Build a sink: a deep basin and a ribbed drainboard, taps, a waste pipe, legs."""
    w, d, h = making.size
    rim = min(0.9, 0.8 * h)
    y1 = d / 2 - 0.02
    split, wall = 0.02 * w, 0.02
    x0, x1, y0 = -w / 2, w / 2, -d / 2
    basin = 0.2
    corner = 0.05
    outer = outline(split - x0, y1 - y0, corner, 4)
    inner = outline(split - x0 - 2 * wall, y1 - y0 - 2 * wall, corner, 4)
    floor = outline((split - x0 - 2 * wall) * 0.9, (y1 - y0 - 2 * wall) * 0.9, corner, 4)
    mx, my = (x0 + split) / 2, (y0 + y1) / 2

    def ring(of, z):
        return np.column_stack([of + [mx, my], np.full(len(of), z)])

    shell = loft(
        np.array(
            [
                ring(floor, rim - basin),
                ring(outer, rim - basin),
                ring(outer, rim - 0.006),
                ring(outer * 0.994, rim),
                ring(inner * 1.006, rim),
                ring(inner, rim - 0.008),
                ring(inner * 0.985, rim - 0.8 * basin),
                ring(floor * 0.97, rim - basin + 0.014),
            ]
        )[1:],
        smooth=None,
    )
    making.add("basin", shell)
    making.add(
        "basin",
        cushion((x1 - split + 0.02, y1 - y0, 0.03), 0.012, 0, steps=(4, 4, 2)).moved(
            (x1 + split - 0.02) / 2, my, rim - 0.017
        ),
    )
    rib = rod([(split + 0.05, 0, rim - 0.004), (x1 - 0.06, 0, rim)], 0.006, 8)
    ribs = np.linspace(y0 + 0.07, y1 - 0.07, 9)
    making.add(
        "basin",
        *(rib.moved(0, y, 0) for y in ribs),
        block((x0, y1 - 0.002, rim - 0.03), (x1, d / 2, rim + 0.09), 0.005),
    )
    _taps(making, mx, my, rim, basin)
    _stand(making, split, rim - 0.03)


def _taps(making: Making, mx: float, my: float, rim: float, basin: float) -> None:
    """Add the taps over the middle of a basin, its drain and its waste pipe. [m]"""
    _, d, h = making.size
    making.add(
        "taps", turned([(0, 0), (0.026, 0), (0.02, 0.003), (0, 0.004)], 16).moved(mx, my, rim - basin + 0.014)
    )
    for side in (-1, 1):
        tap = mx + side * 0.09
        z = min(rim + 0.16, h - 0.06)
        making.add(
            "taps",
            rod(
                curve(
                    [
                        (tap, d / 2 - 0.005, z),
                        (tap, d / 2 - 0.09, z),
                        (tap, d / 2 - 0.13, z - 0.012),
                        (tap, d / 2 - 0.14, z - 0.05),
                    ],
                    10,
                ),
                0.0105,
                10,
            ),
            turned([(0.0, 0), (0.018, 0), (0.018, 0.008), (0, 0.008)], 14)
            .turned(0, 90)
            .moved(tap, d / 2 - 0.0, z),
            rod([(tap, d / 2 - 0.075, z), (tap, d / 2 - 0.075, h - 0.008)], 0.007, 8),
            *(
                rod(
                    [
                        (tap - 0.028 * c, d / 2 - 0.075 - 0.028 * s, h - 0.008),
                        (tap + 0.028 * c, d / 2 - 0.075 + 0.028 * s, h - 0.008),
                    ],
                    0.0062,
                    8,
                )
                for c, s in ((1, 0), (0, 1))
            ),
        )
    making.add(
        "taps",
        rod(
            curve(
                [
                    (mx, my, rim - basin),
                    (mx, my, rim - basin - 0.12),
                    (mx, my + 0.05, rim - basin - 0.17),
                    (mx, my + 0.1, rim - basin - 0.13),
                    (mx, d / 2 - 0.03, rim - basin - 0.12),
                ],
                16,
            ),
            0.018,
            10,
        ),
    )


def _stand(making: Making, split: float, under: float) -> None:
    """Add the legs and rails that carry a sink, and a rail under its drainboard. [m]"""
    w, d, _ = making.size
    x0, x1, y0, y1 = -w / 2, w / 2, -d / 2, d / 2 - 0.02
    making.add(
        "stand",
        blocks(
            [(x - 0.02, y - 0.02, 0) for x in (x0 + 0.05, x1 - 0.05) for y in (y0 + 0.05, y1 - 0.04)],
            [(x + 0.02, y + 0.02, under) for x in (x0 + 0.05, x1 - 0.05) for y in (y0 + 0.05, y1 - 0.04)],
            0.004,
            2,
        ),
        blocks(
            [(x0 + 0.05, y0 + 0.045, 0.22), (x0 + 0.05, y1 - 0.055, 0.22)],
            [(x1 - 0.05, y0 + 0.065, 0.26), (x1 - 0.05, y1 - 0.035, 0.26)],
        ),
        block((split + 0.02, y0 + 0.03, under - 0.05), (x1 - 0.02, y1 - 0.02, under), 0.003),
    )


@builds("pipe run")
def pipe_run(making: Making) -> None:
    """Build two pipes along a wall with joints and clips."""
    w, d, h = making.size
    r = min(0.014, 0.16 * d)
    for z, radius in ((h - r - 0.004, r), (0.022 + 0.004, 0.022)):
        y = -d / 2 + 0.026
        making.add("pipe", rod([(-w / 2, y, z), (w / 2, y, z)], radius, 14))
        joint = rod(
            [(-0.022, 0, 0), (-0.02, 0, 0), (0.02, 0, 0), (0.022, 0, 0)],
            radius * 1.18,
            14,
            scale=[0.85, 1, 1, 0.85],
        )
        making.add("pipe", *(joint.moved(k * w, y, z) for k in (-0.21, 0.28)))
        for x in np.arange(-w / 2 + 0.2, w / 2, 0.6):
            making.add(
                "clips",
                rod([(x - 0.007, y, z), (x + 0.007, y, z)], radius * 1.1, 14),
                block((x - 0.006, y + 0.5 * radius, z - 0.006), (x + 0.006, d / 2, z + 0.006), 0.001),
                block((x - 0.014, d / 2 - 0.004, z - 0.02), (x + 0.014, d / 2, z + 0.02), 0.001),
            )


@builds("cable")
def cable(making: Making) -> None:
    """Build a hanging cable: a catenary between its ends."""
    w, d, h = making.size
    s = np.linspace(-1, 1, 33)
    a = 1.2
    z = (np.cosh(a * s) - 1) / (np.cosh(a) - 1)
    r = min(d / 2, 0.015)
    making.add("cable", rod(np.stack([s * (w / 2 - 0.01), 0 * s, r + z * (h - 2 * r)], 1), r, 8))
