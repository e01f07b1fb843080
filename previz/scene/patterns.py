"""Patterns as a crew names them: what each is, what its size means, and which surface has which by itself."""

from __future__ import annotations

from dataclasses import dataclass

PLAIN = "plain"
"""The word that leaves a surface as it is."""


@dataclass(frozen=True)
class PatternWord:
    """A kind of pattern as it is written.

    Parameters
    ----------
    help : str
        What it is.
    sized : str
        What its size is of.
    size : float
        Usual size. [m]  Common practice, no source, unless the drawing says otherwise.
    second : str
        Surface of the library that shows beside the surface's own where no `second` is written; '' where
        nothing does.
    along : bool
        True where it runs along a thing's longest side, as grain does; False where it stands upright, as
        courses do.
    wears : str
        How it shows wear: 'off' where it comes off in patches, 'down' where it is rubbed; '' where it does not.
    """

    help: str
    sized: str
    size: float
    second: str = ""
    along: bool = False
    wears: str = ""


PATTERNS: dict[str, PatternWord] = {
    "planks": PatternWord("Floor boards with staggered ends.", "a board's width", 0.12, along=True, wears="down"),
    "parquet": PatternWord("Blocks laid as herringbone.", "a block's width", 0.07, along=True, wears="down"),
    "match boarding": PatternWord("Upright tongued boards with grooves.", "a board's width", 0.10, wears="down"),
    "grain": PatternWord("The figure of wide boards, as on furniture.", "the figure's width", 0.4,
                         along=True, wears="down"),
    "brick": PatternWord("Stretcher bond in recessed mortar.", "a brick's length", 0.215, "grey plaster"),
    "tiles": PatternWord("Square glazed tiles with grout.", "a tile's side", 0.15, "concrete"),
    "offset tiles": PatternWord("Long glazed tiles with a bevel, each course half a tile aside.",
                                "a tile's length", 0.15, "concrete"),
    "slabs": PatternWord("Paving slabs.", "a slab's side", 0.45, "soil"),
    "setts": PatternWord("Squared paving stones in courses.", "a course's width", 0.10, "soil"),
    "cobbles": PatternWord("Round paving stones.", "a stone's width", 0.12, "soil"),
    "roller": PatternWord("Paint rolled on.", "a bump's width", 0.004, wears="off"),
    "brush strokes": PatternWord("Paint brushed on.", "a stroke's width", 0.05, along=True, wears="off"),
    "worn paint": PatternWord("Paint of which a fifth has come off.", "a patch's width", 0.5, "old timber",
                              wears="off"),
    "plaster": PatternWord("Sweeps of a trowel.", "a sweep's width", 0.30),
    "striped paper": PatternWord("Wallpaper in upright stripes.", "a stripe's width", 0.05, "cream paint",
                                 wears="off"),
    "figured paper": PatternWord("Wallpaper with a small flower in a trellis.", "the figure's width", 0.12,
                                 "cream paint", wears="off"),
    "concrete": PatternWord("Concrete with marks of its shuttering.", "a board's width", 0.15),
    "plain weave": PatternWord("Cloth, each thread over one and under one.", "a thread's width", 0.0008, along=True),
    "twill": PatternWord("Cloth with ribs aslant.", "a thread's width", 0.0008, along=True),
    "herringbone": PatternWord("Twill whose ribs turn.", "a thread's width", 0.001),
    "knit": PatternWord("Knitted ribs.", "a stitch's width", 0.004),
    "check": PatternWord("Cloth in bands that cross.", "a band's width", 0.03, "white cotton"),
    "stripes": PatternWord("Cloth in upright stripes.", "a stripe's width", 0.02, "white cotton"),
    "carpet": PatternWord("Tufts of cut pile.", "a tuft's width", 0.005),
    "leather grain": PatternWord("The grain of leather.", "a dome's width", 0.002),
    "brushed": PatternWord("Metal brushed one way.", "a scratch's length", 0.08, along=True),
    "sheet metal": PatternWord("Sheet that is nowhere quite flat.", "from dent to dent", 0.2),
    "spangle": PatternWord("Crystals of a zinc coat.", "a crystal's width", 0.012),
    "rust": PatternWord("Iron that is rusted through.", "a blotch's width", 0.08),
    "rust streaks": PatternWord("Spots of rust with runs below.", "a run's length", 0.4, "rust"),
    "flecks": PatternWord("Flecks rolled out, as in linoleum.", "a fleck's length", 0.025, along=True, wears="down"),
    "specks": PatternWord("Grains, as of granite and terrazzo.", "a grain's width", 0.006),
    "veins": PatternWord("Clouds and veins, as of marble.", "from vein to vein", 0.35),
    "rough stone": PatternWord("Uneven stone.", "a lump's width", 0.06),
    "gravel": PatternWord("Loose stones.", "a stone's width", 0.02),
    "asphalt": PatternWord("Stone rolled in tar.", "a stone's width", 0.008),
    "grass": PatternWord("Turf.", "a tuft's width", 0.04),
    "earth": PatternWord("Bare ground.", "a clod's width", 0.03),
    "snow": PatternWord("Snow laid by wind.", "from swell to swell", 0.4),
    "ripples": PatternWord("Small waves on water.", "from crest to crest", 0.10),
}
"""Words for patterns; `stage.patterns` draws each."""

