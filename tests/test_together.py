"""Files that take their names together: whenever a process is killed, all are new or all are old."""

import os

import pytest

from previz.frames.together import finish, together
from previz.frames.whole import read_sealed, write_sealed

NAMES = ("a/one.txt", "b/two.txt", "three.txt")


def write(folder, text):
    with together(folder) as files:
        for name in NAMES:
            with files.whole_file(folder / name) as part:
                part.write_text(text)


def texts(folder):
    return [(folder / name).read_text() for name in NAMES]


class Killed(BaseException):
    """The process ends here."""


@pytest.fixture
def folder(tmp_path):
    """A folder with old files."""
    write(tmp_path, "old")
    return tmp_path


def test_all_have_their_names(folder):
    """Nothing but the files is left."""
    write(folder, "new")
    assert texts(folder) == ["new"] * 3
    assert sorted(p.name for p in folder.rglob("*") if p.is_file()) == ["one.txt", "three.txt", "two.txt"]


@pytest.mark.parametrize("stop_after", range(5))
def test_whenever_it_is_killed_all_are_new_or_all_are_old(folder, monkeypatch, stop_after):
    """Killed at any change of a name: before there is a list the old ones stay, then all become new."""
    real, calls = os.replace, []

    def replace(source, target):
        if len(calls) == stop_after:
            raise Killed
        calls.append(target)
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    # One that is killed tidies nothing up.
    monkeypatch.setattr("pathlib.Path.unlink", lambda *_, **__: None)
    if stop_after < 4:
        with pytest.raises(Killed):
            write(folder, "new")
    else:
        write(folder, "new")
    monkeypatch.undo()
    finish(folder)
    assert texts(folder) == ["old" if stop_after == 0 else "new"] * 3
    assert not list(folder.glob("together-*"))


def test_a_fault_leaves_the_old_ones(folder):
    """What was written so far goes, and nothing gets a name."""
    with pytest.raises(OSError, match="full"), together(folder) as files:
        with files.whole_file(folder / NAMES[0]) as part:
            part.write_text("new")
        raise OSError("full")
    assert texts(folder) == ["old"] * 3 and not list(folder.rglob(".*"))


def test_a_list_names_only_what_a_write_has_made(folder):
    """No list moves a file that is not a part of another, nor one out of the folder."""
    part = "a/.one.txt.0123456789ab.part"
    (folder / part).write_text("new")
    for pair in (["b/two.txt", "a/one.txt"], [part, "a/other.txt"], ["../x/.y.0123456789ab.part", "../x/y"],
                 ["/a/.y.0123456789ab.part", "/a/y"], [part, "b/one.txt"]):
        write_sealed(folder / "together-0123456789ab.json", {"previz_together": 1, "files": [pair]})
        finish(folder)
        assert texts(folder) == ["old"] * 3 and (folder / part).is_file()
    note = folder / "together-0123456789ab.json"
    for text in ("", "{}", '{"previz_together": 1, "files": 3}'):
        note.write_text(text)
        finish(folder)
        assert note.read_text() == text
    write_sealed(note, {"previz_together": 1, "files": [[part, "a/one.txt"]]})
    assert read_sealed(note, "previz_together")
    finish(folder)
    assert (folder / "a/one.txt").read_text() == "new" and not note.exists()
