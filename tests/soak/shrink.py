"""A failing input made smaller, so that a person sees what it fails by."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

SECONDS = 30.0
"""How long one input is made smaller for. [s]"""


def smaller_bytes(given: bytes) -> Iterator[bytes]:
    """Yield the bytes without some lines, then without some of themselves, large parts first."""
    lines = given.split(b"\n")
    for count in _halves(len(lines)):
        for start in range(0, len(lines), count):
            yield b"\n".join(lines[:start] + lines[start + count :])
    for count in _halves(len(given)):
        if len(given) / count > 400:
            break
        for start in range(0, len(given), count):
            yield given[:start] + given[start + count :]


def smaller_list(given: list) -> Iterator[list]:
    """Yield the list without some of its values."""
    for count in _halves(len(given)):
        for start in range(0, len(given), count):
            yield given[:start] + given[start + count :]


def _halves(size: int) -> Iterator[int]:
    while size > 1:
        size = (size + 1) // 2
        yield size


def shrunk(
    given: object,
    smaller: Callable[[object], Iterator[object]],
    fails: Callable[[object], bool],
    seconds: float = SECONDS,
) -> object:
    """Return the smallest input found that still fails.

    Parameters
    ----------
    smaller
        Yields inputs smaller than one.
    fails
        Whether an input fails in the same way.
    """
    until = time.monotonic() + seconds
    while True:
        for each in smaller(given):
            if time.monotonic() > until:
                return given
            if fails(each):
                given = each
                break
        else:
            return given
