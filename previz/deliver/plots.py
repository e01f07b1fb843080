"""Small plots on a paper: a panel with its scales, lines, marks and densities.

Few lines, named where they end instead of in a key; scales at round numbers; nothing that is not
read.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from previz.deliver.canvas import INK, QUIET, RULE, Colour, Paper, width_of

PANEL = (250, 250, 249)
"""Ground of a panel, a little lighter than the paper."""

LINES = ((30, 30, 32), (176, 92, 20), (60, 92, 170), (96, 128, 60), (128, 72, 128))
"""Colours of lines, dark to their ground and different in lightness or hue for all eyes."""


@dataclass
class Panel:
    """A plot's ground and its two scales.

    Parameters
    ----------
    paper : Paper
        What it is drawn on.
    box : (float, float, float, float)
        Left, top, right, bottom of the ground. [px]
    across, up : (float, float)
        What lies at its left and right, and at its lower and upper edge.
    size : float
        Of the type. [px]
    log : bool
        True for a logarithmic scale across.
    """

    paper: Paper
    box: tuple[float, float, float, float]
    across: tuple[float, float]
    up: tuple[float, float]
    size: float
    log: bool = False
    _ends: list = field(default_factory=list, repr=False)
    _lines: list = field(default_factory=list, repr=False)

    def ground(self) -> None:
        """Fill the ground."""
        self.paper.fill(*(round(edge) for edge in self.box), PANEL)

    def x(self, value: float) -> float:
        """Return where a value lies across. [px]"""
        low, high, value = (np.log(v) if self.log else v for v in (*self.across, value))
        return self.box[0] + (value - low) / (high - low) * (self.box[2] - self.box[0])

    def y(self, value: float) -> float:
        """Return where a value lies up. [px]"""
        low, high = self.up
        return self.box[3] - (value - low) / (high - low) * (self.box[3] - self.box[1])

    def scale_up(self, ticks: Sequence[float], words: Sequence[str], *, right: bool = False,
                 strong: Collection[float] = ()) -> None:
        """Draw level lines at values with their words at the left, or words alone at the right.

        Lines of `strong` ticks are darker.
        """
        for tick, word in zip(ticks, words, strict=True):
            at = self.y(tick)
            if not right:
                self.paper.rule(self.box[0], self.box[2], round(at),
                                QUIET if tick in strong else RULE)
            x = self.box[2] + 0.5 * self.size if right else self.box[0] - 0.5 * self.size
            self.paper.text((x, at + 0.35 * self.size), word, round(self.size), colour=QUIET,
                            align="left" if right else "right")

    def scale_across(self, ticks: Sequence[float], words: Sequence[str], *, lines: bool = False) -> None:
        """Set words under the ground, with upright lines on request."""
        for tick, word in zip(ticks, words, strict=True):
            at = self.x(tick)
            if lines:
                self.paper.fill(round(at), round(self.box[1]), round(at) + 1, round(self.box[3]),
                                RULE)
            else:
                self.paper.fill(round(at), round(self.box[3]), round(at) + 1,
                                round(self.box[3] + 0.4 * self.size), QUIET)
            self.paper.text((at, self.box[3] + 1.6 * self.size), word, round(self.size),
                            colour=QUIET, align="centre")

    def title(self, text: str, under: str = "") -> None:
        """Set the panel's name over it."""
        taken = self.paper.text((self.box[0], self.box[1] - 0.7 * self.size), text,
                                round(1.1 * self.size), weight="strong",
                                room=self.box[2] - self.box[0])
        if under:
            self.paper.text((self.box[0] + taken + 0.8 * self.size, self.box[1] - 0.7 * self.size),
                            under, round(self.size), colour=QUIET,
                            room=self.box[2] - self.box[0] - taken - 0.8 * self.size)

    def _inside(self, points: np.ndarray) -> np.ndarray:
        """Return points held to the ground."""
        left, top, right, bottom = self.box
        return np.clip(points, [left, top], [right, bottom])

    def line(self, xs: Sequence[float], ys: Sequence[float], colour: Colour = INK,
             thickness: float | None = None, dash: tuple[float, float] | None = None) -> None:
        """Draw a line through values."""
        points = np.array([[self.x(x), self.y(y)] for x, y in zip(xs, ys, strict=True)
                           if np.isfinite(x) and np.isfinite(y)])
        if len(points) > 1:
            points = self._inside(points)
            self._lines.append(points)
            self.paper.stroke(points, colour, thickness or 0.12 * self.size, dash)

    def mark(self, x: float, y: float, colour: Colour = INK, ring: Colour | None = None) -> None:
        """Draw a dot at a value."""
        if np.isfinite(x) and np.isfinite(y):
            self.paper.dot(self._inside(np.array([[self.x(x), self.y(y)]]))[0], 0.28 * self.size,
                           colour, ring)

    def name_end(self, x: float, y: float, text: str, colour: Colour = INK) -> None:
        """Name a line next to its end; names never lie on each other."""
        # Where a line is held to the ground its name is too.
        at, = self._inside(np.array([[self.x(x), self.y(y)]]))
        self._ends.append((float(at[1]), float(at[0]), text, colour))

    def _on_a_line(self, left: float, top: float, right: float, bottom: float) -> bool:
        """Return whether a line that was drawn goes through a box."""
        for points in self._lines:
            for one, other in pairwise(points):
                (x0, y0), (x1, y1) = sorted((tuple(one), tuple(other)))
                first, last = max(x0, left), min(x1, right)
                if first > last:
                    continue
                # An upright piece is met over all of its height.
                ys = (y0, y1) if x0 == x1 else np.interp((first, last), (x0, x1), (y0, y1))
                if min(ys) <= bottom and max(ys) >= top:
                    return True
        return False

    def settle_names(self) -> None:
        """Set the names given by `name_end`, moved where they would touch.

        A name that would reach over the ground's edge or lie on a line stands next to the ground,
        where no line is drawn.
        """
        ends = sorted(self._ends)
        least = 1.15 * self.size
        places = [end[0] for end in ends]
        for i in range(1, len(places)):
            places[i] = max(places[i], places[i - 1] + least)
        over = places[-1] - self.box[3] if places else 0
        if over > 0:
            places = [place - over for place in places]
        for place, (_, x, text, colour) in zip(places, ends, strict=True):
            left = x + 0.6 * self.size
            right = left + width_of(text, round(self.size))
            # Letters reach 0.6 of the size from their middle at most, half a line included.
            reach = 0.6 * self.size
            if right > self.box[2] or self._on_a_line(left, place - reach, right, place + reach):
                left = self.box[2] + 0.6 * self.size
            self.paper.text((left, place + 0.35 * self.size), text, round(self.size), colour=colour)
        self._ends.clear()

    def density(self, shares: np.ndarray, colour: Colour | Sequence[Colour] = INK,
                strength: float = 0.55) -> None:
        """Fill the ground with a picture of shares: the more there is, the darker.

        Parameters
        ----------
        shares : float array, shape (rows, columns), or (rows, columns, k) for k inks
            How much there is at each place, the top row first.
        colour : tuple of int, or k of them
            sRGB.
        strength : float
            Below 1 shows little at once. [1]
        """
        wide, high = (round(self.box[2]) - round(self.box[0]),
                      round(self.box[3]) - round(self.box[1]))
        planes = shares[..., None] if shares.ndim == 2 else shares
        inks = np.array([colour] if shares.ndim == 2 else colour, dtype=float)
        picture = np.full((*planes.shape[:2], 3), PANEL, dtype=float)
        for k, ink in enumerate(inks):
            top = np.quantile(planes[..., k][planes[..., k] > 0], 0.995) if planes[..., k].any() \
                else 1.0
            cover = np.clip(planes[..., k] / top, 0, 1)[..., None] ** strength
            # Inks over each other darken, as on paper.
            picture *= 1 - cover * (1 - ink / 255)
        self.paper.picture((round(self.box[0]), round(self.box[1])),
                           picture.clip(0, 255).round().astype(np.uint8), (wide, high),
                           smooth=False)


def widest(words: Sequence[str], size: float) -> float:
    """Return the width of the widest of some words. [px]"""
    return max((width_of(word, round(size)) for word in words), default=0.0)
