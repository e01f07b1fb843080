"""The plan on the page: what is drawn of an option as it is moved, and what stands there and may be moved."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from previz.errors import DataError, PrevizError
from previz.page.change_text import read_moves
from previz.page.desk import Desk
from previz.page.plan_things import SECTIONS, kinds_to_put_in, target_groups, thing_values
from previz.page.shots import option_of
from previz.plans import symbols
from previz.plans.drafting import Thing
from previz.plans.extent import Extent
from previz.plans.marks import plain
from previz.plans.outlines import Footprint, footprint
from previz.plans.records import Disc, Mark, Shape, Words
from previz.plans.screen import ScreenPlan, screen_plan
from previz.scene.scene import Scene
from previz.stage.outdoors import resolved
from previz.stage.records import Mesh, Stage

LEAST_UNIT, GREATEST_UNIT = 0.001, 10.0
"""Of a mm of paper on the set. [m]"""

USUAL_UNIT = 0.05
"""As at 1:50. [m]"""

DIGITS = 4
"""Of places. [decimals of a m]"""

MOST_PRINTS = 400
"""Footprints that are kept, of things as they stood."""

STAYING = ("beams", "sun")
"""Layers of marks that do not go with a thing as it is moved."""

AT_OTHERS = ("field", "focus", "way", "boom", "stand", "mark")
"""Parts that do not either."""


class Prints:
    """Footprints of things as they stand, each made once: they take longest of a plan."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[bytes, Footprint | None] = OrderedDict()

    def of(self, stage: Stage, names: Iterable[str]) -> dict[str, Footprint]:
        """Return name -> footprint of things that have a mesh."""
        parts: dict[str, list[Mesh]] = {name: [] for name in names}
        for mesh in stage.meshes:
            if mesh.name in parts:
                parts[mesh.name].append(mesh)
        found = ((name, self._made(meshes)) for name, meshes in parts.items() if meshes)
        return {name: made for name, made in found if made is not None}

    def _made(self, meshes: list[Mesh]) -> Footprint | None:
        digest = hashlib.blake2b(digest_size=16)
        for mesh in meshes:
            for array in (np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64)):
                digest.update(np.ascontiguousarray(array).data)
        key = digest.digest()
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
                return self._known[key]
        made = footprint(meshes)
        with self._lock:
            self._known[key] = made
            while len(self._known) > MOST_PRINTS:
                self._known.popitem(last=False)
        return made


def allowed_values(desk: Desk, query: Mapping[str, str]) -> dict:
    """Return what is wrong with what is moved, '' where the option can have it: {'fault': words}.

    Only what a scene file is refused for counts, which takes milliseconds; a plan finds the rest.
    """
    try:
        option, moves = option_of(desk, query), read_moves(query.get("look", ""))
        if not desk.cameras(option, moves):
            raise DataError("no camera is left", "Keep one.")
    except PrevizError as error:
        return {"fault": str(error)}
    return {"fault": ""}


def plan_values(desk: Desk, query: Mapping[str, str]) -> dict:
    """Return the plan of an option as it is moved; `unit` is what a mm of paper is on the set. [m]

    Places are in metres. `things` are what may be moved, with their marks and names; `ghosts` the marks of
    those that the option has elsewhere, or not at all any more; `fault` says why there is no plan.
    """
    try:
        return {"fault": "", **_plan_values(desk, query)}
    except PrevizError as error:
        return {"fault": str(error)}


