"""Sheets in blocks: the same layout stacked to one tall picture, or set on pages for print.

A block is a part that must stay together: a row of pictures, a table, a paragraph. Its drawing
calls a paper's methods and nothing else, so that a picture and a PDF come from the same code and
look the same, the one in pixels, the other with text that stays text.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from previz.deliver.canvas import INK, QUIET, RULE, Canvas, wrapped

_FINER = 4
"""Lines are drawn this much larger and brought down, so that they are smooth."""


@dataclass(frozen=True)
class Block:
    """A part of a sheet that is not torn apart.

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
    draw: Callable
    whole: object = None
    lead: Block | None = None


class Paper(Canvas):
    """A canvas that also takes lines."""

    def stroke(self, points, colour=INK, thickness=1.0, dash=None):
        """Draw a line through points.

        Parameters
        ----------
        points : sequence of (float, float)
            [px]
        colour : tuple of int
            sRGB.
        thickness : float
            [px]
        dash : (float, float), optional
            Lengths of line and gap. [px]
        """
        path = np.asarray(points, dtype=float)
        pad = int(np.ceil(thickness)) + 2
        low = np.floor(path.min(axis=0)).astype(int) - pad
        high = np.ceil(path.max(axis=0)).astype(int) + pad
        low = np.maximum(low, 0)
        high = np.minimum(high, self.image.size)
        if np.any(high <= low):
            return
        size = tuple(int(n) for n in (high - low) * _FINER)
        mask = Image.new("L", size, 0)
        draw = ImageDraw.Draw(mask)
        width = max(1, round(thickness * _FINER))
        for piece in dashes(path, dash):
            corners = [tuple(p) for p in (piece - low) * _FINER]
            draw.line(corners, fill=255, width=width, joint="curve")
        mask = mask.resize(tuple(int(n) for n in high - low), Image.Resampling.BOX)
        self.image.paste(Image.new("RGB", mask.size, tuple(colour)), tuple(int(n) for n in low),
                         mask)

    def dot(self, at, radius, colour=INK, ring=None):
        """Draw a filled disc, with a ring round it if one is given.

        Parameters
        ----------
        at : (float, float)
            [px]
        radius : float
            [px]
        colour, ring : tuple of int
            sRGB.
        """
        reach = int(np.ceil(radius)) + 2
        low = np.floor(np.asarray(at, float)).astype(int) - reach
        size = 2 * reach + 1
        for each, colour_of in ((radius, ring or colour), (radius * 0.72, colour)):
            mask = Image.new("L", (size * _FINER, size * _FINER), 0)
            middle = (np.asarray(at, float) - low) * _FINER
            box = [*(middle - each * _FINER), *(middle + each * _FINER)]
            ImageDraw.Draw(mask).ellipse(box, fill=255)
            mask = mask.resize((size, size), Image.Resampling.BOX)
            self.image.paste(Image.new("RGB", mask.size, tuple(colour_of)),
                             tuple(int(n) for n in low), mask)


def dashes(path, dash):
    """Yield the pieces of a line that are drawn.

    Parameters
    ----------
    path : float array, shape (n, 2)
        [px]
    dash : (float, float) or None
        Lengths of line and gap; None draws it all. [px]
    """
    if dash is None:
        yield path
        return
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    for start in np.arange(0.0, along[-1], sum(dash)):
        ends = np.array([start, min(start + dash[0], along[-1])])
        inner = along[(along > ends[0]) & (along < ends[1])]
        stops = np.concatenate([ends[:1], inner, ends[1:]])
        yield np.stack([np.interp(stops, along, path[:, k]) for k in range(2)], axis=1)


@dataclass(frozen=True)
class Setting:
    """Sizes of a sheet that follow from its width.

    Parameters
    ----------
    width : int
        [px]
    """

    width: int

    @property
    def unit(self) -> float:
        """The module that everything is set in: 9 to 12 points on A3. [px]"""
        return self.width / 110

    @property
    def margin(self) -> float:
        """Left, right, above and below. [px]"""
        return 2.4 * self.unit

    @property
    def inner(self) -> float:
        """Width between the margins. [px]"""
        return self.width - 2 * self.margin


def heading(setting: Setting, title: str, subject: str, aside: str = "") -> Block:
    """Return the head of a sheet: title, and under it what all that follows has in common.

    Parameters
    ----------
    setting : Setting
        Sizes of the sheet.
    title, subject : str
        Of the sheet.
    aside : str
        At the right of the subject.
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
    """Return the heading of a part of a sheet.

    Parameters
    ----------
    setting : Setting
        Sizes of the sheet.
    text : str
        The words.
    aside : str
        Set quietly behind it.
    """
    unit = setting.unit

    def draw(paper, left, top, width):
        base = top + 1.9 * unit
        taken = paper.text((left, base), text, round(1.25 * unit), weight="strong", room=width)
        if aside:
            paper.text((left + taken + unit, base), aside, round(0.95 * unit), colour=QUIET,
                       room=width - taken - unit)

    return Block(2.6 * unit, draw)


def paragraph(setting: Setting, text: str, *, colour=QUIET, size: float = 0.85) -> Block:
    """Return a paragraph.

    Parameters
    ----------
    setting : Setting
        Sizes of the sheet.
    text : str
        The words.
    colour : tuple of int
        sRGB.
    size : float
        In units. [1]
    """
    high = round(size * setting.unit)
    lines = wrapped(text, high, setting.inner)

    def draw(paper, left, top, width):
        paper.paragraph((left, top + 1.2 * high), text, high, width, colour=colour, leading=1.4)

    return Block((1.4 * len(lines) + 0.5) * high, draw)


def space(height: float) -> Block:
    """Return an empty block. [px]"""
    return Block(height, lambda *_: None)


def stacked(blocks: Sequence[Block], setting: Setting) -> Paper:
    """Return all blocks one under the other on one paper.

    Parameters
    ----------
    blocks : sequence of Block
        In order.
    setting : Setting
        Sizes of the sheet.
    """
    height = sum(block.height for block in blocks) + 2 * setting.margin
    paper = Paper(setting.width, round(height))
    top = setting.margin
    for block in blocks:
        block.draw(paper, setting.margin, top, setting.inner)
        top += block.height
    return paper


def paged(blocks: Sequence[Block], setting: Setting, height: float) -> list[list[Block]]:
    """Return blocks shared out to pages of a height, in order.

    Parameters
    ----------
    blocks : sequence of Block
        In order.
    setting : Setting
        Sizes of the sheet.
    height : float
        Of a page; a block that is higher gets a page of its own. [px]
    """
    pages, room = [[]], height - 2 * setting.margin
    left = room
    for number, block in enumerate(blocks):
        need = _height_together(blocks, number)
        # What would not fit a page of its own either is torn where the page ends.
        if pages[-1] and block.height > (left if need > room else left - need + block.height):
            pages.append([])
            left = room
            if block.lead is not None:
                pages[-1].append(block.lead)
                left -= block.lead.height
        pages[-1].append(block)
        left -= block.height
    return pages


def _height_together(blocks, first: int) -> float:
    """Return the height of a block with all after it that are to stay with it. [px]"""
    begins = first == 0 or blocks[first - 1].whole is not blocks[first].whole
    height = blocks[first].height
    if blocks[first].whole is not None and begins:
        for block in blocks[first + 1:]:
            if block.whole is not blocks[first].whole:
                break
            height += block.height
    return height


__all__ = [
    "INK", "QUIET", "RULE", "Block", "Paper", "Setting", "dashes", "heading", "paged",
    "paragraph", "space", "stacked", "subheading",
]  # fmt: skip
