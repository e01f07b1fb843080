"""Figures: stand-ins for the people in the scene."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, choice, point, quantity, special
from previz.scene.fields import target as target_field
from previz.scene.records import Item, Target
from previz.scene.surface import Surface

PERSONS = ("person one", "person two", "person three", "person four", "person five", "person six")
POSES = ("standing", "seated", "leaning", "walking", "lying")
SKINS = ("very light", "light", "medium", "tan", "brown", "dark")
HAIR = ("none", "short", "long", "bun")
HAIR_COLOURS = ("black", "brown", "fair", "grey", "red", "white")

ANCHORS = (
    "eyes", "left eye", "right eye", "face", "forehead", "nose", "mouth", "chin", "left cheek",
    "right cheek", "left ear", "right ear", "crown", "neck", "chest", "left hand", "right hand",
    "hands", "hips", "left knee", "right knee", "left foot", "right foot", "back",
)  # fmt: skip
"""Parts of a figure that things can point at; left and right are the figure's own."""

THING_ANCHORS = ("centre", "top")
"""Parts of anything else."""


@dataclass(frozen=True, kw_only=True)
class Figure(Item):
    """A person in the scene.

    Parameters
    ----------
    name : str
        As in `Item`.
    person : str
        Which of the built-in persons, one of `PERSONS`.
    stature : float or None
        Height, standing upright, without shoes; None for the person's own. [m]
    percentile : float or None
        Height told as a percentile of people of the person's sex, 1 to 99; None for their own.
    pose : str
        One of `POSES`.
    at : (float, float, float)
        Point on the floor between the feet; for a seated figure the point of the floor under the
        middle of the seat; for a lying figure the point under the hips, z the height of what they
        lie on. [m]
    facing : Target or float
        Where the chest points, seen from above: at a thing or a point, or an angle
        counter-clockwise from east, so 0 is east (+x) and 90 is north (+y). A lying figure's crown
        points there. [deg]
    looking_at : Target or None
        Where the head and eyes turn to; None looks straight ahead.
    seat : float or None
        Height of the seat of a seated figure; None fits the figure's legs. [m]
    head_turn : float
        Head to the figure's own left (plus) or right (minus), on top of `looking_at`. [deg]
    head_tilt : float
        Chin up (plus) or down (minus), on top of `looking_at`. [deg]
    skin, hair, hair_colour : str
        One of `SKINS`, `HAIR`, `HAIR_COLOURS`.
    clothing : Surface
        What they wear.
    """

    noun: ClassVar[str] = "figure"

    person: str = choice(PERSONS, "Which of the built-in persons.", "person one")
    stature: float | None = quantity(
        "length", "Height, standing upright, without shoes.", None, minimum=0.9, maximum=2.3,
        example="1.76 m",
    )  # fmt: skip
    percentile: float | None = quantity(
        "number", "Height as a percentile of people of the person's sex.", None, minimum=1.0,
        maximum=99.0, example="50",
    )  # fmt: skip
    pose: str = choice(POSES, "How they hold themselves.", "standing")
    at: tuple[float, float, float] = point(
        "Point of the floor between the feet, or under the seat or the hips.", counts=(2, 3)
    )
    facing: Target | float = target_field(
        "Where the chest points: a thing, a point, or an angle counter-clockwise from east (+x).",
        dimension="angle", minimum=-360.0, maximum=360.0, example="yard window",
    )  # fmt: skip
    looking_at: Target | None = target_field("Where the head and eyes turn to.", None)
    seat: float | None = quantity(
        "length", "Height of the seat under a seated figure; none fits the legs.", None,
        above=0.0, maximum=1.5, example="0.45 m",
    )  # fmt: skip
    head_turn: float = quantity(
        "angle", "Head to the figure's own left (plus) or right (minus).", 0.0, minimum=-90.0,
        maximum=90.0, example="20 deg",
    )  # fmt: skip
    head_tilt: float = quantity(
        "angle", "Chin up (plus) or down (minus).", 0.0, minimum=-60.0, maximum=60.0,
        example="-10 deg",
    )  # fmt: skip
    skin: str = choice(SKINS, "Lightness of the skin.", "medium")
    hair: str = choice(HAIR, "How the hair is worn.", "short", example="short")
    hair_colour: str = choice(HAIR_COLOURS, "Colour of the hair.", "brown")
    clothing: Surface = special(
        "surface", "What they wear.", Surface(name="grey cloth"), example="wool",
        source=COMMON_PRACTICE,
    )  # fmt: skip
