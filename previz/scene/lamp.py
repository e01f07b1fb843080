"""What all lamps have: where, how much light and of what colour, and what may be put on them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    LEAST_LENGTH,
    REQUIRED,
    choice,
    file,
    point,
    quantity,
    record,
    share,
    special,
    text,
    yes_no,
)
from previz.scene.fields import target as target_field
from previz.scene.gel import Gel
from previz.scene.presets import Usual
from previz.scene.records import Item, Record, Target, record_class
from previz.scene.wants import LampMoves
from previz.units import show

SPECTRA = (
    "blackbody", "daylight", "led", "two-colour led", "multi-emitter led", "fluorescent",
    "tungsten", "metal halide",
)  # fmt: skip

TWO_COLOUR = (2700.0, 6500.0)
"""Ends of a two-colour LED that does not say its own. [K]  Source: common practice, no source."""

CIE_LAMPS = (
    "FL1", "FL2", "FL3", "FL4", "FL5", "FL6", "FL7", "FL8", "FL9", "FL10", "FL11", "FL12", "HP1",
    "HP5", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-RGB1", "LED-V1",
    "LED-V2",
)  # fmt: skip
"""Lamps that the CIE tabulates: fluorescent tubes, high-pressure lamps, white LEDs.

Source: CIE 15:2018; held to `previz.physics.lamps.illuminant` by a test."""

NARROWEST = 0.1
"""Narrowest beam. A mirror of 1 m focal length makes 0.17° of an arc of 3 mm; nothing narrower is a lamp
but a laser. [deg]  Source: geometry; the sizes are common practice, no source."""

LEAST_WATTS = 1e-6
"""Least power that a lamp draws: an indicator's is a thousand times that. [W]  Common practice, no source."""

LEAST_OUTPUT, GREATEST_OUTPUT = 1e-6, 1e9
"""Of a lamp, in lm, cd, lx or cd/m2, whichever it is written in. A firefly gives about 1e-3 lm, from
memory."""

NEAREST_METER, FARTHEST_METER = 0.01, 1000.0
"""From where a lamp's illuminance may be stated. [m]"""

MEASURED_BYTES = 4 * 1024 * 1024
"""Greatest size of a measurement's file. [bytes]"""


@record_class
class Output(Record):
    """How much light a lamp gives at full level, without gels.

    Parameters
    ----------
    value : float
        [lm, cd, lx or cd/m2]
    unit : str
        'lm' for all of its light, 'cd' in the middle of the beam, 'lx' there at `distance`,
        'cd/m2' for how bright the white of a backdrop, screen or sign is.
    distance : float or None
        Where the illuminance was measured; None unless the unit is 'lx'. [m]
    watts : float or None
        Power drawn, where the output was written as watts and efficacy. [W]
    """

    noun: ClassVar[str] = "output"

    value: float
    unit: str = "lm"
    distance: float | None = None
    watts: float | None = None

    def __str__(self):
        dimension = {"lm": "flux", "cd": "intensity", "lx": "illuminance",
                     "cd/m2": "luminance"}[self.unit]
        at = "" if self.distance is None else f" at {show(self.distance, 'length')}"
        return show(self.value, dimension) + at


@record_class
class Consumption(Record):
    """An output written as power and efficacy."""

    noun: ClassVar[str] = "output"

    watts: float = quantity("power", "Power drawn.", minimum=LEAST_WATTS, maximum=1e6)
    efficacy: float = quantity(
        "efficacy", "Light that leaves the lamp for each watt.", minimum=0.001, maximum=683.0
    )


