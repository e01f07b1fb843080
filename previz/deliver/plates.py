"""Rows of pictures on a sheet, each with its words: stills, maps, or words in place of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.deliver.canvas import INK, QUIET, Colour, Paper, wrapped
from previz.deliver.layout import Block, Setting, caption
from previz.deliver.map import ExposureMap, say_dark

FIELD = (232, 232, 231)
"""Where a picture would be."""

HELD = "\N{NO-BREAK SPACE}"

Shown = np.ndarray | ExposureMap | str
"""A picture (uint8, shape (row, column, 3), sRGB), a map, or the words in place of one."""


@dataclass(frozen=True, eq=False)
class Plate:
    """Pictures that belong together in a row of plates, with their words.

    Parameters
    ----------
    pictures : sequence of sequence of Shown
        Rows of pictures, each row as wide as the plate.
    name, note : str
        Over them: strong, and quietly behind.
    below : str
        A name that stands under them instead.
    under : sequence of str
        What is said under them, each from a line of its own on.
    """

    pictures: Sequence[Sequence[Shown]]
    name: str = ""
    note: str = ""
    below: str = ""
    under: Sequence[str] = ()


def set_picture(paper: Paper, at: tuple[float, float], shown: Shown, size: tuple[int, int]) -> None:
    """Set a picture, a map or, on a field of grey, the words that stand for one."""
    (left, top), (wide, high) = (round(at[0]), round(at[1])), size
    if isinstance(shown, ExposureMap):
        paper.picture((left, top), shown.picture(size), smooth=False)
        if shown.dark:
            say_dark(paper, (left, top), size, high / 12)
    elif isinstance(shown, str):
        letters = round(min(high / 9, wide / 14))
        paper.fill(left, top, left + wide, top + high, FIELD)
        paper.text((left + wide / 2, top + high / 2 + 0.35 * letters), shown, letters, colour=QUIET,
                   align="centre", room=wide - letters)
    else:
        paper.picture((left, top), shown, size)


def _sizes(plate: Plate, wide: float, gap: float) -> list[tuple[int, int]]:
    """Return width and height of the pictures in each row of a plate. [px]"""
    sizes = []
    for row in plate.pictures:
        each = round((wide - gap * (len(row) - 1)) / len(row))
        shapes = [shown.index.shape if isinstance(shown, ExposureMap) else shown.shape[:2]
                  for shown in row if not isinstance(shown, str)] or [(9, 16)]
        sizes.append((each, round(each * max(rows / columns for rows, columns in shapes))))
    return sizes


def plate_rows(setting: Setting, plates: Sequence[Plate], across: int, *, between: float = 1.2,
               gap: float = 0.6) -> list[Block]:
    """Return plates in rows, a block each.

    Parameters
    ----------
    setting : Setting
    plates : sequence of Plate
    across : int
        Plates side by side.
    between, gap : float
        Between plates, and between the pictures of one. [units]
    """
    unit, wide = setting.unit, setting.across(across, between)
    blocks = []
    for start in range(0, len(plates), across):
        row = plates[start:start + across]
        over = 2.0 * unit if any(plate.name for plate in row) else 0.0
        sizes = [_sizes(plate, wide, gap * unit) for plate in row]
        high = max(sum(size[1] + gap * unit for size in each) for each in sizes) - gap * unit
        words = [_words_under(plate, wide, unit) for plate in row]
        lines = max(len(each) for each in words)

        def draw(paper, left, top, width, row=row, over=over, sizes=sizes, words=words):
            for number, plate in enumerate(row):
                x = left + number * (wide + between * unit)
                if plate.name:
                    caption(paper, (x, top + 1.35 * unit), unit, plate.name, plate.note, wide)
                foot = _draw_pictures(paper, plate, sizes[number], (x, top + over), gap * unit)
                for line, (text, size, weight, colour) in enumerate(words[number]):
                    paper.text((x, foot + (1.5 + 1.35 * line) * unit), text, size, weight=weight,
                               colour=colour, room=wide)

        blocks.append(Block(over + high + (1.35 * (lines + 1) if lines else 0.9) * unit, draw))
    return blocks


def _words_under(plate: Plate, wide: float, unit: float) -> list[tuple[str, int, str, Colour]]:
    """Return the lines under a plate, each with size, weight and colour."""
    name = [(plate.below, round(1.05 * unit), "strong", INK)] if plate.below else []
    size = round(0.9 * unit)
    # What dots divide breaks behind a dot.
    bound = [text.replace(" ", HELD).replace(f"·{HELD}", "· ") if " · " in text else text
             for text in plate.under]
    return name + [(line.replace(HELD, " ").removesuffix(" ·"), size, "regular", QUIET)
                   for text in bound for line in wrapped(text, size, wide)]


def _draw_pictures(paper: Paper, plate: Plate, sizes, at: tuple[float, float], gap: float) -> float:
    """Set the pictures of a plate; return where they end. [px]"""
    x, y = at
    for pictures, size in zip(plate.pictures, sizes, strict=True):
        for column, shown in enumerate(pictures):
            set_picture(paper, (x + column * (size[0] + gap), y), shown, size)
        y += size[1] + gap
    return y - gap
