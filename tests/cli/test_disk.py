"""A disk that is full or closed, and memory that is used up, are reported in words, early where it can be."""

import errno
import os
import re
import resource
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from previz.cli.main import main, previz
from previz.deliver.atomic import write_bytes
from previz.errors import RequestError, ResourceError, resource_error, resources_told
from previz.rendering.machine import Left
from previz.studies import folders
from previz.studies.folders import out_file, out_folder


def error(number, place=None):
    return OSError(number, os.strerror(number), place)


def test_a_full_disk_is_reported_with_what_to_do():
    """An error of the disk, or one that it is behind; any other is not explained away."""
    words = str(resource_error(error(errno.ENOSPC, "frames/a.npy")))
    assert words.startswith("'frames/a.npy': no space left on device.")
    assert "Free some space there" in words
    behind = RuntimeError("cannot write")
    behind.__cause__ = error(errno.ENOSPC, "frames/a.npy")
    assert str(resource_error(behind)) == words
    assert resource_error(ValueError("2")) is None
    assert resource_error(error(errno.ECONNREFUSED)) is None
    # What came up while something else was put right has not that for a cause.
    beside = TypeError("2")
    beside.__context__ = error(errno.ENOSPC)
    assert resource_error(beside) is None


@pytest.mark.parametrize("fault", [
    MemoryError(), RuntimeError("jit_malloc(): out of memory! Could not allocate 8 bytes (backend=LLVM)."),
    RuntimeError("std::bad_alloc"), error(errno.ENOMEM)])
def test_memory_that_is_used_up_is_reported(fault):
    """As numpy, the engine and the system say it; a fault of another kind is left as it is."""
    with pytest.raises(ResourceError, match="not enough memory") as told, resources_told():
        raise fault
    assert "--size" in told.value.advice and told.value.__cause__ is fault
    with pytest.raises(RuntimeError, match="wrong"), resources_told():
        raise RuntimeError("wrong")
    gpu = resource_error(RuntimeError("jit_malloc(): out of memory! (backend=CUDA, shared=0)"))
    assert "on the GPU" in str(gpu) and "--backend processor" in gpu.advice


def test_a_file_in_the_place_of_the_folder_is_reported_before_any_work(tmp_path):
    """Also where the file is further up, and nothing is made on the way."""
    (tmp_path / "taken").write_text("kept")
    for out in (tmp_path / "taken", tmp_path / "taken" / "below"):
        with pytest.raises(RequestError, match="is a file"):
            out_folder(out, tmp_path / "a.yaml")
    assert (tmp_path / "taken").read_text() == "kept"
    assert out_folder(tmp_path / "new" / "one", tmp_path / "a.yaml") == tmp_path / "new" / "one"
    assert not (tmp_path / "new").exists()
    (tmp_path / "frames").write_text("kept")
    with pytest.raises(RequestError, match="frames' is a file"):
        out_folder(tmp_path, tmp_path / "a.yaml")


def test_a_folder_that_is_closed_is_reported(tmp_path, monkeypatch):
    """Rights are checked, as an account that may do all would not notice; reading needs none."""
    monkeypatch.setattr("os.access", lambda *_: False)
    with pytest.raises(RequestError, match="Nothing can be written"):
        out_folder(tmp_path, tmp_path / "a.yaml")
    assert out_folder(tmp_path, tmp_path / "a.yaml", write=False) == tmp_path


def test_a_folder_that_takes_nothing_is_reported(tmp_path, monkeypatch):
    """A little is written to it first, as rights are not all; nothing of that stays."""
    out_folder(tmp_path, tmp_path / "a.yaml")
    assert list(tmp_path.iterdir()) == []

    def full(*_):
        raise error(errno.EDQUOT)

    monkeypatch.setattr(folders.os, "write", full)
    with pytest.raises(RequestError, match="disk quota exceeded") as told:
        out_folder(tmp_path / "new", tmp_path / "a.yaml")
    assert "Free some space" in told.value.advice
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_place_of_a_file_is_reported(tmp_path):
    """Before any work, of a whole folder's files and of a single one."""
    (tmp_path / "sheet.png").mkdir()
    with pytest.raises(RequestError, match="is a folder"):
        out_folder(tmp_path, tmp_path / "a.yaml", files=("A.png", "sheet.png"))
    with pytest.raises(RequestError, match="is a folder"):
        out_file(tmp_path / "sheet.png")
    assert out_file(tmp_path / "A.csv") == tmp_path / "A.csv"


@pytest.mark.parametrize("out", ["x" * 256, "ö" * 128, "/".join(["x" * 200] * 21)])
def test_names_that_no_disk_takes_are_reported(tmp_path, out):
    """Of a folder in bytes, and of a whole path. Source: Linux limits.h, NAME_MAX 255, PATH_MAX 4096."""
    with pytest.raises(RequestError, match="too long|too deep"):
        out_folder(tmp_path / out, tmp_path / "a.yaml")
    with pytest.raises(RequestError, match="too long|too deep"):
        out_file(tmp_path / f"{out}.json")


