"""The kinds of meters: where each one's paths start, for its readings and to compare two stages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from previz.engine.probe import ProbeJob
from previz.stage.records import Camera


@dataclass(frozen=True)
class Meters:
    """Meters of one kind, ready to be run.

    Parameters
    ----------
    names, files : sequence of str
    places : sequence of plain value
        See `reuse.meters.MeterShelf.write`.
    job : function
        (buffers, stage, which of them, added to the seed) -> Gather
    starts : function
        which of them -> starts for `influence.meter_influence`, in the same order
    """

    names: list[str]
    files: list[str]
    places: list
    job: Callable
    starts: Callable


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
    patch: tuple | None = None

    @property
    def seen(self) -> tuple:
        """What is metered, as fingerprints tell it."""
        return (self.name,) if self.patch is None else ("patch", *self.patch)


def bare(camera: Camera) -> Camera:
    """Return a camera as a spot meter looks through it: from the middle of its lens."""
    # Neither its opening nor its focus counts.
    return replace(camera, lens_radius=0.0, focus=1.0)


def probe_job(meters, probes, buffers, stage, which, apart: int) -> ProbeJob:
    """Return the gathering of some incident meters, with other random numbers for `apart`."""
    seed, *limits = meters.limits()
    return ProbeJob(buffers, stage, seed + apart, *limits, probes=[probes[i] for i in which])


def probe_starts(probes, which):
    """Return the starts of some incident meters; see `influence.meter_influence`."""
    from previz.engine.starts import ProbeStart

    some = tuple(probes[i] for i in which)
    return [(len(some), None, lambda paths, turn: ProbeStart(some, paths))]


def spot_job(meters, aims, buffers, stage, which, apart: int):
    """Return the gathering of some spot meters, with other random numbers for `apart`."""
    from previz.engine.spot import SpotJob

    seed, *limits = meters.limits()
    return SpotJob(buffers, stage, meters.sighted([aims[i] for i in which]), seed + apart, *limits)


def spot_starts(meters, aims, which):
    """Return the starts of spot meters; those of one view have to follow each other."""
    from itertools import groupby

    from previz.engine.spot import SpotStart

    starts = []
    for _, each in groupby(meters.sighted([aims[i] for i in which]), key=lambda sighted: id(sighted[1])):
        some = list(each)
        camera, view, _ = some[0]

        def start(paths, turn, some=some, camera=camera, view=view):
            points = [view.film_points(number, paths, turn) for *_, number in some]
            return SpotStart(view, camera, np.concatenate(points)[:, None])

        starts.append((len(some), camera, start))
    return starts