@record_class
class OwnSpectrum(Record):
    """A spectrum in figures of its own: measured, tabulated, or the ends of a two-colour LED."""

    noun: ClassVar[str] = "spectrum"

    file: Path | None = file(
        (".csv", ".txt", ".tsv"), "Measured spectrum: two columns, nm and power.",
        example="lamps/lobby.csv", maximum=MEASURED_BYTES,
    )  # fmt: skip
    cie: str | None = choice(CIE_LAMPS, "A lamp that the CIE tabulates.", None, example="FL11")
    warm: float | None = quantity(
        "temperature", "Warm end of a two-colour LED.", None, minimum=1600.0, maximum=25_000.0,
        example="2700 K",
    )  # fmt: skip
    cool: float | None = quantity(
        "temperature", "Cool end of a two-colour LED.", None, minimum=1600.0, maximum=25_000.0,
        example="6500 K",
    )  # fmt: skip

    @property
    def is_two_colour(self) -> bool:
        """True for the ends of a two-colour LED."""
        return self.warm is not None or self.cool is not None

    @property
    def ends(self) -> tuple[float, float]:
        """Warm and cool end of a two-colour LED. [K]"""
        warm, cool = TWO_COLOUR
        return (warm if self.warm is None else self.warm, cool if self.cool is None else self.cool)


@record_class
class Flicker(Record):
    """How a lamp's light ripples.

    Parameters
    ----------
    depth : float
        (most - least) / (most + least) of its light: percent flicker over 100. [1]
    frequency : float or None
        [Hz]
    """

    noun: ClassVar[str] = "flicker"

    depth: float = share("How far the light swings about its mean; 0 % is steady.", REQUIRED, example="30 %")
    frequency: float | None = quantity(
        "frequency", "Ripples a second; none for two in each cycle of the mains.", None, minimum=1.0,
        maximum=1e7, example="100 Hz",
    )  # fmt: skip


def cct_field(default):
    """Return the field for a lamp's colour temperature."""
    return quantity(
        "temperature", "Correlated colour temperature at full level, without gels.", default,
        minimum=1600.0, maximum=25_000.0, source=COMMON_PRACTICE,
    )  # fmt: skip


def spectrum_field(default):
    """Return the field for what makes a lamp's light."""
    return special(
        "spectrum",
        "What makes the light, which sets its spectrum; or {file: x.csv}, {cie: FL11}, or the "
        "ends of a two-colour LED, {warm: 2700 K, cool: 6500 K}.",
        default, choices=SPECTRA, example="led", source=COMMON_PRACTICE,
    )  # fmt: skip


AIM_NORTH = "[0 m, 3 m, 0 m]"
"""Aim of samples."""

HANGINGS = ("cord", "boom", "wall plate", "pipe")
"""What things hang by."""


def hung_field():
    """Return the field for what something hangs by."""
    return choice(
        HANGINGS, "What it hangs by: a cord from what is above, a boom from a stand aside, the "
        "nearest wall, a pipe.", None, example="cord",
    )  # fmt: skip


def aim_field(*default):
    """Return the field for what a lamp is pointed at."""
    return target_field("What the beam is pointed at.", *default)


def diameter_field(help, default, example):
    """Return a field for a diameter."""
    return quantity(
        "length", help, default, usual="mm", minimum=LEAST_LENGTH, maximum=10.0, example=example,
        source=COMMON_PRACTICE,
    )  # fmt: skip


def length_field(help, default, example, *, maximum=10.0):
    """Return a field for a length that a kind of lamp has by common practice."""
    return quantity(
        "length", help, default, minimum=LEAST_LENGTH, maximum=maximum, example=example,
        source=COMMON_PRACTICE,
    )  # fmt: skip


