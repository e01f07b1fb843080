"""Lamps, cameras, people, what stands in the light, and pieces, as they are drawn on a plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from shapely import union_all
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from previz.plans import symbols
from previz.plans.beams import beam_edges, camera_edges
from previz.plans.clip import clipped
from previz.plans.extent import Extent, marks_of
from previz.plans.labels import Line
from previz.plans.lengths import said, said_finely
from previz.plans.outlines import Footprint, hull, rings
from previz.plans.records import Disc, Mark, Shape, Symbol
from previz.plans.walls import outer
from previz.scene.figure import Figure
from previz.scene.light import LIGHTS, Light
from previz.scene.scene import Scene
from previz.stage.records import Camera, Grip, Rig, Stage

CODES = symbols.kind_codes(LIGHTS)
"""Kind of lamp -> the letters that stand for it on plans."""

BROAD = 80.0
"""Full angle from above from which on a beam is only begun: its lines would fill the plan. [deg]"""

STUB = 9.0
"""Length of the lines of such a beam. [mm]"""

NAME, MORE = 2.4, 2.1
"""Heights of the type: a name, and what follows it. [mm]"""


@dataclass(frozen=True, eq=False)
class Thing:
    """Something on a plan.

    Parameters
    ----------
    name : str
    at : float array, shape (2,)
        Where it is. [m]
    marks : tuple of marks
    solid : float array, shape (n, 2)
        Points of what a name is set beside, and no name is set on. [m]
    lines : tuple of Line
        What is written; () for nothing.
    number : str
    tag : str
        In the strips of dimensions; '' for none.
    optional : bool
        Its name may be left out.
    within : shapely geometry or None
        Where its name may also stand. [m]
    open : bool
        True where names may lie on it.
    outwards : (float, float)
        Where its name is to be rather, (0, 0) for anywhere.
    upright : bool
        Its name runs upwards.
    """

    name: str
    at: np.ndarray
    marks: tuple[Mark, ...]
    solid: np.ndarray
    lines: tuple[Line, ...] = ()
    number: str = ""
    tag: str = ""
    optional: bool = False
    within: BaseGeometry | None = None
    open: bool = False
    outwards: tuple[float, float] = (0.0, 0.0)
    upright: bool = False


@dataclass(frozen=True, eq=False)
class Drafting:
    """What all things are drawn by.

    Parameters
    ----------
    scene, stage, tags, system
        As `plan.draw_plan` has them.
    unit : float
        A mm of paper in m of the set.
    extent : Extent
        What is to scale.
    window : Extent
        What is drawn at all: with room for names round it.
    rim : Extent
        Where what stands farther away is drawn.
    prints : dict of str to Footprint
    """

    scene: Scene
    stage: Stage
    tags: dict[str, str]
    system: str
    unit: float
    extent: Extent
    window: Extent
    rim: Extent
    prints: dict[str, Footprint] = field(default_factory=dict)

    def said(self, length: float) -> str:
        """Return a length as it is written."""
        return said(length, self.system)

    def point(self, target: object) -> np.ndarray | None:
        """Return the point that a target means, shape (3,), None for no target. [m]"""
        if target is None:
            return None
        text, point = getattr(target, "text", ""), getattr(target, "point", None)
        return np.asarray(self.stage.places[text.strip()] if point is None else point, float)

    def far_lines(self, at: np.ndarray) -> list[Line]:
        """Return what is said of a thing beyond the edge: its true place."""
        if self.scene.room is None:
            return [Line(f"east {self.said(at[0])},", MORE), Line(f"north {self.said(at[1])}", MORE)]
        return [Line(f"{self.said(at[0])} from W wall,", MORE), Line(f"{self.said(at[1])} from S wall", MORE)]

    def bounds(self, at: np.ndarray) -> Extent:
        """Return what bounds a line of sight from a point: the room that it is in, or the drawing."""
        if self.scene.room is not None:
            room = Extent(np.zeros(2), np.array(self.scene.room.size[:2], float))
            if room.has(at):
                return room
        return self.window


# ---- Lamps ---------------------------------------------------------------------------------------------


def lamps(draft: Drafting) -> Iterator[Thing]:
    """Yield the lamps."""
    rigs = {rig.name: rig for rig in draft.stage.rig}
    for light in draft.scene.lights:
        yield _lamp(draft, light, rigs[light.name])


def is_overhead(light: Light) -> bool:
    """Whether a lamp hangs, by what is written or as its kind does."""
    return light.hung is not None or light.held == "above"


def _lamp(draft: Drafting, light: Light, rig: Rig) -> Thing:
    unit, name = draft.unit, light.name
    true = np.asarray(rig.position, float)
    aim = draft.point(light.aim)
    body, faces = _solid(draft, light, true)
    far = not draft.extent.has(true[:2])
    at, size = true[:2], symbols.grown(body, true[:2], unit)
    factor = _factor(body, size)
    inside = (draft.extent.low + draft.extent.high) / 2 if aim is None else aim[:2]
    if far:
        at = draft.rim.edge_towards(inside, true[:2])
        factor = _factor(body, symbols.grown(body, true[:2], unit, most=symbols.MOST))
    shift = at - true[:2]
    body, faces = body + shift, [face + shift for face in faces]
    parts: list[Shape] = list(symbols.lamp_body(at, body, faces, name, unit, light.on, factor))
    solid = np.concatenate([part.points for part in parts])
    if is_overhead(light):
        parts.append(symbols.overhead_mark(solid, unit, name))
        solid = np.concatenate([solid, parts[-1].points])
    if light.in_shot:
        low, high = solid.min(axis=0) - 0.9 * unit, solid.max(axis=0) + 0.9 * unit
        parts += symbols.in_shot_mark(low, high, unit, name)
        solid = np.array([low, high])
    marks: list[Mark] = [*_throw(draft, light, true, at, aim, far)]
    number = draft.tags[name]
    marks.append(Symbol("lamps", name, (float(true[0]), float(true[1])), tuple(parts), {
        "NUMBER": number, "NAME": name, "KIND": light.kind, "HEIGHT": draft.said(true[2]),
        "LEVEL": f"{light.dimmer:.0%}" if light.on else "off", "HUNG": light.hung or "",
        "AIM": str(light.aim or ""),
    }))
    told = [CODES[light.kind], f"h {draft.said(true[2])}"]
    told += ["hung"] if is_overhead(light) else []
    told += ["in shot"] if light.in_shot else []
    told += [] if light.on else ["off"]
    lines = [Line(name, NAME, True), Line(" · ".join(told), MORE)]
    if far:
        lines += draft.far_lines(true)
    return Thing(name, true[:2], tuple(marks), solid, tuple(lines), number,
                 "" if far else number)


def _factor(points: np.ndarray, sized: np.ndarray) -> float:
    before = float(np.ptp(points, axis=0).max())
    return float(np.ptp(sized, axis=0).max()) / before if before > 0 else 1.0


def _solid(draft: Drafting, light: Light, at: np.ndarray) -> tuple[np.ndarray, list[np.ndarray]]:
    """Return what a lamp's outline goes round, and its bright faces, from above. [m]"""
    if light.ball:
        shade = getattr(light, "shade", None)
        wide = [getattr(light, "diameter", 0.0), *((shade.top, shade.bottom) if shade is not None else ())]
        turns = np.linspace(0, 2 * np.pi, 33)[:-1]
        circle = np.stack([np.cos(turns), np.sin(turns)], axis=1) / 2
        bulb = [at[:2] + getattr(light, "diameter", 0.0) * circle] if shade is not None else []
        return at[:2] + max(wide) * circle, bulb
    emitters = [each for each in draft.stage.emitters if each.name == light.name]
    faces = [np.asarray(each.vertices, float)[:, :2] for each in emitters]
    # The housing is the first of a lamp's meshes; what is put on it and what it hangs by come after.
    case = [np.asarray(mesh.vertices, float)[:, :2] for mesh in draft.stage.meshes
            if mesh.name == light.name and mesh.role == "lamp"][:1]
    points = np.concatenate([*faces, *case]) if faces or case else at[None, :2]
    flat = [face for face, each in zip(faces, emitters, strict=True) if each.flat]
    return points, flat[:1]


