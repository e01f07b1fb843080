"""Take one free unit after the other, and do it, until all that is wanted is there."""

from __future__ import annotations

import contextlib
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from previz.errors import RequestError
from previz.frames.together import finish
from previz.rendering.progress import Progress
from previz.rendering.shards.leases import EXPIRES, Leases
from previz.rendering.shards.light import OutdatedError
from previz.rendering.shards.merge import MissingError
from previz.rendering.shards.units import LIGHT, PICTURE, Unit
from previz.studies.shard.bench import Bench, is_done
from previz.studies.shard.day import Task
from previz.studies.shard.plans import Plan, plan_for

WAIT = 1.0
"""Seconds between looks at units that somebody else is at. [s]"""

MOST_TRIES = 3
"""How often one unit is done whose result is gone again."""

LIGHTLESS = 0.08
"""What a unit without paths of its own counts for the progress, of a middling unit of light. [1]"""

OnUnit = Callable[[Task, Unit], None]


@dataclass(frozen=True)
class Share:
    """The `number`-th of `of` hands that each do their share and wait for nobody, as in an array of jobs."""

    number: int
    of: int


@dataclass(eq=False)
class Row:
    """A unit of the day, and what is known of it."""

    plan: Plan
    unit: Unit
    number: int
    done: bool = False


