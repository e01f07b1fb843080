"""Surfaces as a crew names them: a word from the library, or a few numbers."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from previz.scene.fields import choice, file, quantity, special, yes_no
from previz.scene.records import Record

LIBRARY: dict[str, str] = {
    "white paint": "Matt white emulsion on a wall.",
    "cream paint": "Warm off-white wall paint.",
    "grey paint": "Neutral mid-grey paint.",
    "black paint": "Matt black paint.",
    "dark oak": "Dark stained oak boards, waxed.",
    "pine": "Bare pine boards.",
    "plywood": "Raw birch plywood.",
    "brick": "Red brickwork.",
    "concrete": "Bare cast concrete.",
    "plaster": "Dry unpainted plaster.",
    "linoleum": "Worn green-grey floor covering, a little shiny.",
    "steel": "Rolled steel plate.",
    "brass": "Handled brass.",
    "aluminium": "Brushed aluminium.",
    "chrome": "Polished chromium plate.",
    "white card": "White card, matt.",
    "foam board": "White foam-core board.",
    "muslin": "Bleached muslin; lets some light through.",
    "unbleached muslin": "Unbleached muslin; warm, lets some light through.",
    "silver board": "Board faced with crinkled silver foil.",
    "mirror": "Glass mirror.",
    "black cloth": "Dull black cloth for taking light away.",
    "grey cloth": "Grey woven cloth.",
    "wool": "Dark wool cloth.",
    "leather": "Brown leather.",
    "canvas": "Undyed canvas.",
    "grass": "Mown grass.",
    "gravel": "Pale gravel.",
    "tarmac": "Dry road surface.",
    "snow": "Fresh snow.",
    "grey card": "Neutral card of 18 % reflectance.",
    "white tile": "Glazed white tile.",
    "glass": "Clear glass.",
    "rust": "Rusted iron.",
    "soot": "Sooted surface.",
}
"""Names of the surfaces in the library, with what each is."""

TEXTURE_BYTES = 128 * 1024 * 1024
"""Greatest size of a picture file. [bytes]"""


@dataclass(frozen=True, kw_only=True)
class Surface(Record):
    """What something is made of or painted with.

    In a file a surface is a name from the library, or a mapping of these fields; a mapping with a
    name starts from that surface and changes what it writes.

    Parameters
    ----------
    name : str or None
        A key of `LIBRARY`.
    reflectance : float or None
        Share of the light that is sent back, all directions and colours together. [1]
    colour : (float, float, float) or None
        Linear sRGB, 0 to 1; with a reflectance only its hue counts. [1]
    gloss : float or None
        Share of the surface that carries a shine, 0 to 1. [1]
    roughness : float or None
        Width of the shine: 0 a mirror, 1 dull. [1]
    texture : Path or None
        A picture of the surface, for meshes with texture coordinates.
    transmission : float or None
        Share of the light that goes through, scattered. [1]
    metal : bool
        True where the shine takes on the colour.
    """

    noun: ClassVar[str] = "surface"

    name: str | None = choice(
        tuple(LIBRARY), "A surface from the library to start from.", None, example="dark oak"
    )
    reflectance: float | None = quantity(
        "fraction", "Share of the light that is sent back.", None, minimum=0.0, maximum=1.0,
        example="0.35",
    )  # fmt: skip
    colour: tuple[float, float, float] | None = special(
        "colour",
        "A colour word, '#rrggbb' in quotes, or [red, green, blue] in linear light from 0 to 1.",
        None, example="sage",
    )  # fmt: skip
    gloss: float | None = quantity(
        "fraction", "Share of the surface that carries a shine.", None, minimum=0.0, maximum=1.0,
        example="0.3",
    )  # fmt: skip
    roughness: float | None = quantity(
        "fraction", "Width of the shine: 0 a mirror, 1 dull.", None, minimum=0.0, maximum=1.0,
        example="0.4",
    )  # fmt: skip
    texture: Path | None = file(
        (".png", ".jpg", ".jpeg"), "Picture of the surface, in the scene's folder.",
        example="textures/panel.png", maximum=TEXTURE_BYTES,
    )  # fmt: skip
    transmission: float | None = quantity(
        "fraction", "Share of the light that goes through, scattered.", None, minimum=0.0,
        maximum=1.0, example="0.35",
    )  # fmt: skip
    metal: bool = yes_no("Whether the shine takes on the colour, as on metal.", False)
