"""Closed forms of lenses that tests hold the program to; the program itself has no use for them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.lens import image_distance


def blur_disc(focal: float, *, f_number: float, focus: float, distance: ArrayLike) -> np.ndarray:
    """Return the diameter of the blur of a point that is out of focus.

    b = (f / N) · m · |d - s| / d, m = f / (s - f).

    Parameters
    ----------
    focal : float
        f. [m]
    f_number : float
        N, not the T-stop. [1]
    focus : float
        s. [m]
    distance : float array, shape (...)
        d of the point, above 0. [m]

    Returns
    -------
    float array, shape (...)
        Diameter on the sensor. [m]

    Source
    ------
    Similar triangles behind a Gaussian thin lens.
    """
    away = np.asarray(distance, dtype=float)
    return focal / f_number * image_distance(focal, focus) / focus * np.abs(away - focus) / away