def _plan_values(desk: Desk, query: Mapping[str, str]) -> dict:
    option, moves = option_of(desk, query), read_moves(query.get("look", ""))
    unit = _unit(query)
    scene, stage = desk.scene(option, moves), desk.stage(option, moves)
    prints = desk.made("footprints", Prints)
    plan = _drawn(scene, stage, unit, prints, named=True)
    written = desk.scene(option)
    values: dict[str, Any] = {
        "option": option, "edition": desk.edition, "unit": unit,
        "extent": _extent(plan.extent), "whole": _extent(plan.whole),
        "ceiling": None if scene.room is None else scene.room.size[2],
        "walls": [_mark(each) for each in plain(plan.walls)],
        "names": [_mark(each) for each in plan.names],
        "north": [_mark(each) for each in symbols.north_arrow(np.zeros(2), _north(scene), 1.0)],
        "things": [], "ghosts": [],
        "kinds": kinds_to_put_in(None if scene.room is None else scene.room.size[2]),
        "targets": target_groups(scene),
    }
    shown = {camera.name for camera in desk.cameras(option, moves)}
    items = _items(scene)
    before = {name: item for name, (_, item) in _items(written).items()}
    # In the order in which they are drawn.
    for thing in plan.things:
        owner, _, rest = thing.name.partition(".")
        section, item = items.get(thing.name, ("", None))
        if section == "cameras" and thing.name not in shown:
            continue
        if item is not None:
            values["things"].append({
                **thing_values(section, item, before.get(thing.name), stage, desk.path.parent.resolve()),
                "tag": plan.tags.get(thing.name, ""), **_marks(thing),
            })
        elif rest:
            # A figure's marks and the way between them, and where a camera is focused.
            values["things"].append({"section": "", "name": thing.name, "of": owner, **_marks(thing)})
    moved = {name for name, item in before.items() if name not in items or items[name][1] != item}
    if moved:
        first = _drawn(written, desk.stage(option), unit, prints, named=False)
        values["ghosts"] = [{"name": thing.name, "gone": thing.name not in items,
                             "section": _items(written)[thing.name][0], "at": _point(thing.at),
                             "marks": _marks(thing)["marks"]}
                            for thing in first.things if thing.name in moved]
    return values


def _drawn(scene: Scene, stage: Stage, unit: float, prints: Prints, *, named: bool) -> ScreenPlan:
    found = prints.of(stage, [each.name for each in (*scene.pieces, *scene.figures)])
    return screen_plan(scene, stage, unit=unit, system="metric", prints=found, named=named)


def _items(scene: Scene) -> dict:
    """Return name -> (section, item) of all that may stand on a plan."""
    return {item.name: (section, item) for section in SECTIONS for item in getattr(scene, section)}


def _unit(query: Mapping[str, str]) -> float:
    try:
        unit = float(query.get("unit", USUAL_UNIT))
    except ValueError:
        unit = 0.0
    if not LEAST_UNIT <= unit <= GREATEST_UNIT:
        raise DataError(f"'unit' lies from {LEAST_UNIT:g} to {GREATEST_UNIT:g} m", "Reload the page.")
    return unit


def _north(scene: Scene) -> float:
    daylight = resolved(scene.daylight)
    return 0.0 if daylight is None else daylight.north


def _extent(extent: Extent) -> list[list[float]]:
    return [_point(extent.low), _point(extent.high)]


def _point(at: np.ndarray | tuple[float, ...]) -> list[float]:
    # Adding nothing takes the sign off a zero.
    return [round(float(each), DIGITS) + 0.0 for each in at]


def _marks(thing: Thing) -> dict[str, list[dict]]:
    """Return the marks of a thing that go with it, and those that stay as it is moved."""
    going: list[dict] = []
    staying: list[dict] = []
    for mark in plain(thing.marks):
        stays = mark.layer in STAYING or getattr(mark, "part", "") in AT_OTHERS
        (staying if stays else going).append(_mark(mark))
    return {"marks": going, "staying": staying}


def _mark(mark: Mark) -> dict:
    if isinstance(mark, Disc):
        return {"layer": mark.layer, "name": mark.name, "part": mark.part, "pen": mark.pen, "fill": mark.fill,
                "at": _point(mark.at), "radius": round(float(mark.radius), DIGITS)}
    if isinstance(mark, Shape):
        return {"layer": mark.layer, "name": mark.name, "part": mark.part, "pen": mark.pen, "fill": mark.fill,
                "closed": mark.closed, "points": [_point(each) for each in mark.points]}
    assert isinstance(mark, Words)
    return {"layer": mark.layer, "at": _point(mark.at), "text": mark.text, "size": mark.size,
            "align": mark.align, "turn": mark.turn, "strong": mark.strong, "quiet": mark.quiet,
            "name": mark.name}
