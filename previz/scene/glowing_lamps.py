"""What glows of the set: a lit picture, a screen, a sign, a piece."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, file, point, size, special, text, yes_no
from previz.scene.fields import target as target_field
from previz.scene.lamp import (
    AIM_NORTH,
    Light,
    OwnSpectrum,
    aim_field,
    cct_field,
    length_field,
    spectrum_field,
)
from previz.scene.presets import Usual
from previz.scene.records import Target, record_class
from previz.scene.surface import TEXTURE_BYTES

BLACK, WHITE = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)


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
class Screen(Light):
    """A screen in its casing, with a picture on it: a monitor, a television, a tablet."""

    kind: ClassVar[str] = "screen"
    usual: ClassVar[Usual] = Usual((10, 3_000), (4, 600), (0.3, 60))
    held: ClassVar[str] = "set"
    by_luminance: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "output": "200 cd/m2"}

    aim: Target = aim_field()
    cct: float | None = cct_field(6500.0)
    spectrum: str | OwnSpectrum = spectrum_field("led")
    size: tuple[float, float] = size(
        2, "Width and height of its picture.", (0.53, 0.3), example="[0.53 m, 0.3 m]", source=COMMON_PRACTICE
    )
    picture: Path | None = file(
        (".png", ".jpg", ".jpeg"), "What it shows, in the scene's folder; none for even white.",
        example="textures/timetable.png", maximum=TEXTURE_BYTES,
    )  # fmt: skip
    in_shot: bool = yes_no("Whether it is left in the picture on purpose.", True)


SIGN_LETTERS = 80
"""Most letters of a sign."""


@record_class
class Sign(Light):
    """A box whose front glows with words or a picture: a sign over a door, a shop's name."""

    kind: ClassVar[str] = "sign"
    usual: ClassVar[Usual] = Usual((20, 20_000), (3, 500), (0.5, 80))
    held: ClassVar[str] = "set"
    by_luminance: ClassVar[bool] = True
    sample: ClassVar[Mapping[str, str]] = {"aim": AIM_NORTH, "size": "[0.9 m, 0.3 m]", "output": "200 cd/m2"}

    aim: Target = aim_field()
    cct: float | None = cct_field(5000.0)
    spectrum: str | OwnSpectrum = spectrum_field("fluorescent")
    size: tuple[float, float] = size(2, "Width and height.", example="[0.9 m, 0.3 m]")
    depth: float = length_field("Depth of its box.", 0.12, "0.12 m")
    words: str | None = text(
        f"What it says, up to {SIGN_LETTERS} letters; ' / ' begins a line. None for an empty front.", None,
        example="CANTEEN",
    )  # fmt: skip
    letters: tuple[float, float, float] = special(
        "colour", "Colour of the letters.", BLACK, example="navy", source=COMMON_PRACTICE
    )
    ground: tuple[float, float, float] = special(
        "colour", "Colour of what they stand on.", WHITE, example="cream", source=COMMON_PRACTICE
    )
    picture: Path | None = file(
        (".png", ".jpg", ".jpeg"), "What it shows in place of words, in the scene's folder.",
        example="textures/sign.png", maximum=TEXTURE_BYTES,
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
