"""Crockery and kitchen ware: turned on a lathe, with handles and spouts."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.cases import plate_form
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.solids import Solid
from previz.stage.furniture.swept import circle, curve, sweep, turned

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
