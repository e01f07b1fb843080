"""A sheet of a drawing as a picture, to be looked at on a screen; paper and programs have the other files."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from previz.deliver.canvas import Canvas, Colour
from previz.plans.records import FILLS, INK, LAYERS, PENS, QUIET, Disc, Mark, Sheet, Symbol, Words

_ROUND = 72
"""Corners of a circle."""


def picture(sheet: Sheet, dots_per_mm: float = 8.0) -> Canvas:
    """Return a sheet drawn so many pixels to the millimetre of paper; 8 make 203 dots an inch."""
    canvas = Canvas(*(round(length * dots_per_mm) for length in sheet.page))
    canvas.fill(0, 0, *canvas.size, _grey(1.0))
    on_page = _Pen(canvas, dots_per_mm, sheet.on_paper, 1000 / sheet.drawing.scale)
    for layer in LAYERS:
        for mark in sheet.drawing.marks:
            if mark.layer == layer:
                on_page.draw(mark)
    beside = _Pen(canvas, dots_per_mm, lambda points: np.asarray(points, float), 1.0)
    for mark in sheet.furniture:
        beside.draw(mark)
    return canvas


def _grey(level: float) -> Colour:
    return (round(255 * level),) * 3


class _Pen:
    """Draws marks: `place` gives points on the page [mm], `unit` is what their unit is there. [mm]"""

    def __init__(self, canvas: Canvas, dots: float, place: Callable[[np.ndarray], np.ndarray], unit: float,
                 ) -> None:
        self.canvas, self.dots, self.place, self.unit = canvas, dots, place, unit

    def _points(self, points: np.ndarray) -> np.ndarray:
        return self.place(points) * (self.dots, -self.dots) + (0, self.canvas.size[1])

    def draw(self, mark: Mark) -> None:
        if isinstance(mark, Symbol):
            for part in mark.parts:
                self.draw(part)
        elif isinstance(mark, Words):
            self._words(mark)
        elif isinstance(mark, Disc):
            around = np.linspace(0, 2 * np.pi, _ROUND)
            middle = self._points(np.array([mark.at]))[0]
            circle = np.stack([np.cos(around), np.sin(around)], axis=1)
            self._line(mark.pen, mark.fill, middle + mark.radius * self.unit * self.dots * circle)
        elif len(mark.points) > 1:
            points = self._points(mark.points)
            self._line(mark.pen, mark.fill, np.concatenate([points, points[:1]]) if mark.closed else points)

    def _line(self, pen: str, fill: str, points: np.ndarray) -> None:
        if fill and len(points) > 2:
            self.canvas.area(points, _grey(FILLS[fill]))
        if pen:
            thickness, dash = PENS[pen]
            self.canvas.stroke(points, _grey(INK), thickness * self.dots,
                               [length * self.dots for length in dash] or None)

    def _words(self, mark: Words) -> None:
        if not mark.text.strip():
            return
        x, y = self._points(np.array([mark.at]))[0]
        size, weight = mark.size * self.dots, "strong" if mark.strong else "regular"
        text, colour = mark.text.replace("\n", " "), _grey(QUIET if mark.quiet else INK)
        if mark.turn % 360:
            self.canvas.turned((x, y), text, size, mark.turn, weight=weight, colour=colour, align=mark.align)
        else:
            self.canvas.text((x, y), text, size, weight=weight, colour=colour, align=mark.align)
