"""What the lamps of a scene draw from the mains, circuit by circuit, and the caution about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from previz.physics.mains import Draw, holds, is_continuous
from previz.physics.safety import Caution
from previz.physics.supply import RESERVE, generator_load
from previz.stage.circuits import Feeding, feed

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
                              light.power_factor, light.circuit, light.inrush))
    return found


def load_cautions(found: Iterable[Draw], mains: Mains) -> list[Caution]:
    """Return a caution for each circuit in use, one for the lamps that name none, one for what feeds all.

    They are of the circuits that `previz.stage.circuits.feed` gives.
    """
    feeding = feed(found, mains)
    cautions = [_load(each.name, each.lamps, mains, each.breaker, each.holds)
                for each in feeding.circuits if each.lamps and not each.made]
    made = [each for each in feeding.circuits if each.made]
    unnamed = [lamp for each in made for lamp in each.lamps]
    if unnamed or feeding.unfed:
        # Circuits that are listed say themselves what they feed.
        lamps = (*unnamed, *feeding.unfed)
        cautions.append(_load("", lamps, mains, mains.circuit, holds(mains.circuit, mains.hours), len(made),
                              tuple(each.name for each in feeding.unfed)))
    return cautions + _supply(feeding, mains)


def _load(circuit: str, lamps: tuple[Draw, ...], mains: Mains, breaker: float, most: float, count: int = 1,
          unfed: tuple[str, ...] = ()) -> Caution:
    """Return the caution of a circuit, or of lamps that need so many and of which some fit on none."""
    watts = sum(each.power() for each in lamps)
    amperes = sum(each.amperes(mains.voltage) for each in lamps)
    guessed = sum(each.watts is None for each in lamps)
    guess = "" if not guessed else (", guessed from the lumens" if guessed == len(lamps) else
                                    f", {guessed} of {len(lamps)} lamps guessed from their lumens")
    who = f"Circuit {circuit}" if circuit else ("Mains, lamps left over" if mains.circuits else "Mains")
    drawn = f"{watts:.0f} W, {amperes:.1f} A at {mains.voltage:g} V{guess}"
    largest = max(lamps, key=lambda each: each.amperes(mains.voltage))
    over = bool(unfed) or count > 1 or (bool(circuit) and amperes > most * (1 + 1e-9))
    if mains.circuits and unfed:
        needs = f": no circuit has room for {', '.join(unfed)}"
    elif largest.amperes(mains.voltage) > most * (1 + 1e-9):
        needs = f": {largest.name} alone is too much for a circuit"
    elif over:
        needs = ": too much for it" if circuit else f": at least {count} circuits"
    else:
        needs = ""
    use = "in continuous use" if is_continuous(mains.hours) else f"for {mains.hours:g} h"
    brief = f"{who}: {drawn}{needs}; a {breaker:g} A circuit holds {most:.3g} A {use}"
    text = (f"{brief}. Amperes are at full level by the power factor, 0.9 of a supply that does not "
            "state its own; supplies draw more as they are switched on. What else hangs on a circuit "
            f"counts too. Circuits, cables and earth are a licensed electrician's. Source: {SOURCE}.")
    return Caution("mains", "the load on the mains", brief, text, SOURCE, OVERLOADED if over else WITHIN,
                   (circuit or "mains",), watts)


def _supply(feeding: Feeding, mains: Mains) -> list[Caution]:
    """Return the caution about what feeds the circuits, where all of them are too much for that."""
    volts, found = mains.voltage, []
    phases = feeding.phases(int(mains.phases), volts)
    watts, apparent, fullest = feeding.watts(), feeding.volt_amperes(), max(phases)
    if mains.supply is not None and fullest > (most := holds(mains.supply, mains.hours)) * (1 + 1e-9):
        found.append((SOURCE, f"Supply: {fullest:.1f} A on the fullest phase: too much for {mains.supply:g} "
                              f"A, which holds {most:.3g} A"))
    if mains.generator is not None:
        load = generator_load(watts, apparent, phases, rated_watts=mains.generator.watts,
                              rated_volt_amperes=mains.generator.volt_amperes, volts=volts)
        if load.most > 1 - RESERVE:
            found.append(("common practice, no source", (
                f"Generator of {mains.generator.volt_amperes / 1000:.3g} kVA: loaded to {load.most:.0%} by "
                f"{watts / 1000:.3g} kW, {apparent / 1000:.3g} kVA, {fullest:.1f} A on the fullest phase: "
                f"leave {RESERVE:.0%} free")))
    return [Caution("mains", "the load on the mains", brief, f"{brief}. A licensed electrician decides. "
                    f"Source: {source}.", source, OVERLOADED, ("supply",), watts) for source, brief in found]
