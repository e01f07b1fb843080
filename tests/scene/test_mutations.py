"""Scenes broken at random: whatever is in a file, a person gets a `SceneError` or it loads."""

import random
import shutil
from pathlib import Path

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


def test_nothing_but_scene_errors_escapes(tmp_path):
    """A broken file never gives a traceback, and each problem has a place and advice."""
    for folder in ("models", "textures"):
        shutil.copytree(HERE / folder, tmp_path / folder)
    scene = tmp_path / "scene.yaml"
    for seed in range(12):
        chance, loaded = random.Random(seed), 0
        for number in range(20):
            scene.write_bytes(broken(TEXT, chance).encode("utf-8"))
            which = f"seed {seed}, number {number}"
            found = outcome(scene, which)
            if isinstance(found, SceneFile):
                loaded += 1
                continue
            assert found.problems, which
            assert str(found).encode("utf-8")
            for each in found.problems:
                assert each.path == str(scene), which
                assert each.message and each.advice, (which, each)
                assert each.line >= 1 and each.column >= 1, (which, each)
        assert loaded < 20, seed


def outcome(scene, which):
    """The file as loaded, or what is wrong with it; anything else fails, with which file it was."""
    try:
        return load(scene)
    except SceneError as error:
        return error
    except Exception as error:
        error.add_note(which)
        raise


def test_bytes_that_are_no_text(tmp_path):
    """Random bytes in a file are answered too."""
    scene = tmp_path / "scene.yaml"
    for seed in range(4):
        chance = random.Random(1000 + seed)
        for number in range(20):
            data = bytearray(TEXT.encode("utf-8"))
            for _ in range(chance.randint(1, 4)):
                data[chance.randrange(len(data))] = chance.randrange(256)
            scene.write_bytes(bytes(data))
            found = outcome(scene, f"seed {seed}, number {number}")
            assert isinstance(found, SceneFile) or str(found)
