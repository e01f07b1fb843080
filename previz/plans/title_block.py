"""What stands in the column of words beside a drawing: key, notes, inset, title and scale bar.

All lengths are millimetres of paper unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from previz.plans.lengths import FOOT, IMPERIAL, INCH, METRIC, SIXTEENTHS, scale_said
from previz.plans.lettering import ABOVE, shortened, width, wrapped
from previz.plans.records import Disc, Head, Key, Shape, Words

PAD = 4.0
"""Between the edges of a part and what stands in it."""

SAMPLE = (9.0, 5.0)
"""Of what a key shows."""

INSET = 45.0
"""Width and height of an inset."""

LEADING = 1.36
"""From line to line, as a part of the size."""

BARS = {
    METRIC: {0.1: 2, 0.2: 2, 0.5: 5, 1.0: 4, 2.0: 4, 5.0: 5, 10.0: 5, 20.0: 4, 50.0: 5, 100.0: 4},
    IMPERIAL: {feet * FOOT: count for feet, count in (
        (0.5, 2), (1, 4), (2, 4), (3, 3), (4, 4), (6, 6), (8, 4), (12, 4), (16, 4), (24, 4), (32, 4), (48, 4),
        (64, 4), (96, 4), (128, 4), (256, 4))},
}
"""Lengths of scale bars [m], to how many parts they have."""

Marks = tuple[Shape | Disc | Words, ...]


class Type(NamedTuple):
    """Sizes of type: of a key's words, and of notes."""

    key: float
    notes: float


@dataclass(frozen=True)
class Part:
    """What stands together: its width, its height, and its marks from its lower left corner."""

    wide: float
    high: float
    marks: Marks = ()

    def at(self, left: float, low: float) -> Marks:
        """Return the marks, with the lower left corner at a place."""
        return tuple(moved(mark, left, low) for mark in self.marks)


def moved(mark: Shape | Disc | Words, x: float, y: float) -> Shape | Disc | Words:
    """Return a mark of the furniture, moved."""
    if isinstance(mark, Shape):
        return replace(mark, layer="sheet", points=np.asarray(mark.points, float) + (x, y))
    return replace(mark, layer="sheet", at=(mark.at[0] + x, mark.at[1] + y))


class _Down:
    """Marks set from the top downwards; `high` is what they have taken."""

    def __init__(self) -> None:
        self.high = PAD
        self.marks: list[Shape | Disc | Words] = []

    def lines(self, lines: Sequence[str], size: float, left: float = PAD, *, strong: bool = False,
              quiet: bool = False) -> None:
        for line in lines:
            self.marks.append(Words("sheet", (left, -self.high - ABOVE * size), line, size, strong=strong,
                                    quiet=quiet))
            self.high += LEADING * size

    def part(self, wide: float) -> Part:
        high = self.high + PAD
        return Part(wide, high, tuple(moved(mark, 0.0, high) for mark in self.marks))


def key_part(legend: Sequence[Key], wide: float, kind: Type) -> Part:
    """Return the key: what is drawn, and what it means."""
    if not legend:
        return Part(wide, 0.0)
    down = _Down()
    down.lines(["Key"], kind.key, strong=True)
    down.high += 0.8
    left = PAD + SAMPLE[0] + 2.5
    for key in legend:
        lines = wrapped(key.text, kind.key, wide - left - PAD)
        tall = LEADING * kind.key * (len(lines) - 1) + kind.key
        row = max(SAMPLE[1], tall + 1.2)
        middle = -down.high - row / 2
        down.marks += [moved(part, PAD + SAMPLE[0] / 2, middle) for part in key.parts]
        # Half of a capital's height under the middle, so that words stand level with what they say.
        base = middle + tall / 2 - 0.86 * kind.key
        for number, line in enumerate(lines):
            down.marks.append(Words("sheet", (left, base - number * LEADING * kind.key), line, kind.key))
        down.high += row + 0.5
    return down.part(wide)


def notes_part(notes: Sequence[str], wide: float, kind: Type) -> Part:
    """Return notes, a paragraph each."""
    if not notes:
        return Part(wide, 0.0)
    down = _Down()
    down.lines(["Notes"], kind.notes, strong=True)
    for note in notes:
        down.high += 0.9
        down.lines(wrapped(note, kind.notes, wide - 2 * PAD), kind.notes)
    return down.part(wide)


