"""How the program ends: its exit status, what signals do, and streams that nobody reads.

0 done; 1 what was to be checked does not hold (`validate`, `doctor`); 2 the user can mend it, said in
words; 70 a fault of the program, whose report lies where the words say; 128 and the number of a signal
where that ended it: 130 Ctrl-C, 143 SIGTERM, 129 SIGHUP, 141 nobody reads the output any more.

Source of 70: EX_SOFTWARE of sysexits.h (4.3BSD). Of 128 and the number: POSIX.1-2017, Shell Command Language,
2.8.2, leaves the offset open; 128 is that of the common shells.
"""

from __future__ import annotations

import contextlib
import io
import os
import select
import signal
import socket
import sys
import threading
import time
from collections.abc import Iterator
from types import FrameType

import click

DONE, MENDABLE, FAULT, BY_SIGNAL = 0, 2, 70, 128

NOBODY_READS = BY_SIGNAL + 13
"""Status where the output's reader has gone; 13 is SIGPIPE, which Python does not let end it."""

ENDING = ("SIGTERM", "SIGHUP", "SIGBREAK")
"""Signals that do what Ctrl-C does; the last is Ctrl-Break on Windows, which has no SIGHUP."""

MEANT = frozenset(int(getattr(signal, name)) for name in ("SIGINT", *ENDING) if hasattr(signal, name))

ONE_SIGNAL = 0.5
"""Signals that follow so soon are one: a terminal that is closed sends its own, and the shell another. [s]"""

SAID_AFTER = 2.0
"""When it is said that an interrupt was heard, where its end takes longer. [s]"""

GRACE = 2.0
"""What a second signal leaves to the main thread to end by itself. [s]"""

IMPORTING = "<frozen importlib._bootstrap>"
"""What Python calls the file of its import system."""

KEPT = "What was finished is kept; the same command goes on from there."
AS_IT_WAS = "What was there before is as it was."

KEEPING = frozenset({"render", "shard", "watch", "compare", "study", "haze", "match-cut", "times", "walk",
                     "mood", "meter", "page", "portrait", "paper"})
"""Commands whose work is kept."""


def kept_words(argv: list[str]) -> str:
    """Return what a command line that has failed has left."""
    return KEPT if argv and argv[0] in KEEPING else AS_IT_WAS


@contextlib.contextmanager
def interrupts() -> Iterator[list[int]]:
    """Let SIGTERM and SIGHUP do what Ctrl-C does; what was heard of all three is in the list.

    A second signal ends the program at once, also where the engine is at work and hears none.
    """
    if threading.current_thread() is not threading.main_thread():
        yield []
        return
    heard: list[int] = []
    before = {}

    def hear(number: int, frame: FrameType | None) -> None:
        heard.append(number)
        importer = _importer(frame)
        if importer is None or sys.gettrace() is not None:
            raise KeyboardInterrupt
        # Libraries swallow it as they import their optional parts: it is raised as soon as that is over.
        importer.f_trace = _interrupt
        sys.settrace(lambda *_: None)

    for number in (getattr(signal, name) for name in ("SIGINT", *ENDING) if hasattr(signal, name)):
        # What was started to outlive its terminal (nohup) goes on to.
        if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler):
            before[number] = signal.signal(number, hear)
    try:
        with _impatience():
            yield heard
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _importer(frame: FrameType | None) -> FrameType | None:
    """Return what has asked for the outermost import that is under way; None where none is."""
    found = None
    while frame is not None:
        before = frame.f_back
        if frame.f_code.co_filename == IMPORTING:
            found = before
        frame = before
    return found


def _interrupt(*_: object) -> None:
    """Interrupt the frame that this traces."""
    sys.settrace(None)
    raise KeyboardInterrupt


@contextlib.contextmanager
def _impatience() -> Iterator[None]:
    """End the program where a second signal comes and the main thread does not hear it."""
    # Sockets, as Windows can wait for nothing else.
    reading, writing = socket.socketpair()
    writing.setblocking(False)
    # Written to as a signal comes, while Python's own handlers wait for the engine's pass.
    before = signal.set_wakeup_fd(writing.fileno(), warn_on_full_buffer=False)
    thread = threading.Thread(target=_listen, args=(reading,), daemon=True)
    thread.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before, warn_on_full_buffer=False)
        writing.close()
        thread.join()
        reading.close()


def _listen(reading: socket.socket) -> None:
    """Hear signals until the other end is closed; the second that is meant ends the program."""
    first, told = None, False
    while True:
        if first is not None and not told and not _comes(reading, SAID_AFTER):
            say("Ending, as soon as what is in hand is put away; once more ends it at once.")
            told = True
        came = reading.recv(64)
        if not came:
            return
        if not MEANT.intersection(came):
            continue
        if first is not None and time.monotonic() - first > ONE_SIGNAL:
            # The main thread ends it by itself, and cleans up, unless the engine has it.
            while _comes(reading, GRACE):
                if not reading.recv(64):
                    return
            say("Ended. What was finished before is kept.")
            os._exit(BY_SIGNAL + came[-1])
        first = time.monotonic()


def _comes(reading: socket.socket, seconds: float) -> bool:
    """Return whether anything comes within some time, an end of it too."""
    return bool(select.select([reading], [], [], seconds)[0])


def say(text: str) -> None:
    """Say something on standard error, if anybody hears it."""
    with contextlib.suppress(OSError):
        click.echo(text, err=True)


def open_streams() -> None:
    """Put nothing in the place of standard streams that are closed.

    Else the first file that is opened takes the place, and gets what libraries print. On Windows what goes
    to a file or a pipe is UTF-8 with plain ends of lines, as elsewhere: the code page of a machine lacks
    letters, and JSON and CSV have ends of lines of their own.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - for the whole run
    if sys.platform == "win32" and isinstance(sys.stdout, io.TextIOWrapper) and not sys.stdout.isatty():
        sys.stdout.reconfigure(encoding="utf-8", newline="\n")


def written_out() -> bool:
    """Write what still waits for standard output; False, and no more is written, where nobody reads it.

    Raises
    ------
    OSError
        It goes to a file that is full.
    """
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        hush()
        return False
    except OSError:
        hush()
        raise
    return True


def hush() -> None:
    """Let nothing more be written to standard output: Python would fail at it again at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
