"""Whose head a portrait is of, and how it is described."""

from __future__ import annotations

import dataclasses
from typing import Any

from previz.errors import RequestError
from previz.scene.figure import PERSONS, Figure
from previz.scene.scene import Scene
from previz.stage.figures.people import PEOPLE
from previz.studies.selection import select_one

BUILT_IN = "subject"
"""Name of a figure that is of no scene."""


def sitter(scene: Scene | None, name: str, changes: dict[str, str | None]) -> Figure:
    """Return the figure of a portrait: a scene's, or a built-in person.

    The name may be '' where the scene has but one. `changes` are fields that are to be otherwise; None
    leaves one as it is.

    Raises
    ------
    RequestError
        The scene has no figure, several and none is named, or not the one named.
    """
    given: dict[str, Any] = {field: value for field, value in changes.items() if value is not None}
    if scene is None:
        person = given.setdefault("person", PERSONS[1])
        given.setdefault("hair", PEOPLE[person].hair)
        return Figure(name=BUILT_IN, at=(0.0, 0.0, 0.0), facing=270.0, **given)
    figures = {each.name: each for each in scene.figures}
    if not figures:
        raise RequestError("The scene has no figure; add one under 'figures:', or leave SCENE "
                           "out for a built-in person.")
    if not name and len(figures) > 1:
        raise RequestError(f"The scene has {len(figures)} figures; name one with --figure: "
                           f"{', '.join(figures)}.")
    return dataclasses.replace(figures[select_one(name, figures, "figure")], **given)


def described(figure: Figure) -> str:
    """Return whose head it is and how it is dressed, in a line."""
    hair = "no hair" if figure.hair == "none" else f"{figure.hair} {figure.hair_colour} hair"
    who = "" if figure.name == BUILT_IN else f"{figure.name}, "
    sheen = "" if figure.sheen == "natural" else f"{figure.sheen}, "
    return (f"{who}{figure.person} ({PEOPLE[figure.person].words}), {figure.skin} skin, {sheen}"
            f"{hair}")
