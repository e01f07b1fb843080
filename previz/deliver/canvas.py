"""Papers to set pictures and words on.

One face in two weights, one ink, one quiet grey, thin rules, an even neutral ground: nothing here
may colour how a picture next to it is judged. Every word's box can be had, so that a layout can be
checked for words that leave the sheet, run into each other or were cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw, ImageFont

PAPER = (244, 244, 243)
INK = (30, 30, 32)
QUIET = (104, 104, 108)
RULE = (205, 205, 204)

Colour = tuple[int, int, int]

_FACES = {"regular": "Lato-Regular.ttf", "strong": "Lato-Semibold.ttf"}

_ANCHORS = {"left": "ls", "centre": "ms", "right": "rs"}

_FINER = 4
"""Lines are drawn this much larger and brought down, so that they are smooth."""


@dataclass(frozen=True)
class Box:
    """Where a word stands: its text as drawn, the edges of its ink [px], and what was to be drawn.

    `whole` is more than `text` where that was cut.
    """

    text: str
    left: float
    top: float
    right: float
    bottom: float
    whole: str = ""


@dataclass(frozen=True)
class Line:
    """A line of text as it was set: see `Paper.text`; `whole` is what was to be set."""

    at: tuple[float, float]
    text: str
    size: int
    weight: str
    align: str
    whole: str


@lru_cache(maxsize=64)
def _font(weight: str, size: int) -> ImageFont.FreeTypeFont:
    path = files("previz.deliver").joinpath("fonts", _FACES[weight])
    with path.open("rb") as file:
        # The basic layout gives the same widths on every machine.
        return ImageFont.truetype(file, size, layout_engine=ImageFont.Layout.BASIC)


class Paper:
    """What a layout draws on, be it pixels or a page for print.

    A paper has `fill`, `stroke`, `dot` and `picture`, sets letters by `_letters` and measures them by
    `_edges`; lines of text, paragraphs and rules follow from those.
    """

    def __init__(self) -> None:
        self._lines: list[Line] = []

    @property
    def boxes(self) -> list[Box]:
        """Where each line of text stands, in the order in which they were set."""
        # Found when it is read: to measure ink takes half as long as to draw it, and no sheet needs it.
        return [Box(line.text, *self._edges(line), line.whole) for line in self._lines]

    def text(self, at: tuple[float, float], text: str, size: float, *, weight: str = "regular",
             colour: Colour = INK, align: str = "left", room: float | None = None) -> float:
        """Set one line of text and return its width. [px]

        Parameters
        ----------
        at : (float, float)
            Left end, middle or right end of the base line, as `align` says. [px]
        text : str
        size : float
            Height of the type. [px]
        weight : str
            'regular' or 'strong'.
        colour : tuple of int
            sRGB.
        align : str
            'left', 'centre' or 'right'.
        room : float, optional
            Widest it may be; longer text ends in an ellipsis. [px]
        """
        shown = text if room is None else shortened(text, size, room, weight)
        if shown:
            self._lines.append(Line(at, shown, int(size), weight, align, text))
            self._letters(self._lines[-1], colour)
        return width_of(shown, size, weight)

    def paragraph(self, at: tuple[float, float], text: str, size: float, room: float, *,
                  colour: Colour = QUIET, leading: float = 1.45) -> None:
        """Set text in lines no wider than the room.

        Parameters
        ----------
        at : (float, float)
            Left end of the first base line. [px]
        text : str
        size, room : float
            Height of the type, and width of a line. [px]
        colour : tuple of int
            sRGB.
        leading : float
            Distance of lines in parts of the size. [1]
        """
        left, base = at
        for number, line in enumerate(wrapped(text, size, room)):
            self.text((left, base + number * leading * size), line, size, colour=colour, room=room)

    def rule(self, left: float, right: float, y: float, colour: Colour = RULE) -> None:
        """Draw a horizontal line one pixel thick."""
        self.fill(left, y, right, y + 1, colour)


class Canvas(Paper):
    """A paper of a size in pixels.

    Parameters
    ----------
    width, height : int
        [px]
    """

    def __init__(self, width: float, height: float) -> None:
        super().__init__()
        self.image = Image.new("RGB", (int(width), int(height)), PAPER)
        self._draw = ImageDraw.Draw(self.image)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height. [px]"""
        return self.image.size

    def _letters(self, line: Line, colour: Colour) -> None:
        self._draw.text(line.at, line.text, fill=colour, font=_font(line.weight, line.size),
                        anchor=_ANCHORS[line.align])

    def _edges(self, line: Line) -> tuple[float, float, float, float]:
        left, top, right, bottom = _ink(line.text, line.size, line.weight, line.align)
        x, y = line.at
        return left + x, top + y, right + x, bottom + y

    def fill(self, left: float, top: float, right: float, bottom: float, colour: Colour) -> None:
        """Fill a rectangle; right and bottom are not included."""
        if right > left and bottom > top:
            # A pixel more and one less is not always the same number.
            self._draw.rectangle([left, top, max(right - 1, left), max(bottom - 1, top)], fill=colour)

    def picture(self, at: tuple[float, float], pixels: np.ndarray,
                size: tuple[int, int] | None = None, *, smooth: bool = True) -> None:
        """Set a picture.

        Parameters
        ----------
        at : (float, float)
            Left and top. [px]
        pixels : uint8 array, shape (row, column, 3)
            sRGB.
        size : (int, int), optional
            Width and height to scale to. [px]
        smooth : bool
            False keeps hard edges, for maps.
        """
        image = Image.fromarray(np.ascontiguousarray(pixels))
        if size is not None and size != image.size:
            how = Image.Resampling.LANCZOS if smooth else Image.Resampling.NEAREST
            image = image.resize(size, how)
        self.image.paste(image, (int(at[0]), int(at[1])))

    def stroke(self, points: Sequence, colour: Colour = INK, thickness: float = 1.0,
               dash: Sequence[float] | None = None) -> None:
        """Draw a line through points.

        Parameters
        ----------
        points : sequence of (float, float)
            [px]
        colour : tuple of int
            sRGB.
        thickness : float
            [px]
        dash : sequence of float, optional
            Lengths of line and gap, by turns. [px]
        """
        path = np.asarray(points, dtype=float)
        pad = int(np.ceil(thickness)) + 2
        low = np.maximum(np.floor(path.min(axis=0)).astype(int) - pad, 0)
        high = np.minimum(np.ceil(path.max(axis=0)).astype(int) + pad, self.size)
        if np.any(high <= low):
            return

        def draw(mask):
            for piece in dashes(path, dash):
                mask.line([tuple(p) for p in (piece - low) * _FINER], fill=255,
                          width=max(1, round(thickness * _FINER)), joint="curve")

        self._smooth(low, high - low, colour, draw)

    def area(self, points: Sequence, colour: Colour = INK) -> None:
        """Fill the area within points. [px]"""
        path = np.asarray(points, dtype=float)
        low = np.maximum(np.floor(path.min(axis=0)).astype(int) - 1, 0)
        high = np.minimum(np.ceil(path.max(axis=0)).astype(int) + 1, self.size)
        if np.all(high > low):
            self._smooth(low, high - low, colour, lambda mask: mask.polygon(
                [tuple(p) for p in (path - low) * _FINER], fill=255))

    def turned(self, at: tuple[float, float], text: str, size: float, turn: float, *, weight: str = "regular",
               colour: Colour = INK, align: str = "left") -> None:
        """Set one line of text turned about its place; see `Paper.text`. It has no box.

        Parameters
        ----------
        turn : float
            Counter-clockwise. [deg]
        """
        reach = int(np.ceil(width_of(text, size, weight) + 2 * size))
        mask = Image.new("L", (2 * reach + 1,) * 2, 0)
        ImageDraw.Draw(mask).text((reach, reach), text, fill=255, font=_font(weight, int(size)),
                                  anchor=_ANCHORS[align])
        mask = mask.rotate(turn, Image.Resampling.BICUBIC)
        corner = tuple(round(float(place)) - reach for place in at)
        self.image.paste(Image.new("RGB", mask.size, tuple(colour)), corner, mask)

    def dot(self, at: Sequence[float], radius: float, colour: Colour = INK,
            ring: Colour | None = None) -> None:
        """Draw a filled disc [px], with a ring round it if one is given. Colours are sRGB."""
        reach = int(np.ceil(radius)) + 2
        low = np.floor(np.asarray(at, float)).astype(int) - reach
        middle = (np.asarray(at, float) - low) * _FINER
        for each, colour_of in ((radius, ring or colour), (radius * 0.72, colour)):
            box = [*(middle - each * _FINER), *(middle + each * _FINER)]
            self._smooth(low, (2 * reach + 1,) * 2, colour_of,
                         lambda mask, box=box: mask.ellipse(box, fill=255))

    def _smooth(self, low: np.ndarray, size: Sequence[int], colour: Colour, draw: Callable) -> None:
        """Lay a colour where `draw` fills a mask that is some times finer than the pixels."""
        wide, high = (int(n) for n in size)
        mask = Image.new("L", (wide * _FINER, high * _FINER), 0)
        draw(ImageDraw.Draw(mask))
        mask = mask.resize((wide, high), Image.Resampling.BOX)
        self.image.paste(Image.new("RGB", mask.size, tuple(colour)), tuple(int(n) for n in low), mask)


