"""The moon's disc as it is seen: the lit part and its seas."""

from __future__ import annotations

import numpy as np

from previz.physics.arrays import FloatArray

SIDE = 96
"""Cells along a side of the picture of a disc."""

SEAS = (
    (-0.32, 0.50, 0.30, 0.26), (-0.55, 0.12, 0.26, 0.34), (0.22, 0.48, 0.19, 0.16), (0.36, 0.16, 0.22, 0.19),
    (0.70, 0.30, 0.11, 0.08), (0.58, -0.06, 0.16, 0.20), (-0.25, -0.32, 0.22, 0.15),
    (-0.55, -0.38, 0.12, 0.11), (0.36, -0.22, 0.11, 0.12), (-0.05, 0.78, 0.40, 0.06),
)  # fmt: skip
"""Middle and half axes of the large seas, in radii to the right and up, with north up.  From memory."""

SEA_ALBEDO = 0.6
"""Of the seas over that of the highlands.  About 0.07 to 0.12, from memory. [1]"""

SKY_EDGE = 0.03
"""Width over which a sea begins. [radii]"""


def moon_face(lit_share: float, waxing: bool = True) -> FloatArray:
    """Return the radiance over a moon's disc, over its mean: bright limb to the right.

    The terminator is half an ellipse: of the disc's height y, what lies right of -(2 k - 1) sqrt(1 - y²) is
    lit, which is the share k of the disc.

    Parameters
    ----------
    lit_share : float
        k, 0 to 1. [1]
    waxing : bool
        Whether north is up then; of a waning moon, whose lit side is the other one, south is.

    Returns
    -------
    float array, shape (96, 96)
        Top row first; its mean over the disc is 1. [1]

    Source
    ------
    Geometry of a sphere lit from afar and seen from afar; its darkening to the limb is small (the full moon
    shows hardly any, from memory) and left out, as is that towards the terminator but for a soft edge.
    """
    at = (np.arange(SIDE) + 0.5) / SIDE * 2 - 1
    x, y = at[None, :], -at[:, None]
    half = np.sqrt(np.maximum(1 - y**2, 0))
    edge = (x + (2 * lit_share - 1) * half) * SIDE / 2 + 0.5
    face = np.clip(edge, 0, 1)
    # Slanting light: darker towards the terminator, as the ground there faces the sun least.
    lean = np.clip((x + (2 * lit_share - 1) * half) / np.maximum(half, 1e-3) / max(2 * lit_share, 1e-3), 0, 1)
    face = face * (0.35 + 0.65 * lean**0.5) if lit_share < 0.98 else face
    turn = 1 if waxing else -1
    return _mean_one(face * _albedo(turn * x, turn * y))


def _albedo(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return highlands and seas, relative."""
    sea = np.zeros(np.broadcast(x, y).shape)
    wave = 0.06 * np.sin(9 * x + 5 * y) + 0.05 * np.sin(13 * y - 7 * x + 1) + 0.04 * np.sin(23 * x + 17 * y)
    for right, up, a, b in SEAS:
        away = np.hypot((x - right) / a, (y - up) / b) + wave * 3
        sea = np.maximum(sea, np.clip((1 - away) * min(a, b) / SKY_EDGE / 2 + 0.5, 0, 1))
    return 1 - (1 - SEA_ALBEDO) * sea + 0.5 * wave


def _mean_one(face: FloatArray) -> FloatArray:
    """Return a face whose mean over the disc is 1, as it is read: straight between the middles of cells."""
    fine = 8
    at = (np.arange(SIDE * fine) + 0.5) / (SIDE * fine) * 2 - 1
    place = np.clip((at * 0.5 + 0.5) * SIDE - 0.5, 0, SIDE - 1)
    low = np.minimum(place.astype(int), SIDE - 2)
    part = place - low
    across = face[:, low] * (1 - part) + face[:, low + 1] * part
    whole = across[low] * (1 - part)[:, None] + across[low + 1] * part[:, None]
    disc = at[None, :] ** 2 + at[:, None] ** 2 <= 1
    return face / whole[disc].mean()
