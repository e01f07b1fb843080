"""Scenes broken at random: whatever is in a file, a person is told by `SceneError` or it loads."""

import random
import shutil
from pathlib import Path

import pytest

from previz.errors import SceneError
from previz.scene.read import SceneFile, load

HERE = Path(__file__).parent
TEXT = (HERE / "example.yaml").read_text(encoding="utf-8")

PIECES = (
    "none", "yes", "[]", "{}", "[[", "}", "- ", ": ", "\t", "\n", "\n\n  ", "'", '"', "#", "&a ",
    "*a", "!x ", "<<: ", "|\n", ">-\n", "%", "@", "0", "-1", "1e400", "1e-400", "nan", "inf",
    "0x10", "00:00", "1/0 s", "m", "mm", " deg", "K", "%%", "card", "clerk.eyes", ".", "..",
    "/", "\\", "../x", "name", "kind", "like", "remove", "add", "\u00e9", "\u2028", "\x07", "\x85",
    "\ufeff",    "\U0001f4a1", "x" * 300, "? ", "---\n", "...\n", "~", "null", '"\\ud800"', '"\\0"',
)  # fmt: skip


def broken(text, chance):
    """Return a text with a few random changes."""
    for _ in range(chance.randint(1, 6)):
        lines = text.split("\n")
        where, row = chance.randrange(len(text) + 1), chance.randrange(len(lines))
        match chance.randrange(8):
            case 0:
                text = text[:where] + chance.choice(PIECES) + text[where:]
            case 1:
                text = text[:where] + text[where + chance.randint(1, 12) :]
            case 2:
                text = "\n".join(lines[:row] + lines[row + 1 :])
            case 3:
                other = chance.randrange(len(lines))
                text = "\n".join([*lines[:other], lines[row], *lines[other:]])
            case 4:
                value = lines[row].partition(":")
                lines[row] = f"{value[0]}: {chance.choice(PIECES)}"
                text = "\n".join(lines)
            case 5:
                words = text[where:].split(" ", 2)
                text = text[:where] + " ".join([chance.choice(PIECES), *words[1:]])
            case 6:
                lines[row] = " " * chance.randrange(8) + lines[row].lstrip()
                text = "\n".join(lines)
            case 7:
                text = text[:where]
    return text


@pytest.mark.parametrize("seed", range(12))
def test_nothing_but_scene_errors_escapes(seed, tmp_path):
    """A broken file never gives a traceback, and each problem has a place and advice."""
    chance = random.Random(seed)
    for folder in ("models", "textures"):
        shutil.copytree(HERE / folder, tmp_path / folder)
    scene = tmp_path / "scene.yaml"
    loaded = 0
    for _ in range(20):
        scene.write_bytes(broken(TEXT, chance).encode("utf-8"))
        try:
            found = load(scene)
        except SceneError as error:
            assert error.problems
            assert str(error).encode("utf-8")
            for each in error.problems:
                assert each.path == str(scene)
                assert each.message and each.advice, each
                assert each.line >= 1 and each.column >= 1
        else:
            loaded += isinstance(found, SceneFile)
    assert loaded < 20


@pytest.mark.parametrize("seed", range(4))
def test_bytes_that_are_no_text(seed, tmp_path):
    """Random bytes in a file are told too."""
    chance = random.Random(1000 + seed)
    scene = tmp_path / "scene.yaml"
    for _ in range(20):
        data = bytearray(TEXT.encode("utf-8"))
        for _ in range(chance.randint(1, 4)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        scene.write_bytes(bytes(data))
        try:
            load(scene)
        except SceneError as error:
            assert str(error)