DAY = ("--place", "52, 13", "--date", "2026-06-01", "--zone", "+02:00", "--at", "12:00")


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """A scene, a.yaml, where the program runs."""
    monkeypatch.chdir(tmp_path)
    Path("a.yaml").write_text(
        "previz: 1\nroom: {size: [3 m, 3 m, 2.5 m]}\nhaze: {level: light}\n"
        "daylight: {sky: overcast, illuminance: 60 lx}\ncameras:\n"
        "  - {name: A, at: [1 m, 1 m, 1 m], aim: [2 m, 2 m, 1 m], lens: 25 mm, stop: T2.8, iso: 800}\n")


@pytest.mark.parametrize("words", [
    ("render", "a.yaml"), ("render", "a.yaml", "--noise", "5%"), ("shard", "a.yaml"), ("compare", "a.yaml"),
    ("mood", "a.yaml"), ("times", "a.yaml", *DAY), ("match-cut", "a.yaml", "a.yaml")],
    ids=lambda words: words[0])
def test_commands_say_first_that_there_is_no_memory(words, tmp_path, yard, monkeypatch, capsys):
    """With what would fit, and before anything is put on the device; no picture is left behind."""
    monkeypatch.setattr("previz.rendering.machine.memory_left", lambda: [Left(1e9, "are free here")])
    monkeypatch.setattr("previz.rendering.machine.used", lambda: (0.1e9, 1e9))
    monkeypatch.setattr("previz.rendering.job.open_stage", lambda *_: pytest.fail("work was begun"))
    with pytest.raises(SystemExit) as end:
        main([*words, "--size", "3840x2160"])
    told = capsys.readouterr().err
    assert end.value.code == 2 and "Traceback" not in told
    assert "A picture of 3840x2160 needs " in told and "GB of memory, and 1.0 GB are free here." in told
    assert re.search(r"fits: --size \d{3,4}\.", told)
    assert not list(tmp_path.rglob("*.png"))


@pytest.mark.parametrize("words", [
    ("schema", "--out", "shut/x.json"), ("validate", "--out", "shut/x.md"),
    ("meter", "a.yaml", "--out", "shut/x.csv"),
    *((name, *("a.yaml",) * count, "--out", "shut") for name, count in {
        "render": 1, "shard": 1, "watch": 1, "page": 1, "block": 1, "compare": 1, "study": 1, "haze": 1,
        "times": 1, "mood": 1, "match-cut": 2, "portrait": 0}.items()),
    ("cache", "a.yaml", "--out", "shut", "--clear")], ids=lambda words: words[0])
def test_every_command_says_first_that_it_cannot_write(words, tmp_path, yard, monkeypatch):
    """A file lies where the folder is to be; nothing is read into the engine, nothing is left behind."""
    monkeypatch.setattr("previz.stage.build.build_stage", lambda *_: pytest.fail("work was begun"))
    Path("shut").write_text("kept")
    done = CliRunner().invoke(previz, [*words, *(DAY if words[0] == "times" else ())])
    assert done.exit_code == 2 and "'shut' is a file" in done.stderr.replace(f"{tmp_path}/", ""), done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.yaml", "shut"]


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EISDIR, errno.EFBIG, errno.ENOENT])
def test_the_program_ends_with_2_and_no_traceback(monkeypatch, capsys, number):
    """Whatever command meets it; it says what is left as that command leaves it."""
    def full(**_):
        raise error(number, "renders/x")

    monkeypatch.setattr("previz.cli.main.previz.main", full)
    for words, left in ((["list"], "as it was"), (["render"], "goes on from there")):
        with pytest.raises(SystemExit) as end:
            main(words)
        assert end.value.code == 2
        result = capsys.readouterr().err
        assert result.startswith("'renders/x': ") and "fault" not in result and left in result


@contextmanager
def longest_file(size):
    """Let no file be longer. [bytes]"""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_limit_to_the_size_of_files_is_reported_with_the_place(tmp_path):
    """The system refuses the write; the file of before stays, and nothing lies beside it."""
    path = tmp_path / "A.png"
    write_bytes(path, b"before")
    with longest_file(1000), pytest.raises(ResourceError) as told, resources_told():
        write_bytes(path, bytes(2000))
    assert str(told.value).startswith(f"'{path}': file too large.") and "ulimit -f" in told.value.advice
    assert path.read_bytes() == b"before" and list(tmp_path.iterdir()) == [path]


def test_a_folder_that_goes_away_meanwhile_is_reported(tmp_path):
    """With the name of the file itself."""
    path = tmp_path / "gone" / "A.png"

    def write():
        from previz.frames import whole_file

        with whole_file(path) as part:
            part.write_bytes(b"")
            part.unlink()
            path.parent.rmdir()

    with pytest.raises(ResourceError, match="taken away") as told, resources_told():
        write()
    assert str(told.value).startswith(f"'{path}': ")
