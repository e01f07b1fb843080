"""What must hold inside a figure, and what it takes from the mark that it is at."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

from previz.scene import wear
from previz.scene.fields import INVALID
from previz.scene.figure import SITTING
from previz.scene.words import did_you_mean, listed
from previz.units import quote


def figure(made) -> Iterator[tuple[str, str, str]]:
    """Yield what is wrong inside a figure: field, message and advice."""
    if made.stature is not None and made.percentile is not None:
        yield "percentile", "has both a stature and a percentile", "Keep one of the two."
    if made.wears not in (None, INVALID):
        for _, message, advice in wear.faults(made.wears):
            yield "wears", message, advice
    if made.mark is None:
        yield from _rests(made.seat, made.table, made.pose, "", ("seat", "table"))
    names = [mark.name for mark in made.marks]
    for name in dict.fromkeys(each for each in names if names.count(each) > 1):
        if name is not INVALID:
            yield "marks", f"has two marks called {quote(name)}", "Give each a name of its own."
    for name in names:
        if name is not INVALID:
            there = made.at_mark(name)
            where = f" at its mark {quote(name)}"
            yield from _rests(there.seat, there.table, there.pose, where, ("marks", "marks"))
    if made.mark not in (None, INVALID, *names):
        known = [name for name in names if name is not INVALID]
        if known:
            advice = f"{did_you_mean(made.mark, known)}Its marks are: {listed(known)}."
        else:
            advice = "Write it under 'marks:', with a name and an 'at'."
        yield "mark", f"has no mark {quote(made.mark)}", advice


def _rests(seat, table, pose, where, fields):
    """Yield what a pose cannot rest on."""
    if seat is not None and pose not in (*SITTING, INVALID):
        yield fields[0], f"has a seat but is {pose}{where}", (
            "Write 'pose: seated' or 'pose: leaning', or leave out 'seat'."
        )  # fmt: skip
    if table is not None and pose not in ("leaning", INVALID):
        yield fields[1], f"has a table but is {pose}{where}", (
            "Write 'pose: leaning', or leave out 'table'."
        )  # fmt: skip


def at_its_mark(made) -> dict[str, Any]:
    """Return what a figure takes from the mark that it is at, {} where it is at none."""
    if made.mark in (None, INVALID) or made.mark not in [mark.name for mark in made.marks]:
        return {}
    there = made.at_mark(made.mark)
    return {each.name: getattr(there, each.name) for each in dataclasses.fields(there)
            if getattr(there, each.name) is not getattr(made, each.name)}
