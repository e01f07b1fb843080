"""Figures: stand-ins for the people in the scene."""

from __future__ import annotations

import dataclasses
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, choice, items, named, point, quantity, special, text
from previz.scene.fields import target as target_field
from previz.scene.records import Item, Record, Target, record_class
from previz.scene.surface import Surface, surface_field
from previz.scene.wear import Garment

PERSONS = ("person one", "person two", "person three", "person four", "person five", "person six")
POSES = ("standing", "seated", "leaning", "walking", "lying")
SITTING = ("seated", "leaning")
"""Poses on a seat."""

SKINS = ("very light", "light", "medium", "tan", "brown", "dark")
SHEENS = ("powdered", "natural", "shiny", "sweating")
EYES = ("brown", "blue", "green", "grey")
EXPRESSIONS = (
    "neutral", "slight smile", "smile", "laughing", "frown", "surprise", "tired", "speaking",
)  # fmt: skip
GRIPS = ("at rest", "flat", "pointing", "fist", "cup", "rail", "lever", "book", "paper")
"""What a hand does: nothing, or what it is closed about."""

HAIR = ("none", "short", "crop", "curls", "bob", "long", "tied", "bun")
BEARDS = ("none", "stubble", "short", "full", "moustache")
HAIR_COLOURS = ("black", "brown", "fair", "grey", "red", "white")

ANCHORS = (
    "eyes", "left eye", "right eye", "face", "forehead", "nose", "mouth", "chin", "left cheek",
    "right cheek", "left ear", "right ear", "crown", "neck", "chest", "left hand", "right hand",
    "hands", "hips", "left knee", "right knee", "left foot", "right foot", "back",
)  # fmt: skip
"""Parts of a figure that things can point at; left and right are the figure's own."""

THING_ANCHORS = ("centre", "top")
"""Parts of anything else."""


STATURE_LIMITS = (1.40, 2.10)
"""Statures a figure can be drawn at. [m]  Common practice, no source."""

SEAT_LIMITS, TABLE_LIMITS = (0.20, 0.95), (0.40, 1.25)
"""Heights of seats and tables that a body can be drawn at. [m]  Common practice, no source."""

AGE_LIMITS = (20.0, 75.0)
"""Ages that a head can be drawn at. [years]"""

HEAD_TURN, HEAD_TILT = 80.0, 45.0
"""How far a head goes to either side, and up or down. [deg]  From memory, as the joints' ranges."""


def _facing(*default):
    return target_field(
        "Where the chest points: a thing, a point, or an angle counter-clockwise from east (+x).",
        *default, dimension="angle", minimum=-360.0, maximum=360.0, example="yard window",
    )  # fmt: skip


def _looking_at():
    return target_field("Where the head and eyes turn to.", None)


def _seat():
    return quantity(
        "length", "Height of the seat under a seated or leaning figure; none fits the legs.", None,
        minimum=SEAT_LIMITS[0], maximum=SEAT_LIMITS[1], example="0.45 m",
    )  # fmt: skip


def _table():
    return quantity(
        "length", "Height of the table that a leaning figure's arms lie on; none fits the seat.",
        None, minimum=TABLE_LIMITS[0], maximum=TABLE_LIMITS[1], example="0.75 m",
    )  # fmt: skip


def _head(what, limit, example, default):
    return quantity(
        "angle", what, default, minimum=-limit, maximum=limit, example=example
    )  # fmt: skip


def _head_turn(default=0.0):
    return _head("Head to the figure's own left (plus) or right (minus).", HEAD_TURN, "20 deg", default)


def _head_tilt(default=0.0):
    return _head("Chin up (plus) or down (minus).", HEAD_TILT, "-10 deg", default)


def _joints():
    return special(
        "joints", "Angles of single joints, in place of the pose's own.", None,
        example="{left elbow: 90 deg}",
    )  # fmt: skip


@record_class
class Mark(Record):
    """A place that a figure takes in some options, and that is metered in all of them.

    What is not written is as the figure has it; but a mark with a pose of its own has its own
    seat, table and joints too.
    """

    noun: ClassVar[str] = "mark"

    name: str = named("What options and reports call it.", example="window")
    at: tuple[float, float, float] = point(
        "Point of the floor between the feet, or under the seat or the hips.", counts=(2, 3)
    )
    facing: Target | float | None = _facing(None)
    pose: str | None = choice(POSES, "How they hold themselves there.", None)
    looking_at: Target | None = _looking_at()
    seat: float | None = _seat()
    table: float | None = _table()
    head_turn: float | None = _head_turn(None)
    head_tilt: float | None = _head_tilt(None)
    joints: tuple[tuple[str, float], ...] | None = _joints()

    @property
    def label(self) -> str:
        """What messages call it."""
        return f"mark '{self.name}'"


