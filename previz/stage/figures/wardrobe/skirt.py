"""A skirt: a waistband, and cloth that hangs from the hips to below the knee."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.hung import Skirt
from previz.stage.figures.wardrobe.pinned import ROUND, pin

TOP, BAND = 0.618, 0.034
"""Height of the waistband over the body's; its depth. [m]"""


def make(rest, wear, under) -> Made:
    """Return a skirt cut for a person."""
    lines = Lines(rest)
    lift = under + 2.5e-3 + 0 * lines.ones
    below = TOP * rest.height - rest.points[:, 2]
    band = lines.panel(lines.below(TOP), BAND - below, extra=2.4e-3, thick=2.8e-3)
    hung = Skirt(TOP - 0.012, 0.255, ease=5e-3, flare=0.085, flutes=11, deep=0.013, thick=2.8e-3, salt=1.3)
    at = np.array([[1.35 * ROUND, TOP * rest.height - BAND / 2]])
    return Made(
        lift,
        0 * lines.ones,
        None,
        (band,),
        (),
        (Buttons(pin(rest, "round", at), 7e-3, 1.8e-3, 3e-3),),
        (hung,),
        over=4e-3 * smooth_step(-np.abs(below - 0.02), -0.07, -0.02),
        hides=least(lines.below(TOP - 0.01), np.where(lines.net.leg > 0.5, -0.2, 0.2)),
    )
