"""What is carried: buckets, a suitcase."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.crockery import vessel
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.soft import cushion
from previz.stage.furniture.solids import block
from previz.stage.furniture.swept import curve, rod, sweep, turned


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
                (0.8 * r, 0.7 * tall),
                (0.86 * r, 0.83 * tall),
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
