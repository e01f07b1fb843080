"""What stands in the light: boards that send it back, frames that soften it, flags that stop it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, point, quantity, size, special
from previz.scene.fields import target as target_field
from previz.scene.records import Item, Target
from previz.scene.surface import Surface


@dataclass(frozen=True, kw_only=True)
class Sheet(Item):
    """A flat rectangle on a stand.

    Parameters
    ----------
    name : str
        As in `Item`.
    size : (float, float)
        Width and height. [m]
    at : (float, float, float)
        Centre. [m]
    facing : Target
        What its face is turned to.
    turn : float
        Roll about the line it faces along, counter-clockwise for whoever it faces. [deg]
    """

    size: tuple[float, float] = size(2, "Width and height.")
    at: tuple[float, float, float] = point("Centre.")
    facing: Target = target_field("What its face is turned to.", example="clerk")
    turn: float = quantity(
        "angle", "Roll, counter-clockwise for whoever it faces.", 0.0, minimum=-360.0,
        maximum=360.0, example="45 deg",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Board(Sheet):
    """A board that bounces light.

    Parameters
    ----------
    name, size, at, facing, turn
        As in `Sheet`.
    surface : Surface
        Its face; the back is black.
    """

    noun: ClassVar[str] = "board"

    surface: Surface = special(
        "surface", "Its face.", Surface(name="white card"), example="white card"
    )


@dataclass(frozen=True, kw_only=True)
class Diffusion(Sheet):
    """A frame of cloth or frost that light goes through.

    Parameters
    ----------
    name, size, at, facing, turn
        As in `Sheet`.
    transmission : float
        Share of the light that goes through. [1]
    spread : float
        Share of what goes through that is scattered all ways; the rest goes straight on. [1]
    """

    noun: ClassVar[str] = "diffusion frame"

    transmission: float = quantity(
        "fraction", "Share of the light that goes through.", 0.5, above=0.0, maximum=1.0,
        example="50 %", source=COMMON_PRACTICE,
    )  # fmt: skip
    spread: float = quantity(
        "fraction", "Share of what goes through that is scattered; the rest goes straight on.",
        1.0, minimum=0.0, maximum=1.0, example="0.8",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Flag(Sheet):
    """A black cloth that stops light.

    Parameters
    ----------
    name, size, at, facing, turn
        As in `Sheet`.
    """

    noun: ClassVar[str] = "flag"
