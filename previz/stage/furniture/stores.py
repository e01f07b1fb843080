"""What stands about in stores, sheds and yards: crates, barrels, tools, bags, buckets."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.crockery import vessel
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.soft import cushion
from previz.stage.furniture.solids import Solid, block, blocks, curve, grid, joined, loft, rod, sweep, turned


@builds("crate")
def crate(making: Making) -> None:
    """Build a crate of slats on corner posts, open above."""
    w, d, h = making.size
    t, post = 0.013, 0.032
    corners = [(sx, sy) for sx in (-1, 1) for sy in (-1, 1)]
    making.add(
        "wood",
        blocks(
            [
                (sx * (w / 2 - t) - (post if sx > 0 else 0), sy * (d / 2 - t) - (post if sy > 0 else 0), 0)
                for sx, sy in corners
            ],
            [
                (
                    sx * (w / 2 - t) + (post if sx < 0 else 0),
                    sy * (d / 2 - t) + (post if sy < 0 else 0),
                    h - 0.006,
                )
                for sx, sy in corners
            ],
            0.002,
            2,
        ),
    )
    count = max(2, round(h / 0.1))
    slat = h / count - 0.012
    low, high, lo2, hi2 = [], [], [], []
    for k in range(count):
        z = 0.003 + k * h / count + making.chance.uniform(-0.003, 0.003)
        for s in (-1, 1):
            y = s * (d / 2 - t / 2)
            low.append((-w / 2, y - t / 2, z))
            high.append((w / 2, y + t / 2, z + slat))
            x = s * (w / 2 - t / 2)
            lo2.append((x - t / 2, -d / 2 + t, z))
            hi2.append((x + t / 2, d / 2 - t, z + slat))
    high = [(x, y, min(z, h)) for x, y, z in high]
    making.add("wood", blocks(low, high, 0.002, 0), blocks(lo2, hi2, 0.002, 1))
    planks = max(3, round(d / 0.11))
    edges = np.linspace(-d / 2 + t, d / 2 - t, planks + 1)
    making.add(
        "wood",
        blocks(
            [(-w / 2 + t, a + 0.003, 0.0) for a in edges[:-1]],
            [(w / 2 - t, b - 0.003, t) for b in edges[1:]],
            0.002,
            0,
        ),
    )


@builds("barrel")
def barrel(making: Making) -> None:
    """Build a barrel: staves with joints between them, heads set in, six hoops."""
    w, d, h = making.size
    r, staves = w / 2, 24
    t = np.linspace(-1, 1, 9)
    radius = r * (0.995 - 0.17 * t**2)
    turn = np.linspace(-0.5, 0.5, 4)[None] * 2 * np.pi / staves * 0.985
    out, inner = (
        np.stack([np.stack([k * np.cos(s), k * np.sin(s), (t + 1) / 2 * h], 1) for s in angles], axis=1)
        for k, angles in ((radius, turn[0]), (radius - 0.02, turn[0, ::-1]))
    )
    stave = loft(np.concatenate([out, inner], axis=1))
    made = []
    for k in range(staves):
        one = stave.turned(2, 360 * k / staves).shifted(making.chance.uniform(0, 3), 0.3 * k)
        lift = 1 + making.chance.uniform(-0.003, 0.0015)
        made.append(one._replace(vertices=one.vertices * [lift, lift, 1]))
    making.add("staves", *made)
    head = radius[0] - 0.018
    for z in (0.03, h - 0.03 - 0.018):
        edges = np.linspace(-head, head, 6)
        half = np.sqrt(
            np.maximum(head**2 - np.minimum(np.abs(edges[:-1]), np.abs(edges[1:])) ** 2, 0.2 * head**2)
        )
        half = np.minimum(half, head)
        making.add(
            "staves",
            turned([(0, z), (head, z), (head, z + 0.016), (0, z + 0.016)], 40),
            *(
                [
                    blocks(
                        [
                            (-0.9 * x, a + 0.001, z + 0.006)
                            for a, x in zip(edges[1:-2], half[1:-1], strict=True)
                        ],
                        [
                            (0.9 * x, b - 0.001, z + 0.018)
                            for b, x in zip(edges[2:-1], half[1:-1], strict=True)
                        ],
                        0.002,
                        0,
                    )
                ]
            ),
        )
    for z, wide in (
        (0.012, 0.04),
        (0.16, 0.032),
        (0.3, 0.036),
        (0.7 - 0.0, 0.036),
        (0.84, 0.032),
        (0.988, 0.04),
    ):
        low, high = np.clip([z * h - wide / 2, z * h + wide / 2], 0.002, h - 0.002)
        rr = [float(np.interp(k, (t + 1) / 2 * h, radius)) for k in (low, high)]
        making.add(
            "hoops",
            turned(
                [(rr[0] - 0.001, low), (rr[0] + 0.0025, low), (rr[1] + 0.0025, high), (rr[1] - 0.001, high)],
                48,
            ),
        )


@builds("drum")
def drum(making: Making) -> None:
    """Build a steel drum: two rolling hoops, chimes, bungs in its head."""
    w, d, h = making.size
    r = w / 2
    side = 0.975 * r
    rib = [
        (side, -0.022),
        (side + 0.004, -0.016),
        (r - 0.001, -0.006),
        (r, 0.0),
        (r - 0.001, 0.006),
        (side + 0.004, 0.016),
        (side, 0.022),
    ]
    profile = [
        (0, 0.012),
        (0.94 * r, 0.012),
        (0.95 * r, 0.0),
        (0.985 * r, 0.0),
        (0.99 * r, 0.006),
        (0.985 * r, 0.014),
        (side, 0.018),
    ]
    for share in (1 / 3, 2 / 3):
        profile += [(a, share * h + b) for a, b in rib]
    profile += [
        (side, h - 0.018),
        (0.985 * r, h - 0.014),
        (0.99 * r, h - 0.006),
        (0.985 * r, h),
        (0.95 * r, h),
        (0.94 * r, h - 0.014),
        (0, h - 0.014),
    ]
    making.add("steel", turned(np.array(profile), 56))
    bung = turned([(0, 0), (0.034, 0), (0.032, 0.007), (0.02, 0.008), (0.02, 0.005), (0, 0.005)], 20)
    making.add(
        "steel",
        bung.moved(0.66 * r, 0, h - 0.014),
        bung._replace(vertices=bung.vertices * [0.6, 0.6, 1]).moved(-0.7 * r, 0.1 * r, h - 0.014),
    )


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


def _screwdriver(long: float) -> dict[str, Solid]:
    grip = turned(
        [(0, 0), (0.012, 0.002), (0.015, 0.02), (0.013, 0.05), (0.016, 0.085), (0.012, 0.1), (0, 0.102)], 14
    ).turned(0, 180)
    return {"grips": grip.moved(0, 0, 0.0), "steel": rod([(0, 0, -0.1), (0, 0, -long)], 0.0035, 8)}


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
        places = np.linspace(-w / 2 + 0.12, w / 2 - 0.12, len(row))
        for x, tool in zip(places, row, strict=True):
            lean = making.chance.uniform(-3, 3)
            for part, solid in tool.items():
                making.add(part, solid.turned(1, lean).moved(x, y - 0.024, z))
            making.add("steel", nail.moved(x, y, z + 0.004))
    making.add("steel", rod([(-w / 2 + 0.02, y, h - 0.02), (-w / 2 + 0.02, -d / 2, h - 0.02)], 0.002, 6))


@builds("sack")
def sack(making: Making) -> None:
    """Build a filled sack, its neck tied."""
    w, d, h = making.size
    chance = making.chance
    rows, around = 22, 40
    t = np.linspace(0, 1, rows)
    shape = np.interp(
        t,
        [0, 0.02, 0.06, 0.2, 0.45, 0.66, 0.78, 0.84, 0.9, 1.0],
        [0.0, 0.72, 0.86, 0.97, 1.0, 0.86, 0.48, 0.17, 0.26, 0.34],
    )
    turn = np.arange(around + 1) * 2 * np.pi / around
    folds = sum(chance.uniform(0.6, 1) * np.cos(n * turn + chance.uniform(0, 6)) for n in (7, 9, 13))
    lumps = 1 + 0.02 * np.sin(9 * t[:, None] + 3 * turn) + 0.015 * np.cos(5 * turn - 7 * t[:, None])
    tight = np.clip((t - 0.55) / 0.25, 0, 1)[:, None]
    scale = shape[:, None] * lumps * (1 + 0.09 * folds * tight)
    square_ = (np.abs(np.cos(turn)) ** 3 + np.abs(np.sin(turn)) ** 3) ** (-1 / 3)
    points = np.stack(
        [
            w / 2 * scale * np.cos(turn) * square_,
            d / 2 * scale * np.sin(turn) * square_,
            np.broadcast_to(h * t[:, None], scale.shape),
        ],
        axis=-1,
    )
    points[:, -1] = points[:, 0]
    inner = points[-1] * [0.6, 0.6, 1] + [0, 0, -0.012]
    bottom = points[-1] * [0.1, 0.1, 1] + [0, 0, -0.1 * h]
    end = np.broadcast_to(bottom.mean(axis=0), bottom.shape)
    making.add(
        "sacking",
        grid(np.concatenate([points, inner[None], bottom[None], end[None]]), around=True, flip=True),
    )
    making.add(
        "string",
        *(
            turned(
                [
                    (0.155 * w / 2, 0),
                    (0.2 * w / 2 + 0.004, 0),
                    (0.2 * w / 2 + 0.004, 0.006),
                    (0.155 * w / 2, 0.006),
                ],
                20,
            ).moved(0, 0, (0.833 + 0.006 * k) * h)
            for k in (-1, 0, 1)
        ),
    )


@builds("suitcase")
def suitcase(making: Making) -> None:
    """Build a suitcase that stands on its long edge: seams, corners, two locks, a handle."""
    w, d, h = making.size
    tall = h - 0.035
    making.add("leather", cushion((w, d * 0.94, tall), 0.022, 0.004, steps=(6, 5, 5)).moved(0, 0, tall / 2))
    for y in (-0.1 * d, 0.12 * d):
        a = np.array(
            [
                (-w / 2 + 0.002, 0.02),
                (-w / 2 + 0.002, tall - 0.02),
                (-w / 2 + 0.02, tall - 0.001),
                (w / 2 - 0.02, tall - 0.001),
                (w / 2 - 0.002, tall - 0.02),
                (w / 2 - 0.002, 0.02),
                (w / 2 - 0.02, 0.002),
                (-w / 2 + 0.02, 0.002),
            ]
        )
        making.add("leather", rod(np.stack([a[:, 0], np.full(8, y), a[:, 1]], 1), 0.003, 5, closed=True))
    size = 0.06
    for sx in (-1, 1):
        for sz in (-1, 1):
            pad = cushion((size, d * 0.955, size), 0.02, 0, steps=(4, 4, 4))
            making.add(
                "corners",
                pad.moved(sx * (w / 2 - size / 2 + 0.001), 0, tall / 2 + sz * (tall / 2 - size / 2 + 0.0006)),
            )
    for x in (-0.3 * w, 0.3 * w):
        making.add(
            "locks",
            block((x - 0.022, -0.02, tall - 0.002), (x + 0.022, 0.024, tall + 0.005), 0.002),
            block((x - 0.01, -0.006, tall + 0.004), (x + 0.01, 0.01, tall + 0.009), 0.002),
        )
    a = 0.1 * w
    making.add(
        "corners",
        sweep(
            curve(
                [
                    (-a, 0, tall - 0.002),
                    (-0.95 * a, 0, tall + 0.02),
                    (-0.7 * a, 0, h - 0.006),
                    (0, 0, h - 0.006),
                    (0.7 * a, 0, h - 0.006),
                    (0.95 * a, 0, tall + 0.02),
                    (a, 0, tall - 0.002),
                ],
                17,
            ),
            [
                (0.012, -0.004),
                (0.012, 0.004),
                (0.007, 0.0065),
                (-0.007, 0.0065),
                (-0.012, 0.004),
                (-0.012, -0.004),
                (-0.007, -0.006),
                (0.007, -0.006),
            ],
        ),
    )
    making.add(
        "locks", *(rod([(x, -0.016, tall + 0.003), (x, 0.016, tall + 0.003)], 0.004, 8) for x in (-a, a))
    )


def _pail(making: Making, w: float, d: float, tall: float, part: str) -> None:
    r = d / 2 - 0.002
    making.add(
        part,
        vessel(
            [
                (0.68 * r, 0.0),
                (0.7 * r, 0.0),
                (0.7 * r, 0.02),
                (0.73 * r, 0.022),
                (0.83 * r, 0.55 * tall),
                (0.855 * r, 0.56 * tall),
                (0.855 * r, 0.585 * tall),
                (0.835 * r, 0.6 * tall),
                (0.965 * r, 0.965 * tall),
                (r, 0.972 * tall),
                (r, 0.99 * tall),
            ],
            0.0015,
            0.022,
            40,
        ),
    )
    for side in (-1, 1):
        making.add(
            part,
            block(
                (side * (0.97 * r) - 0.006, -0.018, 0.87 * tall),
                (side * (0.97 * r) + 0.006, 0.018, 0.97 * tall),
                0.003,
            ),
        )


@builds("bucket")
def bucket(making: Making) -> None:
    """Build a bucket, its bail upright."""
    w, d, h = making.size
    tall = 0.68 * h
    _pail(making, w, d, tall, "metal")
    x = w / 2 - 0.005
    bail = curve(
        [
            (-x, 0, 0.92 * tall),
            (-0.93 * x, 0, 0.88 * h),
            (-0.5 * x, 0, h - 0.012),
            (0, 0, h - 0.003),
            (0.5 * x, 0, h - 0.012),
            (0.93 * x, 0, 0.88 * h),
            (x, 0, 0.92 * tall),
        ],
        25,
    )
    making.add("metal", rod(bail, 0.0032, 6))


@builds("fire bucket")
def fire_bucket(making: Making) -> None:
    """Build a bucket of sand that hangs by its bail from a hook in the wall."""
    w, d, h = making.size
    tall = 0.6 * h
    _pail(making, w, d * 0.985, tall, "metal")
    r = d / 2
    making.add(
        "sand",
        turned(
            [
                (0, 0.7 * tall),
                (0.86 * r, 0.7 * tall),
                (0.9 * r, 0.83 * tall),
                (0.5 * r, 0.88 * tall),
                (0.2 * r, 0.9 * tall),
                (0, 0.895 * tall),
            ],
            32,
        ),
    )
    x = w / 2 - 0.005
    bail = curve(
        [
            (-x, 0, 0.92 * tall),
            (-0.9 * x, 0, 0.78 * h),
            (-0.42 * x, 0, 0.9 * h),
            (0, 0, 0.93 * h),
            (0.42 * x, 0, 0.9 * h),
            (0.9 * x, 0, 0.78 * h),
            (x, 0, 0.92 * tall),
        ],
        25,
    )
    making.add("metal", rod(bail, 0.0035, 6))
    making.add(
        "hook",
        block((-0.014, d / 2 - 0.006, h - 0.11), (0.014, d / 2, h), 0.002),
        rod(
            curve(
                [
                    (0, d / 2 - 0.003, h - 0.02),
                    (0, 0.2 * d, h - 0.022),
                    (0, 0.0, h - 0.045),
                    (0, -0.02, h - 0.03),
                    (0, -0.03, h - 0.005),
                ],
                16,
            ),
            0.0055,
            8,
        ),
    )


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
