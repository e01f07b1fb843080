"""What each band of a lamp's light counts once surfaces have met it.

A surface is known by its mean in each band, and a lamp with lines has most of its light at a few
wavelengths in them. Were each band to count by the lamp's own light in it, a red wall, whose
reflectance climbs through the band that holds a red line, would count at the band's mean and not
at the line. So bands of each lamp are weighed such that the light off many idealised surfaces
comes out best, while what has met no surface, or only greys, stays exact:

    least  sum over surfaces of ((sum over bands of w · mean - light) / Y)²,
    with   sum over bands of w = XYZ of the lamp, and no w below 0.

That is arithmetic after the render. No ray knows of it, and no reading can fall below zero.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.bands import DEFAULT_BANDS, band_means, band_xyz
from previz.physics.nonnegative import constrained
from previz.physics.spectra import K_M, STEP_NM, WAVELENGTHS_NM, observer
from previz.physics.uplift import reflectance_from_rgb

EDGES_NM = tuple(range(400, 701, 10))
"""Where the idealised pigments change. [nm]"""

WIDTHS_NM = (50.0, 90.0)
"""From a tenth to nine tenths of a pigment's edge.  Source: the usual steepness of paints and
dyes, common practice, no source. [nm]"""

HUMPS_NM = (60.0, 120.0)
"""Full width at half height of a pigment that reflects, or swallows, one part. [nm]"""

FLOORS = (0.05, 0.2, 0.5)
"""What a pigment reflects where it is dark; 0.85 where it is bright. [1]"""

BRIGHT = 0.85

TWICE = 0.03
"""Share of light that meets the same colour twice. More of it helps rooms of one strong colour
and harms single reflections. [1]"""

STEADY = 0.01
"""How much the plain weights pull, against a mean square relative error of 1. [1]"""

DARKEST = 0.003
"""Light as weak as this share of the lamp's counts no more than that. [1]"""

_KEPT = 1024
"""Lamps whose weights are kept."""


def idealised_surfaces() -> tuple[FloatArray, FloatArray]:
    """Return the reflectances that bands are weighed by.

    Returns
    -------
    float array, shape (surfaces, 81)
        Edges and humps over the spectrum, and picked colours. [1]
    float array, shape (surfaces,)
        What each counts; pigments together as much as picked colours. [1]
    """
    shapes = []
    for place in EDGES_NM:
        for width in WIDTHS_NM:
            # A logistic goes from 0.1 to 0.9 over 2 ln 9 of its unit.
            edge = 1 / (1 + np.exp(-(WAVELENGTHS_NM - place) * 2 * np.log(9.0) / width))
            shapes += [edge, 1 - edge]
        for width in HUMPS_NM:
            hump = np.exp(-4 * np.log(2.0) * ((WAVELENGTHS_NM - place) / width) ** 2)
            shapes += [hump, 1 - hump]
    pigments = np.concatenate([floor + (BRIGHT - floor) * np.array(shapes) for floor in FLOORS])
    steps = np.array([0.02, 0.2, 0.8])
    picked = reflectance_from_rgb(np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3))
    counts = [np.full(len(each), 1 / len(each)) for each in (pigments, picked)]
    return np.concatenate([pigments, picked]), np.concatenate(counts)


@lru_cache(maxsize=32)
def _examples(n: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return (reflectances, their bands, counts) of light that met one surface, or one twice."""
    once, counts = idealised_surfaces()
    means = band_means(once, n)
    return (np.concatenate([once, once**2]), np.concatenate([means, means**2]),
            np.concatenate([counts, TWICE * counts]))


def weighed_band_xyz(spectrum: ArrayLike, n: int = DEFAULT_BANDS) -> FloatArray:
    """Return what each band of a lamp's light adds to X, Y and Z, surfaces considered.

    Summed over the bands this is exactly `spectra.xyz_of(spectrum)`.

    Parameters
    ----------
    spectrum : float array, shape (81,)
        Spectral power. [W/nm]
    n : int
        Number of bands.

    Returns
    -------
    float array, shape (n, 3)
        0 or more. [lm]

    Raises
    ------
    ValueError
        The spectrum is not the 81 samples.
    """
    values = np.asarray(spectrum, dtype=float)
    plain = band_xyz(values, n)
    whole = float(plain[:, 1].sum())
    if not whole > 0:
        return plain
    return np.frombuffer(_weighed((values / whole).tobytes(), n)).reshape(n, 3) * whole


@lru_cache(maxsize=_KEPT)
def _weighed(one_lumen: bytes, n: int) -> bytes:
    spectrum = np.frombuffer(one_lumen)
    reflectances, means, counts = _examples(n)
    plain = band_xyz(spectrum, n)
    light = reflectances @ (spectrum * observer()).T * (K_M * STEP_NM)
    weight = counts / (light[:, 1] + DARKEST) ** 2
    gram = (means.T * weight) @ means + STEADY * np.eye(n)
    target = (means.T * weight) @ light + STEADY * plain
    return np.stack([constrained(gram, target[:, c], plain[:, c]) for c in range(3)], axis=1).tobytes()
