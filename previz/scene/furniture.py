"""Kinds of furniture and dressing: their words, usual sizes, and the parts that they are made of.

A kind stands here as a row, and is built by the function of its word in `stage/furniture/`. Sizes
are across (x), deep (y, its back at +y) and high.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from previz.scene.surface import Surface

COMMON = "common practice, no source"
ISO_216 = "ISO 216, A4"
GREY = "grey paint"


@dataclass(frozen=True, eq=False)
class Kind:
    """One kind of piece.

    Parameters
    ----------
    help : str
        What it is.
    size : (float, float, float)
        Where none is written. [m]
    parts : mapping of str to Surface or None
        What it is made of, part by part; `surface` is of the first, and None means as that.
    solid : bool
        Whether it is a closed box, with no room inside for a camera or a lamp.
    opens : str
        What `open` opens, '' where nothing does.
    widest : float
        How far. [deg]
    holds : str
        What stands or lies on it, '' where nothing does.
    source : str
        Of the size.
    """

    help: str
    size: tuple[float, float, float]
    parts: Mapping[str, Surface | None]
    solid: bool = False
    opens: str = ""
    widest: float = 0.0
    holds: str = ""
    source: str = COMMON

    @property
    def main(self) -> str:
        """The part that `surface` is of."""
        return next(iter(self.parts))


def _kind(help: str, size: tuple[float, float, float], parts: Mapping[str, str | tuple[str, ...] | Surface],
          **more) -> Kind:
    """Return a kind, its parts' surfaces given as a name in the library, with a colour, or whole."""
    made: dict[str, Surface | None] = {}
    for part, given in parts.items():
        if isinstance(given, Surface):
            made[part] = given
            continue
        name, *shade = (given,) if isinstance(given, str) else given
        made[part] = None if not name else Surface(
            name=name, reflectance=shade[1] if len(shade) > 1 else None, colour=shade[0] if shade else None)
    return Kind(help, size, made, **more)


def tinted(red: float, green: float, blue: float) -> tuple[float, float, float]:
    """Return a colour in linear light, 0 to 1."""
    return red, green, blue


DUSK, BROWN = tinted(0.1, 0.12, 0.16), tinted(0.085, 0.035, 0.018)
RED, GREEN, BLUE = tinted(0.15, 0.035, 0.03), tinted(0.05, 0.08, 0.05), tinted(0.05, 0.062, 0.1)
TAN, BLACK, AMBER = tinted(0.3, 0.2, 0.1), tinted(0.03, 0.03, 0.03), tinted(0.9, 0.45, 0.12)

CLAY = Surface(colour=tinted(0.36, 0.14, 0.075), roughness=0.6)

_BINDINGS = {"red bindings": ("red cloth", RED), "green bindings": ("red cloth", GREEN),
             "blue bindings": ("red cloth", BLUE), "tan bindings": ("leather", TAN),
             "black bindings": ("leather", BLACK), "pages": ("newsprint",)}
_DOORS = {"opens": "its doors", "widest": 110.0, "solid": True, "holds": "things on its top"}

