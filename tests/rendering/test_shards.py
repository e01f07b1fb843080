"""However a picture is cut, whoever renders it and however often: the same bits as from one process."""

import os
import subprocess
import time

import numpy as np
import pytest
from shard_yard import arrays, by_a_hand, by_one, office, task

from previz.engine import backend
from previz.engine.render import CameraJob
from previz.frames.archives import read_archive
from previz.rendering import job as rendering_job
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.rendering.shards import leases as leases_module
from previz.rendering.shards.leases import Leases
from previz.rendering.shards.planning import Coming, Split, plan_picture
from previz.rendering.shards.results import note_of
from previz.rendering.shards.units import LIGHT, METERS, PICTURE, VIEW, unit_of
from previz.studies.shard.bench import Bench, is_done
from previz.studies.shard.plans import kept_plan, make_plan, plan_for
from previz.studies.shard.work import Share, Worker

TILES_AND_PASSES = Split(2, 1)
FIRST = ("plain",)


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """The scene, and what one process renders of its first option, and of all."""
    backend.start("processor")
    folder = tmp_path_factory.mktemp("yard")
    scene = office(folder)
    first = arrays(by_one(scene, folder / "one", FIRST))
    return scene, first, arrays(by_one(scene, folder / "one"))


@pytest.mark.engine
@pytest.mark.parametrize(("split", "options"), [
    (Split(1), FIRST), (TILES_AND_PASSES, ()), (Split(2, 3), FIRST)])
def test_every_cut_comes_to_the_same_bits(yard, tmp_path, split, options, monkeypatch):
    """Light lamp by lamp, planes, frames and meters; nothing else is left, and `render` traces nothing."""
    scene, first, every = yard
    day = by_a_hand(task(scene, tmp_path, split, options))
    assert all(row.done for row in day.rows)
    assert arrays(tmp_path) == (first if options else every)
    assert not list(tmp_path.rglob("rows-*")) and not list(tmp_path.rglob("*.lease"))
    monkeypatch.setattr(rendering_job, "open_stage", lambda *_: pytest.fail("something was traced"))
    by_one(scene, tmp_path, options)


def planned(one):
    return plan_for(Bench(), one, Progress())


@pytest.mark.engine
def test_doubled_late_and_disordered_units_change_nothing(yard, tmp_path):
    """Every unit is done twice, the last first, and once more when the pictures are there."""
    scene, expected, _ = yard
    one = task(scene, tmp_path, TILES_AND_PASSES, FIRST)
    plan, bench = planned(one), Bench()
    for kind in (LIGHT, VIEW, METERS):
        for unit in [each for each in reversed(plan.units) if each.kind == kind] * 2:
            bench.do(one, unit)
    pictures = [unit for unit in plan.units if unit.kind == PICTURE]
    for unit in pictures * 2:
        bench.do(one, unit, plan.lights(unit))
    assert arrays(tmp_path) == expected
    late = next(unit for unit in plan.units if unit.kind == LIGHT)
    bench.do(one, late)
    bench.close()
    by_a_hand(one)
    assert {place: kept for place, kept in arrays(tmp_path).items() if "shards" not in place} == expected


class Killed(BaseException):
    """The process ends here."""


@pytest.mark.engine
@pytest.mark.parametrize("split", [Split(2), TILES_AND_PASSES], ids=str)
def test_a_killed_hand_costs_its_unit_alone(yard, tmp_path, split, monkeypatch):
    """Another takes the unit when its lease has expired; an interrupt keeps even the passes that were in."""
    scene, expected, _ = yard
    one = task(scene, tmp_path, split, FIRST)
    real, traced = CameraJob.traced, []

    def counted(job, number, *more):
        traced.append(number)
        if len(traced) == 6:
            raise Killed
        return real(job, number, *more)

    monkeypatch.setattr(CameraJob, "traced", counted)
    with monkeypatch.context() as dead:
        # A process that is killed gives nothing back.
        dead.setattr(Leases, "give_back", lambda *_: None)
        with pytest.raises(Killed):
            by_a_hand(one)
    held = list((tmp_path / "shards").glob("*.lease"))
    assert held
    before = len(traced)
    started = time.monotonic()
    monkeypatch.setattr(leases_module, "_has_died", lambda said: False)
    for lease in held:
        os.utime(lease, (time.time() - 100,) * 2)
    by_a_hand(one, expires=100.0)
    assert time.monotonic() - started < 60 and arrays(tmp_path) == expected
    # Four passes in each of two tiles, of which no more than that of the unit are traced again.
    assert len(traced) - before == (8 - 5 if split.passes else 8 - 4)


@pytest.mark.engine
def test_an_interrupted_tile_goes_on(yard, tmp_path, monkeypatch):
    """What passes have gathered is there, and is not traced again."""
    scene, expected, _ = yard
    one = task(scene, tmp_path, Split(1), FIRST)
    real, steps = CameraJob.step, []

    def interrupted(job, *more):
        steps.append(job.done)
        if len(steps) == 3:
            raise KeyboardInterrupt
        return real(job, *more)

    monkeypatch.setattr(CameraJob, "step", interrupted)
    with pytest.raises(KeyboardInterrupt):
        by_a_hand(one)
    assert not list(tmp_path.rglob("*.lease"))
    by_a_hand(one)
    assert steps == [0, 1, 2, 2, 3] and arrays(tmp_path) == expected


