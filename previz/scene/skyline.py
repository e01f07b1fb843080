"""What ends the view outdoors: bands of trees, roofs, hills, walls and fences round the set."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, choice, quantity, share, yes_no
from previz.scene.records import Item, record_class
from previz.scene.surface import Surface, surface_field

USUAL_BANDS: dict[str, tuple[float, float, str]] = {
    "trees": (12.0, 25.0, "leaves"),
    "roofs": (9.0, 20.0, "terracotta tile"),
    "hills": (120.0, 600.0, "grass"),
    "works": (11.0, 40.0, "dark brick"),
    "hedge": (1.6, 1.2, "leaves"),
    "wall": (2.2, 0.33, "brick"),
    "fence": (1.2, 0.1, "old timber"),
    "verge": (0.35, 3.0, "grass"),
}
"""Kinds of band, each with its usual height and depth [m] and surface.  Common practice, no source."""

BANDS = tuple(USUAL_BANDS)


@record_class
class Band(Item):
    """Things along an arc round the set, on the ground outside.

    Bearings and distances are from the middle of the room, or from the set's corner outdoors. Shapes are
    invented from the name: the same name gives the same trees. They are for the view: what is to be lit from
    near by is a piece.

    Parameters
    ----------
    pale : float or None
        A choice of surface and no haze in the air: reflectances are mixed with those of a pale grey-blue.
    """

    noun: ClassVar[str] = "band"

    kind: str = choice(BANDS, "What stands there.", example="trees")
    distance: float = quantity(
        "length", "From the set to the near side.", minimum=1.0, maximum=2900.0, example="120 m"
    )
    start: float = quantity(
        "angle", "Bearing of its left end, clockwise from true north.", 0.0, minimum=-360.0, maximum=360.0,
        example="210 deg",
    )  # fmt: skip
    end: float = quantity(
        "angle", "Bearing of its right end; the same as its left goes all round.", 0.0, minimum=-360.0,
        maximum=360.0, example="300 deg",
    )  # fmt: skip
    height: float | None = quantity(
        "length", "Height of the highest; none is usual for the kind.", None, minimum=0.05, maximum=500.0,
        example="14 m", source=COMMON_PRACTICE,
    )  # fmt: skip
    depth: float | None = quantity(
        "length", "From its near to its far side; none is usual for the kind.", None, minimum=0.05,
        maximum=2000.0, example="40 m", source=COMMON_PRACTICE,
    )  # fmt: skip
    surface: Surface | None = surface_field(
        "What most of it is made of; none is usual for the kind.", None, example="dark green paint"
    )
    bare: bool = yes_no("Whether its trees are without leaves.", False)
    gaps: float = share("Share of it that is left open.", 0.1, maximum=0.95, example="20 %")
    pale: float | None = share(
        "How far its surfaces are paled, as by the air before them; none follows from the distance.", None,
        example="20 %",
    )  # fmt: skip
