"""What glows of the set: a lit picture, a piece."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar

from previz.scene.fields import file, point, size, special, text, yes_no
from previz.scene.fields import target as target_field
from previz.scene.lamp import AIM_NORTH, Light, OwnSpectrum, aim_field, cct_field, spectrum_field
from previz.scene.presets import Usual
from previz.scene.records import Target, record_class
from previz.scene.surface import TEXTURE_BYTES


@record_class
class Backdrop(Light):
    """A picture that glows: a translucent backing lit from behind, or a wall of LED.

    Its output is that of a white picture; a picture gives what its own white and colours leave.
    """

    kind: ClassVar[str] = "backdrop"
    usual: ClassVar[Usual] = Usual((1_000, 200_000), (50, 20_000), (2, 500))
    held: ClassVar[str] = "set"
    by_luminance: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "size": "[2 m, 1 m]", "output": "300 cd/m2"}

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
    """A piece that glows: a sign, a screen, a lit dial, a strip let into furniture."""

    kind: ClassVar[str] = "glow"
    usual: ClassVar[Usual] = Usual((0.1, 100_000), None, None)
    held: ClassVar[str] = "set"
    by_luminance: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"piece": "sign", "output": "300 cd/m2"}

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
