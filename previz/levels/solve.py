"""Levels and colours that come nearest to what is wanted.

The greatest miss is made small by linear programs, whose answer is the best that there is. From there
the squares of the misses, which are not straight in the levels, by a trust-region search between bounds.
Of the many answers that are as good, the one is taken that lies nearest to what is set, or the one with the
fewest lamps and watts; so it is one answer, whatever it is begun from.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import replace
from functools import partial

import numpy as np

from previz.levels import linear
from previz.levels.answers import Answer, answer_of
from previz.levels.choice import ROOM, chosen
from previz.levels.linear import FINE
from previz.levels.moves import CameraMove, LampMove
from previz.levels.problem import Columns, Problem, State
from previz.levels.response import Response
from previz.levels.wants import Want

LEAST_SQUARES, LEAST_WORST = "least squares", "least worst"
"""What is made small: the sum of the squared misses, or the greatest of them."""

WORTH = 0.02
"""A change of colour, or a lamp that stays on, has to gain so much. [stops]"""

GEL_MIRED = 40.0
"""A change of gel counts as a change of colour by so much. [mired]  Source: invented."""

def as_set(response: Response, wants: Sequence[Want], lamps: Sequence[LampMove],
           cameras: Sequence[CameraMove] = ()) -> Answer:
    """Return how the wants stand with everything as it is set now; arguments as of `balance`."""
    problem = Problem(response, wants, lamps, cameras)
    return answer_of(problem, problem.now)


def balance(response: Response, wants: Sequence[Want], lamps: Sequence[LampMove],
            cameras: Sequence[CameraMove] = (), rule: str = LEAST_SQUARES, *,
            few: bool = False) -> Answer:
    """Return the answer that comes nearest to the wants.

    Parameters
    ----------
    response : Response
    wants : sequence of Want
    lamps : sequence of LampMove
        One for each lamp of the response, in its order.
    cameras : sequence of CameraMove
    rule : str
        `LEAST_SQUARES` or `LEAST_WORST`.
    few : bool
        Of answers that are as good, the one with the fewest lamps and watts; else the one nearest to what
        is set.

    Raises
    ------
    ValueError
        Wants, lamps and meters do not go together.
    """
    problem = Problem(response, wants, lamps, cameras)
    return answer_of(problem, solved(problem, rule, few=few))


def solved(problem: Problem, rule: str = LEAST_SQUARES, *, few: bool = False) -> State:
    """Return the state of `balance`."""
    if not problem.wants:
        return problem.now
    state = _with_shifts(problem, _coloured(problem), rule)
    problem, state = _on_or_off(problem, state, rule)
    return chosen(problem, _colours_kept(problem, state, rule), few=few)


def _on_or_off(problem: Problem, state: State, rule: str) -> tuple[Problem, State]:
    """Return a state whose lamps are off or within their range, and the problem with that settled."""
    for number, lamp in enumerate(problem.lamps):
        if lamp.may_be_off and lamp.low > 0:
            tried = []
            if state.levels[number] < lamp.low:
                tried.append(_held(problem, number, replace(lamp, low=0.0, high=0.0, may_be_off=False)))
            if state.levels[number] > 0:
                tried.append(_held(problem, number, replace(lamp, may_be_off=False)))
            found = [_fitted(each, state, rule, free=False) for each in tried]
            best = int(np.argmin([_loss(problem, each, rule) for each in found]))
            problem, state = tried[best], found[best]
    return problem, state


def _colours_kept(problem: Problem, state: State, rule: str) -> State:
    """Return a state in which no colour of a range has moved that gains nothing by it.

    Where light is all that is wanted, squares are as small in one colour as in another.
    """
    own = problem.now.places
    off = {number: abs(lamp.mired[int(round(state.places[number]))] - lamp.mired[int(own[number])])
           for number, lamp in enumerate(problem.lamps) if lamp.mired}
    moved = sorted((number for number, each in off.items() if each > 0), key=lambda each: -off[each])
    limit = _size(problem, state, rule) + WORTH
    # All of them first, which mostly does.
    for numbers in [moved, *([each] for each in moved if len(moved) > 1)]:
        fixed, places = problem, state.places.copy()
        for number in numbers:
            fixed = _held(fixed, number, replace(fixed.lamps[number], mired=()))
            places[number] = own[number]
        found = _fitted(fixed, replace(state, places=places), rule, free=False)
        if _size(problem, found, rule) <= limit:
            problem, state = fixed, found
            if numbers is moved:
                break
    return state


def _size(problem: Problem, state: State, rule: str) -> float:
    """Return how much is missed, by the rule. [weighed stops]"""
    loss = _loss(problem, state, rule)
    return loss if rule == LEAST_WORST else float(np.sqrt(loss))


def _held(problem: Problem, number: int, lamp: LampMove) -> Problem:
    """Return the problem with one lamp's range another."""
    held = copy(problem)
    held.lamps = [lamp if k == number else each for k, each in enumerate(problem.lamps)]
    return held


