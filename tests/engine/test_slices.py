"""Slices of lamps add up; the error that is stated is the error there is; aiming is unbiased."""

import dataclasses

import numpy as np
import pytest
from scipy import stats

from previz.physics.bands import band_means
from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage.records import Guide

pytestmark = pytest.mark.engine

WIDTH, HEIGHT = 24, 16


def room(tiny, *, joined=False, guides=()):
    """A room with a white board, lit by a bulb, a soft front and a tube, as three lamps or as one."""
    emitters = [
        tiny.ball_lamp(0.05, (0.8, 0.7, 1.0), index=0, subdivisions=1),
        tiny.rectangle_lamp(0.6, 0.4, (2.4, 1.0, 1.9), (-0.3, 0.2, -1), index=1),
        tiny.tube_lamp(0.02, 0.8, (1.5, 1.6, 1.7), (0.2, 1, 0), index=2, sides=12),
    ]
    lamps = None
    if joined:
        emitters = [dataclasses.replace(e, lamp=0, share=1 / 3) for e in emitters]
        lamps = [tiny.lamp("all", output=3.0)]
    board = tiny.patch(0.8, 0.8, (0.25, 1.6, 0.9), (1, -0.4, 0.1), "board", "board")
    return tiny.stage(
        tiny.closed_box((0, 0, 0), (3, 2.4, 2)), board, emitters=emitters, lamps=lamps,
        surfaces=[tiny.surface(reflectance=0.5), tiny.surface("board", 0.9)], guides=guides)


def view(tiny):
    return tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.4))


@pytest.fixture(scope="module")
def buffers(tiny):
    """The room on the device."""
    return tiny.open_stage(room(tiny), 1)


@pytest.fixture(scope="module")
def slices(tiny, buffers):
    """A picture of the room."""
    return tiny.picture(room(tiny), view(tiny), WIDTH, HEIGHT, 128, seed=3, buffers=buffers)


def test_slices_of_lamps_add_up(tiny, tmp_path, buffers, slices):
    """The slices of three lamps, summed, are the picture of one lamp that has all three's faces."""
    stage = room(tiny)
    one = tiny.picture(room(tiny, joined=True), view(tiny), WIDTH, HEIGHT, 128, seed=4)
    # Lamps share paths, but which lamp is sampled is drawn by itself: their slices covary little.
    # The variance of their sum is taken from independent renders below, not from this sum.
    runs = [tiny.luminance(tiny.picture(stage, view(tiny), WIDTH, HEIGHT, 16, passes=1, seed=20 + k,
                                        buffers=buffers)).sum(axis=0) for k in range(16)]
    variance = np.var(runs, axis=0, ddof=1) * 16 / 128
    z = tiny.z_test(tmp_path, tiny.luminance(slices).sum(axis=0), variance,
                    3 * tiny.luminance(one)[0], 9 * one.variance[0])
    assert np.abs(z).max() > 0.5  # noise was there to be judged


def test_a_wrong_lamp_is_found(tiny, tmp_path, buffers, slices):
    """The z-test that the others rely on shows 5 % of one lamp, and keeps the pictures."""
    light, spread = tiny.luminance(slices)[1], slices.variance[1]
    other = tiny.picture(room(tiny), view(tiny), WIDTH, HEIGHT, 128, seed=5, buffers=buffers)
    tiny.z_test(tmp_path, light, spread, tiny.luminance(other)[1], other.variance[1])
    with pytest.raises(AssertionError, match="z_test.png"):
        tiny.z_test(tmp_path, 1.05 * light, spread, tiny.luminance(other)[1], other.variance[1])
    assert (tmp_path / "z_test.png").stat().st_size > 0


