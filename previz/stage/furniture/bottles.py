"""Bottles, glasses and jars: closed bodies of glass that light is refracted by."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.crockery import vessel
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.swept import turned


@builds("bottle")
def bottle(making: Making) -> None:
    """Build a bottle: sloping or square shoulders, by its variant, with a stopper."""
    w, d, h = making.size
    r, neck = w / 2, min(0.0145, 0.4 * w / 2)
    cork = 0.965 * h
    turn = np.linspace(0, np.pi / 2, 6)
    if making.variant % 2:
        shoulder = [(neck + (r - neck) * np.cos(t), 0.6 * h + 0.12 * h * np.sin(t)) for t in turn]
    else:
        shoulder = [
            (r - (r - neck) * (1 - np.cos(2 * t)) / 2, 0.55 * h + 0.24 * h * t / (np.pi / 2)) for t in turn
        ]
    outside = [
        (0.82 * r, 0),
        (0.95 * r, 0.006),
        (r, 0.02),
        *shoulder,
        (neck, 0.9 * h),
        (neck + 0.0025, 0.905 * h),
        (neck + 0.0025, 0.935 * h),
        (neck, 0.945 * h),
    ]
    making.add("glass", vessel(outside, 0.003, 0.008, 40))
    low = 0.9 * h
    making.add(
        "stopper",
        turned(
            [(0, low), (neck - 0.0036, low), (neck - 0.0032, cork), (neck - 0.001, h - 0.001), (0, h)], 20
        ),
    )


@builds("tumbler")
def tumbler(making: Making) -> None:
    """Build a drinking glass with a thick base."""
    w, d, h = making.size
    r = w / 2
    making.add(
        "glass",
        vessel(
            [(0.78 * r, 0), (0.82 * r, 0.01 * h), (0.86 * r, 0.2 * h), (0.93 * r, 0.6 * h), (r, 0.985 * h)],
            0.0022,
            0.11 * h,
            40,
        ),
    )


@builds("wine glass")
def wine_glass(making: Making) -> None:
    """Build a glass with a bowl, a stem and a foot."""
    w, d, h = making.size
    r = w / 2
    outside = [
        (0, 0),
        (0.92 * r, 0),
        (0.95 * r, 0.0015),
        (0.88 * r, 0.004),
        (0.4 * r, 0.008),
        (0.1 * r + 0.001, 0.1 * h),
        (0.0035, 0.2 * h),
        (0.0035, 0.36 * h),
        (0.006, 0.43 * h),
        (0.42 * r, 0.475 * h),
        (0.8 * r, 0.55 * h),
        (0.98 * r, 0.66 * h),
        (r, 0.74 * h),
        (0.94 * r, 0.88 * h),
        (0.84 * r, 0.995 * h),
    ]
    inside = [
        (0.82 * r, h),
        (0.84 * r - 0.0015, 0.995 * h),
        (0.94 * r - 0.0016, 0.88 * h),
        (r - 0.0018, 0.74 * h),
        (0.98 * r - 0.002, 0.665 * h),
        (0.8 * r - 0.002, 0.56 * h),
        (0.42 * r, 0.495 * h),
        (0, 0.475 * h),
    ]
    making.add("glass", turned(np.array(outside + inside), 36))


@builds("jar")
def jar(making: Making) -> None:
    """Build a jar with a screwed lid."""
    w, d, h = making.size
    r = w / 2
    making.add(
        "glass",
        vessel(
            [
                (0.86 * r, 0),
                (0.97 * r, 0.006),
                (r, 0.03 * h),
                (r, 0.68 * h),
                (0.96 * r, 0.76 * h),
                (0.84 * r, 0.82 * h),
                (0.8 * r, 0.85 * h),
                (0.8 * r, 0.93 * h),
            ],
            0.003,
            0.006,
            40,
        ),
    )
    making.add(
        "lid",
        turned(
            [
                (0, 0.945 * h),
                (0.81 * r, 0.945 * h),
                (0.815 * r, 0.885 * h),
                (0.865 * r, 0.885 * h),
                (0.87 * r, 0.9 * h),
                (0.87 * r, 0.985 * h),
                (0.84 * r, h),
                (0, h),
            ],
            40,
        ),
    )
