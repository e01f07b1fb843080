"""The library of surfaces: what a set is built of, painted with, and lit by.

Each entry has a reflectance spectrum scaled to a luminous reflectance under D65, a share of gloss
coat with its roughness, and where the figures come from. A metal's spectrum is its reflectance at
square incidence; everything else's is the albedo of its diffuse part. Spectral shapes are drawn
by hand through the knots (common practice, no source) unless the entry says otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.lamps import illuminant
from previz.physics.skin import luminance_reflectance
from previz.physics.spectra import WAVELENGTHS_NM, resample

COMMON = "common practice, no source"
HANDBOOK = (
    "reflectance tables of lighting handbooks (from memory); shape common practice, no source"
)
OPTICAL = "optical constants of the metal (from memory)"
DEFINED = "by definition"
SHEET = "set practice for grip materials (common practice, no source)"
TABLE = (
    "table of reflection factors in a public building encyclopaedia (read; {} %); shape common "
    "practice, no source"
)
CONSTANTS = (
    "Fresnel's equations on optical constants of {} in public tables that an open renderer ships "
    "(read)"
)


@dataclass(frozen=True, eq=False)
class Material:
    """One surface of the library.

    Parameters
    ----------
    name : str
        What a scene calls it.
    reflectance : float array, shape (81,)
        Diffuse albedo; for a metal, reflectance at square incidence. [1]
    gloss : float
        Share of the surface that carries a clear coat, 0 to 1. [1]
    roughness : float
        GGX width of the coat, or of the metal. [1]
    metal : bool
        True where all light is mirrored and none scattered from within.
    source : str
        Where the figures come from.
    index : float
        Refractive index of the coat. [1]
    transmission : float array, shape (81,), or None
        Albedo of the diffuse part that goes through; None for anything opaque. [1]
    """

    name: str
    reflectance: np.ndarray
    gloss: float
    roughness: float
    metal: bool
    source: str
    index: float = 1.5
    transmission: np.ndarray | None = None


_KNOTS_NM = (400.0, 450.0, 500.0, 550.0, 600.0, 650.0, 700.0)

# Relative reflectance at the knots above.
_FLAT = (1, 1, 1, 1, 1, 1, 1)
_OFF_WHITE = (0.86, 0.97, 1.00, 1.00, 1.00, 1.00, 1.00)
_TITANIUM_WHITE = (0.55, 0.97, 1.00, 1.00, 1.00, 0.99, 0.98)
_CREAM = (0.55, 0.72, 0.88, 1.00, 1.05, 1.07, 1.08)
_WARM_CLOTH = (0.62, 0.78, 0.90, 1.00, 1.06, 1.10, 1.12)
_PALE_WOOD = (0.38, 0.55, 0.75, 0.97, 1.18, 1.32, 1.42)
_DARK_WOOD = (0.45, 0.55, 0.72, 0.95, 1.25, 1.50, 1.75)
_BRICK = (0.38, 0.42, 0.52, 0.82, 1.55, 1.90, 2.05)
_RUST = (0.40, 0.42, 0.52, 0.85, 1.55, 1.85, 2.05)
_STONE = (0.75, 0.85, 0.94, 1.00, 1.04, 1.06, 1.07)
_GREEN_GREY = (0.74, 0.86, 0.99, 1.06, 0.98, 0.92, 0.94)
_LEAF = (0.42, 0.44, 0.62, 1.32, 0.86, 0.60, 2.20)
_BROWN = (0.45, 0.50, 0.62, 0.92, 1.38, 1.70, 1.95)

_LIGHT_GREEN = (0.62, 0.78, 1.02, 1.15, 0.92, 0.74, 0.76)
_DARK_GREEN = (0.45, 0.55, 1.15, 1.35, 0.70, 0.45, 0.55)
_BLUE = (1.80, 2.30, 1.60, 0.85, 0.55, 0.50, 0.60)
_RED = (0.35, 0.35, 0.38, 0.55, 2.00, 3.00, 3.30)
_YELLOW = (0.22, 0.30, 0.72, 1.10, 1.18, 1.20, 1.21)
_SAND = (0.45, 0.60, 0.80, 1.00, 1.16, 1.25, 1.30)
_MOSS = (0.35, 0.38, 0.70, 1.25, 0.98, 0.80, 1.40)

# name: (relative shape, luminous reflectance, gloss, roughness, source)
_DIELECTRICS = {
    "white paint": (_TITANIUM_WHITE, 0.82, 0.10, 0.50, SHEET),
    "cream paint": (_CREAM, 0.70, 0.10, 0.50, HANDBOOK),
    "grey paint": (_FLAT, 0.25, 0.10, 0.50, COMMON),
    "black paint": (_FLAT, 0.045, 0.10, 0.50, COMMON),
    "dark oak": (_DARK_WOOD, 0.12, 0.50, 0.30, HANDBOOK),
    "pine": (_PALE_WOOD, 0.45, 0.10, 0.45, HANDBOOK),
    "plywood": (_PALE_WOOD, 0.50, 0.05, 0.50, COMMON),
    "brick": (_BRICK, 0.20, 0.00, 0.70, HANDBOOK),
    "concrete": (_STONE, 0.32, 0.00, 0.60, HANDBOOK),
    "plaster": (_OFF_WHITE, 0.80, 0.00, 0.60, HANDBOOK),
    "linoleum": (_GREEN_GREY, 0.22, 0.60, 0.25, COMMON),
    "white card": (_OFF_WHITE, 0.85, 0.00, 0.50, SHEET),
    "foam board": (_TITANIUM_WHITE, 0.85, 0.10, 0.45, SHEET),
    "muslin": (_OFF_WHITE, 0.75, 0.00, 0.80, SHEET),
    "unbleached muslin": (_WARM_CLOTH, 0.65, 0.00, 0.80, SHEET),
    "black cloth": (_FLAT, 0.03, 0.00, 0.80, SHEET),
    "grey cloth": (_FLAT, 0.20, 0.00, 0.80, COMMON),
    "wool": (_STONE, 0.07, 0.00, 0.90, COMMON),
    "leather": (_BROWN, 0.10, 0.50, 0.35, COMMON),
    "canvas": (_WARM_CLOTH, 0.50, 0.00, 0.80, COMMON),
    "grass": (_LEAF, 0.09, 0.05, 0.50, HANDBOOK),
    "gravel": (_STONE, 0.22, 0.00, 0.70, HANDBOOK),
    "asphalt": (_STONE, 0.08, 0.05, 0.50, HANDBOOK),
    "snow": (_FLAT, 0.85, 0.00, 0.50, HANDBOOK),
    "grey card": (_FLAT, 0.18, 0.00, 0.60, DEFINED),
    "white tile": (_OFF_WHITE, 0.78, 1.00, 0.05, COMMON),
    "glass": (_FLAT, 0.02, 1.00, 0.00, "clear pane with dark behind it; " + COMMON),
    "rust": (_RUST, 0.11, 0.00, 0.80, COMMON),
    "soot": (_FLAT, 0.025, 0.00, 0.90, COMMON),
    "gloss white paint": (_TITANIUM_WHITE, 0.80, 1.00, 0.08, TABLE.format("white 75 to 85")),
    "light green paint": (_LIGHT_GREEN, 0.50, 0.30, 0.30, TABLE.format("45 to 55")),
    "dark green paint": (_DARK_GREEN, 0.17, 0.50, 0.25, TABLE.format("15 to 20")),
    "dark blue paint": (_BLUE, 0.17, 0.50, 0.25, TABLE.format("15 to 20")),
    "dark red paint": (_RED, 0.17, 0.50, 0.25, TABLE.format("15 to 20")),
    "yellow paint": (_YELLOW, 0.65, 0.30, 0.30, TABLE.format("light yellow 60 to 70")),
    "brown paint": (_BROWN, 0.25, 0.50, 0.25, TABLE.format("20 to 30")),
    "white enamel": (_OFF_WHITE, 0.70, 1.00, 0.05, TABLE.format("65 to 75")),
    "light oak": (_PALE_WOOD, 0.30, 0.40, 0.30, TABLE.format("light polished 25 to 35")),
    "walnut": (_DARK_WOOD, 0.13, 0.40, 0.30, HANDBOOK),
    "beech": (_PALE_WOOD, 0.50, 0.30, 0.35, HANDBOOK),
    "mahogany": (_BROWN, 0.10, 0.70, 0.20, COMMON),
    "old timber": (_STONE, 0.18, 0.00, 0.80, COMMON),
    "cork": (_PALE_WOOD, 0.25, 0.05, 0.60, COMMON),
    "dark brick": (_BRICK, 0.13, 0.00, 0.70, TABLE.format("red 10 to 15")),
    "yellow brick": (_SAND, 0.35, 0.00, 0.70, COMMON),
    "rough concrete": (_STONE, 0.25, 0.00, 0.70, TABLE.format("rough 20 to 30")),
    "wet concrete": (_STONE, 0.14, 0.50, 0.20, COMMON),
    "grey plaster": (_STONE, 0.42, 0.00, 0.60, TABLE.format("light 40 to 45")),
    "dark plaster": (_STONE, 0.20, 0.00, 0.60, TABLE.format("dark 15 to 25")),
    "granite": (_STONE, 0.22, 0.40, 0.25, TABLE.format("20 to 25")),
    "limestone": (_SAND, 0.45, 0.00, 0.60, TABLE.format("35 to 55")),
    "sandstone": (_SAND, 0.30, 0.00, 0.70, TABLE.format("20 to 40")),
    "marble": (_OFF_WHITE, 0.50, 0.80, 0.10, TABLE.format("polished 30 to 70")),
    "roof slate": (_FLAT, 0.09, 0.20, 0.35, COMMON),
    "white cotton": (_OFF_WHITE, 0.75, 0.00, 0.80, COMMON),
    "linen": (_WARM_CLOTH, 0.55, 0.00, 0.80, COMMON),
    "denim": (_BLUE, 0.07, 0.00, 0.80, COMMON),
    "red cloth": (_RED, 0.10, 0.00, 0.80, COMMON),
    "hessian": (_SAND, 0.30, 0.00, 0.90, COMMON),
    "satin": (_OFF_WHITE, 0.60, 0.60, 0.28, COMMON),
    "black velvet": (_FLAT, 0.006, 0.00, 0.90, SHEET),
    "carpet": (_BROWN, 0.12, 0.00, 0.90, COMMON),
    "tarpaulin": (_DARK_GREEN, 0.09, 0.40, 0.30, COMMON),
    "black leather": (_FLAT, 0.035, 0.60, 0.30, COMMON),
    "tan leather": (_BROWN, 0.25, 0.50, 0.35, COMMON),
    "rubber": (_FLAT, 0.045, 0.20, 0.40, COMMON),
    "white paper": (_OFF_WHITE, 0.75, 0.00, 0.60, TABLE.format("white 70 to 80")),
    "newsprint": (_WARM_CLOTH, 0.55, 0.00, 0.70, COMMON),
    "cardboard": (_SAND, 0.33, 0.00, 0.70, COMMON),
    "black tile": (_FLAT, 0.03, 1.00, 0.05, COMMON),
    "green tile": (_DARK_GREEN, 0.18, 1.00, 0.05, COMMON),
    "terracotta tile": (_BRICK, 0.22, 0.10, 0.50, COMMON),
    "porcelain": (_OFF_WHITE, 0.75, 1.00, 0.05, COMMON),
    "thin glass": (_FLAT, 0.02, 1.00, 0.00, "clear pane with dark behind it; " + COMMON),
    "water": (_FLAT, 0.02, 1.00, 0.00, "index 1.333, from memory; " + COMMON),
    "wet asphalt": (_STONE, 0.05, 0.70, 0.12, COMMON),
    "leaves": (_LEAF, 0.08, 0.40, 0.35, HANDBOOK),
    "ivy": (_LEAF, 0.05, 0.60, 0.25, COMMON),
    "dry grass": (_SAND, 0.22, 0.05, 0.50, COMMON),
    "moss": (_MOSS, 0.07, 0.00, 0.90, COMMON),
    "bark": (_DARK_WOOD, 0.10, 0.00, 0.90, COMMON),
    "soil": (_BROWN, 0.09, 0.00, 0.90, HANDBOOK),
    "dry sand": (_SAND, 0.35, 0.00, 0.80, HANDBOOK),
    "ballast": (_STONE, 0.16, 0.00, 0.80, COMMON),
    "coal": (_FLAT, 0.035, 0.40, 0.25, COMMON),
    "opal glass": (_OFF_WHITE, 0.45, 1.00, 0.05, COMMON),
    "tracing paper": (_OFF_WHITE, 0.35, 0.00, 0.60, COMMON),
    "candle wax": (_CREAM, 0.55, 0.60, 0.20, COMMON),
}

_INDICES = {"water": 1.333}
"""Refractive index of a coat that is not varnish, polish or glaze of index 1.5. [1]"""

_THROUGH = {"opal glass": 0.40, "tracing paper": 0.50, "leaves": 0.06, "ivy": 0.03,
            "candle wax": 0.25}
"""Luminous transmission of what lets light through, in the colour of its reflectance. [1]
Common practice, no source; of leaves from memory: about as much as they reflect."""

# name: (reflectance at square incidence at the knots, roughness, source)
_METALS = {
    "steel": ((0.50, 0.53, 0.55, 0.57, 0.58, 0.59, 0.60), 0.35, OPTICAL),
    "brass": ((0.45, 0.50, 0.70, 0.83, 0.87, 0.89, 0.90), 0.25, OPTICAL),
    "aluminium": ((0.87, 0.87, 0.87, 0.86, 0.86, 0.85, 0.84), 0.35, OPTICAL),
    "chrome": ((0.56, 0.55, 0.55, 0.55, 0.55, 0.56, 0.57), 0.03, OPTICAL),
    "silver board": ((0.78, 0.80, 0.81, 0.82, 0.82, 0.82, 0.82), 0.30, SHEET),
    "mirror": ((0.84, 0.87, 0.88, 0.88, 0.88, 0.87, 0.86), 0.00, OPTICAL),
    "hard silver": ((0.84, 0.87, 0.88, 0.88, 0.88, 0.87, 0.86), 0.00, SHEET),
    "soft silver": ((0.76, 0.79, 0.80, 0.81, 0.81, 0.81, 0.81), 0.22, SHEET),
    "polished aluminium": ((0.92, 0.92, 0.92, 0.92, 0.92, 0.91, 0.91), 0.05,
                           CONSTANTS.format("aluminium")),
    "copper": ((0.49, 0.55, 0.59, 0.63, 0.85, 0.94, 0.95), 0.20, CONSTANTS.format("copper")),
    "gold leaf": ((0.39, 0.39, 0.51, 0.85, 0.92, 0.94, 0.96), 0.15, CONSTANTS.format("gold")),
    "polished silver": ((0.87, 0.92, 0.95, 0.96, 0.97, 0.97, 0.97), 0.10, CONSTANTS.format("silver")),
    "nickel": ((0.48, 0.53, 0.58, 0.61, 0.64, 0.66, 0.67), 0.08, CONSTANTS.format("nickel")),
    "stainless steel": ((0.52, 0.55, 0.57, 0.58, 0.59, 0.60, 0.61), 0.18, OPTICAL),
    "galvanised steel": ((0.52, 0.54, 0.55, 0.56, 0.56, 0.56, 0.56), 0.40, OPTICAL),
    "cast iron": ((0.30, 0.31, 0.32, 0.33, 0.34, 0.35, 0.36), 0.50, COMMON),
    "bronze": ((0.34, 0.38, 0.46, 0.56, 0.66, 0.72, 0.75), 0.25, OPTICAL),
}


def _scaled(shape: Sequence[float], luminous: float) -> FloatArray:
    curve = resample(_KNOTS_NM, np.array(shape, dtype=float))
    return curve * (luminous / luminance_reflectance(curve, illuminant("D65")))


def _library() -> dict[str, Material]:
    entries = {}
    for name, (shape, luminous, gloss, roughness, source) in _DIELECTRICS.items():
        curve = np.full(WAVELENGTHS_NM.shape, luminous) if shape is _FLAT else _scaled(
            shape, luminous
        )  # fmt: skip
        through = _THROUGH.get(name)
        entries[name] = Material(
            name, curve, gloss, roughness, False, source, _INDICES.get(name, 1.5),
            None if through is None else curve * (through / luminous),
        )  # fmt: skip
    for name, (values, roughness, source) in _METALS.items():
        curve = resample(_KNOTS_NM, np.array(values, dtype=float))
        entries[name] = Material(name, curve, 1.0, roughness, True, source)
    for entry in entries.values():
        entry.reflectance.setflags(write=False)
        if entry.transmission is not None:
            entry.transmission.setflags(write=False)
    return entries


MATERIALS = _library()
"""Name -> Material; spectra are read-only."""


def material(name: str) -> Material:
    """Return a surface of the library.

    Parameters
    ----------
    name : str
        A key of `MATERIALS`.

    Returns
    -------
    Material

    Raises
    ------
    ValueError
        There is no such surface; the message lists those there are.
    """
    if name not in MATERIALS:
        raise ValueError(f"there is no surface '{name}'; known are: {', '.join(MATERIALS)}")
    return MATERIALS[name]
