"""Run meters to a precision: from the cache where they are there, else by going on with them.

Each meter is kept in a file of its own under a fingerprint of its place and of the ways of the
light, so a changed level, colour or camera setting costs nothing, and a new meter, a finer
precision or an interrupted run costs only what is missing.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from previz import __version__
from previz.engine.gather import Gather, Standing, luminous_weights, standing
from previz.engine.probe import ProbeJob
from previz.engine.render import luminance_weights
from previz.frames import Probes
from previz.frames.batches import Batches, read_meter, write_meter
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.physics.bands import band_edges
from previz.stage.fingerprint import frame_hash, probe_hash
from previz.stage.records import Camera

SAVE_EVERY = 10.0
"""Seconds after which what is gathered so far is saved. [s]"""

LEAST_SHARE = 0.02
"""Things smaller than this share of the picture are metered only if they are asked for. [1]"""

FACE_RADIUS = 0.12
"""The face of a figure is its skin this near to its middle. [m]"""

FACE = ": face"
"""What follows a figure's name in the name of a spot reading of its face."""


@dataclass(frozen=True)
class Effort:
    """How long meters are run.

    Parameters
    ----------
    precision : float
        Relative standard error to reach. [1]
    seconds : float
        Stop after about so long without it. [s]
    tell : function or None
        Called with a `Standing` after each round.
    """

    precision: float
    seconds: float = np.inf
    tell: Callable[[Standing], None] | None = None


@dataclass(frozen=True)
class Aim:
    """A spot meter: one camera pointed at one thing.

    Parameters
    ----------
    camera : Camera
    name : str
        What is metered.
    share : float
        Share of the camera's picture that it takes. [1]
    """

    camera: Camera
    name: str
    share: float


