"""Where something best stands: a search over places, cheap over many, careful over few.

What lamps give at a meter has edges in the place of a lamp (shadows, walls, the rim of a beam), so nothing
here goes by slopes: points spread evenly over the box, then ever closer round the best of them, and the few
that are left tried in earnest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

PRIMES = (2, 3, 5, 7, 11, 13)
"""Bases of the points, one for each direction."""

FAR_APART = 0.12
"""Two places are different ones where they lie so far apart, in parts of the box. [1]"""

FIRST_STEP, SHRINK = 0.18, 0.5
"""Half the width that the first finer round looks about in, in parts of the box, and by how much each
further round's is smaller. [1]"""

Screen = Callable[[np.ndarray], np.ndarray]
"""Points (n, d) -> what is missed at each, shape (n,); inf where nothing may stand."""


@dataclass(frozen=True, eq=False)
class Found:
    """A place that was found.

    Parameters
    ----------
    point : float array, shape (d,)
        In the box's own units.
    missed : float
        By the cheap count; the less, the better.
    """

    point: np.ndarray
    missed: float


def spread(count: int, size: int, first: int = 1) -> np.ndarray:
    """Return points that fill a box evenly, however many of them are taken. Shape (count, size), 0 to 1

    Parameters
    ----------
    count : int
    size : int
        Directions, up to 6.
    first : int
        Number of the first of them.

    Source
    ------
    Halton, Numerische Mathematik 2 (1960) 84 (from memory): radical inverses in bases that share no factor.
    """
    if not 1 <= size <= len(PRIMES):
        raise ValueError(f"points have 1 to {len(PRIMES)} directions, got {size}")
    made = np.zeros((count, size))
    for column, base in enumerate(PRIMES[:size]):
        left, step = np.arange(first, first + count), 1.0 / base
        while left.any():
            made[:, column] += step * (left % base)
            left, step = left // base, step / base
    return made


def search(screen: Screen, low: np.ndarray, high: np.ndarray, *, count: int = 256, keep: int = 6,
           rounds: int = 6, each: int = 24, start: np.ndarray | None = None) -> tuple[list[Found], int]:
    """Return the best places of a box, the best first, no two close to each other; and how many were tried.

    Parameters
    ----------
    screen : function
        See `Screen`.
    low, high : float array, shape (d,)
        The box; a direction whose ends are the same stays.
    count : int
        Points over the whole of it.
    keep : int
        Places that are looked about at, and returned at most.
    rounds, each : int
        How often, and how many points about each of them a round.
    start : float array, shape (d,), optional
        Tried too, as it stands.

    Raises
    ------
    ValueError
        The box has no inside.
    """
    low, high = np.asarray(low, float), np.asarray(high, float)
    if low.shape != high.shape or np.any(high < low):
        raise ValueError(f"a box runs from its low to its high end, got {low} to {high}")
    width = high - low
    points = low + width * spread(count, len(low))
    if start is not None:
        points = np.vstack([np.clip(start, low, high), points])
    missed = np.asarray(screen(points), float)
    tried = len(points)
    best = _apart(points, missed, width, keep)
    step = FIRST_STEP
    for number in range(rounds):
        if not best:
            break
        around = spread(each, len(low), first=1 + count + number * each)
        near = np.concatenate([np.clip(one.point + width * step * (2 * around - 1), low, high)
                               for one in best])
        found = np.asarray(screen(near), float)
        tried += len(near)
        # Each place moves to the best about it; others do not crowd in.
        for index, one in enumerate(best):
            mine = slice(index * each, (index + 1) * each)
            lowest = int(np.argmin(found[mine]))
            if found[mine][lowest] < one.missed:
                best[index] = Found(near[mine][lowest], float(found[mine][lowest]))
        step *= SHRINK
    points = np.array([one.point for one in best]).reshape(-1, len(low))
    return _apart(points, np.array([one.missed for one in best]), width, keep), tried


def _apart(points: np.ndarray, missed: np.ndarray, width: np.ndarray, keep: int) -> list[Found]:
    """Return the best points, those that lie close to a better one left out."""
    found: list[Found] = []
    scale = np.where(width > 0, width, 1.0)
    for index in np.argsort(missed, kind="stable"):
        if not np.isfinite(missed[index]) or len(found) == keep:
            break
        if all(np.abs((points[index] - other.point) / scale).max() >= FAR_APART for other in found):
            found.append(Found(points[index], float(missed[index])))
    return found
