"""From linear light to video signal and back: BT.709, BT.1886, sRGB, PQ and HLG.

All signals are 0 to 1; what a waveform monitor calls 41 % is 0.41 here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.physics.arrays import FloatArray

HLG_PEAK = 1000.0
"""Nominal peak of the HLG display that line-up levels are given for. [cd/m²]"""

HLG_SYSTEM_GAMMA = 1.2
"""OOTF exponent at 1000 cd/m².  Source: ITU-R BT.2100."""

_PQ_M1, _PQ_M2 = 2610 / 16384, 2523 / 4096 * 128
_PQ_C1, _PQ_C2, _PQ_C3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
_HLG_A = 0.17883277
_HLG_B = 1 - 4 * _HLG_A
_HLG_C = 0.5 - _HLG_A * np.log(4 * _HLG_A)


def bt709_signal(light: ArrayLike) -> FloatArray:
    """Return the BT.709 signal of scene light: 4.5 L below 0.018, else 1.099 L^0.45 - 0.099.

    Parameters
    ----------
    light : float array, shape (...)
        L, scene-linear, 0 to 1 (above is carried on). [1]

    Returns
    -------
    float array, shape (...)
        Signal. [1]

    Source
    ------
    ITU-R BT.709-6, item 1.2.
    """
    linear = np.maximum(np.asarray(light, dtype=float), 0.0)
    return np.where(linear < 0.018, 4.5 * linear, 1.099 * linear**0.45 - 0.099)


def narrow_code(signal: ArrayLike, bits: int = 10) -> NDArray[np.int64]:
    """Return the narrow-range code value of a signal: (219 V + 16) · 2^(bits - 8), rounded.

    Parameters
    ----------
    signal : float array, shape (...)
        V. [1]
    bits : int
        8, 10 or 12.

    Returns
    -------
    int array, shape (...)

    Source
    ------
    ITU-R BT.709-6, item 4.6.
    """
    code = (219 * np.asarray(signal, dtype=float) + 16) * 2 ** (bits - 8)
    return np.floor(code + 0.5).astype(int)


def bt1886_light(signal: ArrayLike) -> FloatArray:
    """Return the light of a BT.1886 display with perfect black: V^2.4.

    Parameters
    ----------
    signal : float array, shape (...)
        V. [1]

    Returns
    -------
    float array, shape (...)
        Share of the display's peak. [1]

    Source
    ------
    ITU-R BT.1886, Annex 1.
    """
    return np.maximum(np.asarray(signal, dtype=float), 0.0) ** 2.4


def srgb_signal(light: ArrayLike) -> FloatArray:
    """Return the sRGB signal: 12.92 L below 0.0031308, else 1.055 L^(1/2.4) - 0.055.

    Parameters
    ----------
    light : float array, shape (...)
        L, linear. [1]

    Returns
    -------
    float array, shape (...)
        Signal. [1]

    Source
    ------
    IEC 61966-2-1.
    """
    linear = np.maximum(np.asarray(light, dtype=float), 0.0)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def pq_signal(luminance: ArrayLike) -> FloatArray:
    """Return the PQ signal of a display luminance.

    Parameters
    ----------
    luminance : float array, shape (...)
        0 to 10 000. [cd/m²]

    Returns
    -------
    float array, shape (...)
        Signal. [1]

    Source
    ------
    ITU-R BT.2100, table 4 (inverse EOTF); SMPTE ST 2084.
    """
    share = np.clip(np.asarray(luminance, dtype=float) / 10000.0, 0.0, 1.0) ** _PQ_M1
    return ((_PQ_C1 + _PQ_C2 * share) / (1 + _PQ_C3 * share)) ** _PQ_M2


def hlg_signal(light: ArrayLike) -> FloatArray:
    """Return the HLG signal of scene light: sqrt(3E) up to 1/12, else a ln(12E - b) + c.

    Parameters
    ----------
    light : float array, shape (...)
        E, scene-linear, 0 to 1. [1]

    Returns
    -------
    float array, shape (...)
        Signal. [1]

    Source
    ------
    ITU-R BT.2100, table 5 (OETF).
    """
    linear = np.maximum(np.asarray(light, dtype=float), 0.0)
    above = np.maximum(12 * linear - _HLG_B, 1e-12)
    return np.where(linear <= 1 / 12, np.sqrt(3 * linear), _HLG_A * np.log(above) + _HLG_C)


def hlg_light(signal: ArrayLike) -> FloatArray:
    """Return the scene light of an HLG signal, the inverse of `hlg_signal`.

    Parameters
    ----------
    signal : float array, shape (...)
        0 to 1. [1]

    Returns
    -------
    float array, shape (...)
        E. [1]

    Source
    ------
    ITU-R BT.2100, table 5.
    """
    value = np.maximum(np.asarray(signal, dtype=float), 0.0)
    return np.where(value <= 0.5, value**2 / 3, (np.exp((value - _HLG_C) / _HLG_A) + _HLG_B) / 12)


def hlg_display(light: ArrayLike) -> FloatArray:
    """Return the luminance an HLG display of `HLG_PEAK` gives grey scene light: peak · E^1.2.

    Parameters
    ----------
    light : float array, shape (...)
        E, scene-linear, neutral. [1]

    Returns
    -------
    float array, shape (...)
        [cd/m²]

    Source
    ------
    ITU-R BT.2100, table 5 (OOTF).
    """
    return HLG_PEAK * np.maximum(np.asarray(light, dtype=float), 0.0) ** HLG_SYSTEM_GAMMA


def hdr_lineup(reflectance: ArrayLike) -> dict[str, FloatArray]:
    """Return the HDR levels of a card in a programme whose white card sits at 75 % HLG.

    Parameters
    ----------
    reflectance : float array, shape (...)
        Of the card; 1 is the white card. [1]

    Returns
    -------
    dict of str to float array, shape (...)
        'luminance' [cd/m²], 'hlg' and 'pq' signal. [1]

    Source
    ------
    Report ITU-R BT.2408, table 1 (its rule, HLG at 1000 cd/m²).
    """
    light = np.asarray(reflectance, dtype=float) * hlg_light(0.75)
    luminance = hlg_display(light)
    return {"luminance": luminance, "hlg": hlg_signal(light), "pq": pq_signal(luminance)}
