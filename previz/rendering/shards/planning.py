"""Which units of a picture are missing, as one process that renders picture after picture would render them.

Lamps that are rendered together share their random numbers, and lamps that an earlier picture brings are not
rendered again. So what earlier pictures of the same plan will bring is taken for being there, and the lamps
are put into the groups that one process would put them into: else the bits would be others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from previz.engine.render import row_bands
from previz.frames.arrays import META_NAME
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import LampFile
from previz.rendering.cache.picture import together, whole_picture
from previz.rendering.cache.plan import LampState, plan
from previz.rendering.cache.store import PLANES_NAME, LampCache
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import IncidentMeters
from previz.rendering.metering import StageMeters
from previz.rendering.shards.units import LIGHT, METERS, PICTURE, VIEW, Unit
from previz.stage.fingerprint import digest_of
from previz.stage.records import Camera

TILE_PATHS = 2e8
"""About the most paths of a unit of light, where nobody says how a picture is to be cut. [1]"""

LEAST_ROWS = 8
"""Fewest rows of a tile: fewer leave a device idle."""


@dataclass(frozen=True)
class Split:
    """How pictures are cut.

    Parameters
    ----------
    tiles : int or None
        Strips of rows of a picture; by default as many as `TILE_PATHS` makes.
    passes : int or None
        Most passes of a unit; by default all that a picture has.
    """

    tiles: int | None = None
    passes: int | None = None

    def rows(self, width: int, height: int, lamps: int, bands: int, samples: float) -> list[tuple[int, int]]:
        """Return (first row, rows) of the tiles of a picture, none larger than the host can hold."""
        most = len(row_bands(width, height, lamps, bands))
        wanted = self.tiles or int(np.ceil(width * height * samples / TILE_PATHS))
        count = max(most, min(wanted, max(1, height // LEAST_ROWS)))
        ends = [height * k // count for k in range(count + 1)]
        return [(first, end - first) for first, end in zip(ends, ends[1:], strict=False)]

    def parts(self, passes: int) -> list[tuple[int, int, int]]:
        """Return (first pass, the one after the last, all) of the parts of some passes."""
        each = min(self.passes or passes, passes)
        return [(first, min(first + each, passes), passes) for first in range(0, passes, each)]


@dataclass
class Coming:
    """What the units of a plan will have put into a cache, by place, in the order of its last use."""

    lamps: dict[str, LampFile] = field(default_factory=dict)
    by: dict[str, str] = field(default_factory=dict)
    """Place of a lamp's light -> name of the picture that brings it."""

    def use(self, place: str, file: LampFile | None = None, by: str = "") -> None:
        """Say that a lamp's light is used, or brought, now."""
        file = file or self.lamps.get(place)
        if file is not None:
            self.lamps.pop(place, None)
            self.lamps[place] = file
        if by:
            self.by[place] = by


class PlannedCache(LampCache):
    """The cache of a job's lamps as it will be."""

    def __init__(self, job: StageJob, coming: Coming):
        super().__init__(job.stage, job.order, job.lamp_cache.parts)
        self.coming = coming

    def place(self, folder: Path) -> str:
        """Return the place of a folder in the cache."""
        return folder.relative_to(self.folder).as_posix()

    def find(self, lamp: str, camera: Camera) -> LampFile | None:
        """Return a lamp's light that is there or coming."""
        there = super().find(lamp, camera)
        coming = self.coming.lamps.get(self.place(self.lamp_folder(lamp, camera)))
        return there if coming is None or (there is not None and there.samples >= coming.samples) else coming

    def elsewhere(self, lamp: str, camera: Camera) -> list[LampFile]:
        """Return a lamp's light, with other lamps standing otherwise, that is there or coming."""
        own = self.lamp_folder(lamp, camera)
        coming = [file for file in reversed(self.coming.lamps.values())
                  if file.folder.parent == own.parent and file.folder != own]
        known = {file.folder for file in coming}
        return [*coming, *(file for file in super().elsewhere(lamp, camera) if file.folder not in known)]


