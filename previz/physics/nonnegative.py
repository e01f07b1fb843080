"""Least squares with numbers that may not fall below zero."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray

_SLACK = 1e-10
"""Relative to the largest number of a problem: what rounding may leave. [1]"""

_MOST_STEPS = 100


def constrained(gram: FloatArray, linear: FloatArray, start: ArrayLike) -> FloatArray:
    """Minimise w' G w / 2 - h' w over w of 0 or more that sum to what they start with.

    Parameters
    ----------
    gram : float array, shape (n, n)
        G, positive definite. [any]
    linear : float array, shape (n,)
        h. [any]
    start : float array, shape (n,)
        0 or more; its sum is kept. [any]

    Returns
    -------
    float array, shape (n,)
        As `start`.

    Source
    ------
    Primal active-set method, Nocedal and Wright, Numerical Optimization, 2nd ed., 16.5 (from memory).
    """
    best = np.array(start, dtype=float)
    count, total = len(best), best.sum()
    if not total > 0:
        return best
    free = best > 0
    for _ in range(20 * count):
        inside = np.flatnonzero(free)
        system = np.zeros((len(inside) + 1, len(inside) + 1))
        system[:-1, :-1] = gram[np.ix_(inside, inside)]
        system[-1, :-1] = system[:-1, -1] = 1.0
        solved = np.linalg.solve(system, np.append(linear[inside], total))
        aim = np.zeros(count)
        aim[inside] = solved[:-1]
        if np.all(aim >= 0):
            best = aim
            slope = gram @ best - linear + solved[-1]
            slope[free] = 0.0
            next_in = int(np.argmin(slope))
            if slope[next_in] >= -_SLACK * np.abs(linear).max():
                break
            free[next_in] = True
            continue
        # Go towards the aim until the first number is 0, and hold that one there.
        below = aim < 0
        step = best[below] / (best[below] - aim[below])
        shortest = float(step.min())
        best = np.maximum(best + shortest * (aim - best), 0.0)
        out = np.flatnonzero(below)[step <= shortest]
        best[out], free[out] = 0.0, False
    return best


def shares_of(columns: FloatArray, target: FloatArray, ridge: float) -> FloatArray:
    """Return the amounts of columns, 0 or more, that make up a vector, spread over what will do.

    Minimises |v - M a|² + ridge² |a|² over a of 0 or more. With r = v - M a, a is
    max(0, M' r) / ridge², which leaves an equation in r that Newton's method solves.

    Parameters
    ----------
    columns : float array, shape (rows, columns)
        M. [any]
    target : float array, shape (rows,)
        v. [as columns]
    ridge : float
        Above 0. [as columns]

    Returns
    -------
    float array, shape (columns,)
        a. [1]

    Source
    ------
    Semismooth Newton method, Hintermueller, Ito and Kunisch 2003 (from memory).
    """
    scale, rows = 1 / ridge**2, len(target)

    def cost(left: FloatArray) -> float:
        return 0.5 * left @ left + 0.5 * scale * np.sum(
            np.maximum(columns.T @ left, 0) ** 2) - target @ left

    left, before = np.zeros(rows), None
    inside = np.ones(columns.shape[1], bool)
    for _ in range(_MOST_STEPS):
        part = columns[:, inside]
        aim = np.linalg.solve(np.eye(rows) + scale * part @ part.T, target)
        step, now = 1.0, cost(left)
        while cost(left + step * (aim - left)) > now and step > 1e-6:
            step /= 2
        left = left + step * (aim - left)
        before, inside = inside, columns.T @ left > 0
        if step == 1.0 and np.array_equal(before, inside):
            break
    return scale * np.maximum(columns.T @ left, 0)
