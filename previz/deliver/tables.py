"""Tables of readings: columns in groups, two lines to a cell, one rule to a row.

No head is cut: a column is at least as wide as what stands over it, which breaks into lines where
the paper has no room for all of it in one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from previz.deliver.canvas import INK, QUIET, Paper, width_of, wrapped
from previz.deliver.column_widths import Asked, fitted, narrowest
from previz.deliver.face_values import ratio_texts, side_texts
from previz.deliver.layout import Block, Setting, together
from previz.exposure.comparing.measures import ShotMeasures
from previz.exposure.faces import FaceLight
from previz.physics.exposure import CameraSettings

GAP = 0.8
"""Least room between two columns. [units]"""

BOX = 1.35
"""From one box to tick to the next; a box itself is a unit wide. [units]"""

WHITE = (255, 255, 255)

MOST_LINES = 4
"""Lines that a head may take, if its columns fit in no fewer."""


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
        Set in the stronger face, for what differs.
    boxes : int
        Empty boxes to tick, before the text.
    field : bool
        An empty field to write in by hand, over the whole place.
    flag : bool
        Set white on black: it has to be seen on a print without colours.
    """

    text: str
    under: str = ""
    strong: bool = False
    boxes: int = 0
    field: bool = False
    flag: bool = False


@dataclass(frozen=True)
class Column:
    """A column of a table.

    Parameters
    ----------
    head, under : str
        Its heading and a quiet line below: the unit, or what it is measured against.
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
    least : float
        Width that it has whatever stands in it. [units]
    """

    head: str
    under: str
    share: float
    cell: Callable[[object], Cell | str]
    group: str = ""
    align: str = "right"
    wraps: bool = False
    least: float = 0.0

    def cell_of(self, row: object) -> Cell:
        """Return what stands in this column of a row."""
        cell = self.cell(row)
        return Cell(cell) if isinstance(cell, str) else cell


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
    quiet : float
        Of quiet lines, as a share of the type. [1]
    tall : float
        Least height of a row, whose words then stand in its middle. [units]
    by_content : bool
        True gives columns their widths by what stands in them, so that no cell takes more lines than it
        has to; shares count for what is left over.
    """

    setting: Setting
    columns: Sequence[Column]
    rows: Sequence
    size: float = 0.9
    quiet: float = 0.8
    tall: float = 0.0
    by_content: bool = False

    @property
    def _type(self) -> tuple[int, int]:
        """Height of the type, and of quiet lines. [px]"""
        unit = self.setting.unit
        return round(self.size * unit), round(self.quiet * self.size * unit)

    @property
    def _groups(self) -> list[tuple[int, int]]:
        """First and last column under each group's name."""
        first = [number for number, column in enumerate(self.columns) if column.group]
        after = [*first[1:], len(self.columns)]
        return [(one, other - 1) for one, other in zip(first, after, strict=False)]

    def _before(self, number: int) -> float:
        """Return the room that a column keeps free before its words. [px]"""
        if number == 0:
            return 0.0
        # Words that begin at the left may follow a number that ends there.
        return GAP * self.setting.unit * (2 if self.columns[number].align == "left" else 1)

    def _least(self, lines: int) -> list[float]:
        """Return the least width of each column whose head takes at most so many lines. [px]"""
        (high, low), unit = self._type, self.setting.unit
        least = []
        for number, column in enumerate(self.columns):
            inner = max(narrowest(column.head, high, lines), narrowest(column.under, low, lines))
            if column.align == "right":
                # A number that is cut is a wrong number.
                weight = "regular" if number else "strong"
                inner = max([inner, *(width_of(column.cell_of(row).text, high, weight)
                                      for row in self.rows)])
            # Boxes and fields have their room as words have.
            inner = max([inner, column.least * unit,
                         *(cell.boxes * BOX * unit for cell in map(column.cell_of, self.rows))])
            least.append(self._before(number) + inner + 1)
        for first, last in self._groups:
            spare = (self._before(first) + width_of(self.columns[first].group, high, "strong") + 1
                     - sum(least[first:last + 1]))
            least[last] += max(spare, 0.0)
        return least

    @cached_property
    def widths(self) -> list[float]:
        """Width of each column. [px]"""
        whole = self.setting.inner
        if self.by_content:
            return self._by_content(whole)
        least = next((each for each in map(self._least, range(1, MOST_LINES + 1))
                      if sum(each) <= whole), self._least(MOST_LINES))
        widths = [whole * column.share / sum(each.share for each in self.columns)
                  for column in self.columns]
        # Columns that are too narrow for their heads take from those that have room to give.
        held: set[int] = set()
        while short := {k for k in range(len(widths)) if widths[k] < least[k]} - held:
            held |= short
            free = [k for k in range(len(widths)) if k not in held]
            left = whole - sum(least[k] for k in held)
            shares = sum(self.columns[k].share for k in free)
            for k in range(len(widths)):
                widths[k] = least[k] if k in held else left * self.columns[k].share / shares
        return [width * whole / sum(widths) for width in widths]

    def _by_content(self, whole: float) -> list[float]:
        """Return widths at which the table is shortest, its head and its rows together. [px]"""
        box = BOX * self.setting.unit
        cells = [tuple((cell.text, self._weight(number, cell), cell.boxes * box)
                       for cell in map(column.cell_of, self.rows))
                 for number, column in enumerate(self.columns)]
        tried = []
        for lines in range(1, MOST_LINES + 1):
            least = self._least(lines)
            if sum(least) > whole and lines < MOST_LINES:
                continue
            widths, high = fitted([Asked(self._before(number), least[number], cells[number], column.wraps,
                                         column.share) for number, column in enumerate(self.columns)],
                                  self._type[0], whole)
            tried.append((high + lines, widths))
        return min(tried)[1]

    def _weight(self, number: int, cell: Cell) -> str:
        return "strong" if cell.strong or cell.flag or number == 0 else "regular"

    def _anchors(self, left: float) -> list[tuple[float, float]]:
        """Return where the words of each column are anchored, and their room. [px]"""
        anchors = []
        for number, (column, wide) in enumerate(zip(self.columns, self.widths, strict=True)):
            before = self._before(number)
            anchors.append((left + before if column.align == "left" else left + wide, wide - before))
            left += wide
        return anchors

    def _heads(self) -> list[tuple[list[str], list[str]]]:
        """Return the lines of each column's head, and of what stands under it."""
        high, low = self._type
        return [(wrapped(column.head, high, room), wrapped(column.under, low, room) if column.under else [])
                for column, (_, room) in zip(self.columns, self._anchors(0), strict=True)]

    def _head_height(self) -> float:
        if not any(column.head or column.under or column.group for column in self.columns):
            return 0.3 * self.setting.unit
        lines = [max(len(each[part]) for each in self._heads()) for part in (0, 1)]
        closer = (0.4 if self._groups else 1.0) * (1 - self.setting.air)
        return (2.75 - closer + (1.5 if self._groups else 0.0) + 1.1 * (lines[0] - 1)
                + 0.95 * lines[1]) * self.setting.unit

    def _head(self, paper: Paper, left: float, top: float, width: float) -> None:
        unit, (high, low) = self.setting.unit, self._type
        anchors, heads = self._anchors(left), self._heads()
        foot = top + self._head_height() - (0.4 if self._head_height() > unit else 0.1) * unit
        for first, last in self._groups:
            start = left + sum(self.widths[:first]) + self._before(first)
            end = left + sum(self.widths[:last + 1])
            paper.text((start, top + 1.3 * unit), self.columns[first].group, high, weight="strong",
                       room=end - start)
            paper.rule(start, end, top + 1.75 * unit)
        most = max(len(under) for _, under in heads)
        for column, (x, room), (lines, under) in zip(self.columns, anchors, heads, strict=True):
            for texts, base, size, step, colour in (
                    (lines, foot - (0.8 + 0.95 * most) * unit, high, 1.1, INK),
                    (under, foot - (0.55 + 0.95 * (most - len(under))) * unit, low, 0.95, QUIET)):
                for number, line in enumerate(texts):
                    paper.text((x, base - step * (len(texts) - 1 - number) * unit), line, size,
                               align=column.align, room=room, colour=colour)
        paper.rule(left, left + width, foot, INK)

    def _cells(self, row: object) -> list[tuple[list[str], Cell]]:
        """Return the lines of each cell of a row, and the cell."""
        cells = [column.cell_of(row) for column in self.columns]
        return [(wrapped(cell.text, self._type[0], room, self._weight(number, cell)) if column.wraps
                 else [cell.text], cell)
                for number, (column, cell, (_, room)) in enumerate(
                    zip(self.columns, cells, self._anchors(0), strict=True))]

    def _row(self, paper: Paper, left: float, top: float, width: float, row: object) -> None:
        unit, (high, low) = self.setting.unit, self._type
        spare = self._row_height(row) - self._words_height(row)
        for number, (column, (lines, cell), (x, room)) in enumerate(
                zip(self.columns, self._cells(row), self._anchors(left), strict=True)):
            base = top + (0.85 + 0.5 * self.setting.air) * unit + spare / 2
            if cell.field:
                _frame(paper, x, top + 0.1 * unit, room, self._row_height(row) - 0.3 * unit, unit)
            for box in range(cell.boxes):
                _frame(paper, x + box * BOX * unit, base - 0.85 * unit, unit, unit, unit)
            x += cell.boxes * BOX * unit
            for line in lines:
                if cell.flag:
                    wide = width_of(line, high, "strong")
                    paper.fill(x - 0.3 * unit, base - 0.95 * unit, x + wide + 0.3 * unit,
                               base + 0.3 * unit, INK)
                paper.text((x, base), line, high, align=column.align, room=room,
                           weight=self._weight(number, cell), colour=WHITE if cell.flag else INK)
                base += 1.1 * unit
            if cell.under:
                paper.text((x, base), cell.under, low, align=column.align, room=room, colour=QUIET)
        paper.rule(left, left + width, top + self._row_height(row) - 0.1 * unit)

    def _row_height(self, row: object) -> float:
        return max(self._words_height(row), self.tall * self.setting.unit)

    def _words_height(self, row: object) -> float:
        lines = max(len(texts) + bool(cell.under) for texts, cell in self._cells(row))
        # Where rows stand close, a rule must not meet the letters over it.
        step = 1.1 if self.setting.air < 1 else 1.0 if lines == 2 else 1.07
        return (1.1 + self.setting.air + (lines - 1) * step) * self.setting.unit

    def blocks(self) -> list[Block]:
        """Return the table: it is kept on one page, or its head is set again on the next."""
        high = self._head_height()
        head = Block(high, self._head)
        made = []
        for number, row in enumerate(self.rows):

            def draw(paper, left, top, width, row=row, first=number == 0):
                if first:
                    self._head(paper, left, top, width)
                    top += high
                self._row(paper, left, top, width, row)

            # The first row brings its head with it; the table itself says what belongs together.
            made.append(Block(self._row_height(row) + (high if number == 0 else 0), draw, self,
                              head if number else None))
        return made

    def under(self, title: Block) -> list[Block]:
        """Return the table under a title that stays with its head."""
        first, *others = self.blocks()
        return [together(title, first), *others]


def _frame(paper: Paper, left: float, top: float, wide: float, high: float, unit: float) -> None:
    """Draw the outline of a box to tick or to write in. [px]"""
    paper.stroke([(left, top), (left + wide, top), (left + wide, top + high), (left, top + high),
                  (left, top)], INK, unit / 14)


def face_columns(measures: Callable[[Any], ShotMeasures], shares: tuple[float, float, float],
                 group: str = "") -> list[Column]:
    """Return the columns of both sides of a face and of its ratios, of what rows measure."""
    def of(cell: Callable[[FaceLight, CameraSettings], tuple[str, str]]) -> Callable[[Any], Cell]:
        def shown(row: Any) -> Cell:
            one = measures(row)
            return Cell("–") if one.face is None else Cell(*cell(one.face, one.settings))

        return shown

    return [
        Column("lit side", "lx, then stops", shares[0],
               of(lambda face, settings: side_texts(face.lit, settings)), group),
        Column("shadow side", "lx, then stops", shares[1],
               of(lambda face, settings: side_texts(face.shadow, settings))),
        Column("lit : shadow", "key alone : fill", shares[2], of(lambda face, _: ratio_texts(face))),
    ]
