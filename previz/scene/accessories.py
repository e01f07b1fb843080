"""What is put on a lamp: doors, snoot, shutters, egg crate."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, LEAST_LENGTH, quantity, record, share
from previz.scene.lamp import diameter_field, length_field
from previz.scene.records import Record, record_class


def _leaf(which):
    return quantity(
        "angle",
        f"Angle of the {which} leaf from the beam: 0 straight ahead, 90 wide open, below 0 across "
        "the beam.",
        75.0, minimum=-60.0, maximum=110.0, example="40 deg", source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class BarnDoors(Record):
    """Four black leaves hinged at the rim of a lamp; left and right as seen from behind it."""

    noun: ClassVar[str] = "set of barn doors"

    top: float = _leaf("top")
    bottom: float = _leaf("bottom")
    left: float = _leaf("left")
    right: float = _leaf("right")
    length: float | None = quantity(
        "length", "Length of a leaf; none for the width of the lamp's face.", None, minimum=LEAST_LENGTH,
        maximum=5.0, example="0.3 m",
    )  # fmt: skip


@record_class
class Snoot(Record):
    """A black pipe in front of a lamp."""

    noun: ClassVar[str] = "snoot"

    length: float = length_field("Length.", 0.30, "0.3 m")
    diameter: float | None = diameter_field(
        "Diameter of its mouth; none for that of the lamp's face.", None, "150 mm"
    )


def _blade(which):
    return share(
        f"How far the {which} shutter reaches into the pool of light, as a share of its diameter.",
        0.0, example="20 %",
    )  # fmt: skip


@record_class
class ShutterCut(Record):
    """Four straight shutters at the gate, named by the side of the pool of light that they cut.

    Left and right are as seen from behind the lamp.
    """

    noun: ClassVar[str] = "set of shutters"

    top: float = _blade("top")
    bottom: float = _blade("bottom")
    left: float = _blade("left")
    right: float = _blade("right")


@record_class
class EggCrate(Record):
    """A grid of square black cells on a lamp's face."""

    noun: ClassVar[str] = "egg crate"

    cell: float = length_field("Width of a cell.", 0.05, "50 mm", maximum=2.0)
    depth: float = length_field("Depth of a cell.", 0.05, "50 mm", maximum=2.0)


def barn_doors_field():
    """Return the field for barn doors."""
    return record(BarnDoors, "Four leaves at its rim.", None, example="{top: 40 deg}")


def snoot_field():
    """Return the field for a snoot."""
    return record(Snoot, "A pipe in front of it.", None, example="{length: 0.3 m}")


def egg_crate_field():
    """Return the field for an egg crate."""
    return record(
        EggCrate, "A grid of square cells on its face.", None, example="{cell: 50 mm, depth: 50 mm}"
    )


def skirt_field(where):
    """Return the field for a skirt of black cloth.

    Parameters
    ----------
    where : str
        What it hangs from.
    """
    return quantity(
        "length", f"Depth of a skirt of black cloth {where}.", None, minimum=LEAST_LENGTH, maximum=10.0,
        example="0.3 m",
    )  # fmt: skip
