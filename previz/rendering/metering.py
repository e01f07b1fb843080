"""Run meters to a precision: from the cache where they are there, else by going on with them.

Each meter is kept in a file of its own under a fingerprint of its place and of the light's
transport, so a changed level, colour or camera setting costs nothing, and a new meter, a finer
precision or an interrupted run costs only what is missing. Where some lamps stand otherwise, the
light of the others is used again as far as it may be (see `cache.meters`).
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.engine.gather import Standing, least_paths, luminous_weights, unfinished
from previz.engine.sights import PatchView, Sight
from previz.frames.batches import Batches
from previz.frames.layouts import marked
from previz.frames.records import Short
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.physics.light import LampLight
from previz.rendering.cache.meters import MeterCache
from previz.rendering.meter_kinds import Aim, IncidentMeters, SpotMeters, bare
from previz.rendering.meter_run import MeterRun
from previz.stage import heads
from previz.stage.fingerprint import frame_hash
from previz.stage.records import Camera
from previz.stage.views import patch_view

if TYPE_CHECKING:
    from previz.rendering.job import StageJob

LEAST_SHARE = 0.02
"""Things smaller than this share of the picture are metered only on request. [1]"""

FACE_RADIUS = 1.2 * heads.FACE_RADIUS
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
    on_standing : function or None
        Called with a `Standing` after each round.
    """

    precision: float
    seconds: float = np.inf
    on_standing: Callable[[Standing], None] | None = None


