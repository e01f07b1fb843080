"""Work that no interrupt may come into the middle of: sums that are half added are no sums."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator

ENDING = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""Signals that may raise KeyboardInterrupt."""


@contextlib.contextmanager
def unbroken() -> Iterator[None]:
    """Let an interrupt that comes within the block come right after it."""
    heard: list[tuple] = []
    before = {}
    # Python runs handlers in the main thread alone.
    if threading.current_thread() is threading.main_thread():
        for number in (getattr(signal, name) for name in ENDING if hasattr(signal, name)):
            if callable(signal.getsignal(number)):
                before[number] = signal.signal(number, lambda *about: heard.append(about))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    for number, frame in heard[:1]:
        before[number](number, frame)
