"""Formulae and values of surfaces, air, lamps and safety that tests hold the program to."""

from __future__ import annotations

import numpy as np

from previz.physics.tungsten import WATT_POWER, volts_for_light

FACE_LUMINANCE = {
    "very light": (0.337, 0.379, 0.418),
    "light": (0.300, 0.337, 0.382),
    "medium": (0.262, 0.293, 0.329),
    "tan": (0.216, 0.246, 0.278),
    "brown": (0.126, 0.182, 0.211),
    "dark": (0.061, 0.093, 0.118),
}
"""Luminance reflectance under D65, shine included: 5th, 50th and 95th percentile of a class. [1]

Source: International Skin Spectra Archive, 6907 face records."""

REFERENCE_WHITE = 203.0
"""White card in an HDR programme. [cd/m²]  Source: Report ITU-R BT.2408."""

def henyey_greenstein(cos_scattering, asymmetry):
    """Return the share of light scattered into each steradian.

    p = (1 - g²) / (4 pi (1 + g² - 2 g cos theta)^1.5), theta = 0 straight on.

    Parameters
    ----------
    cos_scattering : float array, shape (...)
        Cosine between the incoming and the outgoing direction. [1]
    asymmetry : float
        g, above -1 and below 1; plus is forward. [1]

    Returns
    -------
    float array, shape (...)
        p; its integral over the sphere is 1. [1/sr]

    Raises
    ------
    ValueError
        g is out of range.

    Source
    ------
    Henyey and Greenstein 1941.
    """
    g = float(asymmetry)
    if not -1 < g < 1:
        raise ValueError(f"asymmetry lies above -1 and below 1, got {asymmetry!r}")
    cosine = np.asarray(cos_scattering, dtype=float)
    return (1 - g * g) / (4 * np.pi * (1 + g * g - 2 * g * cosine) ** 1.5)


def watts_at_light(level, rated_watts):
    """Return the power a dimmed lamp draws, before the dimmer's own loss.

    Parameters
    ----------
    level : float array, shape (...)
        Lumens over rated lumens, 0 or more. [1]
    rated_watts : float
        [W]

    Returns
    -------
    float array, shape (...)
        [W]
    """
    return rated_watts * volts_for_light(level) ** WATT_POWER
