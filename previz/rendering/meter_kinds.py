"""The kinds of meters: where each one's paths start, for its readings and to compare two stages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.engine.gather import Gather
from previz.engine.probe import ProbeJob
from previz.stage.fingerprint import probe_hash, seen_by
from previz.stage.records import Camera, Probe, Stage

if TYPE_CHECKING:
    from previz.engine.upload import Buffers
    from previz.rendering.metering import StageMeters

Start = tuple[int, Camera | None, Callable[[int, int], Any]]
"""How many meters, the camera they see through, and (paths, turn) -> where paths start."""


@dataclass(frozen=True)
class Aim:
    """A spot meter: one camera pointed at one thing, which has a name.

    Parameters
    ----------
    share : float
        Share of the camera's picture that it takes. [1]
    patch : (float, float, float, float, bool) or None
        Place in the camera's picture, as `stage.views.patch_view` gives it; None for a thing.
    """

    camera: Camera
    name: str
    share: float
    patch: tuple[float, float, float, float, bool] | None = None

    @property
    def seen(self) -> tuple[Any, ...]:
        """What is metered, as fingerprints have it."""
        return (self.name,) if self.patch is None else ("patch", *self.patch)


def bare(camera: Camera) -> Camera:
    """Return a camera as a spot meter sees through it: from the middle of its lens."""
    # Neither its opening nor its focus counts.
    return replace(camera, lens_radius=0.0, focus=1.0)


class IncidentMeters:
    """Incident meters of a stage, ready to be run; `places` are as for `cache.meters.MeterCache.write`."""

    def __init__(self, owner: StageMeters, probes: Sequence[Probe]):
        self.owner, self.probes = owner, probes
        self.names = [probe.name for probe in probes]
        # The name of a meter changes nothing that arrives there.
        self.places: list[Any] = [replace(probe, name="") for probe in probes]
        self.files = [probe_hash(owner.job.paths, [place], *owner.job.settings) for place in self.places]

    def job(self, buffers: Buffers, stage: Stage, which: Sequence[int], seed_offset: int) -> Gather:
        """Return the gathering of some of them, with an offset to the seed."""
        sampling = self.owner.order.sampling
        return ProbeJob(buffers, stage, sampling.seed + seed_offset, sampling.limits,
                        [self.probes[i] for i in which])

    def starts(self, which: Sequence[int]) -> list[Start]:
        """Return the starts of some of them, in their order; see `influence.meter_influence`."""
        from previz.engine.starts import ProbeStart

        some = tuple(self.probes[i] for i in which)
        return [(len(some), None, lambda paths, turn: ProbeStart(some, paths))]


class SpotMeters:
    """Spot meters of a stage's cameras, ready to be run; attributes as of `IncidentMeters`."""

    def __init__(self, owner: StageMeters, aims: Sequence[Aim]):
        self.owner, self.aims = owner, aims
        self.names = [f"{aim.name}, {aim.camera.name}" for aim in aims]
        self.places: list[Any] = [(seen_by(bare(aim.camera)), *aim.seen) for aim in aims]
        self.files = [owner.camera_hash(aim.camera, *aim.seen) for aim in aims]

    def job(self, buffers: Buffers, stage: Stage, which: Sequence[int], seed_offset: int) -> Gather:
        """Return the gathering of some of them, with an offset to the seed."""
        from previz.engine.spot import SpotJob

        sampling = self.owner.order.sampling
        return SpotJob(buffers, stage, self.owner.sighted([self.aims[i] for i in which]),
                       sampling.seed + seed_offset, sampling.limits)

    def starts(self, which: Sequence[int]) -> list[Start]:
        """Return the starts of some of them; those of one view have to follow each other."""
        from previz.engine.spot import SpotStart

        starts: list[Start] = []
        sighted = self.owner.sighted([self.aims[i] for i in which])
        for _, each in groupby(sighted, key=lambda sighted: id(sighted[1])):
            some = list(each)
            camera, view, _ = some[0]

            def start(paths: int, turn: int, some: list[Any] = some, camera: Camera = camera,
                      view: Any = view) -> Any:
                points = [view.film_points(number, paths, turn) for *_, number in some]
                return SpotStart(view, camera, np.concatenate(points)[:, None])

            starts.append((len(some), camera, start))
        return starts


Meters = IncidentMeters | SpotMeters
