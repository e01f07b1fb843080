"""Cautions the paperwork must carry, with the currents behind them.

Everything here is a reminder for planning. It decides nothing: the text says who does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.physics.haze import droplet_mass

DEFERENCE = (
    "Planning aid only. Local electrical, fire, rigging and working-at-height law, the venue, and "
    "the licensed or competent person in charge decide."
)

MAINS_VOLTS = (120.0, 230.0)
"""Supplies that currents are printed for when the mains is not stated. [V]"""

CONTINUOUS_FACTOR = 1.25
"""Device rating over a load that runs 3 h or more.  Source: NEC 210.20(A)."""

FABRIC_DISTANCE = 1.0
"""Nearer to fabric than this a lamp gets a caution. [m]  Common practice, no source."""

OVERHEAD_HEIGHT = 2.0
"""Higher than this a lamp gets the overhead caution. [m]  Common practice, no source."""

GLYCOL_LIMITS = (10.0, 40.0)
"""Glycol fog, 8 h mean and peak. [mg/m³]  Source: ANSI E1.5."""

OIL_MIST_LIMIT = 5.0
"""Mineral oil mist, 8 h mean. [mg/m³]  Source: 29 CFR 1910.1000 Z-1; NIOSH."""

BRIGHT_LUMINANCE = 1e5
"""From here a lamp's face gets the caution not to stare. [cd/m²]  Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class LampLoad:
    """What a caution needs to know of a lamp.

    Parameters
    ----------
    name : str
        As in the scene.
    watts : float or None
        Power drawn; None where it is not stated. [W]
    height : float
        Over the floor. [m]
    fabric : str
        Name of the nearest cloth, frame or gel; '' for none.
    fabric_distance : float
        To it. [m]
    luminance : float
        Of its brightest face; 0 where not known. [cd/m²]
    hot : bool
        True for tungsten and discharge lamps.
    """

    name: str
    watts: float | None = None
    height: float = 0.0
    fabric: str = ""
    fabric_distance: float = np.inf
    luminance: float = 0.0
    hot: bool = False


def current(watts, volts, *, power_factor=1.0, three_phase=False):
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


def device_rating(amperes):
    """Return the least rating of an overcurrent device for a continuous load: 125 %.

    Parameters
    ----------
    amperes : float
        Load that runs 3 h or more. [A]

    Returns
    -------
    float
        [A]

    Source
    ------
    NEC 210.20(A); other countries rule otherwise.
    """
    return amperes * CONTINUOUS_FACTOR


def load_caution(lamps, volts=MAINS_VOLTS):
    """Return the line about the mains load.

    Parameters
    ----------
    lamps : sequence of LampLoad
        All lamps of the plan.
    volts : sequence of float
        Supplies to give the current for. [V]

    Returns
    -------
    str
        '' where no lamp draws anything.
    """
    stated = [lamp for lamp in lamps if lamp.watts]
    missing = [lamp.name for lamp in lamps if lamp.watts is None]
    parts = []
    if stated:
        total = sum(lamp.watts for lamp in stated)
        amperes = [(each, current(total, each)) for each in volts]
        text = ", ".join(
            f"{load:.1f} A at {supply:.0f} V (left on 3 h or more, a device rated at least "
            f"{device_rating(load):.1f} A)"
            for supply, load in amperes
        )
        parts.append(
            f"Mains load: {total:.0f} W, which is {text}, at power factor 1. Ballasts and "
            "electronic supplies draw more and have inrush: use their plates."
        )
    if missing:
        parts.append(f"No watts are stated for: {', '.join(missing)}.")
    if parts:
        parts.append("Split the load over circuits with the person in charge of power.")
    return " ".join(parts)


def lamp_cautions(lamp):
    """Return the lines about one lamp.

    Parameters
    ----------
    lamp : LampLoad
        The lamp.

    Returns
    -------
    tuple of str
        Overhead, heat and brightness, as far as they apply.
    """
    lines = []
    if lamp.height > OVERHEAD_HEIGHT:
        lines.append(
            f"'{lamp.name}' hangs or stands {lamp.height:.1f} m high: secure it, and each "
            "accessory on it, with a second suspension independent of the clamp and as short as "
            "can be; keep people from under it while it is worked on."
        )
    if lamp.fabric and lamp.fabric_distance < FABRIC_DISTANCE:
        lines.append(
            f"'{lamp.name}' is {lamp.fabric_distance:.2f} m from '{lamp.fabric}': keep the "
            "minimum distance marked on the lamp and use flame-retardant material only."
        )
    if lamp.hot:
        lines.append(
            f"'{lamp.name}' runs hot: nearly all of its watts become heat. Let it cool before it "
            "is moved; keep its lens and guard on."
        )
    if lamp.luminance >= BRIGHT_LUMINANCE:
        lines.append(
            f"'{lamp.name}' is a bright source ({lamp.luminance:.0f} cd/m²): nobody should look "
            "into it; take the risk group from its maker."
        )
    return tuple(lines)


def haze_caution(density):
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


def cautions(lamps, haze_density=0.0, volts=MAINS_VOLTS):
    """Return every caution a plan needs, ending with who decides.

    Parameters
    ----------
    lamps : sequence of LampLoad
        All lamps of the plan.
    haze_density : float
        Extinction of the air. [/m]
    volts : sequence of float
        Supplies to give currents for. [V]

    Returns
    -------
    tuple of str
        Lines of plain text; empty for a plan with neither lamps nor haze.
    """
    lines = [load_caution(lamps, volts)]
    for lamp in lamps:
        lines.extend(lamp_cautions(lamp))
    lines.append(haze_caution(haze_density))
    if lamps:
        lines.append(
            "Stands: spread, weigh down, and mind wind and doors. Cables: cover and route clear "
            "of ways out. Check flicker of dimmed lamps at the shutter to be used."
        )
    said = [line for line in lines if line]
    return tuple(said + [DEFERENCE] if said else [])
