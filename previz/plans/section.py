"""A section: the set cut upright along a line of the floor, with what stands beyond it, and how high all is.

The set is turned into the section's own axes (`cut.turned`), and what draws lamps, cameras and sheets from
above then draws them from the side. What stands on this side of the cut is dashed, and says how far.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from previz.errors import RequestError
from previz.plans import dimensions, sheet, things
from previz.plans.cut import Cut, turned
from previz.plans.differences import with_pen
from previz.plans.drafting import MORE, Drafting, Thing
from previz.plans.extent import Extent
from previz.plans.labels import Line
from previz.plans.lamp_marks import CODES, is_overhead, lamps
from previz.plans.legend import plan_keys
from previz.plans.lengths import SCALES, said, said_finely
from previz.plans.marks import bounds_of, in_metres, plain
from previz.plans.names import names
from previz.plans.records import Disc, Drawing, Key, Mark, Shape, Symbol
from previz.plans.section_rig import hangers, on_a_stand, pole
from previz.plans.section_set import beyond, cut_pieces, outlines, ways_of_wall
from previz.stage.records import Stage
from previz.stage.stands import SPREAD

if TYPE_CHECKING:
    from previz.scene.scene import Scene

CLEARANCES = ((46.0, 16.0, 9.0), (30.0, 14.0, 9.0), (14.0, 14.0, 9.0), (8.0, 10.0, 8.0))
"""Room for names left and right of the set, over it, and under it before the strip. [mm]  The first that the
page has room for is taken, the drawing as large as it can be."""

NEAR = 0.4
"""How far past the walls something may stand and still be drawn to scale, over the section's length; how far
over the ceiling, over its height. [1]"""

NEAREST = 1.5
"""And never less than so far. [m]"""

ON_THE_CUT = 0.05
"""What is nearer to the cut is taken to stand in it. [m]"""


@dataclass(frozen=True, eq=False)
class SectionDrafting(Drafting):
    """What a section is drawn by: `scene` has lost its room, as its walls are no bounds in these axes."""

    cut: Cut = Cut((0.0, 0.0), (1.0, 0.0))
    inside: Extent | None = None

    def point(self, target: object) -> np.ndarray | None:
        """Return the point that a target means in the section's axes, None for no target. [m]"""
        point = getattr(target, "point", None)
        return super().point(target) if point is None else self.cut.turned(np.asarray(point, float))

    def bounds(self, at: np.ndarray) -> Extent:
        """Return what bounds a line of sight from a point: the room that it is in, or the drawing."""
        return self.inside if self.inside is not None and self.inside.has(at) else self.window


def fitted_section(scene: Scene, stage: Stage, tags: Mapping[str, str], cut: Cut, page: tuple[float, float],
                   *, system: str) -> Drawing:
    """Return the section at the largest scale at which a page [mm] has room for it.

    Raises
    ------
    RequestError
        The page is too small at every scale.
    """
    room = np.array(sheet.room(page).size)
    section = _Section(scene, stage, tags, cut, system)
    for scale in SCALES[system]:
        for clear in CLEARANCES:
            section.set(scale, clear)
            if np.all((section.high - section.low) * 1000 / scale <= room + 1e-6):
                return section.drawing()
    raise RequestError("The section has no room on the page at any scale", "Take a larger page.")


def draw_section(scene: Scene, stage: Stage, tags: Mapping[str, str], cut: Cut, *, scale: int, system: str,
                 clear: tuple[float, float, float] = CLEARANCES[1]) -> Drawing:
    """Return the section of one option of a scene.

    Parameters
    ----------
    scene, stage, tags, scale, system
        As in `plan.draw_plan`.
    cut : Cut
        Where, by `cut.cut_of` or `cut.default_cut`.
    clear : (float, float, float)
        Room for names beside the set, over it and under it. [mm]
    """
    section = _Section(scene, stage, tags, cut, system)
    section.set(scale, clear)
    return section.drawing()


