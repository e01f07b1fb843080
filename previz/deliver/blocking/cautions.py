"""The cautions under the view from above: a few lines of small type."""

from __future__ import annotations

from previz.deliver.blocking.words import type_size
from previz.deliver.canvas import QUIET, Canvas, width_of, wrapped
from previz.deliver.reminders import LINES, short_text
from previz.stage.records import Stage

EDGE = 14
"""Left and right of the words. [px]"""

SHARE = 0.12
"""Most of a drawing's height that they take. [1]"""

LEADING = 1.35
"""Distance of lines in parts of the type. [1]"""

LEAD = "Cautions"


def cautions_height(stage: Stage, size: tuple[int, int]) -> int:
    """Return the height of a stage's cautions under a drawing of a size, 0 without any. [px]"""
    lines, type_ = _lines(stage, size)
    return round((len(lines) + 0.6) * LEADING * type_) if lines else 0


def write_cautions(canvas: Canvas, stage: Stage, size: tuple[int, int]) -> None:
    """Write a stage's cautions at the foot of a drawing of a size."""
    lines, type_ = _lines(stage, size)
    base = size[1] - cautions_height(stage, size) + type_
    if lines:
        canvas.text((EDGE, base), LEAD, type_, weight="strong")
        canvas.paragraph((EDGE + _lead(type_), base), " ".join(lines), type_, _room(size[0], type_),
                         colour=QUIET, leading=LEADING)


def _lead(type_: int) -> float:
    return width_of(LEAD, type_, "strong") + 0.8 * type_


def _room(width: int, type_: int) -> float:
    return width - 2 * EDGE - _lead(type_)


def _lines(stage: Stage, size: tuple[int, int]) -> tuple[list[str], int]:
    """Return the lines, and the size of their type. [px]"""
    width, height = size
    type_ = max(9, round(0.8 * type_size(height)))
    most = max(1, min(LINES, int(SHARE * height / (LEADING * type_))))
    room = _room(width, type_)
    text = short_text(stage.reminders, lambda each: len(wrapped(each, type_, room)) <= most)
    return (wrapped(text, type_, room) if text else []), type_
