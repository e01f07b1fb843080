"""The meters that wants need, from the cache or run, as what each lamp gives at each of them."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from previz.engine.gather import Standing
from previz.errors import RequestError
from previz.exposure.comparing.measures import BEHIND
from previz.exposure.comparing.views import pinhole_rays
from previz.frames.batches import Batches, signs
from previz.frames.records import Frames, Short
from previz.levels.response import Response, response
from previz.physics.light import LampLight, lamps_band_xyz
from previz.physics.rays import rectangle_reach
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import Aim
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.sight.subjects import projected, subject_of
from previz.stage.records import Camera, Stage
from previz.studies.balance.subjects import Needed, background_of
from previz.studies.measures import foreground_of
from previz.studies.selection import select

BEYOND = 0.05
"""What is seen through an opening begins so far behind it: its bars do not count. [m]"""

SECONDS = 120.0
"""Meters of an option are not run for longer. [s]"""


class Meters:
    """The meters of one option, each worked out once.

    Parameters
    ----------
    job : StageJob
        Of a stage that has meters at the marks too, by `Request.meter_order`.
    """

    def __init__(self, job: StageJob, request: Request, progress: Progress):
        self.job, self.request, self.progress = job, request, progress
        self.run = StageMeters(job)
        self.short: tuple[Short, ...] = ()

    def response(self, needed: Needed, frames: Mapping[str, Frames]) -> Response:
        """Return what each lamp gives at each meter; `frames` are those of cameras whose views are read.

        Raises
        ------
        RequestError
            A camera does not see a thing, or there is no such thing.
        """
        until = time.monotonic() + SECONDS
        gathered: list[Batches] = []
        aims = [self._aim(camera, thing) for camera, thing in needed.spots]
        if needed.incident:
            names = list(needed.incident)
            gathered.append(self.run.incident(self._effort("incident meters", until), names))
        if aims:
            gathered.append(self.run.spots(aims, self._effort("spot meters", until)))
        precision = self.request.precision
        self.short = tuple(each for some in gathered for each in self.run.short(some, precision))
        found = [] if not gathered else [response(*gathered)]
        for name, opening in needed.views:
            camera = self._camera(name)
            found.append(through(self.job.stage, camera, frames[name], opening) if opening else
                         behind(self.job.stage, camera, frames[name]))
        return Response(tuple(name for each in found for name in each.meters), found[0].lamps,
                        np.concatenate([each.light for each in found]))

    def _camera(self, name: str) -> Camera:
        return next(each for each in self.job.stage.cameras if each.name == name)

    def _aim(self, camera: str, thing: str) -> Aim:
        """Return the spot meter of a camera on a thing or patch."""
        select((thing,), self.run.spot_names(), "thing")
        self.progress.show("looking through the cameras")
        seen = self._camera(camera)
        found = self.run.patch_aims(seen, (thing,)) or self.run.aims(seen, (thing,))
        if not found:
            others = [each.name for each in self.job.stage.cameras if self.run.aims(each, (thing,))]
            raise RequestError(f"Camera '{camera}' does not see '{thing}'.", (
                f"Write 'camera: {others[0]}' in the want, which does." if others else
                "No camera does: drop the want."))
        return replace(found[0], name=thing)

    def _effort(self, what: str, until: float) -> Effort:
        """Return the effort of some meters, which are one unit of the progress."""
        done: float | None = None
        precision, progress = self.request.precision, self.progress

        def report(state: Standing) -> None:
            nonlocal done
            if done is None:
                # What was there before says nothing about the pace.
                progress.skip(state.share)
                progress.show(f"{what}: starting the engine")
            else:
                progress.add(state.share - done, f"{what}: {state.unfinished} not yet at "
                             f"{100 * precision:g} %, worst {100 * state.worst:.1f} % ('{state.name}')")
            done = state.share

        return Effort(precision, max(until - time.monotonic(), 0.0), report)


def behind(stage: Stage, camera: Camera, frames: Frames) -> Response:
    """Return the background of a camera's picture as a meter: the mean of all behind its subject.

    People, lamps and boards are left out, as in `exposure.comparing.measures.background`.

    Raises
    ------
    RequestError
        There is nothing behind the subject.
    """
    subject = subject_of(stage, camera, frames)
    near = -np.inf if subject is None else projected(camera, stage.places[f"{subject}.face"])[2]
    things, foreground = np.asarray(frames.names_index), foreground_of(stage)
    in_front = np.isin(things, [i for i, name in enumerate(frames.names) if name in foreground])
    mask = (np.asarray(frames.depth) > near + BEHIND) & ~in_front
    if not mask.any():
        raise RequestError(f"There is nothing behind the subject of camera '{camera.name}'.",
                           "Want a thing's level in place of the background's.")
    return _mean(stage, frames, mask, background_of(camera.name))


def through(stage: Stage, camera: Camera, frames: Frames, opening: str) -> Response:
    """Return what a camera sees through an opening as a meter: a window's view, without its bars.

    Raises
    ------
    RequestError
        The camera does not see through it.
    """
    hole = next(each for each in stage.guides if each.opening and each.name == opening)
    axes = np.asarray(camera.world_from_camera, float)
    rays, _ = pinhole_rays(*frames.shape, axes, camera.tan_half)
    lines = rays.reshape(-1, 3)
    reach, inside = rectangle_reach(camera.position, lines, hole.centre, hole.half_u, hole.half_v)
    away = np.where(inside, reach, np.inf) * (lines @ axes[:, 2])
    mask = inside.reshape(frames.shape) & (np.asarray(frames.depth) > away.reshape(frames.shape) + BEYOND)
    if not mask.any():
        raise RequestError(f"Camera '{camera.name}' does not see through '{opening}'.",
                           "Write another 'camera' in the want, or drop it.")
    return _mean(stage, frames, mask, f"{opening}, {camera.name}")


def _mean(stage: Stage, frames: Frames, mask: np.ndarray, name: str) -> Response:
    """Return the mean of some pixels as a meter.

    Light straight from a lamp and by way of anything else are not told apart. Its batches lie about the
    mean by the standard error that the picture's noise leaves it.
    """
    mean = np.array([np.asarray(slices)[:, mask].mean(axis=1, dtype=float) for slices in frames.slices])
    variance = np.array([np.nan_to_num(plane[mask].astype(float), posinf=0.0).sum()
                         for plane in np.asarray(frames.variance)]) / mask.sum() ** 2
    # The variance is of the mean over the bands that the eye weighs.
    eye = lamps_band_xyz([_even(stage)], mean.shape[1])[0, :, 1]
    seen = mean @ eye / eye.sum()
    relative = np.divide(np.sqrt(variance), seen, out=np.zeros_like(seen), where=seen > 0)
    order = [frames.lights.index(lamp.name) for lamp in stage.lamps]
    batches = 1 + signs(len(order)) * relative[order]
    light = np.zeros((1, len(batches), len(order), 2, mean.shape[1]))
    light[0, :, :, 1] = batches[:, :, None] * mean[order]
    return Response((name,), tuple(lamp.name for lamp in stage.lamps), light)


def _even(stage: Stage) -> LampLight:
    """Return a light of even power at all wavelengths."""
    lamp = stage.lamps[0]
    flat = np.full_like(lamp.spectrum, 1.0)
    return replace(lamp, output=1.0, level=1.0, on=True, spectrum=flat, gel=flat)


