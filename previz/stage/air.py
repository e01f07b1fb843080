"""The haze of a scene as numbers."""

from __future__ import annotations

import numpy as np

from previz.physics.haze import RANGE_CONTRAST, density_from_visibility
from previz.physics.uplift import reflectance_from_rgb
from previz.scene.haze import LEVELS
from previz.stage.records import Haze
from previz.stage.surfaces import ONES

EVERYWHERE = 1e5
"""Half the edge of the box of a haze without one. [m]"""

WHITEST = 0.99
"""Share of the light that white haze scatters and does not swallow
(common practice, no source). [1]"""


def lower_haze(haze) -> Haze | None:
    """Return the stage's haze.

    Parameters
    ----------
    haze : scene.haze.Haze or None
    """
    if haze is None:
        return None
    density = haze.density
    if haze.level is not None:
        density = LEVELS[haze.level]
    elif haze.visibility is not None:
        density = float(density_from_visibility(haze.visibility, RANGE_CONTRAST))
    albedo = WHITEST * ONES
    if haze.colour is not None:
        curve = reflectance_from_rgb(np.asarray(haze.colour, float))
        albedo = WHITEST * curve / max(float(curve.max()), 1e-6)
    low = np.full(3, -EVERYWHERE) if haze.low is None else np.asarray(haze.low, float)
    high = np.full(3, EVERYWHERE) if haze.high is None else np.asarray(haze.high, float)
    floor = 0.0 if haze.low is None else float(low[2])
    thinning = 0.0 if haze.thins_in is None else 1 / haze.thins_in
    if thinning:
        # Under its floor a haze that thins upwards would grow without bound.
        low[2] = floor
    return Haze(density, albedo, haze.forward, thinning, floor, low, high)
