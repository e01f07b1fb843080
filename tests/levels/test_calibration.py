"""Outputs of lamps from readings: on lamps, plans and readings that are made up, so that the truth is known.

Bars: 8 readings of 5 % bring outputs that are wrong by up to a stop within 0.15 stop, and find the dead lamp.
Cases are drawn at random; what they hold is how often, and how far.
"""

import numpy as np
import pytest
from scipy.optimize import least_squares

from previz.levels.calibration import after, calibrate, gains, most_telling
from previz.levels.output_fit import Problem
from previz.levels.outputs import COUNTS, DEAD, WRONG, Plan

NOISE = 0.05
"""Relative error of a reading."""


def plan_of(light):
    return Plan(tuple(f"lamp {j}" for j in range(light.shape[1])), light[None])


def found_of(light, read, noise=NOISE, **words):
    size = np.full(len(read), noise)
    return calibrate(plan_of(light), read, size, np.full(len(read), 0.1), **words)


def drawn(rng, lamps, readings=8, places=5):
    """Return (light by the plan, shape (reading, lamp)): each lamp once alone, the rest with all on."""
    at = np.exp(rng.normal(np.log(300.0), 1.0, (places, lamps)))[rng.integers(0, places, readings)]
    on = np.ones((readings, lamps), bool)
    on[:lamps] = np.eye(lamps, dtype=bool)
    return at * on


def trials(lamps, count, *, dead=False, swapped=False, readings=8, seed=0):
    """Return misses [stops] and misses over stated errors of lamps that are told and count, and the faults.

    Outputs lie evenly within a stop of the plan. The faults are (dead lamp found, dead lamps that are not,
    reading questioned, readings questioned that are right), each counted over all cases.
    """
    rng, misses, over, faults = np.random.default_rng(seed), [], [], np.zeros(4, int)
    for _ in range(count):
        light = drawn(rng, lamps, readings)
        factors = 2.0 ** rng.uniform(-1, 1, lamps)
        gone = int(rng.integers(lamps)) if dead else -1
        if dead:
            factors[gone] = 0.0
        read = (light @ factors) * np.exp(rng.normal(0, NOISE, readings))
        # A dead lamp read alone is 0 in any unit.
        wrong = int(rng.choice(np.flatnonzero(read > 0))) if swapped else -1
        if swapped:
            read[wrong] *= 0.3048**2
        found = found_of(light, read)
        asked = {doubt.reading for doubt in found.doubts}
        faults += [dead and found.dead[gone], sum(found.dead) - (dead and found.dead[gone]),
                   wrong in asked, len(asked - {wrong})]
        share = np.max(light / light.sum(axis=1, keepdims=True), axis=0)
        held = found.told & ~found.dead & (share > COUNTS) & (np.arange(lamps) != gone)
        miss = found.stops[held] - np.log2(factors[held])
        misses += list(miss)
        over += list(np.abs(miss) / found.errors[held])
    return np.array(misses), np.array(over), faults


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


@pytest.mark.parametrize("lamps", [4, 6])
def test_outputs_within_the_bar_and_errors_as_stated(lamps):
    """0.15 stop is the bar; the median case is at a third of it. 68 and 95 % lie within 1 and 2 errors."""
    misses, over, faults = trials(lamps, 60)
    assert rms(misses) < 0.1 and np.percentile(np.abs(misses), 95) < 0.15
    # Of 240 and 360 shares, three standard deviations: 0.09 and 0.05.
    assert np.mean(over < 1) == pytest.approx(0.683, abs=0.1)
    assert np.mean(over < 1.96) == pytest.approx(0.95, abs=0.06)
    assert tuple(faults) == (0, 0, 0, 0)


def test_the_dead_one_is_found():
    """Always, as each lamp is once read alone; and no other is taken for dead."""
    misses, _, faults = trials(5, 15, dead=True)
    assert rms(misses) < 0.1 and tuple(faults) == (15, 0, 0, 0)