def dashes(path: np.ndarray, dash: Sequence[float] | None) -> Iterator[np.ndarray]:
    """Yield the pieces of a line, a path of shape (n, 2) [px], that are drawn.

    `dash` has the lengths of line and gap, by turns [px]; None draws it all.
    """
    if dash is None:
        yield path
        return
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    begins = np.concatenate([[0.0], np.cumsum(dash)[1:-1:2]])
    for start, length in ((each + begin, long) for each in np.arange(0.0, along[-1], sum(dash))
                          for begin, long in zip(begins, dash[::2], strict=True)):
        if start >= along[-1]:
            return
        ends = np.array([start, min(start + length, along[-1])])
        inner = along[(along > ends[0]) & (along < ends[1])]
        stops = np.concatenate([ends[:1], inner, ends[1:]])
        yield np.stack([np.interp(stops, along, path[:, k]) for k in range(2)], axis=1)


def width_of(text: str, size: float, weight: str = "regular") -> float:
    """Return how wide a line of text is, of a size and a weight, 'regular' or 'strong'. [px]"""
    return _width(text, int(size), weight)


@lru_cache(maxsize=8192)
def _width(text: str, size: int, weight: str) -> float:
    # A sheet measures the same few hundred words again and again, while it lays itself out. The basic layout
    # sets letter by letter, so that a line is its first letter and what each of the others adds.
    return sum((_step(*pair, size, weight) for pair in pairwise(text)), _letter(text[:1], size, weight))


