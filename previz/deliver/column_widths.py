"""Widths of a table's columns by what stands in them, so that the table is as short as its paper allows."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from previz.deliver.canvas import width_of, wrapped

MOST_LINES = 12
"""Lines that a cell may take."""

SHARP = 5
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

    def every(lines: Sequence[int]) -> np.ndarray:
        """Return how many lines each cell takes, shape (columns, rows)."""
        return np.array([counts(number, each) for number, each in enumerate(lines)])

    def used(lines: Sequence[int]) -> float:
        return sum(width(*each) for each in enumerate(lines))

    def high(lines: Sequence[int]) -> float:
        return float(np.sum(np.max(every(lines), axis=0)))

    def cost(lines: Sequence[int]) -> float:
        # A cell that is not the highest of its row counts a little, so that the way down is seen.
        return float(np.sum(np.sum(every(lines)**SHARP, axis=0) ** (1 / SHARP)))

    def improved(lines: list[int]) -> list[int]:
        """Return lines that are saved where that makes the table shortest for the least width."""
        while True:
            now, taken, better = cost(lines), used(lines), []
            for number, each in enumerate(lines):
                for fewer in range(1, each):
                    more = width(number, fewer) - width(number, each)
                    if more <= whole - taken:
                        gain = now - cost([*lines[:number], fewer, *lines[number + 1:]])
                        better.append((gain / max(more, 1e-6), number, fewer))
            if not better or max(better)[0] <= 1e-9:
                return lines
            _, number, fewer = max(better)
            lines = [*lines[:number], fewer, *lines[number + 1:]]

    starts = [[most if column.wraps else 1 for column in columns] for most in range(1, MOST_LINES + 1)]
    fitting = [lines for lines in starts if used(lines) <= whole] or starts[-1:]
    lines = min((improved(lines) for lines in (fitting[0], fitting[-1])), key=high)
    left, shares = max(whole - used(lines), 0.0), sum(column.share for column in columns)
    widths = [width(*each) + left * columns[each[0]].share / shares for each in enumerate(lines)]
    return [each * whole / sum(widths) for each in widths], high(lines)


@lru_cache(maxsize=8192)
def narrowest(text: str, size: float, lines: int, weight: str = "regular") -> float:
    """Return the least width in which words take no more than so many lines. [px]"""
    words = text.split(" ")
    if lines == 1 or len(words) == 1:
        return width_of(text, size, weight)
    longest = max(width_of(word, size, weight) for word in words)
    if lines >= len(words):
        return longest
    widths = sorted({width_of(" ".join(words[i:j]), size, weight) for i in range(len(words))
                     for j in range(i + 1, len(words) + 1)})
    widths = widths[bisect_left(widths, longest):]
    # Wider paper never takes more lines.
    return widths[bisect_left(widths, True,
                              key=lambda width: len(wrapped(text, size, width, weight)) <= lines)]