def test_footcandles_written_as_lux_are_questioned_and_drag_nothing():
    """A tenth of the light: left out and named; what only that reading could tell has a wider error."""
    misses, over, faults = trials(5, 15, swapped=True)
    assert faults[2] >= 14 and tuple(faults[[0, 1, 3]]) == (0, 0, 0)
    assert np.median(np.abs(misses)) < 0.08 and np.mean(over < 1.96) > 0.9


def test_both_at_once():
    """A dead lamp and a swapped unit in the same eight readings."""
    _, over, faults = trials(5, 12, dead=True, swapped=True)
    assert faults[0] == 12 and faults[2] >= 11 and faults[1] == faults[3] == 0
    assert np.mean(over < 1.96) > 0.9


@pytest.mark.long
@pytest.mark.parametrize(("lamps", "readings"), [(4, 8), (6, 8), (12, 20)])
def test_coverage_of_many(lamps, readings):
    """Stated errors of many cases, with dead lamps and swapped units among them."""
    misses, over, faults = trials(lamps, 150, dead=True, swapped=True, readings=readings, seed=3)
    assert np.mean(over < 1) == pytest.approx(0.683, abs=0.06)
    assert np.mean(over < 1.96) == pytest.approx(0.95, abs=0.03)
    assert faults[0] >= 147 and faults[2] >= 145 and np.percentile(np.abs(misses), 90) < 0.2


def test_one_reading_by_hand():
    """One lamp, one reading of half: (ln 1/2) / 0.05² over 1/0.05² + 1/ln²2, weighed against the plan."""
    found = found_of(np.array([[400.0]]), np.array([200.0]))
    weight = (1 / NOISE**2) / (1 / NOISE**2 + 1 / np.log(2) ** 2)
    assert found.stops[0] == pytest.approx(-weight, abs=1e-4)
    assert found.errors[0] == pytest.approx(np.sqrt(weight) * NOISE / np.log(2), rel=1e-3)
    assert found.value[0] == pytest.approx(400 * 2**-weight, rel=1e-4)


def test_the_nearest_factors_are_those_of_a_general_library():
    """Least squares of the same residuals by SciPy's trust region, its Jacobian by differences."""
    rng = np.random.default_rng(5)
    light, floor = drawn(rng, 4), 0.1
    read = (light @ [0.7, 1.3, 1.0, 0.9]) * np.exp(rng.normal(0, NOISE, 8))
    scale = floor / NOISE

    def residuals(x):
        miss = np.arcsinh(read / scale) - np.arcsinh(light @ np.exp(x) / scale)
        return np.append(miss / NOISE, x / np.log(2))

    best = least_squares(residuals, np.zeros(4), method="trf", x_scale=0.1, xtol=1e-12, ftol=1e-12)
    found, spread = found_of(light, read), np.linalg.inv(best.jac.T @ best.jac) / np.log(2) ** 2
    np.testing.assert_allclose(found.stops, best.x / np.log(2), atol=1e-5)
    np.testing.assert_allclose(found.covariance, spread, rtol=1e-3, atol=1e-6)


def test_answers_are_weighed_by_what_the_integral_says():
    """Laplace's integral over two factors against a sum over a grid of them, within 2 %."""
    light = np.array([[100.0, 0], [60, 80], [0, 90]])
    read, size = np.array([80.0, 150, 100]), np.full(3, NOISE)
    problem = Problem(plan_of(light), read, size, np.full(3, 0.1), np.full(2, np.log(2)))
    none = frozenset()
    fit, = problem.fits([(none, none, np.zeros(2))])
    grid = np.linspace(-0.8, 0.8, 241)
    x = np.stack(np.meshgrid(grid, grid, indexing="ij"), -1).reshape(-1, 2)
    lit, _ = problem.light(x, np.ones((len(x), 2)))
    miss = (problem.shown - np.arcsinh(lit / problem.scale)) / size
    inside = np.exp(-0.5 * np.sum(miss**2, axis=1) - 0.5 * np.sum((x / np.log(2)) ** 2, axis=1))
    whole = np.log(inside.sum() * (grid[1] - grid[0]) ** 2) - 3 * np.log(NOISE * np.sqrt(2 * np.pi))
    whole -= 2 * np.log(np.log(2) * np.sqrt(2 * np.pi))
    whole += 2 * np.log(1 - DEAD) + 3 * np.log(1 - WRONG)
    assert fit.evidence == pytest.approx(whole, abs=0.02)


