"""Street and yard: kerb, pavement, lamp post, fences, wall, gate, handcart, churn, bench, trees, water."""

from __future__ import annotations

import numpy as np

from previz.stage import shapes, trees
from previz.stage.trees import drawn_by
from previz.stage.yard.solids import MAIN, Part, block, extruded, lathe, made, pickets, rod, rounded

LAMP_AT = 0.925
"""Height of the light in a lamp post's lantern, over the post's height: where a lamp is put. [1]"""

PANE = "thin glass"


def kerb(size, name: str) -> list[Part]:
    """Return kerb stones with a worn edge towards -y, some 0.9 m each."""
    long, wide, high = size
    count = max(round(long / 0.9), 1)
    step = long / count
    cut = min(0.2 * high, 0.3 * wide, 0.03)
    stone = [
        (-wide / 2, 0),
        (wide / 2, 0),
        (wide / 2, high),
        (-wide / 2 + cut, high),
        (-wide / 2, high - cut),
    ]
    return [
        made(
            MAIN,
            *(
                extruded(stone, -long / 2 + k * step + 0.003, -long / 2 + (k + 1) * step - 0.003)
                for k in range(count)
            ),
        )
    ]


def pavement(size, name: str) -> list[Part]:
    """Return a raised pavement: a kerb on its -y side, and paving that its surface is that of."""
    long, wide, high = size
    edge = min(0.15, wide / 3)
    stones = [
        Part("granite", shapes.moved(part.body, (0, -wide / 2 + edge / 2, 0)))
        for part in kerb((long, edge, high), name)
    ]
    return [*stones, made(MAIN, block(-long / 2, long / 2, -wide / 2 + edge, wide / 2, 0, high - 0.004))]


def lamp_post(size, name: str) -> list[Part]:
    """Return a cast post with a four-sided lantern of glass; a lamp goes at `LAMP_AT` of its height."""
    wide, _, high = size
    foot, neck = 0.16, 0.865 * high
    post = lathe(
        [
            (foot, 0),
            (foot, 0.08),
            (0.8 * foot, 0.12),
            (0.75 * foot, 0.75),
            (0.85 * foot, 0.8),
            (0.5 * foot, 0.9),
            (0.36 * foot, 0.95),
            (0.26 * foot, 0.86 * neck),
            (0.45 * foot, 0.87 * neck),
            (0.26 * foot, 0.89 * neck),
            (0.22 * foot, neck),
            (0.0, neck),
        ],
        20,
    )
    bar = rod((-0.32, 0, 0.84 * neck), (0.32, 0, 0.84 * neck), 0.014, 8)
    low, top, eave, peak = neck, 0.965 * high, wide / 2, high
    base, glass, frame = wide * 0.27, [], []
    corner = [(1, 1), (-1, 1), (-1, -1), (1, -1)]
    at = {z: [np.array((x * r, y * r, z)) for x, y in corner] for z, r in ((low, base), (top, 0.8 * eave))}
    for k in range(4):
        a, b = at[low][k], at[low][(k + 1) % 4]
        c, d = at[top][(k + 1) % 4], at[top][k]
        glass.append((np.array([a, b, c, d]), np.array([[0, 1, 2], [0, 2, 3]])))
        frame += [rod(a, d, 0.011, 6), rod(a, b, 0.011, 6), rod(d, c, 0.012, 6)]
    roof = shapes.place(
        lathe(
            [
                (eave * 1.13, top),
                (eave * 1.16, top + 0.012),
                (eave * 0.45, top + 0.7 * (peak - top)),
                (eave * 0.3, top + 0.72 * (peak - top)),
                (eave * 0.22, peak - 0.03),
                (0.0, peak),
            ],
            4,
        ),
        shapes.turned(np.pi / 4),
        (0, 0, 0),
    )
    under = shapes.place(
        lathe([(0.0, top - 0.001), (eave * 1.13, top)], 4), shapes.turned(np.pi / 4), (0, 0, 0)
    )
    stem = rod((0, 0, low), (0, 0, low + 0.05 * high), 0.02, 8)
    return [
        rounded(MAIN, post),
        made(MAIN, bar, *frame, roof, stem, (under[0], under[1][:, ::-1])),
        made(PANE, *glass),
    ]


