"""A jacket: collar and lapels, fronts that meet or hang open, flapped pockets, sleeves with buttons."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe import collars
from previz.stage.figures.wardrobe.cloth import weave
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.pinned import Laid, Pins, patch, pin, strip

SEAM, HEM, BUTTON, GORGE = 4.3, 0.494, 0.655, 0.815
"""Ring of the collar's seam; heights over the body's of hem, top button and gorge."""


def make(rest, wear, under) -> Made:
    """Return a jacket cut for a person."""
    lines = Lines(rest)
    lift = under + body(rest, lines, hem=HEM)
    gap = opening(rest, wear.open, BUTTON, HEM)
    front = fronts(rest, lines, gap)
    keep = least(lines.above(HEM), lines.neck(SEAM - 0.5), lines.sleeve(0.004), front)
    close = lines.closeness(SEAM)
    laid = [*lapels(rest, gap, BUTTON, GORGE), collars.tailored(rest, SEAM - 0.5)]
    buttons = []
    size = rest.height / 1.75
    levels = np.array([BUTTON - 0.012, BUTTON - 0.07, BUTTON - 0.125]) * rest.height
    if not wear.open:
        laid.append(edge(rest, BUTTON * rest.height, HEM * rest.height + 0.01))
        y = -0.004
    else:
        y = -0.022 - gap(levels)
    spots = np.stack([y + 0 * levels, levels], axis=1)
    buttons.append(Buttons(pin(rest, "front", spots), 9e-3, 2.2e-3, 4.2e-3 if not wear.open else 1.5e-3))
    for side in (1.0, -1.0):
        laid += flap_pocket(rest, side * 0.135 * size, 0.548 * rest.height)
    laid.append(
        patch(
            rest,
            "front",
            box(0.098 * size, 0.745 * rest.height, 0.095, 0.022, slant=0.006),
            2.4e-3,
            (5, 11),
            thick=2.6e-3,
        )
    )
    buttons.append(sleeve_buttons(rest))
    return Made(
        lift,
        0.85 * close,
        Habit(salt=3.3, length=1.35, waist=0.35, pits=0.8),
        (lines.panel(keep, thick=3.2e-3),),
        tuple(laid),
        tuple(buttons),
        over=6e-3 * (1 - smooth_step(lines.net.ring, SEAM + 2, SEAM + 5)),
        hides=least(lines.above(HEM + 0.02), lines.neck(SEAM + 2.2), lines.sleeve(-0.03), front - 0.035),
    )


def body(rest, lines, *, hem, room=5e-3, pad=1.5e-3):
    """Return how far a jacket stands off what is under it: padded shoulders, a hem that flares. [m]"""
    close = lines.closeness(SEAM)
    net, z = lines.net, rest.points[:, 2]
    crown = smooth_step(z, 0.775 * rest.height, 0.81 * rest.height) * np.exp(-(((net.arm - 0.35) / 0.4) ** 2))
    flare = np.where(lines.is_arm, 0.0, smooth_step(-z, -(hem + 0.09) * rest.height, -hem * rest.height))
    before = rest.ends["arm"][1] - rest.along
    cuff = np.where(lines.is_arm, smooth_step(-before, -0.16, 0.0), 0.0)
    return 3.5e-3 + room * close + pad * crown * close + 7e-3 * flare + 4e-3 * cuff


def opening(rest, is_open, button, hem):
    """Return half the width of what is open in front at a height, as a function. [m]"""
    low, high = button * rest.height, GORGE * rest.height
    foot = hem * rest.height

    def half(z):
        up = np.clip((np.asarray(z) - low) / (high - low), 0, 1.25)
        down = np.clip((low - np.asarray(z)) / (low - foot), 0, 1.1)
        if is_open:
            return 0.050 + 0.026 * up + 0.045 * down**1.3
        return 0.074 * up**1.05 + 0.035 * np.clip(down - 0.6, 0, 1) ** 2 / 0.16 - 0.004 * (1 - up)

    return half


def fronts(rest, lines, gap):
    """Return the field that leaves the front open; over 0 on the cloth. [m]"""
    y, z = rest.points[:, 1], rest.points[:, 2]
    ahead = (rest.points[:, 0] > 0.02) & (np.abs(y) < 0.16) & ~lines.is_arm
    return np.where(ahead, np.abs(y) - gap(z), 0.05)


def lapels(rest, gap, button, gorge, wide=0.078):
    """Yield the two lapels, folded back from the edge of the front."""
    low, high = button * rest.height, gorge * rest.height
    size = rest.height / 1.75
    s, t = np.meshgrid(np.linspace(0, 1, 26), np.linspace(0, 1, 12), indexing="ij")
    z_in = low + (high - low) * s
    inner = gap(z_in) - 2e-3
    # The outer edge swells to its point; the upper edge slopes up to it.
    out = wide * size * np.clip(s * 1.18, 0, 1) ** 0.75
    slope = 0.050 * s**6
    y = inner + out * t
    z = z_in - slope * t + 0.008 * t * (1 - s)
    roll = 5.5e-3 * np.exp(-((t / 0.16) ** 2)) * smooth_step(s, 0.0, 0.3)
    lift = 2.2e-3 + roll + 2.6e-3 * t * smooth_step(s, 0.0, 0.4)
    for side in (1.0, -1.0):
        flat = np.stack([side * y, z], axis=2).reshape(-1, 2)
        yield Laid(pin(rest, "front", flat), 26, 12, lift.reshape(-1), flat, thick=3.2e-3)


def edge(rest, top, low, side=-0.020, wide=0.06):
    """Return the edge of the front that buttons over, as thick as its turned cloth."""
    run = np.linspace(top, low, 50)
    curve = side + 0.03 * np.clip((low + 0.07 - run) / 0.07, 0, 1) ** 2
    made = strip(rest, "front", np.stack([curve + wide / 2, run], axis=1), wide, 0.0, thick=2.2e-3, across=7)
    over = 2.8e-3 * np.linspace(1, 0, 7) ** 0.7 + 0.1e-3
    return replace(made, lift=np.tile(over, 50))


def box(y, z, wide, high, slant=0.0):
    """Return the corners of a patch whose upper edge has its middle there. [m]"""
    a, b = y - wide / 2, y + wide / 2
    return [(a, z - slant), (b, z + slant), (b, z + slant - high), (a, z - slant - high)]


def flap_pocket(rest, y, z, wide=0.15, high=0.055):
    """Return a pocket in the seam with its welt and its flap."""
    slant = np.sign(y) * -0.006
    return [
        patch(rest, "front", box(y, z + 0.004, wide + 0.004, 0.009, slant), 1.6e-3, (4, 14), thick=1.8e-3),
        patch(rest, "front", box(y, z, wide, high, slant), 4.2e-3, (8, 16), thick=4.4e-3, bow=0.005),
    ]


def sleeve_buttons(rest):
    """Return small buttons near the end of each sleeve, behind."""
    net, rows = weave(), []
    for left in (True, False):
        here = np.flatnonzero((net.arm > 0.7) & ((net.left > 0.5) == left))
        for before in (0.028, 0.048, 0.068):
            at = rest.ends["arm"][1] - before
            miss = (
                np.abs(rest.along[here] - at)
                + 0.02 * np.abs(np.abs(rest.round[here]) - 2.5)
                + np.where(rest.round[here] > 0, 0.0, 0.1)
            )
            rows.append(here[miss.argmin()])
    rows = np.array(rows)[:, None].repeat(3, axis=1)
    return Buttons(Pins(rows, np.full(rows.shape, 1 / 3)), 6e-3, 1.8e-3, 1.2e-3)
