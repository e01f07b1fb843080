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

OPEN_DEPTH = 10.0
"""How deep haze lies under a sky where there is no room to say it. [m]"""

WHITEST = 0.99
"""Share of the light that white haze scatters and does not swallow
(common practice, no source). [1]"""


def density_of(haze) -> float:
    """Return the density of a scene's haze at its thickest, however it is written. [1/m]"""
    if haze.level is not None:
        return LEVELS[haze.level]
    if haze.visibility is not None:
        contrast = RANGE_CONTRAST if haze.contrast is None else haze.contrast
        return float(density_from_visibility(haze.visibility, contrast))
    return haze.density


def build_haze(haze, room, under_sky: bool) -> Haze | None:
    """Return the stage's haze, if the scene has any.

    Haze without bounds would swallow sun and sky whole. Under a sun or a sky it is a layer as deep as
    the room is high; written bounds, or haze that thins with height, are taken as they are.
    """
    if haze is None:
        return None
    albedo = WHITEST * ONES
    if haze.colour is not None:
        curve = reflectance_from_rgb(np.asarray(haze.colour, float))
        albedo = WHITEST * curve / max(float(curve.max()), 1e-6)
    low = np.full(3, -EVERYWHERE) if haze.low is None else np.asarray(haze.low, float)
    high = np.full(3, EVERYWHERE) if haze.high is None else np.asarray(haze.high, float)
    floor = 0.0 if haze.low is None else float(low[2])
    thinning = 0.0 if haze.thins_in is None else 1 / haze.thins_in
    if haze.fills == "room":
        low = np.maximum(low, 0.0)
        high = np.maximum(np.minimum(high, np.asarray(room.size, float)), low)
    elif haze.high is None and not thinning and under_sky:
        high[2] = OPEN_DEPTH if room is None else room.size[2]
    if thinning:
        # Under its floor a haze that thins upwards would grow without bound.
        low[2] = floor
    return Haze(density_of(haze), albedo, haze.forward, thinning, floor, low, high)
