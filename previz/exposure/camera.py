"""The camera: from the scene's XYZ to exposed, white-balanced, scene-linear ACEScg; its stops.

The camera is ideal: it sees with the standard observer, is linear, and has no limit to what it
holds. Exposure is physics' `signal_per_luminance`; 0.18 is an 18 % card in light that meters at
the stop that is set.

White balance says which light shall appear white. Crews set tungsten light by the black-body scale
and daylight by that of CIE daylight, which differ by a visible green (Duv 0.003), so the
balance follows black bodies up to 4000 K, CIE daylight from 5000 K, and runs straight from one to
the other in between (CIE 1960 u, v). Tint moves the white square to the black-body line.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.chromatic_adaptation import ACES_XY, acescg_from_xyz, adaptation_matrix
from previz.physics.colourtemp import planckian_xy, uv_from_xy, xy_from_cct_duv, xy_from_uv
from previz.physics.daylight import daylight_xy
from previz.physics.exposure import (
    INCIDENT_CONSTANT,
    CameraSettings,
    density_transmission,
    signal_per_luminance,
)
from previz.physics.meter import illuminance_for_stop, incident_f_number

LAST_BLACK_BODY_K = 4000.0
"""Up to here a balance means a black body. [K]"""

FIRST_DAYLIGHT_K = 5000.0
"""From here a balance means CIE daylight. [K]"""


def balance_white_xy(white_balance: float, tint: float = 0.0) -> np.ndarray:
    """Return the chromaticity that a camera set to this balance takes for white.

    Parameters
    ----------
    white_balance : float
        Colour temperature on the dial, up to 25 000. [K]
    tint : float
        Duv added to it, plus for light that is greener. [1]

    Returns
    -------
    float array, shape (2,)
        CIE 1931 x, y. [1]

    Raises
    ------
    ValueError
        The temperature is beyond CIE daylight.
    """
    if white_balance <= LAST_BLACK_BODY_K:
        uv = uv_from_xy(planckian_xy(white_balance))
    elif white_balance >= FIRST_DAYLIGHT_K:
        uv = uv_from_xy(daylight_xy(white_balance))
    else:
        share = (white_balance - LAST_BLACK_BODY_K) / (FIRST_DAYLIGHT_K - LAST_BLACK_BODY_K)
        black_body = uv_from_xy(planckian_xy(white_balance))
        uv = black_body + share * (uv_from_xy(daylight_xy(white_balance)) - black_body)
    if tint:
        uv = uv + uv_from_xy(xy_from_cct_duv(white_balance, tint))
        uv = uv - uv_from_xy(planckian_xy(white_balance))
    return xy_from_uv(uv)


def balanced_acescg_from_xyz(white_balance: float, tint: float = 0.0) -> np.ndarray:
    """Return the matrix from the scene's XYZ to ACEScg with the balance's white made white.

    It applies to XYZ columns; XYZ of the white of `balance_white_xy` with Y = 1 goes to (1, 1, 1).

    Source
    ------
    ICC.1 Annex E (Bradford); S-2014-004 (ACEScg).
    """
    white = balance_white_xy(white_balance, tint)
    return acescg_from_xyz() @ adaptation_matrix(white, ACES_XY)


def expose(xyz: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return the picture as the camera holds it.

    RGB = signal_per_luminance · M · XYZ with M from `balanced_acescg_from_xyz`.

    Parameters
    ----------
    xyz : float array, shape (3, row, column)
        Scene, from `mix.mix_xyz`. [cd/m²]
    settings : CameraSettings

    Returns
    -------
    float32 array, shape (3, row, column)
        Scene-linear ACEScg; 0.18 is mid grey. Colours outside ACEScg have negative parts. [1]
    """
    matrix = balanced_acescg_from_xyz(settings.white_balance, settings.tint)
    scaled = (matrix * signal_per_luminance(settings)).astype(np.float32)
    values = np.asarray(xyz, dtype=np.float32)
    return (scaled @ values.reshape(3, -1)).reshape(values.shape)


def working_illuminance(settings: CameraSettings, constant: float = INCIDENT_CONSTANT) -> float:
    """Return the light that meters at the stop that is set: E = C T² / (t S tau). [lx]

    `constant` is C of the incident meter. [lx s]

    Source
    ------
    ISO 2720:1974, incident-light equation.
    """
    passed = settings.iso * density_transmission(settings.nd_density)
    return float(illuminance_for_stop(
        settings.stop, exposure_index=passed, shutter=settings.shutter_s, constant=constant))


def stop_of(illuminance: ArrayLike, settings: CameraSettings,
            constant: float = INCIDENT_CONSTANT) -> np.ndarray:
    """Return the T-stop that a meter shows for this camera in a light [lx]: T = sqrt(E t S tau / C).

    The settings' ISO, shutter and neutral filters count, not their own stop; `constant` is C. [lx s]
    """
    passed = settings.iso * density_transmission(settings.nd_density)
    return incident_f_number(
        illuminance, exposure_index=passed, shutter=settings.shutter_s, constant=constant)


def settings_of(camera: Any) -> CameraSettings:
    """Return how a stage's camera is set."""
    return CameraSettings(**{f.name: getattr(camera, f.name) for f in fields(CameraSettings)})
