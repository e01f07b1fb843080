"""The one layout of all sheets: head, paragraphs, scales, terms and notes in blocks.

A block is a part that must stay together. Its drawing calls a paper's methods and nothing else, so
that a picture and a PDF come from the same code: stacked to one tall picture, or set on pages for
print with text that stays text.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import repeat
from pathlib import Path

import numpy as np

from previz.deliver.atomic import write_bytes, write_png
from previz.deliver.canvas import INK, QUIET, Canvas, Colour, Paper, wrapped
from previz.deliver.map import ExposureMap, edge_text, swatch
from previz.exposure.falsecolour import GREY, signed
from previz.exposure.trust import doubts

A3 = (1190.55, 841.89)
A4 = (841.89, 595.28)
"""Pages, lying. [pt]  Source: ISO 216."""

COLUMNS = 3
"""Of terms side by side."""

Draw = Callable[[Paper, float, float, float], None]


@dataclass(frozen=True)
class Block:
    """A part of a sheet that stays whole.

    Parameters
    ----------
    height : float
        [px]
    draw : function
        (paper, left, top, width) -> None.
    whole : object
        Blocks one after the other with the same are kept on one page where that has room for
        them; None is kept with nothing.
    lead : Block or None
        Set before it where it begins a page: the head of a table that goes on.
    """

    height: float
    draw: Draw
    whole: object = None
    lead: Block | None = None


@dataclass(frozen=True)
class Setting:
    """Sizes of a sheet that follow from its width.

    Parameters
    ----------
    width : int
        [px]
    units : float
        How many of its module that is. [1]
    air : float
        Room between the rows of tables, as a share of what sheets of readings have. [1]
    """

    width: int
    units: float = 110.0
    air: float = 1.0

    @property
    def unit(self) -> float:
        """The module that everything is set in: 9 to 12 points on A3. [px]"""
        return self.width / self.units

    @property
    def margin(self) -> float:
        """Left, right, above and below. [px]"""
        return 2.4 * self.unit

    @property
    def inner(self) -> float:
        """Width between the margins. [px]"""
        return self.width - 2 * self.margin

    def across(self, count: int, gap: float) -> float:
        """Return the width of one of so many pictures in a row, with a gap in units. [px]"""
        return (self.inner - gap * self.unit * (count - 1)) / count


def caption(paper: Paper, at: tuple[float, float], unit: float, name: str, note: str, room: float,
            size: float = 1.15) -> None:
    """Set a name, and quietly behind it what is to be known of it; neither leaves the room."""
    taken = paper.text(at, name, round(size * unit), weight="strong", room=room) + 0.9 * unit
    # Of a note that has no room a few letters say nothing.
    if note and room - taken > 3 * unit:
        paper.text((at[0] + taken, at[1]), note, round(0.78 * size * unit), colour=QUIET,
                   room=room - taken)


MANY_BANDS = 20
"""More than these leave a band of a scale less room than the words at its ends need."""


def scale(setting: Setting, lead: str, bands: Sequence, first: float = 17.0) -> Block:
    """Return a scale of colours with what each stands for.

    Parameters
    ----------
    setting : Setting
    lead : str
        What is counted, before the colours.
    bands : sequence of falsecolour.Band
        Dark to light.
    first : float
        Least room for the lead, so that scales under each other begin alike. [units]
    """
    unit = setting.unit
    zoned = any(band.mark == GREY for band in bands)
    bands = [*(band for band in bands if band.mark != GREY),
             *[band for band in bands if band.mark == GREY][:1]]

    def draw(paper, left, top, width):
        taken = paper.text((left, top + 1.35 * unit), lead, round(0.85 * unit), colour=QUIET)
        start = left + max(taken + unit, first * unit)
        # Of many bands the ends, whose words are longest, take more room.
        parts = np.array([2.0 if band.mark and len(bands) > MANY_BANDS else 1.0 for band in bands])
        ends = start + (left + width - start) * np.concatenate([[0.0], np.cumsum(parts) / parts.sum()])
        for band, near, far in zip(bands, ends[:-1], ends[1:], strict=True):
            box = (round(near), round(top), round(far), round(top + 1.7 * unit))
            swatch(paper, box, band)
            words = band.label
            if band.mark == GREY:
                words = "all else"
            elif zoned and not band.mark:
                words = f"{edge_text(band.low)} to {edge_text(band.high)}, {band.label}"
            elif band.mark:
                limit = signed(band.centre, 1)
                words = f"under {limit}" if band.mark == "dots" else f"over {limit}"
            paper.text(((box[0] + box[2]) / 2, top + 2.85 * unit), words, round(0.8 * unit),
                       align="centre", room=far - near)

    return Block(3.6 * unit, draw)


def map_scales(setting: Setting, lead: str, charts: Sequence[tuple[str, ExposureMap]],
               first: float = 17.0) -> list[Block]:
    """Return the scale of exposure maps, one for all that have the same bands.

    Parameters
    ----------
    setting : Setting
    lead : str
        What is counted.
    charts : sequence of (str, ExposureMap)
        Each with what it is of, for where not all are alike.
    first : float
        As of `scale`.
    """
    alike: dict[tuple, list[str]] = {}
    for name, chart in charts:
        names = alike.setdefault(chart.bands, [])
        names += [name] if name not in names else []
    return [scale(setting, lead if len(alike) == 1 else f"{lead}: {', '.join(names)}", bands, first)
            for bands, names in alike.items()]


def heading(setting: Setting, title: str, subject: str, aside: str = "") -> Block:
    """Return the head of a sheet: its title, and under it what all that follows has in common.

    `aside` stands at the right of that.
    """
    unit = setting.unit

    def draw(paper, left, top, width):
        base = top + 1.7 * unit
        paper.text((left, base), title, round(1.9 * unit), weight="strong", room=width)
        taken = 0.0
        if aside:
            taken = paper.text((left + width, base + 1.9 * unit), aside, round(1.05 * unit),
                               colour=QUIET, align="right") + unit
        paper.text((left, base + 1.9 * unit), subject, round(1.05 * unit), colour=QUIET,
                   room=width - taken)
        paper.rule(left, left + width, base + 2.7 * unit)

    return Block(5.4 * unit, draw)


def subheading(setting: Setting, text: str, aside: str = "") -> Block:
    """Return the heading of a part of a sheet, with words set quietly behind it."""
    unit = setting.unit
    return Block(2.6 * unit, lambda paper, left, top, width: caption(
        paper, (left, top + 1.9 * unit), unit, text, aside, width, 1.25))


def paragraph(setting: Setting, text: str, *, colour: Colour = QUIET, size: float = 0.85) -> Block:
    """Return a paragraph of a size in units."""
    high = round(size * setting.unit)
    lines = wrapped(text, high, setting.inner)

    def draw(paper, left, top, width):
        paper.paragraph((left, top + 1.2 * high), text, high, width, colour=colour, leading=1.4)

    return Block((1.4 * len(lines) + 0.5) * high, draw)


def space(height: float) -> Block:
    """Return an empty block. [px]"""
    return Block(height, lambda *_: None)


def together(*blocks: Block) -> Block:
    """Return blocks as one that stays whole; it belongs where the last of them does."""

    def draw(paper, left, top, width):
        for block in blocks:
            block.draw(paper, left, top, width)
            top += block.height

    return Block(sum(block.height for block in blocks), draw, blocks[-1].whole, blocks[-1].lead)


def definitions(setting: Setting, terms: Sequence[tuple[str, str]]) -> Block:
    """Return terms with their meanings, set in columns."""
    size = round(0.8 * setting.unit)
    gap = 2 * setting.unit
    room = (setting.inner - (COLUMNS - 1) * gap) / COLUMNS
    set_up = [(term, wrapped(text, size, room)) for term, text in terms]
    heights = [1.45 + 1.38 * len(text) for _, text in set_up]
    columns, used = [[] for _ in range(COLUMNS)], 0.0
    for each, high in zip(set_up, heights, strict=True):
        # A term goes to the column that its middle falls in.
        number = int((used + high / 2) / sum(heights) * COLUMNS)
        columns[min(number, COLUMNS - 1)].append(each)
        used += high
    tallest = max(sum(1.45 + len(text) for _, text in column) for column in columns if column)

    def draw(paper, left, top, width):
        for number, column in enumerate(columns):
            x, base = left + number * (room + gap), top + 1.2 * size
            for term, text in column:
                paper.text((x, base), term, size, weight="strong", room=room)
                for line in text:
                    base += 1.38 * size
                    paper.text((x, base), line, size, colour=QUIET, room=room)
                base += 2.0 * size

    return Block(1.4 * size * tallest + size, draw)


def doubt_blocks(setting: Setting, readings: Iterable[tuple[str, Sequence]]) -> list[Block]:
    """Return the words under a table on readings that fall short of the request; see `trust.doubts`."""
    words = doubts(readings)
    return [paragraph(setting, words, colour=INK)] if words else []


def foot(setting: Setting, terms: Sequence[tuple[str, str]] = (), *notes: str) -> list[Block]:
    """Return the foot of a sheet: what its heads mean, and notes."""
    blocks = [definitions(setting, terms)] if terms else []
    return [space(setting.unit), *blocks,
            *(paragraph(setting, words) for words in notes if words)]


def stacked(blocks: Sequence[Block], setting: Setting) -> Canvas:
    """Return all blocks one under the other on one canvas; its `boxes` are the words drawn."""
    height = sum(block.height for block in blocks) + 2 * setting.margin
    canvas = Canvas(setting.width, round(height))
    top = setting.margin
    for block in blocks:
        block.draw(canvas, setting.margin, top, setting.inner)
        top += block.height
    return canvas


def paged(blocks: Sequence[Block], setting: Setting, height: float) -> list[list[Block]]:
    """Return blocks shared out to pages of a height [px], in order.

    A block that is higher gets a page of its own.
    """
    return shared_out(blocks, repeat(height - 2 * setting.margin))


def shared_out(blocks: Sequence[Block], rooms: Iterable[float]) -> list[list[Block]]:
    """Return blocks shared out, in order, to places of some heights [px]; the last is for all that is left.

    A block that is higher gets a place of its own.
    """
    heights = iter(rooms)
    left = room = next(heights)
    pages: list[list[Block]] = [[]]
    for number, block in enumerate(blocks):
        need = height_together(blocks, number)
        # What would not fit a page of its own either is torn where the page ends.
        if pages[-1] and block.height > (left if need > room else left - need + block.height):
            pages.append([])
            left = room = next(heights, room)
            if block.lead is not None:
                pages[-1].append(block.lead)
                left -= block.lead.height
        pages[-1].append(block)
        left -= block.height
    return pages


def height_together(blocks: Sequence[Block], first: int) -> float:
    """Return the height of a block with all after it that are to stay with it. [px]"""
    begins = first == 0 or blocks[first - 1].whole is not blocks[first].whole
    height = blocks[first].height
    if blocks[first].whole is not None and begins:
        for block in blocks[first + 1:]:
            if block.whole is not blocks[first].whole:
                break
            height += block.height
    return height


def write_sheet_files(stem: Path, blocks: Sequence[Block], setting: Setting, words: dict[str, str],
                      page: tuple[float, float] | None = A3) -> list[Path]:
    """Write a sheet as a PNG, and as a PDF on pages; return the files.

    Parameters
    ----------
    stem : Path
        Without the ending; each file is replaced in one step.
    blocks : sequence of Block
        What stands on it, from the top.
    setting : Setting
    words : dict of str to str
        What the files say of themselves: 'Title', 'Description', 'Software'.
    page : (float, float) or None
        Width and height of a page; None writes no PDF. [pt]
    """
    png, pdf = Path(stem).with_suffix(".png"), Path(stem).with_suffix(".pdf")
    write_png(png, stacked(blocks, setting).image, words)
    if page is None:
        return [png]
    # Its library is slow to import, and of no use to a sheet that is a picture alone.
    from previz.deliver.pdf import pdf_bytes

    write_bytes(pdf, pdf_bytes(paged(blocks, setting, page[1] / page[0] * setting.width), setting,
                               words, page))
    return [png, pdf]
