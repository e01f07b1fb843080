"""What each want stands and falls with: half a stop on a lamp, a lamp out, less sun, a step off the mark."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from previz.exposure.metering import Measured
from previz.levels.answers import Reading, light_by_batch
from previz.levels.problem import Problem, State
from previz.levels.response import Response


@dataclass(frozen=True)
class Effect:
    """What one change does to every want.

    Parameters
    ----------
    what : str
        As a crew would say it.
    lamp : str
        '' where it is none of one lamp.
    changes : tuple of Measured
        Of each want's reading, in the problem's order. [stops; mired of a colour]
    """

    what: str
    lamp: str
    changes: tuple[Measured, ...]


def shares(problem: Problem, state: State) -> np.ndarray:
    """Return what part of the light that a want is read from each lamp gives. Shape (want, lamp) [1]

    Of a ratio, at the meter on top; 0 in the dark.
    """
    light = np.stack([level * problem.gain(number, float(place))[:, 1]
                      for number, (level, place) in enumerate(zip(state.levels, state.places, strict=True))],
                     axis=-1)
    found = np.stack([light[problem.ordered(number)[0]] for number in range(len(problem.wants))])
    whole = found.sum(axis=1, keepdims=True)
    return np.divide(found, whole, out=np.zeros_like(found), where=whole > 0)


def by_level(problem: Problem, state: State, factors: Mapping[str, tuple[str, float]]) -> tuple[Effect, ...]:
    """Return what other levels of single lamps do, the rest as it is.

    Parameters
    ----------
    problem : Problem
    state : State
    factors : dict of str to (str, float)
        What it is called -> (lamp, factor of its level). [1]

    Returns
    -------
    tuple of Effect
        With the errors of the differences, by the meters' common paths.
    """
    names = [each.lamp for each in problem.lamps]
    others = {}
    for what, (lamp, factor) in factors.items():
        levels = state.levels.copy()
        levels[names.index(lamp)] *= factor
        others[what] = (lamp, replace(state, levels=levels))
    return by_state(problem, state, others)


def by_state(problem: Problem, state: State, others: Mapping[str, tuple[str, State]]) -> tuple[Effect, ...]:
    """Return what other states do, such as a lamp at another level in the colour that it has there.

    Parameters
    ----------
    problem : Problem
    state : State
    others : dict of str to (str, State)
        What it is called -> (lamp, or '' of none, and the state then).

    Returns
    -------
    tuple of Effect
        With the errors of the differences, by the meters' common paths.
    """
    before = _left_out(problem, state)
    made = []
    for what, (lamp, other) in others.items():
        changes = _left_out(problem, other) - before
        errors = _spread(changes[:-1])
        made.append(Effect(what, lamp, tuple(Measured(float(change), float(error)) for change, error in
                                             zip(changes[-1], errors, strict=True))))
    return tuple(made)


def _left_out(problem: Problem, state: State) -> np.ndarray:
    """Return what wants read with each batch left out, and last with none. Shape (batch + 1, want)"""
    batches = light_by_batch(problem, state)
    total, count = batches.sum(axis=0, keepdims=True), len(batches)
    means = np.concatenate([(total - batches) / (count - 1), total / count])
    return problem.values(means, state.shifts)


def _spread(each: np.ndarray) -> np.ndarray:
    """Return standard errors by the jackknife, as `metering.jackknife` has them; each of shape (batch, n)."""
    return np.sqrt(((each - each.mean(axis=0)) ** 2).sum(axis=0) * (len(each) - 1) / len(each))


def elsewhere(problem: Problem, state: State, what: str, response: Response) -> Effect:
    """Return what the same wants read where their meters stand elsewhere.

    Parameters
    ----------
    problem : Problem
    state : State
    what : str
        What it is called.
    response : Response
        The same meters, by name, at other places; its paths are others, so the errors of both count.
    """
    there = Problem(response, problem.wants, problem.lamps, problem.cameras, sides=problem.sides)
    one, other = (_left_out(each, state) for each in (problem, there))
    errors = np.hypot(_spread(one[:-1]), _spread(other[:-1]))
    changes = [Measured(float(change), float(error))
               for change, error in zip(other[-1] - one[-1], errors, strict=True)]
    return Effect(what, "", tuple(changes))


def then(reading: Reading, change: Measured) -> Reading:
    """Return a want as it reads after a change; the errors of both count."""
    value = Measured(reading.value.value + change.value, float(np.hypot(reading.value.error, change.error)))
    return Reading(reading.want, value, reading.want.miss(value.value))


def size(problem: Problem, effect: Effect) -> np.ndarray:
    """Return how large an effect is at each want, on one scale. Shape (want,) [stops]"""
    return np.array([abs(change.value) / unit for change, unit in
                     zip(effect.changes, problem.units, strict=True)])


def at_level(problem: Problem, state: State, lamp: int, stops: float) -> State:
    """Return a state with one lamp, by its number, so many stops up or down in the colour that it has."""
    levels = state.levels.copy()
    levels[lamp] *= 2.0**stops
    return replace(state, levels=levels)


def tolerance(problem: Problem, state: State, want: int, lamp: int,
              at: Callable[[Problem, State, int, float], State] = at_level) -> tuple[float, float]:
    """Return how far a lamp may fall and rise before a want is missed, everything else as it is.

    Parameters
    ----------
    problem : Problem
    state : State
    want, lamp : int
        Their numbers.
    at : function
        (problem, state, lamp, stops) -> the state with that lamp at another level.

    Returns
    -------
    (float, float)
        Stops down, -inf where it may go out; stops up, inf where nothing of it is too much; nan twice where
        the want is missed as it is, or the lamp is off.
    """
    made = problem.wants[want]

    def missed(stops: float) -> bool:
        value = problem.values(problem.light(at(problem, state, lamp, stops)), state.shifts)[want]
        return not abs(made.miss(value)) <= made.within * (1 + 1e-9)

    if missed(0.0) or not state.levels[lamp] > 0:
        return np.nan, np.nan
    ends = []
    for most in (-12.0, 6.0):
        if not missed(most):
            # A colour that holds at the least level is still none in the dark.
            ends.append(most if most < 0 and missed(-np.inf) else float(np.copysign(np.inf, most)))
            continue
        good, bad = 0.0, most
        for _ in range(30):
            middle = (good + bad) / 2
            good, bad = (good, middle) if missed(middle) else (middle, bad)
        ends.append(good)
    return ends[0], ends[1]
