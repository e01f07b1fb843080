"""Cautions about what feeds lamps: generators, batteries, and cables where people walk."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from previz.physics.safety import NO_SOURCE, Caution, few
from previz.stage.mains import on_mains

if TYPE_CHECKING:
    from previz.scene.scene import Scene

MONOXIDE_LIMIT = 50.0
"""Carbon monoxide, 8 h mean. [ppm]  Source: 29 CFR 1910.1000 Z-1 (from memory)."""

EXHAUST, CROSSED, CHARGED = 3, 6, 8
"""How urgent a generator is, cables across ways, and batteries."""


def feed_cautions(scene: Scene) -> Iterator[Caution]:
    """Yield the caution for a generator that feeds lamps, and the one for lamps that batteries feed."""
    # Mains without the field have none.
    generator = getattr(scene.mains, "generator", None)
    if generator is not None and any(on_mains(light) for light in scene.lights):
        yield generator_caution(getattr(generator, "volt_amperes", None))
    names = tuple(light.name for light in scene.lights if light.on and not light.mains and not light.flame)
    if names:
        yield battery_caution(names)


def generator_caution(volt_amperes: float | None = None) -> Caution:
    """Return the caution for a generator of a rating [VA]; None where that is not known."""
    of = "" if not volt_amperes else f" of {volt_amperes / 1000:.3g} kVA"
    source = "29 CFR 1910.1000, from memory"
    return Caution(
        "generator", "a generator",
        f"Generator{of}: outside, down wind of doors and air intakes: its exhaust kills unnoticed; earthed "
        "by a licensed electrician",
        f"Generator{of}. It runs outside only, in no tent, bay or doorway, and down wind of doors, windows "
        "and air intakes: carbon monoxide has no smell. Have an alarm for it where people work near; the "
        f"limit is {MONOXIDE_LIMIT:g} ppm over 8 h, and headache and dizziness mean out at once. Earth, "
        "the bond of neutral and earth, and the RCDs behind it are a licensed electrician's. Refuel it "
        "stopped and cool, with an extinguisher at hand, keep fuel away from lamps, and fence it off. "
        f"Local rules decide. Source: {source}.",
        source, EXHAUST, ("generator",), volt_amperes or 0.0)


def battery_caution(names: Sequence[str]) -> Caution:
    """Return the caution for lamps that batteries feed."""
    source = "UN 38.3, from memory"
    return Caution(
        "battery", "batteries", f"Batteries: {few(names)}: charge them watched, a hurt one goes outside",
        f"Batteries: {', '.join(names)}. Charge them by their own charger, on what does not burn and with "
        "somebody there; a lithium battery that is swollen, dropped, wet or hot goes outside and is not "
        "used. Cover the poles when they travel: carriers and airlines limit lithium batteries by "
        "watt-hours and want them of a tested type (UN 38.3). A vehicle's battery is fused next to its "
        f"pole, and its engine runs in no closed space. Maker and carrier decide. Source: {source}.",
        source, CHARGED, tuple(names))


def cable_caution(crossings: Sequence[str]) -> Caution:
    """Return the caution for cables across ways.

    Parameters
    ----------
    crossings : sequence of str
        What is crossed, as a crew says it: 'the door', 'clerk's way to window'.

    Raises
    ------
    ValueError
        Nothing is crossed.
    """
    if not crossings:
        raise ValueError("cables that cross nothing need no caution")
    return Caution(
        "cables", "cables across ways",
        f"Cables cross {few(crossings)}: a ramp, or over the top; nothing loose underfoot",
        f"Cables cross {', '.join(crossings)}. Lead them round or over the top where that can be; else "
        "under a ramp, or a mat that is taped all along, and light it. Keep ways out free and doors able "
        "to shut, never through a fire door that is wedged; no joint where people walk or where it can get "
        "wet, no coil left wound under load, and slack coiled at the lamp's stand. The venue and whoever "
        f"is in charge of safety decide. Source: {NO_SOURCE}.",
        NO_SOURCE, CROSSED, tuple(crossings), float(len(crossings)))