def _hull(problem: Problem) -> list[tuple[float, float]]:
    return [(min(each.shifts), max(each.shifts)) for each in problem.cameras]


def _coloured(problem: Problem) -> State:
    """Return the state of the least greatest miss, with no colour changed that gains nothing."""
    hull = _hull(problem)
    kept = problem.columns([[each.colour] for each in problem.lamps])
    worst, z = linear.least_worst(problem, kept, hull)
    state = _state(problem, kept, z)
    if worst <= FINE or all(len(each.colours) == 1 for each in problem.lamps):
        return state
    every = problem.columns([range(len(each.colours)) if each.high > 0 else [each.colour]
                             for each in problem.lamps])
    mixed, _ = linear.least_worst(problem, every, hull)
    if mixed > worst - WORTH:
        return state
    cost = np.concatenate([_colour_cost(problem, every), np.zeros(len(hull))])
    cheapest = linear.least(problem, every, hull, _allowed(problem, mixed + WORTH), cost)
    return state if cheapest is None else _one_colour_each(problem, every, cheapest, worst, state)


def _allowed(problem: Problem, worst: float) -> np.ndarray:
    return np.minimum(worst / np.maximum(problem.weights, 1e-6), linear.MOST)


def _colour_cost(problem: Problem, columns: Columns) -> np.ndarray:
    """Return what each column's colour costs for being another than the lamp has."""
    cost = []
    for lamp, colour in zip(columns.lamps, columns.colours, strict=True):
        move = problem.lamps[lamp]
        off = abs(move.mired[colour] - move.mired[move.colour]) if move.mired else GEL_MIRED
        cost.append(0.0 if colour == move.colour else off / max(move.high, 1e-6))
    return np.array(cost) + 1e-3


def _one_colour_each(problem: Problem, columns: Columns, z: np.ndarray, worst: float, before: State) -> State:
    """Return the best state found of lamps that have one colour each, from a mix of them.

    Ranges are narrowed to the neighbours of the mean, where a mix of two is the colour between them;
    gels one by one to the sheet that serves best with the others as they are.
    """
    hull = _hull(problem)
    allowed: list[list[int]] = []
    gelled = []
    for number, move in enumerate(problem.lamps):
        mine = np.flatnonzero(columns.lamps == number)
        levels, colours = z[mine], columns.colours[mine]
        own = float(levels[colours == move.colour].sum())
        if not levels.sum() > (1 + FINE) * own:
            allowed.append([move.colour])
        elif move.mired:
            allowed.append(_window(float(levels @ colours / levels.sum()), 3, len(move.colours)))
        else:
            allowed.append([move.colour, *(int(each) for each in colours if each != move.colour)])
            gelled.append(number)
    for number in gelled:
        reached = [linear.least_worst(problem, problem.columns(
            [[one] if k == number else some for k, some in enumerate(allowed)]), hull)[0]
            for one in allowed[number]]
        # The first is the gel that it has.
        best = int(np.argmin([each + WORTH * (k > 0) for k, each in enumerate(reached)]))
        allowed[number] = [allowed[number][best]]
    least, found = worst, before
    for width in (2, 1):
        some = problem.columns(allowed)
        narrow, z = linear.least_worst(problem, some, hull)
        cost = np.concatenate([_colour_cost(problem, some), np.zeros(len(hull))])
        nearer = linear.least(problem, some, hull, _allowed(problem, narrow + FINE), cost)
        state = _state(problem, some, z if nearer is None else nearer)
        allowed = [_window(float(place), width, len(move.colours)) if move.mired and len(was) > 1 else was
                   for move, place, was in zip(problem.lamps, state.places, allowed, strict=True)]
        if width == 1 and narrow < least - WORTH:
            least, found = narrow, state
    return found


