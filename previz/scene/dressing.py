"""What hangs in an opening: a net curtain, a blind."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    LEAST_LENGTH,
    LEAST_SHARE,
    quantity,
    share,
    special,
    yes_no,
)
from previz.scene.records import Record, record_class
from previz.scene.surface import Surface, surface_field

MOST_SLATS = 400
"""Most slats of one blind."""


def _length(help, default, example):
    return quantity(
        "length", help, default, usual="mm", minimum=LEAST_LENGTH, maximum=1.0, example=example,
        source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class Curtain(Record):
    """A net curtain that hangs in folds on the room's side of an opening."""

    noun: ClassVar[str] = "curtain"

    transmission: float = share(
        "Share of the light that goes through the net laid flat.", 0.65, minimum=LEAST_SHARE, example="65 %",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    open: float = share(
        "Share that goes straight through its holes, part of the transmission.", 0.3, maximum=0.95,
        example="30 %", source=COMMON_PRACTICE,
    )  # fmt: skip
    colour: tuple[float, float, float] | None = special(
        "colour", "Hue of what it scatters; none for white.", None, example="cream"
    )
    fullness: float = quantity(
        "number", "Width of the net over the width that it covers; 1 hangs flat.", 1.6,
        minimum=1.0, maximum=4.0, example="1.6", source=COMMON_PRACTICE,
    )  # fmt: skip
    overlap: float = quantity(
        "length", "How far it reaches beyond the opening on every side.", 0.08, usual="mm",
        minimum=0.0, maximum=2.0, example="80 mm", source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class Blind(Record):
    """A blind of slats in an opening.

    Parameters
    ----------
    angle : float
        Above 0 the outer edge of a slat is the lower one; of upright slats it is the one nearer the
        wall's east or north end. [deg]
    lowered : float
        Counted from the top, or of upright slats from the wall's west or south end. [1]
    """

    noun: ClassVar[str] = "blind"

    width: float = _length("Width of a slat.", 0.025, "25 mm")
    spacing: float = _length("From one slat to the next.", 0.021, "21 mm")
    angle: float = quantity(
        "angle", "Tilt of the slats: 0 deg open, 90 deg shut; above 0 deg the outer edge is lower.",
        30.0, minimum=-90.0, maximum=90.0, example="30 deg", source=COMMON_PRACTICE,
    )  # fmt: skip
    upright: bool = yes_no("Whether the slats stand.", False)
    lowered: float = share("Share of the opening that it covers.", 1.0, minimum=0.01, example="60 %")
    surface: Surface = surface_field(
        "What the slats are made of.", "white paint", source=COMMON_PRACTICE
    )
