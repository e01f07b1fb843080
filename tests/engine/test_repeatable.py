"""The same seed gives the same numbers, bit for bit, however the work is cut up."""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from previz.engine import backend, render

pytestmark = pytest.mark.engine

SCRIPT = """
import hashlib, importlib.util, sys
from previz.engine import backend
backend.start("processor")
spec = importlib.util.spec_from_file_location("tiny", sys.argv[1])
tiny = importlib.util.module_from_spec(spec)
spec.loader.exec_module(tiny)
stage = {stage}
frames = tiny.picture(stage, {camera}, 40, 30, 8, passes=2, bands=3)
got = tiny.measure(stage, 0, most_rounds=1, bands=3)
print(hashlib.sha256(frames.slices.tobytes()).hexdigest())
print(hashlib.sha256(got.illuminance.tobytes()).hexdigest())
"""
STAGE = """tiny.stage(
    tiny.closed_box((0, 0, 0), (3, 2.4, 2)), surfaces=[tiny.surface(gloss=0.5)],
    emitters=[tiny.ball_lamp(0.05, (0.8, 0.7, 1.0), index=0, subdivisions=1),
              tiny.rectangle_lamp(0.6, 0.4, (2.4, 1, 1.9), index=1)],
    probes=[tiny.probe((1, 1, 0.5))])"""
CAMERA = "tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.45), lens_radius=0.01)"


def hashes(threads):
    """Render in a fresh process on so many threads."""
    tiny = Path(__file__).with_name("tiny.py")
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT.format(stage=STAGE, camera=CAMERA), str(tiny)],
        env={**os.environ, "PREVIZ_THREADS": str(threads)}, capture_output=True, text=True,
        check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_number_of_threads_does_not_matter():
    """Two threads and three give the same picture and the same meters; one is two, see below."""
    assert hashes(1) == hashes(3)


@pytest.mark.parametrize("threads", ["1", "2"])
def test_tiny_numbers_are_nothing_on_any_number_of_threads(threads, monkeypatch):
    """A number under the smallest normal one, 1.2e-38, is 0: kept, it would end in other last bits."""
    from previz.engine.jit import dr, mi

    before = dr.thread_count()
    monkeypatch.setenv("PREVIZ_THREADS", threads)
    try:
        backend.set_threads(dr)
        small = mi.Float(np.full(64, 1e-20, np.float32))
        assert not np.array(small * small).any() and np.array(small).all()
    finally:
        dr.set_thread_count(before)


def scene(tiny):
    return (eval(STAGE, {"tiny": tiny}), eval(CAMERA, {"tiny": tiny}))


def test_same_seed_same_picture(tiny):
    """Two renders with one seed are equal, two seeds are not."""
    stage, camera = scene(tiny)
    first, again, other = (tiny.picture(stage, camera, 20, 15, 8, passes=2, bands=3, seed=seed)
                           for seed in (5, 5, 6))
    np.testing.assert_array_equal(first.slices, again.slices)
    np.testing.assert_array_equal(first.variance, again.variance)
    assert not np.array_equal(first.slices, other.slices)


def test_strips_do_not_matter(tiny, monkeypatch):
    """A picture done in strips of rows, as one too large for the device is, is the same picture."""
    stage, camera = scene(tiny)
    whole = tiny.picture(stage, camera, 20, 15, 8, passes=2, bands=3)
    monkeypatch.setattr(render, "TILE_FLOATS", 4 * 20 * 2 * 3)  # four rows at a time
    strips = tiny.picture(stage, camera, 20, 15, 8, passes=2, bands=3)
    np.testing.assert_array_equal(whole.slices, strips.slices)


def test_a_resumed_render_is_the_same(tiny):
    """Passes that are put away and taken up again by another job give the same picture."""
    stage, camera = scene(tiny)
    sampling = render.Sampling(8, 4, 5)
    first = render.CameraJob(render.open_stage(stage, 3), stage, camera, 20, 15, sampling)
    first.step()
    first.step()
    kept = [first.gathered(lamp) for lamp in range(2)]
    second = render.CameraJob(render.open_stage(stage, 3), stage, camera, 20, 15, sampling)
    second.take_up(kept)
    for job in (first, second):
        while not job.finished:
            job.step()
    np.testing.assert_array_equal(first.frames().slices, second.frames().slices)
    np.testing.assert_array_equal(first.frames().variance, second.frames().variance)
    third = render.CameraJob(render.open_stage(stage, 3), stage, camera, 10, 15, sampling)
    with pytest.raises(ValueError, match="another picture"):
        third.take_up(kept)
    with pytest.raises(ValueError, match="not gathered together"):
        third.take_up([kept[0], first.gathered(1)])


def test_parts_of_a_picture_are_those_of_the_whole(tiny):
    """Rows that are rendered alone, as those of a picture too large for the host are, are the same."""
    stage, camera = scene(tiny)
    whole = tiny.picture(stage, camera, 20, 15, 8, passes=2, bands=3)
    buffers = render.open_stage(stage, 3)
    for top, rows in ((0, 6), (6, 9)):
        job = render.CameraJob(buffers, stage, camera, 20, 15, render.Sampling(8, 2), (top, rows))
        while not job.finished:
            job.step()
        for lamp in range(2):
            part = job.gathered(lamp)
            np.testing.assert_array_equal(part.slices, whole.slices[lamp][:, top:top + rows])
            np.testing.assert_array_equal(part.variance, whole.variance[lamp][top:top + rows])


def test_pictures_of_all_sizes_share_their_kernel(tiny):
    """What is compiled to trace one picture serves pictures of any other size."""
    from previz.engine.jit import dr

    stage, camera = scene(tiny)
    buffers = render.open_stage(stage, 3)

    def kernels(width: int, height: int) -> set[str]:
        job = render.CameraJob(buffers, stage, camera, width, height, render.Sampling(2, 1))
        with dr.scoped_set_flag(dr.JitFlag.KernelHistory):
            dr.kernel_history_clear()
            job.step()
            return {each["hash"] for each in dr.kernel_history([dr.KernelType.JIT])}

    of_one = kernels(16, 12)
    assert of_one
    assert kernels(21, 17) == of_one


def test_row_bands_cover_the_picture_within_bounds():
    """UHD with 16 lamps and 12 bands is put together from parts of under 1 GB of sums."""
    parts = render.row_bands(3840, 2160, 16, 12)
    assert [top for top, _ in parts] == list(np.cumsum([0] + [rows for _, rows in parts])[:-1])
    assert sum(rows for _, rows in parts) == 2160
    assert max(rows for _, rows in parts) * 3840 * 16 * 12 * 4 < 1e9
    assert render.row_bands(960, 540, 12, 12) == [(0, 540)]


def test_passes_never_share_random_numbers():
    """The seeds of passes of renders with neighbouring seeds all differ."""
    seeds = {render.pass_seed(seed, index) for seed in range(50) for index in range(50)}
    assert len(seeds) == 2500


def test_a_hash_distinguishes_pictures():
    """What the thread test compares would change with a single bit."""
    picture = np.ones(4, np.float32)
    other = picture.copy()
    other[0] = np.nextafter(np.float32(1), np.float32(2))
    assert hashlib.sha256(picture).hexdigest() != hashlib.sha256(other).hexdigest()


@pytest.mark.parametrize(("samples", "passes"), [(0, 1), (8, 3), (8, 0)])
def test_samples_that_cannot_be_split(samples, passes):
    """Samples are split evenly into passes, or refused."""
    with pytest.raises(ValueError, match="cannot be split"):
        render.Sampling(samples, passes)
