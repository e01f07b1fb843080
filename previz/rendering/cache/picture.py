"""Make a camera's picture from lamps that are there and lamps that are rendered for it."""

from __future__ import annotations

import time
import zlib
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from previz import __version__, frames
from previz.engine.backend import runs_on
from previz.engine.render import (
    CameraJob,
    camera_planes,
    camera_values,
    light_sample_shares,
    row_bands,
)
from previz.frames import LampSlices
from previz.frames.abreast import abreast
from previz.frames.arrays import META_NAME
from previz.frames.lamp_files import LAMP_NAME, LampFile, read_lamp
from previz.frames.lock import only_writer
from previz.frames.whole import AGAIN, FramesError
from previz.physics.bands import band_edges
from previz.rendering.cache.limit import make_room
from previz.rendering.cache.owned import files_in, remove_files
from previz.rendering.cache.plan import LampState, plan
from previz.rendering.cache.store import Planes, joined, mark_used
from previz.rendering.pace import Pace
from previz.stage.records import Camera

if TYPE_CHECKING:
    from previz.rendering.job import StageJob

OnPass = Callable[[float, float], None]
"""(passes done, passes that were found done) after each pass; parts of a pass where only some lamps or
rows are rendered."""

SAVE_EVERY = 30.0
"""Seconds of rendering after which what was gathered so far is saved. [s]"""

ALONE = 1.5
"""Paths that m of N lamps get when they are rendered without the rest, as a multiple of m / N.

A path's first light sample goes to one lamp in N; so m lamps need m / N of the paths for as many. But
fewer paths also bring less of the light that was bounced before; half as many again make up for that.
Lamps that later light samples mostly go to, as they give most of the light, get at least their share of
those: their noise among the others was that of almost all the paths."""


def whole_picture(job: StageJob, camera: Camera) -> frames.Frames | None:
    """Return a camera's frames if they have been put together and are whole, else None."""
    folder = job.frame_folder(camera)
    if not folder.is_dir():
        return None
    try:
        found = frames.read(folder)
    except FramesError:
        return None
    if found.transport_hash != folder.name:
        return None
    mark_used(folder / META_NAME)
    return found


def put_together(job: StageJob, camera: Camera) -> frames.Frames | None:
    """Return a camera's frames if all parts are there and only have to be put together.

    Nothing is rendered, and the engine is not loaded.
    """
    planes = job.lamp_cache.planes(camera)
    if planes is None:
        return None
    states = plan(job.lamp_cache, camera, job.order.sampling.samples, measure=False,
                  exact=job.order.exact)
    return assemble(job, camera, states, planes) if all(state.done for state in states) else None


def assemble(job: StageJob, camera: Camera, states: list[LampState],
             planes: Planes) -> frames.Frames | None:
    """Put lamps and planes together to frames; None where a lamp turns out to be torn, or to be gone."""
    order, folder = job.order, job.frame_folder(camera)
    try:
        files = abreast(read_lamp,
                        [state.file.folder for state in states if state.file is not None])
    except FramesError:
        return None
    names, arrays = planes
    shape = (order.bands, order.height, order.width)
    made = frames.Frames(
        slices=LampSlices([file.gathered.slices for file in files], shape),
        variance=(np.stack([file.gathered.variance for file in files]) if files
                  else np.zeros((0, *shape[1:]), np.float32)),
        lights=tuple(state.lamp for state in states), names=names,
        band_edges_nm=np.asarray(band_edges(order.bands)),
        samples=round(min((file.samples for file in files), default=order.sampling.samples)),
        seed=order.sampling.seed,
        camera=camera_values(camera), transport_hash=folder.name, version=__version__, **arrays)
    try:
        with only_writer(folder):
            frames.write(folder, made, [(file.folder, file.entry) for file in files],
                         job.lamp_cache.plane_files(camera))
    except FileNotFoundError:
        # Another process has put more of a lamp in the place of what was read.
        return None
    for file in files:
        mark_used(file.folder / LAMP_NAME)
    make_room(order.cache)
    return frames.read(folder, verify=False)


