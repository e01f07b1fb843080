"""One run of some meters: what is cached of them is read, the rest is gathered and kept."""

from __future__ import annotations

import time
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.engine.gather import Gather, Standing
from previz.frames.batches import Batches, read_meter, write_meter
from previz.frames.together import finish, together
from previz.rendering.cache.meters import CHANGE, Light, put, put_alone
from previz.rendering.cache.owned import remove_file
from previz.rendering.cache.store import mark_used
from previz.rendering.meter_kinds import Meters
from previz.stage.records import Stage

if TYPE_CHECKING:
    from previz.rendering.metering import Effort, StageMeters

SAVE_EVERY = 10.0
"""Seconds after which what is gathered so far is saved. [s]"""


class MeterRun:
    """A run of some meters of a stage."""

    def __init__(self, owner: StageMeters, meters: Meters, effort: Effort):
        self.owner, self.job, self.meters = owner, owner.job, meters
        self.precision, self.on_standing = effort.precision, effort.on_standing
        self.end = time.monotonic() + effort.seconds
        lamps = [lamp.name for lamp in owner.stage.lamps]
        self.batches = Batches.empty(meters.names, lamps, owner.order.bands)
        self.paths = [owner.folder / f"{file}.npz" for file in meters.files]
        self.kept: list[dict[str, Light]] = [{} for _ in self.paths]
        self.made: dict[int, list[Path]] = {}
        """Meters that were put together of lamps and are not yet kept, and files that are then of no use."""

    def run(self) -> Batches:
        """Return the meters as precise as there was time for."""
        finish(self.owner.folder.parent)
        fresh, lamps = self._read(), self.batches.lights
        if not np.any(self.owner.unfinished(self.batches, self.precision)):
            self.owner.count(lamps, cached=len(self.paths))
            return self.batches
        self.owner.count(lamps, cached=len(self.paths) - len(fresh))
        left = self._lamp_by_lamp(fresh) if fresh and lamps else []
        self._whole([i for i in range(len(self.paths)) if i not in left])
        if self.made:
            self._write([])
        return self.batches

    def _read(self) -> list[int]:
        """Read what is cached of whole meters; return the meters that have nothing."""
        fresh = []
        for index, path in enumerate(self.paths):
            if self.owner.order.exact and not self.owner.cache.as_it_stands(path):
                remove_file(self.owner.folder.parent, path)
            if read_meter(path, self.batches, index):
                mark_used(path)
            else:
                fresh.append(index)
        return fresh

    def _whole(self, which: list[int]) -> None:
        """Gather light of all lamps together at some meters, where they are too noisy."""
        some = self.batches.some(which)
        if not np.any(self.owner.unfinished(some, self.precision)):
            return
        job = self.meters.job(self.job.buffers, self.owner.stage, which, 0)
        job.batches = some

        def write(numbers: list[int]) -> None:
            self.batches.take(some, which)
            self._write([which[number] for number in numbers])

        self._gather(job, write)
        self.batches.take(some, which)

    def _write(self, which: list[int]) -> None:
        """Keep some meters, and with them those that were put together of lamps: all of them or none.

        Until then none of these is there, so that a run which is killed has the same to do when it is gone on
        with: what may be used again is measured for all of its meters at once.
        """
        self.owner.cache.write(self.batches, [
            (index, self.paths[index], self.meters.places[index], self.kept[index])
            for index in sorted({*which, *self.made})])
        for part in (part for parts in self.made.values() for part in parts):
            remove_file(self.owner.folder.parent, part)
        self.made = {}

    def _lamp_by_lamp(self, fresh: list[int]) -> list[int]:
        """Take what is cached of single lamps, and gather the rest of them alone.

        Returns the meters that there was no time for to gather the rest to the end.
        """
        owner = self.owner

        def changes(pair: tuple[str, tuple[str, ...]], old: Stage, new: Stage, differ: set[str],
                    which: list[int]) -> np.ndarray:
            from previz.engine.influence import alike, meter_influence

            if pair not in owner.pairs:
                owner.pairs[pair] = alike(old, new, owner.order.backend)
            return meter_influence(owner.pairs[pair], differ, self.meters.starts(
                [fresh[w] for w in which]), min(CHANGE, self.precision / 2))

        found, change = owner.cache.reusable([self.meters.places[i] for i in fresh],
                                             owner.order.bands, self.precision, changes)
        left = []
        for missing, which in self._take(fresh, found, change).items():
            done = self._alone(missing, which) if missing else [True] * len(which)
            for index, enough in zip(which, done, strict=True):
                if enough:
                    self.made[index] = [self._part_file(index, _offset(missing))] if missing else []
                else:
                    left.append(index)
        return left

    def _take(self, fresh: list[int], found: list[dict[str, Light]],
              change: float) -> dict[tuple[str, ...], list[int]]:
        """Put what was found of single lamps into their meters; return (missing lamps -> meters)."""
        owner, lamps = self.owner, self.batches.lights
        groups: dict[tuple[str, ...], list[int]] = {}
        for index, lights in zip(fresh, found, strict=True):
            missing = tuple(lamp for lamp in lamps if lamp not in lights)
            # Where most lamps are missing, all are run: they share their paths.
            if len(missing) > len(lamps) / 2:
                owner.count(lamps, run=1)
                continue
            self.kept[index] = lights
            put(self.batches, index, lights)
            groups.setdefault(missing, []).append(index)
            owner.count(missing, run=1)
            for lamp, light in lights.items():
                exact = light.others == owner.cache.parts.other_bodies(lamp)
                owner.count([lamp], cached=int(exact), reused=int(not exact))
                owner.change = max(owner.change, 0.0 if exact else change)
        return groups

    def _alone(self, missing: tuple[str, ...], which: list[int]) -> list[bool]:
        """Gather some lamps alone at some meters; return which of these are done.

        Until a meter is done, what was gathered for it lies in a file of its own; then it is put
        to the rest.
        """
        stage, buffers = self.job.lit(missing)
        # Lamps that are gathered alone must not share their noise with those before them.
        offset = _offset(missing)
        job = self.meters.job(buffers, stage, which, offset << 32)
        own = job.batches
        job.others = self.batches.mixed(self.owner.weights)[which]
        files = [self._part_file(i, offset) for i in which]
        for index, file in enumerate(files):
            read_meter(file, own, index)

        def write(numbers: list[int]) -> None:
            with together(self.owner.folder.parent) as parts:
                for number in numbers:
                    write_meter(files[number], own, number, whole=parts.whole_file)

        self._gather(job, write)
        done: list[bool] = (~job.unfinished(job.goals(self.precision))).tolist()
        for number, index in enumerate(which):
            put_alone(self.batches, index, own, number)
        return done

    def _part_file(self, index: int, offset: int) -> Path:
        return self.paths[index].with_name(f"{self.paths[index].stem}-{offset:08x}.npz")

    def _gather(self, job: Gather, write: Callable[[list[int]], Any]) -> None:
        batches = job.batches
        saved, last = batches.paths.copy(), time.monotonic()

        def save() -> None:
            nonlocal last
            write(np.flatnonzero(batches.paths != saved).tolist())
            saved[:] = batches.paths
            last = time.monotonic()

        def on_round(state: Standing) -> None:
            if self.on_standing is not None:
                self.on_standing(state)
            if time.monotonic() - last > SAVE_EVERY:
                save()

        if self.on_standing is not None:
            self.on_standing(job.standing(self.precision))
        seconds = max(0.0, self.end - time.monotonic())
        try:
            reached = job.run(self.precision, None, on_round, seconds)
        finally:
            save()
        self.owner.reached &= reached


def _offset(lamps: tuple[str, ...]) -> int:
    """Return a number that stands for some lamps that are gathered alone."""
    return zlib.crc32("\n".join(lamps).encode())
