"""Do a unit of light: trace its passes, and keep what they gather."""

from __future__ import annotations

import time
from pathlib import Path

from previz.engine.backend import runs_on
from previz.engine.kept_passes import on_host
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import LampFile, read_note
from previz.frames.whole import FramesError
from previz.rendering.ahead import refuse
from previz.rendering.cache.picture import OnPass, Tracer, camera_job, pass_paths, remove_rows
from previz.rendering.cache.store import LampCache, rows_of
from previz.rendering.job import StageJob
from previz.rendering.shards.results import Clock, keep_pass, passes_of
from previz.rendering.shards.units import Unit
from previz.stage.records import Camera


class OutdatedError(Exception):
    """The scene, or what the cache has of it, is not what the unit was planned for."""


def light_done(cache: Path, unit: Unit) -> bool:
    """Return whether a unit of light has its result, by the notes alone; `merge` looks at every byte."""
    if _enough(cache, unit, None) or (unit.whole and _enough(cache, unit, unit.band)):
        return True
    there = passes_of(cache, unit.name)
    return not unit.whole and all(str(number) in there for number in range(*unit.part[:2]))


def _enough(cache: Path, unit: Unit, rows: tuple[int, int] | None) -> bool:
    """Return whether the lamps of a unit have their paths, in some rows or in the whole picture."""
    more = "" if rows is None else f"rows-{rows[0]:05d}-{rows[1]:05d}"
    try:
        return all(read_note(cache / place / more)["samples"] >= unit.samples for place in unit.places)
    except (FramesError, KeyError, TypeError):
        return False


def before(cache: LampCache, camera: Camera, unit: Unit) -> list[Gathered]:
    """Return what the lamps of a unit have in its rows, to be gone on with; none where it begins.

    Raises
    ------
    OutdatedError
        It is not there, or not that.
    """
    if not unit.start:
        return []
    files = [cache.find_rows(lamp, camera, None) for lamp in unit.lamps]
    found = [file.gathered for file in files if file is not None and file.samples == unit.start
             and file.gathered.next_pass == unit.number]
    if len(found) < len(files):
        raise OutdatedError(unit.label)
    return [rows_of(each, *unit.rows) for each in found]


class LightWork(Tracer):
    """A unit of light being done."""

    def __init__(self, job: StageJob, camera: Camera, unit: Unit, on_pass: OnPass | None = None):
        super().__init__(job, camera, [], on_pass)
        self.unit, self.total = unit, float(self.order.sampling.passes)

    def run(self) -> None:
        """Trace it, from where it was left; what was gathered is kept, also when it is interrupted.

        Raises
        ------
        OutdatedError
            See there.
        """
        unit, cache = self.unit, self.cache
        places = tuple(cache.lamp_folder(lamp, self.camera).relative_to(cache.folder).as_posix()
                       for lamp in unit.lamps)
        if places != unit.places:
            raise OutdatedError(unit.label)
        refuse(self.job, self.camera)
        (self._rows_of_picture if unit.whole else self._some_passes)()
        self.pace.keep(self.order.cache, runs_on(self.order.backend))

    def _rows_of_picture(self) -> None:
        unit, cache = self.unit, self.cache
        files = _alike([cache.find_rows(lamp, self.camera, unit.band) for lamp in unit.lamps])
        samples = unit.start
        taken = None
        if files and files[0].samples > unit.start:
            samples, taken = files[0].samples, [file.gathered for file in files]
        if samples < unit.samples:
            taken = taken if taken is not None else before(cache, self.camera, unit)
            job = camera_job(self.job, self.camera, unit.lamps, unit.rows)
            if taken:
                job.take_up(taken)
            self._passes(job, unit.lamps, samples, unit.band)
        if unit.band is not None and _enough(cache.folder, unit, None):
            # It came late: the picture is there.
            remove_rows(cache.folder, list(filter(None, (
                cache.find_rows(lamp, self.camera, unit.band) for lamp in unit.lamps))))

    def _some_passes(self) -> None:
        unit, folder, clock = self.unit, self.cache.folder, Clock()
        there = passes_of(folder, unit.name)
        missing = [number for number in range(*unit.part[:2]) if str(number) not in there]
        if not missing:
            return
        paths = pass_paths(self.job, unit.lamps)
        job = camera_job(self.job, self.camera, unit.lamps, unit.rows)
        traced = 0.0
        for number in missing:
            each, began = weight_of(unit, number, paths), time.monotonic()
            values = on_host(job.traced(unit.number + number, each))
            if traced:
                self.pace.add(each * job.rows * job.width, time.monotonic() - began)
            traced += each * job.rows * job.width
            cost = clock.cost(traced, self.order.backend)
            there = keep_pass(folder, unit, number, values, each, there, cost)
            self._count(1.0)


def weight_of(unit: Unit, number: int, paths: list[int]) -> int:
    """Return the paths a pixel of one of a unit's passes, of those that `pass_paths` gives."""
    each = unit.samples // unit.passes
    return paths[round((unit.start + number * each) / each) % len(paths)]


def _alike(files: list[LampFile | None]) -> list[LampFile]:
    """Return the files of some lamps if all are there and of the same passes."""
    there = [file for file in files if file is not None]
    fine = len(there) == len(files) and all(
        file.samples == there[0].samples and file.gathered.same_passes(there[0].gathered) for file in there)
    return there if fine else []
