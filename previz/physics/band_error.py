"""How far bands may leave a reading off: what is known of the error that no more paths can cure.

Light that arrives at a meter is known band by band for one unit of each lamp. From the colours that
there are in a stage it is worked out which of them it has met: it is decomposed into light off one of
them, off one after the other, or off none, whose bands come nearest. For each of these, the light
at 5 nm and what bands make of it are both known, and so is the difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.band_weights import weighed_band_xyz
from previz.physics.bands import band_means
from previz.physics.nonnegative import shares_of
from previz.physics.spectra import WAVELENGTHS_NM, xyz_of
from previz.physics.uplift import basis

ALIKE = 0.99995
"""Cosine between two colours' bands from which they are one colour. [1]"""

MOST_COLOURS = 48
"""Colours of a stage that are followed, the first ones; a stage has hardly more different ones."""

SPREAD = 0.01
"""How evenly light is given to chains that would do alike, against the brightest band. [1]"""

DOUBT = 0.2
"""Share of the errors without their signs that is added. [1]"""

EVEN = 1e-6
"""Bands that differ by no more than this share have met no colour. [1]"""


@dataclass(frozen=True, eq=False)
class ReflectionChains:
    """The surfaces that light may have met one after the other, as spectra and as bands.

    Parameters
    ----------
    spectra : float array, shape (chains, 81)
        What is left at each wavelength, after no surface first. [1]
    bands : float array, shape (chains, n)
        The same as the engine knows it: products of means. [1]
    once : int
        So many of them, the first ones, met one colour at most.
    """

    spectra: np.ndarray
    bands: np.ndarray
    once: int

    def decompose(self, arriving: FloatArray) -> tuple[np.ndarray, np.ndarray]:
        """Return how much came by each chain, and what is left over in each band.

        Parameters
        ----------
        arriving : float array, shape (n,)
            Light in each band, of an even lamp. [any]

        Returns
        -------
        float array, shape (chains,)
            [as arriving]
        float array, shape (n,)
            What no chain explains. [as arriving]
        """
        amounts = shares_of(self.bands.T, arriving, SPREAD * arriving.max())
        return amounts, np.abs(arriving - amounts @ self.bands)


@lru_cache(maxsize=16)
def reflection_chains(colours: bytes, n: int) -> ReflectionChains:
    """Return the chains of reflections among some colours: off none, one, or two, or thrice off one.

    Parameters
    ----------
    colours : bytes
        Of a float array, shape (colours, 81): reflectances and transmissions of a stage. [1]
    n : int
        Number of bands.
    """
    given = np.frombuffer(colours).reshape(-1, WAVELENGTHS_NM.size)
    kept, means = [np.ones(WAVELENGTHS_NM.size)], [np.ones(n)]
    # The primaries stand for whatever a picture on a surface may show.
    for colour in [*given, *basis()]:
        mean = band_means(colour, n)
        norm = np.linalg.norm(mean)
        alike = any(mean @ one > ALIKE * norm * np.linalg.norm(one) for one in means)
        if norm > 0 and not alike and len(kept) <= MOST_COLOURS + 3:
            kept.append(colour)
            means.append(mean)
    spectra, bands = np.array(kept), np.array(means)
    first, second = np.triu_indices(len(kept))
    once_more = np.flatnonzero(first == second)[1:]
    pairs = spectra[first] * spectra[second], bands[first] * bands[second]
    thrice = [each[once_more] * one[1:] for each, one in zip(pairs, (spectra, bands), strict=True)]
    every, banded = (np.concatenate(each) for each in zip(pairs, thrice, strict=True))
    return ReflectionChains(every, banded, len(kept))


@lru_cache(maxsize=1 << 14)
def _decomposed(arriving: bytes, colours: bytes, n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    amounts, left = reflection_chains(colours, n).decompose(np.frombuffer(arriving))
    some = np.flatnonzero(amounts)
    return some, amounts[some], left


@lru_cache(maxsize=1024)
def _off(spectrum: bytes, colours: bytes, n: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Return each chain's error, what each band counts, and the worst relative error off one colour."""
    light, known = np.frombuffer(spectrum), reflection_chains(colours, n)
    counts = weighed_band_xyz(light, n)[:, 1]
    exact = xyz_of(light * known.spectra)[:, 1]
    off = known.bands @ counts - exact
    once = slice(0, known.once)
    worst = np.max(np.abs(off[once]) / np.maximum(exact[once], 1e-3 * exact[0]))
    return off, counts, float(worst)


def band_error(arriving: ArrayLike, spectrum: ArrayLike, colours: ArrayLike) -> float:
    """Return how far bands may leave the luminance or illuminance of one lamp's light off.

    Parameters
    ----------
    arriving : float array, shape (n,)
        Light at the meter in each band, per unit of the lamp's light in the band. [any]
    spectrum : float array, shape (81,)
        Of the lamp's light, gels and level included. [W/nm]
    colours : float array, shape (colours, 81)
        Reflectances and transmissions of what may have been met. [1]

    Returns
    -------
    float
        0 for light that met no colour. [lm times arriving]

    Limits
    ------
    What met colours that are not among those given is judged by the bands that they cannot explain.
    """
    values = np.asarray(arriving, dtype=float)
    most = values.max(initial=0.0)
    if not most > 0 or not np.any(spectrum) or np.ptp(values) <= EVEN * most:
        return 0.0
    given = np.ascontiguousarray(colours, dtype=float).tobytes()
    some, amounts, left = _decomposed(np.maximum(values / most, 0.0).tobytes(), given, len(values))
    off, counts, worst = _off(np.ascontiguousarray(spectrum, dtype=float).tobytes(), given,
                              len(values))
    parts = amounts * off[some]
    return float(most * (abs(parts.sum()) + DOUBT * np.abs(parts).sum() + worst * (left @ counts)))
