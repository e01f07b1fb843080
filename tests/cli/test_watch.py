"""`previz watch`: a save is noticed however it is done, and a broken scene ends nothing."""

import os
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from previz.cli.watching import STILL, Watch, named_files, stamp

SOON = 60.0


def heard():
    """Hear interrupts, also where the tests run in a shell's background, which ignores them."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True)
def interrupts():
    before = signal.getsignal(signal.SIGINT)
    heard()
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "scene.yaml"
    path.write_text("one")
    return path


@pytest.fixture
def watch(file):
    watching = Watch([file])
    yield watching
    watching.close()


def in_place(path):
    path.write_text("two")


def replaced(path):
    other = path.with_suffix(".tmp")
    other.write_text("one")
    os.utime(other, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns))
    os.replace(other, path)


def moved_away_and_back(path):
    path.rename(path.with_suffix(".bak"))
    time.sleep(STILL)
    path.write_text("two")


def in_pieces(path):
    for text in ("t", "tw", "two"):
        path.write_text(text)
        time.sleep(STILL / 3)


@pytest.mark.parametrize("save", [in_place, replaced, moved_away_and_back, in_pieces])
def test_a_save_is_noticed(watch, file, save):
    """Written in place, replaced by a file of the same time and size, taken away, in pieces."""
    assert not watch.wait(2 * STILL)
    threading.Thread(target=save, args=(file,)).start()
    assert watch.wait(SOON)
    time.sleep(2 * STILL)  # The last piece of a save in pieces.
    watch.taken()
    assert not watch.wait(2 * STILL)
    assert file.is_file()


def test_work_is_left_when_a_file_is_saved(watch, file):
    """A job is interrupted by a save, and only by that."""
    done = []
    assert watch.work(lambda: done.append(1)) is True
    threading.Timer(0.1, in_place, (file,)).start()

    def long():
        end = time.monotonic() + SOON
        while time.monotonic() < end:
            time.sleep(0.01)
        done.append(2)

    assert watch.work(long) is False
    assert done == [1]
    watch.taken()

    def interrupted():
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        watch.work(interrupted)
    # Saved before it began: it is not even begun.
    in_place(file)
    assert watch.wait(SOON)
    assert watch.work(lambda: done.append(3)) is False
    assert done == [1]


def test_files_that_a_scene_names_are_watched_too(watch, file, tmp_path):
    """Meshes and pictures are found in the scene's records, and count as the scene does."""
    @dataclass
    class Piece:
        mesh: Path | None
        parts: tuple = ()

    mesh = tmp_path / "levers.obj"
    mesh.write_text("v 0 0 0")
    found = named_files([Piece(None, ({"a": Piece(mesh)}, Piece(tmp_path)))])
    assert found == {mesh}
    watch.also(found)
    mesh.write_text("v 0 0 0 1")
    assert watch.wait(SOON)
    assert stamp(tmp_path / "nothing") is None


SCENE = """\
previz: 1
title: Yard office
room: {size: [3 m, 3 m, 2.5 m]}
lights:
  - {name: lamp, kind: bulb, at: [0.5 m, 2.4 m, 1.4 m], output: 400 lm}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: lamp, lens: 25 mm, stop: T2.8, iso: 800}
"""


@pytest.mark.engine
@pytest.mark.slow
def test_watching_a_scene(tmp_path):
    """Draft, then in full; a mistake is reported with its place; mended, it goes on; Ctrl-C ends it."""
    scene = tmp_path / "office.yaml"
    scene.write_text(SCENE)
    running = subprocess.Popen(
        [sys.executable, "-m", "previz", "watch", "office.yaml", "--size", "32x18", "--samples", "4"],
        cwd=tmp_path, text=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONUNBUFFERED": "1"}, preexec_fn=heard)
    result = []
    reader = threading.Thread(target=lambda: result.extend(iter(running.stderr.readline, "")))
    reader.start()

    def until(text, count=1):
        end = time.monotonic() + 60
        while sum(text in line for line in result) < count:
            assert time.monotonic() < end, result
            assert running.poll() is None, result
            time.sleep(0.05)

    try:
        until("Waiting for")
        qualities = [line.split(":")[0] for line in result if "after" in line]
        assert qualities == ["draft", "working"]
        still = tmp_path / "renders" / "office" / "A.png"
        before = still.read_bytes()
        scene.write_text(SCENE.replace("400 lm", "400 lumens"))
        until("office.yaml:5:")
        until("Waiting for", 2)
        assert still.read_bytes() == before
        other = tmp_path / "other"
        other.write_text(SCENE.replace("400 lm", "100 lm"))
        os.replace(other, scene)
        until("Waiting for", 3)
        assert still.read_bytes() != before
        running.send_signal(signal.SIGINT)
        assert running.wait(120) == 130
    finally:
        running.kill()
    reader.join()
    running.stderr.close()
