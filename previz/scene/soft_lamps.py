"""Lamps with a wide bright face: soft boxes, panels, tubes, and pieces that glow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from previz.scene.accessories import (
    BarnDoors,
    EggCrate,
    barn_doors_field,
    egg_crate_field,
    skirt_field,
)
from previz.scene.fields import (
    COMMON_PRACTICE,
    LEAST_LENGTH,
    quantity,
    size,
)
from previz.scene.fields import target as target_field
from previz.scene.lamp import (
    AIM_NORTH,
    Light,
    OwnSpectrum,
    aim_field,
    angle_field,
    cct_field,
    diameter_field,
    length_field,
    spectrum_field,
)
from previz.scene.presets import Usual
from previz.scene.records import Target, record_class


def _grid():
    return angle_field(
        "Full angle that a fabric grid on the front lets through.", None, 170.0, "50 deg"
    )


@record_class
class SoftBox(Light):
    """A box with a diffusing front."""

    kind: ClassVar[str] = "soft box"
    usual: ClassVar[Usual] = Usual((2_000, 60_000), (60, 1200), (3, 20))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "size": "[0.9 m, 0.6 m]", "output": "9000 lm"}

    aim: Target = aim_field()
    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    size: tuple[float, float] = size(2, "Width and height of the front.", example="[0.9 m, 0.6 m]")
    depth: float = length_field("Depth of the box behind the front.", 0.3, "0.3 m")
    grid: float | None = _grid()
    egg_crate: EggCrate | None = egg_crate_field()
    skirt: float | None = skirt_field("round the front, ahead of it")


@record_class
class OverheadSoft(Light):
    """A large soft box that hangs over an area.

    Without an aim it hangs level and shines down.
    """

    kind: ClassVar[str] = "overhead soft"
    usual: ClassVar[Usual] = Usual((20_000, 400_000), (400, 8000), (20, 200))
    held: ClassVar[str] = "above"
    sample: ClassVar[Mapping[str, str]] = {"size": "[1.5 m, 1 m]", "output": "60 klm"}

    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    size: tuple[float, float] = size(2, "Width and height of the front.", example="[3 m, 2 m]")
    depth: float = length_field("Depth of the box above the front.", 0.6, "0.6 m")
    grid: float | None = _grid()
    egg_crate: EggCrate | None = egg_crate_field()
    skirt: float | None = skirt_field("that hangs from its rim")


@record_class
class Panel(Light):
    """A flat panel of many small emitters.

    A `beam` of 120 deg is that of a plain diffuser.
    """

    kind: ClassVar[str] = "panel"
    usual: ClassVar[Usual] = Usual((1_500, 40_000), (30, 600), (1, 15))
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "size": "[0.6 m, 0.3 m]", "output": "9000 lm"}

    aim: Target = aim_field()
    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    size: tuple[float, float] = size(2, "Width and height.", example="[0.6 m, 0.3 m]")
    beam: float = angle_field("Full angle to half of the peak intensity.", 120.0, 160.0, "90 deg")
    egg_crate: EggCrate | None = egg_crate_field()
    barn_doors: BarnDoors | None = barn_doors_field()


@record_class
class SmallBox(Panel):
    """A small box that is held in a hand or sits on a camera."""

    kind: ClassVar[str] = "small box"
    usual: ClassVar[Usual] = Usual((300, 3_000), (5, 50), (0.1, 1))
    held: ClassVar[str] = "camera"
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "600 lm"}

    size: tuple[float, float] = size(
        2, "Width and height.", (0.16, 0.11), example="[0.16 m, 0.11 m]",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    beam: float = angle_field("Full angle to half of the peak intensity.", 95.0, 160.0, "95 deg")


@record_class
class Tube(Light):
    """A straight tube.

    Without `along` it lies level, square to the aim; or east, where it has no aim.
    """

    kind: ClassVar[str] = "tube"
    usual: ClassVar[Usual] = Usual((500, 6_000), (10, 100), (0.3, 3))
    held: ClassVar[str] = "set"
    sample: ClassVar[Mapping[str, str]] = {"length": "1.2 m", "output": "2500 lm"}

    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    length: float = quantity("length", "Length.", minimum=LEAST_LENGTH, maximum=100.0)
    diameter: float = diameter_field("Diameter.", 0.026, "26 mm")
    beam: float | None = angle_field(
        "Full angle to half of the peak intensity; none shines all round.", None, 179.0, "120 deg"
    )
    egg_crate: EggCrate | None = egg_crate_field()
    along: Target | float | None = target_field(
        "Direction of its length: a thing, a point, or a level angle counter-clockwise from east.",
        None, dimension="angle", minimum=-360.0, maximum=360.0, example="90 deg",
    )  # fmt: skip
