"""Lamps: what kind, where, how much light and of what colour.

To add a kind: a record below, and its line in `LIGHTS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    choice,
    point,
    quantity,
    record,
    size,
    special,
    yes_no,
)
from previz.scene.fields import target as target_field
from previz.scene.gel import Gel
from previz.scene.records import Item, Record, Target
from previz.scene.surface import Surface

SPECTRA = ("blackbody", "daylight", "led", "fluorescent", "tungsten")


@dataclass(frozen=True)
class Output(Record):
    """How much light a lamp gives at full level, without gels.

    Parameters
    ----------
    value : float
        [lm, cd or lx]
    unit : str
        'lm' for all of its light, 'cd' in the middle of the beam, 'lx' there at `distance`.
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


@dataclass(frozen=True, kw_only=True)
class Consumption(Record):
    """An output written as power and efficacy.

    Parameters
    ----------
    watts : float
        Power drawn. [W]
    efficacy : float
        Light that leaves the lamp for each watt. [lm/W]
    """

    noun: ClassVar[str] = "output"

    watts: float = quantity("power", "Power drawn.", above=0.0, maximum=1e6)
    efficacy: float = quantity(
        "efficacy", "Light that leaves the lamp for each watt.", above=0.0, maximum=683.0
    )


def _cct(default):
    return quantity(
        "temperature", "Correlated colour temperature at full level, without gels.", default,
        minimum=1000.0, maximum=25_000.0, source=COMMON_PRACTICE,
    )  # fmt: skip


def _spectrum(default):
    return choice(
        SPECTRA, "What makes the light, which sets its spectrum.", default, source=COMMON_PRACTICE
    )


def _aim(default):
    return target_field("What the beam is pointed at.", *default)


def _diameter(help, default, example):
    return quantity(
        "length", help, default, usual="mm", above=0.0, maximum=10.0, example=example,
        source=COMMON_PRACTICE,
    )  # fmt: skip


