"""The lighting plan: a scene from above, to scale, with all that a crew sets up by it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from previz.errors import RequestError
from previz.plans import dimensions, sheet, symbols, things
from previz.plans.cut import Cut, cut_things
from previz.plans.drafting import Drafting, Thing
from previz.plans.extent import Extent, extent_of, set_up
from previz.plans.lamp_marks import lamps
from previz.plans.lengths import SCALES
from previz.plans.marks import bounds_of, in_metres
from previz.plans.names import names, openings
from previz.plans.outlines import Footprint, footprints
from previz.plans.records import Disc, Drawing, Mark, Shape, Words
from previz.plans.walls import opening_shapes, outer, wall_shapes
from previz.stage.outdoors import resolved, shining

if TYPE_CHECKING:
    from previz.scene.scene import Scene
    from previz.stage.records import Stage

class Clearance(NamedTuple):
    """Room for names round what is drawn to scale. [mm]

    Parameters
    ----------
    near : float
        On the south and the west side, within the strips of dimensions.
    away : float
        On the north and the east side.
    aside, over : float
        On sides where things stand beyond the edge: left and right, and up and down.
    overall : bool
        Whether the room's own size has a row to itself.
    """

    near: float
    away: float
    aside: float
    over: float
    overall: bool = True


CLEARANCES = (Clearance(15, 24, 52, 26), Clearance(14, 14, 46, 24), Clearance(13, 13, 36, 22),
              Clearance(0, 0, 0, 0, False))
"""The first that the page has room for is taken, the drawing as large as it can be."""

LAST_ROW, BARE = 2.5, 1.5
"""Past the last row of dimensions, and past a wall without one. [mm]"""

FIRST_ROW = 5.5
"""From a wall to the first row of dimensions. [mm]"""

COMPASS = 6.8
"""Radius of the circle that the north arrow stands in. [mm]"""

def prints_of(scene: Scene, stage: Stage) -> dict[str, Footprint]:
    """Return name -> footprint of a scene's pieces and figures; what takes longest of a plan."""
    return footprints(stage, [each.name for each in (*scene.pieces, *scene.figures)])


def plan_extent(scene: Scene, stage: Stage) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the low and the high corner of what a plan shows to scale, words and dimensions apart. [m]"""
    extent = extent_of(scene, stage, prints_of(scene, stage))
    return _pair(extent.low), _pair(extent.high)


def margins(scale: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return how much a plan takes left of and under its extent, and right of and over it, about. [m]

    Room for names all round, strips of dimensions on the west and the south side, and the north arrow.
    """
    unit = scale / 1000
    rows = FIRST_ROW + LAST_ROW
    return ((rows + 22) * unit, (rows + 22) * unit), (rows * unit, (rows + 10) * unit)


def fitted_plan(scene: Scene, stage: Stage, tags: Mapping[str, str], page: tuple[float, float], *,
                system: str, prints: Mapping[str, Footprint] | None = None,
                cut: Cut | None = None) -> Drawing:
    """Return the plan at the largest scale at which a page has room for it.

    Parameters
    ----------
    scene, stage, tags, system, prints, cut
        As in `draw_plan`.
    page : (float, float)
        Width and height. [mm]

    Raises
    ------
    RequestError
        The page is too small at every scale.
    """
    prints = prints_of(scene, stage) if prints is None else prints
    room = np.array(sheet.room(page).size)
    extent = extent_of(scene, stage, prints)
    for scale in SCALES[system]:
        # Strips of dimensions take more than this to themselves: nothing needs to be drawn to find out.
        if np.any((extent.high - extent.low) * 1000 / scale + 15.0 > room):
            continue
        for clear in CLEARANCES:
            plan = Plan(scene, stage, tags, scale, system, clear, prints, cut=cut)
            if np.all((plan.high - plan.low) * 1000 / scale <= room + 1e-6):
                return plan.drawing()
    raise RequestError("The plan has no room on the page at any scale",
                       "Take a larger page, or leave out what stands far away.")


def draw_plan(scene: Scene, stage: Stage, tags: Mapping[str, str], *, scale: int, system: str,
              clear: Clearance = CLEARANCES[2], prints: Mapping[str, Footprint] | None = None,
              cut: Cut | None = None) -> Drawing:
    """Return the plan of one option of a scene.

    Parameters
    ----------
    scene : Scene
    stage : Stage
        Built of it.
    tags : dict of str to str
        Name -> tag of lamps and of what stands in the light, as `plans.tags.tags_of` gives them.
    scale : int
        Metres of the set to a metre of paper.
    system : str
        'metric' or 'imperial'.
    clear : Clearance
        Room for names round what is drawn to scale.
    prints : dict of str to Footprint, or None
        What `prints_of` returns, for whoever draws a plan more than once.
    cut : Cut or None
        Where a section is, which is then shown.
    """
    prints = prints_of(scene, stage) if prints is None else prints
    return Plan(scene, stage, tags, scale, system, clear, prints, cut=cut).drawing()