def picket_fence(size, name: str) -> list[Part]:
    """Return posts, two rails and pointed boards on the -y side."""
    long, wide, high = size
    rng = drawn_by(name, "pickets")
    posts = np.linspace(-long / 2 + 0.05, long / 2 - 0.05, max(round(long / 1.8), 1) + 1)
    bodies = [block(x - 0.045, x + 0.045, -0.02, 0.07, 0, high * 0.98) for x in posts]
    bodies += [
        block(-long / 2, long / 2, -0.02, 0.02, z * high - 0.04, z * high + 0.04) for z in (0.25, 0.75)
    ]
    run = np.arange(-long / 2 + 0.06, long / 2 - 0.03, 0.13)
    high_at = high + rng.normal(size=len(run)) * 0.006
    return [made(MAIN, *bodies, pickets(run, 0.042, 0.06, high_at, -0.042, 0.022, 0.05))]


def wire_fence(size, name: str) -> list[Part]:
    """Return concrete posts and five wires."""
    long, _, high = size
    posts = np.linspace(-long / 2 + 0.06, long / 2 - 0.06, max(round(long / 2.8), 1) + 1)
    wires = [
        rod((-long / 2, -0.06, z * high), (long / 2, -0.06, z * high), 0.0017, 4)
        for z in (0.15, 0.34, 0.53, 0.72, 0.91)
    ]
    return [
        made(MAIN, *(block(x - 0.055, x + 0.055, -0.055, 0.055, 0, high) for x in posts)),
        made("galvanised steel", *wires),
    ]


def garden_wall(size, name: str) -> list[Part]:
    """Return a wall with a sloped coping of stone and piers at its ends."""
    long, wide, high = size
    cap = min(0.1, 0.3 * high)
    thin = 0.7 * wide
    body = [block(-long / 2, long / 2, -thin / 2, thin / 2, 0, high - cap)]
    pier = min(wide, long / 4)
    body += [
        block(x - pier / 2, x + pier / 2, -wide / 2, wide / 2, 0, high - cap)
        for x in (-long / 2 + pier / 2, long / 2 - pier / 2)
    ]
    over = thin / 2 + 0.05
    profile = [(-over, 0), (over, 0), (over, 0.45 * cap), (0, cap), (-over, 0.45 * cap)]
    count = max(round(long / 0.6), 1)
    step = long / count
    stones = [
        shapes.moved(
            extruded(profile, -long / 2 + k * step + 0.002, -long / 2 + (k + 1) * step - 0.002),
            (0, 0, high - cap),
        )
        for k in range(count)
    ]
    return [made(MAIN, *body), made("concrete", *stones)]


def gate(size, name: str) -> list[Part]:
    """Return a gate of five bars with a brace between two posts."""
    long, wide, high = size
    posts = [
        block(s * (long / 2 - 0.08) - 0.08, s * (long / 2 - 0.08) + 0.08, -0.08, 0.08, 0, 1.1 * high)
        for s in (-1, 1)
    ]
    left, right = -long / 2 + 0.2, long / 2 - 0.2
    bars = [
        block(left, right, -0.035, 0.035, z - 0.045, z + 0.045) for z in np.linspace(0.15, 0.94, 5) * high
    ]
    bars += [block(x - 0.045, x + 0.045, -0.045, 0.045, 0.1 * high, high) for x in (left, right)]
    middle = (left + right) / 2
    brace = extruded(
        [(-0.055, -0.05), (0.055, -0.05), (0.055, 0.05), (-0.055, 0.05)],
        0,
        float(np.hypot(right - left, 0.75 * high)),
    )
    slope = np.arctan2(0.75 * high, right - left)
    c, s = np.cos(slope), np.sin(slope)
    bars.append(shapes.place(brace, np.array([[c, 0, -s], [0, 1, 0], [s, 0, c]]), (left, 0, 0.15 * high)))
    iron = [
        block(left - 0.1, left + 0.55, -0.052, -0.046, z * high - 0.02, z * high + 0.02) for z in (0.15, 0.94)
    ]
    iron.append(rod((middle, 0, 0.9 * high), (middle, 0, 0.9 * high + 0.001), 0.001, 4))
    return [made(MAIN, *posts, *bars), made("cast iron", *iron[:2])]


