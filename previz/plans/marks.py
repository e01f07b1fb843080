"""Marks of drawings: taken apart, measured, brought from paper to the set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from previz.plans.lettering import corners
from previz.plans.records import Disc, Mark, Shape, Symbol, Words


def plain(marks: Iterable[Mark]) -> Iterator[Shape | Disc | Words]:
    """Yield marks, those of symbols one by one."""
    for mark in marks:
        yield from mark.parts if isinstance(mark, Symbol) else (mark,)


def bounds_of(marks: Iterable[Mark], unit: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the corners of all that is drawn, lettering too. [m]"""
    points = [np.zeros((0, 2))]
    for mark in plain(marks):
        if isinstance(mark, Disc):
            points.append(np.array([np.subtract(mark.at, mark.radius), np.add(mark.at, mark.radius)]))
        else:
            points.append(mark.points if isinstance(mark, Shape) else corners(mark, unit))
    every = np.concatenate(points)
    return every.min(axis=0), every.max(axis=0)


def in_metres(marks: Iterable[Shape | Disc | Words], unit: float) -> Iterator[Shape | Disc | Words]:
    """Yield marks that are in mm of paper as they are in the drawing."""
    for mark in marks:
        if isinstance(mark, Shape):
            yield replace(mark, points=np.asarray(mark.points) * unit)
        elif isinstance(mark, Disc):
            yield replace(mark, at=(mark.at[0] * unit, mark.at[1] * unit), radius=mark.radius * unit)
        else:
            yield replace(mark, at=(mark.at[0] * unit, mark.at[1] * unit))
