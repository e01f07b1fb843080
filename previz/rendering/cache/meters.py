"""Meters, lamp by lamp: the light of lamps that stand as they did is used again.

What a meter gathered is one file for one state of the whole stage. Where the stage is another, the
light of single lamps is taken from files of earlier states of the same set

- where nothing that the lamp's light depends on has changed, or
- where other lamps stand otherwise than they did, if their bodies do not count: paths from the
  meter through both stages, with the same random numbers, show that the lamp's light changes by
  less than `CHANGE` there, the standard error of that included.

Beside the file of a meter lies a mark, `near/<what the meter sees but the lamps>/<its name>`, by
which later states of the set find it.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.frames.batches import Batches, read_meter, told_of_meter, write_meter
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.body_files import WAS, as_things, read_bodies
from previz.rendering.cache.plan import MOST_TRIED
from previz.stage.bodies import lit_by, with_other_bodies
from previz.stage.fingerprint import digest_of
from previz.stage.ingredients import SHORT

CHANGE = 0.005
"""Change of a lamp's light at a meter up to which the bodies of other lamps do not count; half of
the precision that is asked for, where that is finer. [1]"""

MOST_READ = 16
"""Earlier states of a stage that are looked at."""

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


class MeterShelf:
    """Where the meters of a stage are kept, and what of them other stages have a use for.

    Parameters
    ----------
    job : job.StageJob
    settings : tuple
        Seed, bands, limits, version: whatever else the numbers depend on.
    """

    def __init__(self, job, settings: tuple):
        self.job, self.settings = job, settings
        self.folder = Path(job.order.cache) / "meters"
        self.lamps = tuple(lamp.name for lamp in job.stage.lamps)

    @property
    def parts(self):
        """The stage's ingredients."""
        return self.job.shelf.parts

    def key(self, lamp: str) -> str:
        """Return the fingerprint of how a lamp sends out its light, and of its own body."""
        return digest_of(self.parts.bodies[lamp], self.parts.lamps[lamp])[:SHORT]

    def _near(self, place) -> Path:
        parts = self.parts
        name = digest_of(sorted(parts.things.values()), parts.air, place, list(self.settings))
        return self.folder / NEAR / name[:32]

    def write(self, path: Path, place, batches: Batches, index: int, kept: dict) -> None:
        """Keep what a meter has gathered.

        Parameters
        ----------
        path : Path
        place : plain value
            Where the meter is and what it looks at.
        batches : Batches
        index : int
            Which of its meters.
        kept : dict of str to Light
            Lamps whose light was gathered, in part or in whole, with others standing otherwise.
        """
        shelf = self.job.shelf
        shelf.keep_bodies()
        # A file that is gone on with keeps what it tells of its lamps: what they gathered is in it.
        told = told_of_meter(path).get("lamps")
        if not told:
            told = [[self.key(lamp), kept[lamp].bodies, kept[lamp].others] if lamp in kept else
                    [self.key(lamp), shelf.all_bodies, self.parts.other_bodies(lamp)]
                    for lamp in self.lamps]
        write_meter(path, batches, index, {"lamps": told})
        mark = self._near(place) / path.name
        mark.parent.mkdir(parents=True, exist_ok=True)
        mark.touch()

    def as_it_stands(self, path: Path) -> bool:
        """Return False where a meter's file holds light of lamps with others standing otherwise."""
        told = told_of_meter(path).get("lamps", [])
        return all(others == self.parts.other_bodies(lamp)
                   for lamp, (_, _, others) in zip(self.lamps, told, strict=False))

    def lights(self, place, bands: int) -> list[dict[str, Light]]:
        """Return what earlier states of the stage hold of a meter, the last used first."""
        marks = []
        for mark in self._near(place).glob("*.npz"):
            with contextlib.suppress(OSError):
                marks.append((mark.stat().st_mtime, mark))
        keys = {self.key(lamp): lamp for lamp in self.lamps}
        found = []
        for _, mark in sorted(marks, reverse=True)[:MOST_READ]:
            told = told_of_meter(self.folder / mark.name).get("lamps", [])
            read = Batches.empty(("",), range(len(told)), bands)
            if not told or not read_meter(self.folder / mark.name, read, 0):
                mark.unlink(missing_ok=True)
                continue
            found.append({keys[key]: Light(read.sums[0, :, k], float(read.squares[0, k]),
                                           float(read.fourths[0, k]), float(read.hidden[0, k]),
                                           int(read.paths[0]), int(read.rounds[0]), bodies, others)
                          for k, (key, bodies, others) in enumerate(told) if key in keys})
        return found

    def _as_they_stand(self, lamp: str, light: Light) -> bool:
        return light.others == self.parts.other_bodies(lamp)

    def beside(self, places, bands: int, precision: float, changes) -> tuple[list, float]:
        """Return what can be used again of meters whose stage is another than it was.

        Parameters
        ----------
        places : sequence of plain value
            As of `write`, one a meter.
        bands : int
        precision : float
            That is asked of the meters. [1]
        changes : function
            (what tells the two stages from others, old stage, new stage, names of what differs,
            meters) -> float array (meter, light). How much the light of the new stage's lamps
            changes at some meters.

        Returns
        -------
        (list of dict of str to Light, float)
            One a meter; and the largest change that was put up with.
        """
        every = [self.lights(place, bands) for place in places]
        found: list[dict[str, Light]] = [{} for _ in places]
        origins: dict[str, set[int]] = {}
        for index, states in enumerate(every):
            for state in states:
                for lamp, light in state.items():
                    if self._as_they_stand(lamp, light):
                        found[index].setdefault(lamp, light)
            for state in states if not self.job.order.exact else ():
                for lamp, light in state.items():
                    if lamp not in found[index]:
                        origins.setdefault(light.bodies, set()).add(index)
        worst = 0.0
        limit = min(CHANGE, precision / 2)
        for bodies in sorted(origins, key=lambda each: -len(origins[each]))[:MOST_TRIED]:
            meters = sorted(origins[bodies])
            lights = [{lamp: light for state in reversed(every[m]) for lamp, light in state.items()
                       if light.bodies == bodies and lamp not in found[m]} for m in meters]
            lamps = [lamp for lamp in self.lamps if any(lamp in each for each in lights)]
            told = self._change([places[m] for m in meters], meters, bodies, lamps, changes)
            if told is None:
                continue
            for m, each, row in zip(meters, lights, told, strict=True):
                for lamp, change in zip(lamps, row, strict=True):
                    if lamp in each and change <= limit:
                        found[m][lamp] = each[lamp]
                        worst = max(worst, change)
        return found, worst

    def _change(self, places, meters, bodies: str, lamps, changes):
        """Return what the bodies as they stood change at some meters, measured once and kept."""
        if not lamps:
            return None
        shelf, parts = self.job.shelf, self.parts
        name = digest_of("meters", sorted(parts.things.values()), parts.air, list(places), bodies,
                         shelf.all_bodies, [self.key(lamp) for lamp in lamps],
                         list(self.settings))
        path = shelf.cache / "verdicts" / f"{name[:32]}.json"
        with contextlib.suppress(FramesError, KeyError, TypeError, ValueError):
            told = read_sealed(path, "previz_verdict")["change"]
            return [[np.inf if c is None else float(c) for c in row] for row in told]
        old = read_bodies(shelf.bodies_path(bodies))
        if old is None:
            return None
        now, stage = parts.bodies, self.job.stage
        things, surfaces = as_things(old, {now[lamp] for lamp in lamps})
        before, there = {digest for _, digest, _, _ in old}, set(now.values())
        moved = {lamp for lamp, digest, _, _ in old if digest not in there}
        moved |= {lamp for lamp, digest in now.items() if digest and digest not in before}
        change = changes((bodies, tuple(lamps)),
                         with_other_bodies(stage, things, surfaces, lamps), lit_by(stage, lamps),
                         moved | {WAS + lamp for lamp in moved}, meters)
        write_sealed(path, {"previz_verdict": 1, "change": [
            [None if not np.isfinite(c) else float(c) for c in row] for row in change]})
        return change


