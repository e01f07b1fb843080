"""Run meters to a precision: from the cache where they are there, else by going on with them.

Each meter is kept in a file of its own under a fingerprint of its place and of the ways of the
light, so a changed level, colour or camera setting costs nothing, and a new meter, a finer
precision or an interrupted run costs only what is missing. Where some lamps stand otherwise, the
light of the others is used again as far as it may be (see `reuse.meters`).
"""

from __future__ import annotations

import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from previz import __version__
from previz.engine.gather import Gather, Standing, least_paths, luminous_weights, unfinished
from previz.engine.sights import PatchView, Sight
from previz.frames.batches import Batches, read_meter, write_meter
from previz.frames.records import Short
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.meters import CHANGE, MeterShelf, put, put_alone
from previz.rendering.cache.store import mark_used
from previz.rendering.meter_kinds import Aim, Meters, bare, probe_job, probe_starts, spot_job, spot_starts
from previz.stage.fingerprint import frame_hash, probe_hash, seen_by
from previz.stage.heads import HEAD_RADIUS
from previz.stage.records import Camera
from previz.stage.views import patch_view

SAVE_EVERY = 10.0
"""Seconds after which what is gathered so far is saved. [s]"""

LEAST_SHARE = 0.02
"""Things smaller than this share of the picture are metered only if they are asked for. [1]"""

