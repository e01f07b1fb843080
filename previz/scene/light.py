"""Every kind of lamp by name.

A kind is a record in one of `MODULES` and a function in `previz.stage.lights` that builds it; all else
follows from the two.
"""

from __future__ import annotations

from previz.scene import beam_lamps, glowing_lamps, round_lamps, soft_lamps
from previz.scene.accessories import BarnDoors, EggCrate, ShutterCut, Snoot
from previz.scene.beam_lamps import (
    DaylightLamp,
    Ellipsoidal,
    Fresnel,
    Headlamp,
    OpenFace,
    ParallelBeam,
    Spot,
)
from previz.scene.glowing_lamps import Backdrop, Glow, Screen, Sign
from previz.scene.lamp import SPECTRA, Consumption, Light, Output, OwnSpectrum
from previz.scene.round_lamps import Bulb, Candle, Fire, LanternBall, Practical, Shade
from previz.scene.soft_lamps import OverheadSoft, Panel, SmallBox, SoftBox, Tube

MODULES = (soft_lamps, round_lamps, beam_lamps, glowing_lamps)

LIGHTS: dict[str, type[Light]] = {
    each.kind: each
    for module in MODULES
    for each in vars(module).values()
    if isinstance(each, type) and each.__module__ == module.__name__ and "kind" in vars(each)
}
"""Every kind of lamp by name, in the order of their definition."""

ACCESSORIES = (Shade, BarnDoors, Snoot, ShutterCut, EggCrate)
"""What some lamps have on them."""

__all__ = [
    "ACCESSORIES", "LIGHTS", "SPECTRA", "Backdrop", "BarnDoors", "Bulb", "Candle", "Consumption",
    "DaylightLamp", "EggCrate", "Ellipsoidal", "Fire", "Fresnel", "Glow", "Headlamp", "LanternBall",
    "Light", "OpenFace", "Output", "OverheadSoft", "OwnSpectrum", "Panel", "ParallelBeam",
    "Practical", "Screen", "Shade", "ShutterCut", "Sign", "SmallBox", "Snoot", "SoftBox", "Spot", "Tube",
]  # fmt: skip
