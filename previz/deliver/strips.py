"""Strips of changes: rows of boxes as dark as what they do is large, framed where it goes amiss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from previz.deliver.canvas import INK, QUIET, Colour, Paper, wrapped
from previz.deliver.layout import Block, Setting, together
from previz.deliver.plots import PANEL

NAMES, LINES = 16.5, 7.0
"""Room for the names of rows and of their lines. [units]"""

HIGH, TALL = 1.75, 2.75
"""Of a line, and of one whose boxes have a second line of words. [units]"""

DARK = (190, 192, 195)
"""Ground of the largest change."""

FRAME = 0.13
"""Thickness of a frame. [units]"""

KEY = "How far a reading moves, in stops or mired: grounds from nothing to a stop (60 mired) and more"
FRAMED = "framed: a want that is met is missed then; 'met': one that is missed is met then"
"""What the key says."""


@dataclass(frozen=True)
class Mark:
    """One box of a strip.

    Parameters
    ----------
    text, under : str
        Words in it, and a quiet second line.
    size : float or None
        How large the change is, 1 for the largest that grounds tell apart; None for words without a ground.
    framed : bool
    """

    text: str
    under: str = ""
    size: float | None = None
    framed: bool = False


@dataclass(frozen=True)
class StripRow:
    """One row of a strip.

    Parameters
    ----------
    name, under : str
        What it is of, and a quiet line below.
    lines : sequence of (str, sequence of Mark)
        What each line is called, and a mark for each column.
    """

    name: str
    under: str
    lines: Sequence[tuple[str, Sequence[Mark]]]


@dataclass(frozen=True)
class Strip:
    """Rows of boxes under heads.

    Parameters
    ----------
    setting : Setting
    heads : sequence of (str, str)
        What each column is called; a group's name at the first of the group, else ''.
    rows : sequence of StripRow
    size : float
        Of the type. [units]
    most : int
        Columns that the width is shared by, where there are fewer.
    """

    setting: Setting
    heads: Sequence[tuple[str, str]]
    rows: Sequence[StripRow] = field(default_factory=list)
    size: float = 0.85
    most: int = 6

    @cached_property
    def wide(self) -> float:
        """Width of a column. [px]"""
        left = self.setting.inner - (NAMES + (LINES if self.lined else 0.0)) * self.setting.unit
        return left / max(len(self.heads), self.most)

    @property
    def lined(self) -> bool:
        """Whether its lines have names."""
        return any(name for row in self.rows for name, _ in row.lines)

    def _left(self, number: int) -> float:
        """Return where a column begins. [px]"""
        return (NAMES + (LINES if self.lined else 0.0)) * self.setting.unit + number * self.wide

    @cached_property
    def _head_lines(self) -> list[list[str]]:
        room = self.wide - 0.8 * self.setting.unit
        return [wrapped(head, round(self.size * self.setting.unit), room) for head, _ in self.heads]

    @property
    def _head_height(self) -> float:
        grouped = any(group for _, group in self.heads)
        lines = max(len(each) for each in self._head_lines)
        return (0.9 + 1.1 * lines + (1.5 if grouped else 0.0)) * self.setting.unit

    def _head(self, paper: Paper, left: float, top: float, width: float) -> None:
        unit, high = self.setting.unit, round(self.size * self.setting.unit)
        foot = top + self._head_height
        starts = [number for number, (_, group) in enumerate(self.heads) if group]
        for first, after in zip(starts, [*starts[1:], len(self.heads)], strict=False):
            paper.text((left + self._left(first) + 0.3 * unit, top + 1.1 * unit), self.heads[first][1], high,
                       weight="strong", room=(after - first) * self.wide - 0.8 * unit)
        for number, lines in enumerate(self._head_lines):
            middle = left + self._left(number) + self.wide / 2
            for row, line in enumerate(reversed(lines)):
                paper.text((middle, foot - (0.6 + 1.1 * row) * unit), line, high, align="centre",
                           room=self.wide - 0.6 * unit)
        paper.rule(left, left + width, foot - 0.2 * unit, INK)

    def _words(self, row: StripRow) -> tuple[list[str], list[str]]:
        """Return the lines of a row's name, and of what stands under it."""
        room = (NAMES - 1.0) * self.setting.unit
        return (wrapped(row.name, round(self.size * self.setting.unit), room),
                wrapped(row.under, round(0.8 * self.size * self.setting.unit), room) if row.under else [])

    def _height(self, row: StripRow) -> float:
        name, under = self._words(row)
        words = 0.8 + 1.1 * len(name) + 0.95 * len(under)
        return (max(words, sum(_high(marks) for _, marks in row.lines) + 0.3) + 0.2) * self.setting.unit

    def _row(self, paper: Paper, left: float, top: float, width: float, row: StripRow) -> None:
        unit, high = self.setting.unit, round(self.size * self.setting.unit)
        low = round(0.8 * self.size * unit)
        name, under = self._words(row)
        base = top + 1.3 * unit
        for line in name:
            paper.text((left, base), line, high, weight="strong", room=(NAMES - 1.0) * unit)
            base += 1.1 * unit
        for line in under:
            paper.text((left, base - 0.1 * unit), line, low, colour=QUIET, room=(NAMES - 1.0) * unit)
            base += 0.95 * unit
        at = top + 0.15 * unit
        for called, marks in row.lines:
            tall = _high(marks) * unit
            if called:
                paper.text((left + NAMES * unit, at + 1.2 * unit), called, high, colour=QUIET,
                           room=(LINES - 0.5) * unit)
            for number, mark in enumerate(marks):
                box = (left + self._left(number) + 0.1 * unit, at + 0.1 * unit,
                       left + self._left(number) + self.wide - 0.1 * unit, at + tall - 0.1 * unit)
                self._mark(paper, box, mark, high, low)
            at += tall
        paper.rule(left, left + width, top + self._height(row) - 0.1 * unit)

    def _mark(self, paper: Paper, box: tuple[float, float, float, float], mark: Mark, high: int,
              low: int) -> None:
        unit = self.setting.unit
        if mark.size is not None:
            boxed(paper, box, ground(mark.size), FRAME * unit if mark.framed else 0.0)
        middle, room = (box[0] + box[2]) / 2, box[2] - box[0] - 0.4 * unit
        lift = 1.1 * unit if mark.under else (box[3] - box[1] - 1.55 * unit) / 2 + 1.1 * unit
        paper.text((middle, box[1] + lift), mark.text, high, align="centre", room=room,
                   weight="strong" if mark.framed else "regular",
                   colour=QUIET if mark.size is None else INK)
        if mark.under:
            paper.text((middle, box[1] + 2.1 * unit), mark.under, low, align="centre", room=room,
                       colour=INK if mark.size is not None else QUIET)

    def blocks(self) -> list[Block]:
        """Return the strip: it is kept on one page, or its head is set again on the next."""
        high = self._head_height
        head = Block(high, self._head)
        made = []
        for number, row in enumerate(self.rows):

            def draw(paper: Paper, left: float, top: float, width: float, row: StripRow = row,
                     first: bool = number == 0) -> None:
                if first:
                    self._head(paper, left, top, width)
                    top += high
                self._row(paper, left, top, width, row)

            made.append(Block(self._height(row) + (high if number == 0 else 0), draw, self,
                              head if number else None))
        return made

    def under(self, title: Block) -> list[Block]:
        """Return the strip under a title that stays with its head."""
        first, *others = self.blocks()
        return [together(title, first), *others]


