"""A coat: as a jacket above a belted waist, with skirts to below the knee and a collar that can be up."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe import collars, jacket
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.hung import Skirt
from previz.stage.figures.wardrobe.pinned import ROUND, patch, pin, strip
from previz.stage.figures.wardrobe.trousers import belt

WAIST, BUTTON = 0.585, 0.70
"""Heights of the waist's seam and of the top button, over the body's."""


def make(rest, wear, under) -> Made:
    """Return a coat cut for a person."""
    lines = Lines(rest)
    lift = under + jacket.body(rest, lines, hem=0.4, room=8e-3, pad=1.5e-3)
    gap = jacket.opening(rest, wear.open, BUTTON, WAIST)
    front = jacket.fronts(rest, lines, gap)
    seam = jacket.SEAM - 0.6
    keep = least(lines.above(WAIST), lines.neck(seam), lines.sleeve(0.012), front)
    close = lines.closeness(jacket.SEAM)
    laid = list(jacket.lapels(rest, gap, BUTTON, jacket.GORGE, wide=0.092))
    laid.append(
        collars.upright(rest, seam, start=0.5, lift=7e-3)
        if wear.collar == "up"
        else collars.tailored(rest, seam, down=3.4, stiff=1.1e-2, lift=4e-3)
    )
    buttons, size = [], rest.height / 1.75
    waist = (WAIST + 0.004) * rest.height
    if not wear.open:
        laid.append(jacket.edge(rest, BUTTON * rest.height, waist))
        levels = np.array([BUTTON - 0.012, BUTTON - 0.075]) * rest.height
        for y in (-0.004,):
            spots = np.stack([y + 0 * levels, levels], axis=1)
            buttons.append(Buttons(pin(rest, "front", spots), 1.1e-2, 2.4e-3, 4.4e-3))
        laid.append(belt(rest, waist, wide=0.042, lift=7e-3, stuff="cloth"))
        laid.append(
            patch(
                rest,
                "front",
                jacket.box(0.0, waist + 0.028, 0.06, 0.056),
                1.1e-2,
                (6, 6),
                stuff="metal",
                thick=4e-3,
            )
        )
    else:
        run = np.linspace(1.2, 2 * np.pi - 1.2, 60) * ROUND
        laid.append(
            strip(
                rest, "round", np.stack([run, np.full(60, waist)], axis=1), 0.042, 6e-3, thick=4e-3, across=5
            )
        )
    for side in (1.0, -1.0):
        laid += jacket.flap_pocket(rest, side * 0.125 * size, 0.665 * rest.height, wide=0.10, high=0.045)[1:]
    half = float(gap(waist)) / 0.135
    spans = (half, 2 * np.pi - half) if wear.open else (-0.16, 2 * np.pi - 0.13)
    skirt = Skirt(
        WAIST + 0.006,
        wear_length(wear),
        ease=8e-3,
        flare=0.07,
        flutes=9,
        deep=0.012,
        spans=spans,
        opens=0.10 if wear.open else 0.02,
        thick=3.6e-3,
        salt=0.8,
    )
    buttons.append(jacket.sleeve_buttons(rest))
    return Made(
        lift,
        0.8 * close,
        Habit(salt=4.6, length=1.55, waist=0.5, waistline=WAIST, pits=0.8),
        (lines.panel(keep, thick=3.8e-3),),
        tuple(laid),
        tuple(buttons),
        (skirt,),
        over=8e-3 * (1 - smooth_step(lines.net.ring, 6, 9)),
        hides=least(lines.above(WAIST), lines.neck(jacket.SEAM + 2.2), lines.sleeve(-0.03), front - 0.04),
    )


def wear_length(wear):
    """Return the height of the hem over the body's."""
    return {"knee": 0.285, "calf": 0.20}[wear.length]
