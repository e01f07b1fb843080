"""A dress to the knee: a bodice with a round collar and buttons, a seam at the waist, a full skirt."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe import collars
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.hung import Skirt
from previz.stage.figures.wardrobe.pinned import pin, strip
from previz.stage.figures.wardrobe.shirt import CUFF
from previz.stage.figures.wardrobe.trousers import belt

WAIST, SEAM = 0.612, 3.5
"""Height of the waist's seam over the body's; ring of the collar's seam."""


def make(rest, wear, under) -> Made:
    """Return a dress cut for a person."""
    lines = Lines(rest)
    close = lines.closeness(SEAM)
    lift = under + 1.8e-3 + 3.0e-3 * close
    before = rest.ends["arm"][1] + 0.008 - rest.along
    lift = lift + np.where(lines.is_arm, 4e-3 * smooth_step(before, CUFF, CUFF + 0.07), 0.0)
    soft = close * np.where(lines.is_arm, smooth_step(before, CUFF, CUFF + 0.05), 1.0)
    body = least(lines.above(WAIST), lines.neck(SEAM), lines.sleeve(0.008))
    cuff = least(np.where(lines.is_arm, 0.045 - before, -0.2), lines.sleeve(0.009))
    laid = list(
        collars.stand_and_fall(
            rest, SEAM, stand=0.8, fall=2.0, points=2.9, spread=0.45, lift=2.5e-3, stuff="trim", stiff=4.5e-3
        )
    )
    waist = (WAIST + 0.004) * rest.height
    top = float(pin(rest, "neck", np.array([[0.0, -0.018 * (SEAM + 0.8)]])).at(rest.points)[0, 2])
    run = np.linspace(top, waist + 0.02, 40)
    laid.append(strip(rest, "front", np.stack([0 * run, run], axis=1), 0.026, 1.9e-3, thick=1.9e-3))
    laid.append(belt(rest, waist, wide=0.034, lift=5e-3, stuff="cloth"))
    at = np.linspace(top - 0.02, waist + 0.05, 6)
    buttons = (Buttons(pin(rest, "front", np.stack([0 * at, at], axis=1)), 6e-3, lift=2.8e-3),)
    skirt = Skirt(WAIST + 0.008, 0.255, ease=5e-3, flare=0.12, flutes=13, deep=0.018, thick=2.4e-3, salt=0.3)
    return Made(
        lift,
        soft,
        Habit(salt=5.2, waistline=WAIST, waist=0.7),
        (lines.panel(body), lines.panel(cuff, extra=2.4e-3)),
        tuple(laid),
        buttons,
        (skirt,),
        over=5e-3 * (1 - smooth_step(lines.net.ring, SEAM + 2, SEAM + 4)),
        hides=least(lines.above(WAIST + 0.01), lines.neck(SEAM + 1), lines.sleeve(-0.03)),
    )