def _angle(help, default, maximum, example):
    return quantity(
        "angle", help, default, above=0.0, maximum=maximum, example=example,
        source=COMMON_PRACTICE,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Light(Item):
    """What all lamps have.

    Parameters
    ----------
    name : str
        As in `Item`.
    kind : str
        A key of `LIGHTS`; the class itself says it.
    at : (float, float, float)
        Middle of the face that the light leaves by, or of the bulb. [m]
    aim : Target or None
        What the beam is pointed at; None stands a lamp that shines all round upright.
    turn : float
        Roll about the aim, counter-clockwise for whoever the lamp is aimed at. [deg]
    output : Output
        How much light, at full level without gels.
    cct : float
        Correlated colour temperature. [K]
    duv : float
        Distance from the black-body locus, plus towards green. [1]
    spectrum : str
        One of `SPECTRA`.
    dimmer : float
        Level as a share of the light. [1]
    gel : tuple of Gel
        Sheets in front, in order.
    on : bool
        False leaves it dark.
    watts : float or None
        Power drawn; also set where the output was written in watts. [W]
    in_shot : bool
        True for a lamp that is left in the picture on purpose.
    """

    noun: ClassVar[str] = "light"
    kind: ClassVar[str] = ""

    at: tuple[float, float, float] = point("Middle of its bright face, or of the bulb.")
    aim: Target | None = _aim([None])
    turn: float = quantity(
        "angle", "Roll about the aim, counter-clockwise for whoever it is aimed at.", 0.0,
        minimum=-360.0, maximum=360.0, example="90 deg",
    )  # fmt: skip
    output: Output = special(
        "output",
        "All its light (lm), its intensity in the middle of the beam (cd), the illuminance there "
        "at a distance (lx at m), or {watts, efficacy}; at full level without gels.",
        example="9000 lm",
    )
    cct: float = _cct(3200.0)
    duv: float = quantity(
        "number", "Distance from the black-body locus, plus towards green.", 0.0,
        minimum=-0.05, maximum=0.05, example="0.003",
    )  # fmt: skip
    spectrum: str = _spectrum("blackbody")
    dimmer: float = quantity(
        "fraction", "Level, as a share of the light.", 1.0, minimum=0.0, maximum=1.0
    )
    gel: tuple[Gel, ...] = special("gels", "A gel or a list of gels.", (), example="half ctb")
    on: bool = yes_no("Whether it is lit.", True)
    watts: float | None = quantity(
        "power", "Power drawn, for the load list.", None, above=0.0, maximum=1e6
    )
    in_shot: bool = yes_no("Whether it is left in the picture on purpose.", False)


@dataclass(frozen=True, kw_only=True)
class SoftBox(Light):
    """A box with a diffusing front.

    Parameters
    ----------
    size : (float, float)
        Width and height of the front. [m]
    depth : float
        Of the box behind the front. [m]
    grid : float or None
        Full angle that a fabric grid on the front lets through; None for no grid. [deg]
    """

    kind: ClassVar[str] = "soft box"

    aim: Target = _aim([])
    cct: float = _cct(5600.0)
    spectrum: str = _spectrum("led")
    size: tuple[float, float] = size(2, "Width and height of the front.", example="[0.9 m, 0.6 m]")
    depth: float = quantity(
        "length", "Depth of the box behind the front.", 0.3, above=0.0, maximum=10.0,
        example="0.3 m", source=COMMON_PRACTICE,
    )  # fmt: skip
    grid: float | None = _angle(
        "Full angle that a fabric grid on the front lets through.", None, 170.0, "50 deg"
    )


@dataclass(frozen=True, kw_only=True)
class Panel(Light):
    """A flat panel of many small emitters.

    Parameters
    ----------
    size : (float, float)
        Width and height. [m]
    beam : float
        Full angle to half of the peak intensity; 120 is a plain diffuser. [deg]
    """

    kind: ClassVar[str] = "panel"

    aim: Target = _aim([])
    cct: float = _cct(5600.0)
    spectrum: str = _spectrum("led")
    size: tuple[float, float] = size(2, "Width and height.", example="[0.6 m, 0.3 m]")
    beam: float = _angle("Full angle to half of the peak intensity.", 120.0, 160.0, "90 deg")


@dataclass(frozen=True, kw_only=True)
class Tube(Light):
    """A straight tube.

    Parameters
    ----------
    length : float
        [m]
    diameter : float
        [m]
    beam : float or None
        Full angle to half of the peak intensity, about the tube's length; None shines all
        round. [deg]
    along : Target, float or None
        Direction of its length: towards a thing or a point, or level at an angle counter-clockwise
        from east; None is level and square to the aim, or east for a tube without an aim. [deg]
    """

    kind: ClassVar[str] = "tube"

    cct: float = _cct(5600.0)
    spectrum: str = _spectrum("led")
    length: float = quantity("length", "Length.", above=0.0, maximum=100.0)
    diameter: float = _diameter("Diameter.", 0.026, "26 mm")
    beam: float | None = _angle(
        "Full angle to half of the peak intensity; none shines all round.", None, 180.0, "120 deg"
    )
    along: Target | float | None = target_field(
        "Direction of its length: a thing, a point, or a level angle counter-clockwise from east.",
        None, dimension="angle", minimum=-360.0, maximum=360.0, example="90 deg",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Bulb(Light):
    """A bare bulb that shines all round.

    Parameters
    ----------
    diameter : float
        [m]
    """

    kind: ClassVar[str] = "bulb"

    cct: float = _cct(2700.0)
    spectrum: str = _spectrum("tungsten")
    diameter: float = _diameter("Diameter of the bulb.", 0.06, "60 mm")


@dataclass(frozen=True, kw_only=True)
class Shade(Record):
    """A lamp shade, open above and below.

    Parameters
    ----------
    top, bottom : float
        Diameters of the two rims. [m]
    height : float
        [m]
    surface : Surface
        What it is made of.
    transmission : float
        Share of the light that goes through. [1]
    """

    noun: ClassVar[str] = "shade"

    top: float = _diameter("Diameter of the upper rim.", 0.18, "180 mm")
    bottom: float = _diameter("Diameter of the lower rim.", 0.30, "300 mm")
    height: float = quantity(
        "length", "Height.", 0.22, above=0.0, maximum=10.0, example="0.22 m",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    surface: Surface = special(
        "surface", "What it is made of.", Surface(name="canvas"), example="canvas",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    transmission: float = quantity(
        "fraction", "Share of the light that goes through.", 0.35, minimum=0.0, maximum=1.0,
        example="35 %", source=COMMON_PRACTICE,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Practical(Light):
    """A lamp that belongs to the set: a bulb, with a shade unless it says `shade: none`.

    Parameters
    ----------
    diameter : float
        Of the bulb. [m]
    shade : Shade or None
        None for a bare bulb.
    """

    kind: ClassVar[str] = "practical"

    cct: float = _cct(2700.0)
    spectrum: str = _spectrum("tungsten")
    diameter: float = _diameter("Diameter of the bulb.", 0.06, "60 mm")
    shade: Shade | None = record(
        Shade, "Its shade; none for a bare bulb.", Shade(), none_allowed=True
    )


@dataclass(frozen=True, kw_only=True)
class Ellipsoidal(Light):
    """A spot with an ellipsoidal reflector and a lens that can be focused.

    Parameters
    ----------
    field : float
        Full angle to a tenth of the peak intensity. [deg]
    edge : float
        0 a hard edge, 1 a soft one. [1]
    lens : float
        Diameter of the front lens. [m]
    focus : float or None
        Distance at which the edge is sharpest; None for the distance of the aim. [m]
    """

    kind: ClassVar[str] = "ellipsoidal"

    aim: Target = _aim([])
    spectrum: str = _spectrum("tungsten")
    field: float = _angle("Full angle to a tenth of the peak intensity.", 26.0, 120.0, "26 deg")
    edge: float = quantity(
        "fraction", "Edge of the pool of light, 0 hard to 1 soft.", 0.1, minimum=0.0, maximum=1.0,
        example="0.1", source=COMMON_PRACTICE,
    )  # fmt: skip
    lens: float = _diameter("Diameter of the front lens.", 0.16, "160 mm")
    focus: float | None = quantity(
        "length", "Distance at which the edge is sharpest; none for the distance of the aim.",
        None, above=0.0, maximum=1000.0, example="4 m",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Fresnel(Light):
    """A spot with a stepped lens, from spot to flood.

    Parameters
    ----------
    beam : float or None
        Full angle to half of the peak intensity; None follows from `flood`. [deg]
    field : float or None
        Full angle to a tenth of the peak intensity; None follows from `beam` or `flood`. [deg]
    flood : float
        0 full spot, 1 full flood. [1]
    lens : float
        Diameter of the lens. [m]
    """

    kind: ClassVar[str] = "fresnel"

    aim: Target = _aim([])
    spectrum: str = _spectrum("tungsten")
    beam: float | None = _angle(
        "Full angle to half of the peak intensity; none follows from 'flood'.", None, 120.0,
        "30 deg",
    )  # fmt: skip
    field: float | None = _angle(
        "Full angle to a tenth of the peak intensity; none follows from the rest.", None, 150.0,
        "50 deg",
    )  # fmt: skip
    flood: float = quantity(
        "fraction", "From 0, full spot, to 1, full flood.", 0.5, minimum=0.0, maximum=1.0,
        example="0.5", source=COMMON_PRACTICE,
    )  # fmt: skip
    lens: float = _diameter("Diameter of the lens.", 0.25, "250 mm")


LIGHTS: dict[str, type[Light]] = {
    each.kind: each for each in (SoftBox, Panel, Tube, Bulb, Practical, Ellipsoidal, Fresnel)
}
"""Every kind of lamp by name."""