def wheel(radius: float, spokes: int, thick: float) -> tuple[list, list]:
    """Return (wood, iron) of a spoked wheel in the xz plane about the origin. [m]"""
    axes = shapes.aimed((0, 1, 0))
    rim = lathe(
        [
            (radius * 0.87, -thick / 2),
            (radius * 0.97, -thick / 2),
            (radius * 0.97, thick / 2),
            (radius * 0.87, thick / 2),
            (radius * 0.87, -thick / 2),
        ],
        28,
    )
    tyre = lathe(
        [
            (radius * 0.968, -thick / 2),
            (radius, -thick / 2),
            (radius, thick / 2),
            (radius * 0.968, thick / 2),
        ],
        28,
    )
    hub = rod((0, -0.9 * thick - 0.03, 0), (0, 0.9 * thick + 0.03, 0), 0.13 * radius + 0.02, 12)
    wood = [shapes.place(rim, axes, (0, 0, 0)), hub]
    for k in range(spokes):
        turn = 2 * np.pi * k / spokes
        wood.append(rod((0, 0, 0), (0.89 * radius * np.cos(turn), 0, 0.89 * radius * np.sin(turn)), 0.018, 6))
    return wood, [shapes.place(tyre, axes, (0, 0, 0))]


def handcart(size, name: str) -> list[Part]:
    """Return a flat cart on two spoked wheels, handles towards -x, resting on its legs."""
    long, wide, high = size
    radius = 0.42 * high
    bed = 0.62 * high
    body = 0.66 * long
    x0, x1 = long / 2 - body, long / 2
    planks = [
        block(
            x0,
            x1,
            -wide / 2 + 0.09 + k * (wide - 0.18) / 6 + 0.004,
            -wide / 2 + 0.09 + (k + 1) * (wide - 0.18) / 6 - 0.004,
            bed,
            bed + 0.03,
        )
        for k in range(6)
    ]
    sides = [
        block(x0, x1, s * (wide / 2 - 0.11) - 0.015, s * (wide / 2 - 0.11) + 0.015, bed + 0.03, high)
        for s in (-1, 1)
    ]
    sides.append(block(x1 - 0.03, x1, -wide / 2 + 0.11, wide / 2 - 0.11, bed + 0.03, high))
    beams = [
        block(-long / 2 + 0.3, x1, s * 0.3 * wide - 0.03, s * 0.3 * wide + 0.03, bed - 0.07, bed)
        for s in (-1, 1)
    ]
    beams += [
        rod((-long / 2, s * 0.3 * wide, bed - 0.02), (-long / 2 + 0.32, s * 0.3 * wide, bed - 0.04), 0.022, 8)
        for s in (-1, 1)
    ]
    beams += [
        block(x0 + 0.05, x0 + 0.11, s * 0.3 * wide - 0.03, s * 0.3 * wide + 0.03, 0, bed - 0.07)
        for s in (-1, 1)
    ]
    middle = x0 + 0.58 * body
    beams.append(block(middle - 0.04, middle + 0.04, -0.36 * wide, 0.36 * wide, radius - 0.04, bed - 0.07))
    iron = [rod((middle, -wide / 2, radius), (middle, wide / 2, radius), 0.02, 8)]
    for side in (-1, 1):
        wood, tyre = wheel(radius, 10, 0.05)
        at = (middle, side * (wide / 2 - 0.04), radius)
        beams += [shapes.moved(each, at) for each in wood]
        iron += [shapes.moved(each, at) for each in tyre]
    return [made(MAIN, *planks, *sides, *beams), made("cast iron", *iron)]


