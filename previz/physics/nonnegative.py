"""Least squares with numbers that may not fall below zero."""

from __future__ import annotations

import numpy as np

_SLACK = 1e-10
"""Relative to the largest number of a problem: what rounding may leave. [1]"""


def constrained(gram, wanted, start):
    """Minimise w' G w / 2 - h' w over w of 0 or more that sum to what they start with.

    Parameters
    ----------
    gram : float array, shape (n, n)
        G, positive definite. [any]
    wanted : float array, shape (n,)
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
        solved = np.linalg.solve(system, np.append(wanted[inside], total))
        aim = np.zeros(count)
        aim[inside] = solved[:-1]
        if np.all(aim >= 0):
            best = aim
            slope = gram @ best - wanted + solved[-1]
            slope[free] = 0.0
            next_in = int(np.argmin(slope))
            if slope[next_in] >= -_SLACK * np.abs(wanted).max():
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


def parts_of(columns, wanted):
    """Return the amounts of columns, 0 or more, that come nearest to a vector.

    Parameters
    ----------
    columns : float array, shape (rows, columns)
        Of unit length each. [any]
    wanted : float array, shape (rows,)
        [as columns]

    Returns
    -------
    float array, shape (columns,)
        Amounts; no more of them are above 0 than there are rows. [1]

    Source
    ------
    Lawson and Hanson 1974, NNLS (from memory).
    """
    count = columns.shape[1]
    amounts, free = np.zeros(count), np.zeros(count, bool)
    slack = _SLACK * max(float(np.abs(wanted).max()), 1e-300)
    for _ in range(3 * len(wanted)):
        slope = columns.T @ (wanted - columns @ amounts)
        slope[free] = -np.inf
        pick = int(np.argmax(slope))
        if slope[pick] <= slack or free.sum() >= len(wanted):
            break
        free[pick] = True
        while free.any():
            inside = np.flatnonzero(free)
            aim = np.zeros(count)
            aim[inside] = np.linalg.lstsq(columns[:, inside], wanted, rcond=None)[0]
            if np.all(aim[inside] > 0):
                amounts = aim
                break
            below = inside[aim[inside] <= 0]
            step = amounts[below] / np.maximum(amounts[below] - aim[below], 1e-300)
            amounts = np.maximum(amounts + float(step.min()) * (aim - amounts), 0.0)
            amounts[below[step <= step.min()]] = 0.0
            free &= amounts > 0
            free[pick] &= amounts[pick] > 0
    return amounts
