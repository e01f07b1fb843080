"""Surfaces as a crew names them: a word from the library, or a few numbers."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    LEAST_LENGTH,
    choice,
    file,
    quantity,
    share,
    size,
    special,
    yes_no,
)
from previz.scene.patterns import PATTERNS, PLAIN
from previz.scene.records import Record, record_class

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
    "hard silver": "Hard side of a mirror board: flat and bright as a mirror.",
    "soft silver": "Soft side of a mirror board: silver leaf that scatters a little.",
    "black cloth": "Dull black cloth for taking light away.",
    "grey cloth": "Grey woven cloth.",
    "wool": "Dark wool cloth.",
    "leather": "Brown leather.",
    "canvas": "Undyed canvas.",
    "grass": "Mown grass.",
    "gravel": "Pale gravel.",
    "asphalt": "Dry road surface.",
    "snow": "Fresh snow.",
    "grey card": "Neutral card of 18 % reflectance.",
    "white tile": "Glazed white tile.",
    "glass": "Clear glass; a piece of it is a pane where it is thin and flat, and else solid.",
    "thin glass": "Clear glass of hollow pieces, such as a globe, a jar or a show case.",
    "rust": "Rusted iron.",
    "soot": "Sooted surface.",
    "gloss white paint": "White gloss paint on wood or metal.",
    "light green paint": "Pale green wall paint.",
    "dark green paint": "Dark green enamel paint.",
    "dark blue paint": "Dark blue enamel paint.",
    "dark red paint": "Dark red enamel paint.",
    "yellow paint": "Light yellow paint.",
    "brown paint": "Brown enamel paint.",
    "white enamel": "Vitreous enamel, white.",
    "light oak": "Light oak, polished.",
    "walnut": "Oiled walnut.",
    "beech": "Lacquered beech.",
    "mahogany": "Polished mahogany.",
    "old timber": "Weathered grey timber.",
    "cork": "Cork sheet.",
    "dark brick": "Dark red brickwork, new.",
    "yellow brick": "Yellow stock brickwork.",
    "rough concrete": "Rough untreated concrete.",
    "wet concrete": "Concrete after rain.",
    "grey plaster": "Light grey plaster.",
    "dark plaster": "Dark or dirty plaster.",
    "granite": "Granite, honed.",
    "limestone": "Limestone.",
    "sandstone": "Sandstone.",
    "marble": "Polished white marble.",
    "roof slate": "Roofing slate.",
    "white cotton": "White cotton, such as a shirt or a sheet.",
    "linen": "Undyed linen.",
    "denim": "Dark blue denim.",
    "red cloth": "Dark red cloth.",
    "hessian": "Sacking.",
    "satin": "Off-white satin.",
    "black velvet": "Black velvet, the darkest cloth.",
    "carpet": "Brown carpet.",
    "tarpaulin": "Dark green tarpaulin.",
    "black leather": "Black leather.",
    "tan leather": "Light brown leather.",
    "rubber": "Black rubber.",
    "white paper": "White paper.",
    "newsprint": "Newspaper, unprinted.",
    "cardboard": "Brown cardboard.",
    "black tile": "Glazed black tile.",
    "green tile": "Glazed dark green tile.",
    "terracotta tile": "Unglazed red tile.",
    "porcelain": "White porcelain.",
    "water": "Still water over a dark bottom.",
    "wet asphalt": "Road after rain.",
    "leaves": "Green leaves; let a little light through.",
    "ivy": "Dark shiny leaves.",
    "dry grass": "Straw and dry grass.",
    "moss": "Moss.",
    "bark": "Bark of trees.",
    "soil": "Bare dark soil.",
    "dry sand": "Dry sand.",
    "ballast": "Broken stone of a track bed.",
    "coal": "Coal.",
    "opal glass": "White opal glass of lamp globes; lets light through, scattered.",
    "tracing paper": "Tracing paper; lets light through, scattered.",
    "candle wax": "Candle wax; lets some light through.",
    "polished aluminium": "Polished aluminium.",
    "copper": "Clean copper.",
    "gold leaf": "Gold leaf.",
    "polished silver": "Polished silver.",
    "nickel": "Nickel plate.",
    "stainless steel": "Brushed stainless steel.",
    "galvanised steel": "Galvanised sheet.",
    "cast iron": "Bare cast iron.",
    "bronze": "Bronze.",
}
"""Names of the surfaces in the library, with what each is."""

TEXTURE_BYTES = 128 * 1024 * 1024
"""Greatest size of a picture file. [bytes]"""

MEASURED_BYTES = 4 * 1024 * 1024
"""Greatest size of a measurement's file. [bytes]"""

