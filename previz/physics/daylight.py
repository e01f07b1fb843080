"""Daylight: its colour (CIE D), how bright the sky is in each direction, and the sun.

Altitude is the angle above the horizon, zenith angle the angle from straight up. Sky luminances
are relative until they are scaled to an illuminance on open level ground.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.blackbody import radiance
from previz.physics.spectra import WAVELENGTHS_NM, normalise
from previz.physics.tables import read_table

WARMEST_D_K, COOLEST_D_K = 4000.0, 25000.0
"""Range of the CIE D series. [K]"""

SUN_ANGLE_DEG = 0.533
"""Mean full angle of the sun's disc. [deg]"""

SKY_CCT = {"overcast": 6500.0, "intermediate": 7500.0, "clear": 12000.0}
"""Colour of a sky that is given none, CIE D. [K]  Common practice, no source."""

GENERAL_SKIES = {
    1: (4.0, -0.70, 0.0, -1.0, 0.0),
    2: (4.0, -0.70, 2.0, -1.5, 0.15),
    3: (1.1, -0.80, 0.0, -1.0, 0.0),
    4: (1.1, -0.80, 2.0, -1.5, 0.15),
    5: (0.0, -1.00, 0.0, -1.0, 0.0),
    6: (0.0, -1.00, 2.0, -1.5, 0.15),
    7: (0.0, -1.00, 5.0, -2.5, 0.30),
    8: (0.0, -1.00, 10.0, -3.0, 0.45),
    9: (-1.0, -0.55, 2.0, -1.5, 0.15),
    10: (-1.0, -0.55, 5.0, -2.5, 0.30),
    11: (-1.0, -0.55, 10.0, -3.0, 0.45),
    12: (-1.0, -0.32, 10.0, -3.0, 0.45),
    13: (-1.0, -0.32, 16.0, -3.0, 0.30),
    14: (-1.0, -0.15, 16.0, -3.0, 0.30),
    15: (-1.0, -0.15, 24.0, -2.8, 0.15),
}
"""a, b (gradation) and c, d, e (indicatrix) by CIE type.  Source: CIE S 011 / ISO 15469:2004,
as tabulated in the development version of colour-science."""

SKY_TYPES = {"intermediate": 7, "clear": 12}
"""CIE general type of a named sky; 'overcast' has its own traditional form. Which partly cloudy
type 'intermediate' means is common practice, no source."""


def daylight_xy(cct: float) -> FloatArray:
    """Return the chromaticity of CIE daylight.

    x is a cubic in 1/T, y = -3x² + 2.87x - 0.275.

    Parameters
    ----------
    cct : float
        4000 to 25 000. [K]

    Returns
    -------
    float array, shape (2,)
        x, y. [1]

    Raises
    ------
    ValueError
        The D series does not reach there.

    Source
    ------
    CIE 15:2018, section 4.1.2 (above 7000 K its second cubic).
    """
    if not WARMEST_D_K <= cct <= COOLEST_D_K:
        raise ValueError(
            f"CIE daylight runs from {WARMEST_D_K:.0f} to {COOLEST_D_K:.0f} K, got {cct:g} K"
        )
    if cct <= 7000:
        terms = (-4.6070e9, 2.9678e6, 0.09911e3, 0.244063)
    else:
        terms = (-2.0064e9, 1.9018e6, 0.24748e3, 0.237040)
    x = terms[0] / cct**3 + terms[1] / cct**2 + terms[2] / cct + terms[3]
    return np.array([x, -3.0 * x * x + 2.870 * x - 0.275])


def daylight_spectrum(cct: float) -> FloatArray:
    """Return the spectrum of CIE daylight.

    S = S0 + M1 S1 + M2 S2, with M1 and M2 from the chromaticity, unrounded.

    Parameters
    ----------
    cct : float
        4000 to 25 000. [K]

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Raises
    ------
    ValueError
        The D series does not reach there.

    Source
    ------
    CIE 15:2018, section 4.1.2.
    """
    x, y = daylight_xy(cct)
    below = 0.0241 + 0.2562 * x - 0.7341 * y
    first = (-1.3515 - 1.7703 * x + 5.9114 * y) / below
    second = (0.0300 - 31.4424 * x + 30.0717 * y) / below
    table = read_table("daylight_components")
    return normalise(np.clip(table["s0"] + first * table["s1"] + second * table["s2"], 0, None))


