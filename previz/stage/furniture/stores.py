"""What stands about in stores, sheds and yards: crates, barrels, tools, bags, buckets."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.solids import blocks, grid
from previz.stage.furniture.swept import loft, turned


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