def _window(place: float, width: int, count: int) -> list[int]:
    first = int(place)
    return list(range(max(first - width + 1, 0), min(first + width, count - 1) + 1))


def _state(problem: Problem, columns: Columns, z: np.ndarray) -> State:
    """Return the state of levels by column; a lamp of several has their mean colour."""
    count = len(columns.lamps)
    levels, places = np.zeros(len(problem.lamps)), problem.now.places
    for number in range(len(problem.lamps)):
        mine = np.flatnonzero(columns.lamps == number)
        levels[number] = z[mine].sum()
        if levels[number] > 0:
            places[number] = z[mine] @ columns.colours[mine] / levels[number]
    return State(levels, places, -np.log2(z[count:]))


def _with_shifts(problem: Problem, state: State, rule: str) -> State:
    """Return the best state with shifts that the cameras have."""
    best = _fitted(problem, state, rule, free=True)
    moving = [number for number, each in enumerate(problem.cameras) if len(each.shifts) > 1]
    shifts = np.array([min(each.shifts, key=partial(_away, here))
                       for each, here in zip(problem.cameras, best.shifts, strict=True)])
    if not moving:
        return replace(best, shifts=shifts)
    # What is set is left where another exposure gains nothing.
    own = np.array([min(each.shifts, key=abs) for each in problem.cameras])
    tried = [shifts, own]
    for number in moving:
        tried.append(np.where(np.arange(shifts.size) == number, own, shifts))
        near = sorted(problem.cameras[number].shifts, key=partial(_away, best.shifts[number]))[:3]
        tried += [np.where(np.arange(shifts.size) == number, each, shifts) for each in near[1:]]
    found = [_fitted(problem, replace(best, shifts=each), rule, free=False) for each in tried]
    return min(found, key=lambda each: _loss(problem, each, rule) + 1e-3 * float(np.abs(each.shifts).sum()))


def _away(one: float, other: float) -> float:
    return abs(one - other)


def _loss(problem: Problem, state: State, rule: str) -> float:
    misses = np.abs(problem.weighed(state))
    return float(misses.max() if rule == LEAST_WORST else misses @ misses)


def _fitted(problem: Problem, state: State, rule: str, *, free: bool) -> State:
    """Return a state refined by the rule, with the cameras' shifts free or as they are."""
    hull = _hull(problem) if free else [(each, each) for each in state.shifts]
    state = _within(problem, state)
    if rule == LEAST_WORST:
        columns = problem.columns_of(state)
        worst, z = linear.least_worst(problem, columns, hull)
        if worst > FINE and any(each.mired for each in problem.lamps):
            # Levels are the best for these colours; others may do better.
            other = _least_squares(problem, state, hull)
            reached, found = linear.least_worst(problem, problem.columns_of(other), hull)
            if reached < worst:
                worst, z, state, columns = reached, found, other, problem.columns_of(other)
        if worst > FINE:
            # Of those the one whose other wants are nearest.
            z = linear.nearest(problem, columns, hull, _allowed(problem, worst + ROOM), z,
                               lambda each: _squares(problem, columns, each))
        count = len(columns.lamps)
        return State(z[:count], state.places, -np.log2(z[count:]))
    if np.all(np.abs(problem.weighed(state)) < 2 * FINE):
        return state
    best = _least_squares(problem, state, hull)
    if _loss(problem, best, rule) < FINE**2:
        return best
    # Squared misses may have more than one valley.
    other = _least_squares(problem, _within(problem, replace(problem.now, shifts=state.shifts)), hull)
    return min(best, other, key=lambda each: _loss(problem, each, rule))