def angle_field(help, default, maximum, example):
    """Return a field for a beam's angle."""
    return quantity(
        "angle", help, default, minimum=NARROWEST, maximum=maximum, example=example,
        source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class Light(Item):
    """What all lamps have.

    Parameters
    ----------
    kind : str
        A key of `previz.scene.light.LIGHTS`; the class itself says it.
    aim : Target or None
        None stands a lamp that shines all round upright.
    cct : float or None
        None for that of its measured spectrum. [K]
    watts : float or None
        Also set where the output was written in watts. [W]
    hung : str or None
        None for a lamp that stands, or hangs by itself as its kind does.
    """

    noun: ClassVar[str] = "light"
    kind: ClassVar[str] = ""
    one_of: ClassVar[tuple[str, ...]] = ("output", "photometry")
    """Fields of which at least one must be written."""
    usual: ClassVar[Usual]
    """What lamps of the kind usually give, draw and weigh."""
    held: ClassVar[str] = "stand"
    """What usually holds it: stand, camera, above or set; from above it shines straight down where it is
    not aimed.  Common practice, no source."""
    flame: ClassVar[bool] = False
    """True for what burns: it draws nothing from the mains, and is cautioned against."""
    mains: ClassVar[bool] = True
    """False for what is fed by a vehicle's battery."""
    ball: ClassVar[bool] = False
    """True for a ball of its `diameter` about its place."""
    may_hang: ClassVar[bool] = True
    """False for what cannot be `hung`."""
    by_luminance: ClassVar[bool] = False
    """True for an even face whose output may be written in cd/m2."""
    sample: ClassVar[Mapping[str, str]]
    """The least that one has in a scene file beyond its name, kind and place, as it is written there."""

    at: tuple[float, float, float] = point("Middle of its bright face, or of the bulb.")
    aim: Target | None = aim_field(None)
    turn: float = quantity(
        "angle", "Roll about the aim, counter-clockwise for whoever it is aimed at.", 0.0,
        minimum=-360.0, maximum=360.0, example="90 deg",
    )  # fmt: skip
    output: Output | None = special(
        "output",
        "All its light (lm), its intensity in the middle of the beam (cd), the illuminance there "
        "at a distance (lx at m), or {watts, efficacy}; at full level, without gels and without "
        "what is put on it.",
        None, example="9000 lm",
    )  # fmt: skip
    photometry: Path | None = file(
        (".ies", ".ldt"),
        "Measured distribution (IES LM-63 or EULUMDAT) in place of the kind's own; its lumens and "
        "watts hold where none are written.",
        example="lamps/pendant.ies", maximum=MEASURED_BYTES,
    )  # fmt: skip
    cct: float | None = cct_field(3200.0)
    duv: float = quantity(
        "number", "Distance from the black-body locus, plus towards green.", 0.0,
        minimum=-0.05, maximum=0.05, example="0.003",
    )  # fmt: skip
    spectrum: str | OwnSpectrum = spectrum_field("blackbody")
    dimmer: float = share("Level, as a share of the light.", 1.0)
    gel: tuple[Gel, ...] = special("gels", "A gel or a list of gels.", (), example="half ctb")
    on: bool = yes_no("Whether it is lit.", True)
    watts: float | None = quantity(
        "power", "Power drawn, for the load list.", None, minimum=LEAST_WATTS, maximum=1e6
    )
    power_factor: float | None = share(
        "Watts over volts times amperes, as its label states; none for 1 of a filament and 0.9 of others.",
        None, above=0.0, example="0.95",
    )  # fmt: skip
    circuit: str = text("Name of the circuit that feeds it, for the load list.", "", example="wall one")
    inrush: float | None = quantity(
        "number", "Current in the first half cycle as it is switched on, over its current in use; none where "
        "that is not known.", None, minimum=1.0, maximum=1000.0, example="12",
    )  # fmt: skip
    flicker: Flicker | None = record(
        Flicker, "How its light ripples, {depth: 0 %} for one that is steady; none for what follows from "
        "what makes its light.", None, example="{depth: 30 %, frequency: 100 Hz}",
    )  # fmt: skip
    weight: float | None = quantity(
        "mass", "Weight with its accessories, for the rigging list.", None, minimum=0.001,
        maximum=10_000.0,
    )  # fmt: skip
    in_shot: bool = yes_no("Whether it is left in the picture on purpose.", False)
    hung: str | None = hung_field()
    may_move: LampMoves | None = record(
        LampMoves, "What 'previz balance' may do to it; none for any level at its colour, but that one "
        "left in shot stays lit.", None,
        example="{dimmer: 20 % to 100 %}",
    )  # fmt: skip
