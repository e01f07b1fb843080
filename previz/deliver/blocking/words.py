"""Where the names stand on a blocking drawing: at the side of the things, never on each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.deliver.canvas import INK, PAPER, QUIET, Canvas, width_of

CAUTION = (158, 60, 42)
"""Ink of a name that somebody should mind. [sRGB]"""

GAP = 4
"""Air between a thing and its name. [px]"""

LEADER_FROM = 9
"""Distance from a thing above which its name is tied to it by a line. [px]"""

PLATE = 0.72
"""Share of the paper's colour under a name. [1]"""

RINGS = (0, 14, 30, 50, 75, 105, 140)
"""How far from its thing a name is tried. [px]"""


@dataclass(frozen=True)
class Word:
    """A name to be placed.

    Parameters
    ----------
    text : str
    note : str
        Set after the name in grey; '' for none.
    box : (float, float, float, float)
        Left, top, right and bottom of the thing. [px]
    anchor : (float, float)
        A point of the thing that a line may go to. [px]
    above : bool
        True to try over the thing first, False at its side.
    caution : bool
        Set in the ink of a caution.
    """

    text: str
    note: str
    box: tuple[float, float, float, float]
    anchor: tuple[float, float]
    above: bool = False
    caution: bool = False


@dataclass(frozen=True)
class Placed:
    """A name with its place.

    Parameters
    ----------
    word : Word
    box : (float, float, float, float)
        Of the lettering. [px]
    leader : ((float, float), (float, float)) or None
        Line from the lettering to the thing. [px]
    """

    word: Word
    box: tuple[float, float, float, float]
    leader: tuple[tuple[float, float], tuple[float, float]] | None


def type_size(height: int) -> int:
    """Return the size of the lettering for a drawing of a height. [px]"""
    return max(10, round(height * 0.026))


def _extent(word, size):
    note = width_of(f" {word.note}", size) if word.note else 0
    return width_of(word.text, size, "strong") + note + 6, size * 1.35


def place_words(words, busy, size: int) -> list[Placed]:
    """Return where each name goes; one that nowhere fits is left out.

    Parameters
    ----------
    words : sequence of Word
        The most important first.
    busy : bool array, shape (rows, columns)
        Pixels that a name should rather not cover.
    size : int
        Of the lettering. [px]
    """
    rows, columns = busy.shape
    total = np.zeros((rows + 1, columns + 1), np.int64)
    total[1:, 1:] = busy.cumsum(axis=0, dtype=np.int64).cumsum(axis=1)
    placed: list[Placed] = []
    for word in words:
        best = None
        for rank, box in enumerate(_candidates(word, *_extent(word, size))):
            if box[0] < 2 or box[1] < 2 or box[2] > columns - 2 or box[3] > rows - 2:
                continue
            if any(_overlap(box, other.box) for other in placed):
                continue
            left, top, right, bottom = (int(x) for x in box)
            covered = (total[bottom, right] - total[top, right] - total[bottom, left]
                       + total[top, left]) / max(1, (right - left) * (bottom - top))
            cost = 10 * covered + 0.12 * rank
            if best is None or cost < best[0]:
                best = cost, box
        if best is not None:
            placed.append(Placed(word, best[1], _leader(word, best[1])))
    return placed


def _candidates(word, width, height):
    left, top, right, bottom = word.box
    middle_x, middle_y = (left + right) / 2, (top + bottom) / 2
    for ring in RINGS:
        gap = GAP + ring
        over = (middle_x - width / 2, top - gap - height)
        under = (middle_x - width / 2, bottom + gap)
        sides = [(right + gap, middle_y - height / 2), (left - gap - width, middle_y - height / 2)]
        corners = [(x, y) for y in (top - gap - height, bottom + gap)
                   for x in (right + gap, left - gap - width)]
        order = [over, *sides, under] if word.above else [*sides, over, under]
        for x, y in (*order, *corners):
            yield x, y, x + width, y + height
    # A thing that fills the picture has its name on itself.
    for y in (top + GAP, middle_y - height / 2, bottom - GAP - height):
        yield middle_x - width / 2, y, middle_x + width / 2, y + height


def _overlap(a, b, air=3):
    return a[0] < b[2] + air and b[0] < a[2] + air and a[1] < b[3] + air and b[1] < a[3] + air


def _leader(word, box):
    left, top, right, bottom = word.box
    away = max(left - box[2], box[0] - right, top - box[3], box[1] - bottom)
    if away <= LEADER_FROM:
        return None
    x, y = word.anchor
    start = min(max(x, box[0]), box[2]), min(max(y, box[1]), box[3])
    return start, (x, y)


def with_plates(pixels: np.ndarray, placed) -> np.ndarray:
    """Return a picture with the paper showing faintly under every name."""
    pixels = pixels.copy()
    for each in placed:
        left, top, right, bottom = (int(round(x)) for x in each.box)
        part = pixels[top:bottom, left:right].astype(float)
        pixels[top:bottom, left:right] = part + (np.array(PAPER) - part) * PLATE
    return pixels


def write_words(canvas: Canvas, placed, size: int) -> None:
    """Set the names on a canvas."""
    for each in placed:
        word, (left, _, _, bottom) = each.word, each.box
        base = bottom - size * 0.38
        ink = CAUTION if word.caution else INK
        width = canvas.text((left + 3, base), word.text, size, weight="strong", colour=ink)
        if word.note:
            canvas.text((left + 3 + width, base), f" {word.note}", size,
                        colour=CAUTION if word.caution else QUIET)