def _throw(draft: Drafting, light: Light, true: np.ndarray, shown: np.ndarray, aim: np.ndarray | None,
           far: bool) -> Iterator[Shape]:
    """Yield the line that a lamp is aimed along, and the edges of its beam."""
    unit, name, window = draft.unit, light.name, draft.window
    if far:
        inner = (draft.extent.low + draft.extent.high) / 2 if aim is None else aim[:2]
        way = (inner - shown) / max(float(np.hypot(*(inner - shown))), 1e-9)
        yield symbols.break_mark(shown + way * 0.75 * symbols.MOST * unit, way, unit, "beams", name)
    if aim is None or np.hypot(*(aim - true)[:2]) < 0.5 * unit:
        return
    seen = clipped(shown, aim[:2], window.low, window.high)
    if seen is not None:
        ends = np.allclose(seen[1], aim[:2], atol=1e-6)
        if ends:
            yield from symbols.arrow(seen[0], seen[1], unit, "beams", "aim", name, "aim")
        else:
            yield Shape("beams", seen, pen="aim", name=name, part="aim")
    if light.on and not far:
        yield from _beam(draft, light, true, aim)


def _beam(draft: Drafting, light: Light, true: np.ndarray, aim: np.ndarray) -> Iterator[Shape]:
    """Yield the edges of a beam, as far as what it is aimed at; they end at walls."""
    emitter = next((each for each in draft.stage.emitters if each.name == light.name and each.flat), None)
    edges = None if emitter is None else beam_edges(emitter)
    if emitter is None or edges is None:
        return
    angle = float(np.degrees(np.arccos(np.clip(edges[0] @ edges[1], -1, 1))))
    axis = np.asarray(emitter.world_from_light, float)[:2, 2]
    axis = axis / np.hypot(*axis)
    side = np.array([axis[1], -axis[0]])
    face = np.asarray(emitter.vertices, float)[:, :2]
    across = (face - true[:2]) @ side
    throw = float((aim[:2] - true[:2]) @ axis)
    bounds = draft.bounds(true[:2])
    for edge, start in zip(edges, (face[across.argmax()], face[across.argmin()]), strict=True):
        long = STUB * draft.unit if angle > BROAD else throw / max(float(edge @ axis), 0.05)
        seen = clipped(start, start + edge * long, bounds.low, bounds.high)
        if seen is not None:
            seen[1] = _before_walls(draft, seen)
            yield Shape("beams", seen, pen="beam", name=light.name, part="beam")


