"""The plan of a scene's units: made once, and kept in the cache for all who share the work."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from previz import __version__
from previz.errors import RequestError
from previz.frames.layouts import marked
from previz.frames.lock import only_writer
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.owned import mark
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.shards.planning import Coming, plan_meters, plan_picture
from previz.rendering.shards.results import SHARDS
from previz.rendering.shards.units import LIGHT, Unit, unit_of
from previz.sight.rig_seen import scan_file
from previz.stage.fingerprint import digest_of
from previz.studies.selection import label_of
from previz.studies.shard.bench import Bench, is_done
from previz.studies.shard.day import Task


@dataclass(frozen=True)
class Plan:
    """The units of a task.

    Parameters
    ----------
    task : Task
    units : tuple of Unit
        In an order in which each comes after those that it hangs on.
    pictures : int
        How many are wanted, those included that are there.
    more : bool
        Whether pictures are left that can be planned only when these are there.
    earlier : tuple of str
        Names of units of plans that this one has followed.
    """

    task: Task
    units: tuple[Unit, ...]
    pictures: int
    more: bool
    earlier: tuple[str, ...] = ()

    def lights(self, picture: Unit) -> list[Unit]:
        """Return the units of light that a picture comes after."""
        return [unit for unit in self.units if unit.kind == LIGHT and unit.name in picture.after]


def plan_path(task: Task, what: str = "plan") -> Path:
    """Return the file that keeps the plan of a task, or what it has cost."""
    plain = task.plain()
    # The text says which scene it is: its path is another on another machine.
    for want in plain["wants"]:
        want["request"].pop("backend")
    text = task.scene.read_bytes().decode("utf-8", "replace")
    name = digest_of(text, str(plain["split"]), str(plain["wants"]), __version__)[:32]
    return task.cache / SHARDS / f"{what}-{name}.json"


def kept_plan(task: Task) -> Plan | None:
    """Return the plan that is kept of a task; None where there is none, or it is damaged."""
    path = plan_path(task)
    try:
        found = read_sealed(path, "previz_shards", path.stem)
        return Plan(task, tuple(map(unit_of, found["units"])), int(found["pictures"]), bool(found["more"]),
                    tuple(found["earlier"]))
    except (FramesError, KeyError, TypeError, ValueError):
        return None


def keep_plan(plan: Plan) -> None:
    """Keep a plan for all who share the work."""
    path = plan_path(plan.task)
    mark(plan.task.cache)
    write_sealed(path, {**marked("previz_shards"), "units": [unit.plain() for unit in plan.units],
                        "pictures": plan.pictures, "more": plan.more,
                        "earlier": list(plan.earlier)}, path.stem)


def plan_for(bench: Bench, task: Task, progress: Progress, *, anew: bool = False) -> Plan:
    """Return the plan of a task: the one that is kept, or one that is made and kept, with what bodies do.

    Parameters
    ----------
    anew : bool
        Whether the kept one is of no more use: a result is missing that it has no unit for.
    """
    # Who comes meanwhile waits, and finds it.
    with only_writer(task.cache / SHARDS):
        kept = kept_plan(task)
        if kept is None or anew or (kept.more and all(is_done(task, unit) for unit in kept.units)):
            made = make_plan(bench, task, progress, measure=True)
            if kept is not None:
                now = {unit.name for unit in made.units}
                before = dict.fromkeys([*kept.earlier, *(unit.name for unit in kept.units)])
                made = replace(made, earlier=tuple(name for name in before if name not in now))
            keep_plan(made)
            return made
        return kept


def make_plan(bench: Bench, task: Task, progress: Progress, *, measure: bool) -> Plan:
    """Return a plan of what is missing of a task.

    Parameters
    ----------
    measure : bool
        Whether what bodies of lamps do is measured where it is not known. Without, nothing is written and no
        engine is needed, and more may come out than will be rendered.

    Raises
    ------
    RequestError
        The scene has no such option or camera, or none at all.
    """
    coming, units, count, more = Coming(), dict[str, Unit](), 0, False
    last: dict[str, str] = {}
    for want, wanted in enumerate(task.wants):
        try:
            cameras = bench.cameras(task, want)
        except RequestError as error:
            # Of several scenes it has to be said which.
            raise RequestError(f"{task.scene}: {error.message}", error.advice) from error
        jobs: dict[str, StageJob] = {}
        for option, seen in cameras.items():
            opened = bench.opened(task, want, option, keep=True)
            for camera in seen:
                count += 1
                progress.show(f"planning {label_of(option, f'camera {camera.name}')}")
                jobs[option] = opened.job
                if more:
                    continue
                job = opened.job.like(wanted.request.order(camera.aspect))
                found = plan_picture(job, camera, coming, task.split, measure=measure, want=want,
                                     option=option, seen=[scan_file(job, camera, opened.bodies)])
                more = found is None
                for unit in found or ():
                    # What two options have in common is the first one's.
                    units.setdefault(unit.name, unit)
                # What bodies do has been measured: the device is for others.
                opened.job.close()
        for unit in () if more else plan_meters(jobs, want, wanted.request.precision, last):
            units.setdefault(unit.name, unit)
    bench.close()
    return Plan(task, tuple(units.values()), count, more)
