"""What the plan has where readings were taken: meters of the stage, hour by hour and wall by wall."""

from __future__ import annotations

import datetime
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from previz.engine.gather import Standing
from previz.errors import RequestError
from previz.frames.batches import Batches
from previz.levels.response import Response, response
from previz.physics.light import LampLight
from previz.physics.materials import MATERIALS
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.room import WALLS, RoomSurfaces
from previz.scene.scene import Scene
from previz.scene.surface import Surface
from previz.stage.build import build_stage
from previz.stage.records import Stage
from previz.stage.surfaces import luminance
from previz.studies.changes import Changes, LampChange, changed_scene, lamp_of
from previz.studies.readings.places import DAYLIGHT, SHADOW, Taken
from previz.studies.times import lit_at

TRIED = (0.6, 1.0, 1.5)
"""What the walls' reflectance is taken times to see what it does. [1]"""

MOST_REFLECTANCE = 0.92
"""No wall sends back more. [1]  Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Planned:
    """What each lamp gives at each reading by the plan, as if all were on.

    Parameters
    ----------
    lamps : tuple of str
    light : float array, shape (walls, reading, lamp)
        At the level it had at that reading, as planned where it was off. [lx or cd/m²]
    on : bool array, shape (reading, lamp)
        Whether it was.
    xyz : float array, shape (reading, lamp, 3)
        The same in colour, with the walls as planned. [lx or cd/m²]
    error : float array, shape (reading,)
        Relative standard error of what the lamps that were on give. [1]
    walls : float array, shape (walls,)
        What the walls' reflectance was taken times. [1]
    reflectance : float
        Of the walls as planned; 0 without any. [1]
    meters : tuple of str
        Incident meters that are there.
    alone : float array, shape (meter, lamp)
        What each lamp gives at them as planned. [lx]
    """

    lamps: tuple[str, ...]
    light: np.ndarray
    on: np.ndarray
    xyz: np.ndarray
    error: np.ndarray
    walls: np.ndarray
    reflectance: float
    meters: tuple[str, ...]
    alone: np.ndarray


def wall_reflectance(surfaces: RoomSurfaces) -> float | None:
    """Return the reflectance of the walls that have no surface of their own; None for a measured one. [1]"""
    walls = surfaces.walls
    if walls.file is not None or walls.texture is not None:
        return None
    if walls.reflectance is not None:
        return walls.reflectance
    return luminance(np.asarray(MATERIALS[walls.name].reflectance, float)) if walls.name else None


def with_walls(scene: Scene, factor: float) -> Scene:
    """Return a scene whose walls send back so many times as much; each wall its own surface."""
    if scene.room is None or factor == 1.0:
        return scene
    surfaces = scene.room.surfaces

    def changed(surface: Surface) -> Surface:
        own = wall_reflectance(replace(surfaces, walls=surface))
        return surface if own is None else replace(
            surface, reflectance=float(min(round(own * factor, 4), MOST_REFLECTANCE)))

    made: dict[str, Any] = {"walls": changed(surfaces.walls)}
    for name in WALLS:
        surface = getattr(surfaces, name, None) if name != "ceiling" else None
        if surface is not None:
            made[name] = changed(surface)
    return replace(scene, room=replace(scene.room, surfaces=replace(surfaces, **made)))


def factors_for(scene: Scene) -> tuple[np.ndarray, float]:
    """Return what the walls' reflectance can be taken times, and the reflectance; 1 alone where it cannot."""
    own = None if scene.room is None else wall_reflectance(scene.room.surfaces)
    if own is None or own <= 0.01:
        return np.ones(1), 0.0
    most = MOST_REFLECTANCE / own
    if most < 1.05:
        # Already as light as walls are: they can only be darker.
        return np.array([0.5, 0.72, 1.0]), own
    return np.array([TRIED[0], 1.0, min(TRIED[2], most)]), own


