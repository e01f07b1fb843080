"""From a picked colour to a reflectance spectrum.

A linear sRGB reflectance is spread over the spectrum by three fixed curves that sum to one, so
white stays flat, greys stay grey, and no value leaves 0 to 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.bands import DEFAULT_BANDS, band_means
from previz.physics.tables import read_table


def basis() -> FloatArray:
    """Return the spectra of unit red, green and blue reflectance.

    Returns
    -------
    float array, shape (3, 81)
        Curves that sum to 1 at each wavelength. [1]

    Source
    ------
    Mallett and Yuksel, EGSR 2019 (table `uplift_basis`).
    """
    table = read_table("uplift_basis")
    return np.stack([table["red"], table["green"], table["blue"]])


def reflectance_from_rgb(rgb: ArrayLike) -> FloatArray:
    """Return the reflectance spectrum of a colour.

    Under D65 the spectrum has the colour it was made from.

    Parameters
    ----------
    rgb : float array, shape (..., 3)
        Linear Rec. 709 / sRGB reflectance; values outside 0 to 1 are clamped. [1]

    Returns
    -------
    float array, shape (..., 81)
        Spectrum, 0 to 1. [1]

    Raises
    ------
    ValueError
        A value is not finite or the last axis is not 3.
    """
    values = np.asarray(rgb, dtype=float)
    if values.shape[-1:] != (3,) or not np.all(np.isfinite(values)):
        raise ValueError(f"a colour is three finite numbers, got shape {values.shape}")
    return np.clip(np.clip(values, 0.0, 1.0) @ basis(), 0.0, 1.0)


def uplift_basis(n: int = DEFAULT_BANDS) -> FloatArray:
    """Return the basis in bands, so that a band albedo is rgb @ basis.

    Parameters
    ----------
    n : int
        Number of bands.

    Returns
    -------
    float array, shape (3, n)
        Rows for linear red, green and blue; columns sum to 1. [1]
    """
    return band_means(basis(), n)


def linear_from_srgb(encoded: ArrayLike) -> FloatArray:
    """Return linear light of an sRGB value.

    Parameters
    ----------
    encoded : float array, shape (...)
        0 to 1, as an 8-bit picture over 255. [1]

    Returns
    -------
    float array, shape (...)
        Linear, 0 to 1. [1]

    Source
    ------
    IEC 61966-2-1.
    """
    value = np.asarray(encoded, dtype=float)
    return np.where(
        value <= 0.04045, value / 12.92, ((np.maximum(value, 0) + 0.055) / 1.055) ** 2.4
    )
