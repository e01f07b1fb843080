"""A day's units over the machines of a `dask.distributed` cluster.

Only names go through the cluster: what a unit makes is a file in the cache, which all machines have to see
under the same path. Dask hands its workers pickled code, which they run: whoever reaches the scheduler can
have them do anything, so the network has to be trusted, or the cluster set up with TLS.
"""

from __future__ import annotations

import contextlib
import logging
import signal
from collections.abc import Iterator, Sequence
from multiprocessing import resource_tracker
from typing import Any

from previz.errors import RequestError
from previz.rendering.progress import Progress
from previz.rendering.shards.light import OutdatedError
from previz.rendering.shards.merge import MissingError
from previz.rendering.shards.units import unit_of
from previz.studies.shard.bench import Bench, is_done
from previz.studies.shard.day import task_of
from previz.studies.shard.plans import Plan
from previz.studies.shard.work import MOST_TRIES, Day, Row

LOCAL = "local"
"""Address of a cluster of this machine, which is started and ended with the work."""

SILENCE = 30.0
"""Seconds to wait for a scheduler. [s]"""


def do_unit(task: dict[str, Any], unit: dict[str, Any],
            lights: list[dict[str, Any]]) -> tuple[str, ...] | None:
    """Do one unit on a worker.

    Returns
    -------
    tuple of str or None
        Names of units that have to be done (again) before it; empty where it is done, None where its plan
        is of no more use.
    """
    from distributed import get_worker

    worker: Any = get_worker()
    if not hasattr(worker, "opened_bench"):
        # A stage stays on the device from one unit to the next.
        worker.opened_bench = Bench()
    asked, own = task_of(task), unit_of(unit)
    if is_done(asked, own):
        return ()
    try:
        worker.opened_bench.do(asked, own, [unit_of(each) for each in lights])
    except MissingError as missing:
        return missing.names or None
    except OutdatedError:
        return None
    return ()


@contextlib.contextmanager
def client_of(address: str, processes: int = 1, environment: dict[str, str] | None = None) -> Iterator[Any]:
    """Connect to a cluster, or start one of this machine's for `LOCAL`.

    Raises
    ------
    RequestError
        The library is not installed, or nobody answers.
    """
    try:
        import distributed
    except ImportError:
        raise RequestError("A cluster needs the library `distributed`.",
                           "Install it on all machines: `pip install 'previz[cluster]'`.") from None
    library: Any = distributed
    if address != LOCAL:
        try:
            client = library.Client(address, timeout=SILENCE)
        except (OSError, ValueError) as error:
            raise RequestError(f"No cluster answers at '{address}': {error}", "") from error
        with client:
            yield client
        return
    with _deaf_to_interrupts():
        own = library.LocalCluster(
            n_workers=processes, threads_per_worker=1, processes=True, dashboard_address=None,
            host="127.0.0.1", env=environment or {}, silence_logs=logging.ERROR)
    with own as cluster, library.Client(cluster) as client:
        yield client


@contextlib.contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let what is started meanwhile not hear Ctrl-C, which a terminal sends to all: this process ends it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # It would let interrupts through again where it has to be started first.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def over_cluster(client: Any, plans: Sequence[Plan], progress: Progress) -> tuple[Day, bool]:
    """Have a cluster do all units of some plans.

    Returns
    -------
    (Day, bool)
        The day as it stands then; True where its plan turned out to be of no more use.

    Raises
    ------
    RequestError
        A unit has failed again and again.
    """
    import distributed

    day, tries = Day(plans), dict[str, int]()
    undone = day.look()
    progress.start(day.total)
    progress.skip(day.total - sum(day.weight(row.unit) for row in undone))
    running: dict[str, Row] = {}
    library: Any = distributed
    completed = library.as_completed()

    def submit() -> None:
        for row in day.rows:
            key = f"{row.plan.task.cache}-{row.unit.name}"
            if row.done or key in running or not day.ready(row):
                continue
            tries[key] = tries.get(key, 0) + 1
            if tries[key] > MOST_TRIES:
                raise RequestError(
                    f"{row.plan.task.scene.stem}: {row.unit.label} was done {MOST_TRIES} times, and is not "
                    "there.", "All machines have to see the same folder, under the same path.")
            running[key] = row
            completed.add(client.submit(
                do_unit, row.plan.task.plain(), row.unit.plain(),
                [each.plain() for each in row.plan.lights(row.unit)], key=f"{key}-{tries[key]}", pure=False))

    try:
        submit()
        progress.show("the cluster is at work")
        while running:
            future = next(completed)
            row = running.pop(future.key.rpartition("-")[0])
            names = _found(future, row)
            if names is None:
                return day, True
            day.undo(row, names)
            row.done = not names and is_done(row.plan.task, row.unit)
            done = day.weight(row.unit) if row.done else 0.0
            progress.add(done, f"{row.plan.task.scene.stem}: {row.unit.label}")
            submit()
    finally:
        client.cancel([future for future in completed.futures if not future.done()])
    return day, False


def _found(future: Any, row: Row) -> tuple[str, ...] | None:
    """Return what `do_unit` gave back."""
    from distributed.scheduler import KilledWorker

    try:
        found: tuple[str, ...] | None = future.result()
    except KilledWorker as error:
        raise RequestError(
            f"Several workers have died of {row.plan.task.scene.stem}: {row.unit.label}.",
            "Their logs say why; a smaller --size or more --tiles take less memory.") from error
    return found