@lru_cache(maxsize=16384)
def _letter(letter: str, size: int, weight: str) -> float:
    return _font(weight, size).getlength(letter)


@lru_cache(maxsize=65536)
def _step(before: str, letter: str, size: int, weight: str) -> float:
    """Return how much wider a line gets by a letter, with the kerning to the one before it. [px]"""
    return _font(weight, size).getlength(before + letter) - _letter(before, size, weight)


@lru_cache(maxsize=8192)
def _ink(text: str, size: int, weight: str, align: str) -> tuple[float, float, float, float]:
    """Return the edges of a line's ink, from where it is anchored. [px]"""
    return _font(weight, size).getbbox(text, "L", anchor=_ANCHORS[align])


def shortened(text: str, size: float, room: float, weight: str = "regular") -> str:
    """Return text cut to a width [px], with an ellipsis where something was left out."""
    if width_of(text, size, weight) <= room:
        return text
    for end in range(len(text) - 1, 0, -1):
        cut = text[:end].rstrip() + "…"
        if width_of(cut, size, weight) <= room:
            return cut
    return ""


def wrapped(text: str, size: float, room: float, weight: str = "regular") -> list[str]:
    """Return text broken between words into lines no wider than a room. [px]"""
    lines = [""]
    # Only plain spaces may break: a unit stays with its number by a no-break space.
    for word in text.split(" "):
        tried = f"{lines[-1]} {word}".strip(" ")
        if lines[-1] and width_of(tried, size, weight) > room:
            lines.append(word)
        else:
            lines[-1] = tried
    return lines
