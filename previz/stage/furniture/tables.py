"""Tables, desks and counters."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.joinery import carcass, drawers, panelled
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.seats import turned_leg
from previz.stage.furniture.solids import block, blocks
from previz.stage.furniture.swept import loft, square


@builds("table")
def table(making: Making) -> None:
    """Build a table: a top of planks or one board, an apron, square legs that taper or turned ones."""
    w, d, h = making.size
    top, leg = min(0.032, 0.06 * h), min(0.062, 0.12 * min(w, d))
    style = making.variant % 3
    if style == 2:
        count = max(3, round(d / 0.14))
        edges = np.linspace(-d / 2, d / 2, count + 1)
        making.add(
            "top",
            blocks(
                [(-w / 2, a + 0.0006, h - top) for a in edges[:-1]],
                [(w / 2, b - 0.0006, h) for b in edges[1:]],
                0.0025,
                0,
            ),
        )
    else:
        making.add("top", block((-w / 2, -d / 2, h - top), (w / 2, d / 2, h), 0.005))
    inset = min(0.045, 0.08 * min(w, d))
    x, y = w / 2 - inset - leg / 2, d / 2 - inset - leg / 2
    under = h - top
    apron = min(0.1, 0.2 * h)
    if style == 0:
        lower = turned_leg(under - apron - 0.02, 0.55 * leg, 14)
        head = block((-leg / 2, -leg / 2, under - apron - 0.02), (leg / 2, leg / 2, under), 0.004, 2)
        legs = [lower, head]
    else:
        rings = [
            np.column_stack([square(leg * s, leg * s, 0.004), np.full(8, z)])
            for s, z in ((0.66, 0.0), (1.0, under - apron), (1.0, under))
        ]
        legs = [loft(np.array(rings), smooth=False)]
    for sx in (-1, 1):
        for sy in (-1, 1):
            making.add("wood", *(each.moved(sx * x, sy * y, 0) for each in legs))
    making.add(
        "wood",
        blocks(
            [(-x, s * (y + leg / 2 - 0.016) - 0.011, under - apron) for s in (-1, 1)],
            [(x, s * (y + leg / 2 - 0.016) + 0.011, under) for s in (-1, 1)],
        ),
        blocks(
            [(s * (x + leg / 2 - 0.016) - 0.011, -y, under - apron) for s in (-1, 1)],
            [(s * (x + leg / 2 - 0.016) + 0.011, y, under) for s in (-1, 1)],
        ),
    )


@builds("desk")
def desk(making: Making) -> None:
    """Build a desk with a pedestal of drawers at its right, a drawer over the knees, a panel behind."""
    w, d, h = making.size
    top = 0.03
    making.add("wood", block((-w / 2, -d / 2, h - top), (w / 2, d / 2, h), 0.005))
    wide = min(0.42, 0.32 * w)
    x1 = w / 2 - 0.025
    x0 = x1 - wide
    under = h - top
    making.add(
        "wood",
        carcass(wide, d - 0.06, 0.06, under, 0.02).moved((x0 + x1) / 2, 0.004, 0),
        block((x0 + 0.01, -d / 2 + 0.07, 0), (x1 - 0.01, d / 2 - 0.04, 0.06)),
    )
    room = under - 0.075
    drawers(making, "wood", x0 + 0.008, x1 - 0.008, -d / 2 + 0.031, np.array([0.46, 0.29, 0.25]) * room, 0.07)
    left = -w / 2 + 0.025
    making.add(
        "wood",
        panelled(d - 0.06, under, 0.022).turned(2, -90).moved(left, d / 2 - 0.03, 0),
        panelled(x0 - left - 0.02, 0.62 * under, 0.02)
        .turned(2, 180)
        .moved(x0 - 0.0, d / 2 - 0.035, 0.38 * under),
    )
    making.add("wood", blocks([(left + 0.02, -d / 2 + 0.05, under - 0.018)], [(x0, d / 2 - 0.05, under)]))
    drawers(making, "wood", left + 0.03, x0 - 0.01, -d / 2 + 0.031, [0.085], under - 0.09)
    making.add(
        "wood", block((left + 0.022, -d / 2 + 0.05, under - 0.085), (x0, -d / 2 + 0.4 * d, under - 0.07))
    )


@builds("counter")
def counter(making: Making) -> None:
    """Build a counter: a panelled front and ends, a thick top that stands over, a plinth set back."""
    w, d, h = making.size
    top, foot, over = 0.036, 0.09, 0.03
    making.add("top", block((-w / 2, -d / 2, h - top), (w / 2, d / 2, h), 0.008, 0))
    body_w, y0, y1 = w - 2 * over, -d / 2 + over, d / 2 - 0.01
    tall = h - top - foot
    bays = max(1, round(body_w / 0.55))
    for k in range(bays):
        making.add(
            "body",
            panelled(body_w / bays, tall, 0.022, 0.085).moved(-body_w / 2 + k * body_w / bays, y0, foot),
        )
    side = panelled(y1 - y0 - 0.022, tall, 0.02, 0.085)
    right = side.turned(2, 90).moved(body_w / 2, y0 + 0.022, foot)
    making.add("body", right, right.mirrored())
    making.add(
        "body",
        block((-body_w / 2 + 0.02, y0 + 0.022, foot), (body_w / 2 - 0.02, y1, h - top - 0.001)),
        block((-body_w / 2 + 0.02, y0 + 0.05, 0), (body_w / 2 - 0.02, y1, foot)),
    )
