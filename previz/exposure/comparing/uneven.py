"""Holes and hot spots along a way: stops against metres in, places out.

- a **hole** is a place of least light between two brighter ones: so many stops under the straight line, in
  stops against metres, between the brightest places at its two sides (each up to the next place that is
  darker yet), and no brighter than the middle, the median over the metres, of the walk;
- a **hot spot** is the same upside down;
- where a range is wanted, a stretch under it is a hole and one over it a hot spot, and nothing within it is
  either.

One is named from `LEAST` stops on, half of which it must be off each of the two, and only where that is more
than `SURE` of its standard errors. A fall of light towards an end of the walk is no hole, as nothing beyond
it is brighter: under a wanted range it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from previz.exposure.metering import Measured
from previz.exposure.trust import SURE

HOLE, HOT = "hole", "hot spot"

LEAST = 0.7
"""From so many stops on a hole or a hot spot is named. [stops]  Invented: two thirds of a stop is seen on a
face that walks through it, a third hardly."""

DARKEST = -12.0
"""No light counts as so many stops from the working stop where places are compared; no camera shows what is
darker. [stops]  Common practice, no source."""

NEXT_TO_NOTHING = 0.1
"""What lies outside a wanted range by less is not named. [stops]"""


@dataclass(frozen=True)
class Uneven:
    """A hole or a hot spot.

    Parameters
    ----------
    kind : str
        `HOLE` or `HOT`.
    at : int
        The darkest or the hottest place of it, by number.
    first, last : int
        Outermost places that belong to it: more than half as deep, or outside what is wanted.
    by : Measured or None
        How far under (over) the line between its neighbours; None where it is only outside what is wanted.
        [stops]
    between : (int, int) or None
        These neighbours.
    beyond : Measured or None
        How far outside what is wanted; None where it is inside, or nothing is wanted. [stops]
    """

    kind: str
    at: int
    first: int
    last: int
    by: Measured | None = None
    between: tuple[int, int] | None = None
    beyond: Measured | None = None

    @property
    def amount(self) -> Measured:
        """What it is named for: against what is wanted if that is, else against its neighbours. [stops]"""
        found = self.beyond or self.by
        if found is None:
            raise ValueError("it is neither against its neighbours nor against what is wanted")
        return found


def unevens(metres: Sequence[float], stops: Sequence[Measured], least: float = LEAST,
            wanted: tuple[float, float] | None = None) -> tuple[Uneven, ...]:
    """Return the holes and hot spots of a way, from its start on.

    Parameters
    ----------
    metres : sequence of float
        Along the way, never falling. [m]
    stops : sequence of Measured
        Of the lit side, from the working stop. [stops]
    least : float
        From how much on one is named. [stops]
    wanted : (float, float), optional
        The range that all is to be in. [stops]
    """
    along = np.asarray(metres, float)
    levels = np.array([max(each.value, DARKEST) for each in stops])
    errors = np.array([each.error if each.value > DARKEST else 0.0 for each in stops])
    middle = _middle(along, levels)
    found: list[Uneven] = []
    for kind, sign in ((HOLE, 1.0), (HOT, -1.0)):
        turned = sign * levels
        outside = [] if wanted is None else _outside(kind, turned, errors, sign, wanted)
        deep = [] if len(turned) < 3 else _deep(kind, along, turned, errors, least, sign * middle)
        for one in deep:
            if wanted is None:
                found.append(one)
                continue
            # What is outside the wanted range is said once, with both numbers; what is within is good.
            same = next((each for each in outside if each.at == one.at), None)
            if same is not None:
                outside.remove(same)
                found.append(replace(same, by=one.by, between=one.between))
        found += outside
    return tuple(sorted(found, key=lambda each: (each.at, each.kind)))


def _middle(along: np.ndarray, levels: np.ndarray) -> float:
    """Return the median of levels over the metres: each place counts for half the way to its neighbours."""
    gaps = np.diff(along)
    weights = (np.append(gaps, 0.0) + np.insert(gaps, 0, 0.0)) / 2
    order = np.argsort(levels)
    total = np.cumsum(weights[order])
    if not len(total) or total[-1] <= 0:
        return float(np.median(levels)) if len(levels) else 0.0
    return float(levels[order][np.searchsorted(total, total[-1] / 2)])


def _deep(kind: str, along: np.ndarray, levels: np.ndarray, errors: np.ndarray, least: float,
          middle: float) -> list[Uneven]:
    """Return what lies under the line between the highest places at both sides, up to a lower place each."""
    found = []
    for i in range(1, len(levels) - 1):
        # The first of several alike stands for them; it is the lowest up to the next that is lower.
        lower = np.flatnonzero(levels[:i] <= levels[i])
        start = int(lower[-1]) + 1 if len(lower) else 0
        lower = np.flatnonzero(levels[i + 1:] < levels[i])
        end = i + int(lower[0]) if len(lower) else len(levels) - 1
        if start == i or end == i:
            continue
        left = start + int(np.argmax(levels[start:i]))
        right = i + 1 + int(np.argmax(levels[i + 1:end + 1]))
        span = along[right] - along[left]
        share = (along[i] - along[left]) / span if span > 0 else 0.5
        depth = (1 - share) * levels[left] + share * levels[right] - levels[i]
        error = float(np.sqrt(errors[i]**2 + ((1 - share) * errors[left])**2 + (share * errors[right])**2))
        # A curve that falls off ever slower lies under its chord without a rise at its end.
        rise = min(levels[left], levels[right]) - levels[i]
        if depth < max(least, SURE * error) or rise < max(least / 2, SURE * error) or levels[i] > middle:
            continue
        line = np.interp(along[left:right + 1], [along[left], along[right]], [levels[left], levels[right]])
        half = line - levels[left:right + 1] > depth / 2
        k, first, last = i - left, i, i
        while k - (i - first) > 0 and half[first - left - 1]:
            first -= 1
        while last < right and half[last - left + 1]:
            last += 1
        found.append(Uneven(kind, i, first, last, Measured(float(depth), error), (left, right)))
    return found


def _outside(kind: str, levels: np.ndarray, errors: np.ndarray, sign: float,
             wanted: tuple[float, float]) -> list[Uneven]:
    """Return the stretches outside what is wanted, each at its worst place."""
    limit = wanted[0] if sign > 0 else -wanted[1]
    under = limit - levels
    out = under > np.maximum(NEXT_TO_NOTHING, SURE * errors)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], out, [False]]).astype(int)))
    found = []
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        at = int(first + np.argmax(under[first:after]))
        found.append(Uneven(kind, at, int(first), int(after - 1), beyond=Measured(
            float(under[at]), float(errors[at]))))
    return found
