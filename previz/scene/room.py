"""The room: four walls, a floor, perhaps a ceiling, and the holes in them.

The inside corner of the floor at the south-west is the origin: x runs east across the room, y runs
north into it, z runs up.
"""

from __future__ import annotations

from typing import ClassVar

from previz.scene.dressing import Blind, Curtain
from previz.scene.fields import (
    COMMON_PRACTICE,
    LEAST_LENGTH,
    LEAST_SHARE,
    choice,
    integers,
    items,
    quantity,
    record,
    share,
    size,
    special,
    yes_no,
)
from previz.scene.gel import Gel
from previz.scene.records import Item, Record, record_class
from previz.scene.surface import Surface, surface_field

WALLS = ("north", "south", "east", "west", "ceiling")
"""Where an opening may be: south is y = 0, west is x = 0."""

GLAZING = ("none", "clear", "double")


@record_class
class RoomSurfaces(Record):
    """What the room is made of."""

    noun: ClassVar[str] = "room's surfaces"

    floor: Surface = surface_field("The floor.", "grey paint", example="dark oak", source=COMMON_PRACTICE)
    walls: Surface = surface_field(
        "All walls that have no surface of their own.", "white paint", example="cream paint",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    ceiling: Surface = surface_field("The ceiling.", "white paint", source=COMMON_PRACTICE)
    north: Surface | None = surface_field("The north wall.", None, example="brick")
    south: Surface | None = surface_field("The south wall.", None, example="brick")
    east: Surface | None = surface_field("The east wall.", None, example="brick")
    west: Surface | None = surface_field("The west wall.", None, example="brick")


def _height(help, example):
    return quantity(
        "length", help, None, usual="mm", minimum=0.01, maximum=20.0, example=example,
    )  # fmt: skip


@record_class
class Trim(Record):
    """Boards and mouldings along a room's walls and ceiling; each is there where it is written."""

    noun: ClassVar[str] = "trim"

    skirting: float | None = _height("Height of a skirting board.", "140 mm")
    panelling: float | None = _height("Height that panelling of wood reaches.", "1100 mm")
    dado: float | None = _height("Height of a rail along the walls.", "1000 mm")
    picture_rail: float | None = _height("Height of a picture rail.", "2100 mm")
    cornice: float | None = _height("How far a moulded cornice reaches down from the ceiling.", "90 mm")
    rose: float | None = _height("Width of a rose in the middle of the ceiling.", "600 mm")
    beams: float = quantity(
        "number", "How many beams cross under the ceiling, the shorter way.", 0.0, minimum=0.0, maximum=40.0,
        example="4",
    )  # fmt: skip
    surface: Surface = surface_field(
        "What boards, rails and panelling are made of.", "gloss white paint", source=COMMON_PRACTICE
    )
    ceiling: Surface = surface_field(
        "What cornice, rose and beams are made of.", "white paint", source=COMMON_PRACTICE
    )


@record_class
class Door(Record):
    """A panelled door in an opening, hinged at the wall's west or south end and opening into the room."""

    noun: ClassVar[str] = "door"

    open: float = quantity(
        "angle", "How far it is open.", 0.0, minimum=0.0, maximum=170.0, example="40 deg"
    )
    surface: Surface = surface_field("The leaf.", "gloss white paint", source=COMMON_PRACTICE)
    handles: Surface = surface_field("Handles and hinges.", "brass", source=COMMON_PRACTICE)


@record_class
class Opening(Item):
    """A window, a door or a skylight.

    Parameters
    ----------
    size : (float, float)
        For the ceiling, its extent in x and y. [m]
    tint : float
        Of light that meets the glass square; what its faces mirror comes on top. [1]
    gel : tuple of Gel
        Across the open hole, where there is no glass.
    """

    noun: ClassVar[str] = "opening"

    wall: str = choice(WALLS, "The wall it is in.", example="west")
    along: float = quantity(
        "length", "From the wall's west or south end to the near edge; in a ceiling, its x.",
        minimum=0.0, maximum=1000.0, example="1.1 m",
    )  # fmt: skip
    sill: float = quantity(
        "length", "Height of the lower edge, 0 m for a door; in a ceiling, its y.",
        minimum=0.0, maximum=1000.0, example="0.9 m",
    )  # fmt: skip
    size: tuple[float, float] = size(2, "Width and height.", example="[1.6 m, 1.2 m]")
    glass: str = choice(GLAZING, "What it is glazed with.", "clear")
    panes: tuple[int, int] = integers(
        2, "Panes across and up, with glazing bars between.", (1, 1), minimum=1, maximum=40,
        example="[2, 3]",
    )  # fmt: skip
    bar: float = quantity(
        "length", "Width of a glazing bar.", 0.04, usual="mm", minimum=LEAST_LENGTH, maximum=1.0,
        example="40 mm", source=COMMON_PRACTICE,
    )  # fmt: skip
    tint: float = share(
        "Share of the light that each sheet of glass lets through within itself.", 1.0, minimum=LEAST_SHARE,
        example="70 %",
    )  # fmt: skip
    colour: tuple[float, float, float] | None = special(
        "colour", "Hue of tinted glass; none for neutral.", None, example="sage"
    )
    gel: tuple[Gel, ...] = special(
        "gels", "A gel or a list of gels on the glass.", (), example="full cto"
    )
    frame: Surface | None = surface_field(
        "Of a moulded frame round it, and of a window's sill board; none for a bare hole.", None,
        example="gloss white paint",
    )  # fmt: skip
    door: Door | None = record(
        Door, "A door in it, in place of glass.", None, example="{open: 40 deg}"
    )
    curtain: Curtain | None = record(
        Curtain, "A net curtain on the room's side.", None, example="{transmission: 65 %}"
    )
    blind: Blind | None = record(
        Blind, "A blind of slats between the glass and the room.", None, example="{angle: 30 deg}"
    )


@record_class
class Room(Record):
    """The room that the scene plays in."""

    noun: ClassVar[str] = "room"

    size: tuple[float, float, float] = size(
        3, "Inside: across (x, east), deep (y, north), high.", example="[5.2 m, 3.8 m, 2.7 m]"
    )
    wall_thickness: float = quantity(
        "length", "Thickness of walls, floor and ceiling.", 0.2, minimum=LEAST_LENGTH, maximum=10.0,
        example="0.2 m", source=COMMON_PRACTICE,
    )  # fmt: skip
    surfaces: RoomSurfaces = record(RoomSurfaces, "What the room is made of.", RoomSurfaces())
    trim: Trim | None = record(
        Trim, "Boards and mouldings on walls and ceiling.", None, example="{skirting: 140 mm}"
    )
    openings: tuple[Opening, ...] = items(Opening, "Windows, doors and skylights.")
    ceiling: bool = yes_no("Whether it has a ceiling; no for a set that is open above.", True)
