"""Tools, on their board and in their box."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import curve, loft, rod, turned


@builds("toolbox")
def toolbox(making: Making) -> None:
    """Build a steel toolbox: a box with a ridged lid, catches, a handle."""
    w, d, h = making.size
    body, lid = 0.6 * h, 0.84 * h
    making.add("steel", block((-w / 2, -d / 2, 0), (w / 2, d / 2, body), 0.005, 0))
    ring = np.array(
        [
            (-d / 2, body + 0.002),
            (d / 2, body + 0.002),
            (d / 2, body + 0.03),
            (0.22 * d, lid),
            (-0.22 * d, lid),
            (-d / 2, body + 0.03),
        ]
    )
    xs, grow = np.array([-w / 2, -w / 2 + 0.004, w / 2 - 0.004, w / 2]), [0.97, 1, 1, 0.97]
    middle = ring.mean(axis=0)
    making.add(
        "steel",
        loft(
            np.array(
                [[(x, *(middle + (p - middle) * g)) for p in ring] for x, g in zip(xs, grow, strict=True)]
            )
        ),
    )
    making.add(
        "steel",
        blocks(
            [(-w / 2 + 0.02, -d / 2 - 0.0, 0.28 * h), (-w / 2 + 0.02, d / 2 - 0.003, 0.28 * h)],
            [(w / 2 - 0.02, -d / 2 + 0.003, 0.32 * h), (w / 2 - 0.02, d / 2, 0.32 * h)],
            0.002,
        ),
    )
    for x in (-0.3 * w, 0.3 * w):
        making.add(
            "handle",
            block(
                (x - 0.016, -d / 2 - 0.005, body - 0.035), (x + 0.016, -d / 2 + 0.001, body + 0.022), 0.002
            ),
            block((x - 0.012, -0.012, lid - 0.002), (x * 0.93 + 0.012, 0.012, lid + 0.006), 0.002),
        )
    a = 0.26 * w
    making.add(
        "handle",
        rod(
            curve(
                [
                    (-a, 0, lid),
                    (-a, 0, h - 0.02),
                    (-0.8 * a, 0, h - 0.006),
                    (0, 0, h - 0.006),
                    (0.8 * a, 0, h - 0.006),
                    (a, 0, h - 0.02),
                    (a, 0, lid),
                ],
                19,
            ),
            0.006,
            8,
        ),
    )


@functools.lru_cache(maxsize=256)
def _hammer() -> dict[str, Solid]:
    head = joined(
        rod(
            [(-0.055, 0, 0), (-0.05, 0, 0), (-0.02, 0, 0), (0.02, 0, 0)], 0.013, 12, scale=[0.9, 1, 0.75, 0.8]
        ),
        loft(
            np.array(
                [
                    [(0.018, y * 0.011, z * 0.011) for y, z in ((1, 1), (-1, 1), (-1, -1), (1, -1))],
                    [(0.06, y * 0.004, z * 0.011) for y, z in ((1, 1), (-1, 1), (-1, -1), (1, -1))],
                ]
            ),
            smooth=False,
        ),
    )
    return {
        "steel": head,
        "grips": rod(
            [(0, 0, 0.012), (0, 0, -0.1), (0, 0, -0.2), (0, 0, -0.28)],
            0.011,
            10,
            scale=[0.7, 0.75, 1.1, 1.15],
        ),
    }


@functools.lru_cache(maxsize=256)
def _spanner(long: float) -> dict[str, Solid]:
    ring = (
        turned([(0.011, 0), (0.019, 0), (0.02, 0.004), (0.019, 0.008), (0.011, 0.008)], 18)
        .turned(0, 90)
        .moved(0, 0.004, -long)
    )
    bar = block((-0.008, -0.003, -long + 0.016), (0.008, 0.003, -0.016), 0.002)
    jaws = [
        block((s * 0.011 - 0.005, -0.004, -0.018), (s * 0.011 + 0.005, 0.004, 0.014), 0.002) for s in (-1, 1)
    ]
    return {"steel": joined(ring, bar, *jaws)}


@functools.lru_cache(maxsize=256)
def _screwdriver(long: float) -> dict[str, Solid]:
    grip = turned(
        [(0, 0), (0.012, 0.002), (0.015, 0.02), (0.013, 0.05), (0.016, 0.085), (0.012, 0.1), (0, 0.102)], 14
    ).turned(0, 180)
    return {"grips": grip.moved(0, 0, 0.0), "steel": rod([(0, 0, -0.1), (0, 0, -long)], 0.0035, 8)}


@functools.lru_cache(maxsize=256)
def _saw() -> dict[str, Solid]:
    ring = np.array([(-0.06, 0.0), (0.06, 0.0), (0.03, -0.42), (-0.06, -0.42)])
    plate = loft(np.array([[(x, y, z) for x, z in ring] for y in (-0.0006, 0.0006)]), smooth=False)
    grip = rod(
        curve(
            [
                (-0.05, 0, -0.01),
                (-0.06, 0, 0.06),
                (-0.03, 0, 0.1),
                (0.02, 0, 0.09),
                (0.035, 0, 0.04),
                (0.04, 0, -0.01),
            ],
            14,
        ),
        0.014,
        8,
    )
    return {"steel": plate, "grips": grip}


@functools.lru_cache(maxsize=256)
def _tongs() -> dict[str, Solid]:
    arm = rod(curve([(0.004, 0, 0.05), (-0.012, 0, 0.0), (0.02, 0, -0.09), (0.026, 0, -0.2)], 9), 0.006, 8)
    return {"steel": joined(arm, arm.mirrored(), rod([(0, -0.008, 0.004), (0, 0.008, 0.004)], 0.009, 10))}


@builds("tool board")
def tool_board(making: Making) -> None:
    """Build a board with a saw, hammers, tongs, spanners and screwdrivers on nails."""
    w, d, h = making.size
    y = d / 2 - 0.018
    making.add("board", block((-w / 2, y, 0), (w / 2, d / 2, h), 0.003, 0))
    tools = [_saw(), _hammer(), _hammer(), _tongs(), *(_spanner(k) for k in (0.28, 0.24, 0.2, 0.17))]
    tools += [_screwdriver(k) for k in (0.26, 0.24, 0.2)]
    rows = [(tools[:4], h - 0.14), (tools[4:], 0.42 * h)]
    nail = rod([(0, 0, 0), (0, -0.03, 0)], 0.0025, 6)
    for row, z in rows:
        first = 0.12 if len(row) == 4 else 0.3
        places = np.linspace(-w / 2 + first, w / 2 - 0.12, len(row))
        for x, tool in zip(places, row, strict=True):
            lean = making.chance.uniform(-3, 3)
            for part, solid in tool.items():
                making.add(part, solid.turned(1, lean).moved(x, y - 0.024, z))
            making.add("steel", nail.moved(x, y, z + 0.004))
    making.add("steel", rod([(-w / 2 + 0.02, y, h - 0.02), (-w / 2 + 0.02, -d / 2, h - 0.02)], 0.002, 6))


@builds("broom")
def broom(making: Making) -> None:
    """Build a broom that leans back: a head with tufts, a stick."""
    w, d, h = making.size
    head, deep = 0.05, min(0.07, 0.25 * d)
    y = -d / 2 + deep / 2
    z = 0.085
    making.add("stick", block((-w / 2, y - deep / 2, z), (w / 2, y + deep / 2, z + head * 0.8), 0.008, 0))
    across = max(int(w / 0.018), 3)
    chance = making.chance
    tufts = []
    forms = [
        rod([(0, 0, z + 0.002), (a / 2, b / 2, z / 2), (a, b, 0)], 0.0055, 5, scale=[0.75, 1.0, 1.25])
        for a, b in ((0.003, -0.007), (-0.002, 0.0), (0.0, 0.007))
    ]
    for k in range(across):
        for row in range(3):
            x = (k + 0.5) / across * (w - 0.012) - (w - 0.012) / 2
            yy = y + (row - 1) * deep * 0.3
            tufts.append(
                forms[row].moved(x + chance.uniform(-0.003, 0.003), yy + chance.uniform(-0.002, 0.002), 0)
            )
    making.add("bristles", *tufts)
    making.add(
        "stick",
        rod([(0, y, z + 0.02), (0, d / 2 - 0.014, h - 0.003)], 0.0125, 12),
        turned([(0.011, 0), (0.02, 0), (0.018, 0.03), (0.012, 0.036)], 14)
        .turned(0, -np.degrees(np.arctan2(d, h)))
        .moved(0, y + 0.012, z + 0.036),
    )


@builds("signal lamp")
def signal_lamp(making: Making) -> None:
    """Build the body of a hand lamp: case, lens, chimney, handle. It gives no light."""
    w, d, h = making.size
    case, top = 0.62 * h, 0.78 * h
    y0, y1 = -d / 2 + 0.035, d / 2
    my, half = (y0 + y1) / 2, (y1 - y0) / 2
    making.add(
        "body",
        block((-w / 2, y0, 0.012), (w / 2, y1, case), 0.004, 2),
        block((-w / 2 - 0.0, y0 - 0.0, 0), (w / 2, y1, 0.014), 0.003),
    )
    roof = [
        np.array([(sx * w / 2 * s, my + sy * half * s, z) for sx, sy in ((1, 1), (-1, 1), (-1, -1), (1, -1))])
        for s, z in ((1.0, case), (0.5, 0.7 * h))
    ]
    making.add(
        "body",
        loft(np.array(roof), smooth=False),
        turned(
            [
                (0, 0.68 * h),
                (0.042, 0.68 * h),
                (0.042, top),
                (0.056, top + 0.004),
                (0.05, top + 0.02),
                (0.02, top + 0.034),
                (0, top + 0.036),
            ],
            24,
        ).moved(0, my, 0),
        turned([(0.041, 0.72 * h), (0.046, 0.72 * h), (0.046, 0.735 * h), (0.041, 0.735 * h)], 24).moved(
            0, my, 0
        ),
    )
    r, z = min(0.36 * w, 0.22 * h), 0.33 * h
    making.add(
        "brass",
        turned([(r, 0), (r + 0.012, 0), (r + 0.012, 0.018), (r + 0.006, 0.03), (r, 0.03)], 32)
        .turned(0, 90)
        .moved(0, y0, z),
    )
    lens = turned([(0, 0.012), (r, 0.012), (r, 0.016), (0.7 * r, 0.027), (0.35 * r, 0.033), (0, 0.035)], 32)
    making.add("lens", lens.turned(0, 90).moved(0, y0, z))
    a = 0.46 * w
    making.add(
        "brass",
        rod(
            curve(
                [
                    (-a, my, 0.66 * h),
                    (-1.02 * a, my, 0.86 * h),
                    (-0.6 * a, my, h - 0.006),
                    (0.6 * a, my, h - 0.006),
                    (1.02 * a, my, 0.86 * h),
                    (a, my, 0.66 * h),
                ],
                19,
            ),
            0.004,
            6,
        ),
    )
