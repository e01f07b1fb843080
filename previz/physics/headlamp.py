"""The beam of a car's headlamp: dipped, with a cut-off, or full.

Angles are as a driver counts them: h plus to the right, v plus upwards. Below the cut-off the
dipped beam is a hot spot on a wide low spread; above it only stray light is left.

Source: the shape of the cut-off (level towards oncoming traffic, rising by 15° on the kerb side,
dipped by 1 %) from UN Regulations 112 and 149 (from memory); widths and shares of the two parts,
and the stray light, are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.beam import AngularTable

DIP_DEG = float(np.degrees(np.arctan(0.01)))
"""How far the cut-off lies under the horizon. [deg]"""

RISE_DEG = 15.0
"""Slope of the cut-off on the kerb side. [deg]"""

EDGE_DEG = 0.4
"""Width over which the light falls at the cut-off. [deg]"""

HOT, WIDE = (5.0, 1.5), (18.0, 5.0)
"""Standard deviations across and downwards of the hot spot and of the spread. [deg]"""

WIDE_SHARE = 0.25
"""Peak of the spread over the peak of the hot spot. [1]"""

STRAY = 0.01
"""Light above the cut-off over the peak. [1]"""

FULL = (4.0, 2.2)
"""Standard deviations of the full beam's hot spot. [deg]"""

WIDEST_DEG = 60.0
PHI_STEPS = 720


def dipped_beam(traffic: str = "right") -> AngularTable:
    """Return the dipped beam of one headlamp.

    Parameters
    ----------
    traffic : str
        Side of the road that is driven on, 'right' or 'left'; the cut-off rises on that side.

    Returns
    -------
    AngularTable
        One lumen, about the lamp's level axis.
    """
    side = {"right": 1.0, "left": -1.0}[traffic]

    def intensity(h: FloatArray, v: FloatArray) -> FloatArray:
        rise = np.maximum(side * h, 0) * np.tan(np.radians(RISE_DEG))
        under = rise - DIP_DEG - v
        u = np.clip(under / EDGE_DEG + 0.5, 0, 1)
        lit = u * u * (3 - 2 * u)
        down = np.maximum(under, 0)
        spot = _bell(h - side * 1.0, HOT[0]) * _bell(down - 0.5, HOT[1])
        spread = WIDE_SHARE * _bell(h, WIDE[0]) * _bell(down - 1.5, WIDE[1])
        stray = STRAY * _bell(h, WIDE[0]) * _bell(np.minimum(under, 0), 2 * WIDE[1])
        return lit * (spot + spread) + (1 - lit) * stray

    return _table(intensity)


def full_beam() -> AngularTable:
    """Return the full beam of one headlamp: a hot spot on a wide spread, at one lumen."""

    def intensity(h: FloatArray, v: FloatArray) -> FloatArray:
        return (_bell(h, FULL[0]) * _bell(v, FULL[1])
                + WIDE_SHARE * _bell(h, WIDE[0]) * _bell(v, WIDE[1]))

    return _table(intensity)


def _bell(x: FloatArray, width: float) -> FloatArray:
    return np.exp(-0.5 * (x / width) ** 2)


def _table(intensity: Callable[[FloatArray, FloatArray], FloatArray]) -> AngularTable:
    """Return a function of (h, v) as a table, fine near the axis where the cut-off lies."""
    theta = np.concatenate([np.arange(0, 12, 0.05), np.arange(12, WIDEST_DEG + 0.1, 0.25)])
    phi = np.linspace(0.0, 360.0, PHI_STEPS + 1)
    a, p = np.radians(theta)[:, None], np.radians(phi)[None, :]
    # Seen from behind, the lamp's x points left and its y up.
    right, up, ahead = -np.sin(a) * np.cos(p), np.sin(a) * np.sin(p), np.cos(a) + 0 * p
    h = np.degrees(np.arctan2(right, ahead))
    v = np.degrees(np.arctan2(up, np.hypot(right, ahead)))
    values = intensity(h, v)
    values[:, -1] = values[:, 0]
    return AngularTable(theta, phi, values).normalised()
