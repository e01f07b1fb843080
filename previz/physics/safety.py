"""The caution about haze, and the current of a load.

Everything here is a reminder for planning. It decides nothing: the text says who does.
"""

from __future__ import annotations

import numpy as np

from previz.physics.haze import droplet_mass

GLYCOL_LIMITS = (10.0, 40.0)
"""Glycol fog, 8 h mean and peak. [mg/m³]  Source: ANSI E1.5."""

OIL_MIST_LIMIT = 5.0
"""Mineral oil mist, 8 h mean. [mg/m³]  Source: 29 CFR 1910.1000 Z-1; NIOSH."""


def current(watts: float, volts: float, *, power_factor: float = 1.0, three_phase: bool = False) -> float:
    """Return the current of a load: W / (V · PF), over sqrt(3) more for three phases.

    Parameters
    ----------
    watts : float
        [W]
    volts : float
        Between the phases for three phases. [V]
    power_factor : float
        PF, above 0 and up to 1. [1]
    three_phase : bool
        A balanced three-phase load.

    Returns
    -------
    float
        [A]

    Raises
    ------
    ValueError
        A number is out of range.
    """
    if not (watts >= 0 and volts > 0 and 0 < power_factor <= 1):
        raise ValueError(
            "watts must be 0 or more, volts above 0 and the power factor above 0 and up to 1, "
            f"got {watts!r}, {volts!r}, {power_factor!r}"
        )
    return watts / (volts * power_factor * (np.sqrt(3.0) if three_phase else 1.0))


def haze_caution(density: float) -> str:
    """Return the line about haze.

    Parameters
    ----------
    density : float
        Extinction of the air; 0 for clear air. [/m]

    Returns
    -------
    str
        '' in clear air.
    """
    if not density > 0:
        return ""
    low, high = droplet_mass(density)
    over = ""
    if high > OIL_MIST_LIMIT:
        which = "glycol and for oil" if high > GLYCOL_LIMITS[0] else "oil"
        over = f" That may exceed the 8 h mean for {which}: measure it, thin it, or limit the hours."
    if high > GLYCOL_LIMITS[1]:
        over = over.replace("8 h mean", "8 h mean and the peak")
    return (
        f"Haze of {density:.3g} /m is about {low:.0f} to {high:.0f} mg/m³ of droplets (an "
        f"estimate within a factor of two). Published limits: glycol {GLYCOL_LIMITS[0]:.0f} "
        f"mg/m³ over 8 h and {GLYCOL_LIMITS[1]:.0f} at peak, mineral oil mist "
        f"{OIL_MIST_LIMIT:.0f} over 8 h.{over} Airway symptoms occur below limits too: tell cast "
        "and crew beforehand, ventilate between takes, keep the fluid's data sheet at hand, and "
        "ask the keeper of the fire alarm before smoke detectors trip or are shut off. Local "
        "rules and the venue decide."
    )
