"""Every kind of lamp by name.

To add a kind: a record in one of the modules below, its line in `LIGHTS`, its line in
`presets.TYPICAL`, and its function in `stage.lights`.
"""

from __future__ import annotations

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
from previz.scene.lamp import SPECTRA, Consumption, Light, Output, OwnSpectrum
from previz.scene.round_lamps import Bulb, Candle, Fire, LanternBall, Practical, Shade
from previz.scene.soft_lamps import Backdrop, Glow, OverheadSoft, Panel, SmallBox, SoftBox, Tube

LIGHTS: dict[str, type[Light]] = {
    each.kind: each
    for each in (
        SoftBox, OverheadSoft, SmallBox, Panel, Tube, LanternBall, Bulb, Practical, Candle, Fire,
        Ellipsoidal, Fresnel, OpenFace, ParallelBeam, DaylightLamp, Headlamp, Backdrop, Glow,
    )
}  # fmt: skip
"""Every kind of lamp by name."""

ACCESSORIES = (Shade, BarnDoors, Snoot, ShutterCut, EggCrate)
"""What some lamps have on them."""

__all__ = [
    "ACCESSORIES", "LIGHTS", "SPECTRA", "Backdrop", "BarnDoors", "Bulb", "Candle", "Consumption",
    "DaylightLamp", "EggCrate", "Ellipsoidal", "Fire", "Fresnel", "Glow", "Headlamp", "LanternBall",
    "Light", "OpenFace", "Output", "OverheadSoft", "OwnSpectrum", "Panel", "ParallelBeam",
    "Practical", "Shade", "ShutterCut", "SmallBox", "Snoot", "SoftBox", "Spot", "Tube",
]  # fmt: skip