def _before_walls(draft: Drafting, line: np.ndarray) -> np.ndarray:
    """Return where a line from outside meets the walls of the room, else its end."""
    if draft.scene.room is None or Extent(*outer(draft.scene.room)).has(line[0]):
        return np.asarray(line[1])
    met = clipped(line[0], line[1], *outer(draft.scene.room))
    return np.asarray(line[1] if met is None else met[0])


# ---- Cameras -------------------------------------------------------------------------------------------


def cameras(draft: Drafting) -> Iterator[Thing]:
    """Yield the cameras."""
    for camera in draft.stage.cameras:
        yield _camera(draft, camera)
        focus = camera.position + np.asarray(camera.world_from_camera, float)[:, 2] * camera.focus
        if draft.window.has(focus[:2]):
            near = np.array([focus[:2] - 0.8 * draft.unit, focus[:2] + 0.8 * draft.unit])
            yield Thing(f"{camera.name}.focus", focus[:2], (), near,
                        (Line(f"focus {camera.name}", 1.8, quiet=True),), optional=True, open=True)


def _camera(draft: Drafting, camera: Camera) -> Thing:
    unit, name = draft.unit, camera.name
    true, ahead = np.asarray(camera.position, float), np.asarray(camera.world_from_camera, float)[:, 2]
    level = ahead[:2] / max(float(np.hypot(*ahead[:2])), 1e-9)
    if not np.any(level):
        level = np.array([0.0, 1.0])
    far = not draft.extent.has(true[:2])
    focus = true[:2] + ahead[:2] * camera.focus
    at = draft.rim.edge_towards(focus, true[:2]) if far else true[:2]
    marks: list[Mark] = []
    bounds = draft.bounds(true[:2])
    edges = camera_edges(camera)
    reach = 3 * float(np.hypot(*(draft.window.high - draft.window.low))) + float(np.hypot(*(true[:2] - at)))
    for edge in () if edges is None else edges:
        seen = clipped(true[:2], true[:2] + edge * reach, bounds.low, bounds.high)
        if seen is not None:
            marks.append(Shape("cameras", seen, pen="field", name=name, part="field"))
    side = np.array([-level[1], level[0]])
    if draft.window.has(focus) and np.hypot(*ahead[:2]) > 0.3:
        tick = np.array([focus - side * 1.8 * unit, focus + side * 1.8 * unit])
        marks.append(Shape("cameras", tick, pen="outline", name=name, part="focus"))
    if far:
        marks.append(symbols.break_mark(at + level * 4 * unit, level, unit, "cameras", name))
    body = symbols.camera_body(at, level, name, unit)
    marks.append(Symbol("cameras", name, (float(true[0]), float(true[1])), (body,), {
        "NAME": name, "LENS": said_finely(camera.focal), "HEIGHT": draft.said(true[2]),
        "STOP": f"T{camera.stop:.3g}", "FOCUS": draft.said(camera.focus),
    }))
    lines = [Line(f"Camera {name}", NAME, True),
             Line(f"{said_finely(camera.focal)} · h {draft.said(true[2])}", MORE),
             Line(f"focus {draft.said(camera.focus)}", MORE)]
    if far:
        lines += draft.far_lines(true)
    return Thing(name, true[:2], tuple(marks), body.points, tuple(lines), tag="" if far else f"Cam {name}")


