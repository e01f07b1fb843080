"""Cameras, people, what stands in the light, and pieces, as they are drawn on a plan."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from shapely import union_all
from shapely.geometry import box

from previz.plans import symbols
from previz.plans.beams import camera_edges
from previz.plans.clip import clipped
from previz.plans.drafting import MORE, NAME, Drafting, Thing
from previz.plans.extent import marks_of
from previz.plans.labels import Line
from previz.plans.lengths import said_finely
from previz.plans.outlines import hull, rings
from previz.plans.records import Disc, Mark, Shape, Symbol
from previz.scene.figure import Figure
from previz.scene.light import Glow
from previz.stage.records import Camera, Grip


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
            # By itself: where options differ in where it begins, the mark is still one and the same.
            dashes = Shape("figures", way, pen="hidden", name=figure.name, part="way")
            yield Thing(f"{name}, way", at, (dashes,), np.array([at]), open=True)
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
    marks: list[Mark] = [*draft.boom(name)]
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
    return Thing(name, true[:2], tuple(marks), np.array([*flat, one, two]), tuple(lines),
                 tag="" if far else tag)


def pieces(draft: Drafting) -> Iterator[Thing]:
    """Yield the pieces, the highest last."""
    glowing = {light.piece.name for light in draft.scene.lights if isinstance(light, Glow)}
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
