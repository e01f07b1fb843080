"""What a day's renders take, before, and what they have cost, after."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

from previz.engine.backend import runs_on
from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.limit import limit_of
from previz.rendering.machine import disk_left
from previz.rendering.needs import Picture, needs_of
from previz.rendering.pace import changed, kept_pace
from previz.rendering.shards.results import SHARDS, cost_of
from previz.rendering.shards.units import LIGHT, METERS, PICTURE, VIEW
from previz.studies.shard.plans import Plan, plan_path
from previz.studies.shard.work import Day

EACH = {VIEW: 1.8, METERS: 2.0, PICTURE: 0.4}
"""Seconds of a unit that is not of light, of meters for each option, where no work was shared here yet: of a
shipped set on two cores. [s]"""

USUAL_HANDS = 4
"""Machines that the time is told for besides one, where nobody says how many there are."""


@dataclass(frozen=True)
class Estimate:
    """What is missing of a day, and what it takes.

    Parameters
    ----------
    scenes, pictures, there : int
        How many scenes and pictures, and how many of these are in the cache.
    units : dict of str to int
        Kind -> how many units are missing.
    paths : float
        That are to be traced.
    seconds : float or None
        Of this machine, by the pace of its last render; None where no render on it tells. [s]
    disk, free : float or None
        What it adds to the disk, and what is free there. [byte]
    doubts : tuple of str
        What may be short.
    """

    scenes: int
    pictures: int
    there: int
    units: dict[str, int]
    paths: float
    seconds: float | None
    disk: float
    free: float | None
    doubts: tuple[str, ...] = ()

    def lines(self, hands: int = USUAL_HANDS) -> list[str]:
        """Return it in words, also for so many machines or GPUs like this one."""
        words = {"light": "of light", "view": "of what cameras see", "meters": "of meters",
                 "picture": "that put pictures together"}
        counted = ((self.units.get(kind), what) for kind, what in words.items())
        missing = ", ".join(f"{count} {what}" for count, what in counted if count)
        # There, or of the light that another option brings.
        needs = "need" if self.there > 1 else "needs"
        there = f", {self.there} of which {needs} nothing new" if self.there else ""
        found = [f"{_count(self.scenes, 'scene')}, {_count(self.pictures, 'picture')}{there}. "
                 + (f"Units of work that are missing: {missing}." if missing else "Nothing is missing.")]
        if missing:
            left = "" if self.free is None else f", {_size(self.free)} are free"
            found.append(f"{_paths(self.paths)}, {_size(self.disk)} on the disk{left}.")
            found.append(self._time(hands))
        return [*found, *self.doubts]

    def _time(self, hands: int) -> str:
        if self.seconds is None:
            return ("How long it takes is not known: no render here was long enough on this machine to tell.")
        more = f"; {_span(self.seconds / hands)} of {hands} like it" if hands > 1 else ""
        return f"About {_span(self.seconds)} of this machine alone{more}, by the pace of its last render."


def estimate(plans: Sequence[Plan], day: Day) -> Estimate:
    """Return what is missing of some plans, and what it takes on this machine."""
    missing = [row for row in day.rows if not row.done]
    kinds: dict[str, int] = {}
    for row in missing:
        kinds[row.unit.kind] = kinds.get(row.unit.kind, 0) + 1
    paths = sum(row.unit.work for row in missing if row.unit.kind == LIGHT)
    seconds: float | None = 0.0
    disk, doubts = 0.0, []
    each = _known_each(plans)
    for plan in plans:
        own = [row.unit for row in missing if row.plan is plan]
        request = plan.task.wants[0].request
        pace = kept_pace(plan.task.cache, runs_on(request.backend))
        work = sum(unit.work for unit in own)
        if seconds is not None:
            rest = sum(each[unit.kind] * max(len(unit.options), 1) for unit in own if unit.kind != LIGHT)
            seconds = None if work and pace is None else seconds + rest + work / (pace or 1.0)
        takes = _on_disk(plan, {unit.name for unit in own})
        disk += takes
        most = limit_of(plan.task.cache)
        if takes > most:
            doubts.append(f"The cache '{plan.task.cache}' keeps {_size(most)}, and {plan.task.scene.name} "
                          f"takes {_size(takes)}: set more with `previz cache --limit`, else what was used "
                          "longest ago goes.")
    free = disk_left(plans[0].task.cache) if plans else None
    if free is not None and disk > free:
        doubts.append(f"The disk is too small: {_size(disk)} are needed, and {_size(free)} are free at "
                      f"'{plans[0].task.cache.parent}'.")
    pictures = sum(plan.pictures for plan in plans)
    # Of a plan that goes on with what it makes only a part is known.
    if any(plan.more for plan in plans):
        doubts.append("Some pictures go on with what others make first: they come on top.")
    return Estimate(len(plans), pictures, pictures - kinds.get(PICTURE, 0), kinds, paths, seconds, disk, free,
                    tuple(doubts))


def _on_disk(plan: Plan, missing: set[str]) -> float:
    """Return what the pictures of a plan that are missing add to the disk. [byte]"""
    found = 0.0
    for unit in plan.units:
        if unit.kind == PICTURE and unit.name in missing:
            lights = [each for each in plan.lights(unit) if each.name in missing]
            whole = unit.size[0] * unit.size[1] * unit.samples * max(len(unit.lamps), 1)
            share = sum(each.work * len(each.lamps) for each in lights) / max(whole, 1)
            bands = plan.task.wants[unit.want].request.bands
            picture = Picture(*unit.size, len(unit.lamps), bands, unit.samples, missing=min(share, 1.0))
            found += needs_of([picture]).disk
            # Passes that wait to be added lie there as well.
            found += sum(4.0 * bands * len(each.lamps) * each.size[0] * each.rows[1]
                         * (each.part[1] - each.part[0]) for each in lights if not each.whole)
    return found


@dataclass(frozen=True)
class SceneCost:
    """What the renders of a scene have cost, whoever did them.

    Parameters
    ----------
    scene : str
    units : int
    paths : float
    seconds : float
        By the clocks of all who took part, added up. [s]
    processor, gpu : float
        Time of processors' threads, and of GPUs by the clock. [s]
    machines : int
        How many took part.
    mixed : bool
        Whether processors and GPUs traced light of it, whose bits differ.
    each : dict of str to float
        Kind of unit -> seconds of one, of meters for each option. [s]
    runs_on : str
        'processor' or 'gpu', where not both have traced light.
    """

    scene: str
    units: int
    paths: float
    seconds: float
    processor: float
    gpu: float
    machines: int
    mixed: bool
    each: dict[str, float]
    runs_on: str

    def line(self) -> str:
        """Return it in words."""
        gpu = f", {_span(self.gpu)} of GPU time" if self.gpu else ""
        mixed = ("; processors and GPUs have taken part: to the bit the same as from one kind alone it is not"
                 if self.mixed else "")
        return (f"{self.scene}: {_count(self.units, 'unit')}, {_paths(self.paths)}, "
                f"{_span(self.seconds)} of work, {_span(self.processor)} of processor time{gpu}, "
                f"{_count(self.machines, 'machine')}{mixed}.")


def costs(plans: Iterable[Plan]) -> list[SceneCost]:
    """Return what the units of some plans have cost, and keep it beside each plan."""
    found = []
    for plan in plans:
        names = [unit.name for unit in plan.units]
        every = (cost_of(plan.task.cache, name) for name in (*plan.earlier, *names))
        known = [each for each in every if each is not None]
        if not known:
            continue
        kinds = sorted({cost.runs_on for kind, cost in known if kind == LIGHT})
        one = SceneCost(
            plan.task.scene.name, len(known), sum(cost.paths for _, cost in known),
            sum(cost.seconds for _, cost in known), sum(cost.processor for _, cost in known),
            sum(cost.seconds for kind, cost in known if cost.runs_on == "gpu" and kind != PICTURE),
            len({cost.machine for _, cost in known}), len(kinds) > 1, _each(plan), "".join(kinds[:1]))
        path = plan_path(plan.task, "cost")
        write_sealed(path, {**marked("previz_shards"), "cost": asdict(one)}, path.stem)
        found.append(one)
    return found


def _each(plan: Plan) -> dict[str, float]:
    """Return kind -> seconds that a unit of a plan has taken, of meters for each option. [s]"""
    found = {}
    for kind in EACH:
        spent, count = 0.0, 0
        for unit in plan.units:
            known = cost_of(plan.task.cache, unit.name) if unit.kind == kind else None
            if known is not None:
                spent, count = spent + known[1].seconds, count + max(len(unit.options), 1)
        if count:
            found[kind] = spent / count
    return found


def _known_each(plans: Sequence[Plan]) -> dict[str, float]:
    """Return kind -> seconds of a unit, as the last work here has it, of these scenes before others. [s]"""
    each = dict(EACH)
    if plans:
        request, cache = plans[0].task.wants[0].request, plans[0].task.cache
        running = runs_on(request.backend)
        notes = cache.parent.parent.glob(f"*/{cache.name}/{SHARDS}/cost-*.json")
        own = {plan.task.cache for plan in plans}
        for path in sorted(notes, key=lambda path: (path.parent.parent in own, changed(path))):
            with contextlib.suppress(FramesError, KeyError, TypeError, ValueError, AttributeError):
                cost = read_sealed(path, "previz_shards", path.stem)["cost"]
                if cost["runs_on"] == running:
                    each |= {kind: float(value) for kind, value in cost["each"].items() if kind in EACH}
    return each


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _paths(count: float) -> str:
    if count < 1e5:
        return f"{count:.0f} paths"
    return f"{count / 1e6:.3g} million paths" if count < 1e9 else f"{count / 1e9:.3g} thousand million paths"


def _size(count: float) -> str:
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.{0 if count >= 1e7 else 1}f} MB"


def _span(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.{0 if seconds >= 10 else 1}f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"