def render_missing(job: StageJob, camera: Camera, on_pass: OnPass | None = None) -> frames.Frames:
    """Return a camera's frames, rendering what is not there; see `StageJob.render`."""
    while True:
        states = job.plan(camera)
        missing = [state for state in states if not state.done]
        if not missing:
            made = assemble(job, camera, states, planes_of(job, camera, states))
            if made is not None:
                return made
            # A torn lamp is rendered anew: without its note it is not there.
            for state in states:
                _drop_torn(state)
            continue
        Tracer(job, camera, missing, on_pass).run()


def _drop_torn(state: LampState) -> None:
    if state.file is None:
        return
    try:
        read_lamp(state.file.folder)
    except FramesError:
        (state.file.folder / LAMP_NAME).unlink(missing_ok=True)


def planes_of(job: StageJob, camera: Camera, states: Iterable[LampState] = ()) -> Planes:
    """Return (names, planes) of what a camera sees, rendered where they are not there.

    Where light of the picture's lamps is used again, the camera sees none of what stood otherwise then,
    and the planes of that time serve too.
    """
    found = job.lamp_cache.planes(camera)
    for state in states if found is None else ():
        if state.status == "reused" and state.file is not None and found is None:
            job.lamp_cache.take_planes(camera, state.file)
            found = job.lamp_cache.planes(camera)
    if found is None:
        order, buffers = job.order, job.buffers
        job.lamp_cache.put_planes(camera, buffers.geometry.names, camera_planes(
            buffers, camera, order.width, order.height, order.sampling.seed))
        found = job.lamp_cache.planes(camera)
    if found is None:
        raise FramesError("What a camera sees was changed on the disk while it was rendered.", AGAIN)
    return found


def camera_job(job: StageJob, camera: Camera, lamps: tuple[str, ...],
               rows: tuple[int, int]) -> CameraJob:
    """Return the render of some lamps in some rows (first, number) of a camera's picture."""
    stage, buffers = job.lit(lamps)
    order = job.order
    # Lamps that are rendered alone must not share their noise with those before them.
    offset = zlib.crc32("\n".join(lamps).encode()) << 32 if stage is not job.stage else 0
    sampling = replace(order.sampling, seed=order.sampling.seed + offset)
    return CameraJob(buffers, stage, camera, order.width, order.height, sampling, rows)


