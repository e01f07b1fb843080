"""Work that is traced once and launched again without: for pictures on few paths, tracing takes longest.

Dr.Jit records what a function does to its arrays, and repeats it with others of the same kinds. What the
function reads beside its arguments, tables of a stage and plain values, is found here: tables go in as
arguments too, and plain values are a part of what a recording is known by, as they are compiled into it.
"""

from __future__ import annotations

import contextlib
import functools
import gc
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from previz.engine import backend
from previz.engine.jit import dr, mi

MOST = 48
"""Recordings that are kept; the one used longest ago goes."""

PLAIN = (bool, int, float, str, type(None))


class _Holders:
    """Finds the arrays and the plain values of some objects, in one order for objects of one structure."""

    def __init__(self) -> None:
        self.arrays: list[Any] = []
        self.values: list[Any] = []
        self._seen: set[int] = set()

    def add(self, value: Any) -> None:
        """Add what a value holds."""
        if dr.is_array_v(value) or isinstance(value, mi.Scene):
            self.arrays.append(value)
            self.values.append(type(value).__name__)
        elif isinstance(value, PLAIN):
            self.values.append(value)
        elif isinstance(value, (list, tuple)):
            self.values.append(len(value))
            for each in value:
                self.add(each)
        elif isinstance(value, (set, frozenset)):
            self.values.append(frozenset(value))
        elif not isinstance(value, np.ndarray) and hasattr(value, "__dict__"):
            self._object(value)

    def _object(self, value: Any) -> None:
        # A stage on the device and its parts refer to each other.
        self.values.append(type(value).__name__)
        if id(value) in self._seen:
            return
        self._seen.add(id(value))
        beside = getattr(type(value), "beside", ())
        for name, each in vars(value).items():
            if name not in beside:
                self.add(each)


def launch(function: Callable[..., Any], holder: Any, *words: Any) -> Any:
    """Return `function(holder, *words)`, recorded the first time and repeated from then on.

    Parameters
    ----------
    function : function
        Returns arrays, and reads nothing but its arguments.
    holder : object
        Whatever it holds is found; what a class names in `beside` is not looked at, nor are numpy's arrays.
        The function must read none of that.
    *words : arrays, or plain values
    """
    if backend.running() == backend.METAL:
        # Whether recordings hold there was not tried.
        return function(holder, *words)
    held = _Holders()
    held.add(holder)
    plain = tuple(word if isinstance(word, PLAIN) else None for word in words)
    given = [word for word in words if not isinstance(word, PLAIN)]
    recorded = _recorded(function, (plain, tuple(held.values), mi.variant()))
    recorded.words = (holder, words)
    try:
        with _uncollected():
            return recorded.frozen(given, held.arrays)
    finally:
        # What a recording does not need must not be kept by it.
        recorded.words = None


@contextlib.contextmanager
def _uncollected() -> Iterator[None]:
    """Let no circle be collected meanwhile: a scene that is freed while Dr.Jit records ends the process."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


class _Recorded:
    """One function, as it is for one set of plain values."""

    def __init__(self, function: Callable[..., Any]):
        self.words: tuple[Any, tuple[Any, ...]] | None = None

        def run(given: list[Any], _arrays: list[Any]) -> Any:
            assert self.words is not None
            holder, words = self.words
            left = iter(given)
            return function(holder, *(word if isinstance(word, PLAIN) else next(left) for word in words))

        self.frozen = dr.freeze(run, limit=4, warn_after=1 << 30)


def forget() -> None:
    """Forget all recordings: what comes next is traced anew."""
    _recorded.cache_clear()


@functools.lru_cache(MOST)
def _recorded(function: Callable[..., Any], key: Any) -> _Recorded:
    return _Recorded(function)