class Metering:
    """Runs the meters that readings need.

    Parameters
    ----------
    scene : Scene
    request : Request
    progress : Progress
    seconds : float
        In all, for about so long at most. [s]
    """

    def __init__(self, scene: Scene, request: Request, progress: Progress, seconds: float):
        self.scene, self.request, self.progress = scene, request, progress
        self.until = time.monotonic() + seconds
        self.stages: dict[tuple[datetime.time | None, float], Stage] = {}

    def stage(self, hour: datetime.time | None = None, walls: float = 1.0) -> Stage:
        """Return the scene at an hour of its day, with other walls."""
        if (hour, walls) not in self.stages:
            self.stages[hour, walls] = build_stage(with_walls(self._at(hour), walls))
        return self.stages[hour, walls]

    def _at(self, hour: datetime.time | None) -> Scene:
        day = self.scene.daylight
        if hour is None or day is None or day.time is None or day.latitude is None or day.longitude is None:
            return self.scene
        moment = datetime.datetime.combine(day.time.date(), hour, day.time.tzinfo)
        return lit_at(self.scene, moment, day.latitude, day.longitude)

    @property
    def follows_hours(self) -> bool:
        """Whether the scene says where and when it is, so that the sun can be put where it stood."""
        day = self.scene.daylight
        return (day is not None and day.time is not None and day.latitude is not None
                and day.longitude is not None)

    def planned(self, taken: Sequence[Taken], walls: np.ndarray, reflectance: float) -> Planned:
        """Return what the plan has of readings.

        Raises
        ------
        RequestError
            At another hour the scene has other lamps: its sun is down, or its moon up.
        """
        hours = {each.written.hour if self.follows_hours else None for each in taken}
        lamps = tuple(lamp.name for lamp in self.stage().lamps)
        light = np.zeros((len(walls), len(taken), len(lamps)))
        xyz, error = np.zeros((len(taken), len(lamps), 3)), np.zeros(len(taken))
        on = np.array([[lamp in each.levels for lamp in lamps] for each in taken])
        alone, meters = np.zeros((0, len(lamps))), tuple[str, ...]()
        with self.progress.running(len(walls) * len(hours)):
            for number, factor in enumerate(walls):
                for hour in sorted(hours, key=lambda each: (each is not None, each)):
                    which = [i for i, each in enumerate(taken)
                             if (each.written.hour if self.follows_hours else None) == hour]
                    at = self._metered(hour, float(factor), [taken[i] for i in which])
                    if set(at.response.lamps) != set(lamps):
                        raise RequestError(f"At {hour:%H:%M} the scene has other lamps than as written: "
                                           f"{', '.join(at.response.lamps)}.",
                                           "Leave readings of that hour out, or write an option for it.")
                    order = [at.response.lamps.index(name) for name in lamps]
                    for row, i in enumerate(which):
                        batches = at.values(row)[:, order]
                        light[number, i] = np.maximum(batches[..., 1].mean(axis=0), 0.0)
                        if factor == 1.0:
                            xyz[i] = batches.mean(axis=0)
                            error[i] = relative(batches[:, on[i], 1].sum(axis=1))
                    if factor == 1.0 and (hour is None or not len(meters)):
                        meters, alone = at.alone(lamps)
        return Planned(lamps, light, on, xyz, error, walls, reflectance, meters, alone)

    def _metered(self, hour: datetime.time | None, factor: float, taken: Sequence[Taken]) -> _Metered:
        stage = self.stage(hour, factor)
        job = StageJob(stage, self.request.meter_order())
        run, gathered = StageMeters(job), list[Batches]()
        label = "meters" + (f" at {hour:%H:%M}" if hour else "") + (
            f", walls x {factor:.2f}" if factor != 1.0 else "")
        # With the walls as planned all meters are run: they say where one more reading would tell most.
        names = None if factor == 1.0 else {meter for each in taken for meter in each.meters}
        try:
            if names is None or names:
                gathered.append(run.incident(self._effort(label), names))
            aims = []
            for camera in stage.cameras:
                things = {each.thing for each in taken if each.spot and each.camera == camera.name}
                if things:
                    aims += run.aims(camera, things) + run.patch_aims(camera, things)
            if aims:
                gathered.append(run.spots(aims, self._effort(label.replace("meters", "spot meters"))))
        finally:
            job.close()
        self.progress.add(1.0, label)
        found = response(*gathered)
        missing = [each for each in taken if each.spot and f"{each.thing}, {each.camera}" not in found.meters]
        if missing:
            raise RequestError(f"Camera {missing[0].camera} does not see '{missing[0].thing}'.",
                               "Name the camera of that spot reading in a column 'camera'.")
        return _Metered(self._at(hour), stage, found, taken)

    def _effort(self, label: str) -> Effort:
        def report(state: Standing) -> None:
            self.progress.show(f"{label}: {state.unfinished} not yet at {100 * self.request.precision:g} %")

        return Effort(self.request.precision, max(self.until - time.monotonic(), 0.0), report)


