"""What eyes show: an iris of fibres in one of four colours, its dark rim, and a white that is not white."""

from __future__ import annotations

from functools import cache

import numpy as np

from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage.figures.eyes import LIMBUS_RADIUS, PUPIL_RADIUS
from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.strands import wave
from previz.stage.records import Pattern

_KNOTS = (380, 450, 500, 560, 640, 780)

IRISES = {
    "brown": ((0.014, 0.020, 0.028, 0.046, 0.098, 0.130), (0.008, 0.010, 0.013, 0.022, 0.052, 0.080)),
    "blue": ((0.082, 0.105, 0.100, 0.078, 0.062, 0.060), (0.040, 0.055, 0.072, 0.088, 0.094, 0.094)),
    "green": ((0.034, 0.046, 0.066, 0.084, 0.066, 0.060), (0.018, 0.024, 0.042, 0.070, 0.094, 0.100)),
    "grey": ((0.078, 0.090, 0.092, 0.088, 0.082, 0.080), (0.048, 0.058, 0.068, 0.076, 0.080, 0.080)),
}
"""Colour -> reflectance of the iris, and of its inner zone about the pupil. Common practice, no
source. [1]"""

IRIS_HALF, WHITE_HALF = 6.2e-3, 13e-3
"""Half the side of the tile of an iris, and of the white of an eye, about the eye's axis. [m]"""

_TEXELS = 160


def iris(colour):
    """Return the reflectance of an iris, shape (81,). [1]"""
    return np.interp(WAVELENGTHS_NM, _KNOTS, IRISES[colour][0])


def eye_white():
    """Return the white of an eye, a little warm and no lighter than fair skin.

    Common practice, no source: drawn as white as paint, eyes seem to shine in the dark.
    """
    return np.interp(WAVELENGTHS_NM, [380, 450, 550, 650, 780], [0.30, 0.35, 0.37, 0.41, 0.42])


def _polar(half, texels=_TEXELS):
    """Return the distance from the axis [m] and the angle [rad] of each texel of a tile."""
    place = half * (2 * (np.arange(texels) + 0.5) / texels - 1)
    y, z = np.meshgrid(place, place[::-1])
    return np.hypot(y, z), np.arctan2(z, y)


@cache
def iris_pattern(colour):
    """Return the pattern of one iris: fibres from the pupil to the rim, an inner zone, a dark rim."""
    away, angle = _polar(IRIS_HALF)
    share = (away - PUPIL_RADIUS) / (LIMBUS_RADIUS - PUPIL_RADIUS)
    turn = angle / (2 * np.pi)
    # Fibres bend a little on their way outwards and part into finer ones.
    bent = turn + 0.010 * np.sin(6.0 * share + 9 * angle)
    fibres = 0.6 * wave(bent * 52, 440, 52) + 0.45 * wave(bent * 110, 441, 110) * smooth_step(share, 0.2, 0.8)
    fibres += 0.3 * wave(bent * 17 + 0.0, 442, 17)
    ring = 0.36 + 0.05 * wave(turn * 14, 443, 14)
    inner = 1 - smooth_step(share, ring - 0.07, ring + 0.08)
    factor = 1.25 + 0.55 * fibres * smooth_step(share, 0.0, 0.25)
    factor += 0.25 * np.exp(-(((share - ring - 0.06) / 0.06) ** 2))
    factor *= 0.55 + 0.45 * smooth_step(share, 0.0, 0.07)
    factor *= 1 - 0.80 * smooth_step(share, 0.78, 0.99)
    plain = np.ones_like(factor)
    tile = np.stack([0.85 * inner, np.clip(factor, 0.1, 2.2), plain, plain], axis=-1).astype(np.float32)
    return Pattern(tile, (2 * IRIS_HALF, 2 * IRIS_HALF), np.interp(WAVELENGTHS_NM, _KNOTS, IRISES[colour][1]))


@cache
def white_pattern():
    """Return the pattern of the white of an eye: its soft edge at the rim, and veins towards the corners."""
    away, angle = _polar(WHITE_HALF)
    edge = smooth_step(away, LIMBUS_RADIUS - 0.2e-3, LIMBUS_RADIUS + 0.9e-3)
    # Veins come in from both corners and thin out before the rim.
    place = 9 * angle + 1.1 * wave(away * 900, 444, 12) + 0.5 * wave(away * 2300, 445, 30)
    lines = np.exp(-((np.sin(place) / 0.10) ** 2)) * (0.5 + 0.5 * wave(angle / (2 * np.pi) * 23, 446, 23))
    corner = np.abs(np.cos(angle)) ** 3 * smooth_step(away, LIMBUS_RADIUS + 1.5e-3, 11e-3)
    share = np.clip(0.45 * lines * corner + 0.30 * corner, 0, 0.8)
    factor = (0.35 + 0.65 * edge) * (0.93 - 0.05 * corner)
    plain = np.ones_like(factor)
    tile = np.stack([share, factor, plain, plain], axis=-1).astype(np.float32)
    red = eye_white() * np.interp(WAVELENGTHS_NM, [380, 500, 580, 620, 780], [0.55, 0.5, 0.5, 0.9, 1.0])
    return Pattern(tile, (2 * WHITE_HALF, 2 * WHITE_HALF), red)
