"""What would have to change where no levels meet the wants: each change alone, as small as it may be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from previz.levels import linear
from previz.levels.problem import Columns, Problem, State
from previz.levels.response import BOUNCED, DIRECT
from previz.levels.wants import Want
from previz.physics.light import lamp_band_xyz

BIGGER, FREED, EXPOSED = "bigger", "freed", "exposed"
FLAGGED, BLACKED, BOUNCED_MORE = "flagged", "blacked", "bounced more"
"""Kinds of changes: a lamp that gives more than it can, one that is locked at another level, another stop,
direct light of a lamp kept off a place, what is bounced of it kept off, or more bounced of it there."""

MOST_STOPS = 4.0
"""A lamp that would have to be bigger by more, or more of a bounce, is no advice. [stops]"""

LEAST_PART = 0.05
"""A lamp is thought of at a meter where it gives such a share of what is wanted. [1]"""


@dataclass(frozen=True)
class Remedy:
    """One change after which all wants can be met, or those that exclude each other.

    Parameters
    ----------
    kind : str
    lamp : str
        '' for a camera's.
    meter : str
        Where a flag, a black or a bounce acts; '' for others.
    amount : float
        Bigger, freed, exposed, bounced more: stops more (+) or less (-). Flagged, blacked: the share of
        its direct or bounced light there that is taken. [stops or 1]
    camera : str
        Of another exposure.
    all_wants : bool
        Whether all wants can then be met, or only those of the conflict.
    """

    kind: str
    lamp: str
    meter: str
    amount: float
    camera: str = ""
    all_wants: bool = True


def conflict(problem: Problem, state: State) -> tuple[str, ...]:
    """Return wants that cannot be met together, none of which can be spared; none where all can be met.

    Levels and exposure are free within what may move, colours as a state has them.
    """
    columns, hull = problem.columns_of(state), _hull(problem)
    wants = list(problem.wants)
    if _met(_of(problem, wants), columns, hull) is not None:
        return ()
    for want in problem.wants:
        fewer = [each for each in wants if each is not want]
        if _met(_of(problem, fewer), columns, hull) is None:
            wants = fewer
    return tuple(want.name for want in wants)


def remedies(problem: Problem, state: State, most: int = 4) -> tuple[Remedy, ...]:
    """Return the smallest changes that would do, each alone; none where all wants can be met.

    Parameters
    ----------
    problem : Problem
    state : State
        The answer; its colours stay.
    most : int
        So many at most, of different kinds first.
    """
    names = conflict(problem, state)
    if not names:
        return ()
    for wants in (list(problem.wants), [each for each in problem.wants if each.name in names]):
        smaller = _of(problem, wants)
        found = sorted(_tried(smaller, state, names), key=_size)
        if found:
            ranked = [each for _, each in sorted(enumerate(found), key=lambda pair: _rank(found, pair[0]))]
            every = len(wants) == len(problem.wants)
            return tuple(replace(each, all_wants=every) for each in ranked[:most])
    return ()


def _rank(found: list[Remedy], number: int) -> tuple[int, int]:
    """Return where a remedy stands: the smallest of each kind before the next of any."""
    return sum(each.kind == found[number].kind for each in found[:number]), number


def _size(remedy: Remedy) -> float:
    return abs(remedy.amount) * (2.0 if remedy.kind in (FLAGGED, BLACKED) else 1.0)


def _hull(problem: Problem) -> list[tuple[float, float]]:
    return [(min(each.shifts), max(each.shifts)) for each in problem.cameras]


def _of(problem: Problem, wants: Sequence[Want]) -> Problem:
    """Return the problem with some of its wants only."""
    smaller = copy(problem)
    kept = [number for number, each in enumerate(problem.wants) if each in wants]
    smaller.wants = [problem.wants[number] for number in kept]
    smaller.at = [problem.at[number] for number in kept]
    smaller.of_camera = [problem.of_camera[number] for number in kept]
    return smaller


def _within(problem: Problem) -> np.ndarray:
    return np.array([want.within for want in problem.wants]) / problem.units


def _met(problem: Problem, columns: Columns, hull: list[tuple[float, float]],
         cost: np.ndarray | None = None) -> np.ndarray | None:
    """Return levels that meet the wants as far as these allow, of least cost; None where there are none."""
    return linear.least(problem, columns, hull, _within(problem), cost)


def _tried(problem: Problem, state: State, names: tuple[str, ...]) -> Iterator[Remedy]:
    columns, hull = problem.columns_of(state), _hull(problem)
    count = len(problem.lamps)
    for number, lamp in enumerate(problem.lamps):
        alone = np.eye(count + len(hull))[number]
        fixed = lamp.high == lamp.low
        wide = replace(lamp, low=0.0, high=max(lamp.high, 1e-3) * 2.0**MOST_STOPS, may_be_off=False)
        freed = copy(problem)
        freed.lamps = [wide if k == number else each for k, each in enumerate(problem.lamps)]
        found = _met(freed, columns, hull, alone)
        if found is None:
            continue
        if not fixed and found[number] > lamp.high:
            yield Remedy(BIGGER, lamp.lamp, "", float(np.log2(found[number] / lamp.high)))
        elif fixed and lamp.level > 0:
            more = found[number]
            if more < lamp.level:
                # The least is under what it has: look for the most that still does.
                most = _met(freed, columns, hull, -alone)
                more = found[number] if most is None else min(most[number], lamp.level)
            yield Remedy(FREED, lamp.lamp, "", float(np.log2(max(more, 1e-4) / lamp.level)))
    for number, camera in enumerate(problem.cameras):
        if len(camera.shifts) == 1:
            yield from _exposed(problem, columns, hull, number, camera.camera)
    meters = sorted({meter for k, want in enumerate(problem.wants) if want.name in names
                     for meter in problem.at[k]})
    for meter in meters:
        yield from _at(problem, state, columns, hull, meter)


def _exposed(problem: Problem, columns: Columns, hull: list[tuple[float, float]], number: int,
             name: str) -> Iterator[Remedy]:
    """Yield the smallest other exposure of a camera that would do."""
    for low, high in ((0.0, MOST_STOPS), (-MOST_STOPS, 0.0)):
        wide = [(low, high) if k == number else each for k, each in enumerate(hull)]
        cost = np.zeros(len(columns.lamps) + len(hull))
        # The factor is 2^-shift: nearest to 1 is the largest of the one side, the smallest of the other.
        cost[len(columns.lamps) + number] = -1.0 if low == 0.0 else 1.0
        found = _met(problem, columns, wide, cost)
        if found is not None:
            yield Remedy(EXPOSED, "", "", float(-np.log2(found[len(columns.lamps) + number])), name)


def _at(problem: Problem, state: State, columns: Columns, hull: list[tuple[float, float]],
        meter: int) -> Iterator[Remedy]:
    """Yield what cloth or a board at one meter would do, lamp by lamp."""
    name, whole = problem.response.meters[meter], float(problem.light(state)[meter, 1])
    for number, lamp in enumerate(problem.lamps):
        parts = _parts(problem, state, number)[:, meter]
        level = float(state.levels[number])
        for kind, part, sign in (
                (FLAGGED, DIRECT, -1.0), (BLACKED, BOUNCED, -1.0), (BOUNCED_MORE, BOUNCED, 1.0)):
            if level * parts[part, 1] < LEAST_PART * whole:
                continue
            share = _share(problem, columns, hull, number, meter, sign * parts[part])
            if share is not None:
                amount = share if sign < 0 else float(np.log2(1 + share))
                if amount <= MOST_STOPS:
                    yield Remedy(kind, lamp.lamp, name, amount)


def _parts(problem: Problem, state: State, number: int) -> np.ndarray:
    """Return what a lamp gives at a level of 1, direct and bounced. Shape (2, meter, 3) [lx or cd/m²]"""
    lamp, place = problem.lamps[number], float(state.places[number])
    light = problem.response.light[:, :, number].mean(axis=1)
    weights = lamp_band_xyz(lamp.colours[int(round(place))], light.shape[-1])
    return np.einsum("mpb,bc->pmc", light, weights)


def _share(problem: Problem, columns: Columns, hull: list[tuple[float, float]], number: int, meter: int,
           light: np.ndarray) -> float | None:
    """Return the least share of a lamp's level by which light has to come on top at one meter.

    Parameters
    ----------
    light : float array, shape (3,)
        What comes on top for a whole level; below 0 for what is taken. [lx or cd/m²]

    Returns
    -------
    float or None
        Of the lamp's level; None where none does. [1]
    """
    from scipy.optimize import linprog

    more = np.zeros((len(columns.xyz), 1, 3))
    more[meter, 0] = light
    wider = Columns(np.append(columns.lamps, number), np.append(columns.colours, 0),
                    np.concatenate([columns.xyz, more], axis=1))
    rows, bounds = problem.limits(wider, _within(problem))
    low, high = linear.ends(problem, columns, hull)
    count = len(columns.lamps)
    most = 2.0**MOST_STOPS if light[1] > 0 else 1.0
    # It is a share of the level that the lamp has then.
    tied = np.zeros((1, rows.shape[1]))
    tied[0, count], tied[0, number] = 1.0, -most
    low = np.insert(low, count, 0.0)
    high = np.insert(high, count, most * problem.lamps[number].high)
    cost = np.zeros(low.size)
    cost[count] = 1.0
    found = linprog(cost, A_ub=np.vstack([rows, tied]), b_ub=np.append(bounds, 0.0),
                    bounds=np.stack([low, high], axis=1), method="highs")
    if found.status != 0 or not found.x[number] > 0 or not found.x[count] > 0:
        return None
    return float(found.x[count] / found.x[number])
