"""Refinement in rounds: it gets to the requested noise, keeps what there is, and stays unbiased."""

import time
from types import SimpleNamespace

import numpy as np
import pytest

from previz.engine import backend, render
from previz.engine.render import CameraJob, Sampling, luminance_weights
from previz.frames.gathered import variance
from previz.rendering import refine
from previz.rendering.cache.store import LampCache
from previz.rendering.job import StageJob
from previz.rendering.refine import Goal, Refiner
from previz.rendering.request import Order
from previz.scene.read import load
from previz.stage.build import build_stage

pytestmark = pytest.mark.engine

SCENE = """\
previz: 1
title: The canteen's hatch
room: {size: [3 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.5}}}
pieces:
  - {name: stand, shape: box, at: [1.4 m, 2 m], size: [0.4 m, 0.4 m, 1.2 m], surface: grey card}
lights:
  - {name: key, kind: panel, at: [2.7 m, 0.4 m, 2.2 m], aim: stand.top, size: [0.4 m, 0.4 m], output: 3000 lm}
  - {name: bulb, kind: bulb, at: [0.5 m, 2.4 m, 1.4 m], output: 400 lm}
  - {name: faint, kind: bulb, at: [2.6 m, 2.6 m, 0.5 m], output: 10 lm}
  - {name: off, kind: bulb, at: [2.6 m, 1 m, 0.5 m], output: 100 lm, on: no}
cameras:
  - {name: A, at: [1.2 m, 0.4 m, 1.3 m], aim: stand.centre, lens: 25 mm, stop: T2.8, iso: 800}
"""


BANDS = 1
"""It is luminance that is refined; the same number everywhere, so that kernels are shared."""


@pytest.fixture(scope="module")
def stage(tmp_path_factory):
    backend.start()
    path = tmp_path_factory.mktemp("hatch") / "hatch.yaml"
    path.write_text(SCENE)
    return build_stage(load(path).scene(None))


def refiner(stage, folder, report=lambda *_: None, *, noise=None, seconds=None, seed=1):
    order = Order(32, 18, Sampling(8, 2, seed), BANDS, "processor", folder)
    return Refiner(StageJob(stage, order), stage.cameras[0], Goal(noise, seconds), report)


def luminance(frames, stage):
    from previz.exposure.mix import mix_xyz
    return np.asarray(mix_xyz(frames, stage.lamps)[1], float)


@pytest.fixture(scope="module")
def quiet(stage, tmp_path_factory):
    """One run to a noise of 3 %: its end, its rounds, and how many lamps each step had."""
    rounds, lamps, step = [], [], CameraJob.step
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(CameraJob, "step", lambda job, *a: (
            lamps.append(len(job.stage.lamps)), step(job, *a))[1])
        done = refiner(stage, tmp_path_factory.mktemp("quiet"), noise=0.03).run(rounds.append)
    return done, rounds, lamps


def test_it_refines_to_the_requested_noise(stage, quiet, tmp_path):
    """Rounds double until the noise is reached; it is true noise, as another seed shows."""
    done, rounds, _ = quiet
    assert done.noise <= 0.03 < rounds[-2].noise
    assert [r.samples for r in rounds][:2] == [4, 8]
    other = refiner(stage, tmp_path, noise=0.03, seed=9).run()
    one, two = luminance(done.frames, stage), luminance(other.frames, stage)
    floor = np.maximum((one + two) / 2, 0.05 * one.mean())
    measured = np.sqrt(np.mean(((one - two) / floor) ** 2) / 2)
    # A mean square of 576 pixels with a few fireflies: known to about a third.
    assert 0.6 * done.noise < measured < 1.6 * done.noise


def test_lamps_that_are_quiet_are_left_out(quiet):
    """A lamp that is off or faint gets no more paths once the others alone are noisy."""
    _, _, lamps = quiet
    assert lamps[0] == 4
    assert lamps[-1] <= 2


def test_what_is_there_is_gone_on_with(stage, tmp_path, monkeypatch):
    """Requested again with the same noise, nothing is rendered; for less, only what is missing."""
    first = refiner(stage, tmp_path, noise=0.16).run()
    passes = []
    step = CameraJob.step
    monkeypatch.setattr(CameraJob, "step", lambda job, *a: (passes.append(job), step(job, *a))[1])
    again = refiner(stage, tmp_path, noise=0.16).run()
    assert not passes
    assert again.noise == first.noise
    finer = refiner(stage, tmp_path, noise=0.1).run()
    assert passes
    assert finer.noise <= 0.1


