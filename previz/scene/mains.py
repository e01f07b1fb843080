"""The mains that the lamps are fed from: voltage, phases, circuits, a generator."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    choice,
    items,
    point,
    quantity,
    record,
    share,
    text,
)
from previz.scene.records import Item, Record, record_class

PHASES = ("L1", "L2", "L3")
"""What the phases are called (IEC 60445, from memory)."""

CURVES = ("B", "C", "D")
"""Types of instantaneous tripping of circuit breakers.  Source: IEC 60898-1, from memory."""

GENERATOR_POWER_FACTOR = 0.8
"""At which generators are rated, kW over kVA. [1]  Source: ISO 8528, from memory."""


def _breaker(help: str, default: float | None):
    return quantity(
        "current", help, default, minimum=1.0, maximum=1000.0,
        **({} if default is None else {"source": COMMON_PRACTICE}),
    )  # fmt: skip


def _curve(help: str):
    return choice(CURVES, help, None, example="C")


@record_class
class Circuit(Item):
    """One circuit of the distribution.

    Parameters
    ----------
    breaker : float or None
        None for that of all circuits. [A]
    phase : str or None
        'L1', 'L2' or 'L3'; None for the next in turn.
    """

    noun: ClassVar[str] = "circuit"

    # Boards number their circuits, so unlike other names it may begin with a figure.
    name: str = text("What the distribution calls it.", example="wall one")
    breaker: float | None = _breaker("What it is fused for; none for what the mains say of each circuit.",
                                     None)
    phase: str | None = choice(
        PHASES, "Phase that feeds it; none for the phases in turn.", None, example="L2"
    )
    curve: str | None = _curve("Type of its breaker; none for what the mains say.")


@record_class
class Generator(Record):
    """A generator; its voltage and phases are those of the mains.

    Parameters
    ----------
    rating : float or None
        [VA]
    power : float or None
        [W]
    """

    noun: ClassVar[str] = "generator"

    rating: float | None = quantity(
        "apparent power", "What it is rated for, in kVA.", None, usual="kVA", minimum=100.0, maximum=1e7,
        example="20 kVA",
    )  # fmt: skip
    power: float | None = quantity(
        "power", "What it is rated for, in kW.", None, usual="kW", minimum=100.0, maximum=1e7,
        example="16 kW",
    )  # fmt: skip
    power_factor: float | None = share(
        "Its kW over its kVA, where one of them is written; none for 0.8.", None, minimum=0.1,
        example="0.8", source=FROM_MEMORY,
    )  # fmt: skip

    @property
    def volt_amperes(self) -> float:
        """What it is rated for. [VA]"""
        if self.rating is not None:
            return self.rating
        return (self.power or 0.0) / (self.power_factor or GENERATOR_POWER_FACTOR)

    @property
    def watts(self) -> float:
        """What its engine is rated for. [W]"""
        if self.power is not None:
            return self.power
        return (self.rating or 0.0) * (self.power_factor or GENERATOR_POWER_FACTOR)


@record_class
class Mains(Record):
    """What currents and circuits are reckoned for in the load, the plan of circuits and their cautions.

    Parameters
    ----------
    phases : str
        '1'; '2' for two legs against each other about a neutral; '3'.
    supply : float or None
        [A]
    hours : float or None
        [h]
    """

    noun: ClassVar[str] = "mains"

    at: tuple[float, float, float] | None = point(
        "Where the distribution stands, which cables are measured from.", None
    )
    voltage: float = quantity(
        "voltage", "Voltage between live and neutral.", 230.0, minimum=12.0, maximum=1000.0,
        source=COMMON_PRACTICE,
    )  # fmt: skip
    frequency: float = quantity(
        "frequency", "Cycles a second; lamps ripple at twice that.", 50.0, minimum=10.0, maximum=1000.0,
        source=COMMON_PRACTICE,
    )  # fmt: skip
    phases: str = choice(
        ("1", "2", "3"), "How many phases feed the distribution; 2 for two legs against each other about "
        "a neutral.", "1", example="3",
    )  # fmt: skip
    supply: float | None = quantity(
        "current", "What each phase of the incoming supply is fused for; none where that is not known.", None,
        minimum=1.0, maximum=10_000.0, example="63 A",
    )  # fmt: skip
    generator: Generator | None = record(
        Generator, "What feeds it where that is a generator.", None, example="{rating: 20 kVA}"
    )
    hours: float | None = quantity(
        "hours", "How long the lamps are on; 3 h and more is continuous use, and none is taken for that.",
        None, above=0.0, maximum=1000.0, example="10 h",
    )  # fmt: skip
    circuit: float = _breaker("What each circuit is fused for.", 16.0)
    curve: str | None = _curve("Type of the circuits' breakers, by how much current trips them at once; none "
                               "where that is not known.")
    circuits: tuple[Circuit, ...] = items(
        Circuit, "Circuits of the distribution; none for as many as are needed."
    )

    @property
    def phase_names(self) -> tuple[str, ...]:
        """Of the phases: '' alone where there is one."""
        return ("",) if self.phases == "1" else PHASES[:int(self.phases)]