def _within(problem: Problem, state: State) -> State:
    """Return a state with every level brought to where it may be."""
    low = [0.0 if each.may_be_off else each.low for each in problem.lamps]
    return replace(state, levels=np.clip(state.levels, low, [each.high for each in problem.lamps]))


def _squares(problem: Problem, columns: Columns, z: np.ndarray) -> tuple[float, np.ndarray]:
    """Return the sum of the squared misses of a z, and its slope."""
    count = len(columns.lamps)
    xyz = np.einsum("mcx,c->mx", columns.xyz, z[:count])
    shifts = -np.log2(z[count:])
    off = problem.misses(problem.values(xyz, shifts)) / problem.units
    misses = problem.weights * np.nan_to_num(off, nan=20.0)
    light = problem.slopes(xyz, columns.xyz.transpose(0, 2, 1)) / problem.units[:, None]
    follows = np.array([[float(camera == n) for n in range(len(shifts))] for camera in problem.of_camera])
    slopes = np.hstack([light, -follows.reshape(len(misses), -1) / (z[count:] * np.log(2))])
    return float(misses @ misses), 2 * (misses * problem.weights) @ slopes


def _least_squares(problem: Problem, start: State, hull: Sequence[tuple[float, float]]) -> State:
    """Return the state of least squared misses near a start: levels, colours of ranges and shifts."""
    from scipy.optimize import least_squares

    lamps = np.array([n for n, each in enumerate(problem.lamps)
                      if each.high > each.low or each.may_be_off], int)
    ranges = np.array([n for n in lamps if problem.lamps[n].mired and problem.lamps[n].high > 0], int)
    moving = np.array([n for n, (low, high) in enumerate(hull) if high > low], int)
    if not lamps.size + moving.size:
        return start
    low = np.concatenate([[0.0 if problem.lamps[n].may_be_off else problem.lamps[n].low for n in lamps],
                          np.zeros(ranges.size), [hull[n][0] for n in moving]])
    high = np.concatenate([[problem.lamps[n].high for n in lamps],
                           [len(problem.lamps[n].colours) - 1 for n in ranges], [hull[n][1] for n in moving]])

    def state(x: np.ndarray) -> State:
        levels, places, shifts = start.levels.copy(), start.places.copy(), start.shifts.copy()
        levels[lamps], rest = x[: lamps.size], x[lamps.size:]
        places[ranges], shifts[moving] = rest[: ranges.size], rest[ranges.size:]
        return State(levels, places, shifts)

    def slopes(x: np.ndarray) -> np.ndarray:
        here = state(x)
        by = [problem.gain(n, float(here.places[n])) for n in lamps]
        by += [here.levels[n] * problem.gain_slope(n, float(here.places[n])) for n in ranges]
        light = (problem.weighed_slopes(here, np.stack(by, axis=-1)) if by
                 else np.zeros((len(problem.wants), 0)))
        follows = np.array([[float(camera == n) for n in moving] for camera in problem.of_camera])
        counts = problem.weights * (problem.weighed(here) != 0)
        return np.hstack([light, counts[:, None] * follows.reshape(len(problem.wants), moving.size)])

    x = np.concatenate([start.levels[lamps], start.places[ranges], start.shifts[moving]])
    inside = 1e-6 * (high - low)
    scale = np.concatenate([np.full(lamps.size, 1.0), np.full(ranges.size, 5.0), np.ones(moving.size)])
    found = least_squares(lambda each: problem.weighed(state(each)), np.clip(x, low + inside, high - inside),
                          jac=slopes, bounds=(low, high), x_scale=scale, xtol=1e-7, ftol=1e-7, max_nfev=60)
    return state(found.x)