_USUAL: dict[str, tuple[str | tuple[str, float], ...]] = {
    "grain": ("dark oak", "pine", "light oak", "walnut", "beech", "mahogany", "plywood", ("old timber", 0.3)),
    "brick": ("brick", "dark brick", "yellow brick"),
    "tiles": ("white tile", "black tile", "green tile"),
    "slabs": (("terracotta tile", 0.20),),
    "roller": ("white paint", "cream paint", "grey paint", "black paint", "light green paint"),
    "brush strokes": ("gloss white paint", "dark green paint", "dark blue paint", "dark red paint", "yellow paint",
                      "brown paint"),
    "plaster": ("plaster", "grey plaster", "dark plaster"),
    "concrete": ("concrete", "wet concrete"),
    "rough stone": (("rough concrete", 0.03), ("limestone", 0.03), ("sandstone", 0.04), ("bark", 0.04),
                    ("cork", 0.006), ("coal", 0.05), ("roof slate", 0.05), ("cast iron", 0.004),
                    ("soot", 0.02)),
    "plain weave": (("muslin", 0.0006), ("unbleached muslin", 0.0006), ("white cotton", 0.0005),
                    ("linen", 0.0007), ("canvas", 0.0011), ("grey cloth", 0.0008), ("hessian", 0.0025),
                    ("red cloth", 0.0006), ("tarpaulin", 0.0012)),
    "twill": (("denim", 0.0007), ("wool", 0.0012)),
    "carpet": ("carpet",),
    "leather grain": ("leather", "black leather", "tan leather"),
    "brushed": ("aluminium", "stainless steel"),
    "sheet metal": ("steel", "copper", ("brass", 0.08), ("bronze", 0.05)),
    "spangle": ("galvanised steel",),
    "rust": ("rust",),
    "flecks": ("linoleum",),
    "specks": (("granite", 0.005),),
    "veins": ("marble",),
    "gravel": ("gravel", ("ballast", 0.05)),
    "asphalt": ("asphalt", "wet asphalt"),
    "grass": ("grass", "dry grass", ("moss", 0.012)),
    "earth": ("soil", ("dry sand", 0.015)),
    "snow": ("snow",),
    "ripples": ("water",),
}

USUAL: dict[str, tuple[str, float]] = {
    (name if isinstance(name, str) else name[0]): (word, PATTERNS[word].size if isinstance(name, str) else name[1])
    for word, names in _USUAL.items() for name in names
}  # fmt: skip
"""Surface of the library -> the pattern that it shows by itself, and its size. [m]  Common practice, no source.

What is plain by itself is smooth (glass, mirrors, enamel, paper), or is hung as a tool of light."""

FLOORED = ("dark oak", "pine", "light oak", "walnut", "beech", "mahogany", "old timber")
"""Woods that a room's floor and walls are boarded with: there they show planks. Common practice, no source."""


def pattern_of(name: str | None, written: str | None, size: float | None, of_room: bool = False):
    """Return (word, size [m]) of a surface's pattern, or None where it is plain.

    Parameters
    ----------
    name : str or None
        Surface of the library that it starts from.
    written : str or None
        Word of a pattern.
    size : float or None
        [m]
    of_room : bool
        Whether a room's floor, ceiling or wall is made of it.
    """
    if written == PLAIN:
        return None
    usual = USUAL.get(name or "")
    if written is None and of_room and name in FLOORED:
        usual = "planks", PATTERNS["planks"].size
    if written is not None and (usual is None or usual[0] != written):
        usual = written, PATTERNS[written].size
    return usual if usual is None or size is None else (usual[0], size)