class StageMeters:
    """The meters of the stage of a job, which gives the engine's order and, when needed, the device."""

    def __init__(self, job: StageJob):
        self.job, self.stage, self.order = job, job.stage, job.order
        self.folder = Path(job.order.cache) / "meters"
        self.weights = luminous_weights(self.stage.lamps, self.order.bands)
        self.least = least_paths(self.stage)
        self.reached = True
        self.counts: dict[str, list[int]] = {}
        """Lamp -> meters whose light of it was cached, reused with others changed, and run."""
        self.change = 0.0
        """Largest change by bodies of other lamps that was put up with. [1]"""
        self.cache = MeterCache(job)
        self.pairs: dict[tuple[str, tuple[str, ...]], list[Any]] = {}
        """Stages that were compared, on the device."""
        self._views: dict[str, Any] = {}

    def incident(self, effort: Effort, names: Collection[str] | None = None) -> Batches:
        """Return the stage's incident meters, or only some of them by name."""
        probes = [p for p in self.stage.probes if names is None or p.name in names]
        return MeterRun(self, IncidentMeters(self, probes), effort).run()

    def short(self, batches: Batches, precision: float,
              lamps: Sequence[LampLight] | None = None) -> tuple[Short, ...]:
        """Return those of some meters, incident or spots, that have not come to a precision. [1]

        The lamps may be at other levels than the stage has them.
        """
        weights = self.weights if lamps is None else luminous_weights(lamps, self.order.bands)
        undone = self.unfinished(batches, precision, weights)
        error, few = batches.relative_error(weights), batches.on_few(weights, precision)
        return tuple(Short(batches.names[i], float(error[i]), bool(few[i]))
                     for i in np.flatnonzero(undone))

    def unfinished(self, batches: Batches, precision: float,
                   weights: np.ndarray | None = None) -> np.ndarray:
        """Return which meters are not done. Shape (meter,)"""
        if np.isinf(precision):
            return np.zeros(len(batches.names), bool)
        weights = self.weights if weights is None else weights
        return unfinished(batches, weights, precision, least=self.least)

    def spots(self, aims: Iterable[Aim], effort: Effort) -> Batches:
        """Return spot meters, in the order of the aims, each named 'thing, camera'."""
        return MeterRun(self, SpotMeters(self, list(aims)), effort).run()

    def sighted(self, aims: Iterable[Aim]) -> list[tuple[Camera, Any, int]]:
        """Return (camera, its view, number of the sight in it) of each aim."""
        found = []
        for aim in aims:
            if aim.patch is not None:
                found.append((aim.camera, self._patch_view(aim), 0))
                continue
            view = self._view(aim.camera)
            found.append((aim.camera, view, [s.name for s in view.sights].index(aim.name)))
        return found

    def aims(self, camera: Camera, names: Collection[str] = ()) -> list[Aim]:
        """Return what a camera sees of the named things, faces first and then by size.

        Without names, whatever takes `LEAST_SHARE` of the picture, and every face.
        """
        shares = self._shares(camera)
        faces = [name for name in shares if name in self._faces()]
        order = faces + sorted((n for n in shares if n not in faces), key=lambda n: -shares[n])
        if names:
            return [Aim(camera, n, shares[n]) for n in order if n in names and shares[n] > 0]
        return [Aim(camera, n, shares[n]) for n in order
                if shares[n] >= LEAST_SHARE or (n in faces and shares[n] > 0)]

    def patch_aims(self, camera: Camera, names: Collection[str] = ()) -> list[Aim]:
        """Return the patches of a camera's picture, or of the sky from it, that the stage names.

        Only those of some names, where there are any.
        """
        found = []
        for patch in self.stage.patches:
            if patch.camera in ("", camera.name) and (not names or patch.name in names):
                view, place = patch_view(camera, patch)
                area = np.pi if place[4] else 4.0
                share = 0.0 if patch.towards is not None else float(area * place[2] * place[3])
                found.append(Aim(view, patch.name, share, place))
        return found

    def spot_names(self) -> list[str]:
        """Return everything that a spot meter can be pointed at in this stage."""
        return [*self._faces(), *self._things(), *(patch.name for patch in self.stage.patches)]

    def _patch_view(self, aim: Aim) -> Any:
        key = self.camera_hash(aim.camera, *aim.seen)
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

    def _view(self, camera: Camera) -> Any:
        """Return what a camera sees, traced once."""
        key = self.camera_hash(camera)
        if key not in self._views:
            buffers = self.job.buffers
            from previz.engine.spot import View

            sights = [Sight(name, figure, surface, centre, FACE_RADIUS)
                      for name, (figure, surface, centre) in self._faces().items()]
            sights += [Sight(name, name) for name in buffers.geometry.names]
            self._views[key] = View(buffers, self.stage.surfaces, camera, sights)
        return self._views[key]

    def camera_hash(self, camera: Camera, *more: Any) -> str:
        """Return the fingerprint of what a spot meter sees through a camera."""
        return frame_hash(self.job.paths, bare(camera), *self.job.settings, *more)

    def _shares(self, camera: Camera) -> dict[str, float]:
        path = self.folder / f"{self.camera_hash(camera)}.json"
        with contextlib.suppress(FramesError, KeyError):
            kept: dict[str, float] = read_sealed(path, "previz_view", path.stem)["shares"]
            return kept
        view = self._view(camera)
        shares = {sight.name: float(share)
                  for sight, share in zip(view.sights, view.share, strict=True)}
        write_sealed(path, {**marked("previz_view"), "shares": shares}, path.stem)
        return shares

    def explained(self) -> list[str]:
        """Return what was used again of each lamp and what was run, a line a lamp."""
        lines = []
        for lamp, (cached, reused, run) in self.counts.items():
            every, parts = cached + reused + run, []
            if cached:
                parts.append(f"used again at {cached} of {every} meters; nothing that it depends on "
                             "has changed")
            if reused:
                parts.append(f"used again at {reused} of {every} meters; the bodies of lamps that "
                             f"stood otherwise change it there by {self.change:.1%} at most")
            if run:
                parts.append(f"run at {run} of {every} meters")
            lines.append(f"{lamp}: {'. '.join(parts)}.")
        return lines

    def count(self, lamps: Iterable[str], cached: int = 0, reused: int = 0, run: int = 0) -> None:
        """Count meters whose light of some lamps was cached, used with others changed, or run."""
        for lamp in lamps:
            counts = self.counts.setdefault(lamp, [0, 0, 0])
            for k, more in enumerate((cached, reused, run)):
                counts[k] += more