# ---- People --------------------------------------------------------------------------------------------


def figures(draft: Drafting) -> Iterator[Thing]:
    """Yield the people, and the marks that they take."""
    for figure in draft.scene.figures:
        yield from _figure(draft, figure)


def _figure(draft: Drafting, figure: Figure) -> Iterator[Thing]:
    unit, name, at = draft.unit, figure.name, np.array(figure.at[:2], float)
    marks: list[Mark] = []
    solid = np.array([at])
    if name in draft.prints:
        for points, closed in rings(draft.prints[name].area):
            marks.append(Shape("figures", points, closed, "outline", "tint", name, "outline"))
            solid = np.concatenate([solid, points])
    head = draft.stage.head(name)
    marks.append(Disc("figures", (float(head.centre[0]), float(head.centre[1])), max(0.09, 1.1 * unit),
                      "outline", "paper", name, "head"))
    marks += _facing(np.asarray(head.nose, float)[:2], np.asarray(head.ahead, float)[:2], unit, name)
    if draft.extent.has(at):
        yield Thing(name, at, tuple(marks), solid, (Line(name, NAME, True),), tag=name)
    yield from _places(draft, figure)


def _facing(start: np.ndarray, ahead: np.ndarray, unit: float, name: str) -> Iterator[Shape]:
    level = float(np.hypot(*ahead))
    if level > 0.3:
        yield from symbols.arrow(start, start + ahead / level * 4.5 * unit, unit, "figures", "outline", name,
                                 "facing")


def _places(draft: Drafting, figure: Figure) -> Iterator[Thing]:
    """Yield the marks of a figure with the way from one to the next."""
    unit, (before, places) = draft.unit, marks_of(figure)
    heads = {each.mark: each for each in draft.stage.heads if each.figure == figure.name}
    for count, (mark, at) in enumerate(places, 1):
        name = f"{figure.name}.{mark}"
        marks: list[Mark] = []
        way = clipped(before, at, draft.window.low, draft.window.high)
        if way is not None:
            marks.append(Shape("figures", way, pen="hidden", name=figure.name, part="way"))
        before = at
        if not draft.extent.has(at):
            continue
        if figure.mark != mark:
            marks += symbols.cross(at, unit, name)
            if mark in heads:
                ahead = np.asarray(heads[mark].ahead, float)[:2]
                start = at + ahead / max(float(np.hypot(*ahead)), 1e-9) * 2.2 * unit
                marks += _facing(start, ahead, unit, name)
        solid = np.array([at - 1.7 * unit, at + 1.7 * unit])
        yield Thing(name, at, tuple(marks), solid, (Line(f"{count} {mark}", NAME),),
                    tag="" if figure.mark == mark else f"{figure.name} {count}")


# ---- What stands in the light --------------------------------------------------------------------------


def sheets(draft: Drafting) -> Iterator[Thing]:
    """Yield boards, frames, flags, nets and grids."""
    scene = draft.scene
    nouns = {item.name: item.noun for item in
             (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets, *scene.grids)}
    for grip in draft.stage.grip:
        yield _sheet(draft, grip, nouns[grip.name])


def corners_of(draft: Drafting, name: str) -> np.ndarray:
    """Return the corners of something flat, in order, shape (4, 3). [m]"""
    assert draft.stage.around is not None
    centre, u, v = (np.asarray(each, float) for each in draft.stage.around.outlines[name])
    return np.array([centre - u - v, centre + u - v, centre + u + v, centre - u + v])


