"""Ways over the floor: from a place to many others, along walls, round pieces and round where people go.

The floor is a grid of squares. Each has a cost for each metre; the cheapest ways from one place to all
squares are found at once (Dijkstra), then drawn straight wherever that costs no more.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from previz.plans.areas import Area, Place, has

MOST_SQUARES = 14_000
"""Squares that a floor is cut into, at most about so many."""

FINEST = 0.08
"""Side of a square that is fine enough for any floor. [m]"""

BESIDE = 0.3
"""So near to a wall or a piece a cable lies out of the way. [m]  Common practice, no source."""

OPEN_FLOOR = 1.5
"""Cost of a metre across the open floor, over one along a wall. [1]  Common practice, no source: over 1.414,
no slant across a room is worth leaving its walls for."""

SHUNNED = 40.0
"""Cost of a metre where people go or a camera looks: any way round that is not so many times longer is
taken. [1]"""

WITHIN_REACH, OVER = 0.5, 2.0
"""A way to what stands on a piece leaves the floor so much farther from it at most than it could [m]; cost of
a metre over the piece. [1]"""

TOUCH = 0.1
"""A way that lies in an area for less than this only touches it. [m]"""

STEP = 0.5
"""Of a square's side: how finely a straight line is tried."""

FAR_APART = 12
"""So many squares of a straight part of a way have one corner that it may be drawn straight from."""

SIDES = ((1, 0), (0, 1), (-1, 0), (0, -1), (1, 1), (-1, 1), (-1, -1), (1, -1),
         (2, 1), (1, 2), (-1, 2), (-2, 1), (-2, -1), (-1, -2), (1, -2), (2, -1))
"""Steps from a square to others: 16 directions."""


@dataclass(frozen=True, eq=False)
class Gap:
    """An opening in a wall that a way may go through.

    Parameters
    ----------
    name : str
    shape : Polygon
        Within the wall. [m]
    along : str
        The axis that its wall runs along, 'x' or 'y'.
    extra : float
        That it takes on top: up to a sill and down again. [m]
    shy : float
        By how much longer another way may be that is taken in its place. [m]
    """

    name: str
    shape: Area
    along: str
    extra: float = 0.0
    shy: float = 0.0

    @property
    def depth(self) -> float:
        """Thickness of the wall. [m]"""
        low_x, low_y, high_x, high_y = self.shape.bounds
        return float(high_y - low_y if self.along == "x" else high_x - low_x)

    def middle(self, wider: float) -> LineString:
        """Return the line half through the wall, longer by `wider` at each end, that ways through cross."""
        low_x, low_y, high_x, high_y = self.shape.bounds
        if self.along == "x":
            y = (low_y + high_y) / 2
            return LineString([(low_x - wider, y), (high_x + wider, y)])
        x = (low_x + high_x) / 2
        return LineString([(x, low_y - wider), (x, high_y + wider)])


@dataclass(frozen=True, eq=False)
class Floor:
    """What a way over the floor goes along, through, round and across.

    Parameters
    ----------
    low, high : (float, float)
        Corners of all of it. [m]
    blocked : sequence of Polygon
        Walls, without their gaps, and pieces. [m]
    gaps : sequence of Gap
    shunned : sequence of Polygon
        Where people go, or cameras look. [m]
    """

    low: Place
    high: Place
    blocked: Sequence[Area] = ()
    gaps: Sequence[Gap] = ()
    shunned: Sequence[Area] = ()


@dataclass(frozen=True)
class Route:
    """A way over the floor.

    Parameters
    ----------
    corners : tuple of (float, float)
        From its start to its end. [m]
    length : float
        Over the floor, with what gaps cost on top. [m]
    reaches : bool
        False where there is no way, and it goes straight.
    gaps : tuple of str
        Names of the gaps that it goes through.
    """

    corners: tuple[Place, ...]
    length: float
    reaches: bool = True
    gaps: tuple[str, ...] = field(default=())

    @property
    def line(self) -> LineString:
        """The way as a line."""
        return LineString(self.corners if len(self.corners) > 1 else (*self.corners, *self.corners))