def sweep_marks(folder: Path) -> None:
    """Remove the marks of meters that are no longer there.

    Parameters
    ----------
    folder : Path
        Of the meters.
    """
    for near in (folder / NEAR).glob("*"):
        for mark in near.glob("*"):
            if not (folder / mark.name).exists():
                mark.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            near.rmdir()
    with contextlib.suppress(OSError):
        (folder / NEAR).rmdir()


def put(batches: Batches, index: int, kept: dict[str, Light]) -> None:
    """Put what is kept of some lamps into a meter; its paths are then the fewest of them.

    Sums of more paths are scaled to that, so that each batch's mean stays what it was.
    """
    paths = min(light.paths for light in kept.values())
    for lamp, light in kept.items():
        lamp, share = batches.lights.index(lamp), paths / light.paths
        batches.sums[index, :, lamp] = light.sums * share
        batches.squares[index, lamp] = light.squares * share**2
        batches.fourths[index, lamp] = light.fourths * share**4
        batches.hidden[index, lamp] = light.hidden
    batches.paths[index] = paths
    batches.rounds[index] = max(light.rounds for light in kept.values())


def put_alone(batches: Batches, index: int, own: Batches, number: int) -> None:
    """Put lamps that were gathered alone, in meters of their own, beside the others of a meter."""
    share = batches.paths[index] / own.paths[number]
    for k, lamp in enumerate(own.lights):
        lamp = batches.lights.index(lamp)
        batches.sums[index, :, lamp] = own.sums[number, :, k] * share
        batches.squares[index, lamp] = own.squares[number, k] * share**2
        batches.fourths[index, lamp] = own.fourths[number, k] * share**4
        batches.hidden[index, lamp] = own.hidden[number, k]
