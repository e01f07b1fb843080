"""One render at other densities: every path weighed anew is as good as rendering it again."""

import dataclasses
import functools

import numpy as np
import pytest

from previz.stage.records import Haze, Pane

pytestmark = pytest.mark.engine

WIDTH, HEIGHT, PASSES = 24, 18, 8
FACTORS = (0.0, 0.5, 1.0, 2.0)


def room(tiny, density, *, thinning=0.0):
    """A room with two large lamps, one of them behind a pane, and haze."""
    haze = Haze(density, np.full(81, 0.9), 0.6, thinning, 0.0, np.full(3, -1e5), np.full(3, 1e5))
    pane = Pane("glass", np.array([1.2, 1.2, 1.0]), np.array([0, 0.6, 0]), np.array([0, 0, 0.5]),
                1.52, 1, np.ones(81))
    return tiny.stage(
        tiny.closed_box((0, 0, 0), (3, 2.4, 2)), haze=haze, panes=(pane,),
        emitters=[tiny.rectangle_lamp(0.9, 0.7, (2.2, 1.2, 1.95), (-0.3, 0.2, -1), index=0),
                  tiny.rectangle_lamp(0.6, 0.6, (0.05, 1.2, 1.0), (1, 0, 0), index=1)],
        lamps=[tiny.lamp("front", output=300), tiny.lamp("side", output=100)])


def pictures(tiny, stage, factors, *, samples=96, seed=1):
    """Pictures at factors times the stage's density."""
    from previz.engine.densities import DensityJob
    from previz.engine.render import Sampling

    camera = tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.45))
    job = DensityJob(tiny.open_stage(stage, 1), stage, camera, WIDTH, HEIGHT,
                     Sampling(PASSES * samples, PASSES, seed), factors)
    while not job.finished:
        job.step()
    return job.pictures()


def hold(tiny, folder, mine, theirs):
    """Hold two pictures and their parts from the air against each other."""
    tiny.z_test(folder, mine.xyz[1], mine.error**2, theirs.xyz[1], theirs.error**2)
    error = np.sqrt(np.sum(mine.error**2 + theirs.error**2)) / mine.error.size
    tiny.agree(mine.xyz[1].mean(), error, theirs.xyz[1].mean(), 0.02)
    # The error is that of the whole, so more than the air's own part of it.
    tiny.agree(mine.air[1].mean(), error, theirs.air[1].mean(), 0.08)


@pytest.fixture(scope="module")
def from_one_render_of(tiny):
    """The pictures at all factors from one render of a room whose haze thins so much; each once."""
    return functools.cache(lambda thinning: pictures(tiny, room(tiny, 0.2, thinning=thinning), FACTORS))


@pytest.mark.parametrize("thinning", [0.0, 0.8])
def test_weighed_anew_equals_rendered_anew(tiny, tmp_path, from_one_render_of, thinning):
    """Half and twice the density from one render are those rendered anew, panes and all."""
    base = room(tiny, 0.2, thinning=thinning)
    _, half, _, double = from_one_render_of(thinning)
    for mine in (half, double):
        anew = dataclasses.replace(base, haze=dataclasses.replace(
            base.haze, density=0.2 * mine.factor))
        # At all factors again, of which one counts, so that the kernel is the same.
        _, _, theirs, _ = pictures(tiny, anew, FACTORS, seed=50)
        hold(tiny, tmp_path, mine, theirs)


def test_no_haze_from_a_render_with_haze(tiny, tmp_path, from_one_render_of):
    """Zero times the density is the picture without haze, and nothing of it comes from the air."""
    base = room(tiny, 0.2)
    nothing, *_ = from_one_render_of(0.0)
    assert not np.any(nothing.air)
    camera = tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.45))
    clear = dataclasses.replace(base, haze=None)
    frames = tiny.picture(clear, camera, WIDTH, HEIGHT, 512, passes=PASSES, seed=9)
    lamps = np.array([300, 100])
    luminance = np.einsum("lbrc,l->rc", np.asarray(frames.slices, float), lamps)
    variance = np.einsum("lrc,l->rc", np.asarray(frames.variance, float), lamps**2)
    tiny.z_test(tmp_path, nothing.xyz[1], nothing.error**2, luminance, variance)


def test_which_densities_one_render_serves():
    """Up to twice the density and down to none serve; four times does not, nor what is noisy."""
    from previz.engine.densities import HazePicture, from_one_render

    def taken(**noise):
        return from_one_render([
            HazePicture(k, np.ones((3, 2, 2)), np.zeros((3, 2, 2)),
                        np.full((2, 2), noise.get(name, 0.01)))
            for k, name in ((0.0, "none"), (0.5, "half"), (1.0, "same"), (2.0, "twice"),
                            (4.0, "four"))])

    assert taken() == [True, True, True, True, False]
    assert taken(none=0.021, twice=0.019) == [False, True, True, True, False]
    assert taken(same=0.1, half=0.15) == [True, True, True, True, False]


def test_state(tiny):
    """A job that goes on from a saved state ends with the very same pictures."""
    from previz.engine.densities import DensityJob
    from previz.engine.render import Sampling

    stage = room(tiny, 0.2)
    camera = tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.45))
    buffers = tiny.open_stage(stage, 1)

    def job(width=8):
        return DensityJob(buffers, stage, camera, width, 6, Sampling(4, 2, 3), FACTORS)

    through, first, second = job(), job(), job()
    through.step()
    through.step()
    first.step()
    second.restore(first.state())
    second.step()
    assert second.finished
    assert np.array_equal(through.total, second.total)
    with pytest.raises(ValueError, match="another picture"):
        job(10).restore(first.state())
    with pytest.raises(ValueError, match="no pass"):
        job().pictures()
