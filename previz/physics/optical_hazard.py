"""What light does to eyes and to what it heats: blue-light radiance, infrared, heat on a surface.

Estimates for planning. They take a lamp's face as evenly bright, which its hot spots are not, so they
never say that a lamp is safe.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.blackbody import STEFAN_BOLTZMANN, radiance
from previz.physics.spectra import WAVELENGTHS_NM, xyz_of

BLUE_NM = np.arange(380, 501, 5)

BLUE_WEIGHTS = (
    0.01, 0.013, 0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 0.9, 0.95, 0.98, 1.0, 1.0, 0.97, 0.94, 0.9, 0.8, 0.7,
    0.62, 0.55, 0.45, 0.4, 0.22, 0.16, 0.1,
)  # fmt: skip
"""Weights of the blue-light hazard, B, at `BLUE_NM`. [1]  Source: IEC 62471:2006, as tabulated in
luxpy's module on it; check value 7.6."""

BLUE_EXEMPT = 100.0
"""Blue-light radiance up to which there is no limit within 10 000 s. [W/(m² sr)]  Source: IEC 62471:2006."""

BLUE_DOSE = 1e6
"""Blue-light radiance times seconds that eyes may take, up to 10 000 s. [J/(m² sr)]

Source: IEC 62471:2006."""

INFRARED_LIMIT = 100.0
"""Infrared from 780 to 3000 nm at eyes, for over 1000 s. [W/m²]  Source: ICNIRP, Guidelines on limits of
exposure to broad-band incoherent optical radiation (1997), check value 7.9."""

FULL_SUN = 1000.0
"""What the sun sends at most, about. [W/m²]  Source: reference irradiance of IEC 60904-3, from memory."""

WOOD_LIMIT = 4300.0
"""Least heat that set wood alight, given hours. [W/m²]

Source: Babrauskas, Ignition of wood: a review of the state of the art, Interflam 2001, check value 7.8."""


def blue_weights(wavelengths_nm: ArrayLike) -> FloatArray:
    """Return the weights of the blue-light hazard at some wavelengths, shape as given. [1]"""
    nm = np.asarray(wavelengths_nm, dtype=float)
    table = np.interp(nm, BLUE_NM, BLUE_WEIGHTS)
    return np.where(nm <= 500, table, np.where(nm <= 600, 10 ** ((450 - nm) / 50),
                                               np.where(nm <= 700, 0.001, 0.0)))


def blue_light_efficacy(spectrum: FloatArray) -> float:
    """Return the blue-light hazard efficacy of luminous radiation of a spectrum, K_B,v.

    Parameters
    ----------
    spectrum : float array, shape (81,)
        In any unit a nanometre, at `spectra.WAVELENGTHS_NM`.

    Returns
    -------
    float
        0 for no light. [W/lm]
    """
    light = float(xyz_of(spectrum)[1])
    if not light > 0:
        return 0.0
    weighted = float(np.sum(np.asarray(spectrum, float) * blue_weights(WAVELENGTHS_NM)))
    return weighted * float(WAVELENGTHS_NM[1] - WAVELENGTHS_NM[0]) / light


def black_body_efficacy(kelvin: float) -> float:
    """Return the lumens of each watt that a black body radiates. [lm/W]"""
    return float(np.pi * xyz_of(radiance(WAVELENGTHS_NM, kelvin))[1] / (STEFAN_BOLTZMANN * kelvin**4))


def black_body_infrared(kelvin: float) -> float:
    """Return the share of a black body's radiation that lies from 780 to 3000 nm. [1]"""
    nm = np.arange(780.0, 3000.1, 5.0)
    return float(np.pi * np.trapezoid(radiance(nm, kelvin), nm) / (STEFAN_BOLTZMANN * kelvin**4))
