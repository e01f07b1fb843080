"""The levels between straight limits: whether there are any, which cost least, and which lie nearest."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from previz.levels.problem import Columns, Problem

FINE = 0.002
"""Misses are made as small as this, and no smaller. [stops]"""

MOST = 24.0
"""A miss of so many stops is taken for none at all of what is wanted. [stops]"""


def ends(problem: Problem, columns: Columns,
         shifts: Sequence[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    """Return the least and the most of z: of every column's level, and of 2^-shift of every camera.

    Parameters
    ----------
    problem : Problem
    columns : Columns
    shifts : sequence of (float, float)
        Least and most shift of each camera. [stops]
    """
    # A lamp in several columns is held by `budget`; one alone by its own ends.
    alone = np.bincount(columns.lamps, minlength=len(problem.lamps)) == 1
    low = [each.low if alone[i] and not each.may_be_off else 0.0 for i, each in enumerate(problem.lamps)]
    least = [low[lamp] for lamp in columns.lamps] + [2.0**-most for _, most in shifts]
    high = [problem.lamps[lamp].high for lamp in columns.lamps] + [2.0**-few for few, _ in shifts]
    return np.array(least), np.array(high)


def budget(problem: Problem, columns: Columns) -> tuple[np.ndarray, np.ndarray]:
    """Return A and b of A z <= b: what lamps in several columns may give in all of them together."""
    rows, bounds = [], []
    for number, lamp in enumerate(problem.lamps):
        mine = columns.lamps == number
        if mine.sum() > 1:
            row = np.concatenate([mine.astype(float), np.zeros(len(problem.cameras))])
            rows.append(row)
            bounds.append(lamp.high)
            if lamp.low > 0 and not lamp.may_be_off:
                rows.append(-row)
                bounds.append(-lamp.low)
    return (np.array(rows).reshape(-1, len(columns.lamps) + len(problem.cameras)), np.array(bounds))


def least(problem: Problem, columns: Columns, shifts: Sequence[tuple[float, float]], allowed: np.ndarray,
          cost: np.ndarray | None = None, without: int | None = None) -> np.ndarray | None:
    """Return the z of least cost within the limits, None where there is none.

    Parameters
    ----------
    problem : Problem
    columns : Columns
    shifts : sequence of (float, float)
        [stops]
    allowed : float array, shape (want,)
        What each want may be off by. [stops]
    cost : float array, shape (z,), optional
        Of each part of z; all the same without it.
    without : int, optional
        A want to leave out.
    """
    from scipy.optimize import linprog

    rows, bounds = problem.limits(columns, allowed, without)
    more, most = budget(problem, columns)
    low, high = ends(problem, columns, shifts)
    if not low.size:
        return low
    found = linprog(np.zeros(low.size) if cost is None else cost, A_ub=np.vstack([rows, more]),
                    b_ub=np.concatenate([bounds, most]), bounds=np.stack([low, high], axis=1), method="highs")
    return np.asarray(found.x) if found.status == 0 else None


def least_worst(problem: Problem, columns: Columns, shifts: Sequence[tuple[float, float]],
                without: int | None = None) -> tuple[float, np.ndarray]:
    """Return the smallest greatest miss that there is [weighed stops], and the z that has it.

    Whether every want can be kept within so many stops is a linear program; the number is found by halving.
    """
    scale = 1.0 / np.maximum(problem.weights, 1e-6)

    def tried(stops: float) -> np.ndarray | None:
        return least(problem, columns, shifts, np.minimum(stops * scale, MOST), without=without)

    best = tried(FINE)
    if best is not None:
        return FINE, best
    low, high = FINE, 0.25
    best = tried(high)
    while best is None:
        low, high = high, 2 * high
        if high > 4 * MOST:
            raise ValueError("no levels keep what a lamp may do")
        best = tried(high)
    while high - low > FINE / 2 + 0.002 * high:
        middle = (low + high) / 2
        found = tried(middle)
        if found is None:
            low = middle
        else:
            high, best = middle, found
    return high, best


def nearest(problem: Problem, columns: Columns, shifts: Sequence[tuple[float, float]], allowed: np.ndarray,
            start: np.ndarray, loss: Callable[[np.ndarray], tuple[float, np.ndarray]]) -> np.ndarray:
    """Return the z within the limits of least loss, by sequential quadratic programming.

    Parameters
    ----------
    problem : Problem
    columns : Columns
    shifts : sequence of (float, float)
    allowed : float array, shape (want,)
    start : float array, shape (z,)
        Within the limits.
    loss : function
        z -> (loss, slope of it).

    Returns
    -------
    float array, shape (z,)
        `start` where nothing better is found within the limits.
    """
    from scipy.optimize import minimize

    rows, bounds = problem.limits(columns, allowed)
    low, high = ends(problem, columns, shifts)
    low = np.where((low > start) & (start == 0), 0.0, low)
    found = minimize(loss, np.clip(start, low, high), jac=True, bounds=list(zip(low, high, strict=True)),
                     constraints=[{"type": "ineq", "fun": lambda z: bounds - rows @ z,
                                   "jac": lambda z: -rows}],
                     method="SLSQP", options={"maxiter": 200, "ftol": 1e-10})
    better = np.clip(found.x, low, high)
    kept = not rows.size or float((rows @ better - bounds).max()) < 1e-5
    return better if kept and loss(better)[0] < loss(start)[0] else start
