"""How colours look: lightness, colour difference, and eyes that lack a cone type.

Everything here works on linear sRGB of a display, 0 to 1. It serves the choice of map colours,
not the measurement of light.
"""

from __future__ import annotations

import numpy as np

from previz.physics.chromatic_adaptation import D65_XY, REC709_XY, xyz_from_rgb
from previz.physics.transfer import srgb_signal
from previz.physics.uplift import linear_from_srgb

XYZ_FROM_SRGB = xyz_from_rgb(REC709_XY, D65_XY)
"""Linear sRGB to XYZ with Y = 1 for white.  Source: IEC 61966-2-1 (primaries of BT.709, D65)."""
XYZ_FROM_SRGB.setflags(write=False)

SIGHT = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}
"""Linear sRGB as seen with all cones, without L cones, and without M cones.

Source: Machado, Oliveira, Fernandes, "A Physiologically-based Model for Simulation of Color
Vision Deficiency", IEEE TVCG 15(6), 2009; severity 1.0.
"""


def seen_by(rgb, sight):
    """Return colours as they look to an eye.

    Parameters
    ----------
    rgb : float array, shape (..., 3)
        Linear sRGB. [1]
    sight : str
        A key of `SIGHT`.

    Returns
    -------
    float array, shape (..., 3)
        Linear sRGB, clipped to what the display can show. [1]
    """
    return np.clip(np.asarray(rgb, dtype=float) @ SIGHT[sight].T, 0.0, 1.0)


def encode_srgb(rgb):
    """Return 8-bit sRGB of linear values.

    Parameters
    ----------
    rgb : float array, shape (...)
        Linear, clipped to 0 to 1. [1]

    Returns
    -------
    uint8 array, shape (...)

    Source
    ------
    IEC 61966-2-1.
    """
    return np.round(srgb_signal(np.clip(rgb, 0.0, 1.0)) * 255.0).astype(np.uint8)


def decode_srgb(code):
    """Return linear values of 8-bit sRGB.

    Parameters
    ----------
    code : uint8 array, shape (...)
        0 to 255.

    Returns
    -------
    float array, shape (...)
        Linear, 0 to 1. [1]

    Source
    ------
    IEC 61966-2-1.
    """
    return linear_from_srgb(np.asarray(code, dtype=float) / 255.0)


def cielab(rgb):
    """Return CIELAB of linear sRGB, with the display's white as white.

    Parameters
    ----------
    rgb : float array, shape (..., 3)
        Linear. [1]

    Returns
    -------
    float array, shape (..., 3)
        L*, a*, b*.

    Source
    ------
    ISO/CIE 11664-4.
    """
    white = XYZ_FROM_SRGB.sum(axis=1)
    ratio = np.asarray(rgb, dtype=float) @ XYZ_FROM_SRGB.T / white
    limit = (6 / 29) ** 3
    root = np.where(
        ratio > limit, np.cbrt(np.maximum(ratio, 0.0)), ratio * (29 / 6) ** 2 / 3 + 4 / 29
    )
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def ciede2000(first, second):
    """Return the colour difference CIEDE2000 with all weights one.

    Parameters
    ----------
    first, second : float array, shape (..., 3)
        L*, a*, b*; shapes broadcast.

    Returns
    -------
    float array, shape (...)
        Difference; about 1 is just seen side by side.

    Source
    ------
    ISO/CIE 11664-6; Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Color Research
    and Application 30(1), 2005, equations 2 to 22.
    """
    l_1, a_1, b_1 = np.moveaxis(np.asarray(first, dtype=float), -1, 0)
    l_2, a_2, b_2 = np.moveaxis(np.asarray(second, dtype=float), -1, 0)
    mean_c7 = ((np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean_c7 / (mean_c7 + 25.0**7))
    c_1, c_2 = np.hypot(a_1 * stretch, b_1), np.hypot(a_2 * stretch, b_2)
    h_1 = np.degrees(np.arctan2(b_1, a_1 * stretch)) % 360
    h_2 = np.degrees(np.arctan2(b_2, a_2 * stretch)) % 360

    turn = (h_2 - h_1 + 180) % 360 - 180
    turn = np.where(c_1 * c_2 == 0, 0.0, turn)
    d_l, d_c = l_2 - l_1, c_2 - c_1
    d_h = 2 * np.sqrt(c_1 * c_2) * np.sin(np.radians(turn / 2))

    mean_l, mean_c = (l_1 + l_2) / 2, (c_1 + c_2) / 2
    mean_h = np.where(c_1 * c_2 == 0, h_1 + h_2, (h_1 + turn / 2) % 360)
    t = (
        1
        - 0.17 * np.cos(np.radians(mean_h - 30))
        + 0.24 * np.cos(np.radians(2 * mean_h))
        + 0.32 * np.cos(np.radians(3 * mean_h + 6))
        - 0.20 * np.cos(np.radians(4 * mean_h - 63))
    )
    s_l = 1 + 0.015 * (mean_l - 50) ** 2 / np.sqrt(20 + (mean_l - 50) ** 2)
    s_c, s_h = 1 + 0.045 * mean_c, 1 + 0.015 * mean_c * t
    twist = np.radians(60 * np.exp(-(((mean_h - 275) / 25) ** 2)))
    r_t = -np.sin(twist) * 2 * np.sqrt(mean_c**7 / (mean_c**7 + 25.0**7))
    l_part, c_part, h_part = d_l / s_l, d_c / s_c, d_h / s_h
    return np.sqrt(l_part**2 + c_part**2 + h_part**2 + r_t * c_part * h_part)