class Frame(NamedTuple):
    """What is drawn to scale, what is drawn at all, and where what stands farther away is drawn. [m]"""

    extent: Extent
    window: Extent
    rim: Extent


def frame_of(scene: Scene, stage: Stage, prints: Mapping[str, Footprint], clear: Clearance, unit: float,
             ) -> Frame:
    """Return the frame of a plan; `unit` is a mm of paper in m of the set."""
    extent = extent_of(scene, stage, prints)
    return Frame(extent, *_round(scene, stage, extent, clear, unit))


class Plan:
    """All of a plan but its names, which may then be set within `draft.window`.

    Parameters
    ----------
    scene, stage, tags, scale, system, clear, prints
        As in `draw_plan`.
    frame : Frame or None
        None for the scene's own.
    change : function or None
        (things) -> the things that are drawn in their place.
    cut : Cut or None
        Where a section is, which is shown.
    """

    def __init__(self, scene: Scene, stage: Stage, tags: Mapping[str, str], scale: int, system: str,
                 clear: Clearance, prints: Mapping[str, Footprint], frame: Frame | None = None,
                 change: Callable[[list[Thing]], list[Thing]] | None = None, cut: Cut | None = None) -> None:
        self.scale, unit = scale, scale / 1000
        frame = frame_of(scene, stage, prints, clear, unit) if frame is None else frame
        self.draft = draft = Drafting(scene, stage, dict(tags), system, unit, *frame, dict(prints))
        self.found = [*things.pieces(draft), *things.figures(draft), *things.sheets(draft),
                      *things.cameras(draft), *lamps(draft)]
        if change is not None:
            self.found = change(self.found)
        self.found += [] if cut is None else cut_things(cut, unit)
        window = frame.window
        walls = _datum(draft) if scene.room is None else (
            *wall_shapes(scene.room), *opening_shapes(scene, stage), *_room_dimensions(draft, clear.overall))
        self.marks = [*walls, *(mark for thing in self.found for mark in thing.marks)]
        strips = list(_strips(draft, self.found))
        self.beside = [*strips, *_compass(draft, strips)]
        low, high = bounds_of([*self.marks, *self.beside], unit)
        self.low, self.high = np.minimum(low, window.low), np.maximum(high, window.high)

    def drawing(self) -> Drawing:
        """Return it with its names."""
        named = names(self.draft, [*self.found, *openings(self.draft)], [*self.marks, *self.beside])
        marks = (*self.marks, *named, *self.beside)
        low, high = bounds_of(marks, self.draft.unit)
        return Drawing("plan", self.scale, marks, _pair(low), _pair(high))


