"""A sheet of paper to set pictures and words on.

One face in two weights, one ink, one quiet grey, thin rules, an even neutral paper: nothing here
may colour how a picture beside it is judged. Every word's box is kept, so that a layout can be
checked for words that leave the sheet or run into each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from PIL import Image, ImageDraw, ImageFont

PAPER = (244, 244, 243)
INK = (30, 30, 32)
QUIET = (104, 104, 108)
RULE = (205, 205, 204)

_FACES = {"regular": "Lato-Regular.ttf", "strong": "Lato-Semibold.ttf"}


@dataclass(frozen=True)
class Box:
    """Where a word stands.

    Parameters
    ----------
    text : str
        As drawn.
    left, top, right, bottom : float
        Ink box. [px]
    """

    text: str
    left: float
    top: float
    right: float
    bottom: float


@lru_cache(maxsize=64)
def _font(weight, size):
    path = files("previz.deliver").joinpath("fonts", _FACES[weight])
    with path.open("rb") as file:
        # The basic layout gives the same widths on every machine.
        return ImageFont.truetype(file, size, layout_engine=ImageFont.Layout.BASIC)


class Canvas:
    """A paper of a size in pixels.

    Parameters
    ----------
    width, height : int
        [px]
    """

    def __init__(self, width, height):
        self.image = Image.new("RGB", (int(width), int(height)), PAPER)
        self.boxes = []
        self._draw = ImageDraw.Draw(self.image)

    @property
    def size(self):
        """Width and height. [px]"""
        return self.image.size

    def text(self, at, text, size, *, weight="regular", colour=INK, align="left", room=None):
        """Set one line of text.

        Parameters
        ----------
        at : (float, float)
            Left end (or middle, or right end) of the base line. [px]
        text : str
            The words.
        size : int
            Height of the type. [px]
        weight : str
            'regular' or 'strong'.
        colour : tuple of int
            sRGB.
        align : str
            'left', 'centre' or 'right'.
        room : float, optional
            Widest it may be; longer text ends in an ellipsis. [px]

        Returns
        -------
        float
            Width of what was set. [px]
        """
        font = _font(weight, int(size))
        shown = text if room is None else shortened(text, size, room, weight)
        anchor = {"left": "ls", "centre": "ms", "right": "rs"}[align]
        self._draw.text(at, shown, fill=colour, font=font, anchor=anchor)
        if shown:
            self.boxes.append(Box(shown, *self._draw.textbbox(at, shown, font=font, anchor=anchor)))
        return _width(shown, int(size), weight)

    def paragraph(self, at, text, size, room, *, colour=QUIET, leading=1.45):
        """Set text in lines no wider than the room.

        Parameters
        ----------
        at : (float, float)
            Left end of the first base line. [px]
        text : str
            The words.
        size : int
            [px]
        room : float
            Width of a line. [px]
        colour : tuple of int
            sRGB.
        leading : float
            Distance of lines in parts of the size. [1]

        Returns
        -------
        float
            Base line of the last line. [px]
        """
        left, base = at
        lines = wrapped(text, size, room)
        for number, line in enumerate(lines):
            self.text((left, base + number * leading * size), line, size, colour=colour, room=room)
        return base + (len(lines) - 1) * leading * size

    def rule(self, left, right, y, colour=RULE, thickness=1):
        """Draw a thin horizontal line."""
        self._draw.rectangle([left, y, right, y + thickness - 1], fill=colour)

    def fill(self, left, top, right, bottom, colour):
        """Fill a rectangle; right and bottom are not included."""
        if right > left and bottom > top:
            self._draw.rectangle([left, top, right - 1, bottom - 1], fill=colour)

    def picture(self, at, pixels, size=None, *, smooth=True):
        """Set a picture.

        Parameters
        ----------
        at : (int, int)
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


def width_of(text, size, weight="regular"):
    """Return how wide a line of text is.

    Parameters
    ----------
    text : str
        The words.
    size : int
        [px]
    weight : str
        'regular' or 'strong'.

    Returns
    -------
    float
        [px]
    """
    return _width(text, int(size), weight)


@lru_cache(maxsize=8192)
def _width(text, size, weight):
    # A sheet measures the same few hundred words again and again, while it lays itself out.
    return _font(weight, size).getlength(text)


def shortened(text, size, room, weight="regular"):
    """Return text cut to a width, with an ellipsis where something was left out.

    Parameters
    ----------
    text : str
        The words.
    size : int
        [px]
    room : float
        [px]
    weight : str
        'regular' or 'strong'.

    Returns
    -------
    str
    """
    if width_of(text, size, weight) <= room:
        return text
    for end in range(len(text) - 1, 0, -1):
        cut = text[:end].rstrip() + "…"
        if width_of(cut, size, weight) <= room:
            return cut
    return ""


def wrapped(text, size, room):
    """Return text broken into lines between words.

    Parameters
    ----------
    text : str
        The words.
    size : int
        [px]
    room : float
        [px]

    Returns
    -------
    list of str
    """
    lines = [""]
    # Only plain spaces may break: a unit stays with its number by a no-break space.
    for word in text.split(" "):
        tried = f"{lines[-1]} {word}".strip(" ")
        if lines[-1] and width_of(tried, size) > room:
            lines.append(word)
        else:
            lines[-1] = tried
    return lines
