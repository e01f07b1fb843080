"""The order of a few things in which going from one to the next costs least."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

MOST_EXACT = 12
"""Most things of which the best of all orders is searched."""


def cheapest_order(costs: Sequence[Sequence[float]], first: int | None = None) -> tuple[int, ...]:
    """Return the order in which the sum of costs from each to the next is least.

    Parameters
    ----------
    costs : (n, n) numbers
        From the row's to the column's; need not be alike both ways.
    first : int or None
        What comes first; None for whichever is best.

    Returns
    -------
    tuple of int
        Of all orders the best for up to `MOST_EXACT` things (dynamic programming over their subsets: Bellman
        1962, Held and Karp 1962, from memory); of more the best that comes of going to the nearest each
        time, then of taking single ones elsewhere. Of orders that cost the same, the one nearest to the
        order given.
    """
    count = len(costs)
    if count < 2:
        return tuple(range(count))
    if count > MOST_EXACT:
        return _improved(costs, first)
    # For each subset with each of its own last: the least cost, and with it the order itself.
    best: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {
        (1 << k, k): (0.0, (k,)) for k in range(count) if first is None or k == first}
    for size in range(1, count):
        of_size = [each for each in best.items() if each[0][0].bit_count() == size]
        for (chosen, last), (cost, order) in of_size:
            for k in range(count):
                if chosen >> k & 1:
                    continue
                key, found = (chosen | 1 << k, k), (_rounded(cost + costs[last][k]), (*order, k))
                if key not in best or found < best[key]:
                    best[key] = found
    whole = (1 << count) - 1
    return min(best[whole, last] for last in range(count) if (whole, last) in best)[1]


def total(costs: Sequence[Sequence[float]], order: Sequence[int]) -> float:
    """Return what an order costs."""
    return sum(costs[one][other] for one, other in pairwise(order))


def _rounded(cost: float) -> float:
    """Return a cost without the last bits, so that sums in different orders are equal."""
    return round(cost, 9)


def _improved(costs: Sequence[Sequence[float]], first: int | None) -> tuple[int, ...]:
    count = len(costs)
    found = (math.inf, tuple(range(count)))
    for start in range(count) if first is None else (first,):
        order = [start]
        while len(order) < count:
            order.append(min((k for k in range(count) if k not in order), key=lambda k: costs[order[-1]][k]))
        found = min(found, _moved(costs, order, held=first is not None))
    return found[1]


def _moved(costs: Sequence[Sequence[float]], order: list[int], held: bool) -> tuple[float, tuple[int, ...]]:
    """Take single ones elsewhere as long as that costs less; `held` keeps the first where it is."""
    best = _rounded(total(costs, order))
    least = 1 if held else 0
    while True:
        tries = [(_rounded(total(costs, made)), made) for i in range(least, len(order))
                 for j in range(least, len(order)) if i != j
                 for made in [_elsewhere(order, i, j)]]
        cost, made = min(tries)
        if cost >= best:
            return best, tuple(order)
        best, order = cost, made


def _elsewhere(order: list[int], one: int, other: int) -> list[int]:
    made = order[:one] + order[one + 1:]
    made.insert(other, order[one])
    return made
