"""Commands of previz in processes of their own: from nothing, or with the page's imports done."""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import TextIO

PREVIZ = (sys.executable, "-c", "from previz.cli.main import main; main()")

IMPORTED = ("previz.cli.page", "previz.page.serving", "uvicorn.protocols.http.auto",
            "uvicorn.protocols.websockets.auto", "uvicorn.lifespan.on")
"""What `previz page` imports before it answers; no thread of it has to go on in a branch."""


@dataclass(frozen=True)
class Command:
    """A command that runs.

    Parameters
    ----------
    pid : int
    printed : file
        What it prints.
    ended : function
        Waits so many seconds for its end, None without end; True once it has ended.
    """

    pid: int
    printed: TextIO
    ended: Callable[[float | None], bool]


def started(arguments: list[str]) -> Command:
    """Run a command of previz as a person does."""
    process = subprocess.Popen([*PREVIZ, *arguments], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None

    def ended(seconds: float | None) -> bool:
        try:
            process.wait(seconds)
        except subprocess.TimeoutExpired:
            return False
        return True

    return Command(process.pid, process.stdout, ended)


def branched(arguments: list[str]) -> Command:
    """Run a command of previz in a branch of a process that has imported what the page does.

    From there on it is a process like any other; the second or more that the imports take is paid once.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(IMPORTED))
    reading, writing = context.Pipe(duplex=False)
    process = context.Process(target=_command, args=(arguments, writing), daemon=True)
    process.start()
    writing.close()
    printed = os.fdopen(os.dup(reading.fileno()), encoding="utf-8")
    reading.close()

    def ended(seconds: float | None) -> bool:
        process.join(seconds)
        return process.exitcode is not None

    assert process.pid is not None
    return Command(process.pid, printed, ended)


def _command(arguments: list[str], writing: Connection) -> None:
    os.dup2(writing.fileno(), 1)
    writing.close()
    from previz.cli.main import main

    main(arguments)