def _pair(point: np.ndarray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _round(scene: Scene, stage: Stage, extent: Extent, clear: Clearance, unit: float,
           ) -> tuple[Extent, Extent]:
    """Return all that is drawn, and the rim that what stands farther away is drawn on."""
    beyond = {name: place for name, place in set_up(scene, stage).items() if not extent.has(place)}
    sides: dict[str, float] = {}
    rims: dict[str, float] = {}
    for side, axis, sign in (("west", 0, -1), ("south", 1, -1), ("east", 0, 1), ("north", 1, 1)):
        rows = _rows(scene, side, clear.overall)
        taken = FIRST_ROW + (rows - 1) * dimensions.ROW + LAST_ROW if rows else BARE
        room = max(clear.near if sign < 0 else clear.away, taken)
        edge = (extent.high if sign > 0 else extent.low)[axis]
        far = any((place[axis] - edge) * sign > 1e-9 for place in beyond.values())
        # What stands beyond is no longer than `MOST`, and stands past the rows.
        rims[side] = taken + 0.5 * symbols.MOST
        sides[side] = max(room, clear.over if axis else clear.aside, rims[side]) if far else room
    low, high = (np.array([sides[a], sides[b]]) * unit for a, b in (("west", "south"), ("east", "north")))
    under, over = (np.array([rims[a], rims[b]]) * unit for a, b in (("west", "south"), ("east", "north")))
    return Extent(extent.low - low, extent.high + high), Extent(extent.low - under, extent.high + over)


def _rows(scene: Scene, side: str, overall: bool) -> int:
    """Return how many rows of dimensions stand along a wall."""
    if scene.room is None:
        return 0
    return (any(opening.wall == side for opening in scene.room.openings)
            + (overall and side in ("north", "east")))


def _room_dimensions(draft: Drafting, overall: bool) -> Iterator[Mark]:
    """Yield the room's own sizes: a chain past the openings of each wall, and overall on two sides."""
    room, unit = draft.scene.room, draft.unit
    assert room is not None
    low, high = outer(room)
    for side, upright in (("south", False), ("north", False), ("west", True), ("east", True)):
        sign = 1 if side in ("north", "east") else -1
        wall = (high if sign > 0 else low)[0 if upright else 1] / unit
        long = room.size[1 if upright else 0]
        stops = {0.0, long}
        for opening in room.openings:
            if opening.wall == side:
                stops |= {opening.along, opening.along + opening.size[0]}
        level = wall + sign * FIRST_ROW
        if len(stops) > 2:
            yield from in_metres(dimensions.chain(sorted(stops), level, unit, draft.system, upright,
                                                   f"{side} wall"), unit)
            level += sign * dimensions.ROW
        if sign > 0 and overall:
            yield from in_metres(dimensions.chain([0.0, long], level, unit, draft.system, upright,
                                                   "room"), unit)


def _strips(draft: Drafting, found: Sequence[Thing]) -> Iterator[Mark]:
    """Yield the running dimensions along the south and the west side."""
    room, unit = draft.scene.room, draft.unit
    for axis, upright in ((0, False), (1, True)):
        entries = [dimensions.Entry(thing.tag, float(thing.at[axis])) for thing in found if thing.tag]
        if room is not None:
            ends = ("W wall", "E wall") if axis == 0 else ("S wall", "N wall")
            entries += [dimensions.Entry(ends[0], 0.0), dimensions.Entry(ends[1], room.size[axis])]
        elif draft.extent.has(np.zeros(2)):
            entries.append(dimensions.Entry("origin", 0.0))
        level = draft.window.low[1 - axis] / unit - 1.2
        span = draft.extent.low[axis] / unit, draft.extent.high[axis] / unit
        yield from in_metres(dimensions.strip(entries, level, unit, draft.system, upright, span), unit)


def _datum(draft: Drafting) -> Iterator[Mark]:
    """Yield the cross that outdoor dimensions count from."""
    if not draft.window.has(np.zeros(2)):
        return
    arm = 4.0 * draft.unit
    for way in ((1.0, 0.0), (0.0, 1.0)):
        yield Shape("dimensions", np.array([way, np.negative(way)]) * arm, pen="outline", name="origin",
                    part="origin")
    yield Disc("dimensions", (0.0, 0.0), 1.6 * draft.unit, "outline", "", "origin", "origin")


def _compass(draft: Drafting, strips: Sequence[Mark]) -> Iterator[Mark]:
    """Yield the north arrow, with the sun or the moon where they stand, in the free corner north-west."""
    unit, daylight = draft.unit, resolved(draft.scene.daylight)
    low, high = bounds_of(strips, unit)
    at = np.array([low[0] + (COMPASS + 3) * unit,
                   max(draft.extent.high[1] + COMPASS * unit, high[1] + (COMPASS + 4) * unit)])
    north = 0.0 if daylight is None else daylight.north
    yield from symbols.north_arrow(at, north, unit)
    yield Disc("sheet", _pair(at), COMPASS * unit, "thin", "", "north", "compass")
    told = ["N is the", "set's north"] if daylight is None else []
    shown = shining(daylight)
    if shown is not None and daylight is not None:
        name, body = shown
        turn = np.radians(90 - (body.azimuth + north))
        way = np.array([np.cos(turn), np.sin(turn)])
        spot = at + way * COMPASS * unit
        if name == "sun":
            yield from symbols.sun_marks(spot, unit)
        else:
            lit = 1.0 if body.phase is None else body.phase
            yield from symbols.moon_marks(spot, lit, 0.0, unit)
        told = [name, f"{body.azimuth:.0f}°", f"{body.altitude:.0f}° high"]
    left = at[0] + (COMPASS + 3.8) * unit
    for k, text in enumerate(told):
        base = at[1] + (1.25 * (len(told) - 1) - 2.5 * k - 0.7) * unit
        yield Words("sheet", (float(left), float(base)), text, 2.0, name="north")
