"""What a camera holds over and under grey: clipped, black, and otherwise the picture as it was."""

import numpy as np
import pytest

from previz.exposure.latitude import acescg_luminance, held


def greys(*stops):
    """A row of greys, so many stops from 18 %."""
    return np.broadcast_to(0.18 * 2.0 ** np.array(stops, np.float32), (3, 1, len(stops))).astype(np.float32)


def test_without_limits_it_is_the_picture_bit_for_bit():
    """Nothing is touched, colours outside the space neither."""
    picture = np.random.default_rng(3).normal(0.2, 2, (3, 9, 7)).astype(np.float32)
    assert np.array_equal(held(picture, None, None), picture)


def test_it_clips_so_many_stops_over_grey():
    """0.18 · 2^5 = 5.76 is the most of each channel; below it nothing changes."""
    picture = np.array([9.0, 5.0, 0.1])[:, None, None]
    assert held(picture, 5, None).ravel() == pytest.approx([5.76, 5.0, 0.1])
    rising = greys(-9, 0, 2.4, 4.99)
    assert np.array_equal(held(rising, 5, None), rising)


def test_it_is_black_so_many_stops_under_grey():
    """Seven under and all that is darker are black; a stop above that all is as it was; between it rises."""
    steps = np.linspace(-9, -5, 81)
    found = held(greys(*steps), None, 7)[0, 0]
    dark, there = steps <= -7, steps >= -6
    assert np.all(found[dark] == 0)
    assert np.array_equal(found[there], greys(*steps)[0, 0, there])
    assert np.all(np.diff(found[steps >= -7]) > 0) and np.all(found <= greys(*steps)[0, 0])
    # Half a stop over the limit u = √2 - 1: u² (5 - 3u) = 0.6448 of the limit 0.18 / 128.
    assert held(greys(-6.5), None, 7)[0, 0, 0] == pytest.approx(0.6448 * 0.18 / 128, rel=1e-3)


def test_a_shadow_keeps_its_hue_as_it_falls_away():
    """All channels go by the luminance, by ACEScg's own weights (check value 6.7)."""
    assert acescg_luminance() == pytest.approx([0.27222872, 0.67408177, 0.05368952], abs=1e-7)
    colour = np.array([3.0, 1.0, 0.5])[:, None, None] * 0.18 / 2**7
    found = held(colour, None, 7).ravel()
    assert 0 < found[1] < colour[1].item()
    assert found / found[1] == pytest.approx([3.0, 1.0, 0.5], rel=1e-5)


def test_any_value_ends_between_the_limits():
    """Negative, huge and black pixels give numbers."""
    picture = np.array([[-1.0, 500.0, 0.0, -0.2]] * 3)[:, None]
    found = held(picture, 4, 6)
    assert np.all(np.isfinite(found)) and found.max() == pytest.approx(2.88)
