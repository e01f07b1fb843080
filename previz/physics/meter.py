"""Light meters: from lux or luminance to a stop, and the ratios a set is balanced by."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.exposure import INCIDENT_CONSTANT, REFLECTED_CONSTANT

LUX_PER_FOOTCANDLE = 1 / 0.3048**2
"""10.763910. [lx/fc]  Source: the international foot, exact."""

NITS_PER_FOOTLAMBERT = LUX_PER_FOOTCANDLE / np.pi
"""3.426259. [cd/m² per fL]"""


def _checked(label: str, unit: str, value: ArrayLike) -> FloatArray:
    number = np.asarray(value, dtype=float)
    bad = number[~(np.isfinite(number) & (number >= 0))]
    if bad.size:
        raise ValueError(f"{label} must be finite and 0 {unit} or more, got {bad[0]:g} {unit}")
    return number


def _settings(**values: float) -> None:
    for name, value in values.items():
        if not value > 0:
            raise ValueError(f"{name} must be above 0, got {value:g}")


def incident_f_number(illuminance: ArrayLike, *, exposure_index: float, shutter: float,
                      constant: float = INCIDENT_CONSTANT) -> FloatArray:
    """Return the stop an incident meter shows.

    Solves N² / t = E · S / C for N.

    Parameters
    ----------
    illuminance : float array, shape (...)
        E, light arriving at the receptor. [lx]
    exposure_index : float
        S. [1]
    shutter : float
        t; 180° at 24 frames/s is 1/48. [s]
    constant : float
        C; 250 suits a flat receptor. [lx s]

    Returns
    -------
    float array, shape (...)
        N; 0 where no light arrives. [1]

    Raises
    ------
    ValueError
        An illuminance is negative or not finite, or a setting is not above 0.

    Source
    ------
    ISO 2720:1974, incident-light exposure equation.
    """
    lux = _checked("illuminance", "lx", illuminance)
    _settings(exposure_index=exposure_index, shutter=shutter, constant=constant)
    return np.sqrt(lux * exposure_index * shutter / constant)


def illuminance_for_stop(stop: ArrayLike, *, exposure_index: float, shutter: float,
                         constant: float = INCIDENT_CONSTANT) -> FloatArray:
    """Return the light that meters at a stop: E = C N² / (t S).

    Parameters
    ----------
    stop : float array, shape (...)
        N (or T, for a lens marked so). [1]
    exposure_index : float
        S. [1]
    shutter : float
        t. [s]
    constant : float
        C. [lx s]

    Returns
    -------
    float array, shape (...)
        E. [lx]

    Raises
    ------
    ValueError
        A setting is not above 0.
    """
    _settings(exposure_index=exposure_index, shutter=shutter, constant=constant)
    return constant * np.asarray(stop, dtype=float) ** 2 / (shutter * exposure_index)


def ev_from_illuminance(illuminance: ArrayLike, constant: float = INCIDENT_CONSTANT) -> FloatArray:
    """Return EV at ISO 100 of an incident reading: log2(100 E / C).

    Parameters
    ----------
    illuminance : float array, shape (...)
        E, above 0. [lx]
    constant : float
        C. [lx s]

    Returns
    -------
    float array, shape (...)
        [EV]
    """
    return np.log2(100 * np.asarray(illuminance, dtype=float) / constant)


def ev_from_luminance(luminance: ArrayLike) -> FloatArray:
    """Return EV at ISO 100 of a spot reading: log2(100 L / K), K being `REFLECTED_CONSTANT`.

    Parameters
    ----------
    luminance : float array, shape (...)
        L, above 0. [cd/m²]

    Returns
    -------
    float array, shape (...)
        [EV]
    """
    return np.log2(100 * np.asarray(luminance, dtype=float) / REFLECTED_CONSTANT)


def agreeing_reflectance(reflected: float = REFLECTED_CONSTANT, incident: float = INCIDENT_CONSTANT) -> float:
    """Return the card on which a spot and an incident meter agree: pi K / C.

    Parameters
    ----------
    reflected, incident : float
        K [cd/m² s] and C [lx s].

    Returns
    -------
    float
        Reflectance, 15.7 % with 12.5 and 250. [1]
    """
    return float(np.pi * reflected / incident)


def saturation_luminance(ev: ArrayLike) -> FloatArray:
    """Return the luminance that just saturates a sensor: 78 / (100 q) · 2^EV.

    q = pi/4 · lens transmission · cos⁴ is 0.65, as in the standard.

    Parameters
    ----------
    ev : float array, shape (...)
        EV at ISO 100 of the settings. [EV]

    Returns
    -------
    float array, shape (...)
        L, 1.2 · 2^EV. [cd/m²]

    Source
    ------
    ISO 12232, saturation based speed S = 78 / H.
    """
    return 78.0 / (100.0 * 0.65) * 2.0 ** np.asarray(ev, dtype=float)


def key_to_fill(key: ArrayLike, fill: ArrayLike) -> FloatArray:
    """Return key : fill, each metered alone.

    Parameters
    ----------
    key, fill : float array, shape (...)
        Illuminance at the face. [lx]

    Returns
    -------
    float array, shape (...)
        K / F; 4 is '4:1'. [1]
    """
    return np.asarray(key, dtype=float) / np.asarray(fill, dtype=float)


def lighting_ratio(key: ArrayLike, fill: ArrayLike) -> FloatArray:
    """Return the lit side against the shadow side: (key + fill) : fill.

    Print it together with `key_to_fill` and name both: the two are easily taken for each other.

    Parameters
    ----------
    key, fill : float array, shape (...)
        Illuminance at the face, the fill reaching both sides. [lx]

    Returns
    -------
    float array, shape (...)
        (K + F) / F. [1]
    """
    filled = np.asarray(fill, dtype=float)
    return (np.asarray(key, dtype=float) + filled) / filled