class StageMeters:
    """The meters of one stage.

    Parameters
    ----------
    job : job.StageJob
        Gives the stage, its fingerprint, the engine's order and, when it is needed, the device.
    """

    def __init__(self, job):
        self.job, self.stage, self.order = job, job.stage, job.order
        self.folder = Path(job.order.cache) / "meters"
        self.weights = luminous_weights(self.stage.lamps, self.order.bands)
        self.reached = True
        self._views = {}

    def _settings(self) -> tuple:
        sampling = self.order.sampling
        return (self.order.bands, sampling.seed, sampling.max_depth, sampling.roulette_depth,
                __version__)

    def _limits(self) -> tuple[int, int, int]:
        sampling = self.order.sampling
        return sampling.seed, sampling.max_depth, sampling.roulette_depth

    def incident(self, effort: Effort, names=None) -> Batches:
        """Return the stage's incident meters, or some of them.

        Parameters
        ----------
        effort : Effort
            How precise, and how long at most.
        names : collection of str, optional
            Only these.
        """
        wanted = [p for p in self.stage.probes if names is None or p.name in names]
        # The name of a meter changes nothing that arrives there.
        files = [probe_hash(self.job.paths, [replace(p, name="")], *self._settings())
                 for p in wanted]
        return self._run([p.name for p in wanted], files, effort, lambda: ProbeJob(
            self.job.buffers, self.stage, *self._limits(), probes=wanted))

    def probes(self, effort: Effort, names=None) -> Probes:
        """Return incident meters as the record that readings take."""
        bands = self.order.bands
        return self.incident(effort, names).probes(
            luminance_weights(bands), band_edges(bands),
            probe_hash(self.job.paths, self.stage.probes, *self._settings()), __version__)

    def spots(self, aims, effort: Effort) -> Batches:
        """Return spot meters, in the order of the aims, each named 'thing, camera'.

        Parameters
        ----------
        aims : sequence of Aim
            As `aims` gives them.
        effort : Effort
            How precise, and how long at most.
        """
        aims = list(aims)
        files = [self._camera_hash(aim.camera, aim.name) for aim in aims]

        def job():
            from previz.engine.spot import SpotJob

            found = [(aim.camera, self._view(aim.camera)) for aim in aims]
            numbers = [[s.name for s in view.sights].index(aim.name)
                       for aim, (_, view) in zip(aims, found, strict=True)]
            return SpotJob(self.job.buffers, self.stage, [
                (*pair, number) for pair, number in zip(found, numbers, strict=True)],
                *self._limits())

        names = [f"{aim.name}, {aim.camera.name}" for aim in aims]
        return self._run(names, files, effort, job)

    def aims(self, camera: Camera, names=()) -> list[Aim]:
        """Return what a camera sees, faces first and then by size.

        Parameters
        ----------
        camera : Camera
            The one that looks.
        names : collection of str
            Only these; without any, whatever takes `LEAST_SHARE` of the picture, and every face.
        """
        shares = self._shares(camera)
        faces = [name for name in shares if name in self._faces()]
        order = faces + sorted((n for n in shares if n not in faces), key=lambda n: -shares[n])
        if names:
            return [Aim(camera, n, shares[n]) for n in order if n in names and shares[n] > 0]
        return [Aim(camera, n, shares[n]) for n in order
                if shares[n] >= LEAST_SHARE or (n in faces and shares[n] > 0)]

    def spot_names(self) -> list[str]:
        """Return everything that a spot meter can be pointed at in this stage."""
        return [*self._faces(), *self._things()]

    def _things(self) -> list[str]:
        return list(dict.fromkeys([m.name for m in self.stage.meshes]
                                  + [e.name for e in self.stage.emitters]))

    def _faces(self) -> dict[str, tuple[str, str, np.ndarray]]:
        """Return spot name -> (figure, its skin's surface, middle of its face)."""
        faces = {}
        for mesh in self.stage.meshes:
            if mesh.role == "figure" and mesh.surface.startswith("skin"):
                centre = self.stage.places.get(f"{mesh.name}.face")
                if centre is not None:
                    faces[mesh.name + FACE] = (mesh.name, mesh.surface, np.asarray(centre, float))
        return faces

    def _view(self, camera: Camera):
        """Return what a camera sees, looked for once."""
        key = self._camera_hash(camera)
        if key not in self._views:
            buffers = self.job.buffers
            from previz.engine.spot import Sight, View

            sights = [Sight(name, figure, surface, centre, FACE_RADIUS)
                      for name, (figure, surface, centre) in self._faces().items()]
            sights += [Sight(name, name) for name in buffers.geometry.names]
            self._views[key] = View(buffers, self.stage.surfaces, camera, sights)
        return self._views[key]

    def _camera_hash(self, camera: Camera, *more) -> str:
        # Spot meters look from the middle of the lens, so neither its opening nor its focus counts.
        bare = replace(camera, lens_radius=0.0, focus=1.0)
        return frame_hash(self.job.paths, bare, *self._settings(), *more)

    def _shares(self, camera: Camera) -> dict[str, float]:
        path = self.folder / f"{self._camera_hash(camera)}.json"
        try:
            return read_sealed(path, "previz_view")["shares"]
        except FramesError:
            pass
        view = self._view(camera)
        shares = {sight.name: float(share)
                  for sight, share in zip(view.sights, view.share, strict=True)}
        write_sealed(path, {"previz_view": 1, "shares": shares})
        return shares

    def _run(self, names, files, effort: Effort, make: Callable[[], Gather]) -> Batches:
        lights = [lamp.name for lamp in self.stage.lamps]
        batches = Batches.empty(names, lights, self.order.bands)
        paths = [self.folder / f"{file}.npz" for file in files]
        for index, path in enumerate(paths):
            read_meter(path, batches, index)
        if not names or np.all(batches.relative_error(self.weights) <= effort.precision):
            return batches
        job = make()
        job.batches = batches
        self._gather(job, paths, effort)
        return batches

    def _gather(self, job: Gather, paths, effort: Effort) -> None:
        batches = job.batches
        saved, last = batches.paths.copy(), time.monotonic()

        def save():
            nonlocal last
            for index in np.flatnonzero(batches.paths != saved):
                write_meter(paths[index], batches, index)
            saved[:] = batches.paths
            last = time.monotonic()

        def tell(state: Standing):
            if effort.tell is not None:
                effort.tell(state)
            if time.monotonic() - last > SAVE_EVERY:
                save()

        if effort.tell is not None:
            effort.tell(standing(batches, self.weights, effort.precision))
        try:
            reached = job.run(effort.precision, tell=tell, seconds=effort.seconds)
        finally:
            save()
        self.reached &= reached