class _Metered:
    """The meters of one stage."""

    def __init__(self, scene: Scene, stage: Stage, found: Response, taken: Sequence[Taken]):
        self.scene, self.stage, self.response, self.taken = scene, stage, found, taken
        self._lights: dict[tuple[str, float | None], LampLight] = {}

    def light(self, lamp: str, level: float | None) -> LampLight:
        """Return a lamp that is on, at a level or as planned."""
        if (lamp, level) not in self._lights:
            own = next(each for each in self.stage.lamps if each.name == lamp)
            if lamp in DAYLIGHT:
                made = own
            else:
                change = LampChange(on=True, dimmer=level if level is not None else own.level or 1.0)
                changed = changed_scene(self.scene, self.stage, Changes({lamp: change}))
                made = lamp_of(changed, self.stage, lamp)
            self._lights[lamp, level] = made
        return self._lights[lamp, level]

    def values(self, row: int) -> np.ndarray:
        """Return X, Y, Z of each lamp at a reading, batch by batch. Shape (batch, lamp, 3)"""
        each = self.taken[row]
        lights = [self.light(name, each.levels.get(name)) for name in self.response.lamps]
        if each.spot:
            return self._of(f"{each.thing}, {each.camera}", lights)
        at = [self._of(name, lights) for name in each.meters]
        if len(at) == 1:
            return at[0]
        # Which side is lit is a matter of the plan with everything on.
        whole = [self._of(name, list(self.stage.lamps))[..., 1].mean(axis=0).sum() for name in each.meters]
        brighter = int(np.argmax(whole))
        return at[1 - brighter if each.side == SHADOW else brighter]

    def _of(self, meter: str, lights: Sequence[LampLight]) -> np.ndarray:
        number = self.response.meters.index(meter)
        one = Response((meter,), self.response.lamps, self.response.light[number:number + 1])
        return one.xyz(lights)[0].sum(axis=2)

    def alone(self, lamps: Sequence[str]) -> tuple[tuple[str, ...], np.ndarray]:
        """Return the incident meters, and what each lamp gives at them as planned. Shape (meter, lamp)"""
        probes = {probe.name for probe in self.stage.probes}
        meters = tuple(name for name in self.response.meters if name in probes)
        lights = [self.light(name, None) for name in self.response.lamps]
        order = [self.response.lamps.index(name) for name in lamps]
        values = [self._of(name, lights)[..., 1].mean(axis=0)[order] for name in meters]
        return meters, np.maximum(np.array(values).reshape(-1, len(lamps)), 0.0)


def relative(batches: np.ndarray) -> float:
    """Return the relative standard error of a mean over batches; 0 without light. [1]"""
    mean = float(batches.mean())
    return float(batches.std(ddof=1) / np.sqrt(len(batches))) / mean if mean > 0 else 0.0

