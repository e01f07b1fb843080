"""The legend of a plan: just what is on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from previz.plans import symbols
from previz.plans.lamp_marks import CODES
from previz.plans.lengths import METRIC, said
from previz.plans.outlines import CUT
from previz.plans.records import Disc, Drawing, Key, Shape, Symbol, Words

if TYPE_CHECKING:
    from previz.plans.records import Mark
    from previz.scene.scene import Scene

Part = Shape | Disc | Words


def plan_notes(scene: Scene) -> tuple[str, ...]:
    """Return what a plan says of its lengths, for the notes beside it."""
    if scene.room is None:
        return ("All lengths count from the origin of the scene file: to the east, and to the north. "
                "A minus is to the west, or to the south.",)
    return ("All lengths count from the inside faces of the west and the south wall, so that one tape along "
            "each does. A minus is outside them, to the west or the south.",)

SHEETS: Mapping[str, str] = {
    "board": "Board, its face away from the ticks", "diffusion frame": "Diffusion frame", "flag": "Flag",
    "net": "Net", "grid": "Grid of cells",
}


def plan_keys(drawing: Drawing, scene: Scene, system: str = METRIC) -> tuple[Key, ...]:
    """Return what a legend has to explain of a plan.

    Parameters
    ----------
    drawing : Drawing
        As `plan.draw_plan` returns it.
    scene : Scene
        That it is of.
    system : str
        'metric' or 'imperial'.
    """
    parts = {(mark.layer, mark.part) for mark in _plain(drawing.marks) if not isinstance(mark, Words)}
    return (*_lamps(scene, parts), *_people_and_cameras(scene, parts), *_sheets(scene), *_set(parts, system),
            *_dimensions(scene, parts))


def _plain(marks: tuple[Mark, ...]) -> Iterator[Part]:
    for mark in marks:
        yield from mark.parts if isinstance(mark, Symbol) else (mark,)


def _line(*points: tuple[float, float], pen: str = "outline", layer: str = "sheet") -> Shape:
    return Shape(layer, np.array(points, float), pen=pen)


def _area(low: tuple[float, float], high: tuple[float, float], pen: str, fill: str = "") -> Shape:
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])], float)
    return Shape("sheet", corners, True, pen, fill)


def _lamp(lit: bool = True) -> tuple[Shape, ...]:
    body = np.array([[-2.6, -1.0], [2.6, -1.0], [2.6, 1.0], [-2.6, 1.0]])
    return tuple(symbols.lamp_body(np.zeros(2), body, [body[2:]], "", 1.0, lit, 1.0))


def _lamps(scene: Scene, parts: set[tuple[str, str]]) -> Iterator[Key]:
    if not scene.lights:
        return
    kinds = sorted({(CODES[light.kind], light.kind) for light in scene.lights})
    number = (Disc("sheet", (-2.2, 0.0), 2.0, "outline", "paper"),
              Words("sheet", (-2.2, -0.8), "1", 2.3, "centre", strong=True),
              Words("sheet", (0.6, -0.7), kinds[0][0], 2.0))
    yield Key(number, "Lamp's number, as in the lists, and kind: "
              + ", ".join(f"{code} {kind}" for code, kind in kinds))
    if any(light.on for light in scene.lights):
        yield Key(_lamp(), "Lamp to scale, small ones enlarged; the heavy or white side is its face")
    if not all(light.on for light in scene.lights):
        yield Key(_lamp(False), "Lamp that is off")
    if ("lamps", "hung") in parts:
        ring = Shape("sheet", np.array([[-3.6, -1.9], [3.6, -1.9], [3.6, 1.9], [-3.6, 1.9]]), True, "hidden")
        yield Key((*_lamp(), ring), "Hung overhead")
    if ("grip", "boom") in parts:
        stand = Disc("sheet", (3.0, 0.0), 0.9, "outline", "ink")
        yield Key((_line((-4.2, 0.0), (3.0, 0.0), pen="hidden"), stand), "Boom, and the stand that takes it")
    if ("lamps", "in shot") in parts:
        corner = np.array([3.4, 1.8])
        yield Key((*_lamp(), *symbols.in_shot_mark(-corner, corner, 1.0, "")), "Left in shot")
    yield Key((Words("sheet", (0.0, -0.8), "h", 2.3, "centre"),),
              "Height over the floor: middle of the face, bulb or lens")
    if ("beams", "aim") in parts:
        yield Key(tuple(symbols.arrow(np.array([-4.4, 0.0]), np.array([4.4, 0.0]), 1.0, "sheet", "aim", "",
                                      "aim")), "Aim")
    if ("beams", "beam") in parts:
        yield Key((_line((-4.4, 0.0), (4.4, 2.0), pen="beam"), _line((-4.4, 0.0), (4.4, -2.0), pen="beam")),
                  "Beam to half of its peak; of broad ones the beginning")
    if any(part == "break" for _, part in parts):
        mark = symbols.break_mark(np.zeros(2), np.array([1.0, 0.0]), 1.0, "sheet", "")
        yield Key((_line((-4.4, 0.0), (4.4, 0.0), pen="aim"), mark),
                  "Stands farther away than is drawn, and is not to scale; its true place is written")


def _people_and_cameras(scene: Scene, parts: set[tuple[str, str]]) -> Iterator[Key]:
    if scene.cameras:
        points = np.array([[4.0, 0.5], [2.6, 0.5], [2.6, 1.2], [-2.4, 1.2], [-2.4, -1.2], [2.6, -1.2],
                           [2.6, -0.5], [4.0, -0.5]])
        yield Key((Shape("sheet", points, True, "outline", "cloth"),), "Camera, its lens at the narrow end")
    if ("cameras", "field") in parts:
        yield Key((_line((-4.4, 0.0), (4.4, 2.1), pen="field"), _line((-4.4, 0.0), (4.4, -2.1), pen="field"),
                   _line((2.0, -0.9), (2.0, 0.9))), "Field across, and a tick at the distance of focus")
    if ("figures", "outline") in parts:
        yield Key((Shape("sheet", np.array([[-1.2, -2.0], [0.4, -1.4], [0.4, 1.4], [-1.2, 2.0]]), True,
                         "outline", "tint"), Disc("sheet", (-0.3, 0.0), 1.0, "outline", "paper"),
                   *symbols.arrow(np.array([0.7, 0.0]), np.array([4.2, 0.0]), 1.0, "sheet", "outline", "",
                                  "facing")), "Person, facing along the arrow")
    if ("figures", "mark") in parts:
        marks = tuple(Shape("sheet", mark.points + np.array([-1.8, 0.0]), False, mark.pen)
                      for mark in symbols.cross(np.zeros(2), 1.0, ""))
        yield Key((*marks, _line((0.2, 0.0), (4.4, 0.0), pen="hidden")), "Mark, and the way to the next")


def _sheets(scene: Scene) -> Iterator[Key]:
    nouns = {item.noun for item in (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets, *scene.grids)}
    for noun, text in SHEETS.items():
        if noun in nouns:
            end = np.array([4.2, 0.0])
            marks = symbols.sheet_line(noun, -end, end, np.array([0.0, 1.0]), "", 1.0)
            yield Key(tuple(marks), text)


def _set(parts: set[tuple[str, str]], system: str) -> Iterator[Key]:
    if ("walls", "cut") in parts:
        yield Key((_area((-4.2, -1.3), (4.2, 1.3), "cut", "cut"),), f"Wall, cut at {said(CUT, system)}")
    if ("openings", "glass") in parts:
        yield Key(tuple(_line((-4.2, y), (4.2, y)) for y in (1.3, 0.0, -1.3)), "Window with its glass")
    if ("pieces", "overhead") in parts or ("openings", "overhead") in parts:
        yield Key((_area((-4.2, -1.6), (4.2, 1.6), "hidden"),), "Over the cut, dashed")


def _dimensions(scene: Scene, parts: set[tuple[str, str]]) -> Iterator[Key]:
    ticks = (_line((-4.2, 1.6), (4.2, 1.6), pen="dimension"), _line((-2.0, 2.4), (-2.0, 0.6), (-2.6, -1.6),
                                                                    pen="dimension"),
             _line((2.0, 2.4), (2.0, 0.6), (2.0, -1.6), pen="dimension"))
    what = ("from the west and the south wall" if scene.room is not None
            else "from the ringed cross, the scene's origin" if ("dimensions", "origin") in parts
            else "from the scene's origin, which is off this plan")
    yield Key(ticks, f"Running dimensions, {what}")
    if ("dimensions", "section") in parts:
        line = Shape("sheet", np.array([[-2.4, -1.2], [2.4, -1.2]]), pen="cut")
        foot, tip = np.array([-0.6, -1.2]), np.array([-0.6, 2.2])
        way = symbols.arrow(foot, tip, 1.0, "sheet", "outline", "", "section")
        yield Key((line, *way, Words("sheet", (0.8, -0.2), "A", 2.3, strong=True)),
                  "Where section A is cut, and the way it looks")