FACE_RADIUS = 1.2 * HEAD_RADIUS
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
        self.least = least_paths(self.stage)
        self.reached = True
        self.told: dict[str, list[int]] = {}
        """Lamp -> meters whose light of it is used as it was, beside others, and run anew."""
        self.change = 0.0
        """Largest change by bodies of other lamps that was put up with. [1]"""
        self.shelf = MeterShelf(job, self._settings())
        self._views, self._pairs = {}, {}

    def _settings(self) -> tuple:
        sampling = self.order.sampling
        return (self.order.bands, sampling.seed, sampling.max_depth, sampling.roulette_depth,
                __version__)

    def limits(self) -> tuple[int, int, int]:
        """Return seed, most surfaces on a path, and surfaces before paths may end by chance."""
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
        places = [replace(p, name="") for p in wanted]
        return self._run(Meters([p.name for p in wanted], files, places, partial(
            probe_job, self, wanted), partial(probe_starts, wanted)), effort)

    def short(self, batches: Batches, precision: float, lamps=None) -> tuple[Short, ...]:
        """Return the meters that have not come to a precision.

        Parameters
        ----------
        batches : Batches
            As `incident` or `spots` gives them.
        precision : float
            [1]
        lamps : sequence of LampLight, optional
            At other levels than the stage has them.
        """
        weights = self.weights if lamps is None else luminous_weights(lamps, self.order.bands)
        undone = self._unfinished(batches, precision, weights)
        error, few = batches.relative_error(weights), batches.on_few(weights, precision)
        return tuple(Short(batches.names[i], float(error[i]), bool(few[i]))
                     for i in np.flatnonzero(undone))

    def _unfinished(self, batches: Batches, precision: float, weights=None) -> np.ndarray:
        if np.isinf(precision):
            return np.zeros(len(batches.names), bool)
        weights = self.weights if weights is None else weights
        return unfinished(batches, weights, precision, least=self.least)

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
        files = [self._camera_hash(aim.camera, *aim.seen) for aim in aims]

        names = [f"{aim.name}, {aim.camera.name}" for aim in aims]
        places = [(seen_by(bare(aim.camera)), *aim.seen) for aim in aims]
        return self._run(Meters(names, files, places, partial(spot_job, self, aims),
                                 partial(spot_starts, self, aims)), effort)

    def sighted(self, aims) -> list[tuple]:
        """Return (camera, its view, number of the sight in it) of each aim."""
        found = []
        for aim in aims:
            if aim.patch is not None:
                found.append((aim.camera, self._patch_view(aim), 0))
                continue
            view = self._view(aim.camera)
            found.append((aim.camera, view, [s.name for s in view.sights].index(aim.name)))
        return found

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

    def patch_aims(self, camera: Camera, names=()) -> list[Aim]:
        """Return the patches of a camera's picture, or of the sky from it, that the stage names.

        Parameters
        ----------
        camera : Camera
            The one that looks.
        names : collection of str
            Only these; all without any.
        """
        found = []
        for patch in self.stage.patches:
            if patch.camera in ("", camera.name) and (not names or patch.name in names):
                looking, place = patch_view(camera, patch)
                area = np.pi if place[4] else 4.0
                share = 0.0 if patch.towards is not None else float(area * place[2] * place[3])
                found.append(Aim(looking, patch.name, share, place))
        return found

    def spot_names(self) -> list[str]:
        """Return everything that a spot meter can be pointed at in this stage."""
        return [*self._faces(), *self._things(), *(patch.name for patch in self.stage.patches)]

    def _patch_view(self, aim: Aim):
        key = self._camera_hash(aim.camera, *aim.seen)
        if key not in self._views:
            self._views[key] = PatchView(aim.camera, aim.name, aim.patch)
        return self._views[key]

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
            from previz.engine.spot import View

            sights = [Sight(name, figure, surface, centre, FACE_RADIUS)
                      for name, (figure, surface, centre) in self._faces().items()]
            sights += [Sight(name, name) for name in buffers.geometry.names]
            self._views[key] = View(buffers, self.stage.surfaces, camera, sights)
        return self._views[key]

    def _camera_hash(self, camera: Camera, *more) -> str:
        return frame_hash(self.job.paths, bare(camera), *self._settings(), *more)

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

    def _run(self, meters: Meters, effort: Effort) -> Batches:
        lights = [lamp.name for lamp in self.stage.lamps]
        batches = Batches.empty(meters.names, lights, self.order.bands)
        paths = [self.folder / f"{file}.npz" for file in meters.files]
        fresh, kept = [], [{} for _ in paths]
        for index, path in enumerate(paths):
            if self.order.exact and not self.shelf.as_it_stands(path):
                path.unlink(missing_ok=True)
            if read_meter(path, batches, index):
                mark_used(path)
            else:
                fresh.append(index)
        if not np.any(self._unfinished(batches, effort.precision)):
            self._count(lights, len(meters.names), 0)
            return batches
        end = time.monotonic() + effort.seconds
        self._count(lights, len(paths) - len(fresh), 0)
        left = (self._lamp_by_lamp(meters, batches, paths, fresh, kept, effort)
                if fresh and lights else [])
        rest = [i for i in range(len(paths)) if i not in left]
        some = batches.some(rest)
        if np.any(self._unfinished(some, effort.precision)):
            job = meters.job(self.job.buffers, self.stage, rest, 0)
            job.batches = some

            def write(number):
                batches.take(some, rest)
                self._write(meters, batches, paths, kept, rest[number])

            self._gather(job, replace(effort, seconds=max(0.0, end - time.monotonic())), write)
            batches.take(some, rest)
        return batches

    def explained(self) -> list[str]:
        """Return what was used again of each lamp and what was run, a line a lamp."""
        lines = []
        for lamp, (kept, beside, anew) in self.told.items():
            every, parts = kept + beside + anew, []
            if kept:
                parts.append(f"used again at {kept} of {every} meters; nothing that it depends on "
                             "has changed")
            if beside:
                parts.append(f"used again at {beside} of {every} meters; the bodies of lamps that "
                             f"stood otherwise change it there by {self.change:.1%} at most")
            if anew:
                parts.append(f"run at {anew} of {every} meters")
            lines.append(f"{lamp}: {'. '.join(parts)}.")
        return lines

    def _count(self, lamps, kept: int, anew: int, beside: int = 0) -> None:
        """Count meters whose light of some lamps was used as it was, beside others, or run."""
        for lamp in lamps:
            told = self.told.setdefault(lamp, [0, 0, 0])
            for k, more in enumerate((kept, beside, anew)):
                told[k] += more

    def _write(self, meters: Meters, batches: Batches, paths, kept, index: int) -> None:
        self.shelf.write(paths[index], meters.places[index], batches, index, kept[index])

    def _lamp_by_lamp(self, meters: Meters, batches: Batches, paths, fresh, kept, effort) -> list:
        """Take what is there of single lamps, and run the rest of them alone.

        Returns the meters that there was no time for to run the rest to the end.
        """
        lamps, end = batches.lights, time.monotonic() + effort.seconds

        def changes(key, old, new, differ, which):
            from previz.engine.influence import alike, meter_influence

            if key not in self._pairs:
                self._pairs[key] = alike(old, new, self.order.backend)
            return meter_influence(self._pairs[key], differ, meters.starts(
                [fresh[w] for w in which]), min(CHANGE, effort.precision / 2))

        found, change = self.shelf.beside([meters.places[i] for i in fresh], self.order.bands,
                                          effort.precision, changes)
        groups: dict[tuple, list[int]] = {}
        for index, lights in zip(fresh, found, strict=True):
            missing = tuple(lamp for lamp in lamps if lamp not in lights)
            # Where most lamps are missing, all are run: they share their paths.
            if len(missing) > len(lamps) / 2:
                self._count(lamps, 0, 1)
                continue
            kept[index] = lights
            put(batches, index, lights)
            groups.setdefault(missing, []).append(index)
            self._count(missing, 0, 1)
            for lamp, light in lights.items():
                exact = light.others == self.shelf.parts.other_bodies(lamp)
                self._count([lamp], int(exact), 0, int(not exact))
                self.change = max(self.change, 0.0 if exact else change)
        left = []
        for missing, which in groups.items():
            done = [True] * len(which)
            if missing:
                done = self._alone(meters, batches, paths, missing, which, kept, replace(
                    effort, seconds=max(0.0, end - time.monotonic())))
            for index, enough in zip(which, done, strict=True):
                if enough:
                    self._write(meters, batches, paths, kept, index)
                else:
                    left.append(index)
        return left

    def _alone(self, meters: Meters, batches: Batches, paths, missing, which, kept, effort):
        """Run some lamps alone at some meters; return which of these are done.

        Until a meter is done, what was gathered for it lies in a file of its own; then it is put
        to the rest.
        """
        stage, buffers = self.job.lit(missing)
        apart = zlib.crc32("\n".join(missing).encode()) << 32
        job = meters.job(buffers, stage, which, apart)
        own = job.batches
        job.others = batches.mixed(self.weights)[which]
        files = [paths[i].with_name(f"{paths[i].stem}-{apart >> 32:08x}.npz") for i in which]
        for index, file in enumerate(files):
            read_meter(file, own, index)

        def save(index):
            write_meter(files[index], own, index)

        self._gather(job, effort, save)
        done = ~job.unfinished(job.goals(effort.precision))
        for number, index in enumerate(which):
            put_alone(batches, index, own, number)
            if done[number]:
                files[number].unlink(missing_ok=True)
        return done

    def _gather(self, job: Gather, effort: Effort, write: Callable[[int], None]) -> None:
        batches = job.batches
        saved, last = batches.paths.copy(), time.monotonic()

        def save():
            nonlocal last
            for index in np.flatnonzero(batches.paths != saved):
                write(int(index))
            saved[:] = batches.paths
            last = time.monotonic()

        def tell(state: Standing):
            if effort.tell is not None:
                effort.tell(state)
            if time.monotonic() - last > SAVE_EVERY:
                save()

        if effort.tell is not None:
            effort.tell(job.standing(effort.precision))
        try:
            reached = job.run(effort.precision, report=tell, seconds=effort.seconds)
        finally:
            save()
        self.reached &= reached
