"""Beds."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.seats import turned_leg
from previz.stage.furniture.soft import cushion, sheet
from previz.stage.furniture.solids import Solid, block, blocks
from previz.stage.furniture.swept import turned


def _blanket(w: float, d: float, z: float, making: Making, thickness: float = 0.012) -> Solid:
    """Return a blanket over a mattress, hanging at both sides, with folds that run down from its edges."""
    chance = making.chance
    drop, across, along = 0.15, 30, 26
    run = np.linspace(-(w / 2 + drop), w / 2 + drop, across)
    ys = np.linspace(-d / 2 - 0.015, 0.18 * d, along)
    s, y = np.meshgrid(run, ys, indexing="ij")
    over = np.clip(np.abs(s) - (w / 2 - 0.03), 0, None)
    bend = np.clip(over / 0.06, 0, 1)
    x = np.sign(s) * np.where(over > 0, w / 2 - 0.03 + 0.045 * np.sin(bend * np.pi / 2), np.abs(s))
    fall = np.where(over > 0.06, over - 0.025, 0.035 * (1 - np.cos(bend * np.pi / 2)))
    height = z - fall
    for _ in range(5):
        a, b = chance.uniform(3, 9), chance.uniform(2, 7)
        phase, much = chance.uniform(0, 6.28), chance.uniform(0.001, 0.0032)
        height = height + much * np.sin(a * s + b * y + phase) * (over <= 0)
    hang = np.clip(over / drop, 0, 1)
    folds = sum(
        chance.uniform(0.5, 1) * np.sin(chance.uniform(9, 26) * y + chance.uniform(0, 6)) for _ in range(3)
    )
    x = x + np.sign(s) * hang * (0.008 + 0.007 * folds)
    # Turned back at its upper edge.
    lip = np.clip((y - 0.12 * d) / (0.06 * d), 0, 1)
    height = height + 0.018 * np.sin(lip * np.pi * 0.9) * (over <= 0.06)
    points = np.stack([x, y, height], axis=-1)
    return sheet(points, thickness)


@builds("bed")
def bed(making: Making) -> None:
    """Build a bed: posts, boards, mattress, pillow, a sheet turned down over the blanket."""
    w, d, h = making.size
    deck = min(0.34, 0.36 * h)
    thick = min(0.19, 0.22 * h)
    top = deck + thick
    post, foot = 0.05, 0.62 * h + 0.02
    for y, tall in ((d / 2 - post / 2, h), (-d / 2 + post / 2, foot)):
        leg = turned_leg(0.55 * tall, 0.032, 12)
        knob = turned(
            [(0, 0), (0.024, 0), (0.026, 0.015), (0.016, 0.022), (0.03, 0.045), (0.026, 0.066), (0, 0.074)],
            14,
        )
        for side in (-1, 1):
            x = side * (w / 2 - post / 2)
            making.add(
                "frame",
                leg.moved(x, y, 0),
                block((x - 0.026, y - 0.026, 0.5 * tall), (x + 0.026, y + 0.026, tall - 0.074), 0.005, 2),
                knob.moved(x, y, tall - 0.074),
            )
        x = w / 2 - post
        making.add(
            "frame",
            block((-x, y - 0.014, tall - 0.17), (x, y + 0.014, tall - 0.1), 0.006),
            block((-x, y - 0.012, deck - 0.06), (x, y + 0.012, deck + 0.1), 0.005),
        )
        count = max(int(2 * x / 0.11), 2)
        places = np.linspace(-x, x, count + 2)[1:-1]
        making.add(
            "frame",
            blocks(
                np.stack([places - 0.022, 0 * places + y - 0.008, 0 * places + deck + 0.1], 1),
                np.stack([places + 0.022, 0 * places + y + 0.008, 0 * places + tall - 0.17], 1),
                0.003,
                2,
            ),
        )
    making.add(
        "frame",
        blocks(
            [(w / 2 - 0.04, -d / 2 + post, deck - 0.08), (-w / 2 + 0.016, -d / 2 + post, deck - 0.08)],
            [(w / 2 - 0.016, d / 2 - post, deck + 0.05), (-w / 2 + 0.04, d / 2 - post, deck + 0.05)],
            0.005,
        ),
    )
    long = d - 2 * post - 0.03
    making.add(
        "mattress",
        cushion((w - 0.1, long, thick), 0.045, 0.012, steps=(8, 10, 4), dents=making.chance).moved(
            0, 0, deck + thick / 2
        ),
    )
    making.add(
        "sheets",
        cushion(
            (min(0.7, w - 0.22), 0.42, 0.15), 0.07, 0.05, steps=(10, 10, 4), dents=making.chance, sag=0.03
        )
        .turned(0, 9)
        .turned(2, making.chance.uniform(-4, 4))
        .moved(0, d / 2 - post - 0.27, top + 0.055),
    )
    making.add("blanket", _blanket(w - 0.11, long, top + 0.008, making))
    fold = np.stack(
        np.meshgrid(np.linspace(-(w / 2 - 0.05), w / 2 - 0.05, 14), np.linspace(0, 1, 5), indexing="ij"),
        axis=-1,
    )
    y = 0.115 * d + fold[..., 1] * 0.15
    z = top + 0.032 + 0.01 * np.sin(fold[..., 1] * np.pi) + 0.003 * np.sin(9 * fold[..., 0])
    making.add("sheets", sheet(np.stack([fold[..., 0], y, z], axis=-1), 0.005))
