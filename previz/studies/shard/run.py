"""A day's renders by many hands: tasks in; what is missing, what it takes and what it has cost out."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from previz.errors import RequestError
from previz.rendering.progress import Progress
from previz.studies.shard.bench import Bench
from previz.studies.shard.cluster import client_of, over_cluster
from previz.studies.shard.day import Task
from previz.studies.shard.estimate import USUAL_HANDS, Estimate, SceneCost, costs, estimate
from previz.studies.shard.plans import Plan, kept_plan, make_plan, plan_for
from previz.studies.shard.processes import places, share_out
from previz.studies.shard.work import Day, Share, Worker

MOST_ROUNDS = 8
"""How often a day is planned anew, where pictures go on with what others make or results were lost."""


@dataclass(frozen=True)
class Hands:
    """Who does the work.

    Parameters
    ----------
    share : Share, optional
        This process does its share and waits for nobody.
    merge : bool
        Only put together what is there.
    processes : int, optional
        So many processes of this machine share its cores.
    gpus : int or 'auto', optional
        So many GPUs of this machine, a process each.
    cluster : str, optional
        Address of a cluster's scheduler, or 'local'.
    """

    share: Share | None = None
    merge: bool = False
    processes: int | None = None
    gpus: int | str | None = None
    cluster: str | None = None

    @property
    def count(self) -> int:
        """How many like one of them there are, as far as it is known here."""
        if self.gpus is not None:
            return len(places(None, self.gpus))
        return self.share.of if self.share else USUAL_HANDS


@dataclass(frozen=True, eq=False)
class Shared:
    """What came of it.

    Parameters
    ----------
    estimate : Estimate
        What was missing before.
    seconds : float
        By the clock of this call. [s]
    costs : tuple of SceneCost
        Of all hands so far.
    day : Day
        The units as they stand.
    """

    estimate: Estimate
    seconds: float
    costs: tuple[SceneCost, ...]
    day: Day

    @property
    def missing(self) -> list[str]:
        """Units that are missing, in words."""
        more = ["pictures that go on with these"] if any(plan.more for plan in self.day.plans) else []
        undone = [row for row in self.day.rows if not row.done]
        return [f"{row.plan.task.scene.stem}: {row.unit.label}" for row in undone] + more

    def plain(self) -> dict[str, Any]:
        """Return it as plain values."""
        units = [{"number": row.number + 1, "scene": str(row.plan.task.scene), "done": row.done,
                  "label": row.unit.label, **row.unit.plain()} for row in self.day.rows]
        return {"estimate": asdict(self.estimate), "seconds": self.seconds,
                "costs": [asdict(each) for each in self.costs], "units": units}


def shard(tasks: Sequence[Task], hands: Hands | None = None, *, only_estimate: bool = False,
          told: Callable[[Estimate], None] | None = None, progress: Progress | None = None) -> Shared:
    """Render what is missing of a day in units that many share.

    Parameters
    ----------
    tasks : sequence of Task
    hands : Hands, optional
        This process alone by default, together with whoever does the same at the same folder.
    only_estimate : bool
        Render and write nothing.
    told : function, optional
        Called with the estimate before anything is rendered.
    progress : Progress, optional

    Raises
    ------
    RequestError
        A scene has no such option or camera; scenes are changed meanwhile; hands that there are not.
    """
    hands, progress, began = hands or Hands(), progress or Progress(), time.monotonic()
    bench = Bench()
    try:
        # A scene with faults is refused before any work.
        for task in tasks:
            bench.file(task)
        if only_estimate:
            plans = [kept_plan(task) or make_plan(bench, task, progress, measure=False) for task in tasks]
        else:
            plans = [plan_for(bench, task, progress) for task in tasks]
        progress.end()
        day = Day(plans)
        day.look()
        ahead = estimate(plans, day)
        if told is not None:
            told(ahead)
        if not only_estimate and (day.look() or any(plan.more for plan in plans)):
            try:
                day = _done(tasks, plans, hands, bench, progress)
            finally:
                progress.end()
    finally:
        bench.close()
    spent = () if only_estimate else tuple(costs(day.plans))
    return Shared(ahead, time.monotonic() - began, spent, day)


def _done(tasks: Sequence[Task], plans: Sequence[Plan], hands: Hands, bench: Bench,
          progress: Progress) -> Day:
    """Have the hands do it, and return the day as it stands then."""
    if hands.cluster is None and hands.processes is None and hands.gpus is None:
        return Worker(tasks, progress, share=hands.share, pictures_only=hands.merge).run()
    environments = places(hands.processes, hands.gpus)
    if hands.cluster is None:
        # Planned here, so that the processes find plans and the device is free for them.
        bench.close()
    with contextlib.ExitStack() as stack:
        client = None if hands.cluster is None else stack.enter_context(
            client_of(hands.cluster, len(environments), environments[0]))
        anew = False
        for _ in range(MOST_ROUNDS):
            if client is None:
                day, anew = share_out(tasks, plans, environments, progress), False
            else:
                day, anew = over_cluster(client, plans, progress)
            if not anew and not day.look() and not any(plan.more for plan in plans):
                return day
            bench = Bench()
            plans = [plan_for(bench, task, progress, anew=anew) for task in tasks]
            bench.close()
    raise RequestError(
        "What was rendered is gone again, time after time.",
        "Give the cache more with `previz cache --limit`, and leave the scenes as they are meanwhile.")
