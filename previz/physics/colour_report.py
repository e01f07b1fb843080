"""Colour quality of a light, computed by the colour library when a report needs it.

The library takes 20 ms for a light, and the same lights are asked for again: on the page, and by each sheet.
"""

from __future__ import annotations

import contextlib
import functools
import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.spectra import WAVELENGTHS_NM


@contextlib.contextmanager
def _library() -> Iterator[Any]:
    """Load the colour library, which is slow, and keep its warnings of parts not used here quiet."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

        yield colour


def _samples(spectrum: ArrayLike) -> bytes:
    """Return a spectrum as its numbers, by which what was worked out is found again."""
    values = np.asarray(spectrum, dtype=float)
    if values.shape != WAVELENGTHS_NM.shape:
        raise ValueError(f"a spectrum has {WAVELENGTHS_NM.size} samples, got shape {values.shape}")
    # Indices do not depend on the level, but one of them divides by the sum of tiny numbers.
    return (values / values.max()).tobytes()


def _distribution(colour: Any, samples: bytes) -> Any:
    """Return a spectrum as the colour library takes it."""
    return colour.SpectralDistribution(dict(zip(WAVELENGTHS_NM, np.frombuffer(samples), strict=True)))


def colour_rendering_index(spectrum: ArrayLike) -> float:
    """Return the CIE general colour rendering index.

    Parameters
    ----------
    spectrum : float array, shape (81,)
        Spectral power of the light. [any]

    Returns
    -------
    float
        Ra, 100 at best. [1]

    Raises
    ------
    ValueError
        The spectrum is not the 81 samples.

    Source
    ------
    CIE 13.3-1995.
    """
    return _rendering_index(_samples(spectrum))


@functools.lru_cache(maxsize=1024)
def _rendering_index(samples: bytes) -> float:
    with _library() as colour:
        return float(colour.colour_rendering_index(_distribution(colour, samples)))


def colour_fidelity(spectrum: ArrayLike) -> tuple[float, float]:
    """Return fidelity and gamut index.

    Parameters
    ----------
    spectrum : float array, shape (81,)
        Spectral power of the light. [any]

    Returns
    -------
    (float, float)
        Rf, 100 at best, and Rg, 100 for as colourful as the reference. [1]

    Raises
    ------
    ValueError
        The spectrum is not the 81 samples.

    Source
    ------
    ANSI/IES TM-30-18 (Rf equals CIE 224:2017).
    """
    return _fidelity(_samples(spectrum))


@functools.lru_cache(maxsize=1024)
def _fidelity(samples: bytes) -> tuple[float, float]:
    with _library() as colour:
        light = _distribution(colour, samples)
        report = colour.colour_fidelity_index(light, additional_data=True, method="ANSI/IES TM-30-18")
        return float(report.R_f), float(report.R_g)


def spectral_similarity(spectrum: ArrayLike, reference: ArrayLike) -> float:
    """Return how alike two lights are to a camera.

    Parameters
    ----------
    spectrum, reference : float array, shape (81,)
        Spectral power. [any]

    Returns
    -------
    float
        SSI, a whole number, 100 for the same spectrum. [1]

    Raises
    ------
    ValueError
        A spectrum is not the 81 samples.

    Source
    ------
    SMPTE ST 2122:2020 (number from memory).
    """
    with _library() as colour:
        light, other = (_distribution(colour, _samples(each)) for each in (spectrum, reference))
        return float(colour.spectral_similarity_index(light, other))