def test_it_is_left_when_time_is_up_and_can_be_interrupted(stage, tmp_path):
    """A time budget ends it with a picture; an interrupt keeps the passes that are done."""
    refiner(stage, tmp_path, noise=0.5).run()  # Compiles the kernel.
    done = refiner(stage, tmp_path, seconds=0.5).run()
    assert done.frames.shape == (18, 32)
    result = []

    def leave(*_):
        result.append(1)
        if len(result) == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        refiner(stage, tmp_path, leave, noise=1e-6).run()
    after = refiner(stage, tmp_path, noise=1.0).run()
    assert after.noise < done.noise


def test_no_time_at_all_still_gives_a_picture(stage, tmp_path):
    """A budget that is over before the second pass gives the first round, and comes to an end."""
    done = refiner(stage, tmp_path, seconds=0.0).run()
    assert done.frames.shape == (18, 32)
    assert done.samples == refine.FIRST


RENDERS = 4
"""Pixels are as independent as renders are, and many of them cost less."""


def test_uneven_passes_are_unbiased_and_know_their_noise(stage):
    """Means over renders whose paths were sent by noise are those of even ones; so is the spread."""
    buffers = render.open_stage(stage, BANDS, "processor")
    camera = stage.cameras[0]
    even, uneven, result = [], [], []
    for seed in range(RENDERS):
        for kept, sent in ((even, False), (uneven, True)):
            job = CameraJob(buffers, stage, camera, 48, 27, Sampling(8, 2, 100 + seed))
            job.step(2)
            job.step(2)
            for _ in range(4):
                counts = None
                if sent:
                    # The worst that could be done to a biased mean: paths follow the pixel's light.
                    bright = job.sums.mean.sum(axis=(1, 2)).reshape(27, 48)
                    counts = np.clip(np.rint(4 * bright / bright.mean()), 1, 16).astype(int)
                job.step(4, counts)
            kept.append(job.sums.mean[:, :, 0].astype(float))
            if sent:
                lamps = [job.gathered(lamp).variance.ravel() for lamp in range(2)]
                result.append(np.array(lamps, float).T)
    even, uneven, result = np.array(even), np.array(uneven), np.array(result)
    off = uneven.mean(axis=0) - even.mean(axis=0)
    spread = (uneven.var(axis=0, ddof=1) + even.var(axis=0, ddof=1)) / RENDERS
    for lamp in range(2):
        z = off[:, lamp].sum() / np.sqrt(spread[:, lamp].sum())
        assert abs(z) < 4
    ratio = result[..., 0].mean() / uneven[..., 0].var(axis=0, ddof=1).mean()
    # 4 renders of 1296 pixels give a variance to some percent; heavy tails make it tens.
    assert 0.6 < ratio < 1.6


def test_variance_of_uneven_passes():
    """The formula on numbers: passes of n paths with weights w, drawn from a normal spread."""
    random = np.random.default_rng(3)
    weights, paths = np.array([2, 2, 4, 8.0]), np.array([2, 1, 8, 3.0])
    drawn = 1 + random.normal(size=(200_000, 4)) / np.sqrt(paths)
    mean = drawn @ weights / weights.sum()
    scatter = ((drawn - mean[:, None]) ** 2) @ weights
    result = variance(scatter, weights.sum(), 4, (weights / paths).sum(), (weights**2 / paths).sum())
    # Derived: sum of w² / n over (sum of w)², with unit spread. 200 000 draws give it to 0.5 %.
    expected = (weights**2 / paths).sum() / weights.sum() ** 2
    assert result.mean() == pytest.approx(expected, rel=0.01)
    assert mean.var() == pytest.approx(expected, rel=0.01)
    assert np.all(np.isinf(variance(np.ones(3), 4.0, 1, 1.0, 4.0)))


def test_more_paths_go_to_noise_and_faces():
    """The square mean about a pixel is that of the picture's part of it."""
    values = np.zeros((9, 12))
    values[4, 5] = 49.0
    smooth = refine._smooth(values)
    assert smooth[4, 5] == pytest.approx(1.0)
    assert smooth[1, 2] == pytest.approx(1.0 * 49 / (5 * 6))
    assert refine._smooth(np.ones((3, 4))) == pytest.approx(np.ones((3, 4)))
    assert luminance_weights(3).sum() == pytest.approx(1.0)


@pytest.mark.parametrize(("noise", "now", "seconds", "share"), [
    (0.04, 0.08, None, 0.25), (0.04, 0.02, None, 1.0), (None, 0.08, 10.0, 0.0), (0.04, 0.08, 1e9, 0.25),
    (0.04, None, None, 0.0)])