def overcast_luminance(altitude_deg: ArrayLike) -> FloatArray:
    """Return the CIE standard overcast sky relative to its zenith: (1 + 2 sin gamma) / 3.

    Parameters
    ----------
    altitude_deg : float array, shape (...)
        gamma, 0 to 90. [deg]

    Returns
    -------
    float array, shape (...)
        L / L_zenith. [1]

    Source
    ------
    CIE S 011 / ISO 15469, traditional overcast sky.
    """
    return (1 + 2 * np.sin(np.radians(np.asarray(altitude_deg, dtype=float)))) / 3


def general_sky_luminance(sky_type: int, zenith_deg: ArrayLike, from_sun_deg: ArrayLike,
                          sun_zenith_deg: float) -> FloatArray:
    """Return a CIE general sky relative to its zenith.

    L / Lz = f(chi) phi(Z) / (f(Zs) phi(0)), phi(Z) = 1 + a exp(b / cos Z),
    f(chi) = 1 + c (exp(d chi) - exp(d pi/2)) + e cos² chi.

    Parameters
    ----------
    sky_type : int
        1 (overcast, steep) to 15 (white-blue turbid, clear).
    zenith_deg : float array, shape (...)
        Z of the sky point, 0 to 90. [deg]
    from_sun_deg : float array, shape (...)
        Azimuth between the point and the sun. [deg]
    sun_zenith_deg : float
        Zs. [deg]

    Returns
    -------
    float array, shape (...)
        L / L_zenith. [1]

    Raises
    ------
    ValueError
        There is no such type.

    Source
    ------
    CIE S 011 / ISO 15469:2004.
    """
    if sky_type not in GENERAL_SKIES:
        raise ValueError(f"CIE general skies are 1 to 15, got {sky_type!r}")
    a, b, c, d, e = GENERAL_SKIES[sky_type]
    zenith = np.radians(np.asarray(zenith_deg, dtype=float))
    sun = np.asarray(np.radians(sun_zenith_deg))
    cosine = np.cos(zenith) * np.cos(sun) + np.sin(zenith) * np.sin(sun) * np.cos(
        np.radians(np.asarray(from_sun_deg, dtype=float))
    )
    separation = np.arccos(np.clip(cosine, -1.0, 1.0))

    def gradation(cos_zenith: ArrayLike) -> FloatArray:
        # At the horizon b / cos Z runs to minus infinity and its exponential to 0.
        return np.asarray(1 + a * np.exp(b / np.maximum(cos_zenith, 1e-6)))

    def indicatrix(angle: FloatArray) -> FloatArray:
        return 1 + c * (np.exp(d * angle) - np.exp(d * np.pi / 2)) + e * np.cos(angle) ** 2

    scale = indicatrix(sun) * gradation(1.0)
    return indicatrix(separation) * gradation(np.cos(zenith)) / scale


