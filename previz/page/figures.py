"""Tables of numbers as the page is sent them: plain lists, rounded."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def figures(values: ArrayLike, digits: int = 6) -> list:
    """Return a table of numbers, shape (row, column), rounded to so many figures."""
    return [[float(f"{value:.{digits}g}") for value in row] for row in np.asarray(values)]
