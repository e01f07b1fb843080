"""What the lamps of a scene draw from the mains, circuit by circuit, and the caution about it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from previz.physics.mains import CONTINUOUS, Draw
from previz.physics.safety import Caution

if TYPE_CHECKING:
    from previz.scene.mains import Mains
    from previz.scene.scene import Scene

SOURCE = "NEC 210.20(A)"

OVERLOADED, WITHIN = 2, 9
"""How urgent a load is that its circuit does not hold, and one that it does."""


def on_mains(light) -> bool:
    """Return whether a lamp is lit and fed from the mains."""
    return light.on and light.dimmer > 0 and light.mains and not light.flame


def draws(scene: Scene, given: Mapping[str, tuple[float, float | None]]) -> list[Draw]:
    """Return what each lamp that gives light draws, by the lumens and watts of all lamps."""
    found = []
    for light in scene.lights:
        if on_mains(light):
            lumens, watts = given[light.name]
            spectrum = light.spectrum if isinstance(light.spectrum, str) else "led"
            found.append(Draw(light.name, light.watts if watts is None else watts, lumens, spectrum,
                              light.power_factor, light.circuit))
    return found


def load_cautions(found: Iterable[Draw], mains: Mains) -> list[Caution]:
    """Return a caution for each circuit, and one for the lamps that name none."""
    circuits: dict[str, list[Draw]] = {}
    for each in found:
        circuits.setdefault(each.circuit, []).append(each)
    return [_load(name, lamps, mains) for name, lamps in circuits.items()]


def _load(circuit: str, lamps: list[Draw], mains: Mains) -> Caution:
    watts = sum(each.power() for each in lamps)
    amperes = sum(each.amperes(mains.voltage) for each in lamps)
    holds = CONTINUOUS * mains.circuit
    guessed = sum(each.watts is None for each in lamps)
    guess = "" if not guessed else (", guessed from the lumens" if guessed == len(lamps) else
                                    f", {guessed} of {len(lamps)} lamps guessed from their lumens")
    who = f"Circuit {circuit}" if circuit else "Mains"
    drawn = f"{watts:.0f} W, {amperes:.1f} A at {mains.voltage:g} V{guess}"
    largest = max(lamps, key=lambda each: each.amperes(mains.voltage))
    over = amperes > holds
    if largest.amperes(mains.voltage) > holds:
        needs = f": {largest.name} alone is too much for a circuit"
    elif over:
        needs = ": too much for it" if circuit else f": at least {math.ceil(amperes / holds)} circuits"
    else:
        needs = ""
    brief = (f"{who}: {drawn}{needs}; a {mains.circuit:g} A circuit holds {holds:.3g} A in continuous use")
    text = (f"{brief}. Amperes are at full level by the power factor, 0.9 of a supply that does not "
            "state its own; supplies draw more as they are switched on. What else hangs on a circuit "
            f"counts too. Circuits, cables and earth are a licensed electrician's. Source: {SOURCE}.")
    return Caution("mains", "the load on the mains", brief, text, SOURCE, OVERLOADED if over else WITHIN,
                   (circuit or "mains",), watts)
