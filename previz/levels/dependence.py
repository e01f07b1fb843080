"""What one want stands and falls with, put together: lamp by lamp, the weather, a step off the mark."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from previz.exposure.metering import Measured
from previz.levels.answers import Reading
from previz.levels.problem import Problem, State
from previz.levels.sensitivity import at_level, by_state, then, tolerance
from previz.levels.wants import COLOUR, MIRED_A_STOP, RATIO

HALF = 0.5
"""Of a stop: how far each lamp is moved. [stops]"""

LEAST_SHARE = 0.01
"""A lamp that gives no want more is left out. [1]"""

DARK_STOPS = 12.0
"""A change by more leaves no light, or nothing to count a ratio against: a four thousandth. [stops]"""


@dataclass(frozen=True)
class OnLamp:
    """What one want has of one lamp.

    Parameters
    ----------
    lamp : str
    share : float
        Of the light that the want is read from; of a ratio at the lit side. [1]
    shadow_share : float or None
        Of a ratio, at the shadow side; None for other wants. [1]
    more, less, out : Measured
        How far the reading moves by half a stop more, half a stop less, and without the lamp. [stops, mired]
    room : (float, float)
        How far the lamp may fall and rise before the want is missed; see `sensitivity.tolerance`. [stops]
    """

    lamp: str
    share: float
    shadow_share: float | None
    more: Measured
    less: Measured
    out: Measured
    room: tuple[float, float]

    @property
    def changes(self) -> tuple[Measured, Measured, Measured]:
        """Half a stop more, half a stop less, out."""
        return self.more, self.less, self.out


@dataclass(frozen=True)
class Other:
    """What something else does to one want.

    Parameters
    ----------
    what : str
        As a crew would say it: 'sun gone', '0.3 m back'.
    lamp : str
        Whose light it changes; '' of a step.
    change : Measured
        [stops, mired]
    """

    what: str
    lamp: str
    change: Measured


@dataclass(frozen=True)
class Dependence:
    """One want, and what it stands and falls with.

    Parameters
    ----------
    reading : Reading
        As everything is set.
    lamps : tuple of OnLamp
        The same for every want, in the same order.
    weather, steps : tuple of Other
        Steps are none of a want that is at no face.
    """

    reading: Reading
    lamps: tuple[OnLamp, ...]
    weather: tuple[Other, ...] = ()
    steps: tuple[Other, ...] = ()

    @property
    def unit(self) -> float:
        """What counts as a stop: 1, or so many mired."""
        return MIRED_A_STOP if self.reading.want.kind == COLOUR else 1.0

    @property
    def most(self) -> OnLamp | None:
        """The lamp that it hangs on most; None where none moves it.

        By half a stop more or less, to a tenth of a stop; of lamps alike in that by what is lost with them.
        """
        def size(each: OnLamp) -> tuple[float, float]:
            half = max(abs(each.more.value), abs(each.less.value)) / self.unit
            out = DARK_STOPS if self.gone(each.out) else abs(each.out.value) / self.unit
            return round(float(np.nan_to_num(half)), 1), out

        found = max(self.lamps, key=size, default=None)
        return found if found is not None and max(size(found)) > 0 else None

    @property
    def least(self) -> tuple[str, float] | None:
        """The least change of one lamp that makes it missed: its name and stops; None where none does."""
        ends = [(each.lamp, end) for each in self.lamps for end in each.room if np.isfinite(end)]
        return min(ends, key=lambda pair: abs(pair[1]), default=None)

    def gone(self, change: Measured) -> bool:
        """Return whether a change leaves nothing to be read: no light, or none to count a ratio against."""
        return not abs(change.value) / self.unit < DARK_STOPS

    def then(self, change: Measured) -> Reading:
        """Return the want as it reads after a change; infinite, or nan of a colour, where nothing is left."""
        if self.gone(change):
            value = np.nan if self.reading.want.kind == COLOUR else float(np.copysign(np.inf, change.value))
            return Reading(self.reading.want, Measured(value, 0.0), self.reading.want.miss(value))
        return then(self.reading, change)


def dependences(problem: Problem, state: State, readings: Iterable[Reading],
                weather: Iterable[tuple[str, str, float]] = (), least: float = LEAST_SHARE,
                at: Callable[[Problem, State, int, float], State] = at_level) -> tuple[Dependence, ...]:
    """Return what each want of a problem hangs on.

    Parameters
    ----------
    problem : Problem
    state : State
    readings : iterable of Reading
        Of its wants, in their order.
    weather : iterable of (str, str, float)
        What it is called, the light, and the factor of its level.
    least : float
        Lamps that give no want such a share are left out. [1]
    at : function
        (problem, state, lamp, stops) -> the state with that lamp at another level.

    Returns
    -------
    tuple of Dependence
        Lamps in the order of what half a stop of them does at most.
    """
    parts = _parts(problem, state)
    names = [each.lamp for each in problem.lamps]
    asked = sorted({meter for want in range(len(problem.wants)) for meter in _read(problem, want)})
    used = [number for number in range(len(names)) if (parts[asked, number] >= least).any()]
    others: dict[str, tuple[str, State]] = {}
    for number in used:
        for what, stops in (("more", HALF), ("less", -HALF), ("out", -np.inf)):
            others[f"{number} {what}"] = names[number], at(problem, state, number, stops)
    effects = iter(by_state(problem, state, others))
    by_lamp = {number: (next(effects), next(effects), next(effects)) for number in used}
    sizes = {number: max(_size(problem, each.changes) for each in some[:2]) for number, some in
             by_lamp.items()}
    ranked = sorted(used, key=lambda number: -sizes[number])
    sky = by_state(problem, state, {
        what: (lamp, _scaled(state, names.index(lamp), factor)) for what, lamp, factor in weather})
    made = []
    for want, reading in enumerate(readings):
        at_sides = parts[problem.ordered(want)]
        ratio = reading.want.kind == RATIO
        lamps = []
        for number in ranked:
            more, less, out = (effect.changes[want] for effect in by_lamp[number])
            room = tolerance(problem, state, want, number, at)
            lamps.append(OnLamp(names[number], float(at_sides[0, number]),
                                float(at_sides[1, number]) if ratio else None, more, less, out, room))
        made.append(Dependence(reading, tuple(lamps), tuple(
            Other(effect.what, effect.lamp, effect.changes[want]) for effect in sky)))
    return tuple(made)


def _parts(problem: Problem, state: State) -> np.ndarray:
    """Return what part each lamp has of the light at each meter. Shape (meter, lamp) [1]"""
    light = np.stack([level * problem.gain(number, float(place))[:, 1]
                      for number, (level, place) in enumerate(zip(state.levels, state.places, strict=True))],
                     axis=-1)
    whole = light.sum(axis=1, keepdims=True)
    return np.divide(light, whole, out=np.zeros_like(light), where=whole > 0)


def _read(problem: Problem, want: int) -> list[int]:
    """Return the meters that a want is read from: of the two of a ratio both, else the one that counts."""
    return problem.ordered(want)[: 2 if problem.wants[want].kind == RATIO else 1]


def _scaled(state: State, lamp: int, factor: float) -> State:
    levels = state.levels.copy()
    levels[lamp] *= factor
    return replace(state, levels=levels)


def _size(problem: Problem, changes: Iterable[Measured]) -> float:
    return max(float(np.nan_to_num(abs(each.value))) / unit
               for each, unit in zip(changes, problem.units, strict=True))
