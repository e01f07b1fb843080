"""Tables of readings: columns in groups, two lines to a cell, one rule to a row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from previz.deliver.pages import INK, QUIET, Block, Setting


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
    """

    head: str
    under: str
    share: float
    cell: Callable
    group: str = ""
    align: str = "right"


@dataclass(frozen=True)
class Table:
    """A table in blocks: its head with the first row, then row by row.

    Parameters
    ----------
    setting : Setting
    columns : sequence of Column
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

    def _row(self, paper, left, top, width, row):
        unit, edges = self.setting.unit, self._edges(left, width)
        high, low = round(self.size * unit), round(0.8 * self.size * unit)
        cells = [column.cell(row) for column in self.columns]
        cells = [Cell(cell) if isinstance(cell, str) else cell for cell in cells]
        two = any(cell.under for cell in cells)
        base = top + 1.35 * unit
        for number, (column, cell) in enumerate(zip(self.columns, cells, strict=True)):
            x, room = self._anchor(column, edges[number], left)
            strong = cell.strong or (number == 0)
            paper.text((x, base), cell.text, high, align=column.align, room=room,
                       weight="strong" if strong else "regular")
            if cell.under:
                paper.text((x, base + 1.1 * unit), cell.under, low, align=column.align, room=room,
                           colour=QUIET)
        paper.rule(left, left + width, top + (3.0 if two else 2.0) * unit)

    def _height(self, row) -> float:
        cells = (column.cell(row) for column in self.columns)
        two = any(not isinstance(cell, str) and cell.under for cell in cells)
        return (3.1 if two else 2.1) * self.setting.unit

    def blocks(self) -> list[Block]:
        """Return the table; its head is not torn from the first row."""
        head = (5.2 if self._grouped else 3.7) * self.setting.unit
        made = []
        for number, row in enumerate(self.rows):
            high = self._height(row)

            def draw(paper, left, top, width, row=row, first=number == 0):
                if first:
                    self._head(paper, left, top, width)
                    top += head
                self._row(paper, left, top, width, row)

            made.append(Block(high + (head if number == 0 else 0), draw))
        return made
