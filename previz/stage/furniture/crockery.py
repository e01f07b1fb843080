"""Crockery and kitchen ware: turned on a lathe, with handles and spouts."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.cases import plate_form
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.solids import Solid, circle, curve, rod, sweep, turned

SIDES = 32


def vessel(outside, wall: float, floor: float, sides: int = SIDES) -> Solid:
    """Return a hollow body of an outside profile (radius, height), from its foot to its rim. [m]"""
    outside = np.asarray(outside, float)
    steps = np.gradient(outside, axis=0)
    inward = np.stack([-steps[:, 1], steps[:, 0]], 1)
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    inside = outside + inward * wall
    inside = inside[(inside[:, 1] > floor) & (inside[:, 0] > 0.15 * outside[:, 0].max())][::-1]
    lip = [(outside[-1, 0] - 0.5 * wall, outside[-1, 1] + 0.35 * wall)]
    inside[0, 1] = outside[-1, 1]
    last = inside[-1, 0]
    base = [(0.0, outside[0, 1])] if outside[0, 0] > 0 else []
    ring = [*base, *outside, *lip, *inside, (0.8 * last, floor), (0.0, floor)]
    return turned(np.array(ring), sides)


def handle(points, width: float, thickness: float, count: int = 12) -> Solid:
    """Return a handle along a curve through points, flat oval in section. [m]"""
    return sweep(curve(points, count), circle(width / 2, 8, thickness / width), upward=(0, 1, 0), smooth=True)


@builds("mug")
def mug(making: Making) -> None:
    """Build a mug."""
    w, d, h = making.size
    r = min(d / 2, 0.42 * w)
    x = -w / 2 + r
    body = vessel(
        [
            (0.86 * r, 0),
            (0.95 * r, 0.015 * h),
            (0.985 * r, 0.06 * h),
            (r, 0.2 * h),
            (r, 0.8 * h),
            (0.99 * r, 0.97 * h),
            (r, 0.985 * h),
        ],
        0.0035,
        0.006,
    )
    making.add("china", body.moved(x, 0, 0))
    a, b = x + r - 0.002, w / 2 - 0.0035
    making.add(
        "china",
        handle(
            [
                (a, 0, 0.86 * h),
                (a + 0.55 * (b - a), 0, 0.87 * h),
                (b, 0, 0.68 * h),
                (b, 0, 0.48 * h),
                (a + 0.6 * (b - a), 0, 0.27 * h),
                (a, 0, 0.2 * h),
            ],
            0.012,
            0.007,
        ),
    )


@builds("cup")
def cup(making: Making) -> None:
    """Build a cup with a foot, its handle to the right, on its saucer."""
    w, d, h = making.size
    making.add("china", plate_form(w / 2))
    r, low = 0.28 * w, 0.0035 + 0.003
    tall = h - low
    body = vessel(
        [
            (0.5 * r, 0),
            (0.55 * r, 0.05 * tall),
            (0.5 * r, 0.1 * tall),
            (0.72 * r, 0.2 * tall),
            (0.9 * r, 0.45 * tall),
            (0.97 * r, 0.75 * tall),
            (1.03 * r, 0.985 * tall),
        ],
        0.0024,
        0.12 * tall,
    )
    making.add(
        "china",
        body.moved(0, 0, low),
        handle(
            [
                (0.9 * r, 0, low + 0.8 * tall),
                (1.45 * r, 0, low + 0.84 * tall),
                (1.5 * r, 0, low + 0.5 * tall),
                (0.84 * r, 0, low + 0.36 * tall),
            ],
            0.007,
            0.0045,
            10,
        ),
    )


@builds("plate")
def plate(making: Making) -> None:
    """Build a plate."""
    making.add("china", plate_form(making.size[0] / 2, 40))


@builds("bowl")
def bowl(making: Making) -> None:
    """Build a bowl."""
    w, d, h = making.size
    r = w / 2
    making.add(
        "china",
        vessel(
            [
                (0.42 * r, 0),
                (0.46 * r, 0.02 * h),
                (0.44 * r, 0.09 * h),
                (0.66 * r, 0.18 * h),
                (0.85 * r, 0.45 * h),
                (0.95 * r, 0.75 * h),
                (r, 0.985 * h),
            ],
            0.0035,
            0.12 * h,
        ),
    )


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


@builds("jug")
def jug(making: Making) -> None:
    """Build a jug with a lip to the left."""
    w, d, h = making.size
    r, x = d / 2, -0.09 * w
    body = vessel(
        [
            (0.7 * r, 0),
            (0.76 * r, 0.02 * h),
            (0.94 * r, 0.15 * h),
            (r, 0.32 * h),
            (0.9 * r, 0.55 * h),
            (0.66 * r, 0.78 * h),
            (0.66 * r, 0.88 * h),
            (0.78 * r, 0.985 * h),
        ],
        0.004,
        0.03 * h,
    )
    # The lip is drawn out of the rim.
    v = body.vertices.copy()
    pull = np.clip((v[:, 2] / h - 0.78) / 0.2, 0, 1) ** 2 * np.clip(-v[:, 0] / (0.7 * r), 0, 1) ** 6
    v[:, 0] -= 0.45 * r * pull
    v[:, 1] *= 1 - 0.3 * pull
    making.add("china", body._replace(vertices=v).moved(x, 0, 0))
    a, b = x + 0.68 * r, w / 2 - 0.006
    making.add(
        "china",
        handle(
            [
                (a, 0, 0.9 * h),
                (a + 0.5 * (b - a), 0, 0.96 * h),
                (b, 0, 0.75 * h),
                (b, 0, 0.5 * h),
                (x + 0.95 * r, 0, 0.3 * h),
            ],
            0.016,
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
