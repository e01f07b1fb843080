"""What things are called on plans and lists: a number for a lamp, a letter and a number for the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from previz.scene.scene import Scene

LETTERS: Mapping[str, str] = {"board": "B", "diffusion frame": "D", "flag": "F", "net": "N", "grid": "G"}
"""What stands in the light to the letter before its number."""


def tags_of(scenes: Iterable[Scene]) -> dict[str, str]:
    """Return name -> tag of all lamps and of what stands in the light, of all options of one scene file.

    A thing has one tag in all of them; what stands in the file first comes first.
    """
    lamps: dict[str, str] = {}
    grip: dict[str, str] = {}
    counts: dict[str, int] = {}
    for scene in scenes:
        for light in scene.lights:
            lamps.setdefault(light.name, str(len(lamps) + 1))
        for item in (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets, *scene.grids):
            if item.name not in grip:
                letter = LETTERS[item.noun]
                counts[letter] = counts.get(letter, 0) + 1
                grip[item.name] = f"{letter}{counts[letter]}"
    return {**lamps, **grip}
