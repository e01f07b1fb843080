"""Blocks in columns on pages, so that short lists share the paper.

A part of a document runs over the whole width, or in columns that are filled one after the other and end
at about the same height.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, product, repeat

from previz.deliver.layout import Block, Setting, height_together, shared_out

BETWEEN = 2.4
"""Between two columns. [units]"""

LEAST = 9.0
"""What is to be left of a page for columns to begin there. [units]"""

MOST_PANELS = 10
"""That are tried in other places; more are left in order."""

TRIES = 24
"""Halvings by which columns are made as short as they can be."""


@dataclass(frozen=True)
class Span(Setting):
    """Sizes within a column: those of the page, but narrower.

    Parameters
    ----------
    room : float
        Width of the column. [px]
    """

    room: float = 0.0

    @property
    def inner(self) -> float:
        """Width of what stands in it. [px]"""
        return self.room


@dataclass(frozen=True, eq=False)
class Columns:
    """Blocks to run in columns.

    Parameters
    ----------
    panels : sequence of sequence of Block
        Made for `span(setting, count)`. They follow each other, but may change places where all of them then
        go on a page that has no room for them in order; each goes on in the next column where it has to.
    count : int
        Columns side by side.
    """

    panels: Sequence[Sequence[Block]]
    count: int = 2

    @property
    def blocks(self) -> list[Block]:
        """All of them, in order."""
        return [block for panel in self.panels for block in panel]


def span(setting: Setting, count: int = 2) -> Span:
    """Return the sizes within one of so many columns of a page."""
    return Span(setting.width, setting.units, setting.air, setting.across(count, BETWEEN))


def set_out(parts: Sequence[Sequence[Block] | Columns], setting: Setting, height: float) -> list[list[Block]]:
    """Return parts shared out, in order, to pages of a height [px]."""
    room = height - 2 * setting.margin
    pages: list[list[Block]] = [[]]
    for part in parts:
        used = sum(block.height for block in pages[-1])
        if isinstance(part, Columns):
            if not part.blocks:
                continue
            if pages[-1] and room - used < LEAST * setting.unit:
                pages.append([])
                used = 0.0
            first, *others = _regions(part, setting, room - used, room)
        else:
            first, *others = shared_out(part, chain((room - used,), repeat(room)))
            if pages[-1] and sum(block.height for block in first) > room - used:
                others = [first, *others]
                first = []
        pages[-1] += first
        pages += others
    return [page for page in pages if page]


def _regions(part: Columns, setting: Setting, first: float, room: float) -> list[list[Block]]:
    """Return columns as blocks, one for the first page's room and for each that follows. [px]"""
    count, blocks = part.count, part.blocks
    filled = shared_out(blocks, chain(repeat(first, count), repeat(room)))
    if len(filled) > count == 2:
        other = _in_two(part.panels, first)
        if other is not None:
            return [[_beside(other, setting, count)]]
    if any(_high(column) > first for column in filled[:count]) and first < room:
        # What does not fit what is left of a page begins on the next.
        return [[], *_regions(part, setting, room, room)]
    pages = [filled[number:number + count] for number in range(0, len(filled), count)]
    own = {id(block) for block in blocks}
    # Heads that were set again where a column ended are set where it ends then.
    last = [block for block in chain(*pages[-1]) if id(block) in own]
    if len(pages) > 1 and last[0].lead is not None:
        last = [last[0].lead, *last]
    pages[-1] = _even(last, count, first if len(pages) == 1 else room)
    return [[_beside(columns, setting, count)] for columns in pages]


def _in_two(panels: Sequence[Sequence[Block]], room: float) -> list[list[Block]] | None:
    """Return panels in two columns of a room [px], as even as they can be; None where they do not fit so."""
    heights = [_high(panel) for panel in panels]
    if not 1 < len(panels) <= MOST_PANELS or sum(heights) > 2 * room:
        return None
    # The first stays where it is; of the others each goes to either column.
    ways = [(0, *way) for way in product((0, 1), repeat=len(panels) - 1)]

    def tallest(way: Sequence[int]) -> float:
        left = sum(high for high, column in zip(heights, way, strict=True) if column == 0)
        return max(left, sum(heights) - left)

    best = min(ways, key=tallest)
    if tallest(best) > room:
        return None
    return [[block for panel, column in zip(panels, best, strict=True) if column == each for block in panel]
            for each in (0, 1)]


def _high(column: Sequence[Block]) -> float:
    return sum(block.height for block in column)


def _even(blocks: Sequence[Block], count: int, most: float) -> list[list[Block]]:
    """Return blocks in columns that are as short as so many of them can be. [px]"""
    best, high = shared_out(blocks, repeat(most)), most
    # Shorter than that, what could stay whole would be torn.
    low = max((need for number in range(len(blocks)) if (need := height_together(blocks, number)) <= most),
              default=0.0)
    for _ in range(TRIES):
        tried = shared_out(blocks, repeat((low + high) / 2))
        tallest = max(_high(column) for column in tried)
        if len(tried) <= count and tallest <= most:
            high = (low + high) / 2
            if tallest <= max(_high(column) for column in best):
                best = tried
        else:
            low = (low + high) / 2
    return best


def _beside(columns: Sequence[Sequence[Block]], setting: Setting, count: int) -> Block:
    """Return columns as one block."""
    within = span(setting, count)

    def draw(paper, left, top, width):
        for number, column in enumerate(columns):
            y = top
            for block in column:
                block.draw(paper, left + number * (within.room + BETWEEN * setting.unit), y, within.room)
                y += block.height

    return Block(max(_high(column) for column in columns), draw)
