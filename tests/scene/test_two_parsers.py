"""The parser in C and the one in Python: where the first gives a tree, it is the second's."""

import random
from pathlib import Path

import pytest
import yaml

from previz.errors import SceneError
from previz.scene import nodes

SCENES = sorted((Path(__file__).parents[2] / "scenes").glob("*.yaml"))

SIGNS = "\n -:,[]{}#&*!|>'\"%@`?~abz019.<\\/=é–"
"""What slips are made of: every sign of YAML, and some letters."""

needs_c = pytest.mark.skipif(not yaml.__with_libyaml__, reason="the library came without its parser in C")


def tree(node):
    """Return all that is read of a node: kind, tag, text, quotes, place and what it holds."""
    if isinstance(node, yaml.ScalarNode):
        held = node.value, node.style or None
    elif isinstance(node, yaml.SequenceNode):
        held = [tree(each) for each in node.value]
    else:
        held = [(tree(key), tree(value)) for key, value in node.value]
    return type(node), node.tag, node.start_mark.line, node.start_mark.column, held


def by_python(text):
    return nodes._parsed(text, "scene.yaml", text.splitlines())


def slipped(rng, text):
    """Return some lines of a file with a few slips: signs put in, changed and left out."""
    lines = text.splitlines(keepends=True)
    first = rng.randrange(len(lines))
    signs = list("".join(lines[first : first + 6]))
    for _ in range(rng.randrange(1, 4)):
        at = rng.randrange(len(signs))
        signs[at : at + rng.choice((0, 1, 1, 2))] = rng.choice((*SIGNS, ""))
    return "".join(signs)


@needs_c
@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_shipped_scenes_are_read_in_c(path):
    text = path.read_text(encoding="utf-8")
    assert tree(nodes._quickly_parsed(text)) == tree(by_python(text))


@needs_c
def test_what_c_takes_python_reads_alike():
    """Of texts with slips the one in C takes some; those the other reads too, and finds the same."""
    rng = random.Random(1)
    texts = [path.read_text(encoding="utf-8") for path in SCENES]
    taken = 0
    for _ in range(600):
        text = slipped(rng, rng.choice(texts))
        quick = nodes._quickly_parsed(text)
        if quick is not None:
            taken += 1
            assert tree(quick) == tree(by_python(text)), text
    assert taken > 60


@needs_c
@pytest.mark.parametrize("text", [
    "room: {size: }\n", "room:\n  size:\n", "title: {a?b: 1}\n", "title:\tyard\n", "title: a\u2028b\n",
    "title: a\r\nroom: b\n", "title: 'a\n", "a: *b\n", "a: [" + "[" * 40 + "]" * 41 + "\n",
    "a: [" + "1, " * 30_000 + "]\n",
])
def test_the_rest_is_left_to_python(text):
    """What the two see differently, and every fault: the words for it are those of one parser."""
    assert nodes._quickly_parsed(text) is None


def test_a_library_without_it_reads_the_same(monkeypatch):
    text = SCENES[0].read_text(encoding="utf-8")
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    assert nodes._quickly_parsed(text) is None
    assert nodes.compose(text, "scene.yaml")[1] == []
    with pytest.raises(SceneError):
        nodes.compose("a: [", "scene.yaml")
