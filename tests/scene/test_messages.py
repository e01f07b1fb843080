"""The whole text of what a person is told, for every way of being wrong that is known.

The cases lie in messages/*.txt; each was read by a person before it was kept.
"""

from pathlib import Path

import pytest

MESSAGES = Path(__file__).parent / "messages"


def cases():
    for path in sorted(MESSAGES.glob("*.txt")):
        for block in path.read_text(encoding="utf-8").split("\n=== ")[1:]:
            name, _, rest = block.partition("\n")
            scene, _, expected = rest.partition(">>>\n")
            yield pytest.param(
                scene.replace("\\x01", "\x01"), expected.rstrip("\n"), id=f"{path.stem}: {name}"
            )


@pytest.mark.parametrize(("scene", "expected"), list(cases()))
def test_a_bad_scene_is_told_so(told, scene, expected):
    """A bad scene file gives its place, what is wrong, the line, and what to write."""
    assert told(scene) == expected


def test_there_are_cases():
    """The cases are found and told apart, so that the test above is not empty."""
    names = [each.id for each in cases()]
    assert len(names) == len(set(names)) > 130
