"""Cable: how each lamp is fed from the distribution, what lengths make that up, which ways it lies across."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import Any

from previz.physics.mains import CONTINUOUS
from previz.plans.areas import Place
from previz.plans.lengths import METRIC, roughly
from previz.plans.lines import CableLine, CableRun, LampLine, Point
from previz.plans.routes import Route, Routes
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.stage.stands import UNDER_CEILING
from previz.studies.paper.floor import SceneFloor, floor_of
from previz.studies.paper.lamps import percent
from previz.studies.paper.support import ABOVE, BOOM, SET, STAND, Support, Supports

STOCK = (5.0, 10.0, 15.0, 25.0)
"""Lengths of the cables that there are. [m]  Common practice, no source."""

SLACK = 0.10
"""More than the route, for corners, ramps and a coil at the lamp. [1]  Common practice, no source."""

LEAD = 2.0
"""Length of a lamp's own lead, taken off what its cables have to reach. [m]  Common practice, no source."""

BATTERY, DISTRIBUTION = "battery", "distribution"

RATINGS_230, RATINGS_120 = (16.0, 32.0, 63.0, 125.0), (15.0, 20.0, 60.0, 100.0)
"""Ratings of plugs and cables. [A]  Source: IEC 60309 and NEC 240.6, from memory."""

LOW_VOLTAGE = 150.0
"""Under this, ratings are those of a supply of 120 V. [V]"""

AT_WALL = 0.02
"""How far from a wall a cable goes up it. [m]"""

MOST_PIECES = 40
"""Of a longer run, the rest is made of the longest cables there are."""


def cable_runs(scene: Scene, stage: Stage, lamps: Sequence[LampLine], *, source: Point | None = None,
               source_name: str = "", stock: Sequence[float] = STOCK) -> tuple[CableRun, ...]:
    """Return how each lamp is fed; flames are not.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    stage : Stage
        Built of it.
    lamps : sequence of LampLine
        Of the scene. One that is off is fed all the same.
    source : (float, float, float) or None
        Where the distribution stands; None for where the scene has it, else the nearest door of the room,
        else a corner. [m]
    source_name : str
        What lists call a place that is given; '' for 'distribution'.
    stock : sequence of float
        Lengths of cables that there are. [m]

    Raises
    ------
    ValueError
        There is no cable, or one without a length.
    """
    if not stock or not min(stock) > 0:
        raise ValueError(f"lengths of cables must be above 0 m, got {list(stock)}")
    lines = {lamp.name: lamp for lamp in lamps}
    supports = Supports(scene, stage)
    wired = [light for light in scene.lights if light.name in lines and light.mains and not light.flame]
    found: dict[str, CableRun] = {}
    if wired:
        feeds = [_Feed(light, supports.of(light)) for light in wired]
        laying = _Laying(scene, stage, supports, feeds, source, source_name)
        for feed in feeds:
            found[feed.light.name] = laying.run(feed, lines[feed.light.name], stock)
    for light in scene.lights:
        if light.name in lines and not light.mains:
            found[light.name] = CableRun(light.name, BATTERY, 0.0, 0.0, ())
    return tuple(found[light.name] for light in scene.lights if light.name in found)


@dataclass(frozen=True)
class _Feed:
    """A lamp that is fed, with what holds it."""

    light: Any
    support: Support


