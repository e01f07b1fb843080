"""Cautions as they are carried to paper and screen, the one about haze, and the current of a load.

Everything here is a reminder for planning. It decides nothing: the text says who does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from previz.physics.haze import droplet_mass

GLYCOL_LIMITS = (10.0, 40.0)
"""Glycol fog, 8 h mean and peak. [mg/m³]  Source: ANSI E1.5."""

OIL_MIST_LIMIT = 5.0
"""Mineral oil mist, 8 h mean. [mg/m³]  Source: 29 CFR 1910.1000 Z-1; NIOSH."""


PLANNING_AID = (
    "Planning aid only. Local electrical, fire, rigging and working-at-height law, the venue, and "
    "the licensed or competent person in charge decide."
)

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True)
class Caution:
    """One thing of a scene that can hurt someone, or that is to be looked at.

    Parameters
    ----------
    kind : str
        Sort of it: 'overhead', 'heat', 'mains'; 'note' for what hurts nobody.
    word : str
        What it is about, without a number.
    brief : str
        What paper says of it, with the scene's numbers: a phrase without a full stop.
    text : str
        All that is said of it.
    source : str
        A published one, or `NO_SOURCE`.
    urgency : int
        The less, the sooner it is said.
    names : tuple of str
        The lamps and things that it is of.
    amount : float
        What tells the worse of two of a kind.
    """

    kind: str
    word: str
    brief: str
    text: str
    source: str
    urgency: int
    names: tuple[str, ...] = ()
    amount: float = 0.0

    def __str__(self) -> str:
        return self.text

    @property
    def said(self) -> str:
        """The sentence that paper and screens have of it, with its source."""
        if self.kind == "note":
            return f"{self.brief}."
        return f"{self.brief} ({'common practice' if self.source == NO_SOURCE else self.source})."

    def plain(self) -> dict[str, str]:
        """Return what files say of it."""
        return {"kind": self.kind, "brief": self.brief, "text": self.text, "source": self.source}


def few(names: Sequence[str], most: int = 3) -> str:
    """Return names for paper, of which a long list is cut short."""
    left = len(names) - most
    return ", ".join(names) if left <= 1 else f"{', '.join(names[:most])} and {left} more"


def together(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Return the cautions of several scenes, the most urgent first.

    Of two of a kind the one is left out whose names the other has too, if that is as bad or worse.
    """
    found = list({(each.kind, each.text): each for each in cautions}.values())

    def covers(other: Caution, one: Caution) -> bool:
        if other is one or other.kind != one.kind or not set(one.names) <= set(other.names):
            return False
        same = set(one.names) == set(other.names) and other.amount == one.amount
        # What differs in words alone is not the same.
        return not same and other.amount >= one.amount and bool(other.names)

    left = [one for one in found if not any(covers(other, one) for other in found)]
    return tuple(sorted(left, key=lambda each: (each.urgency, -each.amount)))


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
        "and crew beforehand, those with asthma above all, ventilate between takes, keep the fluid's "
        "data sheet at hand, and ask the keeper of the fire alarm before smoke detectors trip or are "
        "shut off. Local rules and the venue decide."
    )
