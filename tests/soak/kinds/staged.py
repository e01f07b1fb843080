"""A scene file taken as far as an engine would take it: read, checked, and staged."""

from __future__ import annotations

from pathlib import Path

from previz.errors import SceneError
from previz.scene.read import SceneFile, load
from previz.stage.build import build_stage
from previz.stage.doubts import doubts
from previz.stage.named_files import faults

from ..finite import stage_faults
from ..guard import ViolationError

MOST_STAGED = 2
"""Options of one file that are staged."""

MOST_NAMED = 3
"""Wrong numbers that are named."""


def checked(path: Path) -> SceneFile:
    """Return a file that `previz check` calls good.

    Raises
    ------
    SceneError
        It is not.
    """
    file = load(path)
    named_faults(file)
    for scene in file.scenes.values():
        for each in doubts(scene):
            str(each)
    return file


def named_faults(file: SceneFile) -> None:
    """Raise what is wrong with the files that a scene file names, as `previz check` does."""
    found = [problem for scene in file.scenes.values() for problem in faults(scene)]
    if found:
        raise SceneError(found)


def staged(file: SceneFile, *, figures: bool = True) -> str:
    """Stage a file's scene and an option of it; return in a word what became of it.

    Without `figures`, which take a second each, a scene with figures is not staged.

    Raises
    ------
    ViolationError
        A number of the stage is not finite or out of range; or what `check` calls good is refused, though it
        names no mesh, which alone `check` does not read.
    """
    done = 0
    for scene in list(file.scenes.values())[:MOST_STAGED]:
        if scene.figures and not figures:
            continue
        try:
            stage = build_stage(scene)
        except SceneError as error:
            if any(piece.mesh for piece in scene.pieces):
                raise
            raise ViolationError(
                f"'check' calls it good, and it is refused when it is staged: {error}"
            ) from error
        wrong = list(stage_faults(stage))
        if wrong:
            raise ViolationError("; ".join(wrong[:MOST_NAMED]))
        done += 1
    return "staged" if done else "read"
