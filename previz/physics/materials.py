"""The library of surfaces: what a set is built of, painted with, and lit by.

Each entry has a reflectance spectrum scaled to a luminous reflectance under D65, a share of gloss
coat with its roughness, and where the figures come from. A metal's spectrum is its reflectance at
square incidence; everything else's is the albedo of its diffuse part. Spectral shapes are drawn
by hand through the knots (common practice, no source) unless the entry says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
    """

    name: str
    reflectance: np.ndarray
    gloss: float
    roughness: float
    metal: bool
    source: str


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
    "tarmac": (_STONE, 0.08, 0.05, 0.50, HANDBOOK),
    "snow": (_FLAT, 0.85, 0.00, 0.50, HANDBOOK),
    "grey card": (_FLAT, 0.18, 0.00, 0.60, DEFINED),
    "white tile": (_OFF_WHITE, 0.78, 1.00, 0.05, COMMON),
    "glass": (_FLAT, 0.02, 1.00, 0.00, "clear pane with dark behind it; " + COMMON),
    "rust": (_RUST, 0.11, 0.00, 0.80, COMMON),
    "soot": (_FLAT, 0.025, 0.00, 0.90, COMMON),
}

# name: (reflectance at square incidence at the knots, roughness, source)
_METALS = {
    "steel": ((0.50, 0.53, 0.55, 0.57, 0.58, 0.59, 0.60), 0.35, OPTICAL),
    "brass": ((0.45, 0.50, 0.70, 0.83, 0.87, 0.89, 0.90), 0.25, OPTICAL),
    "aluminium": ((0.87, 0.87, 0.87, 0.86, 0.86, 0.85, 0.84), 0.35, OPTICAL),
    "chrome": ((0.56, 0.55, 0.55, 0.55, 0.55, 0.56, 0.57), 0.03, OPTICAL),
    "silver board": ((0.78, 0.80, 0.81, 0.82, 0.82, 0.82, 0.82), 0.30, SHEET),
    "mirror": ((0.84, 0.87, 0.88, 0.88, 0.88, 0.87, 0.86), 0.00, OPTICAL),
}


def _scaled(shape, luminous):
    curve = resample(_KNOTS_NM, np.array(shape, dtype=float))
    return curve * (luminous / luminance_reflectance(curve, illuminant("D65")))


def _library():
    entries = {}
    for name, (shape, luminous, gloss, roughness, source) in _DIELECTRICS.items():
        curve = np.full(WAVELENGTHS_NM.shape, luminous) if shape is _FLAT else _scaled(
            shape, luminous
        )  # fmt: skip
        entries[name] = Material(name, curve, gloss, roughness, False, source)
    for name, (values, roughness, source) in _METALS.items():
        curve = resample(_KNOTS_NM, np.array(values, dtype=float))
        entries[name] = Material(name, curve, 1.0, roughness, True, source)
    for entry in entries.values():
        entry.reflectance.setflags(write=False)
    return entries


MATERIALS = _library()
"""Name -> Material; spectra are read-only."""


def material(name):
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