def pass_paths(job: StageJob, lamps: tuple[str, ...]) -> list[int]:
    """Return the paths a pixel of each pass that some of the lamps are rendered with."""
    samples, passes = job.order.sampling.samples, job.order.sampling.passes
    every = [lamp.name for lamp in job.stage.lamps]
    share = ALONE * len(lamps) / len(every)
    if share < 1:
        sampled = light_sample_shares(job.buffers)
        share = max(share, sum(sampled[every.index(lamp)] for lamp in lamps))
    total = max(passes, int(np.ceil(samples * min(share, 1.0))))
    ends = [total * k // passes for k in range(passes + 1)]
    return [end - start for start, end in pairwise(ends)]


class Tracer:
    """Renders what is missing of some lamps at one camera."""

    def __init__(self, job: StageJob, camera: Camera, states: list[LampState],
                 on_pass: OnPass | None = None):
        self.job, self.camera, self.cache, self.order = job, camera, job.lamp_cache, job.order
        self.on_pass = on_pass
        self.groups = together(states)
        self.found = self.done = 0.0
        self.total = 0.0
        self.pace = Pace()

    def run(self) -> None:
        """Render; what was gathered is kept, also when it is interrupted."""
        passes = self.order.sampling.passes
        parts = [(group, rows) for group in self.groups for rows in self._rows(group)]
        self.total = len(parts) * passes
        for group, rows in parts:
            self._part(group, rows)
        for group in self.groups:
            if len(self._rows(group)) > 1:
                self._join(group)
        self.pace.keep(self.order.cache, runs_on(self.order.backend))

    def _rows(self, group: list[LampState]) -> list[tuple[int, int]]:
        order = self.order
        return row_bands(order.width, order.height, len(group), order.bands)

    def _count(self, more: float, found: bool = False) -> None:
        self.done += more
        self.found += more if found else 0.0
        scale = self.order.sampling.passes / self.total
        if self.on_pass is not None:
            self.on_pass(self.done * scale, self.found * scale)

    def _part(self, group: list[LampState], rows: tuple[int, int]) -> None:
        """Render some lamps in some rows, going on from what is cached of them."""
        lamps = tuple(state.lamp for state in group)
        whole = None if len(self._rows(group)) == 1 else rows
        sampling, samples = self.order.sampling, 0.0
        files = list(filter(None, (self.cache.find_rows(lamp, self.camera, whole) for lamp in lamps)))
        started = len(files) == len(lamps) and all(
            f.gathered.same_passes(files[0].gathered) for f in files)
        if started:
            samples = min(file.samples for file in files)
            self._count(min(samples / sampling.samples, 1.0) * sampling.passes, found=True)
            if samples >= sampling.samples:
                return
        with closing(camera_job(self.job, self.camera, lamps, rows)) as job:
            if started:
                job.take_up([file.gathered for file in files])
            else:
                self._count(0.0)
            self._passes(job, lamps, samples, whole)

    def _passes(self, job: CameraJob, lamps: tuple[str, ...], samples: float,
                rows: tuple[int, int] | None) -> None:
        """Render passes until the lamps have their samples; what was gathered is kept."""
        enough, paths = self.order.sampling.samples, pass_paths(self.job, lamps)
        saved, kept, started, before = time.monotonic(), samples, samples, job.done
        try:
            while samples < enough:
                each, began = paths[round(samples / job.each) % len(paths)], time.monotonic()
                job.step(each)
                if samples > started:
                    self.pace.add(each * job.rows * job.width, time.monotonic() - began)
                samples = started + (job.done - before) * job.each
                self._count(1.0)
                if time.monotonic() - saved > SAVE_EVERY and samples < enough:
                    self.cache.put_all(lamps, job, samples, rows)
                    saved, kept = time.monotonic(), samples
        except (KeyboardInterrupt, MemoryError, RuntimeError):
            # It may have come when a pass was just in.
            samples = started + (job.done - before) * job.each
            if samples > kept and not job.torn:
                self.cache.put_all(lamps, job, samples, rows)
            raise
        self.cache.put_all(lamps, job, samples, rows)

    def _join(self, group: list[LampState]) -> None:
        """Put the rows of each lamp together, of all lamps or of none, and remove them."""
        rows, whole = self._rows(group), {}
        for lamp in (state.lamp for state in group):
            files = list(filter(None, (self.cache.find_rows(lamp, self.camera, r) for r in rows)))
            if len(files) == len(rows):
                whole[lamp] = files
        if whole:
            self.cache.put_together(list(whole), self.camera, map(joined, whole.values()),
                                    min(f.samples for files in whole.values() for f in files))
        for files in whole.values():
            remove_rows(Path(self.order.cache), files)


def remove_rows(cache: Path, files: list[LampFile]) -> None:
    """Remove the folders, in a cache, of rows that were put together."""
    for file in files:
        remove_files(list(files_in(cache, under=file.folder)), file.folder)


def together(states: list[LampState]) -> list[list[LampState]]:
    """Return the lamps in groups that are rendered in one go: with as much of them there."""
    groups: list[list[LampState]] = []
    for state in states:
        group = next((each for each in groups if _alike(state.file, each[0].file)), None)
        if group is None:
            groups.append([state])
        else:
            group.append(state)
    return groups


def _alike(one: LampFile | None, other: LampFile | None) -> bool:
    if one is None or other is None:
        return one is other
    return one.samples == other.samples and one.gathered.same_passes(other.gathered)
