"""A lamp of several colours of LED: which mix of them gives a white."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.blackbody import radiance
from previz.physics.colourtemp import xy_from_cct_duv, xyz_from_xy
from previz.physics.spectra import WAVELENGTHS_NM, normalise, xyz_of

EMITTERS = {
    "blue": (450.0, 9.0, 12.0),
    "cyan": (497.0, 11.0, 14.0),
    "green": (524.0, 14.0, 17.0),
    "lime": (548.0, 30.0, 48.0),
    "amber": (598.0, 30.0, 42.0),
    "red": (634.0, 10.0, 8.0),
}
"""Colour of an LED to its peak and its standard deviation below and above it. [nm]

Lime and amber are phosphor-converted, the rest bare. Common practice, no source."""


def peak(centre: float, below: float, above: float) -> FloatArray:
    """Return a bell about a wavelength, of a standard deviation for either side. [nm]  Shape (81,)"""
    width = np.where(centre > WAVELENGTHS_NM, below, above)
    return np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2)


def _parts() -> FloatArray:
    return np.array([normalise(peak(*each)) for each in EMITTERS.values()])


def led_amounts(cct: float, duv: float = 0.0) -> dict[str, float]:
    """Return the lumens of each colour of LED in one lumen of a white.

    Six colours can give the same white by many mixtures; the one nearest to the black body's spectrum
    is taken: least squares under three equations for X, Y and Z, no amount below 0.

    Parameters
    ----------
    cct : float
        [K]
    duv : float
        Plus towards green. [1]

    Returns
    -------
    dict of str to float
        By the names of `EMITTERS`. [lm]

    Raises
    ------
    ValueError
        The colours do not reach it.
    """
    parts = _parts()
    white = xyz_from_xy(xy_from_cct_duv(cct, duv))
    white = white / white[1]
    target = normalise(radiance(WAVELENGTHS_NM, cct))
    best, least = None, np.inf
    # Few enough colours to try every set of them that may be lit.
    for count in range(3, len(parts) + 1):
        for lit in combinations(range(len(parts)), count):
            amounts = _constrained(parts[list(lit)], target, white)
            if amounts is None or np.any(amounts < -1e-12):
                continue
            off = float(np.sum((amounts @ parts[list(lit)] - target) ** 2))
            if off < least:
                least = off
                best = np.zeros(len(parts))
                best[list(lit)] = np.maximum(amounts, 0)
    if best is None:
        raise ValueError(f"a lamp of {len(parts)} colours does not reach {cct:.0f} K with "
                         f"Duv {duv:+.4f}")
    return dict(zip(EMITTERS, (float(each) for each in best), strict=True))


def _constrained(parts: FloatArray, target: FloatArray, white: FloatArray) -> FloatArray | None:
    """Return amounts that give `white` exactly and are nearest to `target`, or None."""
    count = len(parts)
    scale = 1.0 / np.max(parts)
    rows = parts * scale
    matrix = np.zeros((count + 3, count + 3))
    matrix[:count, :count] = rows @ rows.T
    matrix[count:, :count] = xyz_of(parts).T
    matrix[:count, count:] = matrix[count:, :count].T
    right = np.concatenate([rows @ (target * scale), white])
    try:
        return np.linalg.solve(matrix, right)[:count]
    except np.linalg.LinAlgError:
        return None


def led_emitters(cct: float, duv: float = 0.0) -> FloatArray:
    """Return a lamp of six colours of LED mixed to a white; as `lamps.spectrum_of`."""
    amounts = led_amounts(cct, duv)
    return normalise(np.array(list(amounts.values())) @ _parts())
