"""The names on a plan, set where there is room for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from shapely.affinity import scale as scaled
from shapely.geometry import LineString, box

from previz.plans.drafting import MORE, Drafting, Thing
from previz.plans.labels import Around, Label, Line, placed, segments
from previz.plans.lettering import corners
from previz.plans.marks import in_metres, plain
from previz.plans.records import Mark, Shape, Words
from previz.plans.walls import hole_of
from previz.scene.room import Opening

WEIGHTS: Mapping[str, float] = {
    "walls": 8.0, "openings": 2.0, "pieces": 3.5, "cameras": 3.0, "beams": 3.0, "grip": 5.0, "figures": 5.0,
    "lamps": 6.0, "dimensions": 4.0,
}
"""What a mm of a line under a name costs, by its layer. Found by looking at plans."""

OUTWARDS = {"south": (0.0, -1.0), "north": (0.0, 1.0), "west": (-1.0, 0.0), "east": (1.0, 0.0)}
"""Where the name of an opening is rather to be, by its wall."""


def openings(draft: Drafting) -> Iterator[Thing]:
    """Yield the names of openings; they are drawn with the walls."""
    room = draft.scene.room
    for opening in room.openings if room is not None else ():
        assert room is not None
        hole = hole_of(room, opening)
        ends = np.array([hole.low, hole.high])
        lines = (Line(opening.name, MORE, quiet=True), Line(_heights(draft, opening), MORE, quiet=True))
        overhead = opening.wall == "ceiling"
        within = box(*ends[0], *ends[1]) if overhead else None
        yield Thing(opening.name, hole.middle, (), ends, lines, within=within, open=True,
                    outwards=OUTWARDS.get(opening.wall, (0.0, 0.0)),
                    upright=opening.wall in ("west", "east"))


def _heights(draft: Drafting, opening: Opening) -> str:
    if opening.wall == "ceiling":
        assert draft.scene.room is not None
        return f"in the ceiling, {draft.said(draft.scene.room.size[2])}"
    head = draft.said(opening.sill + opening.size[1])
    return f"sill {draft.said(opening.sill)}, head {head}" if opening.sill > 0 else f"head {head}"


def names(draft: Drafting, found: Sequence[Thing], drawn: Sequence[Mark]) -> Iterator[Mark]:
    """Yield the names of things, clear of each other and of what is drawn as far as there is room."""
    unit = draft.unit
    labels = [_label(thing, unit) for thing in sorted(found, key=_rank) if thing.lines or thing.number]
    solid = [thing.solid for thing in found if not thing.open and len(thing.solid)]
    boxes = [np.concatenate([each.min(axis=0), each.max(axis=0)]) / unit for each in solid]
    shut = []
    lines, weights = [np.zeros((0, 4))], [np.zeros(0)]
    for mark in plain(drawn):
        if isinstance(mark, Words):
            box_of = corners(mark, unit) / unit
            shut.append(np.concatenate([box_of.min(axis=0), box_of.max(axis=0)]))
        elif isinstance(mark, Shape):
            if mark.part == "cut" and mark.fill == "cut":
                shut.append(np.concatenate([mark.points.min(axis=0), mark.points.max(axis=0)]) / unit)
            if mark.pen:
                pieces = segments(_coarser(mark.points / unit), mark.closed)
                lines.append(pieces)
                weights.append(np.full(len(pieces), WEIGHTS.get(mark.layer, 1.0)))
    around = Around(draft.window.low / unit, draft.window.high / unit, np.reshape(shut, (-1, 4)),
                    np.reshape(boxes, (-1, 4)), np.concatenate(lines), np.concatenate(weights))
    for label in placed(labels, around):
        yield from in_metres(label.marks(), unit)


def _coarser(points: np.ndarray) -> np.ndarray:
    """Return a line with fewer points, for names to keep clear of. [mm]"""
    return np.array(LineString(points).simplify(0.3).coords) if len(points) > 8 else points


def _rank(thing: Thing) -> int:
    return 0 if thing.number else 2 if thing.optional else 1


def _label(thing: Thing, unit: float) -> Label:
    within = None
    if thing.within is not None:
        within = scaled(thing.within, 1 / unit, 1 / unit, origin=(0, 0))
    return Label(thing.name, thing.lines, thing.solid / unit, thing.number, thing.optional, within,
                 thing.outwards, thing.upright)
