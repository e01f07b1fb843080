"""The plan of circuits: which lamp hangs on which, what each phase carries, and what is to be looked at.

A planning aid: it counts up labels. What is laid, earthed and switched on, a licensed electrician decides.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from previz.physics.mains import CONTINUOUS, FILAMENTS, Draw, device_needed, holds, is_continuous
from previz.physics.safety import NO_SOURCE, PLANNING_AID
from previz.physics.supply import (
    LIGHT_LOAD,
    LIGHTING_DROP,
    MAGNETIC_TRIP,
    RESERVE,
    UNEVEN,
    cable_area,
    distortion,
    fundamental,
    generator_load,
    neutral_current,
    trips,
    unbalance,
    voltage_drop,
)
from previz.plans.lines import CableRun, CircuitLine, LampLine, PowerPlan
from previz.scene.mains import PHASES, Mains
from previz.scene.scene import Scene
from previz.stage.circuits import Fed, Feeding, feed
from previz.stage.mains import SOURCE

PRACTICE = NO_SOURCE
TRIP_SOURCE = "IEC 60898-1, from memory"
NEUTRAL_SOURCE = "IEC 60364-5-52 annex E, from memory"
DROP_SOURCE = "IEC 60364-5-52 annex G, from memory"

COUNTS = {"1": "one phase", "2": "two legs", "3": "three phases"}

MOSTLY = 0.5
"""Share of electronic supplies in the load from which a generator's hirer is to be asked. [1]
Common practice, no source."""


def power_plan(scene: Scene, lamps: Sequence[LampLine | Draw], *, runs: Sequence[CableRun] = ()) -> PowerPlan:
    """Return how the lamps of one option are fed.

    Lamps that are lit count at full level, whatever they are dimmed to; those that are off draw nothing.
    Amperes are added up one after the other, which is never too little.

    Parameters
    ----------
    scene : Scene
        With its option applied; its mains say what there is.
    lamps : sequence of LampLine or Draw
        Those that draw from the mains; lines without watts are left out.
    runs : sequence of CableRun
        Their lengths give the voltage that each lamp's cable takes; without them that is not looked at.
    """
    mains = scene.mains
    draws, guessed = _draws(scene, lamps)
    if not draws:
        return PowerPlan(circuits=tuple(_line(each, mains) for each in feed((), mains).circuits),
                         supply=_supply_text(mains))
    feeding = feed(draws, mains)
    count = int(mains.phases)
    phases = feeding.phases(count, mains.voltage)
    lines = tuple(_line(each, mains) for each in feeding.circuits)
    neutral = _neutral(feeding, mains)
    warnings = [*_overloads(feeding, lines, mains), *_feeder(feeding, phases, neutral, mains),
                *_switching_on(feeding, mains), *_drops(feeding, runs, mains), *_labels(draws, guessed)]
    return PowerPlan(
        lines, tuple(zip(PHASES, phases, strict=False)), neutral, feeding.watts(), feeding.volt_amperes(),
        max(phases), unbalance(phases), _supply_text(mains), tuple(each.name for each in feeding.unfed),
        (*warnings, PLANNING_AID), _note(feeding, count))


def _draws(scene: Scene, lamps: Sequence[LampLine | Draw]) -> tuple[list[Draw], list[str]]:
    """Return what the lit lamps draw, and the names of those whose watts are guessed."""
    lights = {each.name: each for each in scene.lights}
    draws, guessed = list[Draw](), list[str]()
    for lamp in lamps:
        if isinstance(lamp, Draw):
            draws.append(lamp)
            guessed += [lamp.name] if lamp.watts is None else []
        elif lamp.watts is not None and lamp.on and lamp.dimmer > 0:
            light = lights.get(lamp.name)
            spectrum = "led" if light is None or not isinstance(light.spectrum, str) else light.spectrum
            draws.append(Draw(lamp.name, lamp.watts, 0.0, spectrum, lamp.power_factor, lamp.circuit,
                              None if light is None else light.inrush))
            guessed += [lamp.name] if lamp.guessed else []
    return draws, guessed


def _supply_text(mains: Mains) -> str:
    """Return what feeds the circuits, in words."""
    of = "" if mains.supply is None else f" of {mains.supply:g} A"
    phases = f"{COUNTS[mains.phases]}{of} at {mains.voltage:g} V, {mains.frequency:g} Hz"
    if mains.generator is None:
        return phases
    return f"generator of {mains.generator.volt_amperes / 1000:.3g} kVA, {phases}"


def _note(feeding: Feeding, count: int) -> str:
    """Return how good the shares are known to be."""
    few = ("no fewer circuits do" if feeding.fewest else
           "fewer circuits may do: not all ways were tried")
    even = ("the fullest phase cannot carry less with them" if feeding.even else
            "the fullest phase could carry a little less: not all ways were tried")
    return f"{few[0].upper()}{few[1:]}{f'; {even}' if count > 1 else ''}."


def _line(fed: Fed, mains: Mains) -> CircuitLine:
    over = fed.over(mains.voltage)
    phase = "" if mains.phases == "1" else PHASES[fed.phase]
    return CircuitLine(fed.name, phase, fed.breaker, tuple(each.name for each in fed.lamps), fed.watts(),
                       fed.amperes(mains.voltage), fed.holds, over, _way_out(fed, mains) if over else "")


def _way_out(fed: Fed, mains: Mains) -> str:
    """Return by how much a circuit is over, and what to do."""
    volts, amperes = mains.voltage, fed.amperes(mains.voltage)
    over = amperes - fed.holds
    enough = [each for each in fed.lamps if each.amperes(volts) >= over]
    if len(fed.lamps) > 1 and enough:
        lamp = min(enough, key=lambda each: each.amperes(volts))
        return f"{over:.1f} A too much: feed {lamp.name} ({lamp.amperes(volts):.1f} A) from another circuit"
    if len(fed.lamps) > 1:
        return f"{over:.1f} A too much: share its lamps out over {math.ceil(amperes / fed.holds)} circuits"
    return f"{over:.1f} A too much: needs a circuit of at least {_device(amperes, mains):.1f} A"


def _device(amperes: float, mains: Mains) -> float:
    """Return the least breaker that holds a current for as long as the lamps are on. [A]"""
    return device_needed(amperes) if is_continuous(mains.hours) else amperes


def _overloads(feeding: Feeding, lines: Sequence[CircuitLine], mains: Mains) -> Iterator[str]:
    """Yield what circuits carry too much, and which lamps none has room for."""
    use = f"{CONTINUOUS:.0%} of it for 3 h and more" if is_continuous(mains.hours) else "all of it"
    for line in lines:
        if line.over:
            yield (f"Circuit {line.name}: {line.amperes:.1f} A, and its {line.breaker:g} A breaker holds "
                   f"{line.holds:.3g} A, {use}; {line.note} ({SOURCE})")
    for lamp in feeding.unfed:
        amperes = lamp.amperes(mains.voltage)
        needed = _device(amperes, mains)
        largest = max((each.breaker for each in feeding.circuits), default=mains.circuit)
        if needed > largest * (1 + 1e-9):
            yield (f"{lamp.name} is not fed: {amperes:.1f} A needs a circuit of at least {needed:.1f} A "
                   f"({SOURCE})")
        else:
            yield f"{lamp.name} is not fed: no circuit has {amperes:.1f} A left; bring one more ({SOURCE})"


def _neutral(feeding: Feeding, mains: Mains) -> float:
    """Return the most that the neutral carries: all distortion taken for third harmonics. [A]"""
    volts = mains.voltage
    fundamentals, thirds = [0.0] * int(mains.phases), [0.0] * int(mains.phases)
    for each in feeding.circuits:
        for lamp in each.lamps:
            fundamentals[each.phase] += fundamental(lamp.power(), volts)
            thirds[each.phase] += distortion(lamp.power(), volts, lamp.factor())
    return neutral_current(fundamentals, thirds)


def _feeder(feeding: Feeding, phases: Sequence[float], neutral: float, mains: Mains) -> Iterator[str]:
    """Yield what the incoming supply, its neutral or the generator carry too much of."""
    fullest = max(phases)
    if mains.supply is not None:
        most = holds(mains.supply, mains.hours)
        if fullest > most * (1 + 1e-9):
            yield (f"Supply: {fullest:.1f} A on the fullest phase, and {mains.supply:g} A holds {most:.3g} "
                   f"A; it would have to be of {_device(fullest, mains):.1f} A at least ({SOURCE})")
    if mains.phases == "3" and neutral > fullest * (1 + 1e-9):
        yield (f"Neutral: up to {neutral:.1f} A, more than any phase, if all distortion of supplies is third "
               f"harmonics, which add up there: no reduced neutral, and ask for its size ({NEUTRAL_SOURCE})")
    if len(phases) > 1:
        across = mains.voltage * (math.sqrt(3.0) if len(phases) == 3 else 2.0)
        yield (f"Neutral: earth and neutral are joined first and parted last, with nothing switched on; "
               f"without its neutral a lamp can get up to {across:.0f} V ({PRACTICE})")
    if mains.generator is not None:
        yield from _generator(feeding, phases, mains)


def _generator(feeding: Feeding, phases: Sequence[float], mains: Mains) -> Iterator[str]:
    generator = mains.generator
    assert generator is not None
    watts, apparent = feeding.watts(), feeding.volt_amperes()
    load = generator_load(watts, apparent, phases, rated_watts=generator.watts,
                          rated_volt_amperes=generator.volt_amperes, volts=mains.voltage)
    rated = f"{generator.watts / 1000:.3g} kW, {generator.volt_amperes / 1000:.3g} kVA"
    if load.most > 1 - RESERVE:
        name = max(("engine", load.engine), ("windings", load.windings), ("fullest phase", load.phase),
                   key=lambda each: each[1])[0]
        needed = max(watts / generator.watts, load.windings, load.phase) * generator.volt_amperes
        yield (f"Generator: {watts / 1000:.3g} kW, {apparent / 1000:.3g} kVA of {rated}: {name} at "
               f"{load.most:.0%}, leave {RESERVE:.0%} free; take one of "
               f"{needed / (1 - RESERVE) / 1000:.3g} kVA ({PRACTICE})")
    if len(phases) > 1 and load.uneven > UNEVEN:
        yield (f"Generator: its phases differ by {max(phases) - min(phases):.1f} A, {load.uneven:.0%} of "
               f"what they are rated for: its voltages drift apart; even them out ({PRACTICE})")
    if 0 < load.engine < LIGHT_LOAD:
        yield (f"Generator: its engine is at {load.engine:.0%}; a diesel soots up under {LIGHT_LOAD:.0%} for "
               f"hours: take a smaller one ({PRACTICE})")
    supplies = sum(each.power() / each.factor() for each in feeding.lamps if each.spectrum not in FILAMENTS)
    if supplies > MOSTLY * apparent:
        yield (f"Generator: {supplies / apparent:.0%} of the load are electronic supplies or ballasts; their "
               "current leads and is distorted, which its regulator takes only so much of: ask who hires it "
               "out (from memory)")
    yield ("Generator: meter its voltage and frequency before lamps are put on, and again under load; what "
           f"flickers goes by its real frequency ({PRACTICE})")


def _switching_on(feeding: Feeding, mains: Mains) -> Iterator[str]:
    """Yield which breakers may trip at once as a circuit is switched on as a whole, by what lamps state."""
    volts = mains.voltage
    for each in feeding.circuits:
        stated = [lamp for lamp in each.lamps if lamp.inrush is not None]
        if not stated:
            continue
        peak = sum(lamp.amperes(volts) * (lamp.inrush or 1.0) for lamp in each.lamps)
        said = (f"Circuit {each.name}: {peak:.0f} A in the first half cycle if all is switched on at once, "
                f"{peak / each.breaker:.1f} times its {each.breaker:g} A")
        curves = [each.curve] if each.curve else list(MAGNETIC_TRIP)
        bad = [curve for curve in curves if trips(peak, each.breaker, curve) != "no"]
        if not bad:
            continue
        alone = max(lamp.amperes(volts) * (lamp.inrush or 1.0) for lamp in each.lamps)
        low = MAGNETIC_TRIP[each.curve or "C"][0] * each.breaker
        cure = ("switch its lamps on one after the other" if alone <= low and len(each.lamps) > 1 else
                "ask the electrician for another circuit, or a soft start")
        types = " and ".join(f"{curve} ({trips(peak, each.breaker, curve)})" for curve in bad)
        what = "trips it" if each.curve and trips(peak, each.breaker, each.curve) == "yes" else "may trip it"
        yield (f"{said}: {what}, a type {each.curve}; {cure} ({TRIP_SOURCE})" if each.curve else
               f"{said}: trips at once by type: {types}; {cure} ({TRIP_SOURCE})")


def _drops(feeding: Feeding, runs: Sequence[CableRun], mains: Mains) -> Iterator[str]:
    """Yield the lamps whose cable takes more of the voltage than lighting is to lose."""
    lengths = {run.lamp: run.length for run in runs}
    for each in feeding.circuits:
        area = cable_area(each.breaker)
        for lamp in each.lamps:
            length = lengths.get(lamp.name, 0.0)
            drop = voltage_drop(lamp.amperes(mains.voltage), length, area) / mains.voltage
            if drop > LIGHTING_DROP:
                yield (f"{lamp.name}: {length:.0f} m of cable of {area:g} mm² take {drop:.1%} of the "
                       f"voltage; lighting is to lose {LIGHTING_DROP:.0%} at most: a thicker cable "
                       f"({DROP_SOURCE})")


def _labels(draws: Sequence[Draw], guessed: Sequence[str]) -> Iterator[str]:
    """Yield what is guessed or taken, and is to be read off labels."""
    if guessed:
        names = ", ".join(guessed[:4]) + (f" and {len(guessed) - 4} more" if len(guessed) > 4 else "")
        yield f"Watts guessed from the light of {names}: read their labels ({PRACTICE})"
    silent = [each for each in draws if each.inrush is None and each.spectrum not in FILAMENTS]
    if silent:
        some = "lamp does" if len(silent) == 1 else "lamps do"
        yield (f"{len(silent)} {some} not state the current at switching on, which can be tens of times that "
               f"in use for a moment: switch on one after the other ({PRACTICE})")
