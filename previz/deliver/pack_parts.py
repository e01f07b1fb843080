"""What all lists on paper are set with: type that can be read at arm's length, tables close together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from previz.deliver.canvas import INK, QUIET, wrapped
from previz.deliver.layout import Block, Setting, caption, space, together
from previz.deliver.tables import Column, Table

LONG = 10
"""Rows from which a list need not stay whole."""

POINTS: Mapping[str, float] = {"a4": 8.02, "a3": 10.4, "letter": 8.02}
"""Module of a page of lists: A3 is read from farther away. [pt]"""

PIXELS = 40
"""Of a module, so that type is set finely. [px]"""

SIZE, SMALL = 0.94, 0.945
"""Of the type, and of its smallest: no less than 7 points on A4. [units], and as a share"""

AIRS = (0.24, 0.12)
"""Between rows, and where that saves a page; see `layout.Setting`."""


def list_setting(page: str, width: float, air: float = AIRS[0]) -> Setting:
    """Return the sizes of a page of lists, of one of `plans.records.PAGES`, of a width. [pt]"""
    units = width / POINTS[page]
    return Setting(round(units * PIXELS), units, air)


def list_table(setting: Setting, columns: Sequence[Column], rows: Sequence[Any], tall: float = 0.0) -> Table:
    """Return a table as lists have it; `tall` is of `tables.Table`."""
    return Table(setting, columns, rows, SIZE, SMALL, tall, by_content=True)


def list_head(setting: Setting, title: str, note: str = "") -> Block:
    """Return the heading of a list."""
    unit = setting.unit
    return Block(2.2 * unit, lambda paper, left, top, width: caption(
        paper, (left, top + 1.5 * unit), unit, title, note, width, 1.15))


def list_of(setting: Setting, title: str, columns: Sequence[Column], rows: Sequence[Any],
            note: str = "") -> list[Block]:
    """Return a list under its heading; nothing without rows."""
    if not rows:
        return []
    blocks = list_table(setting, columns, rows).under(list_head(setting, title, note))
    if len(rows) > LONG:
        # Its head goes on with it, so it may go on in the next column.
        blocks = [replace(block, whole=None) for block in blocks]
    return [*blocks, space(0.5 * setting.unit)]


def lines_of(setting: Setting, title: str, lines: Sequence[str], note: str = "",
             strong: Callable[[str], bool] = lambda line: False, small: bool = False) -> list[Block]:
    """Return sentences under a heading, each a paragraph that may go on in the next column."""
    if not lines:
        return []
    first, *others = [sentence(setting, line, strong=strong(line), small=small) for line in lines]
    return [together(list_head(setting, title, note), first), *others, space(0.5 * setting.unit)]


def sentence(setting: Setting, text: str, *, strong: bool = False, quiet: bool = False,
             small: bool = False) -> Block:
    """Return a paragraph in the type of the lists, or in their smallest."""
    high = round(SIZE * (SMALL if small else 1.0) * setting.unit)
    # The stronger face is a little wider than what `wrapped` measures.
    lines = wrapped(text, high, setting.inner * (0.95 if strong else 1.0))

    def draw(paper, left, top, width):
        for number, line in enumerate(lines):
            paper.text((left, top + (1.1 + 1.25 * number) * high), line, high,
                       weight="strong" if strong else "regular", colour=QUIET if quiet else INK, room=width)

    return Block((1.25 * len(lines) + 0.45) * high, draw)


def small_notes(setting: Setting, notes: Sequence[str]) -> list[Block]:
    """Return what stands under a list, in the smallest type."""
    if not notes:
        return []
    return [*(sentence(setting, text, quiet=True, small=True) for text in notes), space(0.4 * setting.unit)]


def page_head(setting: Setting, title: str, subject: str, aside: str) -> Block:
    """Return the head of a page, in one line: a loose page says what it belongs to."""
    unit = setting.unit

    def draw(paper, left, top, width):
        base = top + 1.5 * unit
        taken = unit + paper.text((left + width, base), aside, round(SIZE * unit), colour=QUIET,
                                  align="right")
        caption(paper, (left, base), unit, title, subject, width - taken, 1.5)
        paper.rule(left, left + width, top + 2.2 * unit, INK)

    return Block(3.1 * unit, draw)
