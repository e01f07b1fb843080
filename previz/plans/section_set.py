"""The set in a section: walls, pieces and people that are cut, and those beyond."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
import trimesh
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from previz.plans.cut import Cut
from previz.plans.drafting import MORE, NAME, Drafting, Thing
from previz.plans.labels import Line
from previz.plans.outlines import covered, rings
from previz.plans.records import Mark, Shape
from previz.plans.walls import hole_of, outer
from previz.scene.light import Glow
from previz.stage.records import Mesh

if TYPE_CHECKING:
    from previz.scene.scene import Scene
    from previz.stage.records import Stage

JOINED = 1e-5
"""Ends of cut edges that are nearer are one corner. [m]"""

ON_A_FACE = 1e-6
"""How far into the room a cut is taken to be, against ties. [m]"""


def ways_of_wall(scene: Scene, cut: Cut) -> Iterator[Shape]:
    """Yield walls, floor and ceiling as they are cut, with the openings in them, and openings beyond."""
    room = scene.room
    assert room is not None
    low, high = outer(room)
    across, deep, tall = room.size
    reach = 2 * float(np.hypot(*(high - low))) + 2
    start, along = np.array(cut.start), np.array(cut.along)
    # A cut along the very face of a wall shows the room, not the wall.
    start = start + ON_A_FACE * np.sign(cut.ahead @ (np.array([across, deep]) / 2 - start)) * cut.ahead
    line = LineString([start - reach * along, start + reach * along])
    inner = box(0, 0, across, deep)
    holes: list[BaseGeometry] = []
    for opening in room.openings:
        hole = hole_of(room, opening)
        bottom, top = ((tall, tall + room.wall_thickness) if opening.wall == "ceiling"
                       else (opening.sill, opening.sill + opening.size[1]))
        for one, two in _spans(line.intersection(box(*hole.low, *hole.high)), cut):
            holes.append(box(one, bottom, two, top))
            if opening.wall != "ceiling":
                for level in (bottom, top) if bottom > 0 else (top,):
                    yield Shape("openings", np.array([[one, level], [two, level]]), pen="outline",
                                name=opening.name, part="edge")
                if opening.glass != "none":
                    middle = (one + two) / 2
                    yield Shape("openings", np.array([[middle, bottom], [middle, top]]), pen="outline",
                                name=opening.name, part="glass")
        yield from _opening_beyond(scene, cut, opening.name)
    cut_through = shapely.union_all(holes)
    thick = room.wall_thickness
    bands: list[tuple[str, BaseGeometry]] = []
    for one, two in _spans(line.intersection(box(*low, *high).difference(inner)), cut):
        bands.append(("wall", box(one, -thick, two, tall + (thick if room.ceiling else 0.0))))
    for one, two in _spans(line.intersection(box(*low, *high)), cut):
        bands.append(("floor", box(one, -thick, two, 0.0)))
        if room.ceiling:
            bands.append(("ceiling", box(one, tall, two, tall + thick)))
    # Filled one by one, so that names may stand between them; round all of it one outline.
    for name, band in bands:
        for points, _ in rings(band.difference(cut_through)):
            yield Shape("walls", points, True, "", "cut", name, "cut")
    whole = shapely.union_all([band for _, band in bands]).difference(cut_through)
    for points, _ in rings(whole):
        yield Shape("walls", points, True, "cut", "", "walls", "outline")


def _spans(crossed: BaseGeometry, cut: Cut) -> Iterator[tuple[float, float]]:
    """Yield where lines of the floor run, along the cut. [m]"""
    for part in getattr(crossed, "geoms", [crossed]):
        if isinstance(part, LineString) and not part.is_empty:
            ends = (np.array(part.coords) - cut.start) @ np.array(cut.along)
            if np.ptp(ends) > 1e-9:
                yield float(ends.min()), float(ends.max())


def _opening_beyond(scene: Scene, cut: Cut, name: str) -> Iterator[Shape]:
    """Yield the outline of an opening in a wall that is looked at."""
    room = scene.room
    assert room is not None
    opening = next(each for each in room.openings if each.name == name)
    if opening.wall == "ceiling":
        return
    hole = hole_of(room, opening)
    corners = np.array([hole.low, (hole.high[0], hole.low[1]), hole.high, (hole.low[0], hole.high[1])])
    seen = cut.turned(np.column_stack([corners, np.zeros(4)]))
    if np.any(seen[:, 2] > 1e-6) or np.ptp(seen[:, 0]) < 2 * room.wall_thickness:
        return
    low, high = seen[:, 0].min(), seen[:, 0].max()
    points = np.array([[low, opening.sill], [high, opening.sill], [high, opening.sill + opening.size[1]],
                       [low, opening.sill + opening.size[1]]])
    yield Shape("openings", points, True, "thin", "paper", name, "beyond")


def cut_pieces(stage: Stage, scene: Scene, cut: Cut) -> Iterator[Shape]:
    """Yield the faces that the cut leaves of pieces, each filled, round all of it a heavy line."""
    names = {piece.name for piece in scene.pieces}
    normal, origin = np.array([*cut.ahead, 0.0]), np.array([*cut.start, 0.0])
    for mesh in stage.meshes:
        if mesh.name not in names:
            continue
        for points, closed in rings(cut_face(mesh, origin, normal, cut)):
            yield Shape("pieces", points, closed, "cut", "tint" if closed else "", mesh.name, "cut")


def cut_face(mesh: Mesh, origin: np.ndarray, normal: np.ndarray, cut: Cut) -> BaseGeometry:
    """Return what a plane cuts of a mesh in the section's axes: areas, or lines of what is open. [m]"""
    body = trimesh.Trimesh(np.asarray(mesh.vertices, float), np.asarray(mesh.faces), process=False)
    found = trimesh.intersections.mesh_plane(body, normal, origin)  # type: ignore[no-untyped-call]
    if not len(found):
        return Polygon()
    lines = np.round(cut.turned(found)[..., :2] / JOINED) * JOINED
    edges = shapely.linestrings(lines[np.hypot(*(lines[:, 1] - lines[:, 0]).T) > 0])
    if not len(edges):
        return Polygon()
    merged = shapely.union_all(edges)
    areas = shapely.polygonize([merged])
    whole = shapely.union_all(list(areas.geoms))
    return whole if not whole.is_empty else shapely.line_merge(merged)


