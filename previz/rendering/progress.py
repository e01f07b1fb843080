"""How far a long job is, for whoever requested it: a terminal, a notebook, nobody."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator

SETTLED = 20.0
"""From when on the pace says how long it takes: the compiler's part has gone down then. [s]"""

LONG = 300.0
"""What takes longer is announced. [s]"""

SETTING_UP = "setting up"
"""What is being done before anything is rendered: scenes are built."""


class Cancelled(KeyboardInterrupt):
    """The caller's `cancel` said so. What was gathered has been saved; the same request goes on."""


class Progress:
    """Counts the work of one request and passes it on. This one shows nothing itself.

    Parameters
    ----------
    report : function, optional
        Called with (share done [1], what is being done, seconds left or None).
    message : function, optional
        Called with a line to be kept: what was rendered or used again, and why.
    cancel : function, optional
        Asked between pieces of work; a true answer ends the request with `Cancelled`.
    """

    def __init__(self, report: Callable[[float, str, float | None], None] | None = None,
                 message: Callable[[str], None] | None = None,
                 cancel: Callable[[], bool] | None = None):
        self._report, self._message, self._cancel = report, message, cancel
        self.time_told = False
        """Whether it was said how long it takes."""
        self.start(1.0)

    def start(self, total: float) -> Progress:
        """Begin to count anew, up to `total` units of work."""
        self.total = max(total, 1e-9)
        self.began = time.monotonic()
        self.done = self.skipped = 0.0
        return self

    @contextlib.contextmanager
    def running(self, total: float) -> Iterator[None]:
        """Count a request's work, up to `total` units, and end with it however it ends."""
        self.start(total)
        try:
            yield
        finally:
            self.end()

    @contextlib.contextmanager
    def lasting(self, label: str) -> Iterator[None]:
        """Show what is still done after the work that is counted, and end with it however it ends."""
        self.show(label)
        try:
            yield
        finally:
            self.end()

    def skip(self, amount: float) -> None:
        """Count work that was found done already; it says nothing about the pace."""
        self.skipped += amount
        self.done += amount

    def add(self, amount: float, label: str) -> None:
        """Count work that was just done, and show what comes."""
        self.done += amount
        self._tell_time()
        self.show(label)

    def show(self, label: str) -> None:
        """Report where the work stands; the place where a request can be cancelled."""
        if self._cancel is not None and self._cancel():
            raise Cancelled
        if self._report is not None:
            self._report(min(1.0, self.done / self.total), label, self._left())

    def _left(self) -> float | None:
        """Return how much time is left by the pace so far, None before anything was done. [s]"""
        worked, left = self.done - self.skipped, max(self.total - self.done, 0.0)
        return (time.monotonic() - self.began) * left / worked if worked > 0 else None

    def _tell_time(self) -> None:
        """Say once how long it takes, where that is long and was not known before."""
        left = self._left()
        if not self.time_told and left is not None and time.monotonic() - self.began > SETTLED:
            self.time_told = True
            if left > LONG:
                self.say(f"About {left / 60:.0f} min more, by the work so far.")

    def say(self, line: str) -> None:
        """Pass on a line to be kept."""
        if self._message is not None:
            self._message(line)

    def end(self) -> None:
        """Say that nothing more comes."""
