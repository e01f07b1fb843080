"""Where a supply ends: phases and their neutral, generators, breakers at switching on, cables.

All of it is worked out for planning, from what labels state, and errs to the side of too much.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

PHASE_ANGLES: Mapping[int, tuple[float, ...]] = {1: (0.0,), 2: (0.0, 180.0), 3: (0.0, -120.0, -240.0)}
"""How many phases to the angle of each; two are legs of a winding with its middle as neutral. [deg]"""

MAGNETIC_TRIP: Mapping[str, tuple[float, float]] = {"B": (3.0, 5.0), "C": (5.0, 10.0), "D": (10.0, 20.0)}
"""Type of breaker to the currents, over its rating, up to which it must not trip at once and from which it
must.  Source: IEC 60898-1, from memory."""

COPPER = 0.0175
"""Resistivity at 20 °C. [ohm mm²/m]  From memory."""

WARM = 1.25
"""Resistance of a conductor in use over that at 20 °C. [1]  Source: IEC 60364-5-52 annex G, from memory."""

LIGHTING_DROP, OTHER_DROP = 0.03, 0.05
"""Most that the voltage of lighting, and of other use, is to drop up to the load. [1]
Source: IEC 60364-5-52 annex G, from memory."""

CABLE_AREAS: tuple[tuple[float, float], ...] = ((16.0, 2.5), (32.0, 6.0), (63.0, 16.0), (125.0, 35.0))
"""Breaker up to so many [A] to the conductor of its rubber cable [mm²].  Common practice, no source."""

RESERVE = 0.2
"""Share of a generator's rating that is left free. [1]  Common practice, no source."""

LIGHT_LOAD = 0.3
"""Share of its rating under which a diesel engine soots up. [1]  Common practice, no source."""

UNEVEN = 0.25
"""Greatest difference between phases of a generator, over its rated current. [1]  Common practice, no
source."""


def fundamental(watts: float, volts: float) -> float:
    """Return the part of a current that carries the power, W / V, in step with the voltage. [A]"""
    return watts / volts


def distortion(watts: float, volts: float, power_factor: float) -> float:
    """Return the most that harmonics of a supply's current can be. [A]

    I = W / (V · PF), of which W / V carries the power; all of the rest, I · sqrt(1 - PF²), is taken for
    distortion. An uncorrected ballast's is displacement instead, which adds up less in a neutral.

    Parameters
    ----------
    watts, volts : float
        [W] and [V]
    power_factor : float
        Above 0 and up to 1. [1]
    """
    return watts / (volts * power_factor) * math.sqrt(max(0.0, 1.0 - power_factor**2))


def neutral_current(fundamentals: Sequence[float], thirds: Sequence[float] = ()) -> float:
    """Return the current of the neutral of one, two or three phases. [A]

    Each harmonic is the sum of its phasors: balanced fundamentals of three phases are nothing together, and
    third harmonics, three times 120° apart, are in step and add up. The two harmonics add in quadrature.

    Parameters
    ----------
    fundamentals, thirds : sequence of float, shape (p,)
        Of each phase, in step with its voltage; no thirds for lamps without any. [A]

    Raises
    ------
    ValueError
        There are not one to three phases.
    """
    if len(fundamentals) not in PHASE_ANGLES:
        raise ValueError(f"a supply has one to three phases, got {len(fundamentals)}")
    angles = PHASE_ANGLES[len(fundamentals)]

    def sum_of(currents: Sequence[float], harmonic: int) -> float:
        turned = [each * cmath.exp(1j * math.radians(harmonic * angle))
                  for each, angle in zip(currents, angles, strict=False)]
        return abs(sum(turned))

    return math.hypot(sum_of(fundamentals, 1), sum_of(thirds, 3))


def unbalance(currents: Sequence[float]) -> float:
    """Return the greatest difference of a phase's current from their mean, over the mean. [1]"""
    mean = sum(currents) / len(currents) if currents else 0.0
    return max(abs(each - mean) for each in currents) / mean if mean > 0 else 0.0


class GeneratorLoad(NamedTuple):
    """How far a generator is loaded, each over its rating. [1]

    `engine` is kW, `windings` kVA, `phase` the fullest phase's current, and `uneven` how far the fullest and
    the emptiest phase differ.
    """

    engine: float
    windings: float
    phase: float
    uneven: float

    @property
    def most(self) -> float:
        """The fullest of engine, windings and phase."""
        return max(self.engine, self.windings, self.phase)


def generator_load(watts: float, volt_amperes: float, currents: Sequence[float], *, rated_watts: float,
                   rated_volt_amperes: float, volts: float) -> GeneratorLoad:
    """Return how far a generator is loaded.

    Parameters
    ----------
    watts, volt_amperes : float
        Of all lamps. [W] and [VA]
    currents : sequence of float, shape (p,)
        Of each phase. [A]
    rated_watts, rated_volt_amperes : float
        Above 0. [W] and [VA]
    volts : float
        Between phase and neutral. [V]
    """
    rated = rated_volt_amperes / (len(currents) * volts)
    return GeneratorLoad(watts / rated_watts, volt_amperes / rated_volt_amperes, max(currents) / rated,
                         (max(currents) - min(currents)) / rated)


def trips(current: float, breaker: float, curve: str) -> str:
    """Return whether a breaker trips at once: 'no', 'may' or 'yes'.

    Parameters
    ----------
    current : float
        Effective value in the first half cycle. [A]
    breaker : float
        Its rating. [A]
    curve : str
        'B', 'C' or 'D'.
    """
    low, high = MAGNETIC_TRIP[curve]
    if current <= low * breaker:
        return "no"
    return "yes" if current >= high * breaker else "may"


def cable_area(breaker: float) -> float:
    """Return the conductor that is usual for a breaker, the largest of the table for a larger one. [mm²]"""
    return next((area for most, area in CABLE_AREAS if breaker <= most), CABLE_AREAS[-1][1])


def voltage_drop(amperes: float, length: float, area: float) -> float:
    """Return what a warm cable of copper takes of the voltage, there and back: 2 · rho · l · I / A. [V]

    Parameters
    ----------
    amperes : float
        [A]
    length : float
        Of the cable. [m]
    area : float
        Of a conductor, above 0. [mm²]

    Limits
    ------
    Resistance alone, and a power factor of 1: right to a few percent up to 35 mm².

    Source
    ------
    IEC 60364-5-52 annex G, from memory.
    """
    return 2.0 * WARM * COPPER * length * amperes / area
