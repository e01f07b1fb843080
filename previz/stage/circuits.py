"""Which circuit of the mains feeds which lamp: as the scene says, and the rest shared out.

The plan of circuits on paper and the caution about the load both take it from here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

from previz.physics.circuits import share_out
from previz.physics.mains import Draw, holds

if TYPE_CHECKING:
    from previz.scene.mains import Mains


class Fed(NamedTuple):
    """One circuit with the lamps on it.

    `phase` is its number, from 0; `breaker` and what it `holds` are in A; `curve` is its type or None; `lamps`
    have those first that name it; `listed` is False for one that the scene does not have; `made` is True for
    one that is only counted up.
    """

    name: str
    phase: int
    breaker: float
    holds: float
    curve: str | None
    lamps: tuple[Draw, ...] = ()
    listed: bool = True
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

    `fewest` and `even` are as in `previz.physics.circuits.Shared`.
    """

    circuits: tuple[Fed, ...]
    unfed: tuple[Draw, ...]
    fewest: bool
    even: bool

    def phases(self, count: int, volts: float) -> tuple[float, ...]:
        """Return the current of each of so many phases at a voltage [V]. [A]"""
        return tuple(sum(each.amperes(volts) for each in self.circuits if each.phase == number)
                     for number in range(count))


def feed(draws: Iterable[Draw], mains: Mains) -> Feeding:
    """Return the circuit of each lamp.

    A lamp that names its circuit stays there, also where that is too much for it. The others go on circuits
    with room for them: those that the mains list, or else as many as are needed, of what `mains.circuit` says,
    called '1', '2' and so on, on the phases in turn.

    Parameters
    ----------
    draws : iterable of Draw
        Of the lamps that are lit.
    mains : Mains
    """
    draws = list(draws)
    volts = mains.voltage
    circuits = _circuits(draws, mains)
    free = [each for each in draws if not each.circuit]
    loads = [each.amperes(volts) for each in free]
    if mains.circuits:
        shared = _shared(loads, circuits, mains)
        added: list[Fed] = []
    else:
        # On as many as there are lamps first, which says how many are needed; then on so many alone.
        added = _made(len(free), circuits, mains)
        shared = _shared(loads, added, mains, circuits)
        fewest = shared.fewest
        added = added[:len({each for each in shared.circuits if each is not None})]
        shared = _shared(loads, added, mains, circuits)
        shared = type(shared)(shared.circuits, fewest, shared.even)
    places = circuits if mains.circuits else added
    for lamp, number in zip(free, shared.circuits, strict=True):
        if number is not None:
            places[number] = places[number]._replace(lamps=(*places[number].lamps, lamp))
    unfed = tuple(lamp for lamp, number in zip(free, shared.circuits, strict=True) if number is None)
    return Feeding((*circuits, *added), unfed, shared.fewest, shared.even)


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
        found[each.name] = Fed(each.name, phase, breaker, holds(breaker, mains.hours), each.curve or mains.curve)
    for lamp in draws:
        if lamp.circuit and lamp.circuit not in found:
            found[lamp.circuit] = Fed(lamp.circuit, turn % count, mains.circuit,
                                      holds(mains.circuit, mains.hours), mains.curve, listed=False)
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
                            listed=False, made=True))
    return made


def _shared(loads: list[float], circuits: list[Fed], mains: Mains, others: Iterable[Fed] = ()):
    volts = mains.voltage
    carried = [0.0] * int(mains.phases)
    for each in (*circuits, *others):
        carried[each.phase] += each.amperes(volts)
    return share_out(loads, [each.holds - each.amperes(volts) for each in circuits],
                     [each.phase for each in circuits], carried=carried,
                     used=[bool(each.lamps) for each in circuits])
