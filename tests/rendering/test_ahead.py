"""What a render needs and the machine has not is told before it starts, with what would fit."""

import platform
import re
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from previz.errors import ResourceError
from previz.frames.whole import write_sealed
from previz.rendering import ahead, machine
from previz.rendering.ahead import look_ahead
from previz.rendering.machine import Left
from previz.rendering.needs import Picture, needs_of
from previz.rendering.pace import PACE_NAME, Pace, kept_pace
from previz.rendering.progress import Progress
from previz.rendering.request import Request

GB = 1e9

# Own memory at most, whole renders of one picture measured on Linux x86-64 (DEVELOPERS.md, "Measured").
MEASURED = [((160, 90), 1, 0.15), ((1920, 1080), 1, 1.73), ((1920, 1080), 4, 1.76), ((1920, 1080), 16, 2.06),
            ((3840, 2160), 1, 4.39), ((3840, 2160), 16, 5.21), ((6400, 3600), 1, 7.77)]


@pytest.mark.parametrize(("size", "lamps", "gigabytes"), MEASURED)
def test_memory_is_estimated_as_it_was_measured(size, lamps, gigabytes):
    """Within a fifth, which is what is taken to be unsure; a set of 130 triangles."""
    found = needs_of([Picture(*size, lamps, 12, 1, 130)]).memory / GB
    assert ahead.SURE <= gigabytes / found <= ahead.NEAR, found


def test_disk_is_estimated_as_it_was_measured():
    """Of 1920x1080 with 1, 4 and 16 lamps: 272, 649 and 2071 MB, frames and files."""
    for lamps, megabytes in ((1, 272), (4, 649), (16, 2071)):
        assert needs_of([Picture(1920, 1080, lamps, 12, 1)]).disk / 1e6 == pytest.approx(megabytes, rel=0.05)


def test_more_pictures_need_more():
    """Finished pictures wait for their sheet; slices add up on the disk and in addresses."""
    one, forty = (needs_of([Picture(3840, 2160, 8, 12, 32)] * count) for count in (1, 40))
    assert forty.disk == pytest.approx(40 * one.disk) and forty.paths == 40 * 3840 * 2160 * 32
    assert one.memory + 9 * GB < forty.memory < one.memory + 14 * GB
    assert forty.file == one.file == pytest.approx(4 * 12 * 3840 * 2160)
    # What is in the cache is neither rendered nor written again, and still developed.
    there = needs_of([Picture(3840, 2160, 8, 12, 32, missing=0.0)])
    assert there.paths == 0 and there.disk < 0.1 * one.disk and there.memory > 2 * GB


@dataclass
class Job:
    """As much of a StageJob as is looked at."""

    order: object
    stage = SimpleNamespace(lamps=[SimpleNamespace(name=f"lamp {n}") for n in range(8)],
                            meshes=[SimpleNamespace(faces=np.zeros((2000, 3)))])
    lamp_cache = None

    def like(self, order):
        return replace(self, order=order)

    def frame_folder(self, camera):
        return self.order.cache / f"{camera.name}-{self.order.width}x{self.order.height}"


@pytest.fixture
def shots(tmp_path):
    """Return a function: size, how many cameras -> what `look_ahead` takes, and what it says."""

    def made(size, count=1, **more):
        request, said = Request(tmp_path / "shed" / "frames", size, **more), []
        shots = [(Job(request.order(16 / 9)), SimpleNamespace(name=f"camera {n}", aspect=16 / 9))
                 for n in range(count)]
        return shots, request, Progress(message=said.append), said

    return made


@pytest.fixture
def machine_of(monkeypatch):
    """Return a function that sets what the machine has: memory, disk and largest file [byte]."""
    monkeypatch.setattr(ahead, "plan", lambda *_, **__: [SimpleNamespace(done=False)])
    monkeypatch.setattr(machine, "used", lambda: (0.16 * GB, 1.0 * GB))

    def has(memory=1000 * GB, disk=1e6 * GB, file=None, mapped=False):
        why = "are free on this machine"
        monkeypatch.setattr(machine, "memory_left", lambda: [Left(memory, why, "Close programs.", mapped)])
        monkeypatch.setattr(machine, "disk_left", lambda _: disk)
        monkeypatch.setattr(machine, "largest_file", lambda: file)

    return has


