"""Names that keep clear of each other and of what is drawn: each at the best of many spots round its thing.

Every label is set in turn at the spot that costs least, and then moved again, a few times over, with all
others in their places. Nothing is drawn by lot: a plan comes out the same each time. Lengths are mm of paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from previz.plans.clip import lengths_within
from previz.plans.lettering import ABOVE, width
from previz.plans.records import Disc, Shape, Words

GAPS = (1.2, 2.5, 4.0, 6.0, 8.5, 11.5, 15.0, 19.0, 24.0, 30.0)
"""Between a thing and its name."""

NEARBY = 7
"""How many of those a name that may be left out can take."""

FAR_GAPS = (38.0, 48.0, 60.0, 75.0, 95.0, 120.0)
"""Where none of those is free."""

DIRECTIONS = 32

LEADING = 1.18
"""From line to line, as a part of the size."""

RADIUS = 2.3
"""Of the circle round a number."""

APART = 0.6
"""Between labels at least."""

LED = 1.5
"""From which gap on a line leads from a name to its thing."""

ROUNDS = 3
"""How often all labels are moved again."""

OVERLAP, OUTSIDE, COVERED, LEADER, AWAY, ASIDE = 400.0, 1e7, 6.0, 10.0, 0.55, 6.0
"""Costs: of an area on another label [1/mm²], off the drawing, of an area on a thing that must stay plain
[1/mm²], of a leader over a label, of being away [1/mm], and of being on the wrong side. Found by looking at
plans."""


class Line(NamedTuple):
    """A line of a label: text, height of the type, whether strong, whether grey."""

    text: str
    size: float = 2.1
    strong: bool = False
    quiet: bool = False


@dataclass(frozen=True, eq=False)
class Label:
    """What is to be written beside a thing.

    Parameters
    ----------
    name : str
        Of the thing.
    lines : tuple of Line
    solid : float array, shape (n, 2)
        Points that the thing lies between.
    number : str
        In a circle before the lines; '' for none.
    optional : bool
        True for one that is left out where there is no room.
    within : shapely geometry or None
        What it may also stand in.
    outwards : (float, float)
        Where it is to be rather, a unit vector; (0, 0) for anywhere.
    upright : bool
        True for one that runs upwards, along a wall that does; it has no number.
    """

    name: str
    lines: tuple[Line, ...]
    solid: np.ndarray
    number: str = ""
    optional: bool = False
    within: BaseGeometry | None = None
    outwards: tuple[float, float] = (0.0, 0.0)
    upright: bool = False

    @property
    def low(self) -> np.ndarray:
        """Lower left corner of the rectangle round the thing, shape (2,)."""
        return np.asarray(self.solid.min(axis=0))

    @property
    def high(self) -> np.ndarray:
        """Upper right corner of it, shape (2,)."""
        return np.asarray(self.solid.max(axis=0))

    @property
    def size(self) -> np.ndarray:
        """Width and height of all of it."""
        wide = max((width(line.text, line.size, line.strong) for line in self.lines), default=0.0)
        high = sum(LEADING * line.size for line in self.lines)
        if self.number:
            wide, high = wide + 2 * RADIUS + (0.9 if self.lines else 0.0), max(high, 2 * RADIUS)
        return np.array([high, wide] if self.upright else [wide, high])


@dataclass(frozen=True, eq=False)
class Around:
    """What labels are to keep clear of.

    Parameters
    ----------
    low, high : float array, shape (2,)
        No label lies beyond.
    shut : float array, shape (n, 4)
        Boxes that no label may lie on: low and high corner.
    plain : float array, shape (n, 4)
        Boxes that are better left alone: symbols, people.
    lines : float array, shape (n, 4)
        Both ends of each line.
    weights : float array, shape (n,)
        What a mm of a line under a label costs.
    """

    low: np.ndarray
    high: np.ndarray
    shut: np.ndarray = field(default_factory=lambda: np.zeros((0, 4)))
    plain: np.ndarray = field(default_factory=lambda: np.zeros((0, 4)))
    lines: np.ndarray = field(default_factory=lambda: np.zeros((0, 4)))
    weights: np.ndarray = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True, eq=False)
class Placed:
    """A label in its place: its box, and the line that leads to its thing, (n, 2) or None."""

    label: Label
    box: np.ndarray
    mirrored: bool
    leader: np.ndarray | None

    def marks(self) -> Iterator[Shape | Disc | Words]:
        """Yield what is drawn of it."""
        label, (left, low, right, high) = self.label, self.box
        if self.leader is not None:
            yield Shape("names", self.leader, pen="thin", name=label.name, part="leader")
        if label.upright:
            for line in label.lines:
                left += LEADING * line.size
                base = left - (LEADING - ABOVE) * line.size * 0.72
                yield Words("names", (base, low), line.text, line.size, "left", 90.0, line.strong, line.quiet,
                            label.name)
            return
        edge, align = (right, "right") if self.mirrored else (left, "left")
        if label.number:
            sign = -1 if self.mirrored else 1
            middle = (edge + sign * RADIUS, (low + high) / 2)
            yield Disc("names", middle, RADIUS, "outline", "paper", label.name, "number")
            size = 2.5 if len(label.number) < 3 else 1.9
            yield Words("names", (middle[0], middle[1] - 0.36 * size), label.number, size, "centre",
                        strong=True, name=label.name)
            edge += sign * (2 * RADIUS + 0.9)
        tall = sum(LEADING * line.size for line in label.lines)
        top = (low + high + tall) / 2
        for line in label.lines:
            top -= LEADING * line.size
            base = top + (LEADING - ABOVE) * line.size * 0.72
            yield Words("names", (edge, base), line.text, line.size, align, strong=line.strong,
                        quiet=line.quiet, name=label.name)


def placed(labels: Sequence[Label], around: Around) -> list[Placed]:
    """Return labels in their places, without the optional ones that have no room."""
    spots = [_Spots(label, around, GAPS[:NEARBY] if label.optional else GAPS) for label in labels]
    chosen: list[int | None] = [None] * len(labels)
    for turn in range(ROUNDS + 1):
        for k, spot in enumerate(spots):
            others = [(spots[j], n) for j, n in enumerate(chosen) if n is not None and j != k]
            best, clear = spot.best(others)
            if not clear and turn == ROUNDS:
                if spot.label.optional:
                    chosen[k] = None
                    continue
                spots[k] = spot = _Spots(spot.label, around, (*GAPS, *FAR_GAPS))
                best, _ = spot.best(others)
            chosen[k] = best
    return [spot.placed(n) for spot, n in zip(spots, chosen, strict=True) if n is not None]


class _Spots:
    """All spots that one label may take, and what each costs whatever the others do."""

    def __init__(self, label: Label, around: Around, gaps: Sequence[float]) -> None:
        self.label = label
        size, low, high = label.size, label.low, label.high
        middle, half = (low + high) / 2, (high - low) / 2
        turns = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
        ways = np.stack([np.cos(turns), np.sin(turns)], axis=1)
        centres, away = [], []
        for gap in gaps:
            with np.errstate(divide="ignore"):
                reach = ((half + size / 2 + gap) / np.maximum(np.abs(ways), 1e-9)).min(axis=1)
            centres.append(middle + ways * reach[:, None])
            # A name is looked for on the right first, and rather over its thing than under it.
            away.append(AWAY * gap + 0.25 * (1 - ways[:, 0]) + 0.12 * (1 - ways[:, 1])
                        + _aside(label, ways))
        inside = _inside(label, size)
        # In the thing itself a name is at home.
        centres.append(inside)
        away.append(0.1 * np.hypot(*(inside - middle).T))
        self.inside = np.concatenate([np.zeros(len(gaps) * DIRECTIONS, bool), np.ones(len(inside), bool)])
        places = np.concatenate(centres)
        self.boxes = np.concatenate([places - size / 2, places + size / 2], axis=1)
        self.mirrored = places[:, 0] < middle[0] - 0.2 * half[0] - 0.5
        self.leaders = self._leaders()
        self.led = np.hypot(*(self.leaders[:, 2:] - self.leaders[:, :2]).T) > LED
        self.led &= ~self.inside
        self.cost = np.concatenate(away) + self._own_cost(around)

    def _leaders(self) -> np.ndarray:
        """Return the shortest lines from each spot to the thing, shape (n, 4)."""
        low, high = self.boxes[:, :2], self.boxes[:, 2:]
        start = shapely.box(*low.T, *high.T)
        if self.label.number:
            x = np.where(self.mirrored, high[:, 0] - RADIUS, low[:, 0] + RADIUS)
            start = shapely.points(x, (low[:, 1] + high[:, 1]) / 2).tolist()
        thing = shapely.MultiPoint(self.label.solid).convex_hull
        lines = shapely.get_coordinates(shapely.shortest_line(start, thing)).reshape(-1, 4)
        if self.label.number:
            along = lines[:, 2:] - lines[:, :2]
            long = np.maximum(np.hypot(*along.T), 1e-9)[:, None]
            lines[:, :2] += along / long * np.minimum(long, RADIUS)
        return np.asarray(lines)

    def _own_cost(self, around: Around) -> np.ndarray:
        grown = self.boxes + [-APART / 2, -APART / 2, APART / 2, APART / 2]
        off = np.any(self.boxes[:, :2] < around.low, axis=1) | np.any(self.boxes[:, 2:] > around.high, axis=1)
        cost = np.where(off, OUTSIDE, 0.0)
        self.shut = off | (_overlaps(grown, around.shut).sum(axis=1) > 1e-9)
        cost = cost + OVERLAP * _overlaps(grown, around.shut).sum(axis=1)
        cost += 0.3 * ~self.inside * np.hypot(*(self.leaders[:, 2:] - self.leaders[:, :2]).T)
        cost += COVERED * _overlaps(grown, around.plain).sum(axis=1)
        if len(around.lines):
            low, high = grown[:, :2].min(axis=0), grown[:, 2:].max(axis=0)
            ends = around.lines.reshape(-1, 2, 2)
            near = np.all(ends.min(axis=1) < high, axis=1) & np.all(ends.max(axis=1) > low, axis=1)
            cost += lengths_within(around.lines[near], grown) @ around.weights[near]
        if len(around.shut):
            cost += 3.0 * self.led * lengths_within(self.leaders, around.shut).sum(axis=0)
        if len(around.plain):
            # Its own thing is one of the plain boxes, which the leader must enter.
            over = lengths_within(self.leaders, around.plain).sum(axis=0)
            cost += 1.2 * self.led * over
        return cost

    def best(self, others: Sequence[tuple[_Spots, int]]) -> tuple[int, bool]:
        """Return the spot that costs least with the others where they are, and whether it is clear."""
        cost, shut = self.cost, self.shut
        if others:
            boxes = np.array([spots.boxes[n] for spots, n in others])
            grown = boxes + [-APART, -APART, APART, APART]
            over = _overlaps(self.boxes, grown).sum(axis=1)
            cost = cost + OVERLAP * over
            shut = shut | (over > 1e-9)
            cost = cost + LEADER * self.led * lengths_within(self.leaders, grown).sum(axis=0)
            led = np.array([spots.leaders[n] for spots, n in others if spots.led[n]])
            if len(led):
                cost = cost + LEADER * lengths_within(led, self.boxes).sum(axis=1)
                cost = cost + 6.0 * self.led * _crossings(self.leaders, led)
        k = int(np.argmin(cost))
        return k, not shut[k]

    def placed(self, n: int) -> Placed:
        leader = self.leaders[n].reshape(2, 2) if self.led[n] else None
        return Placed(self.label, self.boxes[n], bool(self.mirrored[n]) and not self.inside[n], leader)


def _aside(label: Label, ways: np.ndarray) -> np.ndarray:
    """Return what it costs a label to be on the wrong side of its thing, or round its corner, shape (n,)."""
    if not np.any(label.outwards):
        return np.zeros(len(ways))
    along = ways @ label.outwards
    return np.asarray(ASIDE * (1 - along) + ASIDE * (1 - np.abs(along)))


def _inside(label: Label, size: np.ndarray) -> np.ndarray:
    """Return middles of spots within what a label may stand in, shape (n, 2)."""
    if label.within is None:
        return np.zeros((0, 2))
    low, high = label.low + size / 2 + 0.4, label.high - size / 2 - 0.4
    if np.any(high < low):
        return np.zeros((0, 2))
    x, y = (np.linspace(a, b, 9) for a, b in zip(low, high, strict=True))
    middles = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    boxes = shapely.box(*(middles - size / 2).T, *(middles + size / 2).T)
    return middles[shapely.contains(label.within, boxes)]


def _overlaps(boxes: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return the area that boxes share with others, shape (boxes, others). [mm²]"""
    low = np.maximum(boxes[:, None, :2], others[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], others[None, :, 2:])
    sides = np.maximum(high - low, 0.0)
    return np.asarray(sides[..., 0] * sides[..., 1])


def _crossings(lines: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return how many of the others each line crosses, shape (lines,)."""
    a, b, c, d = lines[:, None, :2], lines[:, None, 2:], others[None, :, :2], others[None, :, 2:]

    def side(one: np.ndarray, two: np.ndarray, of: np.ndarray) -> np.ndarray:
        along, away = two - one, of - one
        return np.asarray(along[..., 0] * away[..., 1] - along[..., 1] * away[..., 0])

    apart = side(a, b, c) * side(a, b, d) < 0
    across = side(c, d, a) * side(c, d, b) < 0
    return np.asarray((apart & across).sum(axis=1))


def segments(points: np.ndarray, closed: bool) -> np.ndarray:
    """Return the lines through points, shape (n, 4)."""
    points = np.asarray(points, float)
    after = np.roll(points, -1, axis=0) if closed else points[1:]
    return np.concatenate([points if closed else points[:-1], after], axis=1)
