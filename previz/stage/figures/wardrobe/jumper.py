"""A knitted jumper: ribbed neckband, cuffs and hem, and a soft loose body."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe import collars
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Lines, Made, least

SEAM, HEM, SHORT, RIB = 3.7, 0.522, 0.592, 0.055
"""Ring of the neckband's seam; heights of the hem over the body's; depth of ribbing [m]."""


def make(rest, wear, under) -> Made:
    """Return a jumper cut for a person."""
    lines = Lines(rest)
    close = lines.closeness(SEAM)
    # Over a skirt it ends on the waistband.
    foot = SHORT if wear.others & {"skirt"} else HEM
    over_hem = rest.points[:, 2] - foot * rest.height
    before = rest.ends["arm"][1] + 0.014 - rest.along
    arm = lines.is_arm
    blouse = np.where(arm, smooth_step(before, 0.03, 0.11), smooth_step(over_hem, 0.03, 0.11))
    lift = under + 2.5e-3 + close * (2.0e-3 + 6.5e-3 * blouse)
    body = least(lines.above(foot), lines.neck(SEAM), lines.sleeve(0.014))
    ribs = (np.where(arm, -0.2, RIB - over_hem), np.where(arm, 0.05 - before, -0.2))
    panels = [lines.panel(body, thick=3.6e-3)]
    panels += [
        lines.panel(
            lines.above(foot - 0.002),
            lines.neck(SEAM),
            lines.sleeve(0.016),
            rib,
            extra=1.8e-3,
            thick=4.2e-3,
            stuff="band",
        )
        for rib in ribs
    ]
    band = collars.ribbed(rest, SEAM)
    soft = close * (0.25 + 0.75 * blouse)
    return Made(
        lift,
        1.1 * soft,
        Habit(salt=2.1, length=1.35, waistline=foot),
        tuple(panels),
        (band,),
        over=4e-3 * (1 - smooth_step(lines.net.ring, SEAM, SEAM + 2)),
        hides=least(lines.above(foot + 0.02), lines.neck(SEAM + 0.8), lines.sleeve(-0.03)),
    )
