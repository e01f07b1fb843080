"""What lamps draw from the mains: watts, power factors, amperes, and what a circuit holds."""

from __future__ import annotations

from typing import NamedTuple

from previz.physics.safety import current

EFFICACY = {
    "tungsten": 13.0, "blackbody": 13.0, "fluorescent": 60.0, "led": 80.0,
    "two-colour led": 80.0, "multi-emitter led": 60.0, "daylight": 45.0, "metal halide": 45.0,
}  # fmt: skip
"""Light that leaves a fixture for each watt, where the watts are not stated. [lm/W]

Source: lamp efficacies (tungsten-halogen 25 to 28, metal halide 80 to 100 lm/W) times the 30 to
70 % that a fixture lets out, from memory; LED and fluorescent fixtures common practice, no
source."""

FILAMENTS = ("tungsten", "blackbody")
"""Spectra of lamps that are a plain resistance on the mains."""

SUPPLY_POWER_FACTOR = 0.9
"""Power factor that is taken for lamps with a supply or a ballast that do not state theirs; some have
0.5 (common practice, no source). [1]"""

CONTINUOUS = 0.8
"""Share of its rating that a circuit is loaded to for three hours and more: the device is to be of 125 %
of a continuous load. [1]  Source: NEC (NFPA 70) 210.20(A), check value 7.1."""

CONTINUOUS_HOURS = 3.0
"""From how long on a load is continuous. [h]  Source: NEC article 100, check value 7.1."""


def is_continuous(hours: float | None) -> bool:
    """Return whether lamps that are on for so long [h] are a continuous load; so is what is not known."""
    return hours is None or hours >= CONTINUOUS_HOURS


def device_needed(continuous: float, rest: float = 0.0) -> float:
    """Return the least rating of a breaker: 125 % of the continuous load and all of the rest. [A]

    Parameters
    ----------
    continuous, rest : float
        [A]

    Source
    ------
    NEC (NFPA 70) 210.20(A), check value 7.1: 2 kW at 120 V, 16.67 A, need 20.8 A.
    """
    return continuous / CONTINUOUS + rest


def holds(breaker: float, hours: float | None = None) -> float:
    """Return what a breaker [A] is loaded to by lamps that are on for so many hours [h]. [A]"""
    return breaker * (CONTINUOUS if is_continuous(hours) else 1.0)


class Draw(NamedTuple):
    """What one lamp draws from the mains at full level.

    `watts` is None where they are not stated [W]; `lumens` are all its light [lm]; `spectrum` is what
    makes it, a key of `EFFICACY`; `power_factor` is None where it is not stated [1]; `circuit` is the name
    of the circuit that feeds it, '' where that is not said; `inrush` is its current as it is switched on over
    that in use, None where it is not stated [1].
    """

    name: str
    watts: float | None
    lumens: float
    spectrum: str
    power_factor: float | None = None
    circuit: str = ""
    inrush: float | None = None

    def power(self) -> float:
        """Return its watts, a guess from its lumens where they are not stated. [W]"""
        if self.watts is not None:
            return self.watts
        return self.lumens / EFFICACY.get(self.spectrum, EFFICACY["led"])

    def factor(self) -> float:
        """Return its power factor, what is taken for its sort where it is not stated. [1]"""
        if self.power_factor is not None:
            return self.power_factor
        return 1.0 if self.spectrum in FILAMENTS else SUPPLY_POWER_FACTOR

    def amperes(self, volts: float) -> float:
        """Return its current at a voltage [V]. [A]"""
        return float(current(self.power(), volts, power_factor=self.factor()))