class _Section:
    """A section at a scale, all of it but its names."""

    def __init__(self, scene: Scene, stage: Stage, tags: Mapping[str, str], cut: Cut, system: str) -> None:
        self.scene, self.tags, self.cut, self.system = scene, dict(tags), cut, system
        self.seen = turned(stage, cut)
        self.core = _core(scene, self.seen, cut)
        self.extent = _extent(self.core, self.seen)
        self.outlines = outlines(self.seen, scene)
        self.faces = list(cut_pieces(stage, scene, cut))

    def set(self, scale: int, clear: tuple[float, float, float]) -> None:
        """Draw it at a scale, with room for names. [mm]"""
        scene, extent, unit = self.scene, self.extent, scale / 1000
        aside, over, under = (each * unit for each in clear)
        window = Extent(extent.low - [aside, under], extent.high + [aside, over])
        rim = Extent(extent.low - [0.4 * aside, 0.0], extent.high + [0.4 * aside, 0.4 * over])
        inside = None
        if scene.room is not None:
            thick = scene.room.wall_thickness
            inside = Extent(self.core.low + thick, self.core.high - thick)
        self.scale = scale
        self.draft = draft = SectionDrafting(replace(scene, room=None), self.seen, self.tags, self.system,
                                             unit, extent, window, rim, {}, self.cut, inside)
        ground = Shape("walls", np.array([[window.low[0], 0.0], [window.high[0], 0.0]]), pen="cut",
                       name="ground", part="ground")
        walls = [ground] if scene.room is None else list(ways_of_wall(scene, self.cut))
        self.found = [*beyond(draft, scene, self.outlines), *_sheets(draft, scene), *_cameras(draft),
                      *_lamps(draft, scene)]
        # The faces of what is cut come after all pieces, and before people and lamps, by their layers.
        self.marks = [*walls, *(mark for thing in self.found for mark in thing.marks), *self.faces]
        self.beside = list(_strips(draft, scene, self.found, self.core))
        low, high = bounds_of([*self.marks, *self.beside], unit)
        self.low, self.high = np.minimum(low, window.low), np.maximum(high, window.high)

    def drawing(self) -> Drawing:
        """Return it with its names."""
        marks = (*self.marks, *names(self.draft, self.found, self.marks), *self.beside)
        low, high = bounds_of(marks, self.draft.unit)
        return Drawing("section", self.scale, marks, (float(low[0]), float(low[1])),
                       (float(high[0]), float(high[1])), ("along", "height"))


def section_keys(drawing: Drawing, scene: Scene, system: str) -> tuple[Key, ...]:
    """Return what a legend has to explain of a section."""
    kept = []
    for key in plan_keys(drawing, scene, system):
        text = next((new for old, new in SAID.items() if key.text.startswith(old)), key.text)
        if text:
            kept.append(replace(key, text=text))
    return (*kept, *_holding_keys(drawing, system))


def _holding_keys(drawing: Drawing, system: str) -> Iterator[Key]:
    parts = {mark.part for mark in plain(drawing.marks) if isinstance(mark, (Shape, Disc))}
    if "stand" in parts:
        stand = [Shape("sheet", np.array(ends), pen="thin") for ends in
                 ([(0.0, -2.2), (0.0, 2.2)], [(0.0, 0.2), (-2.0, -2.2)], [(0.0, 0.2), (2.0, -2.2)])]
        yield Key(tuple(stand), f"Stand, its feet {said(SPREAD, system)} out, as is usual")
    if "hanger" in parts:
        bar = Shape("sheet", np.array([(-0.15, -0.6), (0.15, -0.6), (0.15, 2.4), (-0.15, 2.4)]), True, "thin",
                    "tint")
        body = Shape("sheet", np.array([(-1.6, -2.2), (1.6, -2.2), (1.6, -0.6), (-1.6, -0.6)]), True,
                     "outline", "tint")
        yield Key((bar, body), "What it hangs by: cord, pipe, wall plate or boom")


