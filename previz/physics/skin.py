"""Skin and hair of stand-in figures: measured class means, not people.

Faces are measured with their shine included. A figure carries that shine as a gloss of its own,
so it is taken out of the diffuse albedo here; otherwise it would be counted twice.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.optics import normal_reflectance
from previz.physics.spectra import WAVELENGTHS_NM, observer, resample
from previz.physics.tables import read_table

SKIN_STEPS = ("very light", "light", "medium", "tan", "brown", "dark")
"""Classes of individual typology angle: > 55, 41-55, 28-41, 10-28, -30-10, < -30 deg."""

SKIN_INDEX = 1.4
"""Refractive index of the skin's outer layer. [1]"""

SHEENS = {
    "powdered": (0.6, 0.55),
    "natural": (1.0, 0.38),
    "shiny": (1.0, 0.24),
    "sweating": (1.0, 0.13),
}
"""Sheen of skin: share of it that carries the shine, and the shine's roughness. [1]

Powder hides a part of the skin's surface and spreads the rest; sebum and sweat fill its relief,
which narrows the same shine. Common practice, no source."""


SEEP_VARIANCE = np.array([0.0064, 0.0484, 0.187, 0.567, 1.99, 7.41])
"""Variances of the Gaussians that make up how far from where it came in light leaves skin. [mm²]

Source: d'Eon and Luebke, "Advanced techniques for realistic real-time skin rendering", in GPU
Gems 3, 2007, chapter 14; as for their shares below. Fitted there to a three-layer model of one
skin; no such measurement by class of skin was at hand."""

_SEEP_SHARES = {
    450.0: (0.649, 0.344, 0.0, 0.007, 0.0, 0.0),
    540.0: (0.455, 0.336, 0.198, 0.007, 0.004, 0.0),
    610.0: (0.233, 0.100, 0.118, 0.113, 0.358, 0.078),
}
"""Wavelength [nm] -> share of each Gaussian. The source tells blue, green and red; the wavelengths
are the peaks of a camera's three (common practice, no source). [1]"""

HAIR_COLOURS = {
    "black": ((400, 0.020), (550, 0.022), (700, 0.030)),
    "brown": ((400, 0.030), (500, 0.042), (600, 0.075), (700, 0.140)),
    "fair": ((400, 0.090), (500, 0.170), (600, 0.280), (700, 0.370)),
    "red": ((400, 0.030), (500, 0.045), (560, 0.080), (600, 0.160), (700, 0.270)),
    "grey": ((400, 0.230), (550, 0.260), (700, 0.280)),
    "white": ((400, 0.480), (550, 0.580), (700, 0.620)),
}
"""Knots of hair reflectance: wavelength [nm], value [1]. Common practice, no source."""

HAIR_INDEX = 1.55
"""Refractive index of hair. [1]"""


def face_reflectance(step: str) -> FloatArray:
    """Return the reflectance of a face as measured, shine included.

    Parameters
    ----------
    step : str
        One of `SKIN_STEPS`.

    Returns
    -------
    float array, shape (81,)
        Linear between the table's 20 nm, held below 400 and above 700 nm. [1]

    Raises
    ------
    ValueError
        There is no such step.

    Source
    ------
    International Skin Spectra Archive (table `skin_face_sci`).
    """
    if step not in SKIN_STEPS:
        raise ValueError(f"skin is one of {', '.join(SKIN_STEPS)}, not '{step}'")
    table = read_table("skin_face_sci")
    return resample(table["wavelength_nm"], table[step])


def skin_reflectance(step: str, sheen: str = "natural") -> FloatArray:
    """Return the diffuse albedo of skin without its shine.

    Solves R = g F + (1 - g F) a for a: R the face as measured, F the Fresnel reflectance of
    index 1.4 (2.8 %), g the share of the skin that carries it. A powdered face is measured as
    light as a shiny one, since an instrument that sees all of the shine does not mind its width.

    Parameters
    ----------
    step : str
        One of `SKIN_STEPS`.
    sheen : str
        A key of `SHEENS`.

    Returns
    -------
    float array, shape (81,)
        Albedo of the diffuse part. [1]

    Raises
    ------
    ValueError
        There is no such step or sheen.
    """
    if sheen not in SHEENS:
        raise ValueError(f"sheen is one of {', '.join(SHEENS)}, not '{sheen}'")
    shine = SHEENS[sheen][0] * normal_reflectance(SKIN_INDEX)
    return (face_reflectance(step) - shine) / (1 - shine)


def seen_reflectance(step: str, sheen: str = "natural") -> FloatArray:
    """Return what skin sends back in all, shine included, as an instrument measures it.

    Parameters
    ----------
    step, sheen : str
        As in `skin_reflectance`.

    Returns
    -------
    float array, shape (81,)
        R = g F + (1 - g F) a. [1]
    """
    shine = SHEENS[sheen][0] * normal_reflectance(SKIN_INDEX)
    return shine + (1 - shine) * skin_reflectance(step, sheen)


def seep_shares() -> FloatArray:
    """Return how much of each Gaussian of `SEEP_VARIANCE` makes up how far light seeps in skin.

    The light that leaves a point is the albedo times the light that arrives round about, weighed
    by the sum of share · exp(-r²/2v) / (2 pi v) over the Gaussians, r the distance.

    Returns
    -------
    float array, shape (6, 81)
        Each wavelength's shares sum to 1. [1]

    Source
    ------
    d'Eon and Luebke 2007; see `SEEP_VARIANCE`. Linear between the three colours.
    """
    knots = sorted(_SEEP_SHARES)
    table = np.array([_SEEP_SHARES[knot] for knot in knots])
    shares = np.array([np.interp(WAVELENGTHS_NM, knots, column) for column in table.T])
    return shares / shares.sum(axis=0)


def hair_reflectance(colour: str) -> FloatArray:
    """Return the diffuse albedo of hair.

    Parameters
    ----------
    colour : str
        A key of `HAIR_COLOURS`.

    Returns
    -------
    float array, shape (81,)
        [1]

    Raises
    ------
    ValueError
        There is no such colour.
    """
    if colour not in HAIR_COLOURS:
        raise ValueError(f"hair is one of {', '.join(HAIR_COLOURS)}, not '{colour}'")
    wavelengths, values = np.array(HAIR_COLOURS[colour], dtype=float).T
    return resample(wavelengths, values)


def luminance_reflectance(reflectance: ArrayLike, spectrum: ArrayLike) -> FloatArray:
    """Return the share of a light's lumens that a surface sends back.

    Parameters
    ----------
    reflectance : float array, shape (..., 81)
        [1]
    spectrum : float array, shape (81,)
        Spectral power of the light. [any]

    Returns
    -------
    float array, shape (...)
        Y of the surface over Y of perfect white. [1]

    Raises
    ------
    ValueError
        The light is not the 81 samples.
    """
    light = np.asarray(spectrum, dtype=float)
    if light.shape != WAVELENGTHS_NM.shape:
        raise ValueError(f"a spectrum has {WAVELENGTHS_NM.size} samples, got shape {light.shape}")
    seen = light * observer()[1]
    return np.asarray(reflectance, dtype=float) @ (seen / seen.sum())