class _Laying:
    """The ways of all cables of one option from one place."""

    def __init__(self, scene: Scene, stage: Stage, supports: Supports, feeds: Sequence[_Feed],
                 source: Point | None, source_name: str):
        self.scene, self.supports = scene, supports
        feet = [feed.support.foot for feed in feeds]
        self.floor: SceneFloor = floor_of(scene, stage, feet, source, source_name)
        self.routes = Routes(self.floor.floor, self.floor.source[:2], self.floor.rooms)

    def run(self, feed: _Feed, line: LampLine, stock: Sequence[float]) -> CableRun:
        """Return one lamp's run."""
        route, up = self._way(feed)
        total = self.floor.source[2] + route.length + up
        length = total * (1 + SLACK)
        pieces = made_up(length - LEAD, stock)
        return CableRun(feed.light.name, self.floor.source_name, total, length, pieces,
                        cable_for(line.amperes or 0.0, self.scene.mains.voltage),
                        tuple(self.floor.crossed(route)),
                        tuple((float(x), float(y)) for x, y in route.corners))

    def _way(self, feed: _Feed) -> tuple[Route, float]:
        """Return the way over the floor, and how far it goes from there to the lamp. [m]"""
        support, at = feed.support, feed.light.at
        room = self.scene.room
        overhead = support.way in (ABOVE, "cord", "pipe") or (
            support.way == SET and self.supports.ceiling(at) - at[2] <= UNDER_CEILING)
        if overhead and room is not None and self.supports.is_inside(at):
            return self._by_the_wall(at, max(room.size[2], at[2]))
        if support.way in (STAND, BOOM):
            return self.routes.to(support.foot), support.height + support.aside
        return self.routes.to((float(at[0]), float(at[1]))), max(float(at[2]), 0.0)

    def _by_the_wall(self, at: Point, top: float) -> tuple[Route, float]:
        """Go up the wall from where that is nearest, then overhead and down to the lamp."""
        best, where = math.inf, (0.0, 0.0)
        for foot in self._wall_feet(at):
            cost = self.routes.reach(foot) + math.dist(foot, at[:2])
            if cost < best:
                best, where = cost, foot
        if not math.isfinite(best):
            return self.routes.to((at[0], at[1])), at[2]
        return self.routes.to(where), top + math.dist(where, at[:2]) + top - at[2]

    def _wall_feet(self, at: Point) -> Iterator[Place]:
        """Yield where a cable may go up a wall: straight beside the lamp, and beside the distribution."""
        assert self.scene.room is not None
        across, deep = self.scene.room.size[:2]
        for x, y, *_ in (at, self.floor.source):
            if 0 <= x <= across and 0 <= y <= deep:
                yield from ((AT_WALL, y), (across - AT_WALL, y), (x, AT_WALL), (x, deep - AT_WALL))


def made_up(length: float, stock: Sequence[float] = STOCK) -> tuple[float, ...]:
    """Return the cables that make up a length: the fewest, and of as many those with the least left over.

    Parameters
    ----------
    length : float
        [m]
    stock : sequence of float
        Lengths that there are, of each as many as are needed. [m]

    Returns
    -------
    tuple of float
        The longest first; () where nothing is needed. [m]
    """
    longest = max(stock)
    lengths = sorted(set(stock), reverse=True)
    whole = max(math.ceil(length / longest - 1e-9) - MOST_PIECES, 0)
    left = length - whole * longest
    count = max(math.ceil(left / longest - 1e-9), 0)
    if not count:
        return ()
    best = min((made for made in combinations_with_replacement(lengths, count) if sum(made) >= left - 1e-9),
               key=lambda made: (sum(made), made))
    return (longest,) * whole + tuple(sorted(best, reverse=True))


def cable_for(amperes: float, voltage: float) -> str:
    """Return the cable that a current asks for in continuous use, as '16 A, 3-core'.

    Source
    ------
    To 80 % of its rating: NEC 210.20(A), check value 7.1.
    """
    ratings = RATINGS_120 if voltage < LOW_VOLTAGE else RATINGS_230
    for rating in ratings:
        if amperes <= CONTINUOUS * rating * (1 + 1e-9):
            return f"{rating:g} A, 3-core"
    return f"over {ratings[-1]:g} A, by an electrician"


def cable_lines(runs: Sequence[CableRun]) -> tuple[CableLine, ...]:
    """Return how many cables of each length runs take, the lightest and the shortest first."""
    counts = Counter((run.what, piece) for run in runs for piece in run.pieces)
    return tuple(CableLine(what, length, count) for (what, length), count in sorted(
        counts.items(), key=lambda each: (_amperes(each[0][0]), each[0][0], each[0][1])))


def cable_notes(runs: Sequence[CableRun], system: str = METRIC) -> tuple[str, ...]:
    """Return what is said under a list: what is added to the way, what is taken off, and who decides."""
    if not any(run.length for run in runs):
        return ()
    return (f"With {percent(SLACK)} of slack; the cables make that up less the lamp's own lead of "
            f"{roughly(LEAD, system)} (common practice, no source). Cables, plugs and earth are a licensed "
            "electrician's.",)


def _amperes(what: str) -> float:
    first = what.removeprefix("over ").partition(" ")[0]
    return float(first) if first.replace(".", "").isdigit() else 0.0


def crossings(runs: Sequence[CableRun]) -> tuple[str, ...]:
    """Return each door, window and way of people that cables lie across, with the lamps that they feed."""
    lamps: dict[str, dict[str, None]] = {}
    for run in runs:
        for way in run.crosses:
            lamps.setdefault(way, {})[run.lamp] = None
    return tuple(f"{way}: {'cable' if len(names) == 1 else 'cables'} to {', '.join(names)}"
                 for way, names in lamps.items())
