"""Say on a terminal how far a long job is: a line with the time left, nothing in a pipe."""

from __future__ import annotations

import contextlib
import sys

import click

from previz.rendering.progress import Progress


class TerminalProgress(Progress):
    """One line on a terminal that is written over as the work goes on; nothing where the stream is none.

    Lines to be kept go to standard error always.
    """

    def __init__(self, stream=None):
        self.stream = stream or sys.stderr
        self.shown = self.stream.isatty()
        super().__init__(self._line if self.shown else None, self._keep)

    def _line(self, share: float, label: str, left: float | None) -> None:
        after = "" if left is None else f", about {left:.0f} s left"
        self._write(f"\r\x1b[K{share:4.0%}  {label}{after}")

    def _keep(self, line: str) -> None:
        self.end()
        # A terminal that has gone is no reason to stop: the files are what was requested.
        with contextlib.suppress(OSError):
            click.echo(line, err=True)

    def end(self) -> None:
        """Clear the line."""
        if self.shown:
            self._write("\r\x1b[K")

    def _write(self, text: str) -> None:
        with contextlib.suppress(OSError):
            self.stream.write(text)
            self.stream.flush()
