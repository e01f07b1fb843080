"""Meters, lamp by lamp: the light of lamps that stand as they did is used again.

What a meter gathered is one file for one state of the whole stage. Where the stage is another, the
light of single lamps is taken from files of earlier states of the same set

- where nothing that the lamp's light depends on has changed, or
- where other lamps stand otherwise than they did, if their bodies do not count: paths from the
  meter through both stages, with the same random numbers, show that the lamp's light changes by
  less than `CHANGE` there, the standard error of that included.

With the file of a meter goes a mark, `near/<what the meter sees but the lamps>/<its name>`, by
which later states of the set find it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.frames.batches import Batches, read_meter, read_meter_note, write_meter
from previz.frames.layouts import marked
from previz.frames.together import together
from previz.frames.whole import FramesError, WholeFile, read_sealed, write_sealed
from previz.rendering.cache.body_files import WAS, as_they_stood, read_bodies
from previz.rendering.cache.owned import MARK, files_in, followed, remove_empty, remove_files
from previz.rendering.cache.plan import MOST_TRIED
from previz.stage.fingerprint import digest_of
from previz.stage.ingredients import SHORT, Ingredients
from previz.stage.records import Stage

if TYPE_CHECKING:
    from previz.rendering.job import StageJob

CHANGE = 0.005
"""Change of a lamp's light at a meter up to which the bodies of other lamps do not count; half of
the requested precision, where that is finer. [1]"""

MOST_READ = 16
"""Earlier states of a stage that are searched."""

NEAR = "near"


@dataclass(frozen=True, eq=False)
class Light:
    """What there is of one lamp at one meter.

    Parameters
    ----------
    sums : float array, shape (batch, 2, band)
    squares, fourths, hidden : float
    paths, rounds : int
        As in `Batches`.
    bodies : str
        Fingerprint of the bodies of all lamps as they stood.
    others : str
        Fingerprint of the bodies of all lamps but this one.
    """

    sums: np.ndarray
    squares: float
    fourths: float
    hidden: float
    paths: int
    rounds: int
    bodies: str
    others: str


Changes = Callable[[tuple[str, tuple[str, ...]], Stage, Stage, set[str], list[int]], np.ndarray]
"""(name of the pair of stages, old stage, new stage, names of what differs, meters) -> float array
(meter, light): how much the light of the new stage's lamps changes at some meters. [1]"""


