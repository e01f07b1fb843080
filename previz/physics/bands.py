"""Wavelength bands: the few slices of the spectrum that light is carried in.

A material has one albedo for each band; a lamp's spectrum stays at 5 nm, and `band_weights` says
what each band of it counts. Twelve bands keep the 24 colours of the usual test chart under tungsten,
daylight, tubes and LEDs within CIEDE2000 0.14 on average and 1.0 at worst of the 5 nm result, after
one and after two reflections (`tests/physics/test_bands.py` measures it).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.spectra import K_M, STEP_NM, WAVELENGTHS_NM, observer
from previz.physics.tables import read_table

DEFAULT_BANDS = 12
"""Number of bands by default."""


def band_edges(n: int = DEFAULT_BANDS) -> FloatArray:
    """Return where the spectrum is cut into n bands.

    The cuts are the cheapest ones by `band_search`, read from the table it was written to.

    Parameters
    ----------
    n : int
        Number of bands, 1 to 24.

    Returns
    -------
    float array, shape (n + 1,)
        Rising edges, 380 to 780. [nm]

    Raises
    ------
    ValueError
        No cut into so many bands is tabulated.
    """
    table = read_table("band_edges")
    edges = table["edge_nm"][table["bands"] == n]
    if edges.size == 0:
        most = int(table["bands"].max())
        raise ValueError(f"the spectrum can be cut into 1 to {most} bands, got {n!r}")
    return edges


@cache
def band_shares(n: int = DEFAULT_BANDS) -> FloatArray:
    """Return the share of each 5 nm sample that belongs to each of n bands.

    Parameters
    ----------
    n : int
        Number of bands.

    Returns
    -------
    float array, shape (n, 81)
        Every column sums to 1; read-only. [1]

    Raises
    ------
    ValueError
        No cut into so many bands is tabulated.
    """
    edges = band_edges(n)
    # Each sample stands for the 5 nm about it, cut short at both ends of the grid.
    low = np.maximum(WAVELENGTHS_NM - STEP_NM / 2, WAVELENGTHS_NM[0])
    high = np.minimum(WAVELENGTHS_NM + STEP_NM / 2, WAVELENGTHS_NM[-1])
    shared = np.minimum(high, edges[1:, None]) - np.maximum(low, edges[:-1, None])
    shares = np.clip(shared, 0.0, None) / (high - low)
    shares.setflags(write=False)
    return shares


def band_means(reflectance: ArrayLike, n: int = DEFAULT_BANDS) -> FloatArray:
    """Return the mean of a reflectance or transmission in each band.

    The mean is weighted by x-bar + y-bar + z-bar: by how much the eye makes of a wavelength in
    equal-energy light.

    Parameters
    ----------
    reflectance : float array, shape (..., 81)
        Spectrum. [1]
    n : int
        Number of bands.

    Returns
    -------
    float array, shape (..., n)
        Band values; never outside the range of the spectrum. [1]

    Raises
    ------
    ValueError
        The last axis is not the 81 samples.
    """
    values = np.asarray(reflectance, dtype=float)
    if values.shape[-1:] != WAVELENGTHS_NM.shape:
        raise ValueError(f"a spectrum has {WAVELENGTHS_NM.size} samples, got shape {values.shape}")
    weighted = band_shares(n) * observer().sum(axis=0)
    return values @ (weighted / weighted.sum(axis=1, keepdims=True)).T


def band_xyz(spectrum: ArrayLike, n: int = DEFAULT_BANDS) -> FloatArray:
    """Return what each band of a light adds to X, Y and Z.

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
        683.002 · 5 nm · sum over the band of S · cmf. [lm]

    Raises
    ------
    ValueError
        The spectrum is not the 81 samples.
    """
    values = np.asarray(spectrum, dtype=float)
    if values.shape != WAVELENGTHS_NM.shape:
        raise ValueError(f"a spectrum has {WAVELENGTHS_NM.size} samples, got shape {values.shape}")
    return (band_shares(n) * values) @ observer().T * (K_M * STEP_NM)
