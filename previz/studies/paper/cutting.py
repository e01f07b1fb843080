"""Pieces cut from a roll: how much of its length they take.

Two ways to lay them out are tried: rows across the roll, each with pieces side by side, and pieces laid one
after the other as near to the roll's end as they fit. Pieces may be turned; one that is wider than the roll
is joined of strips.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

SEAM = 0.03
"""That strips overlap where they are joined. [m]  Common practice, no source."""

MOST_EXACT = 9
"""Most pieces for which the shortest length is searched among all ways to share them out on rows."""

ROUNDING = 1e-9
"""[m]"""

Cut = tuple[float, float]
"""Sides of a piece. [m]"""


def strips(cut: Cut, width: float) -> list[Cut]:
    """Return a piece itself, or the strips that it is joined of where both sides are wider than the roll.

    Parameters
    ----------
    cut : (float, float)
        [m]
    width : float
        Of the roll. [m]
    """
    short, long = sorted(cut)
    if short <= width + ROUNDING:
        return [cut]
    count = math.ceil((short - SEAM) / (width - SEAM) - ROUNDING)
    return [((short + (count - 1) * SEAM) / count, long)] * count


def roll_length(cuts: Sequence[Cut], width: float) -> float:
    """Return how much of a roll it takes to cut some pieces.

    Parameters
    ----------
    cuts : sequence of (float, float)
        Sides of each piece. [m]
    width : float
        Of the roll, more than `SEAM`. [m]

    Returns
    -------
    float
        The shorter of the two: the best of all rows for up to `MOST_EXACT` pieces, of more, rows filled with
        the longest piece first (first fit, decreasing height); and the lowest skyline that several orders of
        the pieces give. It is enough; seldom more than it must be, but that is not proved. [m]

    Raises
    ------
    ValueError
        The roll is no wider than a seam.
    """
    if not width > SEAM:
        raise ValueError(f"a roll must be wider than a seam of {SEAM:g} m, got {width:g} m")
    pieces = tuple(sorted((strip for cut in cuts for strip in strips(cut, width)), reverse=True))
    if not pieces:
        return 0.0
    rows = ([_shortest(pieces, width)] if len(pieces) <= MOST_EXACT
            else [_filled(pieces, width, along) for along in (True, False)])
    orders = (max, min, lambda cut: cut[0] * cut[1])
    layouts = (laid(sorted(pieces, key=key, reverse=True), width) for key in orders)
    return min(*rows, *(max(far + along for _, far, _, along in layout) for layout in layouts))


def _row(pieces: Sequence[Cut], width: float) -> float:
    """Return the least length of one row with some pieces side by side, inf where they do not fit. [m]"""
    for length in sorted({side for piece in pieces for side in piece}):
        across = 0.0
        for piece in pieces:
            fits = [side for side, other in (piece, piece[::-1]) if other <= length + ROUNDING]
            across += min(fits, default=math.inf)
        if across <= width + ROUNDING:
            return length
    return math.inf


def _shortest(pieces: tuple[Cut, ...], width: float) -> float:
    """Share pieces out on rows, every way: the first piece left takes some of the others to its row."""
    whole = (1 << len(pieces)) - 1

    @lru_cache(None)
    def row(chosen: int) -> float:
        return _row([piece for k, piece in enumerate(pieces) if chosen >> k & 1], width)

    @lru_cache(None)
    def least(left: int) -> float:
        if not left:
            return 0.0
        first = left & -left
        others, best = left ^ first, math.inf
        some = others
        while True:
            length = row(first | some)
            if length < best:
                best = min(best, length + least(others ^ some))
            if not some:
                return best
            some = (some - 1) & others

    return least(whole)


def _filled(pieces: Sequence[Cut], width: float, along: bool) -> float:
    """Fill rows in turn, the longest piece first; each piece lies along the roll, or across it if it fits."""
    laid = []
    for piece in pieces:
        short, long = sorted(piece)
        laid.append((short, long) if along or long > width + ROUNDING else (long, short))
    rows: list[list[float]] = []
    for across, length in sorted(laid, key=lambda each: each[1], reverse=True):
        row = next((row for row in rows if row[0] + across <= width + ROUNDING), None)
        if row is None:
            rows.append([across, length])
        else:
            row[0] += across
    return sum(length for _, length in rows)


def laid(pieces: Sequence[Cut], width: float) -> list[tuple[float, float, float, float]]:
    """Lay pieces in turn where, and as, each ends nearest to the roll's end.

    Parameters
    ----------
    pieces : sequence of (float, float)
        Sides of each, one of them no more than the roll's width. [m]
    width : float
        Of the roll. [m]

    Returns
    -------
    list of (float, float, float, float)
        Where each begins across the roll and along it, and its sides across and along. [m]
    """
    # The outline of what is laid so far: from where across the roll, to how far along it.
    outline, placed = [(0.0, 0.0)], []
    for piece in pieces:
        tries = []
        for across, along in {piece, piece[::-1]}:
            for start, _ in outline:
                if start + across <= width + ROUNDING:
                    under = _reach(outline, start, start + across, width)
                    tries.append((under + along, start, across, along))
        far, start, across, along = min(tries)
        placed.append((start, far - along, across, along))
        outline = _covered(outline, start, start + across, far)
    return placed


def _reach(outline: list[tuple[float, float]], start: float, end: float, width: float) -> float:
    """Return how far along what is laid comes between two places across. [m]"""
    ends = [at for at, _ in outline[1:]] + [width]
    return max(far for (at, far), until in zip(outline, ends, strict=True)
               if at < end - ROUNDING and until > start + ROUNDING)


def _covered(outline: list[tuple[float, float]], start: float, end: float,
             far: float) -> list[tuple[float, float]]:
    """Return an outline with a piece on it, from `start` to `end` across and as far as `far` along. [m]"""
    before = [part for part in outline if part[0] < start - ROUNDING]
    behind = [part for part in outline if part[0] > end - ROUNDING]
    under = [reach for at, reach in outline if at <= end - ROUNDING]
    edge = [(end, under[-1])] if not behind or behind[0][0] > end + ROUNDING else []
    return [*before, (start, far), *edge, *behind]