SAID = {"Wall, cut": "Walls, floor and ceiling where they are cut; what of pieces is cut has a heavy line",
        "Field across": "Field, from the frame's lower edge to its upper", "Window with": "",
        "Person, facing": "Person, the line at the height of the eyes", "Over the cut": "",
        "Running dimensions": "Running dimensions, up from the floor and along from the wall at the left"}
"""What the legend of a plan says that is otherwise in a section; '' for nothing."""


def section_notes(cut: Cut) -> tuple[str, ...]:
    """Return what a section says of itself, for the notes beside it."""
    through = f", through {cut.through}" if cut.through else ""
    return (f"Cut along {cut.text}{through}, looking {cut.looking}. Heights count from the floor, lengths "
            "from where the section enters the set at the left. What stands on this side of it is dashed.",)


def _core(scene: Scene, seen: Stage, cut: Cut) -> Extent:
    """Return the length along the cut that is in the set, and its height. [m]"""
    if scene.room is not None:
        size = np.array(scene.room.size[:2], float)
        corners = np.array([[0, 0, 0], [size[0], 0, 0], [0, size[1], 0], [*size, 0]], float)
        along = cut.turned(corners)[:, 0]
        thick = scene.room.wall_thickness
        return Extent(np.array([along.min() - thick, -thick]),
                      np.array([along.max() + thick, scene.room.size[2] + thick]))
    bodies = [np.asarray(mesh.vertices, float) for mesh in seen.meshes
              if mesh.role in ("figure", "set") and len(mesh.vertices)]
    points = np.concatenate(bodies) if bodies else np.zeros((1, 3))
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    return Extent(np.array([low[0] - 0.5, 0.0]), np.array([high[0] + 0.5, max(high[1], 2.5)]))


def _extent(core: Extent, seen: Stage) -> Extent:
    """Return what is drawn to scale: the set, and what stands not far outside it."""
    size = core.high - core.low
    grow = np.maximum(NEAR * size, NEAREST)
    limit = Extent(core.low - [grow[0], 0.0], core.high + grow)
    points = [core.low, core.high]
    places = [*(each.position for each in seen.rig), *(each.position for each in seen.grip),
              *(each.position for each in seen.cameras)]
    for place in places:
        at = np.asarray(place, float)[:2]
        if limit.has(at):
            points.append(at)
    return Extent(np.min(points, axis=0), np.max(points, axis=0))


def _lamps(draft: SectionDrafting, scene: Scene) -> Iterator[Thing]:
    lights = {light.name: light for light in scene.lights}
    for thing in lamps(draft):
        light, true = lights[thing.name], draft.stage.places[thing.name]
        told = [CODES[light.kind], f"h {draft.said(true[1])}", *_aside(draft, true[2])]
        told += [f"on a {light.hung}"] if light.hung else ["overhead"] if is_overhead(light) else []
        told += ["off"] if not light.on else []
        lines = [thing.lines[0], Line(" · ".join(told), MORE), *_far(draft, true)]
        marks: list[Mark] = list(hangers(draft, scene, light.name, light.hung, "lamps"))
        if on_a_stand(light, draft):
            marks += pole(draft, scene, light.name, true, "lamps")
        marks += _upright(thing.marks, draft.said(true[1]), true[2])
        yield replace(thing, marks=tuple(marks), lines=tuple(lines))


def _sheets(draft: SectionDrafting, scene: Scene) -> Iterator[Thing]:
    standing = {item.name: item for item in (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets,
                                             *scene.grids)}
    for thing in things.sheets(draft):
        item = standing[thing.name]
        corners = things.corners_of(draft, thing.name)
        low, true = float(corners[:, 1].min()), corners.mean(axis=0)
        told = [f"lower edge {draft.said(low)}", *_aside(draft, true[2])]
        told += [f"on a {item.hung}"] if item.hung else []
        lines = [thing.lines[0], Line(" · ".join(told), MORE), *_far(draft, true)]
        marks: list[Mark] = list(hangers(draft, scene, item.name, item.hung, "grip"))
        if item.at is not None and item.hung is None:
            # What is held before a lamp is clipped to it.
            marks += pole(draft, scene, item.name, true, "grip")
        marks += _upright(thing.marks, draft.said(low), true[2], "LOWER EDGE")
        yield replace(thing, marks=tuple(marks), lines=tuple(lines))