class Day:
    """The units of a day's plans, in one list."""

    def __init__(self, plans: Sequence[Plan]):
        self.plans = list(plans)
        numbered = enumerate((plan, unit) for plan in self.plans for unit in plan.units)
        self.rows = [Row(plan, unit, number) for number, (plan, unit) in numbered]
        self._by_name = {(row.plan.task.cache, row.unit.name): row for row in self.rows}
        lights = sorted(row.unit.work for row in self.rows if row.unit.kind == LIGHT)
        self._lightless = LIGHTLESS * lights[len(lights) // 2] if lights else 1.0

    def look(self) -> list[Row]:
        """Look at what is not known to be done, and return what is not."""
        for plan in self.plans:
            finish(plan.task.cache)
        for row in self.rows:
            row.done = row.done or is_done(row.plan.task, row.unit)
        return [row for row in self.rows if not row.done]

    def ready(self, row: Row) -> bool:
        """Return whether all that comes before a unit is there."""
        for name in row.unit.after:
            other = self._by_name.get((row.plan.task.cache, name))
            if other is None:
                continue
            other.done = other.done or is_done(other.plan.task, other.unit)
            if not other.done:
                return False
        return True

    def undo(self, row: Row, names: Sequence[str]) -> None:
        """Take back that some units are done, as their results were not there or damaged."""
        for name in names:
            other = self._by_name.get((row.plan.task.cache, name))
            if other is not None:
                other.done = False

    @property
    def total(self) -> float:
        """All of the work, in paths."""
        return sum(self.weight(row.unit) for row in self.rows)

    def weight(self, unit: Unit) -> float:
        """Return what a unit counts. [paths]"""
        return unit.work or self._lightless


class Worker:
    """One hand at a day's work.

    Parameters
    ----------
    tasks : sequence of Task
    progress : Progress
    share : Share, optional
        Do only these units and those pictures that can be put together, and wait for nobody.
    pictures_only : bool
        Put together what there is, and do nothing else.
    expires : float
        See `leases.EXPIRES`. [s]
    on_unit : function, optional
        Called with each unit that this hand has done.
    """

    def __init__(self, tasks: Sequence[Task], progress: Progress, *, share: Share | None = None,
                 pictures_only: bool = False, expires: float = EXPIRES, on_unit: OnUnit | None = None):
        self.tasks, self.progress = list(tasks), progress
        self.share, self.pictures_only = share, pictures_only
        self.waits = share is None and not pictures_only
        self.expires, self.on_unit = expires, on_unit
        self.bench, self._tries = Bench(), Counter[str]()

    def run(self) -> Day:
        """Work until all is done, or nothing is left that is this hand's; return the day as it stands."""
        with contextlib.ExitStack() as stack:
            stack.callback(lambda: self.bench.close())
            leases = {task.cache: stack.enter_context(Leases(task.cache, self.expires))
                      for task in self.tasks}
            anew = False
            while True:
                plans = [plan_for(self.bench, task, self.progress, anew=anew) for task in self.tasks]
                day = Day(plans)
                outdated = self._through(day, leases)
                left = day.look()
                if not self.waits or not (outdated or left or any(plan.more for plan in plans)):
                    return day
                if anew and outdated:
                    raise RequestError("The scenes are being changed while they are rendered.",
                                       "Leave them as they are until all who share the work are done.")
                anew = outdated
                if anew:
                    self.bench.close()
                    self.bench = Bench()

    def _through(self, day: Day, leases: dict[Path, Leases]) -> bool:
        """Do the units of a day; return whether its plan turned out to be of no more use."""
        undone = day.look()
        self.progress.start(day.total)
        self.progress.skip(day.total - sum(day.weight(row.unit) for row in undone))
        outdated = False
        while undone and not outdated:
            busy = did = False
            for row in self._order(day, undone, leases):
                if row.done or not self._mine(row) or not day.ready(row):
                    continue
                if not leases[row.plan.task.cache].take(row.unit.name):
                    busy = True
                    continue
                try:
                    did = True
                    outdated = not self._do(day, row)
                finally:
                    leases[row.plan.task.cache].give_back(row.unit.name)
                break
            undone = [row for row in day.rows if not row.done]
            if did:
                continue
            if not (busy and self.waits):
                # What is left hangs on others' shares, or on nothing that this plan knows.
                return outdated or (bool(undone) and self.waits)
            self.progress.show("waiting for what others are at")
            time.sleep(WAIT)
            before = sum(day.weight(row.unit) for row in undone)
            undone = day.look()
            self.progress.skip(before - sum(day.weight(row.unit) for row in undone))
        return outdated

    def _mine(self, row: Row) -> bool:
        if row.unit.kind == PICTURE:
            return True
        if self.share is not None:
            return row.number % self.share.of == self.share.number - 1
        return not self.pictures_only

    def _order(self, day: Day, undone: list[Row], leases: dict[Path, Leases]) -> Iterator[Row]:
        """Yield units, those first whose stage is at hand, then those whose stage nobody else has taken."""
        held = [row for row in undone if self.bench.holds(row.plan.task, row.unit)]
        yield from held
        known = set(map(id, held))
        others = [row for row in undone if id(row) not in known]
        busy = {cache: each.others() for cache, each in leases.items()}
        taken = {(row.plan.task.cache, row.unit.option) for row in others
                 if row.unit.name in busy[row.plan.task.cache]}
        yield from sorted(others, key=lambda row: (
            (row.plan.task.cache, row.unit.option) in taken, row.number))

    def _do(self, day: Day, row: Row) -> bool:
        """Do a unit; return False where the plan is of no more use."""
        task, unit, weight = row.plan.task, row.unit, day.weight(row.unit)
        label = f"{task.scene.stem}: {unit.label}"
        if is_done(task, unit):
            row.done = True
            self.progress.skip(weight)
            self.progress.show(label)
            return True
        self._tries[unit.name] += 1
        if self._tries[unit.name] > MOST_TRIES:
            raise RequestError(f"What was rendered of {label} is gone again, {MOST_TRIES} times: the cache "
                               f"'{task.cache}' keeps less than this takes.",
                               "Give it more with `previz cache --limit`, or take fewer pictures at once.")
        counted = 0.0
        self.progress.show(label)

        def on_share(share: float) -> None:
            nonlocal counted
            self.progress.add(weight * (share - counted), label)
            counted = share

        try:
            self.bench.do(task, unit, row.plan.lights(unit) if unit.kind == PICTURE else (), on_share)
        except MissingError as missing:
            day.undo(row, missing.names)
            # Without a unit that could bring it, it has to be planned anew.
            return bool(missing.names)
        except OutdatedError:
            return False
        row.done = is_done(task, unit)
        self.progress.add(weight * (1.0 - counted), label)
        if row.done and self.on_unit is not None:
            self.on_unit(task, unit)
        return True
