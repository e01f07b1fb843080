"""Of all levels that are as good, one: the nearest to what is set, or that of the fewest lamps and watts."""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np

from previz.levels import linear
from previz.levels.problem import Columns, Problem, State

ROOM = 0.004
"""How much further a want may be off for the sake of an answer that is nearer or cheaper. [stops]"""

ROUND = 0.01
"""A move of a level by much less than this share of it counts by its square. [1]"""

UNTOUCHED = 0.03
"""A lamp that would move by less than this share of its level stays, where that can be. [1]"""

AT_END = 0.002
"""A level that is as near to an end of its range is there. [1]"""

LEAST_BURNING = 0.005
"""A lamp at less is out, where that costs next to nothing. [1]"""

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
        off = z[: len(columns.lamps)] == 0
        found = linear.nearest(_held(problem, off, np.zeros(off.size)), columns, hull, allowed, z,
                               lambda each: (float(cost @ each + bent @ each**2), cost + 2 * bent * each))
    else:
        found = _nearest(problem, columns, hull, allowed, z)
    levels = found[: len(columns.lamps)]
    for end in ("low", "high"):
        ends = np.array([getattr(each, end) for each in problem.lamps])
        levels = np.where(np.abs(levels - ends) < AT_END * ends, ends, levels)
    return _out(problem, replace(state, levels=levels), allowed)


def _out(problem: Problem, state: State, allowed: np.ndarray) -> State:
    """Return a state in which a lamp that hardly burns is out, where no want needs it."""
    for number, lamp in enumerate(problem.lamps):
        if lamp.low == 0 < state.levels[number] < LEAST_BURNING and lamp.level > LEAST_BURNING:
            out = replace(state, levels=np.where(np.arange(state.levels.size) == number, 0.0, state.levels))
            misses = problem.misses(problem.values(problem.light(out), out.shifts)) / problem.units
            if np.all(np.abs(misses) <= allowed + ROOM):
                state = out
    return state


def _nearest(problem: Problem, columns: Columns, hull: list[tuple[float, float]], allowed: np.ndarray,
             start: np.ndarray) -> np.ndarray:
    """Return the z that lies nearest to what is set, with as few lamps touched as need be.

    The sum of the moves is made small, not that of their squares, which would move every lamp a little.
    """
    now = np.concatenate([problem.now.levels, start[len(columns.lamps):]])
    size = np.maximum(now, LEAST_SHARE)

    def moves(z: np.ndarray) -> tuple[float, np.ndarray]:
        # Rounded off at the bottom, so that of two lamps that do the same both move.
        off = (z - now) / size
        length = np.sqrt(off**2 + ROUND**2)
        return float(length.sum()), off / length / size

    found = linear.nearest(problem, columns, hull, allowed, start, moves)
    levels = found[: len(columns.lamps)]
    still = np.abs(levels - problem.now.levels) < UNTOUCHED * size[: levels.size]
    held = _held(problem, still, problem.now.levels)
    left = linear.least(held, columns, hull, allowed)
    return found if left is None else linear.nearest(held, columns, hull, allowed, left, moves)


def _held(problem: Problem, which: np.ndarray, levels: np.ndarray) -> Problem:
    """Return the problem with some lamps held at levels, and the others on."""
    moves = [replace(each, may_be_off=False, **({"low": level, "high": level} if held else {}))
             for each, held, level in zip(problem.lamps, which.tolist(), levels.tolist(), strict=True)]
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
                held = _held(problem, off | (np.arange(off.size) == number), np.zeros(off.size))
                found = linear.least(held, columns, hull, allowed, cost)
                if found is not None:
                    tried[number] = found
        if not tried:
            break
        number = min(tried, key=lambda each: float(cost @ tried[each]))
        off[number], best = True, tried[number]
    return None if best is None else np.where(off, 0.0, best[: off.size])
