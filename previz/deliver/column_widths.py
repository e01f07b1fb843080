"""Widths of a table's columns by what stands in them, so that the table is as short as its paper allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.deliver.canvas import width_of, wrapped

MOST_LINES = 12
"""Lines that a cell may take."""

SHARP = 8
"""How much more the highest cell of a row counts than the others; a row is as high as that."""


@dataclass(frozen=True)
class Asked:
    """What a column asks for.

    Parameters
    ----------
    before : float
        Room before its words. [px]
    head : float
        Least width for its head, room before it included. [px]
    cells : tuple of (str, str, float)
        Text of each row, its weight, and the width of what stands before it. [px]
    wraps : bool
    share : float
        Of what is left over. [1]
    """

    before: float
    head: float
    cells: tuple[tuple[str, str, float], ...]
    wraps: bool
    share: float


def fitted(columns: Sequence[Asked], size: float, whole: float) -> tuple[list[float], float]:
    """Return the width of each column of a table [px], and about how many lines high its rows are.

    Parameters
    ----------
    columns : sequence of Asked
    size : float
        Of the type. [px]
    whole : float
        Width of the table. [px]
    """
    @cache
    def width(number: int, lines: int) -> float:
        """Return the width at which no cell of a column takes more lines. [px]"""
        column = columns[number]
        return max([column.head, *(
            column.before + lead + 1 + narrowest(text, size, lines, weight)
            for text, weight, lead in column.cells if text)])

    @cache
    def counts(number: int, lines: int) -> np.ndarray:
        """Return how many lines each cell of a column takes at that width, shape (rows,)."""
        column = columns[number]
        if not column.wraps:
            return np.ones(len(column.cells))
        room = width(number, lines) - column.before
        return np.array([len(wrapped(text, size, room, weight)) for text, weight, _ in column.cells], float)

    def height(lines: Sequence[int]) -> float:
        every = np.array([counts(number, each) for number, each in enumerate(lines)])
        return float(np.sum(np.sum(every**SHARP, axis=0) ** (1 / SHARP)))

    most = next((most for most in range(1, MOST_LINES) if sum(
        width(number, most if column.wraps else 1) for number, column in enumerate(columns)) <= whole), MOST_LINES)
    lines = [most if column.wraps else 1 for column in columns]
    while True:
        used, now = sum(width(*each) for each in enumerate(lines)), height(lines)
        better = []
        for number, each in enumerate(lines):
            cost = width(number, each - 1) - width(number, each) if each > 1 else np.inf
            if cost <= whole - used:
                gain = now - height([one - (place == number) for place, one in enumerate(lines)])
                better.append((gain / cost if cost > 0 else np.inf, number))
        if not better or max(better)[0] <= 1e-9:
            break
        # A line is saved where it makes the table shortest for the least width.
        lines[max(better)[1]] -= 1
    left, shares = max(whole - used, 0.0), sum(column.share for column in columns)
    widths = [width(number, each) + left * columns[number].share / shares for number, each in enumerate(lines)]
    return [each * whole / sum(widths) for each in widths], now


def narrowest(text: str, size: float, lines: int, weight: str = "regular") -> float:
    """Return the least width in which words take no more than so many lines. [px]"""
    words = text.split(" ")
    widths = sorted({width_of(" ".join(words[i:j]), size, weight) for i in range(len(words))
                     for j in range(i + 1, len(words) + 1)})
    longest = max(width_of(word, size, weight) for word in words)
    return next(width for width in widths
                if width >= longest and len(wrapped(text, size, width, weight)) <= lines)