@pytest.mark.engine
@pytest.mark.parametrize("damaged", ["pass-*.npy", "rows-*/slices.*.npy", "planes/*/depth.*.npy",
                                     "lamps/*/*/slices.*.npy", "meters/*.npz"])
def test_damaged_results_are_noticed_and_done_again(yard, tmp_path, damaged):
    """A byte of a result is changed before the pictures are put together.

    Meters of a stage share their random numbers, so that one that is gathered again alone draws others.
    """
    scene, expected, _ = yard
    split = Split(1) if damaged.startswith("lamps") else TILES_AND_PASSES if "pass" in damaged else Split(2)
    one = task(scene, tmp_path, split, FIRST)
    plan, bench = planned(one), Bench()
    for unit in plan.units:
        if unit.kind != PICTURE:
            bench.do(one, unit)
    bench.close()
    torn = max(path for path in tmp_path.rglob(damaged) if path.stat().st_size)
    content = bytearray(torn.read_bytes())
    content[len(content) // 2] ^= 1
    torn.write_bytes(content)
    day, left = by_a_hand(one), arrays(tmp_path)
    own = {place for place in expected if damaged.startswith("meters") and torn.name in place}
    assert all(row.done for row in day.rows) and left.keys() == expected.keys()
    assert all(left[place] == kept for place, kept in expected.items() if place not in own)
    assert read_archive(torn, "previz_meter") if own else torn.suffix == ".npy"


@pytest.mark.engine
def test_shares_of_an_array_meet_at_the_end(yard, tmp_path):
    """Three shares, each alone, do every unit once; the last puts together what the others could not."""
    scene, expected, _ = yard
    one, done = task(scene, tmp_path, Split(2), FIRST), []
    for number in (2, 3, 1):
        Worker([one], Progress(), share=Share(number, 3),
               on_unit=lambda _, unit: done.append((unit.kind, unit.name))).run()
    assert len(done) == len(set(done)) == len(kept_plan(one).units)
    assert arrays(tmp_path) == expected


@pytest.mark.engine
def test_more_paths_come_after_fewer(yard, tmp_path):
    """A second request of one size goes on with what the first makes: it is planned once that is there."""
    scene, *_ = yard
    first, second = (task(scene, tmp_path / "many", TILES_AND_PASSES, ("plain",), samples=n) for n in (4, 12))
    both = type(first)(scene, first.cache, (*first.wants, *second.wants), first.split)
    assert planned(both).more
    day = by_a_hand(both)
    assert all(row.done for row in day.rows) and not day.plans[0].more and day.plans[0].earlier
    for samples in (4, 12):
        by_a_hand(task(scene, tmp_path / "one", Split(1), ("plain",), samples=samples))
    assert arrays(tmp_path / "many") == arrays(tmp_path / "one")


@pytest.mark.engine
def test_a_plan_that_is_out_of_date_is_made_anew(tmp_path, monkeypatch):
    """A scene whose meshes have changed has the same text: its units find out that they are of another."""
    backend.start("processor")
    monkeypatch.setattr("previz.studies.shard.plans.plan_path", lambda one, what="plan": (
        one.cache / "shards" / f"{what}-{NAME}.json"))
    scene = office(tmp_path)
    one = task(scene, tmp_path / "many", Split(2), FIRST)
    before = planned(one)
    scene.write_text(scene.read_text().replace("size: [0.4 m, 0.4 m, 1.1 m]", "size: [0.4 m, 0.4 m, 1 m]"))
    day = by_a_hand(one)
    assert all(row.done for row in day.rows) and day.plans[0].earlier
    assert {unit.name for unit in before.units}.isdisjoint(unit.name for unit in day.plans[0].units)
    assert arrays(one.cache).keys() >= arrays(by_one(scene, tmp_path / "one", FIRST)).keys()
    assert arrays(one.cache).items() >= arrays(tmp_path / "one").items()


@pytest.mark.engine
def test_units_are_what_one_process_would_render_together(yard, tmp_path):
    """Of an option with a moved lamp that lamp alone; of one with other levels nothing."""
    scene, *_ = yard
    plan = planned(task(scene, tmp_path, Split(2)))
    lights = {(unit.option, unit.lamps) for unit in plan.units if unit.kind == LIGHT}
    assert lights == {("plain", ("key", "fill", "bulb")), ("moved", ("bulb",))}
    assert [unit.option for unit in plan.units if unit.kind == PICTURE] == ["plain", "moved"]
    meters = [unit for unit in plan.units if unit.kind == METERS]
    assert len(meters) == 1 and meters[0].options == ("plain", "moved", "low")
    first, moved = (unit for unit in plan.units if unit.kind == PICTURE)
    assert first.name in moved.after and moved.name not in first.after
    for unit in plan.units:
        again = unit_of(unit.plain())
        assert again == unit and again.name == unit.name
    with pytest.raises(ValueError):
        unit_of({**plan.units[0].plain(), "name": "0" * 32})
    assert plan.pictures == 3


def test_meters_of_one_set_are_one_unit(tmp_path):
    """Options that differ in lamps lend each other light, in their order; one with another set does not."""
    scene = office(tmp_path)
    scene.write_text(scene.read_text() + "  turned: {pieces: {stand: {at: [2.2 m, 2.6 m]}}}\n")
    one, finer = (task(scene, tmp_path / "frames", error=error) for error in (0.2, 0.1))
    both = type(one)(scene, one.cache, (*one.wants, *finer.wants), one.split)
    plan = make_plan(Bench(), both, Progress(), measure=False)
    found = [unit for unit in plan.units if unit.kind == METERS]
    assert [(unit.options, unit.want) for unit in found] == [
        (("plain", "moved", "low"), 0), (("turned",), 0), (("plain", "moved", "low"), 1), (("turned",), 1)]
    assert [unit.after for unit in found] == [(), (), (found[0].name,), (found[1].name,)]
    assert not one.cache.exists()


@pytest.mark.engine
def test_what_is_there_is_not_planned(yard, tmp_path):
    """After a render nothing is missing; without what bodies do, more may be, and nothing is written."""
    scene, *_ = yard
    one = task(scene, tmp_path, options=FIRST)
    bench = Bench()
    opened = bench.opened(one, 0, "plain")
    job = opened.job.like(Request(tmp_path, size=(32, None), samples=8, bands=8).order(16 / 9))
    camera = job.stage.cameras[0]
    assert plan_picture(job, camera, Coming(), Split(), measure=False)
    bench.close()
    assert not list(tmp_path.iterdir())
    by_one(scene, tmp_path, FIRST)
    found = planned(one)
    assert [unit.kind for unit in found.units] == [METERS]
    by_a_hand(one)
    assert is_done(one, found.units[0]) and note_of(tmp_path, found.units[0].name)["cost"]["paths"] == 0


def test_tiles_and_parts_are_a_whole():
    """Rows follow each other without a gap, and passes too; a picture too large for the host is cut."""
    for height in (1, 7, 18, 540, 2161):
        for wanted in (1, 2, 5, 4096):
            tiles = Split(wanted).rows(960, height, 4, 12, 32)
            assert tiles[0][0] == 0 and sum(rows for _, rows in tiles) == height
            assert all(a[0] + a[1] == b[0] for a, b in zip(tiles, tiles[1:], strict=False))
            assert len(tiles) <= wanted
    assert len(Split(1).rows(3840, 2160, 20, 12, 32)) == 10
    for passes in (1, 4, 7):
        for most in (1, 3, 9):
            parts = Split(None, most).parts(passes)
            assert [n for first, end, _ in parts for n in range(first, end)] == list(range(passes))
            assert all(end - first <= most and every == passes for first, end, every in parts)


NAME, OTHER = "a1" * 16, "b2" * 16


def test_a_lease_keeps_others_out_until_it_expires(tmp_path):
    """By the clock of the disk; one that was lost is left to its new owner."""
    with Leases(tmp_path, 100.0) as mine, Leases(tmp_path, 100.0) as theirs:
        assert mine.take(NAME) and not theirs.take(NAME) and theirs.take(OTHER)
        assert theirs.others() == {NAME} and mine.others() == {OTHER}
        os.utime(mine.path(NAME), (time.time() - 99,) * 2)
        assert not theirs.take(NAME)
        os.utime(mine.path(NAME), (time.time() - 101,) * 2)
        assert theirs.take(NAME)
        mine.give_back(NAME)
        assert theirs.path(NAME).exists() and not mine.take(NAME)
    assert not list(tmp_path.rglob("*.lease")) and not list(tmp_path.rglob("*.part"))


def test_a_lease_is_renewed(tmp_path):
    """While its process is at work, and not when that is stopped: then it has come late."""
    with Leases(tmp_path, 0.5) as mine:
        assert mine.take(NAME)
        os.utime(mine.path(NAME), (time.time() - 100,) * 2)
        end = time.monotonic() + 5
        while time.time() - mine.path(NAME).stat().st_mtime > 50 and time.monotonic() < end:
            time.sleep(0.02)
        assert time.time() - mine.path(NAME).stat().st_mtime < 50


def test_the_lease_of_a_dead_process_is_free_at_once(tmp_path, monkeypatch):
    """On its own machine; on another nobody can know. A lease without sense waits until it expires."""
    child = subprocess.Popen(["sleep", "60"])
    monkeypatch.setattr(os, "getpid", lambda: child.pid)
    with Leases(tmp_path) as dead, Leases(tmp_path) as other:
        assert dead.take(NAME) and not other.take(NAME)
        child.kill()
        child.wait()
        with monkeypatch.context() as elsewhere:
            elsewhere.setattr(leases_module.platform, "node", lambda: "elsewhere")
            assert not other.take(NAME)
        assert other.take(NAME)
        other.path(NAME).write_bytes(np.random.default_rng(1).bytes(40))
        assert not dead.take(NAME)