@pytest.mark.parametrize(("size", "count", "has", "told"), [
    ((8000, 4500), 1, {"memory": 8 * GB}, [
        "A picture of 8000x4500 needs 1", "GB of memory, and 8.0 GB are free on this machine",
        "fits: --size ", "Close programs."]),
    ((3840, 2160), 40, {"memory": 8 * GB}, [
        "40 pictures of 3840x2160 need", "of the 40 pictures fit at once: --camera"]),
    ((3840, 2160), 4, {"disk": 9 * GB}, [
        "4 pictures of 3840x2160 need", "GB on the disk, and 9.0 GB are free at ",
        "1 of the 4 pictures fit", "Free some space"]),
    ((1920, 1080), 1, {"file": 50e6}, [
        "100 MB for a single file, and 50 MB is the most of one here (`ulimit -f`)", "fits: --size 13"]),
    ((1920, 1080), 1, {"memory": 2 * GB, "mapped": True}, ["needs 3", "GB of memory, and 2.0 GB"]),
])
def test_what_cannot_be_had_is_refused_with_what_would_fit(shots, machine_of, size, count, has, told):
    """Before anything is rendered; what is proposed is itself not refused, and nearly the most."""
    machine_of(**has)
    asked, request, progress, said = shots(size, count)
    with pytest.raises(ResourceError) as refused:
        look_ahead(asked, request, progress)
    for words in told:
        assert words in str(refused.value)
    assert said == []
    found = re.search(r"--size (\d+)", str(refused.value))
    if found:
        width = int(found[1])
        asked, request, progress, _ = shots((width, None), count)
        look_ahead(asked, request, progress)
        asked, request, progress, _ = shots((round(1.35 * width), None), count)
        with pytest.raises(ResourceError):
            look_ahead(asked, request, progress)


def test_what_may_be_short_is_told_and_tried(shots, machine_of):
    """Within the error of the estimate; where there is plenty nothing is said."""
    asked, request, progress, said = shots((3840, 2160))
    machine_of(memory=5.2 * GB)
    look_ahead(asked, request, progress)
    assert len(said) == 1 and said[0].startswith("That may be short: A picture of 3840x2160 needs about ")
    machine_of()
    look_ahead(asked, request, progress)
    assert len(said) == 1


def test_a_small_gpu_is_told_of(shots, machine_of, monkeypatch):
    """Its need is known less well, so nothing is refused for it. 3840x2160 took 3.0 GB (DEVELOPERS.md)."""
    machine_of()
    asked, request, progress, said = shots((3840, 2160))
    assert needs_of([Picture(3840, 2160, 16, 12, 16)]).gpu / GB == pytest.approx(3.0, rel=0.05)
    monkeypatch.setattr(ahead, "runs_on", lambda _: "gpu")
    monkeypatch.setattr(machine, "gpu_left", lambda: 2 * GB)
    look_ahead(asked, request, progress)
    assert said == ["That may be short: A picture of 3840x2160 needs about 2.9 GB of the GPU's memory, and "
                    "2.0 GB are free on it."]


def test_a_cache_that_cannot_hold_the_frames_is_told(shots, machine_of):
    """40 pictures of UHD take more than the usual 20 GB; what goes is rendered again."""
    machine_of()
    asked, request, progress, said = shots((3840, 2160), 40)
    look_ahead(asked, request, progress)
    told, = said
    assert told.startswith("The cache keeps 20.0 GB, and what is to be rendered takes 127")


def test_what_is_there_already_needs_no_disk(shots, machine_of):
    """Nor is one picture counted twice that two options have in common."""
    machine_of(disk=9 * GB)
    asked, request, progress, _ = shots((3840, 2160), 4)
    for job, camera in asked[1:]:
        job.frame_folder(camera).mkdir(parents=True)
    look_ahead(asked, request, progress)
    look_ahead([asked[0]] * 4, request, progress)


def test_the_time_is_told_by_the_pace_of_the_last_render(shots, machine_of, monkeypatch):
    """In this scene, or in another beside it; on this machine and on what it will run on."""
    machine_of()
    monkeypatch.setattr(ahead, "runs_on", lambda _: "processor")
    asked, request, progress, said = shots((1920, 1080), 2, samples=100)
    look_ahead(asked, request, progress)
    assert said == []
    beside = request.cache.parent.parent / "canteen" / "frames"
    for runs_on, paths in (("gpu", 4e9), ("processor", 1e6)):
        pace = Pace()
        pace.add(paths, 1.0)
        pace.keep(beside, runs_on)
    # 2 * 1920 * 1080 * 100 paths, a million a second.
    look_ahead(asked, request, progress)
    assert said == ["The pictures: about 7 min, by the pace of the last render here; meters come on top."]
    look_ahead(asked, request, progress, first=4, seconds=10.0)
    assert said[1].startswith("The time is short: a first look at every picture takes about 17 s")
    look_ahead(asked, request, progress, first=4, seconds=20.0)
    assert len(said) == 2


