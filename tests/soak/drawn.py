"""Inputs that hypothesis draws: plain values of many parts, made smaller part by part where they fail."""

from __future__ import annotations

import time
from collections.abc import Callable

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from .record import Finding
from .shrink import SECONDS

INPUTS = 50
"""Inputs of a batch, made smaller ones not counted."""


class _FoundError(Exception):
    pass


class _OverError(BaseException):
    """The time is up, in the middle of a batch."""


def batch(
    strategy: st.SearchStrategy,
    one: Callable[[object], Finding | None],
    start: int,
    number: int,
    over: Callable[[], bool],
) -> tuple[object, Finding] | None:
    """Try a batch of inputs; return the smallest that failed and what it did, None where none did.

    The inputs depend on the strategy, the seed `start` and the number alone.
    """
    last: list[tuple[object, Finding]] = []
    began: list[float] = []

    @seed(hash((start, number)))
    @settings(
        max_examples=INPUTS,
        deadline=None,
        database=None,
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
        report_multiple_bugs=False,
    )
    @given(strategy)
    def every(value):
        if over() or (last and time.monotonic() > began[0] + SECONDS):
            raise _OverError
        finding = one(value)
        if finding is not None and (not last or finding.mark == last[0][1].mark):
            last.append((value, finding))
            began.append(time.monotonic())
            raise _FoundError(finding.mark)

    try:
        every()
    except _OverError:
        pass
    except Exception:
        # hypothesis says so too where an input fails once and not again.
        if not last:
            raise
    return last[-1] if last else None
