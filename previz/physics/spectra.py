"""Spectra on one fixed grid, and the colour of a spectrum to the standard observer.

Every spectrum of the program is 81 samples from 380 to 780 nm in steps of 5 nm; a sample stands for
the 5 nm about it. Spectral power is in W/nm, so a spectrum that gives Y = 1 carries one lumen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.tables import read_table

STEP_NM = 5.0
"""Distance between samples. [nm]"""

WAVELENGTHS_NM = np.arange(380.0, 781.0, STEP_NM)
"""Wavelengths of the 81 samples. [nm]"""
WAVELENGTHS_NM.setflags(write=False)

K_M = 683.002
"""Luminous efficacy at the peak of V(lambda), 555 nm in air. [lm/W]

Source: CIE 018 (683 lm/W at 540 THz, from the SI definition of the candela).
"""


def observer() -> FloatArray:
    """Return the CIE 1931 2° colour-matching functions.

    Returns
    -------
    float array, shape (3, 81)
        x-bar, y-bar and z-bar; y-bar is V(lambda). [1]

    Source
    ------
    ISO/CIE 11664-1 (table `observer_cie1931`).
    """
    table = read_table("observer_cie1931")
    return np.stack([table["x"], table["y"], table["z"]])


def _on_grid(spectrum: ArrayLike) -> FloatArray:
    values = np.asarray(spectrum, dtype=float)
    if values.shape[-1:] != WAVELENGTHS_NM.shape:
        raise ValueError(
            f"a spectrum has {WAVELENGTHS_NM.size} samples (380 to 780 nm by 5), "
            f"got shape {values.shape}"
        )
    return values


def xyz_of(spectrum: ArrayLike) -> FloatArray:
    """Return the tristimulus values of a spectrum.

    X = 683.002 · sum(S · x-bar) · 5 nm, and Y, Z alike.

    Parameters
    ----------
    spectrum : float array, shape (..., 81)
        S, spectral power or any density of it. [W/nm]

    Returns
    -------
    float array, shape (..., 3)
        X, Y, Z; Y is the luminous flux (or its density). [lm]

    Raises
    ------
    ValueError
        The last axis is not the 81 samples.

    Source
    ------
    CIE 15:2018, section 7.1 (summation with the constant of the absolute scale).
    """
    return _on_grid(spectrum) @ observer().T * (K_M * STEP_NM)


def normalise(spectrum: ArrayLike) -> FloatArray:
    """Scale a spectrum to one lumen.

    Parameters
    ----------
    spectrum : float array, shape (..., 81)
        Relative spectral power. [any]

    Returns
    -------
    float array, shape (..., 81)
        The same shape of curve with Y = 1 lm. [W/nm per lm]

    Raises
    ------
    ValueError
        A spectrum is negative, not finite, or gives no light to the eye.
    """
    values = _on_grid(spectrum)
    if not np.all(np.isfinite(values)) or np.any(values < 0):
        raise ValueError("spectral power must be finite and 0 or more")
    flux = xyz_of(values)[..., 1:2]
    if np.any(flux <= 0):
        raise ValueError("a spectrum without visible power cannot be scaled to 1 lm")
    return values / flux


def resample(wavelength_nm: ArrayLike, values: ArrayLike) -> FloatArray:
    """Put a tabulated curve on the 81 samples: linear between its points, held beyond them.

    Parameters
    ----------
    wavelength_nm : float array, shape (n,)
        Rising wavelengths of the table. [nm]
    values : float array, shape (n,)
        The curve. [any]

    Returns
    -------
    float array, shape (81,)
        The curve on `WAVELENGTHS_NM`. [as `values`]

    Raises
    ------
    ValueError
        Lengths differ or wavelengths do not rise.
    """
    at = np.asarray(wavelength_nm, dtype=float)
    curve = np.asarray(values, dtype=float)
    if at.ndim != 1 or at.shape != curve.shape:
        raise ValueError(
            f"a table needs one value for each wavelength, got {at.shape}, {curve.shape}"
        )
    if np.any(np.diff(at) <= 0):
        raise ValueError("wavelengths of a table must rise")
    return np.interp(WAVELENGTHS_NM, at, curve)
