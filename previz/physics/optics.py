"""Glass: what a clear surface mirrors and what a window lets through."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray

WINDOW_INDEX = 1.52
"""Refractive index of window glass. [1]"""

# Nodes enough for the hemispherical mean to 1e-7, even with the steep end at grazing angles.
_HEMISPHERE_NODES = 400


def _checked_index(index: float) -> float:
    if not (np.isfinite(index) and index > 1):
        raise ValueError(f"a refractive index must be above 1, got {index!r}")
    return float(index)


def normal_reflectance(index: float) -> float:
    """Return the reflectance of one surface hit square: ((n - 1) / (n + 1))².

    Parameters
    ----------
    index : float
        n, above 1. [1]

    Returns
    -------
    float
        F0. [1]

    Raises
    ------
    ValueError
        n is not above 1.
    """
    n = _checked_index(index)
    return ((n - 1) / (n + 1)) ** 2


def polarised_reflectance(cos_incidence: ArrayLike, index: float) -> tuple[FloatArray, FloatArray]:
    """Return Fresnel's reflectance of one surface for both polarisations.

    Parameters
    ----------
    cos_incidence : float array, shape (...)
        Cosine of the angle of incidence in air, 0 to 1. [1]
    index : float
        n of the glass, above 1. [1]

    Returns
    -------
    (float array, float array), each of shape (...)
        Reflectance square to the plane of incidence (s) and in it (p). [1]

    Raises
    ------
    ValueError
        n is not above 1 or a cosine is outside 0 to 1.

    Source
    ------
    Fresnel's equations.
    """
    n = _checked_index(index)
    outside = np.asarray(cos_incidence, dtype=float)
    if np.any((outside < 0) | (outside > 1)):
        raise ValueError("the cosine of incidence lies from 0 to 1")
    inside = np.sqrt(1 - (1 - outside**2) / n**2)
    square = ((outside - n * inside) / (outside + n * inside)) ** 2
    parallel = ((n * outside - inside) / (n * outside + inside)) ** 2
    return square, parallel


def _layers(reflectance: FloatArray, internal: FloatArray, sheets: int) -> tuple[FloatArray, FloatArray]:
    """Transmission and reflection of a stack of sheets for one polarisation."""
    through = (1 - reflectance) ** 2 * internal / (1 - (reflectance * internal) ** 2)
    back = reflectance * (1 + internal * through)
    total_through, total_back = through, back
    for _ in range(sheets - 1):
        # Add one more sheet behind, with all reflections between (Stokes' relations).
        between = 1 - total_back * back
        total_back = total_back + total_through**2 * back / between
        total_through = total_through * through / between
    return total_through, total_back


def pane(cos_incidence: ArrayLike, index: float = WINDOW_INDEX, *, sheets: int = 1,
         internal: ArrayLike = 1.0) -> tuple[FloatArray, FloatArray]:
    """Return what a window transmits and mirrors, with all reflections between its faces.

    For each polarisation T = (1-R)² t / (1 - R² t²); sheets are added by Stokes' relations; the
    mean of both polarisations is returned.

    Parameters
    ----------
    cos_incidence : float array, shape (...)
        Cosine of the angle of incidence, 0 to 1. [1]
    index : float
        n, above 1. [1]
    sheets : int
        1 single, 2 double glazing.
    internal : float array, broadcast with `cos_incidence`
        t, internal transmission of one sheet hit square; 1 absorbs nothing. [1]

    Returns
    -------
    (float array, float array), each of shape (...)
        Transmission and reflection; they sum to 1 where nothing is absorbed. [1]

    Raises
    ------
    ValueError
        An argument is out of range.

    Source
    ------
    Fresnel's equations; Stokes 1862 for piles of plates (from memory).
    """
    if sheets < 1:
        raise ValueError(f"a window has 1 sheet or more, got {sheets!r}")
    clear = np.asarray(internal, dtype=float)
    if np.any((clear < 0) | (clear > 1)):
        raise ValueError("internal transmission lies from 0 to 1")
    cosine = np.asarray(cos_incidence, dtype=float)
    polarised = polarised_reflectance(cosine, index)
    # The path through the sheet is longer at a slant by one over the cosine inside.
    slant = clear ** (1 / np.sqrt(1 - (1 - cosine**2) / float(index) ** 2))
    # Glancing light: R = 1 makes 0/0 of a stack that absorbs nothing; it transmits nothing.
    both = [_layers(np.minimum(each, 1 - 1e-15), slant, sheets) for each in polarised]
    return (both[0][0] + both[1][0]) / 2, (both[0][1] + both[1][1]) / 2


def pane_diffuse() -> float:
    """Return the share of even light from half of space that a single clear window passes. [1]

    T = integral of T(theta) sin(2 theta) from 0 to 90°.
    """
    node, weight = np.polynomial.legendre.leggauss(_HEMISPHERE_NODES)
    angle = (node + 1) * np.pi / 4
    through = pane(np.cos(angle))[0]
    return float(np.sum(weight * through * np.sin(2 * angle)) * np.pi / 4)