def _sheet(draft: Drafting, grip: Grip, noun: str) -> Thing:
    unit, name = draft.unit, grip.name
    corners = corners_of(draft, name)
    true = corners.mean(axis=0)
    far = not draft.extent.has(true[:2])
    flat = hull(corners[:, :2])
    middle = (draft.extent.low + draft.extent.high) / 2
    at = draft.rim.edge_towards(middle, true[:2]) if far else true[:2]
    if far:
        flat = symbols.grown(flat, true[:2], unit, most=symbols.MOST)
    flat = flat + (at - true[:2])
    facing = np.cross(corners[1] - corners[0], corners[3] - corners[0])[:2]
    facing = facing / max(float(np.hypot(*facing)), 1e-12)
    parts: list[Shape] = []
    one, two = symbols.longest(flat)
    along = (two - one) / max(float(np.hypot(*(two - one))), 1e-12)
    if len(flat) > 2 and symbols.narrowest(flat) > unit:
        parts.append(Shape("grip", flat, True, "outline", "", name, "outline"))
        # Tilted, it is drawn whole, with its pattern on the line across its middle.
        across = np.asarray(at)
        half = (corners[1] - corners[0])[:2] / 2
        if np.hypot(*half) < np.hypot(*(corners[3] - corners[0])[:2]) / 2:
            half = (corners[3] - corners[0])[:2] / 2
        half = half * (min(1.0, symbols.MOST * unit / 2 / max(float(np.hypot(*half)), 1e-9)) if far else 1.0)
        one, two = across - half, across + half
        along = half / max(float(np.hypot(*half)), 1e-12)
    square = np.array([-along[1], along[0]])
    square = square if square @ facing >= 0 else -square
    parts += symbols.sheet_line(noun, one, two, square, name, unit)
    marks: list[Mark] = []
    if far:
        way = (middle - at) / max(float(np.hypot(*(middle - at))), 1e-9)
        marks.append(symbols.break_mark(at + way * 6 * unit, way, unit, "grip", name))
    low = float(corners[:, 2].min())
    tag = draft.tags[name]
    marks.append(Symbol("grip", name, (float(true[0]), float(true[1])), tuple(parts), {
        "NUMBER": tag, "NAME": name, "KIND": grip.what, "LOWER EDGE": draft.said(low),
    }))
    told = f"lower edge {draft.said(low)}" + (" · hung" if grip.hung else "")
    lines = [Line(f"{tag} {name}", NAME, True), Line(told, MORE)]
    if far:
        lines += draft.far_lines(true)
    return Thing(name, true[:2], tuple(marks), np.array([*flat, one, two]), tuple(lines), tag="" if far else tag)


# ---- Pieces --------------------------------------------------------------------------------------------


def pieces(draft: Drafting) -> Iterator[Thing]:
    """Yield the pieces, the highest last."""
    glowing = {getattr(light, "piece", None) and light.piece.name for light in draft.scene.lights
               if light.kind == "glow"}
    window = box(*draft.window.low, *draft.window.high)
    known = [(draft.prints[piece.name], piece) for piece in draft.scene.pieces if piece.name in draft.prints]
    known.sort(key=lambda each: (each[0].overhead, each[0].high))
    for count, (made, piece) in enumerate(known):
        area = made.area if window.contains(made.area) else made.area.intersection(window)
        if area.is_empty:
            continue
        cut = piece.shape == "partition" and made.cut
        marks, solid = [], [np.zeros((0, 2))]
        for points, closed in rings(area):
            pen, fill = ("cut", "cut") if cut else ("hidden", "") if made.overhead else ("outline", "piece")
            marks.append(Shape("pieces", points, closed, pen, fill if closed else "", piece.name,
                               "overhead" if made.overhead else "cut" if cut else "outline"))
            solid.append(points)
        # A name stands on what is seen of a piece, not on what lies on it.
        seen = area.difference(union_all([other.area for other, _ in known[count + 1:]]).buffer(0))
        lines = () if piece.name in glowing else (Line(piece.name, MORE, quiet=True),)
        yield Thing(piece.name, np.array(area.centroid.coords[0]), tuple(marks), np.concatenate(solid), lines,
                    optional=True, within=seen, open=True)
