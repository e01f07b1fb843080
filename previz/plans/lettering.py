"""How much room lettering takes on paper, so that words can be set clear of each other.

Widths are those of the face that the PDF has (Lato); other programs fit what they have into them.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

import numpy as np

from previz.plans.records import Words

_LETTERS = (
    ' !"#$%&\'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNO'
    'PQRSTUVWXYZ[\\]^_`abcdefghijklmnopqrstuvwxyz{|}~'
    '°²³µ·×½¼¾¹–—‘’“”…′″−→≤≥ßæøłđıþð€£'
)
_REGULAR = (
    256, 269, 370, 580, 580, 802, 712, 204, 267, 267, 425, 580, 227, 372, 236, 452, 580, 580, 580, 580,
    580, 580, 580, 580, 580, 580, 250, 262, 580, 580, 580, 448, 836, 677, 646, 668, 760, 578, 566, 730,
    764, 280, 422, 662, 514, 928, 764, 800, 600, 800, 626, 542, 590, 736, 677, 1036, 649, 624, 602, 306,
    452, 306, 580, 459, 400, 497, 560, 478, 560, 528, 350, 520, 558, 240, 240, 508, 236, 822, 558, 567,
    560, 560, 364, 433, 358, 558, 516, 786, 498, 516, 452, 301, 250, 301, 580, 414, 334, 334, 650, 260,
    580, 726, 734, 742, 334, 580, 794, 214, 214, 366, 366, 750, 327, 523, 580, 1000, 580, 580, 580, 805,
    566, 308, 560, 240, 560, 566, 580, 580,
)
_STRONG = (
    249, 276, 384, 580, 580, 811, 718, 208, 271, 271, 425, 580, 230, 372, 236, 460, 580, 580, 580, 580,
    580, 580, 580, 580, 580, 580, 254, 266, 580, 580, 580, 454, 840, 686, 653, 664, 760, 576, 566, 728,
    768, 288, 426, 674, 516, 937, 768, 804, 610, 804, 635, 546, 596, 740, 686, 1044, 660, 636, 604, 310,
    460, 310, 580, 463, 400, 502, 564, 480, 564, 531, 354, 524, 561, 248, 248, 522, 242, 830, 561, 571,
    564, 564, 369, 436, 366, 561, 522, 794, 510, 522, 456, 304, 256, 304, 580, 415, 334, 334, 655, 268,
    580, 730, 738, 746, 334, 580, 796, 218, 217, 377, 376, 762, 334, 532, 580, 1000, 580, 580, 592, 808,
    570, 320, 564, 248, 564, 568, 580, 580,
)
_WIDTHS = {strong: dict(zip("".join(_LETTERS), widths, strict=True))
           for strong, widths in ((False, _REGULAR), (True, _STRONG))}
"""Letter -> how far the next one stands from it. [1/1000 of the size]"""

_WIDE, _OTHER = 1000, 720
"""Of letters that the table has not: those that fill a square (east Asian), and all others; most are less."""

ABOVE, BELOW = 0.80, 0.22
"""How far letters reach from the base line, as parts of the size."""


@lru_cache(maxsize=4096)
def _letter(letter: str, strong: bool) -> int:
    widths = _WIDTHS[strong]
    if letter in widths:
        return widths[letter]
    if unicodedata.combining(letter) or unicodedata.category(letter) in ("Cf", "Cc"):
        return 0
    if unicodedata.category(letter) == "Zs":
        return widths[" "]
    # A letter with an accent is as wide as without.
    base = unicodedata.normalize("NFD", letter)[0]
    if base in widths:
        return widths[base]
    return _WIDE if unicodedata.east_asian_width(letter) in "WF" else _OTHER


def width(text: str, size: float, strong: bool = False) -> float:
    """Return how wide a line of text is, of a size [mm]. [mm]

    Without kerning, which makes most lines a little narrower.
    """
    return sum(_letter(letter, strong) for letter in text) * size / 1000


def corners(words: Words, unit: float = 1.0) -> np.ndarray:
    """Return the corners of the box that words stand in, shape (4, 2), counter-clockwise from the lower left.

    Parameters
    ----------
    words : Words
    unit : float
        What a mm of paper is in the unit of `words.at`: 1 on a page, scale / 1000 in a drawing.
    """
    wide = width(words.text, words.size, words.strong) * unit
    left = {"left": 0.0, "centre": -wide / 2, "right": -wide}[words.align]
    low, high = -BELOW * words.size * unit, ABOVE * words.size * unit
    box = np.array([[left, low], [left + wide, low], [left + wide, high], [left, high]])
    turn = np.radians(words.turn)
    cos, sin = np.cos(turn), np.sin(turn)
    return np.asarray(box @ np.array([[cos, sin], [-sin, cos]]) + words.at)


def shortened(text: str, size: float, room: float, strong: bool = False) -> str:
    """Return text cut to a width [mm], with an ellipsis where something was left out."""
    if width(text, size, strong) <= room:
        return text
    end = len(text)
    while end and width(text[:end].rstrip() + "…", size, strong) > room:
        end -= 1
    return text[:end].rstrip() + "…" if end else ""


def wrapped(text: str, size: float, room: float, strong: bool = False) -> list[str]:
    """Return text broken between words into lines no wider than a room [mm]; a word is broken if it must."""
    lines = [""]
    # Only plain spaces may break: a unit stays with its number by a no-break space.
    for word in text.split(" "):
        tried = f"{lines[-1]} {word}".strip(" ")
        if width(tried, size, strong) <= room:
            lines[-1] = tried
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and width(lines[-1] + letter, size, strong) > room:
                lines.append("")
            lines[-1] += letter
    return lines
