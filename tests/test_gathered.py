"""What passes have gathered: their stated variance is that of the mean, also where paths were uneven."""

import numpy as np
import pytest

from previz.frames.gathered import Gathered, variance

PIXELS = 20_000


def passes(weights, paths, noise):
    """Weighted mean and scatter of passes over pixels, by the definition that the module states."""
    random = np.random.default_rng(7)
    each = np.array([5.0 + random.normal(0, np.sqrt(noise / n), PIXELS) for n in paths])
    weights = np.asarray(weights, float)[:, None]
    mean = (weights * each).sum(axis=0) / weights.sum()
    return mean, (weights * (each - mean) ** 2).sum(axis=0)


@pytest.mark.parametrize(("weights", "paths"), [
    ((4, 4, 4), (4, 4, 4)), ((2, 4, 8, 16), (2, 4, 8, 16)), ((4, 8, 8), (16, 2, 8))])
def test_stated_variance_is_that_of_the_mean(weights, paths):
    """Independent passes of variance v / n: on average what is stated is what the means really spread by."""
    noise, w, n = 3.0, np.asarray(weights, float), np.asarray(paths, float)
    mean, scatter = passes(weights, paths, noise)
    stated = variance(scatter.astype(np.float32), w.sum(), len(w), (w / n).sum(), (w**2 / n).sum())
    # Mean of a weighted sum of independent variables, from its definition.
    exact = noise * (w**2 / n).sum() / w.sum() ** 2
    assert mean.var() == pytest.approx(exact, rel=0.05)
    # 20 000 pixels of two degrees of freedom and more know their mean variance to 1 / sqrt(20 000): 0.7 %.
    assert stated.mean() == pytest.approx(exact, rel=0.03)
    assert stated.dtype == np.float32


def test_one_pass_knows_no_variance():
    """A single pass says nothing of its spread, two do, however little."""
    scatter = np.ones((2, 3), np.float32)
    assert np.all(np.isinf(variance(scatter, 4.0, 1, 1.0, 4.0)))
    assert np.all(np.isfinite(variance(scatter, 8.0, 2, 2.0, 8.0)))
    # Two passes of which one gave a pixel all but nothing: known by a hair, not negative and not endless.
    assert np.all(variance(scatter, 1.0, 2, 1.0, 1.0) > 0)
    assert np.all(np.isfinite(variance(scatter, 1.0, 2, 1.0, 1.0)))


def gathered(**changes):
    known = {"slices": np.zeros((3, 2, 2), np.float32), "scatter": np.zeros((2, 2), np.float32),
             "weight": 8.0, "passes": 2, "next_pass": 2, "inverse": 2.0, "spread": 8.0}
    return Gathered(**known | changes)


UNEVEN = {"inverse": np.full((2, 2), 2.0), "spread": np.full((2, 2), 8.0)}


@pytest.mark.parametrize(("changes", "same"), [
    ({}, True), ({"weight": 9.0}, False), ({"passes": 3}, False), ({"next_pass": 5}, False), (UNEVEN, False),
    ({"slices": np.zeros((3, 1, 2), np.float32)}, False), ({"scatter": np.ones((2, 2))}, True)])
def test_lamps_of_the_same_passes(changes, same):
    """Lamps go on together only if every pass of theirs was the same."""
    assert gathered().same_passes(gathered(**changes)) is same
    assert gathered(**changes).same_passes(gathered()) is same


@pytest.mark.parametrize("label", ["inverse", "spread"])
def test_uneven_passes_are_the_same_by_pixel(label):
    """Where pixels had paths of their own, every pixel must have had as many."""
    other = UNEVEN | {label: UNEVEN[label] + np.array([[0, 0], [0, 1.0]])}
    assert gathered(**UNEVEN).same_passes(gathered(**UNEVEN))
    assert not gathered(**UNEVEN).same_passes(gathered(**other))
