"""Several processes of this machine at one day's work: a GPU each, or a share of the cores each."""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from dataclasses import replace

from previz.engine.benchmark import usable_cores
from previz.errors import EngineError, RequestError
from previz.rendering.progress import Progress
from previz.studies.shard.day import Task
from previz.studies.shard.plans import Plan
from previz.studies.shard.work import Day

PATIENCE = 60.0
"""Seconds that processes have to put away what they are at. [s]"""

MOST_STARTS = 3
"""How often all processes are started: one that dies is not waited for, its units go to the others."""


def gpus() -> list[str]:
    """Return the GPUs of this machine, as `CUDA_VISIBLE_DEVICES` names them.

    Source: CUDA driver API, cuDeviceGetCount; CUDA C++ programming guide, CUDA environment variables.
    """
    for name in ("libcuda.so.1", "nvcuda.dll"):
        with contextlib.suppress(OSError):
            driver, count = ctypes.CDLL(name), ctypes.c_int()
            if driver.cuInit(0) == 0 and driver.cuDeviceGetCount(ctypes.byref(count)) == 0:
                named = os.environ.get("CUDA_VISIBLE_DEVICES", "")
                listed = [each.strip() for each in named.split(",") if each.strip()]
                return listed[:count.value] or [str(number) for number in range(count.value)]
    return []


def places(processes: int | None, wanted: int | str | None) -> list[dict[str, str]]:
    """Return what each process has in its environment.

    Parameters
    ----------
    processes : int, optional
        How many share the processor.
    wanted : int or 'auto', optional
        How many GPUs, one process each; 'auto' takes all.

    Raises
    ------
    EngineError
        There are not so many GPUs.
    """
    if wanted is not None:
        there = gpus()
        count = len(there) if wanted == "auto" else int(wanted)
        if not there or count > len(there):
            if not there:
                raise EngineError("No CUDA device was found.",
                                  "Check the driver, or give --processes for the processor.")
            raise EngineError(f"There {'is 1 GPU' if len(there) == 1 else f'are {len(there)} GPUs'} here.",
                              "Give --gpus auto for all of them.")
        return [{"CUDA_VISIBLE_DEVICES": each} for each in there[:count]]
    count = processes or 1
    threads = max(1, usable_cores() // count)
    return [{"PREVIZ_THREADS": os.environ.get("PREVIZ_THREADS", str(threads))} for _ in range(count)]


def share_out(tasks: Sequence[Task], plans: Sequence[Plan], environments: Sequence[dict[str, str]],
              progress: Progress) -> Day:
    """Have processes do all units of some tasks; return the day as it stands then.

    Raises
    ------
    RequestError
        A process said that something is to be mended, or they have died again and again.
    """
    day = Day(plans)
    backend = "gpu" if environments and "CUDA_VISIBLE_DEVICES" in environments[0] else "processor"
    tasks = [replace(task, wants=tuple(replace(want, request=replace(want.request, backend=backend))
                                       for want in task.wants)) for task in tasks]
    progress.start(day.total)
    said: dict[tuple[str, str], float] = {
        (str(row.plan.task.cache.resolve()), row.unit.name): day.weight(row.unit) for row in day.rows}
    progress.skip(day.total - sum(day.weight(row.unit) for row in day.look()))
    for _ in range(MOST_STARTS):
        errors = _Crew(tasks, environments).work(said, progress)
        if errors:
            raise RequestError(errors[0], "")
        if not day.look():
            break
    return day


class _Crew:
    """Some processes at work."""

    def __init__(self, tasks: Sequence[Task], environments: Sequence[dict[str, str]]):
        order = json.dumps({"tasks": [task.plain() for task in tasks]}) + "\n"
        self.lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.processes = [self._started(order, each) for each in environments]

    def _started(self, order: str, environment: dict[str, str]) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "previz.studies.shard.process"], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, text=True, encoding="utf-8", env={**os.environ, **environment},
            start_new_session=True)
        assert process.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            process.stdin.write(order)
            process.stdin.close()
        threading.Thread(target=self._read, args=(process,), daemon=True).start()
        return process

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            self.lines.put(line)
        process.stdout.close()
        # One that has died and is not waited for seems to be there still, and its leases held.
        process.wait()
        self.lines.put(None)

    def work(self, weights: dict[tuple[str, str], float], progress: Progress) -> list[str]:
        """Wait until all have ended, and return what is to be mended."""
        running, errors = len(self.processes), []
        try:
            progress.show(f"{running} processes")
            while running:
                line = self.lines.get()
                if line is None:
                    running -= 1
                    continue
                found = json.loads(line)
                if "error" in found:
                    errors.append(found["error"])
                else:
                    weight = weights.pop((found["cache"], found["unit"]), 0.0)
                    progress.add(weight, f"{running} processes")
        finally:
            self._end()
        return errors

    def _end(self) -> None:
        """Let processes that are still there put away what they are at, and end."""
        for process in self.processes:
            if process.poll() is None:
                process.send_signal(signal.SIGTERM)
        for process in self.processes:
            try:
                process.wait(PATIENCE)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
