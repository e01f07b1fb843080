"""Tables of readings: columns in groups, two lines to a cell, one rule to a row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from previz.deliver.canvas import wrapped
from previz.deliver.pages import INK, QUIET, Block, Setting, paragraph
from previz.exposure.trust import doubts


@dataclass(frozen=True)
class Cell:
    """What stands in one place of a table.

    Parameters
    ----------
    text : str
        The number or word.
    under : str
        A quiet second line: a name, a unit in words.
    strong : bool
        Set apart, for what differs.
    """

    text: str
    under: str = ""
    strong: bool = False


@dataclass(frozen=True)
class Column:
    """A column of a table.

    Parameters
    ----------
    head, under : str
        Its heading and a quiet line below: the unit, or what it is told against.
    share : float
        Of the table's width; the shares of all columns are scaled to fill it.
    cell : function
        (row's value) -> Cell or str.
    group : str
        Name over this and the columns after it, up to the next that has one.
    align : str
        'left' or 'right'.
    wraps : bool
        True to set long words in several lines, where they would be cut short otherwise.
    """

    head: str
    under: str
    share: float
    cell: Callable
    group: str = ""
    align: str = "right"
    wraps: bool = False


@dataclass(frozen=True)
class Table:
    """A table in blocks: its head with the first row, then row by row.

    Parameters
    ----------
    setting : Setting
        Sizes of the sheet.
    columns : sequence of Column
        From the left.
    rows : sequence
        Values that the columns' functions take.
    size : float
        Of the type, in units. [1]
    """

    setting: Setting
    columns: Sequence[Column]
    rows: Sequence
    size: float = 0.9
    _gap: float = field(default=0.8, repr=False)

    @property
    def _grouped(self) -> bool:
        return any(column.group for column in self.columns)

    def _edges(self, left, width):
        total = sum(column.share for column in self.columns)
        edges, at = [], left
        for column in self.columns:
            wide = width * column.share / total
            edges.append((at, at + wide))
            at += wide
        return edges

    def _anchor(self, column, edge, first):
        gap = self._gap * self.setting.unit
        if column.align == "left":
            # Room on both sides: the column before it may end in a number.
            start = edge[0] + (2 * gap if edge[0] > first else 0)
            return start, edge[1] - start
        return edge[1], edge[1] - edge[0] - gap

    def _head(self, paper, left, top, width):
        unit, edges = self.setting.unit, self._edges(left, width)
        high, low = round(self.size * unit), round(0.8 * self.size * unit)
        base = top + (1.3 if self._grouped else -0.2) * unit
        for number, column in enumerate(self.columns):
            if column.group:
                last = number
                while last + 1 < len(edges) and not self.columns[last + 1].group:
                    last += 1
                start = edges[number][0] + (2 if column.align == "left" else 1) * self._gap * unit
                paper.text((start, base), column.group, high, weight="strong",
                           room=edges[last][1] - start)
                paper.rule(start, edges[last][1], base + 0.45 * unit)
            x, room = self._anchor(column, edges[number], left)
            paper.text((x, base + 1.75 * unit), column.head, high, align=column.align, room=room)
            paper.text((x, base + 2.95 * unit), column.under, low, align=column.align, room=room,
                       colour=QUIET)
        paper.rule(left, left + width, base + 3.5 * unit, INK)

    def _cells(self, left, width, row):
        """Return (anchor, lines, Cell) of each cell of a row, and how many lines it takes."""
        high = round(self.size * self.setting.unit)
        made = []
        for column, edge in zip(self.columns, self._edges(left, width), strict=True):
            cell = column.cell(row)
            cell = Cell(cell) if isinstance(cell, str) else cell
            x, room = self._anchor(column, edge, left)
            lines = wrapped(cell.text, high, room) if column.wraps else [cell.text]
            made.append((x, room, lines, cell))
        return made, max(len(lines) + bool(cell.under) for _, _, lines, cell in made)

    def _row(self, paper, left, top, width, row):
        unit = self.setting.unit
        high, low = round(self.size * unit), round(0.8 * self.size * unit)
        cells, count = self._cells(left, width, row)
        for number, (column, (x, room, lines, cell)) in enumerate(
                zip(self.columns, cells, strict=True)):
            base = top + 1.35 * unit
            strong = cell.strong or (number == 0)
            for line in lines:
                paper.text((x, base), line, high, align=column.align, room=room,
                           weight="strong" if strong else "regular")
                base += 1.1 * unit
            if cell.under:
                paper.text((x, base), cell.under, low, align=column.align, room=room, colour=QUIET)
        paper.rule(left, left + width, top + self._height(count) - 0.1 * unit)

    def _height(self, lines: int) -> float:
        return (2.1 + (lines - 1) * (1.0 if lines == 2 else 1.07)) * self.setting.unit

    def blocks(self) -> list[Block]:
        """Return the table: it is kept on one page, or its head is set again on the next."""
        high = (5.2 if self._grouped else 3.7) * self.setting.unit
        head = Block(high, self._head)
        made = []
        for number, row in enumerate(self.rows):
            taken = self._height(self._cells(0, self.setting.inner, row)[1])

            def draw(paper, left, top, width, row=row, first=number == 0):
                if first:
                    self._head(paper, left, top, width)
                    top += high
                self._row(paper, left, top, width, row)

            # The first row brings its head with it; the table itself says what belongs together.
            made.append(Block(taken + (high if number == 0 else 0), draw, self,
                              head if number else None))
        return made


def doubt_blocks(setting: Setting, told) -> list[Block]:
    """Return the words that go under a table of readings that are not as good as was asked for.

    Parameters
    ----------
    setting : Setting
        Sizes of the sheet.
    told : sequence of (str, sequence of Short)
        As `trust.doubts` takes it.

    Returns
    -------
    list of Block
        Empty where nothing is to be said.
    """
    words = doubts(told)
    return [paragraph(setting, words, colour=INK)] if words else []
