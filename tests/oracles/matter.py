"""Formulae and values of surfaces, air, lamps and safety that tests hold the program to."""

from __future__ import annotations

import numpy as np

from previz.physics.optics import _checked_index, polarised_reflectance
from previz.physics.safety import CONTINUOUS_FACTOR
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

BLUE_LIGHT_DOSE = 1e6
"""Limit of radiance times time. [J/(m² sr)]  Source: IEC 62471:2006."""

BLUE_LIGHT_TIMES = {"exempt": 1e4, "group 1": 100.0, "group 2": 0.25}
"""Time each risk group must be safe for. [s]  Source: IEC 62471:2006 (times from memory)."""


def henyey_greenstein(cos_scattering, asymmetry):
    """Return the share of light scattered into each steradian.

    p = (1 - g²) / (4 pi (1 + g² - 2 g cos theta)^1.5), theta = 0 straight on.

    Parameters
    ----------
    cos_scattering : float array, shape (...)
        Cosine between the way in and the way out. [1]
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


def fresnel_reflectance(cos_incidence, index):
    """Return Fresnel's reflectance of one surface in unpolarised light.

    Parameters
    ----------
    cos_incidence : float array, shape (...)
        Cosine of the angle of incidence in air, 0 to 1. [1]
    index : float
        n of the glass, above 1. [1]

    Returns
    -------
    float array, shape (...)
        Mean of both polarisations. [1]

    Raises
    ------
    ValueError
        n is not above 1 or a cosine is outside 0 to 1.
    """
    square, parallel = polarised_reflectance(cos_incidence, index)
    return (square + parallel) / 2


def brewster_deg(index):
    """Return the angle at which a surface mirrors no light of one polarisation: atan n.

    Parameters
    ----------
    index : float
        n, above 1. [1]

    Returns
    -------
    float
        [deg]

    Raises
    ------
    ValueError
        n is not above 1.
    """
    return float(np.degrees(np.arctan(_checked_index(index))))


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


def continuous_watts(volts, amperes):
    """Return what a circuit may carry for 3 h or more: V · A / 1.25, 'load to 80 %'.

    Parameters
    ----------
    volts, amperes : float
        Supply [V], rating of its device [A].

    Returns
    -------
    float
        At power factor 1. [W]

    Source
    ------
    NEC 210.20(A).
    """
    return volts * amperes / CONTINUOUS_FACTOR


def blue_light_limit(group):
    """Return the blue-light radiance that ends a risk group: dose over time.

    Parameters
    ----------
    group : str
        'exempt', 'group 1' or 'group 2'; above the last is group 3.

    Returns
    -------
    float
        [W/(m² sr)]

    Raises
    ------
    ValueError
        There is no such group.

    Limits
    ------
    Only the maker can state a lamp's group, from its measured spectrum and face.
    """
    if group not in BLUE_LIGHT_TIMES:
        raise ValueError(f"risk groups are {', '.join(BLUE_LIGHT_TIMES)}, not '{group}'")
    return BLUE_LIGHT_DOSE / BLUE_LIGHT_TIMES[group]
