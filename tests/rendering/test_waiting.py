"""Whoever writes or removes in a folder of the cache waits for who is at it."""

import contextlib
import os
import threading
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from previz.frames import lamp_files
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import read_lamp, write_lamp
from previz.frames.lock import only_writer
from previz.physics.light import LampLight
from previz.rendering.cache.limit import kept_in, remove
from previz.rendering.cache.picture import assemble, remove_rows
from previz.rendering.job import StageJob
from previz.rendering.request import Request
from previz.stage.records import Camera, Stage

KEY, BODIES = "a1" * 16, "b2" * 8
GRID = (16, 24)


def gathered():
    plane = np.ones(GRID, np.float32)
    return Gathered(np.ones((8, *GRID), np.float32), plane, 8.0, 1, 1, plane, plane)


def lamp_of(cache: Path, rows=""):
    return cache / "lamps" / KEY / BODIES / rows


def written(cache):
    return lamp_of(cache), lambda: write_lamp(lamp_of(cache), gathered(), 8.0, {})


def removed(cache):
    write_lamp(lamp_of(cache), gathered(), 8.0, {})
    thing, = kept_in(cache)
    return lamp_of(cache), lambda: remove(thing)


def rows_removed(cache):
    folder = lamp_of(cache, "rows-00000-00016")
    write_lamp(folder, gathered(), 8.0, {})
    return folder, lambda: remove_rows(cache, [read_lamp(folder)])


def put_together(cache):
    camera = Camera("A", np.eye(3), np.ones(3), (0.3, 0.2), 1.5, 0.0, 1.0, 2.8, 800.0, 0.02, 0.0, 5600.0, 0.0,
                    0.03, (0.02, 0.01))
    curve = np.ones(81)
    stage = Stage("", {}, (), (LampLight("key", "lm", 1.0, curve, curve),), ())
    order = replace(Request(cache, (24, 16), samples=8, bands=8).order(1.5), width=24, height=16)
    job = StageJob(stage, order)
    plane = np.ones((3, *GRID), np.float32)
    planes = (("floor",), {"albedo": plane, "normal": plane, "depth": plane[0],
                           "names_index": np.zeros(GRID, np.int32)})
    return job.frame_folder(camera), lambda: assemble(job, camera, [], planes)


@pytest.mark.parametrize("prepared", [written, removed, rows_removed, put_together])
def test_it_waits_for_who_is_at_it(tmp_path, prepared):
    """Nothing is done while another holds the folder, and all of it after."""
    folder, work = prepared(tmp_path / "frames")
    done = threading.Event()
    thread = threading.Thread(target=lambda: (work(), done.set()))
    with only_writer(folder):
        thread.start()
        assert not done.wait(0.15)
    thread.join(20)
    assert done.is_set()


def test_of_two_that_write_a_lamp_at_once_the_one_with_more_stays(tmp_path, monkeypatch):
    """What is there is looked at and replaced in one go: fewer paths never come last."""
    met, more = threading.Barrier(2), threading.Event()
    read, seal = lamp_files.read_lamp, lamp_files.write_sealed

    def reading(*given, **words):
        try:
            return read(*given, **words)
        finally:
            with contextlib.suppress(threading.BrokenBarrierError):
                met.wait(0.2)

    def sealing(path, head, **words):
        if head["samples"] == 8:
            more.wait(0.2)
        seal(path, head, **words)
        if head["samples"] == 16:
            more.set()

    monkeypatch.setattr(lamp_files, "read_lamp", reading)
    monkeypatch.setattr(lamp_files, "write_sealed", sealing)
    threads = [threading.Thread(target=write_lamp, args=(tmp_path, gathered(), samples, {}))
               for samples in (8.0, 16.0)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(20)
    monkeypatch.undo()
    assert read_lamp(tmp_path).samples == 16


def test_a_lamp_can_be_written_where_it_is_being_cleared(tmp_path):
    """Twenty writes while all is removed again and again: each ends well, and the last one stays."""
    cache, stop = tmp_path / "frames", threading.Event()

    def clear():
        while not stop.is_set():
            for thing in kept_in(cache):
                remove(thing)

    thread = threading.Thread(target=clear)
    thread.start()
    end = time.monotonic() + 20
    try:
        for samples in range(1, 21):
            write_lamp(lamp_of(cache), gathered(), float(samples), {})
            assert time.monotonic() < end
    finally:
        stop.set()
        thread.join(20)
    write_lamp(lamp_of(cache), gathered(), 99.0, {})
    assert read_lamp(lamp_of(cache)).samples == 99
    assert not [name for name in os.listdir(lamp_of(cache)) if name.endswith(".part")]
