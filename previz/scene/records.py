"""What every record of a scene is made on: the place it was written at, its name, its targets."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, dataclass_transform

from previz.errors import Problem
from previz.scene.fields import INVALID, named
from previz.units import show


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a scene file something was written.

    Parameters
    ----------
    file : str
        The file, as the person named it; '' for a value that was not read from a file.
    line, column : int
        Counted from 1; 0 where there is none.
    source_line : str
        The line itself, for messages.
    """

    file: str = ""
    line: int = 0
    column: int = 0
    source_line: str = ""

    def problem(self, message: str, advice: str) -> Problem:
        """Return a `Problem` at this place: what is wrong, and what to write."""
        return Problem(self.file, self.line, self.column, message, advice, self.source_line)


NOWHERE = Place()
"""The place of a record that was made by a program instead of read from a file."""


@dataclass(frozen=True)
class Target:
    """What something points at: a thing, a part of a thing, or a point.

    Parameters
    ----------
    text : str
        'clerk', or 'clerk.eyes' for a part of it; '' for a point.
    point : (float, float, float) or None
        World position, where a point was written. [m]
    """

    text: str = ""
    point: tuple[float, float, float] | None = None

    @property
    def name(self) -> str | None:
        """Name of the thing; None for a point."""
        return self.text.partition(".")[0].strip() if self.point is None else None

    @property
    def anchor(self) -> str | None:
        """Part of the thing; None for a point, or for a thing as a whole."""
        part = self.text.partition(".")[2].strip()
        return part if part and self.point is None else None

    def __str__(self):
        if self.point is None:
            return self.text
        return f"[{', '.join(show(each, 'length') for each in self.point)}]"


@dataclass_transform(frozen_default=True, kw_only_default=True)
def record_class(cls: type) -> type:
    """Make a subclass of `Record` a frozen dataclass, all by keyword."""
    return dataclass(frozen=True, kw_only=True)(cls)


@record_class
class Record:
    """Something that was written in a scene file.

    Parameters
    ----------
    place : Place
        Where the record begins.
    places : dict of str to Place
        Where the value of each written field stands.
    """

    noun: ClassVar[str] = "record"

    short: ClassVar[str] = ""
    """The field that a plain text in the record's place stands for; '' where none may be written."""

    place: Place = dataclasses.field(default=NOWHERE, compare=False, repr=False)
    places: Mapping[str, Place] = dataclasses.field(default_factory=dict, compare=False, repr=False)

    def where(self, field: str) -> Place:
        """Return where a field was written, or the record itself if it was not."""
        return self.places.get(field, self.place)

    @property
    def label(self) -> str:
        """What messages call it."""
        return f"the {self.noun}"


@record_class
class Item(Record):
    """A record with a name, unique in the scene."""

    name: str = named("What other things in the scene call it; unique in the scene.")

    @property
    def label(self) -> str:
        """What messages call it."""
        if self.name is INVALID:
            return f"a {self.noun} without a name"
        kind = getattr(self, "kind", "")
        return f"{self.noun} '{self.name}'" + (f" ({kind})" if kind else "")
