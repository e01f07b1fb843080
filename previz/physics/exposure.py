"""Exposure: how a camera's settings turn scene luminance into signal.

The camera is rated so that an 18 % card in light metered at its stop comes out at 0.18: the
signal is luminance over the luminance of a perfect white card in that light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.taking import Optics
from previz.physics.viewing import ShowFile

INCIDENT_CONSTANT = 250.0
"""C of a flat receptor; recommended 240 to 400. [lx s]  Source: ISO 2720:1974."""

DOME_CONSTANT = 330.0
"""C of a domed receptor; recommended 320 to 540. [lx s]  Source: ISO 2720:1974."""

REFLECTED_CONSTANT = 12.5
"""K; recommended 10.6 to 13.4. [cd/m² s]  Source: ISO 2720:1974."""

MID_GREY = 0.18
"""Reflectance of the card that exposure is stated for. [1]"""

DENSITY_OF_A_STOP = float(np.log10(2.0))
"""Optical density that halves the light. [1]"""


@dataclass(frozen=True)
class CameraSettings:
    """What is set on a camera and lens.

    Parameters
    ----------
    stop : float
        T, the T-stop: f-number over the square root of the lens transmission. [1]
    iso : float
        S, exposure index. [1]
    shutter_s : float
        t, exposure time of a frame; 180° at 24 frames/s is 1/48. [s]
    nd_density : float
        Density of the neutral filters on the lens. [1]
    white_balance : float
        Correlated colour temperature the camera takes for white. [K]
    tint : float
        Duv it takes for white, plus towards green. [1]
    over, under : float or None
        What it holds over and under mid grey, above 0; None for no limit. [stops]
    show : ShowFile or None
        What its picture is looked at through; None for the plain view. Readings know nothing of it.
    optics : Optics or None
        What its lens and sensor do to pictures, which readings know nothing of either.

    Raises
    ------
    ValueError
        A setting that must be above zero is not, or the density is negative.
    """

    stop: float
    iso: float
    shutter_s: float
    nd_density: float = 0.0
    white_balance: float = 5600.0
    tint: float = 0.0
    over: float | None = None
    under: float | None = None
    show: ShowFile | None = None
    optics: Optics | None = None

    def __post_init__(self) -> None:
        for label in ("stop", "iso", "shutter_s", "white_balance", "over", "under"):
            value = getattr(self, label)
            if value is None and label in ("over", "under"):
                continue
            if not (np.isfinite(value) and value > 0):
                raise ValueError(f"{label} must be above 0, got {value!r}")
        if not (np.isfinite(self.nd_density) and self.nd_density >= 0):
            raise ValueError(f"nd_density must be 0 or more, got {self.nd_density!r}")
        if not np.isfinite(self.tint):
            raise ValueError(f"tint must be a number, got {self.tint!r}")


def density_transmission(density: ArrayLike) -> FloatArray:
    """Return the share of light that a neutral filter passes.

    tau = 10^-D.

    Parameters
    ----------
    density : float array, shape (...)
        D. [1]

    Returns
    -------
    float array, shape (...)
        tau. [1]
    """
    return 10.0 ** -np.asarray(density, dtype=float)


def density_stops(density: ArrayLike) -> FloatArray:
    """Return the stops that a neutral filter costs: D / log10(2).

    Parameters
    ----------
    density : float array, shape (...)
        D. [1]

    Returns
    -------
    float array, shape (...)
        Loss, positive. [stops]
    """
    return np.asarray(density, dtype=float) / DENSITY_OF_A_STOP


def signal_per_luminance(settings: CameraSettings) -> float:
    """Return the factor from scene luminance to camera signal.

    signal = pi · L · t · S · tau / (C · T²), with tau of the neutral filters and C of a flat receptor.

    Parameters
    ----------
    settings : CameraSettings
        The camera.

    Returns
    -------
    float
        Signal of 1 cd/m²; 1 is a perfect white card in the light that meters at this stop.
        [m²/cd]

    Source
    ------
    ISO 2720:1974, incident equation T² / t = E S / C, with L = rho E / pi.
    """
    return float(
        np.pi
        * settings.shutter_s
        * settings.iso
        * density_transmission(settings.nd_density)
        / (INCIDENT_CONSTANT * settings.stop**2)
    )


def signal_from_luminance(luminance: ArrayLike, settings: CameraSettings) -> FloatArray:
    """Return the scene-linear signal of a luminance.

    Parameters
    ----------
    luminance : float array, shape (...)
        L. [cd/m²]
    settings : CameraSettings
        The camera.

    Returns
    -------
    float array, shape (...)
        Signal; 0.18 is mid grey. [1]
    """
    return np.asarray(luminance, dtype=float) * signal_per_luminance(settings)


def luminance_from_signal(signal: ArrayLike, settings: CameraSettings) -> FloatArray:
    """Return the luminance that gives a signal; the inverse of `signal_from_luminance`.

    Parameters
    ----------
    signal : float array, shape (...)
        Scene-linear signal. [1]
    settings : CameraSettings
        The camera.

    Returns
    -------
    float array, shape (...)
        L. [cd/m²]
    """
    return np.asarray(signal, dtype=float) / signal_per_luminance(settings)


def stops_from_grey(signal: ArrayLike) -> FloatArray:
    """Return how far a signal lies from mid grey: log2(signal / 0.18).

    Parameters
    ----------
    signal : float array, shape (...)
        Scene-linear signal, 0 or more. [1]

    Returns
    -------
    float array, shape (...)
        Stops over mid grey; -inf where there is no light. [stops]
    """
    with np.errstate(divide="ignore"):
        return np.log2(np.asarray(signal, dtype=float) / MID_GREY)


def shutter_time(angle_deg: ArrayLike, frames_per_second: float) -> FloatArray:
    """Return the exposure time of a shutter angle: angle / (360 · fps).

    Parameters
    ----------
    angle_deg : float array, shape (...)
        Opening, above 0 to 360. [deg]
    frames_per_second : float
        Frame rate. [1/s]

    Returns
    -------
    float array, shape (...)
        t. [s]

    Raises
    ------
    ValueError
        An angle is outside 0 to 360°, or the rate is not above 0.
    """
    angle = np.asarray(angle_deg, dtype=float)
    if not np.all((angle > 0) & (angle <= 360)):
        raise ValueError(f"a shutter angle lies above 0 and up to 360 deg, got {angle_deg!r}")
    if not frames_per_second > 0:
        raise ValueError(f"frames_per_second must be above 0, got {frames_per_second!r}")
    return angle / (360.0 * frames_per_second)


def t_number(f_number: ArrayLike, transmission: float) -> FloatArray:
    """Return the T-stop of a lens: N / sqrt(tau).

    Parameters
    ----------
    f_number : float array, shape (...)
        N, focal length over entrance pupil. [1]
    transmission : float
        tau of the glass. [1]

    Returns
    -------
    float array, shape (...)
        T. [1]

    Raises
    ------
    ValueError
        tau is not above 0 and up to 1.
    """
    if not 0 < transmission <= 1:
        raise ValueError(f"a lens transmission lies above 0 and up to 1, got {transmission!r}")
    return np.asarray(f_number, dtype=float) / np.sqrt(transmission)


def f_number(t_stop: ArrayLike, transmission: float) -> FloatArray:
    """Return the f-number of a T-stop, which sets depth of field: T · sqrt(tau).

    Parameters
    ----------
    t_stop : float array, shape (...)
        T. [1]
    transmission : float
        tau of the glass. [1]

    Returns
    -------
    float array, shape (...)
        N. [1]

    Raises
    ------
    ValueError
        tau is not above 0 and up to 1.
    """
    if not 0 < transmission <= 1:
        raise ValueError(f"a lens transmission lies above 0 and up to 1, got {transmission!r}")
    return np.asarray(t_stop, dtype=float) * np.sqrt(transmission)


def full_stop_series(first: int = 0, last: int = 14) -> FloatArray:
    """Return the true numbers behind the marked stops: sqrt(2)^n.

    Parameters
    ----------
    first, last : int
        Powers of the first and the last stop; 0 is 1.0, 14 is 128.

    Returns
    -------
    float array, shape (last - first + 1,)
        1, 1.4142, 2, 2.8284, … [1]

    Source
    ------
    ISO 517 (from memory).
    """
    return np.sqrt(2.0) ** np.arange(first, last + 1)


def marked_stop(number: float) -> float:
    """Return the f-number that a mark on a lens or a meter stands for.

    2.8 is 2^(3/2) = 2.828, 5.6 is 5.657, 3.5 is 2^(11/6) = 3.564; a number that is no mark is itself.

    Parameters
    ----------
    number : float
        As it is engraved or shown. [1]

    Returns
    -------
    float
        [1]

    Source
    ------
    Marks of full and third stops: ISO 517 (from memory).
    """
    for marks, parts in ((_FULL_MARKS, 1), (_THIRD_MARKS, 3)):
        for place, mark in enumerate(marks):
            if abs(number - mark) < 1e-9:
                first = -2 if parts == 1 else -6
                return float(2.0 ** ((first + place) / (2 * parts)))
    return float(number)


_FULL_MARKS = (0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0, 90.0, 128.0)
"""From 2^(-2/2) on."""

_THIRD_MARKS = (0.5, 0.56, 0.63, 0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5,
                4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0,
                29.0, 32.0)
"""From 2^(-6/6) on."""
