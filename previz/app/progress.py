"""Say how far a long job is: a line with time left on a terminal, nothing in a pipe."""

from __future__ import annotations

import sys
import time


class Progress:
    """One line on a terminal that is written over as the work goes on.

    Parameters
    ----------
    total : float
        Units of work.
    stream : text file
        Where it is shown, if it is a terminal.
    """

    def __init__(self, total: float, stream=None):
        self.total, self.stream = max(total, 1e-9), stream or sys.stderr
        self.shown = self.stream.isatty()
        self.began = time.monotonic()
        self.done = self.skipped = 0.0

    def skip(self, amount: float) -> None:
        """Count work that was found done already; it says nothing about the pace."""
        self.skipped += amount
        self.done += amount

    def add(self, amount: float, label: str) -> None:
        """Count work that was just done, and show what comes."""
        self.done += amount
        self.show(label)

    def show(self, label: str) -> None:
        """Show the line."""
        if not self.shown:
            return
        worked = self.done - self.skipped
        left = ""
        if worked > 0:
            seconds = (time.monotonic() - self.began) * (self.total - self.done) / worked
            left = f", about {seconds:.0f} s left"
        share = min(1.0, self.done / self.total)
        self.stream.write(f"\r\x1b[K{share:4.0%}  {label}{left}")
        self.stream.flush()

    def end(self) -> None:
        """Clear the line."""
        if self.shown:
            self.stream.write("\r\x1b[K")
            self.stream.flush()