class Routes:
    """The cheapest ways over a floor from one place.

    Parameters
    ----------
    floor : Floor
    start : (float, float)
        [m]
    rooms : sequence of Polygon
        Parts of the floor that no way ends outside of which leads to a place in them, such as a room. [m]
    """

    def __init__(self, floor: Floor, start: Place, rooms: Sequence[Area] = ()):
        self.floor, self.start, self.rooms = floor, start, tuple(rooms)
        wide, deep = (max(high - low, FINEST) for low, high in zip(floor.low, floor.high, strict=True))
        self.side = max(FINEST, math.sqrt(wide * deep / MOST_SQUARES))
        self.shape = (math.ceil(wide / self.side) + 1, math.ceil(deep / self.side) + 1)
        self.cost, self.extra = self._costs()
        self.first = self._free(start)
        self.reached, self.before = self._spread()

    def _middles(self) -> tuple[np.ndarray, np.ndarray]:
        x = self.floor.low[0] + self.side * (np.arange(self.shape[0]))
        y = self.floor.low[1] + self.side * (np.arange(self.shape[1]))
        return np.meshgrid(x, y, indexing="ij")

    def _costs(self) -> tuple[np.ndarray, np.ndarray]:
        """Return what a metre costs in each square, inf where nothing may lie, and what it costs on top."""
        x, y = self._middles()
        blocked = shapely.union_all(list(self.floor.blocked)) if self.floor.blocked else Polygon()
        holes = [gap.shape for gap in self.floor.gaps]
        # Half a square more, so that no way slips through a wall that lies between the middles of squares.
        blocked = blocked.difference(shapely.union_all(holes)).buffer(self.side / 2, join_style="mitre")
        within = shapely.contains_xy(blocked, x, y)
        beside = shapely.contains_xy(blocked.buffer(BESIDE), x, y)
        cost = np.where(beside, 1.0, OPEN_FLOOR)
        if self.floor.shunned:
            cost[shapely.contains_xy(shapely.union_all(list(self.floor.shunned)), x, y)] *= SHUNNED
        cost[within] = np.inf
        extra = np.zeros(self.shape)
        for gap in self.floor.gaps:
            # As much wider as walls are thicker, so that no gap falls between the middles of squares.
            inside = shapely.contains_xy(gap.shape.buffer(self.side / 2, join_style="mitre"), x, y)
            cost[inside] = np.minimum(cost[inside], OPEN_FLOOR)
            # Spread over its depth, which a way goes through once.
            extra[inside] = (gap.extra + gap.shy) / (gap.depth + self.side)
        return cost, extra

    def _square(self, at: Place) -> tuple[int, int]:
        return tuple(int(np.clip(round((at[k] - self.floor.low[k]) / self.side), 0, self.shape[k] - 1))
                     for k in (0, 1))  # type: ignore[return-value]

    def _middle(self, square: tuple[int, int]) -> Place:
        return (self.floor.low[0] + square[0] * self.side, self.floor.low[1] + square[1] * self.side)

    def _free(self, at: Place) -> tuple[int, int]:
        """Return the square nearest to a place where something may lie, in the same room."""
        free = np.isfinite(self.cost)
        own = self._square(at)
        if free[own] or not free.any():
            return own
        away = self._away(at, free)
        found = np.unravel_index(int(np.argmin(away)), self.shape)
        return int(found[0]), int(found[1])

    def _away(self, at: Place, free: np.ndarray) -> np.ndarray:
        """Return how far some squares are from a place, inf for others and those of other rooms. [m]"""
        x, y = self._middles()
        away = np.where(free, np.hypot(x - at[0], y - at[1]), np.inf)
        for room in self.rooms:
            same = shapely.contains_xy(room, x, y) == has(room, at)
            if np.isfinite(away[same]).any():
                away = np.where(same, away, np.inf)
        return away

    def _end(self, at: Place) -> tuple[int, int]:
        """Return the square where a way to a place leaves the floor: of those about nearest the cheapest."""
        own = self._square(at)
        if np.isfinite(self.reached[own]):
            return own
        away = self._away(at, np.isfinite(self.reached))
        price = np.where(away <= away.min() + WITHIN_REACH, self.reached + OVER * away, np.inf)
        if not np.isfinite(price).any():
            return own
        found = np.unravel_index(int(np.argmin(price)), self.shape)
        return int(found[0]), int(found[1])

    def _spread(self) -> tuple[np.ndarray, dict[tuple[int, int], tuple[int, int]]]:
        """Return what the cheapest way to each square costs, and the square before it."""
        reached = np.full(self.shape, np.inf)
        before: dict[tuple[int, int], tuple[int, int]] = {}
        metre = (self.cost + self.extra).tolist()
        far = reached.tolist()
        wide, deep = self.shape
        far[self.first[0]][self.first[1]] = 0.0
        heap = [(0.0, self.first)]
        steps = [(i, j, self.side * math.hypot(i, j)) for i, j in SIDES]
        while heap:
            so_far, (i, j) = heapq.heappop(heap)
            if so_far > far[i][j]:
                continue
            own = metre[i][j]
            for di, dj, length in steps:
                k, m = i + di, j + dj
                if not (0 <= k < wide and 0 <= m < deep) or metre[k][m] == math.inf:
                    continue
                if abs(di) + abs(dj) > 1:
                    # A slanting step passes squares beside it, none of which may be blocked.
                    one, other = (i + (di > 0) - (di < 0), j), (i, j + (dj > 0) - (dj < 0))
                    if metre[one[0]][one[1]] == math.inf or metre[other[0]][other[1]] == math.inf:
                        continue
                    corner = (one[0], other[1])
                    if abs(di) + abs(dj) > 2 and metre[corner[0]][corner[1]] == math.inf:
                        continue
                total = so_far + length * (own + metre[k][m]) / 2
                if total < far[k][m]:
                    far[k][m] = total
                    before[k, m] = (i, j)
                    heapq.heappush(heap, (total, (k, m)))
        return np.array(far), before

    def reach(self, at: Place) -> float:
        """Return what the cheapest way to a place costs, inf where there is none. [m]"""
        return float(self.reached[self._end(at)])

    def to(self, end: Place) -> Route:
        """Return the cheapest way to a place, or as near to it as something may lie.

        Parameters
        ----------
        end : (float, float)
            [m]

        Returns
        -------
        Route
            From the start itself to the place itself.
        """
        own, last = self._square(end), self._end(end)
        is_cut_off = np.isfinite(self.cost[own]) or any(
            has(room, end) != has(room, self._middle(last)) for room in self.rooms)
        if not np.isfinite(self.reached[last]) or (last != own and is_cut_off):
            return Route((self.start, end), math.dist(self.start, end), False)
        squares = [last]
        while squares[-1] != self.first:
            squares.append(self.before[squares[-1]])
        corners = self._straightened(self._ended([self._middle(square) for square in reversed(squares)], end))
        line = Route(tuple(corners), 0.0).line
        through = [gap for gap in self.floor.gaps if line.intersects(gap.middle(self.side))]
        length = sum(math.dist(*pair) for pair in zip(corners, corners[1:], strict=False))
        return Route(tuple(corners), length + sum(gap.extra for gap in through), True,
                     tuple(gap.name for gap in through))

    def _ended(self, corners: list[Place], end: Place) -> list[Place]:
        """Begin and end a way at the places themselves instead of the middles of their squares."""
        first, last = self._square(self.start) == self.first, self._square(end) == self._end(end)
        inner = corners[1 if first else 0:len(corners) - (1 if last else 0)]
        return [self.start, *inner, end]

    def _price(self, one: Place, other: Place) -> float:
        """Return what a straight line costs, inf where it meets what is blocked. [m]"""
        length = math.dist(one, other)
        count = max(math.ceil(length / (STEP * self.side)), 1)
        share = (np.arange(count) + 0.5) / count
        i, j = (np.clip(np.rint((one[k] + (other[k] - one[k]) * share - self.floor.low[k]) / self.side), 0,
                        self.shape[k] - 1).astype(int) for k in (0, 1))
        return float(np.mean(self.cost[i, j] + self.extra[i, j]) * length)

    def _straightened(self, corners: list[Place]) -> list[Place]:
        """Leave out corners wherever the straight line between their neighbours costs no more.

        Of all ways from corner to corner in straight lines it is the cheapest one.
        """
        if len(corners) < 3:
            return corners
        kept = _turns(corners)
        best = [math.inf] * len(kept)
        best[0], origin = 0.0, [0] * len(kept)
        own = self._along(corners)
        for b in range(1, len(kept)):
            for a in range(b):
                price = self._price(corners[kept[a]], corners[kept[b]])
                if b - a == 1:
                    # From corner to corner the way that was found is there in any case.
                    price = min(price, own[kept[b]] - own[kept[a]])
                # A turn less is worth a hand's breadth.
                total = best[a] + price + 0.1 * self.side
                if total < best[b]:
                    best[b], origin[b] = total, a
        chosen = [len(kept) - 1]
        while chosen[-1] != 0:
            chosen.append(origin[chosen[-1]])
        return [corners[kept[k]] for k in reversed(chosen)]

    def _along(self, corners: list[Place]) -> list[float]:
        total = [0.0]
        for one, other in zip(corners, corners[1:], strict=False):
            price = self._price(one, other)
            total.append(total[-1] + (price if math.isfinite(price) else SHUNNED * math.dist(one, other)))
        return total


def _turns(corners: list[Place]) -> list[int]:
    """Return which corners are turns of a way, or far from the last that is, with both its ends."""
    kept = [0]
    for k in range(1, len(corners) - 1):
        (a, b), (c, d) = ([corners[k + n][m] - corners[k + n - 1][m] for m in (0, 1)] for n in (0, 1))
        if abs(a * d - b * c) > 1e-9 or k - kept[-1] >= FAR_APART:
            kept.append(k)
    return [*kept, len(corners) - 1]


def runs_over(route: Route, area: Area, least: float = TOUCH) -> bool:
    """Return whether more than `least` of a way lies in an area, so that it does not just touch it. [m]"""
    return bool(route.line.intersection(area).length > least)
