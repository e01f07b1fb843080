"""Haze: air that shows the beams."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, choice, point, quantity, special
from previz.scene.records import Record, record_class

LEVELS = {"barely there": 0.0035, "light": 0.015, "shafts": 0.045, "fog": 0.12}
"""Named haze and its density [1/m]: the middle of the usual range of each.
Common practice, no source."""

THINNEST = 1e-6
"""Least density; air without any dust has ten times that. [1/m]  Source: Rayleigh scattering of air at sea
level at 550 nm, 1.2e-5 /m, from memory."""

FILLS = ("everywhere", "room")
"""Where haze may be: in the room and outside it, or in the room alone."""


@record_class
class Haze(Record):
    """Haze in the air; exactly one of density, visibility and level is set.

    Parameters
    ----------
    density : float or None
        Extinction coefficient. [1/m]
    visibility : float or None
        Distance at which a black thing has `contrast` left (Koschmieder); the contrast is 2 % for the
        meteorological range, 5 % for the meteorological optical range. [m]
    forward : float
        Mean cosine of the scattering, g. [1]
    low, high : (float, float, float) or None
        The box lies within what `fills` says; None for no bounds. [m]
    """

    noun: ClassVar[str] = "haze"

    density: float | None = quantity(
        "density", "Share of a beam that is lost in a metre, for thin haze.", None,
        minimum=THINNEST, maximum=10.0,
    )  # fmt: skip
    visibility: float | None = quantity(
        "length", "How far one can see: a black thing has 2 % contrast left.", None,
        minimum=0.4, maximum=100_000.0, example="60 m",
    )  # fmt: skip
    contrast: float | None = quantity(
        "fraction", "Contrast that visibility is stated at; none for 2 %, the optical range has 5 %.",
        None, minimum=0.01, maximum=0.2, example="5 %",
    )  # fmt: skip
    level: str | None = choice(
        tuple(LEVELS), "Haze by a word.", None, example="light", source=COMMON_PRACTICE
    )
    forward: float = quantity(
        "number", "How much it scatters forward, from 0 (even) towards 1.", 0.75, minimum=-0.95,
        maximum=0.95, example="0.75", source="Mie theory of droplets of 1 to 2 micrometres",
    )  # fmt: skip
    colour: tuple[float, float, float] | None = special(
        "colour", "Colour of what it scatters; none for white.", None, example="grey"
    )
    thins_in: float | None = quantity(
        "length", "Height in which it thins to about a third; none for even haze.", None,
        minimum=0.01, maximum=1000.0, example="1.2 m",
    )  # fmt: skip
    fills: str = choice(
        FILLS, "Where it is. With a sky, haze outside is as deep as the room is high.", "everywhere"
    )
    low: tuple[float, float, float] | None = point("One corner of the box that it fills.", None)
    high: tuple[float, float, float] | None = point("The opposite corner of the box.", None)