def test_a_slip_is_named():
    """Each says what it makes of the reading; 10.76 is the size of a foot-candle in lux."""
    light = np.array([[100.0, 0], [0, 100.0], [100, 100], [60, 140], [200, 20]])
    for factor, words in ((0.3048**2, "footcandles written down as lux"), (0.5, "a stop read wrong"),
                          (10.0, "a figure too many")):
        read = light.sum(axis=1)
        read[3] *= factor
        doubt, = found_of(light, read).doubts
        assert doubt.reading == 3 and words in doubt.cause
        assert doubt.value == pytest.approx(200.0, rel=0.02) and doubt.error < 12
        # With both lamps told, half of what they give there is less than they give.
        assert doubt.below == (factor < 1)


def test_what_cannot_be_told_apart_is_said():
    """Two lamps that are always on together; their sum is known, and one alone would tell."""
    light = np.array([[100.0, 110, 0], [50, 48, 0], [200, 205, 0], [0, 0, 300]])
    found = found_of(light, light @ [0.8, 0.8, 1.0])
    (first, second, _), = found.alike
    assert (first, second) == (0, 1) and not any(found.told[:2]) and found.told[2]
    assert found.value[0] == pytest.approx(168, rel=0.03)
    best, gain = most_telling(found, np.array([[100.0, 100, 100], [0, 0, 300], [90, 0, 0]]), NOISE)
    assert best == 2 and gain > 0.5
    again = np.vstack([light, [90, 0, 0]])
    told = found_of(again, again @ [0.8, 0.8, 1.0])
    assert all(told.told) and not told.alike
    np.testing.assert_allclose(told.factors, [0.8, 0.8, 1.0], rtol=0.05)
    # What was promised is what came of it.
    assert np.sum(found.errors**2) - np.sum(told.errors**2) == pytest.approx(gain, rel=0.2)


def test_untold_lamps_stay_at_the_plan():
    """A lamp in no reading is not told, at its plan with the error that it had; nothing is taken for dead."""
    found = found_of(np.array([[100.0, 0], [120.0, 0]]), np.array([50.0, 60.0]))
    assert list(found.told) == [True, False] and found.stops[1] == 0 and found.errors[1] == pytest.approx(1)
    assert not any(found.dead)


def test_daylight_is_never_dead():
    """Where the sky reads nothing it is far under, or the reading is questioned; but there is a sky."""
    light = np.array([[200.0, 0], [0, 100.0]])
    assert found_of(light, np.array([0.0, 100])).dead[0]
    assert not found_of(light, np.array([0.0, 100]), may_be_dead=[False, True]).dead[0]


def test_either_of_two_answers_is_told():
    """One lamp and two readings that contradict each other: neither is better, and both are said."""
    found = found_of(np.array([[100.0], [100.0]]), np.array([100.0, 30.0]))
    assert len(found.doubts) == 1 and found.guesses
    assert {found.doubts[0].reading, *found.guesses[0].wrong} == {0, 1}
    # Which of the two is a matter of the plan alone: neither is sure.
    assert np.max(found.chance_wrong) < 0.95 and np.sum(found.chance_wrong) == pytest.approx(1, abs=0.1)


