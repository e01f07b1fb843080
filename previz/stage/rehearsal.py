"""What only a whole stage shows to be wrong: `check` builds it where that can be, and nowhere else.

Bodies take longer to build than all else that `check` does, and most scenes need none of it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from previz.errors import Problem, SceneError
from previz.scene.doubts import rough_place
from previz.scene.fields import table
from previz.scene.figure import Figure
from previz.scene.records import Target

if TYPE_CHECKING:
    from previz.scene.scene import Scene

CLOSE = 0.5
"""A thing is only at a figure's very own eyes or face if it is about as near to them as this. [m]"""


def faults(scene: Scene) -> tuple[Problem, ...]:
    """Return what is wrong with a scene that a build alone shows: joints, and aims within a figure."""
    if not in_doubt(scene):
        return ()
    from previz.stage.build import build_stage

    try:
        build_stage(scene)
    except SceneError as error:
        return error.problems
    return ()


def in_doubt(scene: Scene) -> bool:
    """Return whether a build may show what is not known without one."""
    return any(figure.joints for figure in scene.figures) or any(
        _within_reach(scene, item, getattr(item, field))
        for item in scene.all_items() if not isinstance(item, Figure)
        for field, entry in table(type(item)).items() if entry.kind == "target")


def _within_reach(scene, item, aimed) -> bool:
    """Return whether what an item is aimed at may be its own place, as far as a figure's is known."""
    at = getattr(item, "at", None)
    if at is None or not isinstance(aimed, Target) or aimed.name is None:
        return False
    figure = next((each for each in scene.figures if each.name == aimed.name), None)
    if figure is None:
        return False
    if aimed.anchor in HEAD:
        return math.dist(at, rough_place(scene, figure.name)) < CLOSE
    return math.dist(at[:2], figure.at[:2]) < REACH and abs(at[2] - figure.at[2]) < REACH + 1.5


HEAD = (None, "eyes", "left eye", "right eye", "face", "forehead", "nose", "mouth", "chin", "left cheek",
        "right cheek", "left ear", "right ear", "crown", "top")
"""Parts of a figure that are near its eyes."""

REACH = 1.0
"""About how far a hand or a foot gets from a figure's place. [m]"""
