"""Lamps that shine all round: bulbs, shaded practicals, lanterns and flames."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from previz.scene.accessories import skirt_field
from previz.scene.fields import COMMON_PRACTICE, record, share, size, special
from previz.scene.lamp import (
    Light,
    Output,
    OwnSpectrum,
    cct_field,
    diameter_field,
    length_field,
    spectrum_field,
)
from previz.scene.presets import Usual
from previz.scene.records import Record, record_class
from previz.scene.surface import Surface, surface_field


@record_class
class LanternBall(Light):
    """A ball of paper or silk with a bulb inside that glows evenly all round."""

    kind: ClassVar[str] = "lantern ball"
    usual: ClassVar[Usual] = Usual((2_000, 25_000), (60, 1000), (0.5, 8))
    held: ClassVar[str] = "set"
    ball: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"output": "4000 lm"}

    cct: float | None = cct_field(3200.0)
    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    diameter: float = length_field("Diameter.", 0.55, "0.55 m")
    skirt: float | None = skirt_field("round it, from its top down")


@record_class
class Bulb(Light):
    """A bare bulb that shines all round."""

    kind: ClassVar[str] = "bulb"
    usual: ClassVar[Usual] = Usual((200, 15_000), (5, 1000), (0.05, 0.5), efficacy=12.0)
    held: ClassVar[str] = "set"
    ball: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"output": "900 lm"}

    cct: float | None = cct_field(2700.0)
    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    diameter: float = diameter_field("Diameter of the bulb.", 0.06, "60 mm")


@record_class
class Shade(Record):
    """A lamp shade, open above and below."""

    noun: ClassVar[str] = "shade"

    top: float = diameter_field("Diameter of the upper rim.", 0.18, "180 mm")
    bottom: float = diameter_field("Diameter of the lower rim.", 0.30, "300 mm")
    height: float = length_field("Height.", 0.22, "0.22 m")
    surface: Surface = surface_field("What it is made of.", "canvas", source=COMMON_PRACTICE)
    transmission: float = share(
        "Share of the light that goes through.", 0.35, example="35 %", source=COMMON_PRACTICE
    )


@record_class
class Practical(Light):
    """A lamp that belongs to the set: a bulb, with a shade unless it says `shade: none`."""

    kind: ClassVar[str] = "practical"
    usual: ClassVar[Usual] = Usual((200, 1_600), (5, 100), (0.5, 5), efficacy=12.0)
    held: ClassVar[str] = "set"
    ball: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"output": "800 lm"}

    cct: float | None = cct_field(2700.0)
    spectrum: str | OwnSpectrum = spectrum_field("tungsten")
    diameter: float = diameter_field("Diameter of the bulb.", 0.06, "60 mm")
    shade: Shade | None = record(
        Shade, "Its shade; none for a bare bulb.", Shade(), none_allowed=True
    )


CANDLE_SOURCE = "1 candela, about 12.6 lm: 'Luminous efficacy' table of a general encyclopaedia"


@record_class
class Candle(Light):
    """A candle that burns without a flicker; `at` is the middle of the flame."""

    kind: ClassVar[str] = "candle"
    usual: ClassVar[Usual] = Usual(
        (10, 15), None, None, "about 12.6 lm: 'Luminous efficacy' table of a general encyclopaedia",
        efficacy=0.3,
    )
    held: ClassVar[str] = "set"
    flame: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {}
    one_of: ClassVar[tuple[str, ...]] = ()

    output: Output | None = special(
        "output", "All its light (lm), or its intensity to the side (cd).", Output(value=1.0, unit="cd"),
        example="1 cd", source=CANDLE_SOURCE,
    )  # fmt: skip
    cct: float | None = cct_field(1900.0)
    flame: tuple[float, float] = size(
        2, "Width and height of the flame.", (0.012, 0.03), usual="mm",
        example="[12 mm, 30 mm]", source=COMMON_PRACTICE,
    )  # fmt: skip
    diameter: float = diameter_field("Diameter of the candle.", 0.022, "22 mm")
    height: float = length_field("Height of the candle.", 0.15, "0.15 m")


@record_class
class Fire(Light):
    """A wood fire that burns without a flicker; `at` is the middle of the flames."""

    kind: ClassVar[str] = "fire"
    usual: ClassVar[Usual] = Usual((100, 3_000), None, None, efficacy=0.3)
    held: ClassVar[str] = "set"
    flame: ClassVar[bool] = True
    may_hang: ClassVar[bool] = False
    sample: ClassVar[Mapping[str, str]] = {"output": "500 lm"}

    cct: float | None = cct_field(1900.0)
    flame: tuple[float, float] = size(
        2, "Width and height of the flames.", (0.35, 0.5), example="[0.35 m, 0.5 m]",
        source=COMMON_PRACTICE,
    )  # fmt: skip