KINDS: dict[str, Kind] = {
    "table": _kind("A table on four legs.", (1.4, 0.8, 0.75), {"wood": GREY, "top": ""},
                   holds="things on its top"),
    "desk": _kind("A desk with drawers on its right and room for knees; one sits at its front.",
                  (1.4, 0.7, 0.74), {"wood": GREY, "handles": "brass"}, holds="things on its top"),
    "chair": _kind("A chair with slats in its back.", (0.45, 0.5, 0.88), {"wood": GREY, "seat": ""}),
    "bench": _kind("A bench of planks.", (1.4, 0.38, 0.45), {"wood": GREY, "iron": ""},
                   holds="who sits on it"),
    "stool": _kind("A stool on splayed legs.", (0.36, 0.36, 0.46), {"wood": GREY}, holds="who sits on it"),
    "shelf": _kind("An open shelf of four boards.", (0.9, 0.3, 1.8), {"wood": GREY},
                   holds="things on its boards"),
    "cabinet": _kind("A cabinet with two doors.", (0.8, 0.45, 1.0), {"wood": GREY, "handles": "brass"},
                     **_DOORS),
    "armchair": _kind("A stuffed armchair.", (0.8, 0.86, 0.86),
                      {"cover": "leather", "cushions": "", "piping": "", "feet": "walnut"}),
    "couch": _kind("A couch with loose cushions.", (1.95, 0.9, 0.82),
                   {"cover": "grey cloth", "cushions": "", "piping": "", "feet": "walnut"}),
    "bed": _kind("A single bed, made, its head at the back.", (0.96, 2.06, 0.95),
                 {"frame": "dark oak", "mattress": "canvas", "sheets": "white cotton",
                  "blanket": ("wool", DUSK)}),
    "counter": _kind("A counter with a panelled front.", (1.8, 0.65, 0.98),
                     {"body": "dark green paint", "top": "light oak"}, solid=True,
                     holds="things on its top"),
    "chest of drawers": _kind("A chest of four drawers.", (0.9, 0.46, 0.88),
                              {"wood": "walnut", "handles": "brass"}, solid=True,
                              holds="things on its top"),
    "dresser": _kind("A dresser: drawers and doors below, plates on racks above.", (1.2, 0.46, 1.95),
                     {"wood": "pine", "handles": "brass", "plates": "porcelain"}, opens="its doors",
                     widest=110.0, holds="things on its lower top"),
    "cupboard": _kind("A tall cupboard with two panelled doors.", (1.0, 0.48, 1.9),
                      {"wood": "gloss white paint", "handles": "brass"}, **_DOORS),
    "wardrobe": _kind("A wardrobe with a cornice and two doors.", (1.2, 0.6, 2.0),
                      {"wood": "mahogany", "handles": "brass"}, **_DOORS),
    "locker": _kind("A steel locker with vents.", (0.4, 0.5, 1.8),
                    {"steel": ("dark green paint",), "handles": "steel"}, **_DOORS),
    "bookcase": _kind("A bookcase full of books.", (0.9, 0.3, 1.9), {"wood": "walnut", **_BINDINGS}),
    "wall shelf": _kind("A board on two brackets.", (1.0, 0.22, 0.22),
                        {"board": "pine", "brackets": "cast iron"}, holds="things on its board"),
    "book": _kind("A book that lies.", (0.145, 0.21, 0.03), {"binding": ("red cloth", RED),
                                                             "pages": "newsprint"}),
    "books": _kind("A pile of books.", (0.26, 0.2, 0.18), dict(_BINDINGS)),
    "paper": _kind("A sheet of paper that lies, a little curled.", (0.21, 0.297, 0.008),
                   {"paper": "white paper"}, source=ISO_216),
    "papers": _kind("Loose sheets, one over the other.", (0.34, 0.4, 0.012),
                    {"paper": "white paper", "old paper": ("newsprint",)}),
    "stack of paper": _kind("A stack of paper, not quite even.", (0.22, 0.31, 0.07),
                            {"paper": "white paper"}, source=f"{ISO_216}, and what sticks out"),
    "ledger": _kind("A closed ledger.", (0.26, 0.36, 0.04),
                    {"binding": ("leather", BLACK), "pages": "newsprint", "corners": ("red cloth", RED)}),
    "open ledger": _kind("A ledger that lies open.", (0.54, 0.37, 0.045),
                         {"pages": "white paper", "binding": ("leather", BLACK)}),
    "newspaper": _kind("A folded newspaper.", (0.3, 0.4, 0.014), {"paper": "newsprint"}),
    "mug": _kind("A mug, its handle to the right.", (0.118, 0.085, 0.095), {"china": "white enamel"}),
    "cup": _kind("A cup on its saucer.", (0.15, 0.15, 0.075), {"china": "porcelain"}),
    "plate": _kind("A dinner plate.", (0.25, 0.25, 0.024), {"china": "porcelain"}, holds="food"),
    "bowl": _kind("A bowl.", (0.16, 0.16, 0.065), {"china": "porcelain"}),
    "teapot": _kind("A teapot, its spout to the right.", (0.25, 0.155, 0.15),
                    {"china": ("porcelain", BROWN), "knob": ""}),
    "jug": _kind("A jug, its handle to the right.", (0.18, 0.125, 0.2), {"china": "porcelain"}),
    "urn": _kind("A tea urn with a tap.", (0.34, 0.4, 0.56),
                 {"metal": "stainless steel", "tap": "brass", "grips": "black paint"}),
    "kettle": _kind("A kettle, its spout to the right.", (0.27, 0.19, 0.24),
                    {"metal": ("white enamel", BLUE), "grip": "walnut"}),
    "saucepan": _kind("A saucepan, its handle to the right.", (0.4, 0.2, 0.12),
                      {"metal": "aluminium", "grip": ("black paint",)}),
    "bottle": _kind("A glass bottle, empty.", (0.075, 0.075, 0.3), {"glass": "glass", "stopper": "cork"}),
    "tumbler": _kind("A drinking glass.", (0.075, 0.075, 0.1), {"glass": "glass"}),
    "wine glass": _kind("A glass on a stem.", (0.072, 0.072, 0.17), {"glass": "glass"}),
    "jar": _kind("A glass jar with a lid.", (0.09, 0.09, 0.15), {"glass": "glass", "lid": "brass"}),
    "plant": _kind("A plant in a pot: broad leaves, long blades or fronds, by its variant.",
                   (0.7, 0.7, 1.0), {"leaves": "leaves", "stems": ("moss",), "pot": CLAY,
                                     "soil": "soil"}),
    "radiator": _kind("A radiator of columns.", (1.0, 0.14, 0.68), {"iron": "cream paint", "valve": "brass"}),
    "panel radiator": _kind("A flat radiator with grooves.", (1.0, 0.1, 0.6),
                            {"steel": "gloss white paint", "valve": "brass"}),
    "stove": _kind("An iron stove, hollow for a fire, with a window of mica and a pipe.", (0.5, 0.56, 2.1),
                   {"iron": "black paint", "mica": ("opal glass", AMBER), "handles": "steel"},
                   opens="its door", widest=120.0, holds="a kettle"),
    "sink": _kind("A sink with a drainboard and taps, on legs.", (1.2, 0.55, 1.15),
                  {"basin": "white enamel", "stand": "gloss white paint", "taps": "chrome"}),
    "pipe run": _kind("Two pipes along a wall on clips.", (2.0, 0.09, 0.2),
                      {"pipe": "copper", "clips": "brass"}),
    "cable": _kind("A cable that hangs between its ends.", (2.0, 0.03, 0.3), {"cable": "rubber"}),
    "stairs": _kind("A straight flight, rising to the back, with a handrail.", (0.95, 2.7, 3.5),
                    {"wood": "pine", "handrail": "dark oak"}),
    "door": _kind("A panelled door in its frame, hinged at the left.", (0.98, 0.16, 2.1),
                  {"leaf": "gloss white paint", "frame": "", "handles": "brass"}, opens="its leaf",
                  widest=170.0),
    "clock": _kind("A round wall clock, ten past ten.", (0.36, 0.07, 0.36),
                   {"case": "mahogany", "dial": "white enamel", "hands": "black paint", "glass": "glass"}),
    "picture": _kind("A framed picture on the wall.", (0.62, 0.03, 0.48),
                     {"frame": "walnut", "mount": "white card", "picture": ("white card", GREEN)}),
    "notice board": _kind("A board with papers pinned to it.", (1.2, 0.04, 0.85),
                          {"board": "cork", "frame": "light oak", "papers": "white paper",
                           "old papers": ("newsprint",), "pins": ("dark red paint",)}),
    "coat hooks": _kind("Hooks on a board, with a coat and a bag.", (0.9, 0.3, 1.2),
                        {"board": "dark oak", "hooks": "brass", "coat": ("wool",), "bag": "canvas",
                         "strap": "leather"}),
    "crate": _kind("A crate of slats, open above.", (0.6, 0.4, 0.36), {"wood": "pine"},
                   holds="things in it"),
    "barrel": _kind("A barrel of staves.", (0.58, 0.58, 0.86), {"staves": "dark oak", "hoops": "rust"},
                    holds="things on its head"),
    "drum": _kind("A steel drum.", (0.58, 0.58, 0.88), {"steel": ("dark blue paint",)},
                  holds="things on its head"),
    "toolbox": _kind("A steel toolbox.", (0.5, 0.22, 0.27), {"steel": ("dark red paint",),
                                                              "handle": "steel"}),
    "tool board": _kind("Tools on a board.", (1.1, 0.07, 0.75),
                        {"board": "plywood", "steel": "steel", "grips": ("beech",)}),
    "sack": _kind("A sack, tied.", (0.5, 0.4, 0.75), {"sacking": "hessian", "string": ("hessian",)}),
    "suitcase": _kind("A suitcase that stands.", (0.64, 0.2, 0.46),
                      {"leather": "tan leather", "corners": ("leather",), "locks": "brass"}),
    "bucket": _kind("A bucket, its handle up.", (0.31, 0.3, 0.42), {"metal": "galvanised steel"}),
    "fire bucket": _kind("A red bucket of sand on its hook.", (0.3, 0.29, 0.46),
                         {"metal": "dark red paint", "sand": "dry sand", "hook": "cast iron"}),
    "broom": _kind("A broom that leans against what is behind it.", (0.36, 0.34, 1.38),
                   {"stick": "beech", "bristles": ("dry grass",)}),
    "signal lamp": _kind("The body of a hand signal lamp, its lens to the front.", (0.17, 0.2, 0.33),
                         {"body": "black paint", "lens": "thin glass", "brass": "brass"}),
}
"""Word -> kind; a kind's sizes are common practice unless it says otherwise."""

SOLID_KINDS = tuple(word for word, kind in KINDS.items() if kind.solid)
