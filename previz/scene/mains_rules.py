"""What must hold between the mains, their circuits, and the lamps that these feed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from previz.scene.fields import INVALID
from previz.scene.mains import PHASES
from previz.scene.records import Item, Place
from previz.scene.scene import Scene
from previz.scene.words import did_you_mean, listed
from previz.units import quote

Fault = tuple[Place, str, str]
"""Place, message and advice."""


def generator(made):
    """Yield what is wrong with a generator's own figures: field, message, advice."""
    both = (made.rating, made.power)
    if INVALID in (*both, made.power_factor):
        return
    if both == (None, None):
        yield "", "does not say what it is rated for", "Write for example 'rating: 20 kVA'."
    elif None not in both and made.power > made.rating:
        yield "power", f"gives {made.power / 1000:g} kW of {made.rating / 1000:g} kVA", (
            "Write 'power' in kW, which is no more than 'rating' in kVA."
        )  # fmt: skip
    elif None not in both and made.power_factor is not None:
        yield "power_factor", "has a power factor beside kW and kVA, which say it", (
            "Leave out 'power_factor', 'power' or 'rating'."
        )  # fmt: skip


def faults(scene: Scene, found: Mapping[str, Item], removed: Mapping[str, Place]) -> Iterator[Fault]:
    """Yield what is wrong between circuits, other things' names and lamps.

    Parameters
    ----------
    scene : Scene
        Records may hold `INVALID`; those fields are passed over.
    found : dict of str to Item
        Things by their names.
    removed : dict of str to Place
        Names that the option applied has taken out, and where it says so.
    """
    mains = scene.mains
    if mains in (None, INVALID):
        return
    circuits: dict[str, Item] = {}
    for circuit in mains.circuits:
        if circuit.name is INVALID:
            continue
        place = circuit.where("name")
        # An option takes things out by their names, circuits too, so they have to be apart.
        first = circuits.get(circuit.name) or found.get(circuit.name)
        if not circuit.name.strip():
            yield place, "the name of a circuit is empty", "Write a name, for example 'wall one'."
        elif first is not None:
            what = "two circuits are" if first.noun == "circuit" else f"a circuit and a {first.noun} are"
            yield place, f"{what} called {quote(circuit.name)}, the other on line {first.place.line}", (
                "Give every circuit a name of its own."
            )  # fmt: skip
        circuits.setdefault(circuit.name, circuit)
        if INVALID not in (circuit.phase, mains.phases) and circuit.phase not in (
                None, *PHASES[:int(mains.phases)]):
            yield circuit.where("phase"), (
                f"circuit {quote(circuit.name)} is on {circuit.phase}, and the mains have "
                f"{mains.phases} phase{'' if mains.phases == '1' else 's'}"
            ), "Write 'phases: 3' for the mains, or another phase."  # fmt: skip
    if circuits:
        yield from _lamps(scene, circuits, removed)


def _lamps(scene, circuits, removed) -> Iterator[Fault]:
    for light in scene.lights:
        name = light.circuit
        if name in ("", INVALID) or name in circuits:
            continue
        message = f"'circuit' of {light.label} is {quote(name)}, and no circuit has that name"
        if name in removed:
            message = (f"'circuit' of {light.label} is {quote(name)}, which the option removes on line "
                       f"{removed[name].line}")
        yield light.where("circuit"), message, (
            f"{did_you_mean(name, circuits)}The circuits of the mains are: {listed(circuits)}."
        )  # fmt: skip