def _high(marks: Sequence[Mark]) -> float:
    return TALL if any(mark.under for mark in marks) else HIGH


def ground(size: float) -> Colour:
    """Return the ground of a change; 1 and more is the darkest."""
    share = min(max(size, 0.0), 1.0)
    red, green, blue = (round(light + share * (dark - light))
                        for light, dark in zip(PANEL, DARK, strict=True))
    return red, green, blue


def boxed(paper: Paper, box: tuple[float, float, float, float], colour: Colour, frame: float) -> None:
    """Fill a box, with a frame of a thickness [px] within it; 0 for none."""
    left, top, right, bottom = (round(edge) for edge in box)
    thick = max(round(frame), 1) if frame else 0
    if thick:
        paper.fill(left, top, right, bottom, INK)
    paper.fill(left + thick, top + thick, right - thick, bottom - thick, colour)


def strip_key(setting: Setting) -> Block:
    """Return what grounds and frames of strips mean."""
    unit, high = setting.unit, round(0.8 * setting.unit)

    def draw(paper: Paper, left: float, top: float, width: float) -> None:
        base = top + 1.1 * unit
        at = left + paper.text((left, base), KEY, high, colour=QUIET) + 0.8 * unit
        for size in (0.0, 0.25, 0.5, 0.75, 1.0):
            boxed(paper, (at, top + 0.2 * unit, at + 1.6 * unit, top + 1.4 * unit), ground(size), 0.0)
            at += 1.6 * unit
        at += 1.6 * unit
        boxed(paper, (at, top + 0.2 * unit, at + 1.6 * unit, top + 1.4 * unit), ground(0.3), FRAME * unit)
        paper.text((at + 2.2 * unit, base), FRAMED, high, colour=QUIET)

    return Block(2.2 * unit, draw)