def plan_picture(job: StageJob, camera: Camera, coming: Coming, split: Split, *, measure: bool, want: int = 0,
                 option: str = "", seen: Iterable[Path] = ()) -> list[Unit] | None:
    """Return the units of a picture that are missing.

    Parameters
    ----------
    job : StageJob
        With the picture's order.
    coming : Coming
        Of the plan's earlier pictures; what this one brings is added.
    measure : bool
        Whether what bodies of lamps do may be measured, which takes the engine; else such lamps count as
        missing.
    want, option
        As in `Unit`.
    seen : paths
        Files of the cache, besides the planes, that a view makes.

    Returns
    -------
    list of Unit, or None
        None where it goes on with light that is not there yet: it can be planned once that is.
    """
    order, cache = job.order, PlannedCache(job, coming)
    about = Unit(PICTURE, want, option, camera.name, (order.width, order.height), order.sampling.samples,
                 order.sampling.passes)
    view = _view(cache, camera, seen, about)
    if whole_picture(job, camera) is not None:
        return [] if all((cache.folder / place).is_file() for place in view.files) else [view]
    if measure:
        # By these other pictures see whether the lamps stand as they did.
        cache.keep_bodies()
    states = plan(cache, camera, order.sampling.samples, measure=measure, exact=order.exact)
    if any(state.status == "partial" and _is_coming(state) for state in states):
        return None
    lights = [unit for group in together([s for s in states if not s.done])
              for unit in _lights(cache, camera, group, split, about)]
    uses = [_place(cache, camera, state) for state in states]
    picture = replace(
        about, lamps=tuple(state.lamp for state in states), places=tuple(uses),
        files=(f"{job.frame_folder(camera).name}/{META_NAME}",),
        after=tuple(dict.fromkeys([view.name, *(unit.name for unit in lights),
                                   *(coming.by[place] for place in uses if place in coming.by)])))
    for state, place in zip(states, uses, strict=True):
        if state.done:
            coming.use(place)
        else:
            coming.use(place, _stub(cache, place, order.sampling.samples), picture.name)
    return [view, *lights, picture]


def _is_coming(state: LampState) -> bool:
    return state.file is not None and not state.file.entry


def _place(cache: PlannedCache, camera: Camera, state: LampState) -> str:
    """Return where a lamp's light lies, or is to lie."""
    done = state.done and state.file is not None
    return cache.place(state.file.folder if done and state.file else cache.lamp_folder(state.lamp, camera))


def _stub(cache: PlannedCache, place: str, samples: float) -> LampFile:
    """Return what will be known of a lamp's light."""
    nothing = np.zeros(0, np.float32)
    return LampFile(cache.folder / place, float(samples), {"all_bodies": cache.all_bodies},
                    Gathered(nothing, nothing, 0.0, 0, 0, 0.0, 0.0), {})


def _view(cache: PlannedCache, camera: Camera, seen: Iterable[Path], about: Unit) -> Unit:
    files = [cache.planes_folder(camera) / PLANES_NAME, *seen]
    return replace(about, kind=VIEW, files=tuple(map(cache.place, files)))


def _lights(cache: PlannedCache, camera: Camera, group: list[LampState], split: Split,
            about: Unit) -> Iterator[Unit]:
    """Yield the units of some lamps that are rendered together."""
    order, first = cache.order, group[0].file
    # Where a picture is larger than the host holds, one process begins its rows anew.
    if first is not None and len(row_bands(order.width, order.height, len(group), order.bands)) > 1:
        first = None
    start, number = (0.0, 0) if first is None else (first.samples, first.gathered.next_pass)
    each = order.sampling.samples // order.sampling.passes
    passes = int(np.ceil((order.sampling.samples - start) / each))
    lamps = tuple(state.lamp for state in group)
    places = tuple(cache.place(cache.lamp_folder(lamp, camera)) for lamp in lamps)
    for rows in split.rows(order.width, order.height, len(group), order.bands, passes * each):
        for part in split.parts(passes):
            work = float(order.width * rows[1] * (part[1] - part[0]) * each)
            yield replace(about, kind=LIGHT, lamps=lamps, places=places, start=start, number=number,
                          rows=rows, part=part, work=work)


def plan_meters(jobs: dict[str, StageJob], want: int, precision: float,
                last: dict[str, str]) -> Iterator[Unit]:
    """Yield the units of the meters of some options.

    Options whose sets are the same lend each other light, in their order: they are one unit.

    Parameters
    ----------
    jobs : dict of str to StageJob
        Option -> its job.
    want : int
    precision : float
        Relative standard error. [1]
    last : dict of str to str
        Fingerprint of a set -> the unit of an earlier request that meters it; put in order by this.
    """
    sets: dict[str, dict[str, list[str]]] = {}
    for option, job in jobs.items():
        places, parts = meter_places(job), job.lamp_cache.parts
        if places:
            sets.setdefault(digest_of(sorted(parts.things.values()), parts.air), {})[option] = places
    for own, options in sets.items():
        every = dict.fromkeys(place for places in options.values() for place in places)
        # The precision is a part of the name by the samples that it stands for.
        unit = Unit(METERS, want, options=tuple(options), samples=round(1 / precision**2), files=tuple(every),
                    after=(last[own],) if own in last else ())
        last[own] = unit.name
        yield unit


def meter_places(job: StageJob) -> list[str]:
    """Return where in the cache a stage's meters are kept."""
    if not job.stage.probes:
        return []
    owner = StageMeters(job)
    return [f"meters/{file}.npz" for file in IncidentMeters(owner, list(job.stage.probes)).files]