def _cameras(draft: SectionDrafting) -> Iterator[Thing]:
    cameras = {camera.name: camera for camera in draft.stage.cameras}
    for thing in things.cameras(draft):
        if thing.name not in cameras:
            # Where it is focused is told on the plan.
            continue
        camera = cameras[thing.name]
        true = np.asarray(camera.position, float)
        told = [said_finely(camera.focal), f"h {draft.said(true[1])}", *_aside(draft, true[2])]
        lines = [thing.lines[0], Line(" · ".join(told), MORE), *_far(draft, true)]
        yield replace(thing, marks=_upright(thing.marks, draft.said(true[1]), true[2]), lines=tuple(lines))


def _aside(draft: Drafting, near: float) -> list[str]:
    """Return how far beyond the cut something stands, or on this side of it."""
    if abs(near) < ON_THE_CUT:
        return []
    return [f"{draft.said(abs(near))} {'before' if near > 0 else 'beyond'}"]


def _far(draft: Drafting, at: np.ndarray) -> list[Line]:
    return [] if draft.extent.has(at[:2]) else [Line(f"stands at {draft.said(at[0])} along", MORE)]


def _upright(marks: Sequence[Mark], height: str, near: float, key: str = "HEIGHT") -> tuple[Mark, ...]:
    """Return the marks of a thing from above as a section has them: its height, dashed on this side."""
    pens = {"outline": "hidden", "cut": "hidden"} if near > ON_THE_CUT else {}
    made: list[Mark] = []
    for mark in marks:
        if isinstance(mark, (Shape, Disc)) and mark.layer == "grip" and mark.part in ("boom", "stand"):
            # Seen from above; `hangers` has it as it is from the side.
            continue
        if isinstance(mark, Symbol):
            parts = tuple(part for part in mark.parts
                          if not (isinstance(part, Shape) and part.part == "hung"))
            mark = replace(mark, parts=parts, attributes={**mark.attributes, key: height})
        made.append(with_pen(mark, pens))
    return tuple(made)


def _strips(draft: SectionDrafting, scene: Scene, found: Sequence[Thing], core: Extent) -> Iterator[Mark]:
    """Yield running heights at the left, and running lengths under the set."""
    unit = draft.unit
    heights = [dimensions.Entry("floor" if scene.room is not None else "ground", 0.0)]
    if scene.room is not None:
        if scene.room.ceiling:
            heights.append(dimensions.Entry("ceiling", scene.room.size[2]))
        for opening in scene.room.openings:
            if opening.wall != "ceiling":
                heights.append(dimensions.Entry(f"head {opening.name}", opening.sill + opening.size[1]))
                if opening.sill > 0:
                    heights.append(dimensions.Entry(f"sill {opening.name}", opening.sill))
    for figure in scene.figures:
        eyes = draft.stage.places[f"{figure.name}.eyes"]
        heights.append(dimensions.Entry(f"eyes {figure.name}", float(eyes[1])))
    heights += [dimensions.Entry(thing.tag, float(thing.at[1])) for thing in found if thing.tag]
    level = draft.window.low[0] / unit - 1.2
    span = core.low[1] / unit, draft.extent.high[1] / unit
    yield from in_metres(dimensions.strip(heights, level, unit, draft.system, True, span), unit)
    along = [dimensions.Entry(thing.tag, float(thing.at[0])) for thing in found if thing.tag]
    if scene.room is not None:
        along += [dimensions.Entry("wall", 0.0), dimensions.Entry("wall", draft.cut.length)]
    else:
        along.append(dimensions.Entry("start", 0.0))
    level = draft.window.low[1] / unit - 1.2
    span = draft.extent.low[0] / unit, draft.extent.high[0] / unit
    yield from in_metres(dimensions.strip(along, level, unit, draft.system, False, span), unit)
