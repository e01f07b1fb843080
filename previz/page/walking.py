"""Walks on the page: a figure's way along its marks as a strip, under the lamps as they are set there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from previz.engine.gather import Standing
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.exposure.comparing.walk import strip_of
from previz.exposure.comparing.walk_words import record
from previz.frames.batches import Batches
from previz.page.desk import Desk
from previz.page.figures import figures
from previz.page.shots import Lit, lit
from previz.physics.light import lamps_band_xyz
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import IncidentMeters
from previz.rendering.metering import Effort, StageMeters
from previz.scene.scene import Scene
from previz.stage.colours import stage_colours
from previz.studies.changes import staged_camera
from previz.studies.selection import select_one
from previz.studies.walk import METER_SECONDS
from previz.studies.walk_way import NO_MARKS, Way, lamp_places, stops_of, way_of


def walkers(scene: Scene) -> list[str]:
    """Return the figures that have a way along marks."""
    found = []
    for figure in scene.figures:
        try:
            stops_of(figure)
        except RequestError:
            continue
        found.append(figure.name)
    return found


@dataclass(frozen=True, eq=False)
class PageWalk:
    """One figure's way through an option as written, and its meters."""

    way: Way
    job: StageJob
    meters: StageMeters = field(init=False)
    _kept: dict[str, Any] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "meters", StageMeters(self.job))

    def run(self, precision: float, on_standing: Callable[[Standing], None]) -> None:
        """Gather what is missing of the meters, and keep it in the cache."""
        self.meters.incident(Effort(precision, METER_SECONDS, on_standing))

    def read(self) -> Batches | None:
        """Return the meters as they are in the cache, None before all have something."""
        if self._kept.get("stamp") == self._stamp():
            kept: Batches = self._kept["gathered"]
            return kept
        before = self._stamp()
        # Any precision will do, so nothing is traced here: the worker does that.
        gathered = self.meters.incident(Effort(np.inf))
        if not (gathered.paths > 0).all():
            return None
        # To read a file marks it as used; it is another one where the worker wrote meanwhile.
        after = self._stamp()
        if [each[:2] for each in before] == [each[:2] for each in after]:
            self._kept.update(stamp=after, gathered=gathered)
        return gathered

    def _stamp(self) -> list[tuple[int, ...]]:
        """Return what tells each meter's file from one written later, () where there is none."""
        names = IncidentMeters(self.meters, self.job.stage.probes).files
        found = []
        for name in names:
            try:
                stat = (self.meters.folder / f"{name}.npz").stat()
            except OSError:
                found.append(())
            else:
                found.append((stat.st_ino, stat.st_size, stat.st_mtime_ns))
        return found


def walk_of(desk: Desk, option: str, figure: str = "", moves: str = "") -> PageWalk:
    """Return the walk of a figure of an option, of the first that has one for ''.

    Raises
    ------
    RequestError
        There is no such figure, or it has no way.
    """
    names = walkers(desk.scene(option, moves))
    if not names:
        raise RequestError("No figure of this option has marks to walk along.", NO_MARKS)
    name = select_one(figure, names, "figure") if figure else names[0]

    def make() -> PageWalk:
        way = way_of(desk.scene(option, moves), name)
        return PageWalk(way, StageJob(way.stage, desk.request.request.meter_order()))

    return desk.made(("walk", option, moves, name), make)


def walk_values(desk: Desk, query: Mapping[str, str]) -> dict[str, Any]:
    """Return a figure's walk: its strip as `walk_words.record` has it, and what each lamp gives along it.

    `left` and `right` are the light at both cheeks, lamp by lamp at full level in the colour of its level
    [lx], so that the page can draw the strip of any levels by itself; `strip` is None before it is metered.
    """
    request = lit(desk, query)
    names = walkers(request.scene)
    if not names and not query.get("figure"):
        return {"figures": [], "figure": "", "strip": None, "how": NO_MARKS}
    walk = walk_of(desk, request.option, query.get("figure", ""), request.moves)
    head = {"figures": names, "figure": walk.way.figure, "notes": list(walk.way.notes), "strip": None}
    gathered = walk.read()
    return head if gathered is None else head | _strip(walk, gathered, request, desk, query)


def _strip(walk: PageWalk, gathered: Batches, request: Lit, desk: Desk,
           query: Mapping[str, str]) -> dict[str, Any]:
    way, camera = walk.way, desk.camera(request.option, query.get("camera", ""), request.moves).name
    changed = next(each for each in request.changed.cameras if each.name == camera)
    settings = settings_of(staged_camera(request.stage, changed))
    strip = strip_of(way.figure, way.points, gathered, request.lamps(), settings,
                     colours=stage_colours(way.stage), places=lamp_places(way.stage))
    lamps = [request.at_full(name, fading=True) for name in gathered.lights]
    weights = lamps_band_xyz(lamps, gathered.sums.shape[-1])[..., 1]
    light = np.einsum("mlpb,lb->ml", gathered.means.mean(axis=1), weights)
    at = {name: number for number, name in enumerate(gathered.names)}
    sides = {side: figures([light[at[point.meters[k]]] for point in way.points])
             for k, side in enumerate(("left", "right"))}
    return {"strip": record(strip), "lamps": list(gathered.lights), **sides}
