"""Dimensions: running ones from one corner for all that is set up, and chains for the room itself.

Running dimensions count from the inside face of one wall: the west wall along the south side, the south wall
along the west side. A crew lays one tape along a wall and marks everything off it; nothing adds up from one
thing to the next, and both lengths are those of the scene file. Distances from whichever wall is nearer would
be shorter, but need another end of the tape for every lamp.
Lengths are mm of paper unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from previz.plans.lengths import said
from previz.plans.lettering import width
from previz.plans.records import Shape, Words

SIZE = 2.1
"""Height of the type."""

PITCH = 2.8
"""From one entry of a strip to the next at least."""

TICK = 1.2
"""Half length of a tick."""

LONGEST = 13.0
"""What several entries at one place may be called together."""

LEAD = 4.0
"""Depth of the lines that bend from ticks to entries."""

ROW = 5.0
"""From one row of dimensions to the next."""


class Entry(NamedTuple):
    """One thing of a strip: what it is called, and where it is along the strip [m]."""

    tag: str
    at: float


def spread(wanted: Sequence[float] | np.ndarray, pitch: float) -> np.ndarray:
    """Return places at least a pitch apart that are as near as can be to rising wanted ones (least squares).

    Source
    ------
    Isotonic regression by pooling adjacent violators, of the places less what the pitch takes up.
    """
    blocks: list[tuple[float, int]] = []
    for k, value in enumerate(wanted):
        blocks.append((value - k * pitch, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (one, n), (two, m) = blocks[-2:]
            blocks[-2:] = [((one * n + two * m) / (n + m), n + m)]
    level = np.repeat([value for value, _ in blocks], [n for _, n in blocks])
    return np.asarray(level + np.arange(len(wanted)) * pitch)


def merged(entries: Sequence[Entry]) -> list[Entry]:
    """Return entries in their order along the strip.

    Those at one place, to the millimetre, are one entry where that stays short.
    """
    found: list[Entry] = []
    for entry in sorted(entries, key=lambda each: each.at):
        both = f"{found[-1].tag}, {entry.tag}" if found else ""
        if found and abs(found[-1].at - entry.at) < 0.001 and width(both, SIZE, True) <= LONGEST:
            found[-1] = Entry(both, found[-1].at)
        else:
            found.append(entry)
    return found


def strip(entries: Sequence[Entry], level: float, unit: float, system: str, upright: bool,
          span: tuple[float, float]) -> Iterator[Shape | Words]:
    """Yield a strip of running dimensions.

    Parameters
    ----------
    entries : sequence of Entry
    level : float
        Where its line runs: x of one on the west side (`upright`), y of one on the south side.
    unit : float
        A mm of paper in m of the set.
    system : str
    upright : bool
    span : (float, float)
        Ends of its line, where entries do not reach further.
    """
    entries = merged(entries)
    true = np.array([entry.at / unit for entry in entries])
    places = spread(true, PITCH)

    def at(along: float, away: float) -> tuple[float, float]:
        return (level - away, along) if upright else (along, level - away)

    ends = min(span[0], *true), max(span[1], *true)
    yield _line(at(ends[0], 0), at(ends[1], 0), name="strip")
    for entry, tick, place in zip(entries, true, places, strict=True):
        points = np.array([at(tick, -TICK), at(tick, TICK), at(place, TICK + LEAD)])
        yield Shape("dimensions", points, pen="dimension", name=entry.tag, part="tick")
        start = TICK + LEAD + 0.8
        turn, base = (0.0, -0.36 * SIZE) if upright else (90.0, 0.36 * SIZE)
        for text, strong in ((entry.tag, True), (said(entry.at, system), False)):
            yield Words("dimensions", at(place + base, start), text, SIZE, "right", turn, strong,
                        name=entry.tag)
            start += width(text, SIZE, strong) + 1.2


def chain(stops: Sequence[float], level: float, unit: float, system: str, upright: bool, name: str,
          ) -> Iterator[Shape | Words]:
    """Yield a chain: from stop to stop [m], each length over its line, or beside it where it is too short."""
    def at(along: float, away: float) -> tuple[float, float]:
        return (level - away, along) if upright else (along, level + away)

    places = np.array(stops) / unit
    yield _line(at(places[0], 0), at(places[-1], 0), name=name)
    for place in places:
        slant = np.array([at(place - 0.8, -0.8), at(place + 0.8, 0.8)])
        yield Shape("dimensions", slant, pen="outline", name=name, part="tick")
        yield Shape("dimensions", np.array([at(place, -TICK), at(place, TICK)]), pen="dimension", name=name,
                    part="tick")
    turn, tight = 90.0 if upright else 0.0, 0
    for one, two in zip(stops, stops[1:], strict=False):
        text = said(two - one, system)
        away = 0.7
        if width(text, SIZE) + 0.8 > (two - one) / unit:
            # Too short for its figure, which stands beyond the line, by turns over and under it.
            away = -0.8 - 0.8 * SIZE if tight % 2 else 0.7 + 1.1 * SIZE
            tight += 1
        yield Words("dimensions", at((one + two) / 2 / unit, away), text, SIZE, "centre", turn, name=name)


def _line(one: tuple[float, float], two: tuple[float, float], name: str) -> Shape:
    return Shape("dimensions", np.array([one, two]), pen="dimension", name=name, part="dimension")