def test_bands_are_kept_separate(tiny):
    """A wall that reflects only the long bands leaves nothing bounced in the short ones."""
    red = tiny.surface("red", 0.8)
    red = dataclasses.replace(red, reflectance=0.8 * (WAVELENGTHS_NM > 600))
    stage = tiny.stage(
        tiny.closed_box((0, 0, 0), (2, 2, 2), "red"), surfaces=[red],
        emitters=[tiny.ball_lamp(0.02, (1, 1, 1), subdivisions=1)],
        probes=[tiny.probe((1, 1, 0.001))])
    bands = 6
    got = tiny.measure(stage, 0.003, bands=bands).illuminance[0, 0]
    direct, bounced = got
    np.testing.assert_allclose(direct, direct[0], rtol=1e-4)
    albedo = band_means(red.reflectance, bands)
    assert np.all(bounced[albedo == 0] == 0)
    # In a closed box the bounced light is very nearly E rho / (1 - rho) of its mean (Sumpner), so
    # bands of different albedo stand in about that ratio. It is exact in a sphere only: in the
    # middle of a wall the first bounces count for less than their mean, some 6 % here.
    some = albedo > 0.02
    ratio = bounced[some] / bounced[-1]
    expected = (albedo / (1 - albedo))[some] / (albedo[-1] / (1 - albedo[-1]))
    np.testing.assert_allclose(ratio, expected, rtol=0.1)


def test_stated_variance_is_the_spread_over_seeds(tiny, buffers):
    """The variance in the frames is that of independent renders: chi-square of their spread."""
    seeds, passes = 40, 4
    stage, camera = room(tiny), view(tiny)
    frames = [tiny.picture(stage, camera, 12, 8, 16, passes=passes, seed=100 + k, buffers=buffers)
              for k in range(seeds)]
    light = np.stack([tiny.luminance(f)[1] for f in frames])
    stated = np.stack([f.variance[1] for f in frames]).mean(axis=0)
    spread = light.var(axis=0, ddof=1)
    lit = stated > 0
    # For each pixel (seeds - 1) · spread / variance is a chi-square variate if paths are normal
    # and independent. Bounced light has long tails, which widen it: the mean over the picture is
    # held to 10 % instead (4 standard errors for 96 pixels of 39 degrees of freedom are 9.2 %).
    assert np.mean(spread[lit] / stated[lit]) == pytest.approx(1, abs=0.1)
    # And the two agree pixel by pixel, not only on average.
    assert stats.spearmanr(spread[lit], stated[lit]).statistic > 0.7


def test_error_of_the_meters_is_the_spread_over_seeds(tiny, buffers):
    """A meter's standard error, lamp by lamp and part by part, is that of independent runs."""
    stage = dataclasses.replace(room(tiny), probes=(tiny.probe((1.5, 1.2, 0.8)),))
    runs = [tiny.measure(stage, 0, most_rounds=1, seed=k, buffers=buffers) for k in range(40)]
    values = np.stack([r.each[0] for r in runs])
    stated = np.sqrt(np.mean([r.each_error[0] ** 2 for r in runs], axis=0))
    # 39 degrees of freedom: a standard deviation is known to 11.3 %; 3 of that for six numbers.
    np.testing.assert_allclose(values.std(axis=0, ddof=1) / stated, 1, atol=0.34)


@pytest.fixture(scope="module")
def plain(tiny, buffers):
    """A picture of the room without guides."""
    return tiny.picture(room(tiny), view(tiny), WIDTH, HEIGHT, 96, seed=7, buffers=buffers)


@pytest.mark.parametrize("kind", ["board", "ball", "far away"])
def test_guides_do_not_change_the_mean(tiny, tmp_path, plain, kind):
    """Aiming rays at something, useful or not, moves noise about and nothing else."""
    u, v = np.array([0.15, 0.37, 0.0]), np.array([0.0, 0, 0.4])
    guides = {
        "board": (Guide("board", np.array([0.25, 1.6, 0.9]), u, v),),
        "ball": (Guide("ball", np.array([1.5, 1.2, 0.7]), u, v, radius=0.5),),
        "far away": (Guide("a", np.array([9.0, 9, 9]), u, v),
                     Guide("b", np.array([1, 1, 1.9]), u, np.array([-0.37, 0.15, 0]))),
    }[kind]
    aimed = tiny.picture(room(tiny, guides=guides), view(tiny), WIDTH, HEIGHT, 96, seed=8)
    for lamp in range(3):
        tiny.z_test(tmp_path, tiny.luminance(plain)[lamp], plain.variance[lamp],
                    tiny.luminance(aimed)[lamp], aimed.variance[lamp])
