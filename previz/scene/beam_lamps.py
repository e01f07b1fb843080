"""Lamps that throw a beam: ellipsoidal, Fresnel, open-face, parallel, big daylight, headlamp."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from previz.scene.accessories import (
    BarnDoors,
    ShutterCut,
    Snoot,
    barn_doors_field,
    snoot_field,
)
from previz.scene.fields import COMMON_PRACTICE, choice, quantity, record, share
from previz.scene.lamp import (
    AIM_NORTH,
    Light,
    OwnSpectrum,
    aim_field,
    angle_field,
    cct_field,
    diameter_field,
    spectrum_field,
)
from previz.scene.presets import Usual
from previz.scene.records import Target, record_class


@record_class
class Ellipsoidal(Light):
    """A spot with an ellipsoidal reflector and a lens that can be focused."""

    kind: ClassVar[str] = "ellipsoidal"
    usual: ClassVar[Usual] = Usual((3_000, 25_000), (150, 1000), (5, 12))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "9000 lm"}

    aim: Target = aim_field()
    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    field: float = angle_field(
        "Full angle to a tenth of the peak intensity.", 26.0, 119.0, "26 deg"
    )
    edge: float = share(
        "Edge of the pool of light, 0 hard to 1 soft.", 0.1, example="0.1", source=COMMON_PRACTICE
    )
    iris: float = share(
        "Opening of the iris, as a share of the field.", 1.0, minimum=0.02, example="50 %"
    )
    shutters: ShutterCut | None = record(
        ShutterCut, "Straight cuts into the pool of light.", None, example="{top: 20 %}"
    )
    lens: float = diameter_field("Diameter of the front lens.", 0.16, "160 mm")
    focus: float | None = quantity(
        "length", "Distance at which the edge is sharpest; none for the distance of the aim.",
        None, minimum=0.01, maximum=1000.0, example="4 m",
    )  # fmt: skip


def _field():
    return angle_field(
        "Full angle to a tenth of the peak intensity; none follows from the rest.", None, 150.0,
        "50 deg",
    )  # fmt: skip


def _flood():
    return share("From 0, full spot, to 1, full flood.", 0.5, example="0.5", source=COMMON_PRACTICE)


@record_class
class Spot(Light):
    """What lamps with a soft-edged beam share.

    Each has a `lens` too, the diameter of its bright face.
    """

    aim: Target = aim_field()
    beam: float | None = angle_field(
        "Full angle to half of the peak intensity; none follows from 'flood'.", None, 120.0, "30 deg"
    )
    field: float | None = _field()


@record_class
class Fresnel(Spot):
    """A spot with a stepped lens, from spot to flood."""

    kind: ClassVar[str] = "fresnel"
    usual: ClassVar[Usual] = Usual((2_000, 300_000), (150, 12_000), (2, 60))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "9000 lm"}

    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    flood: float = _flood()
    lens: float = diameter_field("Diameter of the lens.", 0.25, "250 mm")
    barn_doors: BarnDoors | None = barn_doors_field()
    snoot: Snoot | None = snoot_field()


@record_class
class OpenFace(Spot):
    """A lamp with a reflector and no lens, from spot to flood."""

    kind: ClassVar[str] = "open face"
    usual: ClassVar[Usual] = Usual((5_000, 150_000), (300, 5000), (1.5, 15))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "20 klm"}

    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    flood: float = _flood()
    lens: float = diameter_field("Diameter of the reflector's mouth.", 0.2, "200 mm")
    barn_doors: BarnDoors | None = barn_doors_field()
    snoot: Snoot | None = snoot_field()


@record_class
class ParallelBeam(Spot):
    """A lamp with a large mirror that throws a nearly parallel beam."""

    kind: ClassVar[str] = "parallel beam"
    usual: ClassVar[Usual] = Usual((5_000, 150_000), (200, 4000), (10, 80))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "20 klm"}

    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    beam: float = angle_field("Full angle to half of the peak intensity.", 4.0, 20.0, "4 deg")
    field: float | None = _field()
    lens: float = diameter_field("Diameter of the bright face.", 0.6, "600 mm")


@record_class
class DaylightLamp(Spot):
    """A big daylight source that is put far away, in place of the sun."""

    kind: ClassVar[str] = "daylight lamp"
    usual: ClassVar[Usual] = Usual((80_000, 1_700_000), (1200, 18_000), (15, 90))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "400 klm"}

    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("metal halide")
    beam: float = angle_field("Full angle to half of the peak intensity.", 20.0, 120.0, "20 deg")
    lens: float = diameter_field("Diameter of the bright face.", 0.6, "600 mm")
    barn_doors: BarnDoors | None = barn_doors_field()


HEADLAMP_BEAMS = ("dipped", "full")
SIDES = ("right", "left")


@record_class
class Headlamp(Light):
    """A car's headlamp; dipped, it has a cut-off. Aim it level, straight ahead of the car.

    The cut-off of the dipped beam rises on the side of `traffic`.
    """

    kind: ClassVar[str] = "headlamp"
    usual: ClassVar[Usual] = Usual((500, 2_000), (15, 70), (1, 4))
    held: ClassVar[str] = "set"
    mains: ClassVar[bool] = False
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "900 lm"}

    aim: Target = aim_field()
    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    beam: str = choice(HEADLAMP_BEAMS, "Dipped, with a cut-off, or full.", "dipped")
    traffic: str = choice(SIDES, "Side of the road that is driven on.", "right")
    lens: float = diameter_field("Diameter of the lens.", 0.14, "140 mm")
