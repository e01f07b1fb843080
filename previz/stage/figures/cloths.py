"""What the clothes of a stand-in figure are made of: cloth by garment, buttons, buckles, leather."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np

from previz.scene.surface import Surface as Written
from previz.scene.wear import GARMENTS
from previz.stage.figures.wardrobe.outfit import main_garments
from previz.stage.records import Surface
from previz.stage.surfaces import GLOSS_F0, ONES, SurfaceRegistry

if TYPE_CHECKING:
    from previz.scene.figure import Figure
    from previz.stage.figures.build import Part

NAPPED = {"wool": 0.55, "black velvet": 0.35, "grey cloth": 0.6, "red cloth": 0.5}
"""Cloth of the library whose fibres stand up -> their spread. Common practice, no source. [1]"""

KNITTED = ("jumper", "scarf", "wool hat", "stockings")
"""Garments that are knitted of the yarn of their cloth."""

DARKER = 0.6
"""Reflectance of what is worn on the legs over that of the cloth above. Common practice, no source. [1]"""

STUFFS = {
    "buttons": Surface("horn buttons", 0.06 * ONES, 0 * ONES, GLOSS_F0 * ONES, 1.0, 0.18),
    "leather": Surface(
        "belt leather", np.linspace(0.02, 0.06, len(ONES)), 0 * ONES, GLOSS_F0 * ONES, 0.8, 0.32
    ),
    "soles": Surface("rubber soles", 0.025 * ONES, 0 * ONES, GLOSS_F0 * ONES, 0.3, 0.5),
    "laces": Surface("laces", 0.03 * ONES, 0 * ONES, 0 * ONES),
}
"""Small things -> their surface; metal is of the library's brass. Common practice, no source."""


class Cloths:
    """Surfaces of one figure's clothes.

    Parameters
    ----------
    figure : Figure
    outfit : tuple of Wear
        As the built figure has it.
    registry : SurfaceRegistry
    """

    def __init__(self, figure: Figure, outfit, registry: SurfaceRegistry):
        self.figure, self.outfit, self.registry = figure, outfit, registry
        self.upper, self.lower = main_garments(outfit)
        self.written = {each.kind: each.cloth for each in figure.wears or () if each.cloth is not None}
        said = "clothing" in figure.places or figure.clothing != Written(name="grey cloth")
        self.clothing = figure.clothing if said else None
        self.kept: dict[tuple[int, str], str] = {}

    def of(self, part: Part) -> str:
        """Return the name of the surface of one part of the clothes."""
        key = part.garment, part.stuff
        if key not in self.kept:
            self.kept[key] = self._surface(*key)
        return self.kept[key]

    def _surface(self, garment, stuff):
        if stuff == "metal":
            return self.registry.library("brass")
        if stuff in STUFFS:
            return self.registry.add(STUFFS[stuff])
        if stuff == "trim":
            return self.registry.of(Written(name="white cotton"))
        return self._cloth(garment)

    def _cloth(self, garment):
        """Return the cloth of a garment: its own, the figure's, or the usual one."""
        kind = self.outfit[garment].kind
        own = self.written.get(kind)
        if own is not None:
            return self._napped(own, kind)
        if self.clothing is not None and garment == self.upper:
            return self._napped(self.clothing, kind)
        if self.clothing is not None and garment == self.lower:
            return self._napped(self.clothing, kind, DARKER)
        if kind == "stockings":
            return self._napped(Written(name="wool", reflectance=0.035), kind)
        return self._napped(GARMENTS[kind].usual, kind)

    def _napped(self, record, kind, darker=1.0):
        """Keep a surface, knitted where the garment is, with the sheen of its fibres."""
        plain = record.pattern is None and not record.pictures
        if kind in KNITTED and plain and record.name in ("wool", "grey cloth", "white cotton", None):
            size = {"stockings": 0.0015, "jumper": 0.0045}.get(kind, 0.006)
            record = dataclasses.replace(record, pattern="knit", pattern_size=size)
        name = self.registry.of(record)
        made = self.registry.surfaces[name]
        spread = NAPPED.get(record.name or "")
        changes = {}
        if darker != 1.0:
            changes = {"name": f"{made.name}, darker", "reflectance": made.reflectance * darker}
        if spread is not None and made.fuzz is None and record.gloss is None and record.roughness is None:
            # Fibres shine in the colour of their dye, and whitish at their tips.
            sheen = np.clip(0.05 + 0.6 * made.reflectance, 0, 0.5)
            changes |= {"fuzz": spread, "specular": sheen, "gloss": 1.0}
        if record.name == "satin" and made.across is None:
            changes |= {"across": 0.12, "roughness": 0.38, "gloss": 0.9}
        if not changes:
            return name
        new = self.registry.add(dataclasses.replace(made, **{"name": f"{made.name}, worn", **changes}))
        self.registry.along[new] = self.registry.along.get(name, True)
        return new
