"""Trousers: a waistband with belt or loops, a fly, pockets, a crease or none, turn-ups or plain hems."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.pinned import ROUND, patch, pin, strip

TOP = 0.605
BAND = 0.036
"""Height of the waistband's upper edge, over the body's; its depth. [m]"""


def make(rest, wear, under) -> Made:
    """Return trousers cut for a person."""
    lines = Lines(rest)
    lift = under + 2.0e-3 + legs(rest, lines, wear)
    below = TOP * rest.height - rest.points[:, 2]
    soft = smooth_step(below, BAND - 0.01, BAND + 0.05) * 1.0
    panels = [lines.panel(lines.below(TOP), lines.leg(hem(rest)))]
    panels.append(lines.panel(lines.below(TOP), -(below - BAND), extra=2.2e-3, thick=2.6e-3))
    if wear.turn_ups:
        panels.append(turn_up(lines, rest))
    return Made(
        lift,
        soft,
        Habit(salt=1.1, sleeve=0.0, waist=0.0, pits=0.0),
        tuple(panels),
        tuple(details(rest, wear)),
        tuple(studs(rest, wear)),
        over=4e-3 * smooth_step(-np.abs(below - 0.02), -0.07, -0.02),
        hides=least(lines.below(TOP - 0.015), lines.leg(-0.02)),
    )


def hem(rest):
    """Return how far past the ankle's joint a hem comes, down over the shoe. [m]"""
    return 0.012 * rest.height / 1.75


def legs(rest, lines, wear):
    """Return how wide the legs are cut, and the crease, over a close fit. [m]"""
    leg = smooth_step(lines.net.leg, 0.3, 0.9)
    knee, ankle = rest.ends["leg"]
    wide = np.interp(rest.along, [0, 0.15, knee, ankle], [0.0, 5e-3, 6e-3, 9e-3]) * leg
    if wear.crease:
        # A pressed edge down the middle of front and back.
        for middle in (0.0, np.pi):
            gap = np.abs((rest.round - middle + np.pi) % (2 * np.pi) - np.pi) * rest.away
            wide = wide + leg * 4.5e-3 * np.exp(-gap / 0.012) * smooth_step(rest.along, 0.12, 0.3)
    return wide


def turn_up(lines, rest, deep=0.042):
    """Return the turned-up hems."""
    end = lines.leg(hem(rest))
    return lines.panel(
        end - 1e-3, deep - end, np.where(lines.net.leg > 0.5, 0.2, -0.2), extra=3.2e-3, thick=3.4e-3
    )


def details(rest, wear):
    """Yield fly, pockets, belt and loops."""
    top, deep = TOP * rest.height, 0.165 * rest.height / 1.75
    fly = np.linspace(top - BAND, top - deep, 26)
    bend = 0.018 - 0.020 * smooth_step(-fly, -(top - deep + 0.05), -(top - deep))
    yield strip(rest, "front", np.stack([0 * fly, fly], axis=1), 0.006, 1.5e-3, thick=1.6e-3, across=3)
    yield strip(rest, "front", np.stack([bend + 0.012, fly], axis=1), 0.003, 0.8e-3, thick=1.0e-3, across=3)
    for side in (1.0, -1.0):
        # Slanted side pockets, and jetted ones behind.
        y = side * np.linspace(0.098, 0.128, 14) * rest.height / 1.75
        z = np.linspace(top - BAND - 0.004, top - 0.185, 14)
        yield strip(rest, "front", np.stack([y, z], axis=1), 0.007, 1.8e-3, thick=2.0e-3, across=3)
        z = top - 0.095
        yield patch(
            rest,
            "back",
            [
                (side * 0.075 - 0.06, z),
                (side * 0.075 + 0.06, z),
                (side * 0.075 + 0.06, z - 0.013),
                (side * 0.075 - 0.06, z - 0.013),
            ],
            1.8e-3,
            (4, 12),
            thick=2e-3,
        )
    middle = top - BAND / 2
    if wear.belt:
        yield belt(rest, middle)
        yield patch(
            rest,
            "front",
            [
                (-0.024, middle + 0.021),
                (0.024, middle + 0.021),
                (0.024, middle - 0.021),
                (-0.024, middle - 0.021),
            ],
            7.5e-3,
            (5, 5),
            stuff="metal",
            thick=3e-3,
        )
    for bearing in (0.55, 1.6, 2.6, -0.55, -1.6, -2.6):
        at = ROUND * bearing
        run = np.linspace(middle + 0.022, middle - 0.022, 7)
        yield strip(
            rest,
            "round",
            np.stack([0 * run + at, run], axis=1),
            0.010,
            7.0e-3 if wear.belt else 3.4e-3,
            thick=4e-3,
            across=3,
        )


def belt(rest, middle, *, wide=0.032, lift=4.6e-3, stuff="leather"):
    """Return a belt round the waist at a height. [m]"""
    run = np.linspace(-np.pi, np.pi, 120) * ROUND
    return strip(
        rest,
        "round",
        np.stack([run, 0 * run + middle], axis=1),
        wide,
        lift,
        stuff=stuff,
        thick=2.6e-3,
        across=5,
    )


def studs(rest, wear):
    """Yield the button of the waistband, where no buckle hides it."""
    if not wear.belt:
        at = np.array([[0.014, TOP * rest.height - BAND / 2]])
        yield Buttons(pin(rest, "front", at), 7e-3, 1.8e-3, 4.4e-3)
