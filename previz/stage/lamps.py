"""The light of each lamp as numbers: spectrum, gel, level."""

from __future__ import annotations

import numpy as np

from previz.physics import gel as gels
from previz.physics.lamps import spectrum_of
from previz.physics.light import LampLight
from previz.physics.tungsten import cct_at_light

DARKEST_FILAMENT = 0.001
"""Level under which a tungsten lamp is not made any warmer. [1]"""


def filtered(sheets) -> np.ndarray:
    """Return the transmission of a lamp's gels, one behind the other. Shape (81,) [1]"""
    return gels.stack([_sheet(sheet) for sheet in sheets])


def _sheet(sheet) -> np.ndarray:
    if sheet.mired == 0 and sheet.green == 0:
        return gels.neutral(1.0 if sheet.transmission is None else sheet.transmission)
    return gels.shift_gel(sheet.mired, sheet.transmission, sheet.green)


def lamp_light(light, lumens: float) -> LampLight:
    """Return the light of one lamp of the scene.

    A tungsten lamp gets warmer as it is dimmed; every other kind keeps its colour.

    Parameters
    ----------
    light : scene.light.Light
    lumens : float
        Its output at full level without gels. [lm]
    """
    cct = light.cct
    if light.spectrum == "tungsten" and light.dimmer < 1:
        cct = float(cct_at_light(max(light.dimmer, DARKEST_FILAMENT), light.cct))
    return LampLight(light.name, "lm", lumens, spectrum_of(light.spectrum, cct, light.duv),
                     filtered(light.gel), light.dimmer, light.on)


