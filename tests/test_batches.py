"""Batches of meters: what their spread stands on, and whether rare contributions are owned up to."""

import numpy as np
import pytest

from previz.exposure.trust import ON_FEW, doubts, not_reached
from previz.frames.batches import (
    BATCHES,
    LEAST_SUPPORT,
    NO_MATTER,
    Batches,
    read_meter,
    spread_of,
    write_meter,
)
from previz.frames.records import Short

THREADS = 4
CELLS = BATCHES * THREADS
EYE = np.ones(1)
WHOLE = np.ones((1, 1))


def runs(cells, paths=1000, base=0.0):
    """Batches of one lamp and band, a meter for each run of cells (run, round, CELLS)."""
    batches = Batches.empty([str(i) for i in range(len(cells))], ["lamp"], 1)
    for each in np.moveaxis(cells, 1, 0):
        light = np.zeros((*each.shape, 1, 2, 1))
        light[:, :, 0, 1, 0] = each + base * paths / BATCHES / THREADS
        batches.add(np.arange(len(cells)), light, THREADS, EYE)
        batches.paths += paths // BATCHES
    return batches


def stated(batches):
    """Reading and stated error of each meter."""
    value = batches.mixed(WHOLE).mean(axis=1)
    return value, value * batches.relative_error(WHOLE)


def test_support_counts_rare_contributions():
    """Sums of which few hold a find of one size stand on about as many as there are.

    Bernoulli's second and fourth moments, from its definition, p q and p q (1 - 3 p q).
    """
    cells = np.zeros((2, 1, CELLS))
    cells[0, 0, :3], cells[1, 0, ::8] = 1, 1
    part = np.array([3 / CELLS, 1 / 8])
    both = part * (1 - part)
    assert runs(cells).support[:, 0] == pytest.approx(CELLS * both / (1 - 3 * both), rel=1e-9)
    assert runs(cells).support[0, 0] == pytest.approx(3, rel=0.05)


def test_support_of_even_noise_is_a_third_of_the_threads():
    """A Gaussian's fourth moment is three times the square of its second, by its integral."""
    cells = np.random.default_rng(1).standard_normal((4, 50, CELLS)) + 20
    # 12 800 sums know their kurtosis to sqrt(24 / n) = 0.043 of 3: 1.5 %, four times that allowed.
    assert runs(cells).support[:, 0] == pytest.approx(50 * CELLS / 3, rel=0.06)


