"""What is wanted of the light, in a crew's words, and what may move so that it is had."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import choice, quantity, special, text, yes_no
from previz.scene.records import Item, Record, record_class

FACES = ("lit_side", "shadow_side", "ratio", "colour")
"""Fields of a want that name a figure."""

SEEN = ("thing", "spot", "background")
"""Fields of a want that name what a camera's spot meter is on."""

SUBJECTS = (*FACES, "meter", *SEEN)
"""Fields of a want of which exactly one is written."""

SIDES = ("left", "right")
"""Of a figure, its own."""

FEWEST_STOPS, MOST_STOPS = -12.0, 12.0
"""From the working stop.  [stops]  Common practice, no source."""

LONGEST_LIST = 12
"""Values in a list of what may be set."""


def _named(help: str, example: str):
    """Return a field for the name of something in the scene."""
    return text(help, None, example=example)


def _stops(help: str, example: str = "-2"):
    """Return a field for a level."""
    return quantity("number", help, None, minimum=FEWEST_STOPS, maximum=MOST_STOPS, example=example)


@record_class
class Want(Item):
    """One thing that is wanted of the light.

    Parameters
    ----------
    stops : float or None
        From the working stop of its camera; of a ratio the lit side over the shadow side. [stops]
    """

    noun: ClassVar[str] = "want"

    lit_side: str | None = _named("Figure whose brighter cheek is to be at 'stops'.", "clerk")
    shadow_side: str | None = _named("Figure whose darker cheek is to be at 'stops'.", "clerk")
    ratio: str | None = _named("Figure whose lit side is to be so much over its shadow side.", "clerk")
    colour: str | None = _named("Figure whose lit side is to have a colour temperature.", "clerk")
    thing: str | None = _named(
        "Thing as a camera sees it, or opening as it is seen through, in stops from 18 % grey.", "north wall")
    meter: str | None = _named("A meter of 'meters:'.", "desk top")
    spot: str | None = _named("A patch of 'spots:', in stops from 18 % grey.", "sky")
    background: str | None = _named(
        "Camera, of whose picture all behind its subject but people, lamps and boards is meant.", "A")
    stops: float | None = _stops("Stops from the working stop, or from 18 % grey; of a ratio, lit side over "
                                 "shadow side.")
    lit_to_shadow: float | None = quantity(
        "ratio", "Of a ratio, lit side against shadow side as metered.", None, minimum=1.0, maximum=1000.0,
        example="4:1",
    )  # fmt: skip
    cct: float | None = quantity(
        "temperature", "Of a colour, its colour temperature.", None, minimum=1600.0, maximum=25_000.0,
        example="3600 K",
    )  # fmt: skip
    at_most: float | None = _stops("Stops that it may not be over; less is as good.", "2")
    at_least: float | None = _stops("Stops that it may not be under; more is as good.", "-4")
    hold: bool = yes_no("Whether it must hold: stay under what a perfect white card gives.", False)
    black: bool = yes_no("Whether it must stay black: under what the exposure map calls crushed.", False)
    camera: str | None = text(
        "Camera whose working stop counts, and that sees it; none for the first that is aimed at the figure, "
        "or the first.", None, example="A",
    )  # fmt: skip
    at_mark: str | None = text("The figure's mark that it is wanted at; none for where the figure is.", None,
                               example="window")
    every_mark: bool = yes_no("Whether it is wanted at each of the figure's marks.", False)
    side: str | None = choice(SIDES, "The figure's own cheek; none for the brighter or the darker.", None)
    within: float = quantity("number", "Stops that it may be off.", 0.1, minimum=0.01, maximum=3.0,
                             example="0.2")
    within_mired: float = quantity("mired", "Of a colour, how far it may be off.", 10.0, minimum=1.0,
                                   maximum=200.0, example="15 mired")
    weight: float = quantity("number", "How much it counts against the others.", 1.0, minimum=0.01,
                             maximum=100.0, example="2")

    @property
    def subject(self) -> str | None:
        """Name of the one of `SUBJECTS` that is written; None where not exactly one is."""
        written = [field for field in SUBJECTS if getattr(self, field) is not None]
        return written[0] if len(written) == 1 else None


@record_class
class LampMoves(Record):
    """What may be done to a lamp so that what is wanted is had.

    Parameters
    ----------
    dimmer : (float, float)
        Least and most. [1]
    cct : (float, float) or None
        Least and most; None for a colour that stays. [K]
    """

    noun: ClassVar[str] = "may_move of a lamp"

    locked: bool = yes_no("Whether the lamp stays as it is.", False)
    dimmer: tuple[float, float] = special(
        "range", "Levels that it may have.", (0.0, 1.0), dimension="fraction", minimum=0.0, maximum=1.0,
        example="20 % to 100 %",
    )  # fmt: skip
    off: bool = yes_no("Whether it may be off too, where its least level is more than nothing.", True)
    cct: tuple[float, float] | None = special(
        "range", "Colour temperatures that it may have; none where its colour stays.", None,
        dimension="temperature", minimum=1600.0, maximum=25_000.0, example="3200 K to 5600 K",
    )  # fmt: skip
    gels: tuple[str, ...] = special(
        "gel names", "Gels that it may have in place of its own; its own and none are among them.", (),
        example="[quarter cto, half cto]",
    )  # fmt: skip


@record_class
class CameraMoves(Record):
    """What may be done to a camera so that what is wanted is had."""

    noun: ClassVar[str] = "may_move of a camera"

    stop: tuple[float, float] | None = special(
        "range", "T-stops that it may have, in thirds; none where the stop stays.", None, dimension="t_stop",
        minimum=0.5, maximum=128.0, example="T2 to T5.6",
    )  # fmt: skip
    nd: tuple[float, ...] = special(
        "quantities", "Densities of neutral filters that there are; none where the filters stay.", (),
        dimension="number", minimum=0.0, maximum=6.0, example="[0, 0.3, 0.6]",
    )  # fmt: skip
