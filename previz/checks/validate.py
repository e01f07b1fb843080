"""What the program reproduces of known values, and whether the errors that it states hold."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass

from previz import __version__
from previz.checks.validation import honesty, honesty_table, run, table
from previz.engine.backend import choose
from previz.rendering.progress import Progress


@dataclass(frozen=True)
class Report:
    """One table in two forms, what came out in a line, and whether all of it was as expected."""

    markdown: str
    json: str
    summary: str
    passed: bool


def values(backend: str, progress: Progress) -> Report:
    """Work out known values anew, on a backend as of `engine.backend.start`.

    Raises
    ------
    EngineError
        The engine cannot run here.
    """
    ran_on, began, checks = choose(backend), time.monotonic(), []
    with progress.running(run.ENGINE_CHECKS):
        for check in run.all_checks(backend, progress):
            checks.append(check)
            if check.error is not None:
                progress.add(1, check.quantity)
    about = checks, __version__, ran_on, time.monotonic() - began
    passed = sum(check.passed for check in checks)
    return Report(table.markdown(*about), table.json_text(*about),
                  f"{passed} of {len(checks)} values reproduced.", passed == len(checks))


def stated_errors(stages: Iterable[str], seeds: int, precision: float, backend: str,
                  progress: Progress) -> Report:
    """Meter stages whose light is hard to find again and again, and hold the errors to what they are.

    Parameters
    ----------
    stages : iterable of str
        Of `honesty_scenes.SCENES`.
    seeds : int
        Runs of each.
    precision : float
        Relative standard error that each run is to reach. [1]

    Raises
    ------
    EngineError
        The engine cannot run here.
    KeyboardInterrupt
        Interrupted before any stage was done; later it ends with those that are.
    """
    ran_on, began, found = choose(backend), time.monotonic(), []
    names = list(stages)
    try:
        with progress.running(len(names) * (seeds + 1)):
            progress.show(names[0])
            for runs in honesty.all_runs(names, backend, seeds, precision, progress):
                found.append(runs)
    except KeyboardInterrupt:
        progress.say(f"Interrupted: {len(found)} of {len(names)} stages are done.")
        if not found:
            raise
    about = found, precision, __version__, ran_on, time.monotonic() - began
    honest = sum(each.honest for each in found)
    return Report(honesty_table.markdown(*about), honesty_table.json_text(*about),
                  f"{honest} of {len(found)} stages state errors that hold.",
                  honest == len(names))
