"""Lamps with a wide bright face: soft boxes, panels, tubes, and pieces that glow."""

from __future__ import annotations

from pathlib import Path
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
    file,
    point,
    quantity,
    size,
    special,
    text,
    yes_no,
)
from previz.scene.fields import target as target_field
from previz.scene.lamp import (
    Light,
    OwnSpectrum,
    aim_field,
    angle_field,
    cct_field,
    diameter_field,
    length_field,
    spectrum_field,
)
from previz.scene.records import Target, record_class
from previz.scene.surface import TEXTURE_BYTES


def _grid():
    return angle_field(
        "Full angle that a fabric grid on the front lets through.", None, 170.0, "50 deg"
    )


@record_class
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
    egg_crate : EggCrate or None
        A grid of square cells on the front.
    skirt : float or None
        Depth of black cloth round the front, ahead of it. [m]
    """

    kind: ClassVar[str] = "soft box"

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

    Parameters
    ----------
    aim : Target or None
        None hangs it level, shining down.
    size : (float, float)
        Width and height of the front. [m]
    depth : float
        Of the box above the front. [m]
    grid, egg_crate, skirt
        As in `SoftBox`.
    """

    kind: ClassVar[str] = "overhead soft"
    hangs: ClassVar[bool] = True

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

    Parameters
    ----------
    size : (float, float)
        Width and height. [m]
    beam : float
        Full angle to half of the peak intensity; 120 is a plain diffuser. [deg]
    egg_crate : EggCrate or None
        A grid of square cells on its face.
    barn_doors : BarnDoors or None
        Four leaves at its rim.
    """

    kind: ClassVar[str] = "panel"

    aim: Target = aim_field()
    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    size: tuple[float, float] = size(2, "Width and height.", example="[0.6 m, 0.3 m]")
    beam: float = angle_field("Full angle to half of the peak intensity.", 120.0, 160.0, "90 deg")
    egg_crate: EggCrate | None = egg_crate_field()
    barn_doors: BarnDoors | None = barn_doors_field()


@record_class
class SmallBox(Panel):
    """A small box that is held in a hand or sits on a camera.

    Parameters
    ----------
    size, beam, egg_crate, barn_doors
        As in `Panel`.
    """

    kind: ClassVar[str] = "small box"

    size: tuple[float, float] = size(
        2, "Width and height.", (0.16, 0.11), example="[0.16 m, 0.11 m]",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    beam: float = angle_field("Full angle to half of the peak intensity.", 95.0, 160.0, "95 deg")


@record_class
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
    egg_crate : EggCrate or None
        A grid of square cells on its front; needs a beam.
    along : Target, float or None
        Direction of its length: towards a thing or a point, or level at an angle counter-clockwise
        from east; None is level and square to the aim, or east for a tube without an aim. [deg]
    """

    kind: ClassVar[str] = "tube"

    cct: float | None = cct_field(5600.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    length: float = quantity("length", "Length.", above=0.0, maximum=100.0)
    diameter: float = diameter_field("Diameter.", 0.026, "26 mm")
    beam: float | None = angle_field(
        "Full angle to half of the peak intensity; none shines all round.", None, 179.0, "120 deg"
    )
    egg_crate: EggCrate | None = egg_crate_field()
    along: Target | float | None = target_field(
        "Direction of its length: a thing, a point, or a level angle counter-clockwise from east.",
        None, dimension="angle", minimum=-360.0, maximum=360.0, example="90 deg",
    )  # fmt: skip


@record_class
class Backdrop(Light):
    """A picture that glows: a translucent backing lit from behind, or a wall of LED.

    Its output is that of a white picture; a picture gives what its own white and colours leave.

    Parameters
    ----------
    size : (float, float)
        Width and height. [m]
    picture : Path or None
        What it shows; None for even white.
    """

    kind: ClassVar[str] = "backdrop"

    aim: Target = aim_field()
    cct: float | None = cct_field(6500.0)
    spectrum: str | OwnSpectrum = spectrum_field("daylight")
    size: tuple[float, float] = size(2, "Width and height.", example="[6 m, 3 m]")
    picture: Path | None = file(
        (".png", ".jpg", ".jpeg"), "What it shows, in the scene's folder; none for even white.",
        example="textures/yard.png", maximum=TEXTURE_BYTES,
    )  # fmt: skip
    in_shot: bool = yes_no("Whether it is left in the picture on purpose.", True)


@record_class
class Glow(Light):
    """A piece that glows: a sign, a screen, a lit dial, a strip let into furniture.

    Parameters
    ----------
    piece : Target
        The piece, whole; of a mesh the parts that glow in its file, where it has such.
    material : str or None
        Name of the mesh file's material that glows, in place of these.
    colour : (float, float, float) or None
        Linear sRGB of what is before the light, of which only the hue counts; None for white. [1]
    at : (float, float, float) or None
        Where its piece stands; follows from it. [m]
    """

    kind: ClassVar[str] = "glow"

    at: tuple[float, float, float] | None = point("Follows from its piece.", None)
    piece: Target = target_field("The piece that glows.", example="sign")
    material: str | None = text(
        "The mesh file's material that glows; none for those that glow in the file, or all.", None,
        example="screen",
    )  # fmt: skip
    colour: tuple[float, float, float] | None = special(
        "colour", "Hue of the light, as of tinted glass before it; none for white.", None,
        example="red",
    )  # fmt: skip
    cct: float | None = cct_field(6500.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    in_shot: bool = yes_no("Whether it is left in the picture on purpose.", True)
