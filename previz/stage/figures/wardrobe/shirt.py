"""A shirt: a collar on a stand, a placket with buttons, cuffs, a yoke, a breast pocket."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe import collars
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.pinned import patch, pin, strip

SEAM = 3.3
CUFF = 0.062
"""Ring of the collar's seam; depth of a cuff. [m]"""


def make(rest, wear, under) -> Made:
    """Return a shirt cut for a person."""
    lines = Lines(rest)
    close = lines.closeness(SEAM)
    lift = under + 1.5e-3 + 3.5e-3 * close
    arm, elbow_wrist = lines.is_arm, rest.ends["arm"][1]
    before = elbow_wrist + 0.012 - rest.along
    cuffed = np.where(arm, smooth_step(before, CUFF - 0.005, CUFF + 0.05), 1.0)
    lift = lift + np.where(arm, 5e-3 * smooth_step(before, CUFF, CUFF + 0.06), 0.0)
    soft = close * cuffed
    body = least(lines.above(0.545), lines.neck(SEAM), lines.sleeve(0.012 - CUFF + 0.006))
    cuff = least(np.where(arm, CUFF - before, -0.2), lines.sleeve(0.012))
    panels = (lines.panel(body), lines.panel(cuff, extra=2.6e-3, thick=3e-3))
    laid = [*collars.stand_and_fall(rest, SEAM)]
    top = _front_height(rest, SEAM + 0.3)
    low = 0.575 * rest.height
    run = np.linspace(top, low, 60)
    laid.append(strip(rest, "front", np.stack([0 * run + 1e-3, run], axis=1), 0.034, 2.3e-3, thick=2.3e-3))
    at = np.linspace(top - 0.035, low + 0.02, 6)
    buttons = [Buttons(pin(rest, "front", np.stack([0 * at + 1e-3, at], axis=1)), lift=3.4e-3)]
    laid.append(_pocket(rest, 0.082, top - 0.115))
    laid += yoke(rest)
    buttons.append(Buttons(pin(rest, "neck", np.array([[0.0, -0.018 * (SEAM - 0.35)]])), lift=6.2e-3))
    over = 9e-3 * (1 - smooth_step(lines.net.ring, SEAM + 2.5, SEAM + 5.5))
    return Made(
        lift,
        soft,
        Habit(salt=0.4),
        panels,
        tuple(laid),
        tuple(buttons),
        over=over,
        hides=least(lines.above(0.56), lines.neck(SEAM + 1), lines.sleeve(-0.03)),
    )


def _front_height(rest, ring):
    """Return the height of a ring of the neck at the front. [m]"""
    return float(pin(rest, "neck", np.array([[0.0, -0.018 * ring]])).at(rest.points)[0, 2])


def _pocket(rest, y, z, wide=0.105, high=0.12):
    """Return a breast pocket whose top is so high, pointed below."""
    half = wide / 2
    return patch(
        rest,
        "front",
        [(y - half, z), (y + half, z), (y + half, z - high + 0.012), (y - half, z - high + 0.012)],
        2.2e-3,
        (14, 11),
        thick=2.4e-3,
        bow=0.014,
    )


def yoke(rest, lift=1.5e-3):
    """Return the seam of the yoke across the back."""
    level = 0.795 * rest.height
    y = np.linspace(-0.155, 0.155, 48)
    line = np.stack([y, level - 0.004 * np.cos(20 * y)], axis=1)
    return [strip(rest, "back", line, 5e-3, lift, thick=1.6e-3, across=3)]
