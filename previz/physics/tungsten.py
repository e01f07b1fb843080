"""What a dimmer does to a tungsten lamp: it warms as it fades.

Powers of the volts over the rated volts; averages of many lamps, good to a fifth of a stop and
some 60 K, a little less steep for tungsten-halogen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray

LUMEN_POWER, WATT_POWER, CURRENT_POWER, CCT_POWER = 3.4, 1.6, 0.55, 0.42
"""Exponents on the ratio of volts.  Source: 'Lamp rerating'; IES Lighting Handbook."""

LIFE_POWER = -13.0
"""Lamp life, between -12 and -16.  Source: as above."""


def at_volts(volts: ArrayLike) -> dict[str, FloatArray]:
    """Return what a lamp does at a share of its rated volts.

    Parameters
    ----------
    volts : float array, shape (...)
        Volts over rated volts, above 0. [1]

    Returns
    -------
    dict of str to float array, shape (...)
        'lumens', 'watts', 'current', 'cct' and 'life', each over its rated value. [1]

    Raises
    ------
    ValueError
        The volts are not above 0.
    """
    share = np.asarray(volts, dtype=float)
    if not np.all(share > 0):
        raise ValueError(f"volts must be above 0 of the rated volts, got {volts!r}")
    return {
        "lumens": share**LUMEN_POWER,
        "watts": share**WATT_POWER,
        "current": share**CURRENT_POWER,
        "cct": share**CCT_POWER,
        "life": share**LIFE_POWER,
    }


def volts_for_light(level: ArrayLike) -> FloatArray:
    """Return the share of volts that leaves a share of the light: level^(1/3.4).

    Parameters
    ----------
    level : float array, shape (...)
        Lumens over rated lumens, 0 or more. [1]

    Returns
    -------
    float array, shape (...)
        Volts over rated volts. [1]
    """
    return np.asarray(level, dtype=float) ** (1 / LUMEN_POWER)


def cct_at_light(level: ArrayLike, rated_cct: float = 3200.0) -> FloatArray:
    """Return the colour temperature of a tungsten lamp dimmed to a share of its light.

    Parameters
    ----------
    level : float array, shape (...)
        Lumens over rated lumens, above 0. [1]
    rated_cct : float
        At rated volts. [K]

    Returns
    -------
    float array, shape (...)
        One stop down from 3200 K is about 2940 K. [K]

    Raises
    ------
    ValueError
        The level is not above 0.
    """
    if not np.all(np.asarray(level) > 0):
        raise ValueError(f"level must be above 0, got {level!r}")
    return rated_cct * volts_for_light(level) ** CCT_POWER