@pytest.mark.parametrize("mean_contributions", [8, 20, 60, 400])
def test_rare_contributions_are_owned_up_to(mean_contributions):
    """Light of which a known number of contributions is expected is stated as well as it is known."""
    rng = np.random.default_rng(mean_contributions)
    contributions = rng.poisson(mean_contributions / CELLS, (1500, 1, CELLS)).astype(float)
    batches = runs(contributions, base=100.0)
    value, error = stated(batches)
    truth = 100 + mean_contributions / (1000 // BATCHES * BATCHES)
    truth += 100 * (1000 / (1000 // BATCHES * BATCHES) - 1)
    gap = value - truth
    known = error > 0
    spread = np.sqrt(np.mean(gap[known] ** 2) / np.mean(error[known] ** 2))
    assert 0.8 <= spread <= 1.25
    trusted = ~batches.on_few(WHOLE, 1e-9) & known
    # Beyond five by chance alone: none of 1500 Gaussians, and the Poisson's low side is widened.
    assert np.all(np.abs(gap[trusted]) <= 5 * error[trusted])


def test_nothing_on_a_handful_is_taken_for_known():
    """Three contributions are few where their error counts, and none's business where it does not."""
    cells = np.zeros((1, 1, CELLS))
    cells[0, 0, [1, 70, 200]] = 10.0
    batches = runs(cells, base=1.0)
    error = batches.relative_error(WHOLE)[0]
    assert batches.stands_on(WHOLE)[0] < LEAST_SUPPORT
    assert batches.on_few(WHOLE, error)[0]
    assert not batches.on_few(WHOLE, 10 * error)[0]
    # The plain error, without what it grows by for three contributions: sqrt(1 + 1 / 3).
    plain = batches.sums[0].sum(axis=(1, 2, 3)) / batches.paths[0]
    assert error == pytest.approx(np.sqrt(4 / 3) * plain.std(ddof=1) / 8 / plain.mean(), rel=0.02)


def test_hidden_light_is_a_standard_error():
    """What may be missed adds its square to the error's, lamp by lamp, and leaves the reading."""
    batches = Batches.empty(["a"], ["one", "two", "three"], 2)
    batches.add(np.array([0]), np.ones((1, CELLS, 3, 2, 2)), THREADS, np.full(2, 0.5))
    batches.paths += 4
    weights = np.array([[1.0, 1.0], [2.0, 2.0], [0.0, 0.0]])
    before = batches.mixed(weights).mean()
    assert batches.relative_error(weights)[0] == 0
    batches.hidden[0] = 0.3, 0.2, 5.0
    assert batches.mixed(weights).mean() == pytest.approx(before)
    assert before * batches.relative_error(weights)[0] == pytest.approx(np.hypot(0.6, 0.8))
    assert batches.relative_error(weights, found=True)[0] == 0
    assert batches.missed(weights, 0.01)[0] and batches.on_few(weights, 0.01)[0]
    assert not batches.missed(weights, 1.0)[0]


def test_hidden_light_of_several_lamps_adds_as_errors_do():
    """3 and 4 are 5: more than what matters up to there, and less above."""
    batches = Batches.empty(["a"], ["one", "two"], 1)
    batches.add(np.array([0]), np.full((1, CELLS, 2, 2, 1), 25.0), THREADS, EYE)
    batches.paths += THREADS
    batches.hidden[0] = 3.0, 2.0
    weights = np.array([[1.0], [2.0]])
    whole = batches.mixed(weights, found=True).mean()
    assert batches.missed(weights, 4.9 / (NO_MATTER * whole))[0]
    assert not batches.missed(weights, 5.1 / (NO_MATTER * whole))[0]
    assert not batches.missed(weights, 4.9 / (NO_MATTER * whole), others=whole)[0]


def test_what_is_hidden_is_not_judged_twice():
    """An error on a handful counts by itself; light that may be missed is judged by itself, too."""
    cells = np.zeros((1, 1, CELLS))
    cells[0, 0, [1, 70, 200]] = 10.0
    batches = runs(cells, base=1.0)
    mean, error = (each[0] for each in stated(batches))
    batches.hidden[0] = error
    assert not batches.on_few(WHOLE, 1.1 * error / (NO_MATTER * mean))[0]
    assert batches.on_few(WHOLE, 0.9 * error / (NO_MATTER * mean))[0]
    batches.hidden[0] = 0.0
    assert batches.on_few(WHOLE, 0.9 * error / (NO_MATTER * mean))[0]


def test_no_light_stands_on_nothing():
    """A meter in the dark has no error, however it is read."""
    batches = runs(np.zeros((1, 1, CELLS)))
    assert batches.relative_error(WHOLE)[0] == 0
    assert not batches.on_few(WHOLE, 0.01)[0]


def test_moments_are_kept_in_the_file(tmp_path):
    """A meter that is read again stands on as much; a file without moments is none."""
    batches = runs(np.random.default_rng(2).exponential(1.0, (1, 3, CELLS)))
    write_meter(tmp_path / "a.npz", batches, 0)
    again = Batches.empty(("0",), ("lamp",), 1)
    assert read_meter(tmp_path / "a.npz", again, 0)
    assert np.array_equal(again.support, batches.support)
    np.savez(tmp_path / "old.npz", sums=batches.sums[0], paths=48, rounds=3, note=np.array("{}"))
    assert not read_meter(tmp_path / "old.npz", again, 0)


def test_a_spread_is_the_standard_error_of_a_mean():
    """1, 2 … n have the variance n (n + 1) / 12 and the mean (n + 1) / 2; nothing over nothing is none."""
    n = BATCHES
    ramp = np.stack([np.arange(1, n + 1.0), np.zeros(n)])
    assert spread_of(ramp) == pytest.approx([np.sqrt(n * (n + 1) / 12 / n) / ((n + 1) / 2), 0], rel=1e-12)


def test_hidden_light_of_each_lamp_goes_its_own_way():
    """As many lamps as there are ways: each adds its error, leaves every mean, and no two go together."""
    lamps = BATCHES - 1
    batches = Batches.empty(["a"], map(str, range(lamps)), 1)
    batches.paths += 1
    batches.hidden[0] = np.arange(1.0, lamps + 1)
    each = (batches.means - batches.found)[0, :, :, 1, 0]
    assert each.mean(axis=0) == pytest.approx(np.zeros(lamps), abs=1e-12)
    assert each.std(axis=0, ddof=1) / np.sqrt(BATCHES) == pytest.approx(batches.hidden[0], rel=1e-12)
    together = each.T @ each
    assert together == pytest.approx(np.diag(np.diag(together)), abs=1e-6)


def test_a_reading_stands_on_what_its_lamps_stand_on():
    """A lamp that gives all the spread gives the number; two alike give it together as each alone."""
    cells = np.zeros((2, 1, CELLS))
    cells[0, 0, :4], cells[1, 0, 8:72] = 1.0, 1.0
    alone = runs(cells)
    batches = Batches.empty(["a"], ["one", "two"], 1)
    light = np.zeros((1, CELLS, 2, 2, 1))
    light[0, :, 0, 0, 0], light[0, :, 1, 1, 0] = cells[0, 0], cells[1, 0]
    batches.add(np.array([0]), light, THREADS, EYE)
    batches.paths += 10
    assert batches.stands_on(np.array([[1.0], [0.0]])) == pytest.approx(alone.support[0])
    assert batches.stands_on(np.array([[0.0], [1.0]])) == pytest.approx(alone.support[1])
    parts = batches.parts(np.array([[3.0], [1.0]]))[0]
    share = parts / parts.sum()
    expected = (share[0] / np.sqrt(alone.support[0, 0]) + share[1] / np.sqrt(alone.support[1, 0])) ** -2
    assert batches.stands_on(np.array([[3.0], [1.0]])) == pytest.approx(expected)
    assert parts[0] == pytest.approx(9 * batches.parts(np.ones((2, 1)))[0, 0])
    assert np.isinf(batches.stands_on(np.zeros((2, 1)))[0])


def test_a_file_that_holds_no_reading_is_none(tmp_path):
    """Without paths, with what is no number or of another size: nothing is taken from it."""
    again = runs(np.random.default_rng(2).exponential(1.0, (1, 3, CELLS)))
    before = again.some([0])
    empty, wild = Batches.empty(("0",), ("lamp",), 1), runs(np.ones((1, 1, CELLS)))
    wild.sums[0, 0] = np.nan
    two = Batches.empty(("0",), ("lamp", "other"), 1)
    two.paths += 1
    for number, batches in enumerate((empty, wild, two)):
        write_meter(tmp_path / f"{number}.npz", batches, 0)
        assert read_meter(tmp_path / f"{number}.npz", again, 0) is False
        assert np.array_equal(again.sums, before.sums) and np.array_equal(again.paths, before.paths)
    assert np.all(np.isinf(empty.relative_error(WHOLE)))


def test_words_of_what_is_not_reached():
    """A crew reads how far it may trust a reading that stands on few paths."""
    assert not_reached(Short("desk", 0.031, False)) == "is at 3.1 %"
    assert not_reached(Short("desk", 0.89, True)).endswith("better than ± 178 %")
    said = "is at 1.4 %, on few paths: not to be trusted better than ± 2.8 %"
    assert not_reached(Short("desk", 0.014, True)) == said


def test_doubts_are_reported_once_each():
    """What is alike is said once, why paths are few once at the end, and nothing where all is good."""
    good, few = Short("desk", 0.031, False), Short("hook", 0.02, True)
    assert doubts([]) == doubts([("direct", ()), ("bounce", ())]) == ""
    assert doubts([("", (good,))]) == "desk is at 3.1 %."
    result = doubts([("direct", (few, good)), ("direct", (few, good)), ("bounce", (few,))])
    words = "hook is at 2 %, on few paths: not to be trusted better than ± 4 %."
    assert result == f"direct: {words} desk is at 3.1 %. bounce: {words} {ON_FEW}"
