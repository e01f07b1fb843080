"""Every number on a sheet is a row of its result: what a sheet draws, held against the rows.

A number that is drawn has to be the value of a row, rounded as it is drawn, in the unit that stands
behind it (where one does). Left out are the scales of plots and what a test names as the same on every
sheet: legends and definitions.
"""

import math
import re
from contextlib import contextmanager

import pytest

from previz.deliver.canvas import Canvas
from previz.deliver.plots import Panel

NUMBER = re.compile(
    r"(?<![\w./])(?P<stop>T)?(?P<under>1/)?(?P<sign>[+−-])?(?P<digits>\d[\d\u202f]*(?:\.\d+)?)(?!\w)"
    r"(?P<unit>[ \u00a0]?(?:°|%|lx|mm|m\b|kcd|klm|kW|W\b|K\b|A\b|mired|stops?\b|o'clock|more|"
    r"× [\d.]+°))?")

UNITS = {
    "°": ("deg", 1.0), "%": ("1", 100.0), "lx": ("lx", 1.0), "mm": ("m", 1e3), "m": ("m", 1.0),
    "kcd": ("cd", 1e-3), "klm": ("lm", 1e-3), "kW": ("W", 1e-3), "W": ("W", 1.0), "K": ("K", 1.0),
    "A": ("A", 1.0), "mired": ("mired", 1.0), "stop": ("stops", 1.0), "stops": ("stops", 1.0),
    "o'clock": ("h", 1.0),
}  # fmt: skip
"""What stands behind a number: the unit of its row, and how many of it make one of the row's."""

HEADED = {"m": (1.0, 1e3), "cd": (1.0, 1e-3), "lm": (1.0, 1e-3)}
"""Scales that a number without a unit may have, as the head of its column says."""

PROSE = ("advice", "verdict", "sun_summary")
"""Quantities whose words hold numbers that have rows of their own."""


@contextmanager
def drawing():
    """Collect every text that is drawn on a picture of a sheet, whole, without scales of plots."""
    texts, quiet = [], []
    write, paragraph = Canvas.text, Canvas.paragraph

    def kept(self, at, text, size, **more):
        if not quiet:
            texts.append(text)
        return write(self, at, text, size, **more)

    def silent(of, keep=None):
        def drawn(self, *args, **more):
            if keep is not None and not quiet:
                texts.append(args[keep])
            quiet.append(True)
            try:
                return of(self, *args, **more)
            finally:
                quiet.pop()
        return drawn

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Canvas, "text", kept)
        patch.setattr(Canvas, "paragraph", silent(paragraph, keep=1))
        patch.setattr(Panel, "scale_up", silent(Panel.scale_up))
        patch.setattr(Panel, "scale_across", silent(Panel.scale_across))
        yield texts


def half_step(digits):
    """Return how far rounding may have moved a number that is written so."""
    whole, _, decimals = digits.partition(".")
    if decimals:
        return 0.5 * 10.0 ** -len(decimals)
    # Large numbers are written with two or three figures.
    zeros = min(len(whole) - len(whole.rstrip("0")), max(len(whole) - 2, 0))
    return 0.5 * 10.0**zeros


def quantities_of(found, rows):
    """Return the quantities of which a row has the number that is written as its value."""
    digits = found["digits"].replace("\u202f", "")
    unit = (found["unit"] or "").strip(" \u00a0")
    unit = "°" if unit.startswith("×") else unit
    written, step = float(digits), half_step(digits) * (1 + 1e-6)
    sign = {"+": 1, "−": -1, "-": -1}.get(found["sign"])
    quantities = set()
    for row in rows:
        value = row["value"]
        if isinstance(value, (bool, str)) or value is None or row["quantity"] in quantities:
            continue
        # Stops and mired have their sign, and what is set on a lens its T.
        if (row["unit"] in ("stops", "mired") and sign is None and written and unit not in UNITS
                or found["stop"] and "stop" not in row["quantity"]):
            continue
        if found["under"]:
            value = 1 / value if value and row["unit"] == "s" else math.nan
        elif unit == "more":
            value -= 1
        if unit in UNITS:
            of, scale = UNITS[unit]
            scales = (scale,) if row["unit"] == of else ()
        else:
            scales = HEADED.get(row["unit"], (1.0,))
        for scale in scales:
            shown = value * scale if sign is not None else abs(value * scale)
            if abs(shown - (sign or 1) * written) <= step:
                quantities.add(row["quantity"])
    return quantities


def _names(rows):
    """Return what finds names that have figures: 'key 2', '16:30', '2026-06-21'."""
    words = {word for row in rows if row["quantity"] not in PROSE
             for key, word in row.items() if key not in ("quantity", "unit", "note")
             and isinstance(word, str) and re.search(r"\d", word) and re.search(r"[^\d.]", word)}
    longest_first = sorted(words, key=lambda word: (-len(word), word))
    return re.compile(rf"(?<![\w.])(?:{'|'.join(map(re.escape, longest_first)) or '(?!)'})(?![\w.])")


def written(texts, rows, constants=()):
    """Yield (number, text, quantities that have it) of every number that is drawn.

    Parameters
    ----------
    texts : sequence of str
        What was drawn, from `drawing`.
    rows : sequence of dict
        From `Result.rows`.
    constants : sequence of str
        Texts that stand on every sheet of the kind, whole or as lines of them.
    """
    names = _names(rows)
    for text in dict.fromkeys(texts):
        if any(text in each for each in constants):
            continue
        # The one of a ratio, and shares too small to be written, are no readings.
        # Words that are a row themselves are set with spaces that do not break.
        left = re.sub(r"under 0\.1 %|(?<=\d) : 1\b", "", names.sub("·", text.replace("\u00a0", " ")))
        for each in NUMBER.finditer(left):
            yield each.group(), text, quantities_of(each, rows)


def missing(texts, rows, constants=()):
    """Return (number, text) of every number that is drawn and is no row; see `written`."""
    return [(number, text) for number, text, quantities in written(texts, rows, constants)
            if not quantities]


def needed(texts, rows, constants=()):
    """Return the quantities without whose rows a number on the sheet would be missing."""
    return {quantity for _, _, quantities in written(texts, rows, constants) if len(quantities) == 1
            for quantity in quantities}
