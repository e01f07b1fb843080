"""Formulae of meters and lenses that tests hold the program to; the program itself has no use for them."""

from __future__ import annotations

import numpy as np

from previz.physics.exposure import INCIDENT_CONSTANT, REFLECTED_CONSTANT
from previz.physics.lens import _positive, image_distance
from previz.physics.meter import _checked, _settings


def angle_of_view(width, focal, *, squeeze=1.0):
    """Return the full angle that a sensor side sees at infinity: 2 atan(q w / 2f).

    Parameters
    ----------
    width : float array, shape (...)
        w, side of the sensor. [m]
    focal : float array, shape (...)
        f. [m]
    squeeze : float
        q of an anamorphic lens, for the side it squeezes. [1]

    Returns
    -------
    float array, shape (...)
        [deg]

    Raises
    ------
    ValueError
        A length is not above 0.
    """
    _positive(width=width, focal=focal, squeeze=squeeze)
    return np.degrees(2 * np.arctan(squeeze * np.asarray(width) / (2 * np.asarray(focal))))


def magnification(focal, focus):
    """Return image size over object size: f / (s - f).

    Parameters
    ----------
    focal, focus : float
        f and s. [m]

    Returns
    -------
    float
        m; the bellows factor of the stop is 1 + m. [1]

    Raises
    ------
    ValueError
        The focus is inside the focal length.
    """
    return image_distance(focal, focus) / focus


def blur_disc(focal, *, f_number, focus, distance):
    """Return the diameter of the blur of a point that is out of focus.

    b = (f / N) · m · |d - s| / d, m = f / (s - f).

    Parameters
    ----------
    focal : float
        f. [m]
    f_number : float
        N, not the T-stop. [1]
    focus : float
        s. [m]
    distance : float array, shape (...)
        d of the point, above 0. [m]

    Returns
    -------
    float array, shape (...)
        Diameter on the sensor. [m]

    Raises
    ------
    ValueError
        A number is not above 0, or the focus is inside the focal length.
    """
    _positive(f_number=f_number, distance=distance)
    away = np.asarray(distance, dtype=float)
    return focal / f_number * magnification(focal, focus) * np.abs(away - focus) / away


def reflected_f_number(luminance, *, exposure_index, shutter, constant=REFLECTED_CONSTANT):
    """Return the stop a spot meter shows.

    Solves N² / t = L · S / K for N.

    Parameters
    ----------
    luminance : float array, shape (...)
        L of what the meter is pointed at. [cd/m²]
    exposure_index : float
        S. [1]
    shutter : float
        t. [s]
    constant : float
        K. [cd/m² s]

    Returns
    -------
    float array, shape (...)
        N. [1]

    Raises
    ------
    ValueError
        A luminance is negative or not finite, or a setting is not above 0.

    Source
    ------
    ISO 2720:1974, reflected-light exposure equation.
    """
    nits = _checked("luminance", "cd/m²", luminance)
    _settings(exposure_index=exposure_index, shutter=shutter, constant=constant)
    return np.sqrt(nits * exposure_index * shutter / constant)


def exposure_value(f_number, shutter, exposure_index=100.0):
    """Return EV at ISO 100 of camera settings: log2(N² / t · 100 / S).

    Parameters
    ----------
    f_number, shutter : float array, shape (...)
        N [1] and t [s].
    exposure_index : float
        S. [1]

    Returns
    -------
    float array, shape (...)
        [EV]
    """
    stops = np.asarray(f_number, dtype=float) ** 2 / np.asarray(shutter, dtype=float)
    return np.log2(stops * 100.0 / exposure_index)


def illuminance_from_ev(ev, constant=INCIDENT_CONSTANT):
    """Return the illuminance of an EV at ISO 100: C 2^EV / 100.

    Parameters
    ----------
    ev : float array, shape (...)
        [EV]
    constant : float
        C. [lx s]

    Returns
    -------
    float array, shape (...)
        [lx]
    """
    return constant * 2.0 ** np.asarray(ev, dtype=float) / 100


def luminance_from_ev(ev, constant=REFLECTED_CONSTANT):
    """Return the luminance of an EV at ISO 100: K 2^EV / 100.

    Parameters
    ----------
    ev : float array, shape (...)
        [EV]
    constant : float
        K. [cd/m² s]

    Returns
    -------
    float array, shape (...)
        [cd/m²]
    """
    return constant * 2.0 ** np.asarray(ev, dtype=float) / 100


def stops_between(high, low):
    """Return how many stops lie between two amounts of light: log2(high / low).

    Parameters
    ----------
    high, low : float array, shape (...)
        Any light quantity, above 0. [same]

    Returns
    -------
    float array, shape (...)
        [stops]
    """
    return np.log2(np.asarray(high, dtype=float) / np.asarray(low, dtype=float))