def sky_dome(
    sky: str, *, zenith_cells: int = 45, azimuth_cells: int = 180, sun_altitude_deg: float = 45.0,
    sun_azimuth_deg: float = 0.0
) -> FloatArray:
    """Return the radiance of a sky over the upper half, at 1 lx on open level ground.

    Parameters
    ----------
    sky : str
        'overcast', 'intermediate' or 'clear'.
    zenith_cells, azimuth_cells : int
        Cells over 0 to 90° from the zenith and 0 to 360° counter-clockwise from +x.
    sun_altitude_deg : float
        Where the sun stands, even if it is not in the scene; above 0. [deg]
    sun_azimuth_deg : float
        Its azimuth, counter-clockwise from +x (not a compass bearing). [deg]

    Returns
    -------
    float array, shape (zenith_cells, azimuth_cells)
        Luminance at the middle of each cell, per lux. [1/sr]

    Raises
    ------
    ValueError
        The sky is unknown or the sun is not above the horizon.
    """
    zenith = (np.arange(zenith_cells) + 0.5) * 90.0 / zenith_cells
    azimuth = (np.arange(azimuth_cells) + 0.5) * 360.0 / azimuth_cells
    if sky == "overcast":
        shape = np.repeat(overcast_luminance(90.0 - zenith)[:, None], azimuth_cells, axis=1)
    elif sky in SKY_TYPES:
        if not 0 < sun_altitude_deg <= 90:
            raise ValueError(
                f"a {sky} sky needs the sun 0 to 90 deg up, got {sun_altitude_deg:g} deg"
            )
        shape = general_sky_luminance(
            SKY_TYPES[sky],
            zenith[:, None],
            azimuth[None, :] - sun_azimuth_deg,
            90.0 - sun_altitude_deg,
        )
    else:
        known = ["overcast", *sorted(SKY_TYPES)]
        raise ValueError(f"a sky is one of {known}, got '{sky}'")
    rim = np.radians(np.linspace(0.0, 90.0, zenith_cells + 1))
    # The projected solid angle of each cell is exact; the luminance is taken as even inside it.
    projected = np.diff(np.sin(rim) ** 2) / 2 * (2 * np.pi / azimuth_cells)
    return shape / np.sum(shape * projected[:, None])


def sun_illuminance(altitude_deg: ArrayLike) -> FloatArray:
    """Return the illuminance of a surface facing a clear sun.

    E = 1.5e9 · (1.147 - 0.147 / sin h) · 6e-5, never below 0.

    Parameters
    ----------
    altitude_deg : float array, shape (...)
        h. [deg]

    Returns
    -------
    float array, shape (...)
        E; 0 with the sun down. [lx]

    Source
    ------
    An open sky generator, read in its source; a figure for planning, ±20 %.

    Limits
    ------
    Reaches 0 near h = 7.4°; the real low sun still gives some thousand lux.
    """
    sine = np.sin(np.radians(np.asarray(altitude_deg, dtype=float)))
    up = np.maximum(sine, 1e-6)
    return np.maximum(1.5e9 * (1.147 - 0.147 / up) * 6e-5, 0.0)


def air_mass(altitude_deg: ArrayLike) -> FloatArray:
    """Return the relative length of the sun's path through the air.

    m = 1 / (sin h + 0.50572 (h + 6.07995°)^-1.6364).

    Parameters
    ----------
    altitude_deg : float array, shape (...)
        h, 0 to 90. [deg]

    Returns
    -------
    float array, shape (...)
        m. [1]

    Source
    ------
    Kasten and Young 1989, Applied Optics 28, 4735 (as quoted in three public programs).
    """
    altitude = np.asarray(altitude_deg, dtype=float)
    return 1 / (np.sin(np.radians(altitude)) + 0.50572 * (altitude + 6.07995) ** -1.6364)


def sun_spectrum(altitude_deg: float, turbidity: float = 0.1) -> FloatArray:
    """Return the spectrum of the direct sun after its path through the air.

    A 5778 K black body times exp(-m (0.008735 l^-4.08 + beta l^-1.3)), l in micrometres.

    Parameters
    ----------
    altitude_deg : float
        0 to 90. [deg]
    turbidity : float
        beta: 0.05 clean air, 0.1 ordinary, 0.2 hazy. [1]

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Raises
    ------
    ValueError
        The sun is below the horizon or the turbidity negative.

    Source
    ------
    Leckner 1978 (Rayleigh) and Angstrom 1929 (haze), coefficients from memory.

    Limits
    ------
    No ozone, no water; colour temperature within some 300 K of measured suns.
    """
    if not 0 <= altitude_deg <= 90:
        raise ValueError(f"the sun must stand 0 to 90 deg high, got {altitude_deg:g} deg")
    if not turbidity >= 0:
        raise ValueError(f"turbidity must be 0 or more, got {turbidity!r}")
    micrometres = WAVELENGTHS_NM / 1000
    depth = 0.008735 * micrometres**-4.08 + turbidity * micrometres**-1.3
    return normalise(radiance(WAVELENGTHS_NM, 5778.0) * np.exp(-air_mass(altitude_deg) * depth))
