"""Which circuit of the mains feeds which lamp: as the scene says, and the rest shared out.

The plan of circuits on paper and the caution about the load both take it from here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

from previz.physics.circuits import ALIKE, Answer, even_out, fewest
from previz.physics.mains import Draw, holds
from previz.physics.supply import RESERVE, UNEVEN

if TYPE_CHECKING:
    from previz.scene.mains import Mains


class Fed(NamedTuple):
    """One circuit with the lamps on it.

    `phase` is its number, from 0; `breaker` and what it `holds` are in A; `curve` is its type or None; of its
    `lamps` those that name it come first; `made` is True for one that neither mains nor lamps name.
    """

    name: str
    phase: int
    breaker: float
    holds: float
    curve: str | None
    lamps: tuple[Draw, ...] = ()
    made: bool = False

    def amperes(self, volts: float) -> float:
        """Return the current of its lamps at a voltage [V], one after the other added up. [A]"""
        return sum(each.amperes(volts) for each in self.lamps)

    def watts(self) -> float:
        """Return the power of its lamps. [W]"""
        return sum(each.power() for each in self.lamps)

    def over(self, volts: float) -> bool:
        """Return whether its lamps draw more than it holds."""
        return self.amperes(volts) > self.holds * (1 + 1e-9)


class Feeding(NamedTuple):
    """How all lamps are fed: circuits in the order written, made ones last, and lamps that none holds.

    `fewest` is True where it is proved that no fewer circuits do, `even` where the fullest phase is proved to
    carry as little as it can with these.
    """

    circuits: tuple[Fed, ...]
    unfed: tuple[Draw, ...]
    fewest: bool
    even: bool

    @property
    def lamps(self) -> tuple[Draw, ...]:
        """All lamps, those that no circuit holds last."""
        return (*(lamp for each in self.circuits for lamp in each.lamps), *self.unfed)

    def watts(self) -> float:
        """Return the power of all lamps. [W]"""
        return sum(each.power() for each in self.lamps)

    def volt_amperes(self) -> float:
        """Return the apparent power of all lamps, one after the other added up. [VA]"""
        return sum(each.power() / each.factor() for each in self.lamps)

    def phases(self, count: int, volts: float) -> tuple[float, ...]:
        """Return the current of each of so many phases at a voltage [V], of the lamps that are fed. [A]"""
        return tuple(sum(each.amperes(volts) for each in self.circuits if each.phase == number)
                     for number in range(count))


def feed(draws: Iterable[Draw], mains: Mains) -> Feeding:
    """Return the circuit of each lamp.

    A lamp that names its circuit stays there, also where that is too much for it. The others go on circuits
    with room for them: those that the mains list, or else as many as are needed, of what `mains.circuit`
    says, called '1', '2' and so on, on the phases in turn. Of these as few as can be are used, and more only
    where the supply or the generator would have too much, or too uneven a load, on its phases.

    Parameters
    ----------
    draws : iterable of Draw
        Of the lamps that are lit.
    mains : Mains
    """
    draws = list(draws)
    volts = mains.voltage
    named = _circuits(draws, mains)
    free = [each for each in draws if not each.circuit]
    loads = [each.amperes(volts) for each in free]
    # A lamp never needs more than a circuit of its own.
    places = named if mains.circuits else _made(len(free), named, mains)
    answer, few = fewest(loads, _room(places, volts), used=[bool(each.lamps) for each in places])
    if not mains.circuits:
        order = list(dict.fromkeys(each for each in answer if each is not None))
        answer = [None if each is None else order.index(each) for each in answer]
    places, answer, even = _evened(loads, places, answer, named, mains)
    for lamp, number in zip(free, answer, strict=True):
        if number is not None:
            places[number] = places[number]._replace(lamps=(*places[number].lamps, lamp))
    unfed = tuple(lamp for lamp, number in zip(free, answer, strict=True) if number is None)
    if not mains.circuits:
        places = [*named, *(each for each in places if each.lamps)]
    return Feeding(tuple(places), unfed, few, even)


def _evened(loads: list[float], places: list[Fed], answer: Answer, named: list[Fed],
            mains: Mains) -> tuple[list[Fed], Answer, bool]:
    """Return circuits, those of the loads, and whether these are proved as even as they can be."""
    volts, count = mains.voltage, int(mains.phases)
    carried = [0.0] * count
    for each in named:
        carried[each.phase] += each.amperes(volts)
    fewest_used = len({each for each in answer if each is not None})
    best: tuple[list[Fed], Answer, bool] | None = None
    least = float("inf")
    for more in range(count):
        open_ = places if mains.circuits else places[:fewest_used + more]
        found, even = even_out(loads, _room(open_, volts), answer, [each.phase for each in open_], carried,
                               used=[bool(each.lamps) for each in open_], more=more)
        phases = list(carried)
        for load, number in zip(loads, found, strict=True):
            if number is not None:
                phases[open_[number].phase] += load
        if max(phases) < least - ALIKE or best is None:
            best, least = (open_, found, even), max(phases)
        if _carries(phases, mains):
            break
    assert best is not None
    return best


def _carries(phases: list[float], mains: Mains) -> bool:
    """Return whether what feeds the circuits carries so much on each of its phases [A]."""
    if mains.supply is not None and max(phases) > holds(mains.supply, mains.hours):
        return False
    if mains.generator is None:
        return True
    rated = mains.generator.volt_amperes / (len(phases) * mains.voltage)
    return max(phases) <= (1 - RESERVE) * rated and max(phases) - min(phases) <= UNEVEN * rated


def _room(circuits: list[Fed], volts: float) -> list[float]:
    return [each.holds - each.amperes(volts) for each in circuits]


def _circuits(draws: list[Draw], mains: Mains) -> list[Fed]:
    """Return the circuits that are listed, or that lamps name, with the lamps that name them."""
    count, turn = int(mains.phases), 0
    found: dict[str, Fed] = {}
    for each in mains.circuits:
        if each.phase is None:
            phase, turn = turn % count, turn + 1
        else:
            phase = int(each.phase[1:]) - 1
        breaker = mains.circuit if each.breaker is None else each.breaker
        found[each.name] = Fed(each.name, phase, breaker, holds(breaker, mains.hours),
                               each.curve or mains.curve)
    for lamp in draws:
        if lamp.circuit and lamp.circuit not in found:
            found[lamp.circuit] = Fed(lamp.circuit, turn % count, mains.circuit,
                                      holds(mains.circuit, mains.hours), mains.curve)
            turn += 1
        if lamp.circuit:
            one = found[lamp.circuit]
            found[lamp.circuit] = one._replace(lamps=(*one.lamps, lamp))
    return list(found.values())


def _made(most: int, others: list[Fed], mains: Mains) -> list[Fed]:
    """Return circuits that the scene does not have, on the phases in turn after those that it names."""
    taken, made, number = {each.name for each in others}, list[Fed](), 0
    while len(made) < most:
        number += 1
        if str(number) not in taken:
            phase = (len(others) + len(made)) % int(mains.phases)
            made.append(Fed(str(number), phase, mains.circuit, holds(mains.circuit, mains.hours), mains.curve,
                            made=True))
    return made
