"""The whole text of what a person gets to read, for every fault that is known.

The cases lie in messages/*.txt; each was read by a person before it was kept. {every kind of lamp}
stands there for their names.
"""

from pathlib import Path

import pytest

from previz.scene.light import LIGHTS

MESSAGES = Path(__file__).parent / "messages"


def cases():
    """Yield (name, scene, whole text of its messages)."""
    for path in sorted(MESSAGES.glob("*.txt")):
        for block in path.read_text(encoding="utf-8").split("\n=== ")[1:]:
            name, _, rest = block.partition("\n")
            scene, _, expected = rest.partition(">>>\n")
            yield f"{path.stem}: {name}", scene.replace("\\x01", "\x01"), expected.rstrip("\n").replace(
                "{every kind of lamp}", ", ".join(LIGHTS))


@pytest.mark.parametrize("group", sorted(path.stem for path in MESSAGES.glob("*.txt")))
def test_a_bad_scene_is_answered(message_of, group):
    """Each bad scene file gives its place, what is wrong, the line, and what to write."""
    wrong = {}
    for name, scene, expected in cases():
        if name.startswith(f"{group}: "):
            got = message_of(scene)
            if got != expected:
                wrong[name] = f"\n{got}\nin place of\n{expected}"
    assert not wrong, "\n".join(f"{name}:{text}" for name, text in wrong.items())


def test_there_are_cases():
    """The cases are found and have names of their own, so that the test above is not empty."""
    names = [name for name, _, _ in cases()]
    assert len(names) == len(set(names)) > 130
