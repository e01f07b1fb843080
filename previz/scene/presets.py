"""What lamps of a kind usually give, draw and weigh: figures to judge one's own by.

Each kind's record has its own. Nothing is taken from here: a scene states its own output. A figure
outside its range is not wrong, only to be checked.
"""

from __future__ import annotations

from dataclasses import dataclass

from previz.scene.fields import COMMON_PRACTICE

Range = tuple[float, float]


@dataclass(frozen=True)
class Usual:
    """Usual figures of one kind of lamp.

    Parameters
    ----------
    lumens : (float, float)
        Light that leaves the lamp. [lm]
    watts : (float, float) or None
        Power drawn; None for a flame. [W]
    weight : (float, float) or None
        Without a stand; None for a flame. [kg]
    source : str
        Where they come from.
    efficacy : float or None
        Lumens of each watt that messages offer for one with a filament or a flame; None for that of its
        spectrum. [lm/W]
    """

    lumens: Range
    watts: Range | None
    weight: Range | None
    source: str = COMMON_PRACTICE
    efficacy: float | None = None


OFFERED: dict[str, float] = {
    "tungsten": 15.0, "metal halide": 55.0, "fluorescent": 70.0, "led": 90.0, "two-colour led": 90.0,
    "multi-emitter led": 60.0, "daylight": 60.0, "blackbody": 15.0,
}  # fmt: skip
"""What makes the light to the lumens of each watt that messages offer. [lm/W]

A third to nearly all of what the sources give ('Luminous efficacy' table of a general encyclopaedia).
Source: common practice, no source."""

def offered_efficacy(of_kind: float | None, spectrum: str) -> float:
    """Return the lumens of each watt that a message offers for a lamp. [lm/W]

    Parameters
    ----------
    of_kind : float or None
        That of its kind's `Usual`.
    spectrum : str
        A key of `OFFERED`; '' for a spectrum in figures of its own.
    """
    if spectrum in ("tungsten", "blackbody") and of_kind is not None:
        return of_kind
    return OFFERED.get(spectrum, OFFERED["led"])