@record_class
class Figure(Item):
    """A person in the scene.

    Parameters
    ----------
    stature, percentile : float or None
        With neither, the person's own. [m] and [1]
    at : (float, float, float)
        For a seated figure the point of the floor under the middle of the seat; for a lying figure
        the point under the hips, z the height of what they lie on. [m]
    facing : Target or float
        Seen from above: 0 is east (+x) and 90 is north (+y). A lying figure's crown points there. [deg]
    looking_at : Target or None
        None for straight ahead; `head_turn` and `head_tilt` come on top of it.
    joints : tuple of (str, float), or None
        Each by its name in full, of `previz.scene.joints`. [deg]
    home : Figure or None
        The figure at its own place, where it is at a mark.
    """

    noun: ClassVar[str] = "figure"

    person: str = choice(PERSONS, "Which of the built-in persons.", "person one")
    stature: float | None = quantity(
        "length", "Height, standing upright, without shoes.", None,
        minimum=STATURE_LIMITS[0], maximum=STATURE_LIMITS[1], example="1.76 m",
    )  # fmt: skip
    percentile: float | None = quantity(
        "number", "Height as a percentile of people of the person's sex.", None, minimum=1.0,
        maximum=99.0, example="50",
    )  # fmt: skip
    pose: str = choice(POSES, "How they hold themselves.", "standing")
    at: tuple[float, float, float] = point(
        "Point of the floor between the feet, or under the seat or the hips.", counts=(2, 3)
    )
    facing: Target | float = _facing()
    looking_at: Target | None = _looking_at()
    seat: float | None = _seat()
    table: float | None = _table()
    head_turn: float = _head_turn()
    head_tilt: float = _head_tilt()
    joints: tuple[tuple[str, float], ...] | None = _joints()
    skin: str = choice(SKINS, "Lightness of the skin.", "medium")
    sheen: str = choice(
        SHEENS, "How much the skin shines, from powder to sweat.", "natural", source=COMMON_PRACTICE
    )
    hair: str = choice(HAIR, "How the hair is worn.", "short", example="short")
    hair_colour: str = choice(HAIR_COLOURS, "Colour of the hair.", "brown")
    beard: str = choice(BEARDS, "What grows on the lower face.", "none", example="short")
    eyes: str = choice(EYES, "Colour of the eyes.", "brown")
    age: float | None = quantity(
        "number", "Age in years, 20 to 75, of face and skin; none is the person's own.", None,
        minimum=AGE_LIMITS[0], maximum=AGE_LIMITS[1], example="45",
    )  # fmt: skip
    expression: str = choice(EXPRESSIONS, "What the face shows.", "neutral", source=COMMON_PRACTICE)
    left_hand: str | None = choice(
        GRIPS, "What the left hand does or holds; none is as the pose has it. A cup comes with it.", None,
        example="cup", source=COMMON_PRACTICE,
    )  # fmt: skip
    right_hand: str | None = choice(
        GRIPS, "What the right hand does or holds; none is as the pose has it. A cup comes with it.", None,
        example="cup", source=COMMON_PRACTICE,
    )  # fmt: skip
    wears: tuple[Garment, ...] | None = special(
        "wears", "Garments, each a word or a group of fields with its 'kind'; none for everyday working "
        "clothes.", None, example="[shirt, jacket, trousers, flat cap]", source=COMMON_PRACTICE,
    )  # fmt: skip
    clothing: Surface = surface_field(
        "Cloth of the outermost garment of the body; what is on the legs is of a darker cut of it. Without "
        "it each garment is of its usual cloth.", "grey cloth", example="wool", source=COMMON_PRACTICE
    )  # fmt: skip
    marks: tuple[Mark, ...] = items(Mark, "Places that the figure takes in turn.")
    mark: str | None = text("The mark that the figure is at.", None, example="window")

    home: Figure | None = dataclasses.field(default=None, compare=False, repr=False)

    def at_mark(self, name: str) -> Figure:
        """Return the figure at one of its marks.

        Parameters
        ----------
        name : str
            Of a mark that there is.

        Returns
        -------
        Figure
            With what the mark says, and the places where the mark says it.
        """
        if self.home is not None:
            return self.home.at_mark(name)
        mark = next(each for each in self.marks if each.name == name)
        changes = {field: getattr(mark, field) for field in _OF_MARK
                   if getattr(mark, field) is not None}
        if mark.pose is not None:
            changes = {"seat": None, "table": None, "joints": None, **changes}
        places = {**self.places, **{field: mark.where(field) for field in changes}}
        return dataclasses.replace(self, **changes, places=places, mark=name,
                                   home=self)


_OF_MARK = ("at", "facing", "pose", "looking_at", "seat", "table", "head_turn", "head_tilt",
            "joints")
"""Fields of a figure that a mark can change."""
