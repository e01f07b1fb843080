"""How thick haze is by its words."""

import numpy as np

from previz.scene.haze import LEVELS


def test_levels_are_in_order():
    """Barely visible, light, strong shafts, fog: each inside its customary range."""
    # Common practice, no source.
    ranges = {"barely there": (0.002, 0.005), "light": (0.01, 0.02), "shafts": (0.03, 0.06),
              "fog": (0.1, np.inf)}  # fmt: skip
    assert set(LEVELS) == set(ranges)
    for word, (low, high) in ranges.items():
        assert low <= LEVELS[word] <= high