PICTURES = ("texture", "normals", "roughness_picture")
"""Fields of a surface that name pictures of it."""


@record_class
class Surface(Record):
    """What something is made of or painted with.

    In a file a surface is a name from the library, or a mapping of these fields; a mapping with a
    name starts from that surface and changes what it writes.

    Parameters
    ----------
    reflectance : float or None
        All directions and colours together. [1]
    colour : (float, float, float) or None
        With a reflectance only its hue counts. [1]
    texture, normals, roughness_picture : Path or None
        For meshes with texture coordinates; on built-in shapes once on each side.
    picture_size : (float, float) or None
        Of all three, which repeat; a mesh's own texture coordinates then count as metres. [m]
    file : Path or None
        In place of a reflectance and a colour.
    pattern : str or None
        None for the pattern that the library has for `name`.
    second : Surface or None
        Of it only the colour of its reflectance shows.
    """

    noun: ClassVar[str] = "surface"

    name: str | None = choice(
        tuple(LIBRARY), "A surface from the library to start from.", None, example="dark oak"
    )
    reflectance: float | None = share("Share of the light that is sent back.", None, example="0.35")
    colour: tuple[float, float, float] | None = special(
        "colour",
        "A colour word, '#rrggbb' in quotes, or [red, green, blue] in linear light from 0 to 1.",
        None, example="sage",
    )  # fmt: skip
    gloss: float | None = share("Share of the surface that carries a shine.", None, example="0.3")
    roughness: float | None = share("Width of the shine: 0 a mirror, 1 dull.", None, example="0.4")
    texture: Path | None = file(
        (".png", ".jpg", ".jpeg"), "Picture of the surface, in the scene's folder.",
        example="textures/panel.png", maximum=TEXTURE_BYTES,
    )  # fmt: skip
    normals: Path | None = file(
        (".png", ".jpg", ".jpeg"), "Picture of how the surface leans: normals, light blue where it is level, "
        "green upwards.", example="textures/panel-normals.png", maximum=TEXTURE_BYTES,
    )  # fmt: skip
    roughness_picture: Path | None = file(
        (".png", ".jpg", ".jpeg"), "Picture of the shine's width: black where sharp, white where dull.",
        example="textures/panel-roughness.png", maximum=TEXTURE_BYTES,
    )  # fmt: skip
    picture_size: tuple[float, float] | None = size(
        2, "Width and height that its pictures show; they repeat. Without it they go once on each side.",
        None, minimum=LEAST_LENGTH, example="[1.2 m, 0.8 m]",
    )  # fmt: skip
    transmission: float | None = share(
        "Share of the light that goes through, scattered.", None, example="0.35"
    )
    metal: bool = yes_no("Whether the shine takes on the colour, as on metal.", False)
    file: Path | None = file(
        (".csv", ".txt", ".tsv"),
        "Its measured reflectance: two columns, nm and a share from 0 to 1 or percent.",
        example="surfaces/seat-cloth.csv", maximum=MEASURED_BYTES,
    )  # fmt: skip
    pattern: str | None = choice(
        (PLAIN, *PATTERNS), "What it shows from place to place, on average as light as without; a surface of "
        "the library has its own.", None, example="planks", source=COMMON_PRACTICE,
    )  # fmt: skip
    pattern_size: float | None = quantity(
        "length", "True size of the pattern, such as a board's width or a tile's side.", None, usual="mm",
        minimum=LEAST_LENGTH, maximum=10.0, example="150 mm",
    )  # fmt: skip
    second: Surface | None = special(
        "surface", "What the pattern shows beside it: mortar, grout, stripes, what is under worn paint.",
        None, example="cream paint",
    )  # fmt: skip
    relief: float = share("Strength of the pattern's relief.", 1.0, maximum=4.0, example="50 %")
    wet: float = share(
        "How wet it is: damp in patches, on the ground with puddles from 40 % on.", 0.0, example="70 %"
    )
    worn: float = share("Share of the surface that is worn, of paint and wood.", 0.0, example="20 %")

    @property
    def pictures(self) -> tuple[str, ...]:
        """The fields that name a picture of it."""
        return tuple(field for field in PICTURES if getattr(self, field) is not None)

    @property
    def fitted(self) -> bool:
        """Whether it has pictures that go once on each side of a shape."""
        return bool(self.pictures) and self.picture_size is None


def surface_field(help: str, usual: str | None, *, example: str = "", source: str = ""):
    """Return a field for a surface; `usual` is the name in the library of the one that it has by default."""
    default = None if usual is None else Surface(name=usual)
    return special("surface", help, default, example=example or usual, source=source)