def churn(size, name: str) -> list[Part]:
    """Return a milk churn with a mushroom lid and two handles."""
    wide, _, high = size
    r = wide / 2
    body = lathe(
        [
            (0, 0),
            (0.92 * r, 0),
            (0.95 * r, 0.02),
            (r, 0.05),
            (0.97 * r, 0.06),
            (0.97 * r, 0.55 * high),
            (r, 0.56 * high),
            (0.97 * r, 0.58 * high),
            (0.72 * r, 0.74 * high),
            (0.55 * r, 0.80 * high),
            (0.55 * r, 0.88 * high),
            (0.70 * r, 0.93 * high),
            (0.80 * r, 0.94 * high),
            (0.80 * r, 0.96 * high),
            (0.55 * r, 0.985 * high),
            (0.0, high),
        ],
        28,
    )
    grips = []
    for side in (-1, 1):
        points = [
            (side * 0.80 * r, 0, 0.67 * high),
            (side * 1.0 * r, 0, 0.72 * high),
            (side * 0.95 * r, 0, 0.80 * high),
            (side * 0.55 * r, 0, 0.83 * high),
        ]
        grips += [rod(a, b, 0.008, 6) for a, b in zip(points, points[1:], strict=False)]
    return [rounded(MAIN, body, *grips)]


def park_bench(size, name: str) -> list[Part]:
    """Return a bench of slats on two iron frames, its back at +y."""
    long, deep, high = size
    seat = 0.52 * high
    slats = [
        block(-long / 2, long / 2, y - 0.035, y + 0.035, seat - 0.028, seat)
        for y in np.linspace(-deep / 2 + 0.05, deep / 2 - 0.17, 5)
    ]
    lean = 0.16
    for z in np.linspace(seat + 0.13, high - 0.05, 3):
        y = deep / 2 - 0.14 + lean * (z - seat) / (high - seat)
        slats.append(block(-long / 2, long / 2, y - 0.014, y + 0.014, z - 0.04, z + 0.04))
    iron = []
    for x in (-long / 2 + 0.12, long / 2 - 0.12):
        iron += [
            rod((x, -deep / 2 + 0.05, 0), (x, -deep / 2 + 0.05, seat + 0.2), 0.018, 8),
            rod((x, deep / 2 - 0.02, 0), (x, deep / 2 - 0.14, seat), 0.018, 8),
            rod((x, deep / 2 - 0.12, seat - 0.04), (x, deep / 2 + 0.035, high), 0.016, 8),
            rod((x, -deep / 2 + 0.03, seat - 0.045), (x, deep / 2 - 0.12, seat - 0.045), 0.016, 8),
            rod((x, -deep / 2 + 0.05, seat + 0.2), (x, deep / 2 - 0.08, seat + 0.2), 0.018, 8),
        ]
    return [made(MAIN, *slats), made("cast iron", *iron)]


def tree(size, name: str) -> list[Part]:
    """Return a tree in leaf."""
    found = trees.tree(size, name)
    return [rounded("bark", found.wood, limit=80), made(MAIN, found.leaves)]


def bare_tree(size, name: str) -> list[Part]:
    """Return a tree in winter; its surface is that of its wood."""
    return [rounded(MAIN, trees.tree(size, name, bare=True).wood, limit=80)]


def bush(size, name: str) -> list[Part]:
    """Return a bush in leaf."""
    found = trees.bush(size, name)
    return [made("bark", found.wood), made(MAIN, found.leaves)]


def puddle(size, name: str) -> list[Part]:
    """Return a flat sheet of water with an uneven outline."""
    long, wide, high = size
    rng = drawn_by(name, "puddle")
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    wave = sum(0.20 / k * np.sin(k * turn + rng.random() * 6.28) for k in (2, 3, 4, 5, 7))
    radius = (0.82 + wave) / np.max(0.82 + wave)
    rim = np.column_stack(
        [np.cos(turn) * radius * long / 2, np.sin(turn) * radius * wide / 2, np.full(72, high)]
    )
    i = np.arange(72)
    faces = np.stack([np.full(72, 72), i, (i + 1) % 72], 1)
    return [Part(MAIN, (np.concatenate([rim, [[0, 0, high]]]), faces))]


def water(size, name: str) -> list[Part]:
    """Return a sheet of water that fills its size, as of a canal or a basin."""
    long, wide, high = size
    return [made(MAIN, shapes.rectangle((0, 0, high), (long / 2, 0, 0), (0, wide / 2, 0)))]