def test_how_much_is_done_goes_by_the_paths_that_are_needed(noise, now, seconds, share):
    """Half the noise takes four times the paths; of time and noise, what is nearer its goal counts."""
    told = []
    run = Refiner.__new__(Refiner)
    run.goal, run.noise, run.began = Goal(noise, seconds), now, time.monotonic()
    run.on_pass = lambda *done: told.append(done)
    run._report()
    assert told == [(pytest.approx(share, abs=1e-3), now)]


def test_rows_are_refined_as_the_whole_is(stage, tmp_path, monkeypatch):
    """A picture in parts of seven rows is put together after each round, with nothing left of its parts."""
    rounds, put = [], LampCache.put_together
    monkeypatch.setattr(LampCache, "put_together", lambda cache, *a: (
        rounds.append(a[4] if len(a) > 4 else None), put(cache, *a))[1])
    whole = refiner(stage, tmp_path / "whole", noise=0.12).run()
    assert set(rounds) == {None}
    rounds.clear()
    monkeypatch.setattr("previz.engine.render.BAND_FLOATS", 7 * 32 * 4 * BANDS)
    parts = refiner(stage, tmp_path / "parts", noise=0.12).run()
    assert {(0, 7), (7, 7), (14, 4), None} <= set(rounds)
    assert parts.samples == whole.samples
    # Rows have the paths that they have in the whole picture, and the same random numbers.
    for one, two in zip(parts.frames.slices, whole.frames.slices, strict=True):
        assert np.allclose(one, two, rtol=1e-4, atol=1e-7)
    assert not list(tmp_path.glob("parts/lamps/*/*/rows-*"))


def test_paths_go_where_the_noise_is(stage, tmp_path):
    """A patch of ten times the noise, by error over light, gets more of the paths; one in all, on average."""
    run = refiner(stage, tmp_path)
    run.mask, light, variance = np.ones((18, 32), bool), np.ones((18, 32)), np.full((1, 18, 32), 1e-4)
    variance[0, :, 20:] = 1e-2
    run._light = lambda frames: (light, variance)
    frames = SimpleNamespace(lights=("key",))
    share, needed = run._paths(refine.Round(frames, 0.1, False, 4.0))
    assert share.mean() == pytest.approx(1.0, abs=0.02) and needed == {"key"}
    # Past the square over which noise is averaged: ten times the noise, ten times the paths.
    assert share[9, 2] == pytest.approx(refine.FEWEST, rel=0.2)
    assert share[9, 28] / share[9, 2] == pytest.approx(10, rel=0.2)


def test_noise_is_judged_on_faces():
    """The pixels of a figure near the middle of its face, and of nothing else; all where no face is seen."""
    rows, columns = 40, 40
    camera = SimpleNamespace(world_from_camera=np.eye(3)[:, [0, 2, 1]], position=np.zeros(3),
                             tan_half=(0.1, 0.1))
    index = np.full((rows, columns), 1)
    index[:, :20] = 0
    frames = SimpleNamespace(shape=(rows, columns), depth=np.full((rows, columns), 4.0),
                             names=("clerk", "post"), names_index=index)
    places = {"clerk.face": np.array([-0.2, 4.0, 0.1]), "post.face": np.array([0.2, 4.0, 0])}
    stage = SimpleNamespace(places=places,
                            meshes=(SimpleNamespace(name="clerk", role="figure"),
                                    SimpleNamespace(name="post", role="set")))
    mask, found = refine._faces(frames, stage, camera)
    # Pixels of 2 cm at 4 m; columns grow to the right, rows down.
    middles = (np.arange(columns) + 0.5) * 0.02 - 0.4
    column, row = np.meshgrid(middles, -middles)
    assert found
    assert np.array_equal(mask, (np.hypot(column + 0.2, row - 0.1) < refine.FACE_RADIUS) & (index == 0))
    mask, found = refine._faces(frames, SimpleNamespace(places={}, meshes=()), camera)
    assert mask.all() and not found


def test_a_time_budget_is_shared_by_pictures_and_meters():
    """Two pictures with one set of meters: each takes its part of what is left, none goes over."""
    from previz.studies.refining import METERS, Refinement

    run = Refinement(None, 23.0, [2])
    assert run.left == 2 + METERS
    # 23 s over 2.3 parts.
    assert run._goal().seconds == pytest.approx(10.0, abs=0.1)
    run.left -= 2
    assert run.meter_seconds() == pytest.approx(23.0, abs=0.1)
    late = Refinement(None, -1.0, [1])
    assert late.meter_seconds() == 0.0
    # Stopped by hand, nothing more is waited for; without a time there is no end.
    late.stopped = True
    assert late.meter_seconds() == 0.0
    assert Refinement(0.02, None, [1]).meter_seconds() is None
