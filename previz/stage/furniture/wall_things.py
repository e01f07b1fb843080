"""What hangs on walls: clock, picture, notice board, coat hooks."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.doors import architrave
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.papers import leaf
from previz.stage.furniture.soft import cushion, sheet
from previz.stage.furniture.solids import Solid, block, blocks, grid, joined
from previz.stage.furniture.swept import curve, rod, sweep, turned


def _facing(solid: Solid, y: float) -> Solid:
    """Return what is built upwards from z = 0 on a wall at y, looking to -y."""
    return solid.turned(0, 90).moved(0, y, 0)


@builds("clock")
def clock(making: Making) -> None:
    """Build a round clock: turned case, dial with marks, hands, a glass."""
    w, d, h = making.size
    r, t = w / 2, d
    rim = 0.86 * r
    case = turned(
        [
            (0, 0),
            (0.97 * r, 0),
            (r, 0.12 * t),
            (r, 0.5 * t),
            (0.975 * r, 0.72 * t),
            (0.93 * r, 0.9 * t),
            (0.9 * r, 0.98 * t),
            (0.87 * r, t),
            (rim, 0.92 * t),
            (rim, 0.5 * t),
            (0, 0.5 * t),
        ],
        48,
    )
    making.add("case", _facing(case, d / 2).moved(0, 0, h / 2))
    face = 0.5 * t + 0.001
    making.add(
        "dial",
        _facing(
            turned(
                [(0, 0.5 * t - 0.001), (0.985 * rim, 0.5 * t - 0.001), (0.985 * rim, face), (0, face)], 40
            ),
            d / 2,
        ).moved(0, 0, h / 2),
    )
    marks = []
    for k in range(60):
        long, wide = ((0.13, 0.018) if k % 15 == 0 else (0.1, 0.011)) if k % 5 == 0 else (0.035, 0.005)
        marks.append(
            block((-wide * r, (0.93 - long) * rim, 0), (wide * r, 0.93 * rim, 0.0006), 0.0)
            .turned(2, 6.0 * k)
            .moved(0, 0, face)
        )
    hands = [
        block((-s * r, -0.12 * r, 0), (s * r, long * r, 0.0012), 0.0005)
        .turned(2, -angle)
        .moved(0, 0, face + lift)
        for s, long, angle, lift in ((0.026, 0.47, 305.0, 0.004), (0.018, 0.72, 60.0, 0.007))
    ]
    boss = turned([(0, 0), (0.04 * r, 0), (0.035 * r, 0.012), (0, 0.013)], 12).moved(0, 0, face)
    making.add("hands", _facing(joined(*marks, *hands, boss), d / 2).moved(0, 0, h / 2))
    making.add(
        "glass",
        _facing(
            turned(
                [
                    (0, 0.86 * t),
                    (0.99 * rim, 0.86 * t),
                    (0.99 * rim, 0.86 * t + 0.002),
                    (0, 0.86 * t + 0.002),
                ],
                40,
            ),
            d / 2,
        ).moved(0, 0, h / 2),
    )


@builds("picture")
def picture(making: Making) -> None:
    """Build a picture in a moulded frame with a mount."""
    w, d, h = making.size
    wide = min(0.04, 0.12 * min(w, h))
    frame = architrave(w - 2 * wide, h - 2 * wide, wide, d, sill=True)
    making.add(
        "frame",
        frame.moved(-w / 2 + wide, d / 2, wide),
        block(
            (-w / 2 + 0.5 * wide, d / 2 - 0.006, 0.5 * wide),
            (w / 2 - 0.5 * wide, d / 2 - 0.001, h - 0.5 * wide),
            0.001,
        ),
    )
    y, mount = d / 2 - 0.008, 0.13 * min(w, h) + wide
    making.add(
        "mount",
        block((-w / 2 + 0.9 * wide, y, 0.9 * wide), (w / 2 - 0.9 * wide, y + 0.0018, h - 0.9 * wide), 0.0),
    )
    making.add(
        "picture",
        block((-w / 2 + mount, y - 0.0006, mount * 1.1), (w / 2 - mount, y + 0.0002, h - mount), 0.0),
    )


@builds("notice board")
def notice_board(making: Making) -> None:
    """Build a cork board in a frame, with papers of several sizes pinned to it, corners curling."""
    w, d, h = making.size
    wide = 0.03
    y = d / 2 - 0.01
    making.add(
        "board",
        block((-w / 2 + 0.5 * wide, y, 0.5 * wide), (w / 2 - 0.5 * wide, d / 2 - 0.001, h - 0.5 * wide), 0.0),
    )
    making.add(
        "frame",
        architrave(w - 2 * wide, h - 2 * wide, wide, 0.022, sill=True).moved(-w / 2 + wide, d / 2, wide),
    )
    chance = making.chance
    columns, rows = max(1, round((w - 0.1) / 0.27)), max(1, round((h - 0.08) / 0.36))
    pin = turned(
        [(0, 0), (0.002, 0), (0.0022, 0.006), (0.005, 0.008), (0.0055, 0.011), (0.003, 0.013), (0, 0.0135)],
        10,
    )
    for k in range(columns * rows):
        if chance.random() < 0.12:
            continue
        wide_, high = chance.choice([(0.21, 0.297), (0.21, 0.297), (0.148, 0.21), (0.19, 0.13), (0.13, 0.2)])
        x = -w / 2 + 0.05 + (w - 0.1) * (k % columns + 0.5) / columns + chance.uniform(-0.025, 0.025)
        z = 0.05 + (h - 0.1) * (k // columns + 0.5) / rows + chance.uniform(-0.02, 0.02)
        wide_, high = min(wide_, w / columns * 0.95), min(high, (h - 0.08) / rows * 0.95)
        one = leaf(making, wide_, high, 0.016).turned(2, chance.uniform(-4, 4)).turned(0, 90)
        making.add(
            "old papers" if chance.random() < 0.3 else "papers",
            one.moved(x, y - 0.0004 - 0.0006 * (k % 3), z),
        )
        making.add(
            "pins", pin.turned(0, 90).moved(x + chance.uniform(-0.01, 0.01), y - 0.002, z + 0.44 * high)
        )
    making.add(
        "pins", *(pin.turned(0, 90).moved(chance.uniform(-0.4, 0.4) * w, y, 0.06 * h) for _ in range(3))
    )
    making.add("frame", block((-0.02, -d / 2, h - 0.012), (0.02, d / 2, h - 0.002), 0.002))


@builds("coat hooks")
def coat_hooks(making: Making) -> None:
    """Build a board with hooks, a coat that hangs from one and a bag from another."""
    w, d, h = making.size
    board = 0.11
    y = d / 2 - 0.02
    making.add("board", block((-w / 2, y, h - board), (w / 2, d / 2, h), 0.006, 0))
    count = max(3, round(w / 0.17))
    xs = (np.arange(count) - (count - 1) / 2) * (w - 0.12) / (count - 1)
    z = h - 0.55 * board
    hook = joined(
        block((-0.011, y - 0.004, z - 0.035), (0.011, y, z + 0.035), 0.002),
        rod(
            curve(
                [
                    (0, y - 0.002, z + 0.02),
                    (0, y - 0.03, z + 0.028),
                    (0, y - 0.062, z + 0.04),
                    (0, y - 0.078, z + 0.062),
                ],
                9,
            ),
            0.0055,
            8,
        ),
        rod(
            curve(
                [
                    (0, y - 0.002, z - 0.02),
                    (0, y - 0.025, z - 0.032),
                    (0, y - 0.045, z - 0.02),
                    (0, y - 0.047, z + 0.0),
                ],
                9,
            ),
            0.0048,
            8,
        ),
        turned([(0, 0), (0.006, 0.001), (0.0085, 0.006), (0.006, 0.012), (0, 0.013)], 10).moved(
            0, y - 0.078, z + 0.058
        ),
    )
    making.add("hooks", *(hook.moved(x, 0, 0) for x in xs))
    making.add("coat", *_coat(making, float(xs[1]), y - 0.05, z + 0.01, min(0.5, 0.6 * w), d, z - 0.02))
    if count > 3:
        _bag(making, float(xs[-2]), y - 0.06, z, min(0.32, 0.36 * w), 0.5 * d, 0.62 * h)


def _coat(
    making: Making, x: float, y: float, top: float, width: float, depth: float, long: float
) -> list[Solid]:
    """Return a coat that hangs by its loop: gathered at the collar, falling in folds, with two sleeves."""
    chance = making.chance
    rows, around = 22, 56
    t = np.linspace(0, 1, rows)
    turn = np.arange(around + 1) * 2 * np.pi / around
    wide = 0.08 + (width / 2 - 0.08) * np.clip(t / 0.2, 0, 1) ** 0.75 + 0.02 * t
    wide = np.minimum(wide, width / 2 + 0.02)
    deep = 0.045 + (0.5 * depth - 0.045) * np.clip(t / 0.35, 0, 1) ** 0.8
    folds = sum(chance.uniform(0.5, 1.0) * np.cos(n * turn + chance.uniform(0, 6)) for n in (5, 8, 11)) / 2
    swell = 1 + 0.17 * folds[None] * np.clip((t - 0.12) / 0.5, 0, 1)[:, None]
    px = x + wide[:, None] * np.cos(turn) * (0.9 + 0.1 * swell)
    py = y - 0.02 + deep[:, None] * np.sin(turn) * swell
    py = np.minimum(py, y + 0.05)
    pz = (
        top
        - 0.035
        - (long - 0.05) * t[:, None]
        - 0.03 * np.abs(np.cos(turn)) * np.clip(t / 0.2, 0, 1)[:, None]
    )
    points = np.stack([px, py, pz], axis=-1)
    points[:, -1] = points[:, 0]
    skin = grid(points, around=True)
    made = [skin if _outward(skin, points) else grid(points, around=True, flip=True)]
    collar = curve(
        [
            (x - 0.085, y - 0.03, top - 0.05),
            (x - 0.06, y - 0.06, top - 0.02),
            (x, y + 0.0, top + 0.004),
            (x + 0.06, y - 0.06, top - 0.02),
            (x + 0.085, y - 0.03, top - 0.05),
        ],
        13,
    )
    made.append(sweep(collar, [(0.006, -0.03), (0.006, 0.03), (-0.006, 0.03), (-0.006, -0.03)]))
    for side in (-1, 1):
        arm = curve(
            [
                (x + side * 0.3 * width, y - 0.03, top - 0.1),
                (x + side * 0.41 * width, y - 0.05, top - 0.27),
                (x + side * 0.43 * width, y - 0.08, top - 0.48),
                (x + side * 0.4 * width, y - 0.1, top - 0.7),
            ],
            14,
        )
        ripple = 1 + 0.07 * np.sin(np.arange(14) * 2.1 + chance.uniform(0, 6))
        made.append(rod(arm, 0.058, 12, scale=np.linspace(1.1, 0.82, 14) * ripple))
    return made


def _outward(skin: Solid, points) -> bool:
    middle = points.mean(axis=(0, 1))
    return float(np.einsum("ij,ij->i", skin.normals, skin.vertices - middle).sum()) > 0


def _bag(making: Making, x: float, y: float, top: float, width: float, depth: float, drop: float) -> None:
    tall = 0.3
    low = top - drop
    body = cushion((width, min(0.11, depth), tall), 0.045, 0.01, steps=(10, 4, 10), dents=making.chance)
    making.add("bag", body.moved(x, y - 0.03, low + tall / 2))
    flap = np.stack(np.meshgrid(np.linspace(-0.49, 0.49, 9), np.linspace(0, 1, 8), indexing="ij"), axis=-1)
    turn = np.clip(flap[..., 1] * 2, 0, 1) * np.pi / 2
    deep = min(0.11, depth) / 2 + 0.006
    px = x + flap[..., 0] * width
    py = y - 0.03 - deep * np.sin(turn) - 0.004 * np.sin(7 * flap[..., 0])
    pz = low + tall + 0.002 - 0.02 * (1 - np.cos(turn)) - np.clip(flap[..., 1] - 0.5, 0, 1) * 0.8 * tall
    points = np.stack([px, py, pz], axis=-1)
    making.add("bag", sheet(points[:, ::-1], 0.004))
    strap = curve(
        [
            (x - 0.48 * width, y - 0.03, low + 0.8 * tall),
            (x - 0.3 * width, y - 0.02, low + tall + 0.4 * (drop - tall)),
            (x - 0.02, y - 0.002, top - 0.02),
            (x, y + 0.012, top + 0.0),
            (x + 0.02, y - 0.002, top - 0.02),
            (x + 0.3 * width, y - 0.02, low + tall + 0.4 * (drop - tall)),
            (x + 0.48 * width, y - 0.03, low + 0.8 * tall),
        ],
        25,
    )
    making.add(
        "strap",
        sweep(
            strap,
            [(0.0018, -0.013), (0.0018, 0.013), (-0.0018, 0.013), (-0.0018, -0.013)],
            upward=(0, 1, 0.3),
        ),
    )
    making.add(
        "strap",
        blocks(
            [
                (x - 0.3 * width, y - 0.034 - deep, low + 0.12),
                (x + 0.2 * width, y - 0.034 - deep, low + 0.12),
            ],
            [(x - 0.2 * width, y - 0.03 - deep, low + 0.24), (x + 0.3 * width, y - 0.03 - deep, low + 0.24)],
            0.001,
        ),
    )
