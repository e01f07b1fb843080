"""What each want stands and falls with: half a stop on a lamp, a lamp out, less sun, a step off the mark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from previz.exposure.metering import Measured, jackknife
from previz.levels.answers import light_by_batch, value_of
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
    before = light_by_batch(problem, state)
    made = []
    for what, (lamp, factor) in factors.items():
        levels = state.levels.copy()
        levels[names.index(lamp)] *= factor
        after = light_by_batch(problem, replace(state, levels=levels))
        both = np.stack([before, after], axis=1)
        changes = [jackknife(partial(_change, problem, state.shifts, number), both)
                   for number in range(len(problem.wants))]
        made.append(Effect(what, lamp, tuple(changes)))
    return tuple(made)


def _change(problem: Problem, shifts: np.ndarray, number: int, both: np.ndarray) -> float:
    before, after = problem.values(both, shifts)[:, number]
    return float(after - before)


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
    one, other = (light_by_batch(each, state) for each in (problem, there))
    changes = []
    for number in range(len(problem.wants)):
        before, after = (jackknife(partial(value_of, problem, state.shifts, number), each)
                         for each in (one, other))
        changes.append(Measured(after.value - before.value, float(np.hypot(before.error, after.error))))
    return Effect(what, "", tuple(changes))


def size(problem: Problem, effect: Effect) -> np.ndarray:
    """Return how large an effect is at each want, on one scale. Shape (want,) [stops]"""
    return np.array([abs(change.value) / unit for change, unit in
                     zip(effect.changes, problem.units, strict=True)])


def tolerance(problem: Problem, state: State, want: int, lamp: int) -> tuple[float, float]:
    """Return how far a lamp may fall and rise before a want is missed, everything else as it is.

    Parameters
    ----------
    problem : Problem
    state : State
    want, lamp : int
        Their numbers.

    Returns
    -------
    (float, float)
        Stops down, -inf where it may go out; stops up, inf where nothing of it is too much; nan twice where
        the want is missed as it is, or the lamp is off.
    """
    made = problem.wants[want]
    levels = state.levels.copy()

    def missed(stops: float) -> bool:
        levels[lamp] = state.levels[lamp] * 2.0**stops
        value = problem.values(problem.light(replace(state, levels=levels)), state.shifts)[want]
        return not abs(made.miss(value)) <= made.within * (1 + 1e-9)

    if missed(0.0) or not state.levels[lamp] > 0:
        return np.nan, np.nan
    ends = []
    for most in (-12.0, 6.0):
        if not missed(most):
            ends.append(float(np.copysign(np.inf, most)))
            continue
        good, bad = 0.0, most
        for _ in range(30):
            middle = (good + bad) / 2
            good, bad = (good, middle) if missed(middle) else (middle, bad)
        ends.append(good)
    return ends[0], ends[1]
