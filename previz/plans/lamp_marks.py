"""Lamps as they are drawn on a plan: body, face, number, aim and beam."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from previz.plans import symbols
from previz.plans.beams import STEEP, beam_edges
from previz.plans.clip import clipped
from previz.plans.drafting import MORE, NAME, Drafting, Thing
from previz.plans.extent import Extent
from previz.plans.labels import Line
from previz.plans.outlines import CUT
from previz.plans.records import Mark, Shape, Symbol
from previz.plans.walls import outer
from previz.scene.light import LIGHTS, Light
from previz.stage.records import Rig

CODES = symbols.kind_codes(LIGHTS)
"""Kind of lamp -> the letters that stand for it on plans."""

BROAD = 80.0
"""Full angle from above from which on a beam is only begun: its lines would fill the plan. [deg]"""

STUB = 9.0
"""Length of the lines of such a beam. [mm]"""


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
    down = any(each.flat and each.world_from_light[2, 2] < -STEEP for each in draft.stage.emitters
               if each.name == light.name)
    at, size = true[:2], symbols.grown(body, true[:2], unit)
    factor = _factor(body, size)
    inside = (draft.extent.low + draft.extent.high) / 2 if aim is None else aim[:2]
    if far:
        at = draft.rim.edge_towards(inside, true[:2])
        factor = _factor(body, symbols.grown(body, true[:2], unit, most=symbols.MOST))
    shift = at - true[:2]
    body, faces = body + shift, [face + shift for face in faces]
    parts: list[Shape] = list(symbols.lamp_body(at, body, faces, name, unit, light.on, factor,
                                                open_=light.held == "above" or down and true[2] > CUT))
    solid = np.concatenate([part.points for part in parts])
    if is_overhead(light):
        parts.append(symbols.overhead_mark(solid, unit, name))
        solid = np.concatenate([solid, parts[-1].points])
    if light.in_shot:
        low, high = solid.min(axis=0) - 0.9 * unit, solid.max(axis=0) + 0.9 * unit
        parts += symbols.in_shot_mark(low, high, unit, name)
        solid = np.array([low, high])
    marks: list[Mark] = [*_throw(draft, light, true, at, aim, far), *draft.boom(name)]
    number = draft.tags[name]
    marks.append(Symbol("lamps", name, (float(true[0]), float(true[1])), tuple(parts), {
        "NUMBER": number, "NAME": name, "KIND": light.kind, "HEIGHT": draft.said(true[2]),
        "LEVEL": f"{light.dimmer:.0%}" if light.on else "off", "HUNG": light.hung or "",
        "AIM": str(light.aim or ""), "CIRCUIT": light.circuit,
    }))
    told = [CODES[light.kind], f"h {draft.said(true[2])}"]
    told += ["down"] if down else []
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
