"""Black-body radiation: the light of anything that glows because it is hot."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray

PLANCK = 6.62607015e-34
"""h. [J s]  Source: SI Brochure, 9th edition (exact)."""

LIGHT_SPEED = 299792458.0
"""c. [m/s]  Source: SI Brochure, 9th edition (exact)."""

SECOND_RADIATION_CONSTANT = 1.4388e-2
"""c2 as colorimetry uses it. [m K]  Source: CIE 15:2018 (1.4388e-2 since ITS-90)."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""sigma. [W/(m² K⁴)]  Source: CODATA 2018."""


def radiance(wavelength_nm: ArrayLike, temperature: float) -> FloatArray:
    """Return the spectral radiance of a black body.

    L = (2 h c² / lambda⁵) / (exp(c2 / (lambda T)) - 1).

    Parameters
    ----------
    wavelength_nm : float array, shape (...)
        lambda. [nm]
    temperature : float
        T. [K]

    Returns
    -------
    float array, shape (...)
        L, per nanometre of wavelength. [W/(m² sr nm)]

    Raises
    ------
    ValueError
        The temperature or a wavelength is not above 0.

    Source
    ------
    Planck's law; constants as named in this module.
    """
    metres = np.asarray(wavelength_nm, dtype=float) * 1e-9
    if not (np.isfinite(temperature) and temperature > 0):
        raise ValueError(f"temperature must be above 0 K, got {temperature!r}")
    if np.any(metres <= 0):
        raise ValueError("wavelengths must be above 0 nm")
    exponent = SECOND_RADIATION_CONSTANT / (metres * temperature)
    # Written with exp(-x) so that a cold body gives 0 instead of an overflow.
    falling = np.exp(-exponent)
    per_metre = 2.0 * PLANCK * LIGHT_SPEED**2 / metres**5 * falling / -np.expm1(-exponent)
    return per_metre * 1e-9
