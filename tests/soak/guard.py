"""What no input may bring about, and how it is found out.

An input is tried in a process that may use so much memory and so much processor time, and that is watched by
an audit hook (PEP 578): it starts no program, opens no connection, and writes, moves and removes nothing
outside its folder.
"""

from __future__ import annotations

import contextlib
import os
import resource
import signal
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

CPU_SECONDS = 20.0
"""Processor time that one input may take; the wall clock would judge the machine. [s]"""

WALL_SECONDS = 150.0
"""Time after which a process that has said nothing is ended: it waits for something. [s]"""

MEMORY = 3 << 30
"""Address space that a process may take beyond what it has before its first input. [byte]"""


class ViolationError(AssertionError):
    """An input did what none may do; the text says what."""


class TooLongError(BaseException):
    """An input takes too long; a base exception, so that nothing under test takes it for its own."""


_STARTS = (
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.fork",
    "os.forkpty",
    "os.spawn",
    "pty.spawn",
    "os.startfile",
)
_CONNECTS = ("socket.connect", "socket.bind", "socket.sendto", "urllib.Request", "webbrowser.open")
_CHANGES = {
    "os.remove": 1,
    "os.rename": 2,
    "os.link": 2,
    "os.symlink": 2,
    "os.rmdir": 1,
    "os.mkdir": 1,
    "os.truncate": 1,
    "os.chmod": 1,
    "shutil.rmtree": 1,
}
"""Event -> how many of its first arguments are paths that it changes."""
_MODES = {"os.mkdir": 1, "os.chmod": 1, "os.truncate": 1, "shutil.rmtree": 1}
"""Event -> how many arguments lie between its paths and the numbers of open folders."""
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_FREE = ("/dev/null", "/dev/tty", "/proc/self/")


class Guard:
    """Watches one process; `inside` is the folder that inputs may change."""

    def __init__(self, inside: Path):
        self.inside = os.path.realpath(inside)
        self.watching = False
        self.seen: list[str] = []
        sys.addaudithook(self._event)

    def _event(self, event: str, arguments: tuple) -> None:
        if not self.watching:
            return
        if event == "open":
            path, _, flags = arguments
            if flags & _WRITES and isinstance(path, str | bytes | os.PathLike):
                self._changed("wrote to", path)
        elif event in _CHANGES:
            # Names within a folder that is open already have its number with them; that folder was looked at.
            if not any(
                isinstance(number, int) and number >= 0
                for number in arguments[_CHANGES[event] + _MODES.get(event, 0) :]
            ):
                for path in arguments[: _CHANGES[event]]:
                    if isinstance(path, str | bytes | os.PathLike):
                        self._changed(event, path)
        elif event in _STARTS:
            self.seen.append(f"started a program: {event} {arguments[:2]!r}"[:300])
        elif event in _CONNECTS:
            self.seen.append(f"opened a connection: {event} {arguments!r}"[:300])

    def _changed(self, what: str, path) -> None:
        where = os.path.realpath(os.fsdecode(path))
        if not where.startswith((self.inside + os.sep, *_FREE)) and where != self.inside:
            self.seen.append(f"{what} {where}")

    @contextlib.contextmanager
    def watched(self, seconds: float = CPU_SECONDS) -> Iterator[None]:
        """Watch what is done in a block.

        Raises
        ------
        ViolationError
            A program was started, a connection opened, a file outside changed; or it took too long.
        """
        self.seen, threads = [], threading.active_count()
        signal.signal(signal.SIGPROF, _too_long)
        signal.setitimer(signal.ITIMER_PROF, seconds)
        self.watching = True
        try:
            yield
        except TooLongError:
            raise ViolationError(f"took more than {seconds:g} s of processor time") from None
        finally:
            self.watching = False
            signal.setitimer(signal.ITIMER_PROF, 0.0)
        if self.seen:
            raise ViolationError("; ".join(dict.fromkeys(self.seen)))
        if threading.active_count() > threads + 50:
            raise ViolationError(f"left {threading.active_count() - threads} threads behind")


def _too_long(number, frame) -> None:
    raise TooLongError


def bound_memory(more: int = MEMORY) -> None:
    """Bound what this process may take from now on."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * os.sysconf("SC_PAGE_SIZE") + more
    resource.setrlimit(resource.RLIMIT_AS, (most, resource.RLIM_INFINITY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 30, resource.RLIM_INFINITY))