class Outline(NamedTuple):
    """What is seen of a piece or a person: name, whether a person, whether on this side, and area [m]."""

    name: str
    person: bool
    before: bool
    area: BaseGeometry


def outlines(seen: Stage, scene: Scene) -> list[Outline]:
    """Return people, and the pieces at or beyond the cut, the farthest first.

    It is what takes longest of a section. `seen` is in its axes.
    """
    people = {figure.name for figure in scene.figures}
    names = people | {piece.name for piece in scene.pieces}
    parts: dict[str, list[np.ndarray]] = {}
    for mesh in seen.meshes:
        if mesh.name in names and len(mesh.faces):
            parts.setdefault(mesh.name, []).append(np.asarray(mesh.vertices, float)[np.asarray(mesh.faces)])
    known = []
    for name, found in parts.items():
        corners = np.concatenate(found)
        if name in people or corners[..., 2].min() < -1e-6:
            known.append((float(corners[..., 2].max()), name, corners))
    known.sort(key=lambda each: (each[1] in people, each[0]))
    made: list[Outline] = []
    pieces: list[tuple[float, BaseGeometry]] = []
    for nearest, name, corners in known:
        area = covered(corners[..., :2])
        if name in people:
            # People are drawn over pieces: what hides them is taken off.
            area = area.difference(shapely.union_all([each for far, each in pieces if far >= nearest - 1e-6]))
        else:
            pieces.append((float(corners[..., 2].min()), area))
        made.append(Outline(name, name in people, bool(corners[..., 2].min() > 0), area))
    return made


def beyond(draft: Drafting, scene: Scene, drawn: Sequence[Outline]) -> Iterator[Thing]:
    """Yield pieces and people as they are drawn."""
    glowing = {light.piece.name for light in scene.lights if isinstance(light, Glow)}
    window = box(*draft.window.low, *draft.window.high)
    for name, person, before, whole in drawn:
        area = whole if window.contains(whole) else whole.intersection(window)
        if area.is_empty:
            continue
        marks: list[Mark] = []
        for points, closed in rings(area):
            pen = "hidden" if before else "outline" if person else "thin"
            fill = "" if before or not closed else "tint" if person else "piece"
            marks.append(Shape("figures" if person else "pieces", points, closed, pen, fill, name, "outline"))
        solid = np.array(area.bounds).reshape(2, 2)
        if person:
            yield _person(draft, name, tuple(marks), solid)
        else:
            lines = () if name in glowing else (Line(name, MORE, quiet=True),)
            yield Thing(name, np.array(area.centroid.coords[0]), tuple(marks), solid, lines, optional=True,
                        within=area, open=True)


def _person(draft: Drafting, name: str, marks: tuple[Mark, ...], solid: np.ndarray) -> Thing:
    eyes = np.asarray(draft.stage.places[f"{name}.eyes"], float)
    half = 2.2 * draft.unit
    ends = np.array([[eyes[0] - half, eyes[1]], [eyes[0] + half, eyes[1]]])
    line = Shape("figures", ends, pen="thin", name=name, part="eyes")
    top = draft.said(max(float(mesh.vertices[:, 1].max()) for mesh in draft.stage.meshes
                         if mesh.name == name and len(mesh.vertices)))
    lines = (Line(name, NAME, True), Line(f"eyes {draft.said(eyes[1])} · top {top}", MORE))
    return Thing(name, eyes[:2], (*marks, line), solid, lines)
