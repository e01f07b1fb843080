"""Put the units of a picture together: passes in their order, tiles to lamps, lamps to frames.

Nothing is traced, and no stage is needed. What turns out to be damaged is dropped, so that it is missing
again.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path

from previz.engine.kept_passes import KeptSums
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import LAMP_NAME, LampFile, read_lamp
from previz.frames.whole import FramesError
from previz.rendering.cache.picture import assemble, remove_rows
from previz.rendering.cache.plan import LampState
from previz.rendering.cache.store import PLANES_NAME, LampCache, joined
from previz.rendering.job import StageJob
from previz.rendering.shards.light import before
from previz.rendering.shards.results import drop_passes, read_pass
from previz.rendering.shards.units import Unit
from previz.stage.records import Camera


class MissingError(Exception):
    """A result is missing, or was damaged and has been dropped.

    Parameters
    ----------
    names : iterable of str
        Units that have to be done again; none where it is a result of another plan.
    """

    def __init__(self, names: Iterable[str] = ()):
        super().__init__()
        self.names = tuple(names)


def merge(job: StageJob, camera: Camera, picture: Unit, lights: Iterable[Unit]) -> None:
    """Put a picture together.

    Parameters
    ----------
    job : StageJob
        With the picture's order.
    picture : Unit
    lights : iterable of Unit
        The units of light of the picture's plan that it comes after.

    Raises
    ------
    MissingError
        See there.
    OutdatedError
        The scene is not what was planned.
    """
    cache = job.lamp_cache
    for lamps, units in groupby(sorted(lights, key=_order), key=lambda unit: unit.lamps):
        _merge_lamps(job, camera, lamps, list(units))
    planes = cache.planes(camera)
    if planes is None:
        (cache.planes_folder(camera) / PLANES_NAME).unlink(missing_ok=True)
        raise MissingError(picture.after[:1])
    states = [LampState(lamp, "cached", _light(cache, place, picture.samples), "")
              for lamp, place in zip(picture.lamps, picture.places, strict=True)]
    if assemble(job, camera, states, planes) is None:
        for place in picture.places:
            _drop_torn(cache.folder / place)
        raise MissingError(unit.name for unit in lights)


def _order(unit: Unit) -> tuple[tuple[str, ...], tuple[int, int], tuple[int, int, int]]:
    return unit.lamps, unit.rows, unit.part


def _light(cache: LampCache, place: str, samples: float) -> LampFile:
    """Return a lamp's light from where it lies; its bytes are looked at when it is put together."""
    with contextlib.suppress(FramesError):
        found = read_lamp(cache.folder / place, verify=False)
        if found.samples >= samples:
            return found
    raise MissingError


def _drop_torn(folder: Path) -> None:
    try:
        read_lamp(folder)
    except FramesError:
        (folder / LAMP_NAME).unlink(missing_ok=True)


def _merge_lamps(job: StageJob, camera: Camera, lamps: tuple[str, ...], units: list[Unit]) -> None:
    """Put the light of some lamps together, all of it or none, and remove what it was put together of."""
    cache, samples = job.lamp_cache, units[0].samples
    tiles = [list(some) for _, some in groupby(units, key=lambda unit: unit.rows)]
    done = [cache.find(lamp, camera) for lamp in lamps]
    if not all(file is not None and file.samples >= samples for file in done):
        for parts in tiles:
            if not parts[0].whole:
                _add_passes(job, camera, parts)
        if units[0].band is not None:
            files = {lamp: [_tile(cache, camera, lamp, parts) for parts in tiles] for lamp in lamps}
            cache.put_together(lamps, camera, map(joined, files.values()),
                               min(file.samples for each in files.values() for file in each))
        elif units[0].whole and not _whole(cache, camera, lamps, samples):
            for lamp in lamps:
                _drop_torn(cache.lamp_folder(lamp, camera))
            raise MissingError(unit.name for unit in units)
    for parts in tiles:
        if parts[0].band is not None:
            remove_rows(cache.folder, list(filter(None, (
                cache.find_rows(lamp, camera, parts[0].band) for lamp in lamps))))
        for unit in parts:
            if not unit.whole:
                drop_passes(cache.folder, unit)


def _whole(cache: LampCache, camera: Camera, lamps: tuple[str, ...], samples: float) -> bool:
    files = [cache.find_rows(lamp, camera, None) for lamp in lamps]
    return all(file is not None and file.samples >= samples for file in files)


def _tile(cache: LampCache, camera: Camera, lamp: str, parts: list[Unit]) -> LampFile:
    """Return a lamp's light in a tile, every byte looked at; what is damaged is dropped."""
    unit = parts[0]
    found = cache.find_rows(lamp, camera, unit.band)
    if found is None or found.samples < unit.samples:
        _drop_torn(cache.rows_folder(lamp, camera, unit.band))
        raise MissingError(each.name for each in parts)
    return found


def _add_passes(job: StageJob, camera: Camera, parts: list[Unit]) -> None:
    """Add the passes of a tile in their order, and keep what its lamps have then."""
    cache, unit = job.lamp_cache, parts[0]
    if all((file := cache.find_rows(lamp, camera, unit.band)) is not None and file.samples >= unit.samples
           for lamp in unit.lamps):
        return
    bands, width = job.order.bands, unit.size[0]
    size = unit.rows[1] * width * len(unit.lamps) * bands
    there = before(cache, camera, unit)
    sums = KeptSums(unit.rows[1], width, len(unit.lamps), bands, there, job.order.backend)
    for part in parts:
        for number in range(*part.part[:2]):
            try:
                sums.add(*read_pass(cache.folder, part, number, size))
            except FramesError:
                drop_passes(cache.folder, part)
                raise MissingError([part.name]) from None
    gathered: list[Gathered] = [sums.gathered(lamp) for lamp in range(len(unit.lamps))]
    each = unit.samples // unit.passes
    cache.put_together(unit.lamps, camera, gathered, unit.start + each * unit.part[2], unit.band)
