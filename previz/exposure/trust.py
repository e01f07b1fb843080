"""Words for a reading that has not come to the precision of its request."""

from __future__ import annotations

from collections.abc import Iterable

from previz.frames.records import Short

SURE = 2.0
"""A reading is trusted to so many of its standard errors: nineteen times of twenty, were they
Gaussian. [1]"""

ON_FEW = "Few paths: light is met by chance there, as by way of curved metal or glass."
"""Goes once with all readings that stand on few paths."""


def not_reached(short: Short) -> str:
    """Return how far a meter came, in words that follow its name.

    Parameters
    ----------
    short : Short
    """
    at = f"is at {_percent(short.error)}"
    if not short.few:
        return at
    return f"{at}, on few paths: not to be trusted better than ± {_percent(SURE * short.error)}"


def _percent(share: float) -> str:
    """Return a share as a crew reads it: two figures, but no power of ten. '2.8 %', '178 %'"""
    return f"{100 * share:.0f} %" if share >= 0.995 else f"{100 * share:.2g} %"


def doubts(readings: Iterable[tuple[str, Iterable[Short]]]) -> str:
    """Return what goes with readings that are not as precise as their request; '' where all are.

    Parameters
    ----------
    readings : sequence of (str, sequence of Short)
        Whose the readings are ('' where there is only one), and those that fell short. What is said
        twice alike is said once.
    """
    lines: list[str] = []
    few = False
    for whose, group in readings:
        if short := list(group):
            words = " ".join(f"{each.name} {not_reached(each)}." for each in short)
            lines.append(f"{whose}: {words}" if whose else words)
            few |= any(each.few for each in short)
    return " ".join([*dict.fromkeys(lines), *([ON_FEW] if few else [])])