class MeterCache:
    """The cached meters of a job's stage, and what of them other stages can use again."""

    def __init__(self, job: StageJob):
        self.job, self.settings = job, job.settings
        self.folder = Path(job.order.cache) / "meters"
        self.lamps = tuple(lamp.name for lamp in job.stage.lamps)

    @property
    def parts(self) -> Ingredients:
        """The stage's ingredients."""
        return self.job.lamp_cache.parts

    def key(self, lamp: str) -> str:
        """Return the fingerprint of how a lamp sends out its light, and of its own body."""
        return digest_of(self.parts.bodies[lamp], self.parts.lamps[lamp])[:SHORT]

    def _near(self, place: Any) -> Path:
        parts = self.parts
        name = digest_of(sorted(parts.things.values()), parts.air, place, list(self.settings))
        return self.folder / NEAR / name[:32]

    def write(self, batches: Batches, meters: Iterable[tuple[int, Path, Any, dict[str, Light]]]) -> None:
        """Keep what meters of batches have gathered, of all of them or of none.

        Parameters
        ----------
        meters : iterable of (int, Path, plain value, dict of str to Light)
            Number of a meter, its file, where it is and what it points at, and the lamps whose light was
            gathered, in part or in whole, with others standing otherwise.
        """
        self.job.lamp_cache.keep_bodies()
        with together(self.folder.parent) as files:
            for index, path, place, kept in meters:
                self._write(path, place, batches, index, kept, files.whole_file)

    def _write(self, path: Path, place: Any, batches: Batches, index: int, kept: dict[str, Light],
               whole: WholeFile) -> None:
        cache = self.job.lamp_cache
        # A file that is gone on with keeps its note of the lamps: what they gathered is in it.
        note = read_meter_note(path).get("lamps")
        if not note:
            note = [[self.key(lamp), kept[lamp].bodies, kept[lamp].others] if lamp in kept else
                    [self.key(lamp), cache.all_bodies, self.parts.other_bodies(lamp)]
                    for lamp in self.lamps]
        # The mark comes first: one without its file is nothing, a file without its mark is not found.
        mark = self._near(place) / path.name
        mark.parent.mkdir(parents=True, exist_ok=True)
        mark.touch()
        write_meter(path, batches, index, {"lamps": note}, whole)

    def as_it_stands(self, path: Path) -> bool:
        """Return False where a meter's file holds light of lamps with others standing otherwise."""
        note = read_meter_note(path).get("lamps", [])
        return len(note) == len(self.lamps) and all(
            others == self.parts.other_bodies(lamp)
            for lamp, (_, _, others) in zip(self.lamps, note, strict=True))

    def lights(self, place: Any, bands: int) -> list[dict[str, Light]]:
        """Return what earlier states of the stage hold of a meter, the last used first."""
        near = self._near(place)
        marks = [(mark.about.st_mtime, mark) for mark in files_in(self.folder.parent, (MARK,), near)]
        keys = {self.key(lamp): lamp for lamp in self.lamps}
        found = []
        for _, mark in sorted(marks, key=lambda pair: (pair[0], pair[1].path), reverse=True)[:MOST_READ]:
            path = self.folder / mark.path.name
            note = read_meter_note(path).get("lamps", [])
            read = Batches.empty(("",), map(str, range(len(note))), bands)
            if not note or not read_meter(path, read, 0):
                remove_files([mark])
                continue
            found.append({keys[key]: _light(read, 0, k, bodies, others)
                          for k, (key, bodies, others) in enumerate(note) if key in keys})
        return found

    def reusable(self, places: list[Any], bands: int, precision: float,
                 changes: Changes) -> tuple[list[dict[str, Light]], float]:
        """Return what can be used again of meters whose stage is another than it was.

        Parameters
        ----------
        places : list of plain value
            As of `write`, one a meter.
        precision : float
            Of the meters' request. [1]
        changes : function
            See `Changes`.

        Returns
        -------
        (list of dict of str to Light, float)
            One a meter; and the largest change that was put up with.
        """
        every = [self.lights(place, bands) for place in places]
        found = [self._unchanged(states) for states in every]
        if self.job.order.exact:
            return found, 0.0
        origins: dict[str, list[int]] = {}
        for index, states in enumerate(every):
            for bodies in dict.fromkeys(light.bodies for state in states
                                        for lamp, light in state.items() if lamp not in found[index]):
                origins.setdefault(bodies, []).append(index)
        worst, limit = 0.0, min(CHANGE, precision / 2)
        for bodies in sorted(origins, key=lambda each: -len(origins[each]))[:MOST_TRIED]:
            meters = origins[bodies]
            lights = [{lamp: light for state in reversed(every[m]) for lamp, light in state.items()
                       if light.bodies == bodies and lamp not in found[m]} for m in meters]
            lamps = [lamp for lamp in self.lamps if any(lamp in each for each in lights)]
            change = self._change([places[m] for m in meters], meters, bodies, lamps, changes)
            if change is None:
                continue
            for m, each, row in zip(meters, lights, change, strict=True):
                for lamp, off in zip(lamps, row, strict=True):
                    if lamp in each and off <= limit:
                        found[m][lamp] = each[lamp]
                        worst = max(worst, off)
        return found, worst

    def _unchanged(self, states: list[dict[str, Light]]) -> dict[str, Light]:
        """Return the light, of earlier states of one meter, that nothing has changed."""
        found: dict[str, Light] = {}
        for state in states:
            for lamp, light in state.items():
                if light.others == self.parts.other_bodies(lamp):
                    found.setdefault(lamp, light)
        return found

    def _change(self, places: list[Any], meters: list[int], bodies: str, lamps: list[str],
                changes: Changes) -> list[list[float]] | None:
        """Return what the bodies as they stood change at some meters, measured once and kept."""
        if not lamps:
            return None
        cache, parts = self.job.lamp_cache, self.parts
        name = digest_of("meters", sorted(parts.things.values()), parts.air, list(places), bodies,
                         cache.all_bodies, [self.key(lamp) for lamp in lamps],
                         list(self.settings))
        path = cache.folder / "verdicts" / f"{name[:32]}.json"
        with contextlib.suppress(FramesError, KeyError, TypeError, ValueError):
            kept = read_sealed(path, "previz_verdict", path.stem)["change"]
            return [[np.inf if c is None else float(c) for c in row] for row in kept]
        old = read_bodies(cache.bodies_path(bodies))
        if old is None:
            return None
        before, now, moved = as_they_stood(self.job.stage, parts, old, lamps)
        change: list[list[float]] = changes((bodies, tuple(lamps)), before, now,
                                            moved | {WAS + lamp for lamp in moved}, meters).tolist()
        write_sealed(path, {**marked("previz_verdict"), "change": [
            [float(c) if np.isfinite(c) else None for c in row] for row in change]}, path.stem)
        return change


def sweep_marks(cache: Path) -> None:
    """Remove the marks, in a cache's folder, of meters that are no longer there."""
    gone = [mark for mark in files_in(cache, (MARK,)) if followed(cache)
            and not (cache / "meters" / mark.path.name).exists()]
    for mark in remove_files(gone):
        remove_empty(mark.path.parent)
    remove_empty(cache / "meters" / NEAR)


def put(batches: Batches, index: int, kept: dict[str, Light]) -> None:
    """Put what is kept of some lamps into a meter; its paths are then the fewest of them.

    Sums of more paths are scaled to that, so that each batch's mean stays what it was.
    """
    paths = min(light.paths for light in kept.values())
    batches.paths[index] = paths
    for name, light in kept.items():
        _put(batches, index, name, light)
    batches.rounds[index] = max(light.rounds for light in kept.values())


def put_alone(batches: Batches, index: int, own: Batches, number: int) -> None:
    """Put lamps that were gathered alone, in meters of their own, to the others of a meter."""
    for k, name in enumerate(own.lights):
        _put(batches, index, name, _light(own, number, k))


def _light(batches: Batches, index: int, lamp: int, bodies: str = "", others: str = "") -> Light:
    """Return what a meter has of one lamp."""
    return Light(batches.sums[index, :, lamp], float(batches.squares[index, lamp]),
                 float(batches.fourths[index, lamp]), float(batches.hidden[index, lamp]),
                 int(batches.paths[index]), int(batches.rounds[index]), bodies, others)


def _put(batches: Batches, index: int, name: str, light: Light) -> None:
    """Put one lamp's light into a meter, scaled to the meter's paths."""
    lamp, share = batches.lights.index(name), float(batches.paths[index] / light.paths)
    batches.sums[index, :, lamp] = light.sums * share
    batches.squares[index, lamp] = light.squares * share**2
    batches.fourths[index, lamp] = light.fourths * share**4
    batches.hidden[index, lamp] = light.hidden
