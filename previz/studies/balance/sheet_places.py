"""Where a board, a frame or a flag should stand for what no level meets: a few places, each metered.

A sheet changes the light of all lamps at once, by what it throws and what it takes, so every place costs a
run of the meters. It is moved nearer and farther along its facing, which is what counts for a board, and
aside, which is what counts for the edge of a flag.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.errors import RequestError, SceneError
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.modifiers import Sheet
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.studies.balance.allowed import Allowed
from previz.studies.balance.gathering import Meters
from previz.studies.balance.placed import (
    COARSE,
    Answered,
    Move,
    Place,
    Placed,
    best_of,
    met_of,
    missed_of,
    movable_sheet,
    put,
)
from previz.studies.balance.solving import solve
from previz.studies.balance.subjects import with_meters

ALONG = (0.25, 0.5, 1.0, -0.25, -0.5)
"""Steps towards what it faces, and away from it. [m]"""

ASIDE = (0.25, -0.25, 0.5, -0.5)
"""Steps aside. [m]"""

HIGHER = (0.25, -0.25)
"""Steps up and down. [m]"""


def steps(ahead: np.ndarray) -> list[np.ndarray]:
    """Return where a sheet is tried, from where it stands, nearest first. [m]

    `ahead` is the direction that it faces; aside is level, higher square to both.
    """
    ahead = ahead / np.linalg.norm(ahead)
    level = np.cross([0.0, 0, 1.0], ahead)
    level = np.array([1.0, 0, 0]) if np.linalg.norm(level) < 1e-6 else level / np.linalg.norm(level)
    up = np.cross(ahead, level)
    made = [size * way for sizes, way in ((ALONG, ahead), (ASIDE, level), (HIGHER, up)) for size in sizes]
    return sorted(made, key=lambda each: float(np.linalg.norm(each)))


def find_sheet_place(known: Answered, move: Move, request: Request, rule: str, *, few: bool = False,
                     progress: Progress | None = None) -> Placed:
    """Return the best place of a board, frame, flag, net or grid; as of `places.find_place`."""
    progress, sheet = progress or Progress(), movable_sheet(known.scene, move)
    allowed = Allowed(known, move, sheet.at, in_shot=False)
    now = Place(sheet, missed_of(known.solution), met_of(known.solution))
    if known.solution.met:
        return Placed(sheet, now, now, (), 0, (), len(known.wants))
    at = np.asarray(sheet.at, float)
    aim = (np.asarray(sheet.facing.point, float) if sheet.facing.point is not None
           else np.asarray(known.stage.places[sheet.facing.text], float))
    radius = float(np.hypot(*sheet.size)) / 2
    seen = not allowed.may(at, radius)
    places = [at + step for step in steps(aim - at)]
    # One that stands in a frame already may stay in it.
    places = [each for each in places if allowed.may(each, 0.0 if seen else radius)]
    if not places:
        raise RequestError(f"'{sheet.name}' may stand nowhere near: in walls, in bodies, in a frame or too "
                           "near a face.", "Give another box.")
    coarse = replace(request, error=max(request.precision, COARSE))
    tried = []
    with progress.running(len(places)):
        for number, place in enumerate(places):
            progress.show(f"'{sheet.name}' at place {number + 1} of {len(places)}")
            x, y, z = (round(float(each), 2) for each in place)
            found = _metered(known, replace(sheet, at=(x, y, z)), coarse, rule, few)
            progress.add(1.0, f"place {number + 1} of {len(places)}")
            tried += [] if found is None else [found]
    best, order = best_of(now, tried)
    bounds = () if best is now or best.item.at is None else allowed.bounds(best.item.at)
    return Placed(sheet, best, now, order, len(places), bounds, len(known.wants))


def _metered(known: Answered, sheet: Sheet, request: Request, rule: str, few: bool) -> Place | None:
    """Return a place of a sheet with all lamps metered anew; None where it cannot be built."""
    scene: Scene = put(known.scene, sheet)
    try:
        stage = build_stage(scene)
        job = StageJob(with_meters(stage, known.needed), request.meter_order())
        needed, response = replace(known.needed, views=()), known.response
        if needed.incident or needed.spots:
            try:
                found = Meters(job, request, Progress()).response(needed, {})
            finally:
                job.close()
            light = response.light.copy()
            for number, name in enumerate(found.meters):
                light[response.meters.index(name)] = found.light[number]
            response = replace(response, light=light)
    except (SceneError, RequestError):
        return None
    solution = solve(response, known.wants, scene, stage, rule, few=few, views=known.needed.view_names)
    return Place(sheet, missed_of(solution), met_of(solution))
