"""How much light a lamp's source can give for each watt, by what makes the light."""

from __future__ import annotations

from typing import TYPE_CHECKING

from previz.physics.lamps import EFFICACY_LM_PER_W
from previz.physics.optical_hazard import black_body_efficacy

if TYPE_CHECKING:
    from previz.scene.light import Light

CLASSES = {
    "tungsten": "tungsten halogen", "metal halide": "metal halide", "fluorescent": "fluorescent",
    "led": "led", "two-colour led": "led", "multi-emitter led": "led",
}  # fmt: skip
"""Spectrum of a lamp to its class in the table of efficacies."""

BETTER_THAN_BLACK = 1.3
"""Most that tungsten's efficacy exceeds a black body's of the same colour, as it gives less infrared
(from memory). [1]"""


def efficacy_range(light: Light) -> tuple[str, float, float] | None:
    """Return what sort of source a lamp has, and the least and most that such ones give. [lm/W]

    None where its spectrum does not say what makes the light.
    """
    own = light.spectrum
    if light.flame and own == "blackbody":
        return "flame", *EFFICACY_LM_PER_W["candle"]
    if not isinstance(own, str):
        code = own.cie or ""
        own = "led" if own.is_two_colour or code.startswith("LED") else (
            "fluorescent" if code.startswith("FL") else "")
    name = CLASSES.get(own)
    if name is None:
        return None
    low, high = EFFICACY_LM_PER_W[name]
    if own != "tungsten" or light.cct is None:
        return name, low, high
    # A cool filament gives less: the warm bulb of a practical half of what a film lamp does.
    low = EFFICACY_LM_PER_W["household tungsten"][0]
    return (f"{light.cct:.0f} K tungsten", low,
            min(high, BETTER_THAN_BLACK * black_body_efficacy(light.cct)))