def inset_part(inset: Sequence[Shape | Disc | Words], wide: float) -> Part:
    """Return an inset in the middle of its part."""
    if not inset:
        return Part(wide, 0.0)
    high = INSET + PAD
    return Part(wide, high, tuple(moved(mark, wide / 2, high / 2) for mark in inset))


def title_part(head: Head, scale: int, page: str, system: str, wide: float) -> Part:
    """Return what the sheet is: title, subject, scale with its bar, paper, number."""
    down = _Down()
    inner = wide - 2 * PAD
    down.lines(*_fitted(head.title, inner, (4.2, 3.5, 2.9), 2), strong=True)
    down.high += 0.8
    down.lines(*_fitted(head.subject, inner, (2.8, 2.4), 3))
    down.high += 2.2
    down.lines([f"Scale {scale_said(scale, system)}"], 3.0, strong=True)
    down.lines([f"on {page}, at full size"], 2.2, quiet=True)
    down.high += 1.6
    _bar(down, scale, system, inner)
    if head.number:
        down.high += 1.8
        down.lines(*_fitted(f"Sheet {head.number}", inner, (2.4,), 1))
    return down.part(wide)


def _fitted(text: str, inner: float, sizes: Sequence[float], most: int) -> tuple[list[str], float]:
    """Return text in lines of the largest size at which so many hold it, and that size."""
    for size in sizes:
        lines = wrapped(text, size, inner, True)
        if len(lines) <= most:
            return lines, size
    last = shortened(" ".join(lines[most - 1:]), size, inner, True)
    return [*lines[:most - 1], last], size


def _bar(down: _Down, scale: int, system: str, inner: float) -> None:
    """Set a bar of a length that fits, its parts filled by turns, and under it how long it is on paper."""
    length, count = next((length, count) for length, count in reversed(BARS[system].items())
                         if length * 1000 / scale <= inner - 6 or length == min(BARS[system]))
    long, size = length * 1000 / scale, 2.0
    labels = [_bar_label(length * n / count, system, n == count) for n in range(count + 1)]
    base = -down.high - ABOVE * size
    for n in _apart(labels, long, size):
        # The first stands over the bar's end; the others over their marks.
        at = (PAD + long * n / count, base)
        down.marks.append(Words("sheet", at, labels[n], size, align="centre" if n else "left"))
    down.high += size + 0.9
    edges = PAD + np.linspace(0, long, count + 1)
    for n in range(count):
        box = np.array([[edges[n], -down.high - 1.6], [edges[n + 1], -down.high - 1.6],
                        [edges[n + 1], -down.high], [edges[n], -down.high]])
        down.marks.append(Shape("sheet", box, closed=True, pen="thin", fill="paper" if n % 2 else "ink",
                                part="scale bar"))
    down.high += 1.6 + 1.3
    told = f"{long:.4g} mm" if system == METRIC else _inches(long / 1000 / INCH)
    down.lines(wrapped(f"Measure the bar: at full size it is {told} long.", 2.0, inner), 2.0, quiet=True)


def _apart(labels: Sequence[str], long: float, size: float) -> Iterator[int]:
    """Yield which labels have room: the first, the last, and those between that clear both."""
    last = len(labels) - 1
    step = long / last
    for every in range(1, last + 1):
        chosen = [*range(0, last, every), last]
        clear = (step * (b - a) - width(labels[b], size) / 2 - width(labels[a], size) * (0.5 if a else 1)
                 for a, b in zip(chosen, chosen[1:], strict=False))
        if last % every == 0 and min(clear) >= 0.8:
            break
    yield from chosen


def _bar_label(length: float, system: str, last: bool) -> str:
    if system == METRIC:
        return f"{length:g} m" if last else f"{length:g}"
    inches = round(length / INCH, 3)
    if inches % 12:
        return f'{inches:g}"'
    return f"{inches / 12:g}'" if inches else "0"


def _inches(inches: float) -> str:
    whole, sixteenths = divmod(round(inches * 16), 16)
    if abs(inches * 16 - round(inches * 16)) > 1e-6:
        return f'{inches:.2f}"'
    return " ".join(filter(None, (str(whole) if whole else "", SIXTEENTHS.get(sixteenths, "")))) + '"'
