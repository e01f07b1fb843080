"""What meters keep of single lamps, put to others of more or fewer paths: readings stay what they were."""

import numpy as np
import pytest

from previz.frames.batches import BATCHES, GATHERED, Batches
from previz.rendering.cache.meters import _light, put, put_alone

BANDS = 2
EVEN = np.full(BANDS, 1 / BANDS)


def gathered(lamps, threads_paths, rounds, seed, meters=1):
    """Meters with noise of their own: `rounds` rounds of 2 threads a batch, as many paths in each thread."""
    random = np.random.default_rng(seed)
    batches = Batches.empty([f"meter {k}" for k in range(meters)], lamps, BANDS)
    for _ in range(rounds):
        light = random.gamma(2.0, threads_paths, (meters, 2 * BATCHES, len(lamps), 2, BANDS))
        batches.add(np.arange(meters), light, 2, EVEN)
        batches.paths += 2 * threads_paths
        batches.rounds += 1
    batches.hidden[:] = random.random(batches.hidden.shape)
    return batches


def same_readings(batches, meter, lamp, others, other_meter, other_lamp):
    """Mean of each batch, what their spread stands on and what is hidden are those of others."""
    mine = batches.some([meter])
    theirs = others.some([other_meter])
    assert mine.found[0, :, lamp] == pytest.approx(theirs.found[0, :, other_lamp], rel=1e-12)
    assert mine.support[0, lamp] == pytest.approx(theirs.support[0, other_lamp], rel=1e-12)
    assert mine.hidden[0, lamp] == theirs.hidden[0, other_lamp]


def test_lamps_of_unequal_paths_are_put_together():
    """Each lamp's batches have the mean, support and hidden light that they had, on the fewest paths."""
    few, many = gathered(["fill", "key"], 10, 3, 1), gathered(["bulb"], 10, 9, 2)
    meter = Batches.empty(["door", "desk"], ["key", "bulb", "fill"], BANDS)
    put(meter, 1, {"fill": _light(few, 0, 0), "key": _light(few, 0, 1), "bulb": _light(many, 0, 0)})
    assert list(meter.paths) == [0, 60] and list(meter.rounds) == [0, 9]
    same_readings(meter, 1, 0, few, 0, 1)
    same_readings(meter, 1, 1, many, 0, 0)
    same_readings(meter, 1, 2, few, 0, 0)
    assert not any(getattr(meter, label)[0].any() for label in GATHERED)


def test_lamps_gathered_alone_are_put_to_the_rest():
    """What was run alone with four times the paths reads the same beside the others; these stay."""
    meter = gathered(["key", "bulb"], 10, 2, 3, meters=2)
    before = meter.some([0, 1])
    alone = gathered(["bulb"], 40, 2, 4, meters=3)
    put_alone(meter, 0, alone, 2)
    same_readings(meter, 0, 1, alone, 2, 0)
    same_readings(meter, 0, 0, before, 0, 0)
    for label in GATHERED:
        assert np.array_equal(getattr(meter, label)[1], getattr(before, label)[1])


def test_a_copy_of_some_meters_goes_back_whole():
    """What a copy of two of three meters gathers comes back to these two, all of it."""
    meters, other = gathered(["key"], 5, 2, 5, meters=3), gathered(["key"], 7, 4, 6, meters=2)
    before = meters.some([1])
    assert meters.some([2, 0]).names == ("meter 2", "meter 0")
    meters.take(other, [2, 0])
    for label in GATHERED:
        assert np.array_equal(getattr(meters, label)[[2, 0]], getattr(other, label)), label
        assert np.array_equal(getattr(meters, label)[1], getattr(before, label)[0]), label
