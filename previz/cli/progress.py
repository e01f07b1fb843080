"""Say on a terminal how far a long job is: a line with the time left; in a pipe a line now and then."""

from __future__ import annotations

import contextlib
import sys
import threading
import time
from collections.abc import Callable
from typing import TypeVar

import click

from previz.rendering.progress import Progress

T = TypeVar("T")

TICK = 1.0
"""How often the line is written anew while one piece of work lasts. [s]"""

QUIET = 20.0
"""How long nothing is said where there is no terminal. [s]"""


class TerminalProgress(Progress):
    """One line on a terminal that is written over as the work goes on, and lives while one piece of it lasts.

    Where the stream is no terminal, a line to be kept says where the work stands once nothing was said for
    `QUIET`. Lines to be kept go to standard error always.
    """

    def __init__(self, stream=None):
        self.stream = stream or sys.stderr
        self.shown = self.stream.isatty()
        self._lock = threading.RLock()
        self._now: tuple[float, str, float | None, float] | None = None
        """What was reported last, and when: share, label, time left, moment."""
        self._said = time.monotonic()
        self._ticking = False
        super().__init__(self._line, self._keep)
        context = click.get_current_context(silent=True)
        if context is not None:
            # Whatever ends the command, what is said of that stands by itself.
            context.call_on_close(self.end)

    def _line(self, share: float, label: str, left: float | None) -> None:
        with self._lock:
            self._now = share, label, left, time.monotonic()
            if not self._ticking:
                self._ticking = True
                threading.Thread(target=self._tick, daemon=True).start()
            self._paint()

    def _tick(self) -> None:
        """Paint again and again while there is something to be said."""
        while True:
            time.sleep(TICK)
            with self._lock:
                if self._now is None:
                    self._ticking = False
                    return
                self._paint()

    def _paint(self) -> None:
        if self._now is None:
            return
        share, label, left, since = self._now
        spent = time.monotonic() - since
        if not self.shown:
            if time.monotonic() - self._said >= QUIET:
                self._write(f"{share:4.0%}  {label}{_time(left, spent)}\n")
            return
        self._write(f"\r\x1b[K{share:4.0%}  {label}{_time(left, spent)}")

    def _keep(self, line: str) -> None:
        with self._lock:
            self._clear()
            self._said = time.monotonic()
            # A terminal that has gone is no reason to stop: the files are what was requested.
            with contextlib.suppress(OSError):
                click.echo(line, err=True)
            if self.shown:
                self._paint()

    def end(self) -> None:
        """Clear the line."""
        with self._lock:
            self._now = None
            self._clear()

    def _clear(self) -> None:
        if self.shown:
            self._write("\r\x1b[K")

    def _write(self, text: str) -> None:
        self._said = time.monotonic()
        with contextlib.suppress(OSError, ValueError):
            self.stream.write(text)
            self.stream.flush()


WRITING = "drawing and writing"


def drawn(make: Callable[[], T]) -> T:
    """Return what is drawn and written after a study's work is done; a line says so meanwhile."""
    progress = TerminalProgress()
    try:
        progress.start(1.0).add(1.0, WRITING)
        return make()
    finally:
        progress.end()


def _time(left: float | None, spent: float) -> str:
    """Return how much time is left, or for how long a piece of work has gone on already. [s]"""
    if left and left >= spent:
        return f", about {left - spent:.0f} s left"
    return f", {spent:.0f} s so far" if spent >= 2 * TICK else ""