def test_a_lone_reading_in_another_unit_is_questioned_or_told():
    """With one reading a lamp only the plan contradicts it; the slip is told at least."""
    rng, asked, told = np.random.default_rng(8), 0, 0
    for _ in range(20):
        light = np.diag(rng.uniform(50, 500, 4))
        read = light.sum(axis=1) * 2.0 ** rng.uniform(-1, 1, 4) * np.exp(rng.normal(0, NOISE, 4))
        read[2] *= 0.3048**2
        found = found_of(light, read)
        asked += 2 in {doubt.reading for doubt in found.doubts}
        told += any(2 in guess.wrong and "footcandles" in guess.cause for guess in found.guesses)
    assert asked >= 5 and asked + told >= 20


def room(reflectance, readings=5, seed=1):
    """Return light that falls straight and by way of walls, 1 / (1 - r) as in a closed room. [lx]"""
    rng = np.random.default_rng(seed)
    straight, walls = rng.uniform(20, 400, readings), rng.uniform(20, 100, readings)
    straight[0] = 0.0
    return (straight + walls * reflectance / (1 - 0.7 * reflectance))[:, None]


@pytest.mark.parametrize(("true", "sky"), [(0.35, 1.4), (0.6, 0.7), (0.5, 1.0)])
def test_sky_and_walls(true, sky):
    """Both from one set of readings: those by the window tell the sky, those off it the walls."""
    factors = np.array([0.6, 1.0, 1.5])
    plan = Plan(("sky",), np.stack([room(0.5 * each) for each in factors]), factors)
    misses = []
    for seed in range(40):
        noise = np.exp(np.random.default_rng(seed).normal(0, NOISE, 5))
        read = sky * room(true)[:, 0] * noise
        found = calibrate(plan, read, np.full(5, NOISE), np.full(5, 0.1), spread=2.0, may_be_dead=[False])
        factor, size = found.walls
        misses.append([(found.stops[0] - np.log2(sky)) / found.errors[0], (factor - true / 0.5) / size])
    # Of 40, three standard deviations: 0.1 of those within two errors, 0.22 of those within one.
    assert np.mean(np.abs(misses) < 2, axis=0) == pytest.approx([0.95, 0.95], abs=0.1)
    assert np.mean(np.abs(misses) < 1, axis=0) == pytest.approx([0.68, 0.68], abs=0.22)


def test_bad_numbers_are_refused():
    """Shapes, errors of nothing, readings below nothing."""
    light = np.ones((2, 1))
    for read, error in (([1.0], [0.1, 0.1]), ([1.0, 1.0], [0.1, 0.0]), ([1.0, -1.0], [0.1, 0.1])):
        with pytest.raises(ValueError):
            calibrate(plan_of(light), np.array(read), np.array(error), np.full(2, 0.1))
    with pytest.raises(ValueError, match="hold 1"):
        Plan(("a",), np.ones((2, 1, 1)), np.array([0.5, 2.0]))
    assert most_telling(found_of(light, np.ones(2)), np.zeros((0, 1)), 0.05) == (-1, 0.0)


def test_what_a_reading_tells_by_hand():
    """One lamp known to a stop, read to a tenth of one: 1 - 1 / (1 + 100); of two alike half goes to each."""
    tenth = 0.1 * np.log(2)
    one, = gains(np.eye(1), np.array([[400.0]]), tenth)
    assert one == pytest.approx(1 / 1.01)
    assert after(np.eye(1), np.array([400.0]), tenth)[0, 0] == pytest.approx(1 - 1 / 1.01)
    # s = (1/2, 1/2): C s = s, |s|² = 1/2; darkness tells nothing.
    both, dark = gains(np.eye(2), np.array([[30.0, 30.0], [0.0, 0.0]]), np.array([tenth, tenth]))
    assert both == pytest.approx(0.5 / 0.51) and dark == 0.0
    left = after(np.eye(2), np.array([30.0, 30.0]), tenth)
    assert np.trace(np.eye(2) - left) == pytest.approx(both) and left[0, 1] < -0.45
