"""What the field table allows at its ends builds, finite throughout; `check` and a build refuse alike.

Things of one list stand in one scene together, so that a few hundred builds serve a thousand ends.
"""

import dataclasses
import re

import ends
import numpy as np
import pytest

from previz.engine.tables import flatten_geometry
from previz.errors import SceneError
from previz.scene.read import load
from previz.stage import named_files, rehearsal
from previz.stage.build import build_stage
from previz.stage.records import Emitter

WORDS = ("choice", "yes_no", "text", "name", "gels")
"""Kinds of fields without a range; their values are built by tests of their own, as figures and gels are."""

F32 = float(np.finfo(np.float32).max)


def endless(value, path="stage"):
    """Where in a stage a number is not finite, or too large for single precision."""
    if isinstance(value, np.ndarray) and value.dtype.kind == "f":
        return [] if np.all(np.abs(value) < F32) else [path]
    if isinstance(value, float):
        return [] if abs(value) < F32 else [path]
    if isinstance(value, dict):
        return [each for key, part in value.items() for each in endless(part, f"{path}.{key}")]
    if isinstance(value, tuple | list):
        return [each for part in value for each in endless(part, path)]
    if dataclasses.is_dataclass(value):
        # A lamp without a lens is focused nowhere.
        return [each for part in dataclasses.fields(value)
                if not (isinstance(value, Emitter) and part.name == "focus")
                for each in endless(getattr(value, part.name), f"{path}.{part.name}")]
    return []


def checked(folder, scene):
    """The scene of a file, or the problems that `previz check` tells."""
    path = folder / "scene.yaml"
    path.write_text(ends.as_text(scene), encoding="utf-8")
    try:
        found = load(path).scene()
    except SceneError as error:
        return None, error.problems
    return found, (*named_files.faults(found), *rehearsal.faults(found))


def sound(folder, group, scene):
    """The scene of a group without the things that `check` refuses, or None where nothing is left."""
    found, problems = checked(folder, scene)
    if not problems:
        return found
    if found is not None:
        with pytest.raises(SceneError):
            build_stage(found)
    text = " ".join(each.message for each in problems)
    things = set(re.findall(r"'(thing \w)'", text))
    kept = [end for number, end in enumerate(group) if f"thing {chr(ord('a') + number)}" not in things]
    if not things or not kept:
        return None
    (_, scene), = ends.together(kept)
    found, problems = checked(folder, scene)
    assert not problems, [str(each) for each in problems]
    return found


@pytest.mark.parametrize("part", range(4))
def test_what_is_allowed_builds(tmp_path, part):
    """Whatever `check` lets pass makes a stage of finite numbers, whose lamps have a face each."""
    inside = [end for end in ends.edges() if end.inside and end.kind not in WORDS
              and not end.record.startswith("figures") and not end.record.endswith(".gel")]
    built = 0
    for group, scene in list(ends.together(inside))[part::4]:
        found = sound(tmp_path, group, scene)
        if found is None:
            continue
        labels = [end.label for end in group]
        try:
            stage = build_stage(found)
        except Exception as error:
            error.add_note(str(labels))
            raise
        assert not endless(stage), labels
        assert not endless(flatten_geometry(stage)), labels
        built += len(group)
    assert built > 150
