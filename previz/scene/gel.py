"""Gels on a lamp: a shift of colour, a loss of light, or a trade name that stands for both.

The trade's fractions of orange and blue are taken at their nominal meaning: full carries 5600 K to
3200 K or back, and a half is half of that in mireds. Real sheets differ, so what matters should be
written in figures from the sheet's own data.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, LEAST_SHARE, file, quantity, share, text
from previz.scene.records import Record, record_class

FULL_SHIFT = 1e6 / 3200 - 1e6 / 5600
"""Shift between 5600 K and 3200 K. [mired]  Source: the definition of the mired."""

FULL_GREEN = 0.031
"""Duv of a nominal full green on 5600 K. [1]  Source: common practice, no source."""

PARTS = {"full": 1.0, "half": 0.5, "quarter": 0.25, "eighth": 0.125}
"""The trade's fractions of a gel."""

NAMES: tuple[str, ...] = (
    *(f"{part} {colour}" for colour in ("cto", "ctb") for part in PARTS),
    *(f"{part} {colour} green" for colour in ("plus", "minus") for part in PARTS),
    "nd 0.15",
    "nd 0.3",
    "nd 0.6",
    "nd 0.9",
    "nd 1.2",
)
"""Trade names; 'nd' may have any density."""

_NEUTRAL = re.compile(r"nd ([0-9]+(?:\.[0-9]+)?)")
GREATEST_DENSITY = 4.0
"""Above this nothing useful is left. [1]"""


@record_class
class Gel(Record):
    """One sheet in front of a lamp.

    It has no `name` where it is given only in figures; a `file` says all of them.
    """

    noun: ClassVar[str] = "gel"

    name: str = text("What the paperwork calls it.", "")
    mired: float = quantity(
        "mired", "Shift of colour temperature, plus towards warm.", 0.0, minimum=-300.0,
        maximum=300.0,
    )  # fmt: skip
    transmission: float | None = share(
        "Share of the light that goes through; none for the usual loss of its colour.", None,
        minimum=LEAST_SHARE, example="55 %",
    )  # fmt: skip
    green: float = quantity(
        "number", "Shift of Duv, plus towards green, minus towards magenta.", 0.0, minimum=-0.05,
        maximum=0.05, example="0.015", source=COMMON_PRACTICE,
    )  # fmt: skip
    file: Path | None = file(
        (".csv", ".txt", ".tsv"),
        "Its measured transmission: two columns, nm and a share from 0 to 1 or percent.",
        example="gels/sheet.csv", maximum=4 * 1024 * 1024,
    )  # fmt: skip


def spelt_out(name: str) -> str:
    """Return a gel's name with its fraction as a word, as '1/2 CTO' is 'half cto'."""
    parts = {"1/2": "half", "1/4": "quarter", "1/8": "eighth"}
    return " ".join(parts.get(word, word) for word in name.lower().split())


def nominal(name: str) -> dict[str, float] | None:
    """Return what a trade name stands for.

    Parameters
    ----------
    name : str
        Such as 'half ctb', 'quarter plus green' or 'nd 0.6'.

    Returns
    -------
    dict or None
        Fields of `Gel`; None for a name that is none of the trade's.

    Source
    ------
    Arithmetic on the trade's nominal meaning; common practice, no source.
    """
    neutral = _NEUTRAL.fullmatch(name)
    if neutral:
        density = float(neutral[1])
        return {"transmission": 10.0**-density} if density <= GREATEST_DENSITY else None
    part, _, colour = name.partition(" ")
    share = PARTS.get(part)
    if share is None:
        return None
    shifts = {
        "cto": {"mired": FULL_SHIFT * share},
        "ctb": {"mired": -FULL_SHIFT * share},
        "plus green": {"green": FULL_GREEN * share},
        "minus green": {"green": -FULL_GREEN * share},
    }
    return shifts.get(colour)


def gel_name(gel: Gel) -> str:
    """Return what a gel is asked for by: its name, its file, or its figures."""
    if gel.name:
        return gel.name
    if gel.file is not None:
        return f"gel as {gel.file.name}"
    figures = []
    if gel.mired:
        figures.append(f"{gel.mired:+.0f} mired")
    if gel.green:
        figures.append(f"Duv {gel.green:+.3f}")
    if gel.transmission is not None:
        figures.append(f"{100 * gel.transmission:.0f} % through")
    return "gel " + ", ".join(figures) if figures else "clear gel"
