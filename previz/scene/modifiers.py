"""What stands in the light: boards, diffusion, flags, nets and grids of cells."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    LEAST_LENGTH,
    LEAST_SHARE,
    choice,
    point,
    quantity,
    share,
    size,
)
from previz.scene.fields import target as target_field
from previz.scene.lamp import hung_field, length_field
from previz.scene.records import Item, Target, record_class
from previz.scene.surface import Surface, surface_field

CLOTHS: dict[str, tuple[float, float]] = {
    "quarter silk": (0.76, 0.40),
    "half silk": (0.59, 0.65),
    "full silk": (0.41, 0.90),
    "thin frost": (0.76, 0.50),
    "thick frost": (0.41, 1.00),
    "bleached muslin": (0.30, 1.00),
    "unbleached muslin": (0.25, 1.00),
}
"""Cloth or sheet of a diffusion frame to its transmission and spread. [1]

The transmissions are losses of 0.4, 0.75, 1.3, 0.4, 1.3, 1.75 and 2 stops, the middle of what the
trade counts with. Common practice, no source."""

LOBES = {"thin frost": 30.0}
"""Cloths that scatter about straight on alone, and the full angle to half of the peak. [deg]
Common practice, no source."""

CLOTH_SURFACES = {"bleached muslin": "muslin", "unbleached muslin": "unbleached muslin"}
"""Cloths with a colour of their own, and the surface of the library that has it."""

NETS: dict[str, float] = {"single": 2.0**-0.5, "double": 0.5}
"""Layers of a net to its transmission: half a stop and one stop. Common practice, no source."""

SIDES = {"hard": "hard silver", "soft": "soft silver"}
"""Side of a mirror board to its surface in the library."""

FLAG_SHAPES = ("rectangle", "T")

MOST_CELLS = 200
"""Most cells of a grid along one of its edges."""


@record_class
class Sheet(Item):
    """A flat rectangle on a stand, or hung."""

    size: tuple[float, float] = size(2, "Width and height.")
    at: tuple[float, float, float] = point("Centre.")
    facing: Target = target_field("What its face is turned to.", example="clerk")
    turn: float = quantity(
        "angle", "Roll, counter-clockwise for whoever it faces.", 0.0, minimum=-360.0,
        maximum=360.0, example="45 deg",
    )  # fmt: skip
    hung: str | None = hung_field()


@record_class
class Held(Sheet):
    """A sheet that stands by itself, or in front of a lamp and goes where that is aimed.

    In front of a lamp it stands square to the beam, `at` and `facing` are None, and `distance` counts
    from the lamp's face.
    """

    at: tuple[float, float, float] | None = point("Centre.", default=None)
    facing: Target | None = target_field("What its face is turned to.", None, example="clerk")
    before: Target | None = target_field(
        "A lamp that it is in front of, in place of 'at' and 'facing'.", None, example="key"
    )
    distance: float = quantity(
        "length", "Distance from that lamp's face.", 0.5, minimum=0.001, maximum=100.0,
        example="0.5 m", source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class Board(Sheet):
    """A board that bounces light, or with black cloth takes it away."""

    noun: ClassVar[str] = "board"

    surface: Surface = surface_field("Its face; the back is black.", "white card")
    side: str | None = choice(
        tuple(SIDES), "Makes it a mirror board and says which side faces there: hard is a flat mirror, "
        "soft is silver leaf; the other is its back.", None, example="soft",
    )  # fmt: skip


@record_class
class Diffusion(Held):
    """A frame of cloth or frost that light goes through.

    Its `lobe` is that of a thin beam which meets it square.
    """

    noun: ClassVar[str] = "diffusion frame"

    cloth: str | None = choice(
        tuple(CLOTHS), "What it is hung with; sets transmission, spread and lobe.", None,
        example="half silk", source=COMMON_PRACTICE,
    )  # fmt: skip
    transmission: float = share(
        "Share of the light that goes through.", 0.5, minimum=LEAST_SHARE, example="50 %",
        source=COMMON_PRACTICE,
    )
    reflectance: float | None = share(
        "Share of the light on it that it sends back, scattered; none for nine tenths of what "
        "does not go through.", None, example="45 %", source=COMMON_PRACTICE,
    )  # fmt: skip
    spread: float = share(
        "Share of what goes through that is scattered; the rest goes straight on.", 1.0, example="0.8",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    lobe: float | None = quantity(
        "angle", "Full angle to half of the peak of what is scattered, about straight on; none "
        "scatters evenly in all directions.", None, minimum=2.0, maximum=90.0, example="30 deg",
        source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class Flag(Held):
    """A black cloth on a frame that stops light."""

    noun: ClassVar[str] = "flag"

    shape: str = choice(FLAG_SHAPES, "A full rectangle, or a T of two bars.", "rectangle")
    bar: float = length_field("Width of the bars of a T.", 0.05, "50 mm")
    arm: float | None = quantity(
        "length", "Length of a rod that holds it from below.", None, minimum=LEAST_LENGTH, maximum=10.0,
        example="1 m",
    )  # fmt: skip


@record_class
class Net(Held):
    """A black open-weave cloth that takes a part of the light and lets the rest straight through.

    Its transmission is that of light which meets it square.
    """

    noun: ClassVar[str] = "net"

    layers: str = choice(tuple(NETS), "How many layers of net.", "single", source=COMMON_PRACTICE)
    transmission: float | None = share(
        "Share of the light that goes through; none for that of its layers.", None, minimum=LEAST_SHARE,
        example="60 %",
    )  # fmt: skip


@record_class
class Grid(Held):
    """A frame of square black cells that lets light through about one direction."""

    noun: ClassVar[str] = "grid"

    cell: float = length_field("Width of a cell.", 0.05, "50 mm", maximum=10.0)
    depth: float = length_field("Depth of the cells.", 0.05, "50 mm", maximum=10.0)
