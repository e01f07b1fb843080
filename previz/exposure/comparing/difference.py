"""The difference of two pictures in stops, painted like the exposure map.

Grey is no difference. What an option leaves darker than the base has colours of earth, what it
makes lighter colours of dusk, and lightness rises with the difference, as in the map of exposure,
so the two read alike and survive a black-and-white print.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.falsecolour import Band, bands_between
from previz.exposure.palette import ramp
from previz.physics.exposure import MID_GREY

SAME = 0.25
"""A smaller difference is not seen on a face. [stops]  Common practice, no source."""

EDGES = (-3.0, -1.5, -0.75, -SAME, SAME, 0.75, 1.5, 3.0)
"""Where the bands of a difference meet. [stops]"""

LABELS = ("−3 or more", "−2", "−1", "−½", "same", "+½", "+1", "+2", "+3 or more")

FLOOR = MID_GREY * 2.0**-8
"""Signal that is added to both: what lies in black in both differs by nothing. [1]"""


def difference_bands() -> tuple[Band, ...]:
    """Return the bands of a difference, darker to lighter than the base."""
    codes = ramp(len(EDGES) // 2 - 1, len(EDGES) // 2 - 1)
    limits = (-np.inf, *EDGES, np.inf)
    centres = (-3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0)
    return bands_between(limits, centres, LABELS, codes, [""] * len(LABELS))


def difference(signal: ArrayLike, base: ArrayLike) -> np.ndarray:
    """Return how many stops a picture lies over another, exposed luminance with 0.18 for grey. [stops]

    log2((s + floor) / (b + floor)), so that two blacks are alike.

    Raises
    ------
    ValueError
        They have different shapes.
    """
    one, other = np.asarray(signal, float), np.asarray(base, float)
    if one.shape != other.shape:
        raise ValueError(f"pictures of {one.shape} and {other.shape} pixels cannot be compared")
    return np.log2((np.maximum(one, 0) + FLOOR) / (np.maximum(other, 0) + FLOOR))


def difference_index(stops: ArrayLike) -> np.ndarray:
    """Return the band of each pixel of a difference. Shape (row, column)"""
    return np.searchsorted(np.array(EDGES), stops, side="right").astype(np.uint8)