def test_a_pace_that_says_nothing_is_not_kept(tmp_path):
    """After a moment's work, of another machine, damaged."""
    cache = tmp_path / "shed" / "frames"
    pace = Pace()
    pace.add(1e6, 0.01)
    pace.keep(cache, "processor")
    assert not cache.exists() and kept_pace(cache, "processor") is None
    about = {"previz_pace": 1, "machine": platform.node(), "runs_on": "processor", "paths_per_second": 5.0}
    write_sealed(cache / PACE_NAME, {**about, "machine": "another"})
    assert kept_pace(cache, "processor") is None
    write_sealed(cache / PACE_NAME, about)
    assert kept_pace(cache, "processor") == 5.0 and kept_pace(cache, "gpu") is None
    (cache / PACE_NAME).write_text("{")
    assert kept_pace(cache, "processor") is None


@pytest.fixture
def system(tmp_path, monkeypatch):
    """A /proc and control groups of a test's own."""
    monkeypatch.setattr(machine, "PROC", tmp_path / "proc")
    monkeypatch.setattr(machine, "CGROUPS", tmp_path / "cgroup")
    monkeypatch.setattr(machine, "_limit", lambda _: None)

    def write(**files: str) -> None:
        for name, text in files.items():
            path = tmp_path / Path(name)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)

    return write


def test_memory_is_what_the_system_says(system):
    """Files as proc(5) and the kernel's admin guide (cgroup-v2, cgroup-v1/memory) lay them out."""
    assert machine.memory_left() == []
    system(**{"proc/meminfo": "MemTotal: 9000 kB\nMemAvailable:    3000 kB\nSwapFree: 1000 kB\n",
              "proc/self/status": "VmSize:\t 700 kB\nRssAnon:\t 200 kB\n",
              "proc/self/cgroup": "0::/batch/job\n",
              "cgroup/batch/job/memory.max": "max\n", "cgroup/batch/memory.max": "5000000\n",
              "cgroup/batch/memory.current": "2000000\n",
              "cgroup/batch/memory.stat": "anon 1400000\ninactive_file 400000\nactive_file 100000\n"})
    assert machine.used() == (200 * 1024, 700 * 1024)
    assert [left.size for left in machine.memory_left()] == [4000 * 1024, 3.5e6]
    system(**{"proc/self/cgroup": "5:cpu,memory:/box\n2:cpuset:/box\n",
              "cgroup/memory/box/memory.limit_in_bytes": "5000000\n",
              "cgroup/memory/box/memory.usage_in_bytes": "1000000\n",
              "cgroup/memory/memory.limit_in_bytes": "9223372036854771712\n",
              "cgroup/memory/memory.usage_in_bytes": "1\n"})
    assert [left.size for left in machine.memory_left()] == [4000 * 1024, 4e6]


def test_limits_of_the_process_count_what_it_has(system, monkeypatch):
    """A limit to addresses counts mapped files too (getrlimit(2))."""
    system(**{"proc/self/status": "VmSize:\t 700 kB\nRssAnon:\t 200 kB\n"})
    monkeypatch.setattr(machine, "_limit", {"RLIMIT_AS": 1024e3, "RLIMIT_DATA": None}.get)
    assert [(left.size, left.mapped) for left in machine.memory_left()] == [(1024e3 - 700 * 1024, True)]
    assert "ulimit -v" in machine.memory_left()[0].why


def test_a_long_time_is_told_once_where_no_pace_was_known(monkeypatch):
    """By the work so far, once that says something; not where it was told before."""
    now, said = [0.0], []
    monkeypatch.setattr("previz.rendering.progress.time.monotonic", lambda: now[0])
    progress = Progress(message=said.append)
    with progress.running(100.0):
        for now[0] in (10.0, 30.0, 40.0):
            progress.add(1.0, "A")
    assert said == ["About 24 min more, by the work so far."]
    now[0] = 0.0
    progress.start(3.0)
    progress.time_told = False
    now[0] = 60.0
    progress.add(1.0, "A")
    assert len(said) == 1
