"""Of all levels that are as good, one: the nearest to what is set, or that of the fewest lamps and watts."""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np

from previz.levels import linear
from previz.levels.problem import Columns, Problem, State

ROOM = 0.004
"""How much further a want may be off for the sake of an answer that is nearer or cheaper. [stops]"""

LEAST_SHARE = 0.02
"""A level counts as far from another by the share of the greater of that and this. [1]"""


def chosen(problem: Problem, state: State, *, few: bool) -> State:
    """Return, of all states that miss by no more, the nearest to what is set or the cheapest."""
    columns = problem.columns_of(state)
    hull = [(each, each) for each in state.shifts]
    misses = np.abs(problem.misses(problem.values(problem.light(state), state.shifts)) / problem.units)
    misses = np.nan_to_num(misses, nan=linear.MOST)
    # What cannot be met is not made worse, so that a lamp at its end stays there.
    missed = misses > [want.within / unit for want, unit in zip(problem.wants, problem.units, strict=True)]
    allowed = np.minimum(misses + np.where(missed, ROOM / 20, ROOM), linear.MOST)
    z = np.concatenate([state.levels, 2.0**-state.shifts])
    if few:
        fewest = _fewest(problem, columns, allowed, state.shifts)
        if fewest is not None:
            z[: fewest.size] = fewest
        watts = np.array([each.watts for each in problem.lamps])
        scale = max(float(watts.max(initial=0.0)), 1e-9)
        cost = np.concatenate([watts / scale, np.zeros(len(hull))])
        # A little of the squares makes one answer of two lamps that do the same.
        bent = np.concatenate([0.05 * (watts / scale + 0.01), np.zeros(len(hull))])
        off = np.concatenate([z[: len(columns.lamps)] == 0, np.zeros(len(hull), bool)])
        found = linear.nearest(_held(problem, off), columns, hull, allowed, z,
                               lambda each: (float(cost @ each + bent @ each**2), cost + 2 * bent * each))
    else:
        now = np.concatenate([problem.now.levels, z[len(columns.lamps):]])
        size = np.maximum(now, LEAST_SHARE)
        found = linear.nearest(problem, columns, hull, allowed, z,
                               lambda each: (float((((each - now) / size) ** 2).sum()),
                                             2 * (each - now) / size**2))
    return replace(state, levels=found[: len(columns.lamps)])


def _held(problem: Problem, off: np.ndarray) -> Problem:
    """Return the problem with some lamps held off, and the others on."""
    moves = [replace(each, low=0.0, high=0.0) if off[number] else replace(each, may_be_off=False)
             for number, each in enumerate(problem.lamps)]
    held = copy(problem)
    held.lamps = moves
    return held


def _fewest(problem: Problem, columns: Columns, allowed: np.ndarray, shifts: np.ndarray) -> np.ndarray | None:
    """Return the levels with the fewest lamps on and of those the fewest watts, None where there are none.

    Lamps are taken out one after the other, each time the one without which the others draw least.
    """
    hull = [(each, each) for each in shifts]
    watts = np.array([each.watts for each in problem.lamps])
    cost = np.concatenate([watts / max(float(watts.max(initial=0.0)), 1e-9) + 1e-3, np.zeros(len(hull))])
    off = np.array([each.high == 0 for each in problem.lamps])
    best = linear.least(problem, columns, hull, allowed, cost)
    while best is not None:
        tried = {}
        for number, lamp in enumerate(problem.lamps):
            if not off[number] and (lamp.may_be_off or lamp.low == 0):
                held = _held(problem, off | (np.arange(off.size) == number))
                found = linear.least(held, columns, hull, allowed, cost)
                if found is not None:
                    tried[number] = found
        if not tried:
            break
        number = min(tried, key=lambda each: float(cost @ tried[each]))
        off[number], best = True, tried[number]
    return None if best is None else np.where(off, 0.0, best[: off.size])
