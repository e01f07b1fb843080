"""The kinds of meters: where each one's paths start, for its readings and to compare two stages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.engine.gather import Gather
from previz.engine.probe import ProbeJob
from previz.stage.records import Camera, Probe, Stage

if TYPE_CHECKING:
    from previz.engine.upload import Buffers
    from previz.rendering.metering import StageMeters

Start = tuple[int, Camera | None, Callable[[int, int], Any]]
"""How many meters, the camera they see through, and (paths, turn) -> where paths start."""


@dataclass(frozen=True)
class Meters:
    """Meters of one kind, ready to be run.

    Parameters
    ----------
    names, files : sequence of str
    places : sequence of plain value
        See `cache.meters.MeterCache.write`.
    job : function
        (buffers, stage, which of them, offset to the seed) -> Gather
    starts : function
        which of them -> starts for `influence.meter_influence`, in the same order
    """

    names: list[str]
    files: list[str]
    places: list[Any]
    job: Callable[[Buffers, Stage, Sequence[int], int], Gather]
    starts: Callable[[Sequence[int]], list[Start]]


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


def probe_job(meters: StageMeters, probes: Sequence[Probe], buffers: Buffers, stage: Stage,
              which: Sequence[int], seed_offset: int) -> ProbeJob:
    """Return the gathering of some incident meters, with an offset to the seed."""
    seed, most, least = meters.limits()
    return ProbeJob(buffers, stage, seed + seed_offset, most, least, [probes[i] for i in which])


def probe_starts(probes: Sequence[Probe], which: Sequence[int]) -> list[Start]:
    """Return the starts of some incident meters; see `influence.meter_influence`."""
    from previz.engine.starts import ProbeStart

    some = tuple(probes[i] for i in which)
    return [(len(some), None, lambda paths, turn: ProbeStart(some, paths))]


def spot_job(meters: StageMeters, aims: Sequence[Aim], buffers: Buffers, stage: Stage,
             which: Sequence[int], seed_offset: int) -> Gather:
    """Return the gathering of some spot meters, with an offset to the seed."""
    from previz.engine.spot import SpotJob

    seed, *limits = meters.limits()
    return SpotJob(buffers, stage, meters.sighted([aims[i] for i in which]), seed + seed_offset, *limits)


def spot_starts(meters: StageMeters, aims: Sequence[Aim], which: Sequence[int]) -> list[Start]:
    """Return the starts of spot meters; those of one view have to follow each other."""
    from itertools import groupby

    from previz.engine.spot import SpotStart

    starts: list[Start] = []
    for _, each in groupby(meters.sighted([aims[i] for i in which]), key=lambda sighted: id(sighted[1])):
        some = list(each)
        camera, view, _ = some[0]

        def start(paths: int, turn: int, some: list[Any] = some, camera: Camera = camera,
                  view: Any = view) -> Any:
            points = [view.film_points(number, paths, turn) for *_, number in some]
            return SpotStart(view, camera, np.concatenate(points)[:, None])

        starts.append((len(some), camera, start))
    return starts
