"""A lamp as numbers: how much light, of what colour, through which gel, at what level.

These are the things that change without a ray changing its path: the renderer computes the path
from lamp to picture once, for one lumen (or one lux), and the records here weight it afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.band_error import band_error
from previz.physics.band_weights import weighed_band_xyz
from previz.physics.bands import DEFAULT_BANDS
from previz.physics.spectra import WAVELENGTHS_NM

UNITS = ("lm", "lx")
"""What `output` may be measured in: lm for a lamp, lx for sun (facing it) and sky (horizontal)."""


@dataclass(frozen=True, eq=False)
class LampLight:
    """The light of one lamp, sun or sky.

    Two records are equal only if they are the same object: their spectra are arrays.

    Parameters
    ----------
    name : str
        Name of the lamp in the scene.
    unit : str
        'lm', or 'lx' for the sun (on a surface facing it) and the sky (on open level ground).
    output : float
        Light at full level without the gel. [lm or lx]
    spectrum : float array, shape (81,)
        Spectral power of one lumen (or lux) of it. [W/nm per lm]
    gel : float array, shape (81,)
        Spectral transmission of whatever is in front; ones for nothing. [1]
    level : float
        Dimmer, as a share of the light (not of the volts). [1]
    on : bool
        False takes the lamp out of the mix.

    Raises
    ------
    ValueError
        The unit is unknown, a spectrum has the wrong shape, or a number is negative or not finite.
    """

    name: str
    unit: str
    output: float
    spectrum: np.ndarray
    gel: np.ndarray
    level: float = 1.0
    on: bool = True

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise ValueError(f"unit of '{self.name}' must be one of {UNITS}, got '{self.unit}'")
        for label in ("output", "level"):
            value = getattr(self, label)
            if not (np.isfinite(value) and value >= 0):
                raise ValueError(f"{label} of '{self.name}' must be 0 or more, got {value!r}")
        for label in ("spectrum", "gel"):
            curve = np.asarray(getattr(self, label), dtype=float)
            if curve.shape != WAVELENGTHS_NM.shape:
                raise ValueError(
                    f"{label} of '{self.name}' must have {WAVELENGTHS_NM.size} samples, "
                    f"got shape {curve.shape}"
                )
            if not np.all(np.isfinite(curve)) or np.any(curve < 0):
                raise ValueError(f"{label} of '{self.name}' must be finite and 0 or more")
            object.__setattr__(self, label, curve)


def lamp_band_xyz(lamp: LampLight, n: int = DEFAULT_BANDS) -> FloatArray:
    """Return what each band of a lamp's transport adds to XYZ.

    XYZ [cd/m²] of a pixel = sum over lamps and bands of its slice times this.

    Parameters
    ----------
    lamp : LampLight
        The lamp at its level, gelled.
    n : int
        Number of bands.

    Returns
    -------
    float array, shape (n, 3)
        output · level · on · (spectrum · gel) seen by the observer, band by band, as
        `band_weights` weighs them. [lm or lx]
    """
    if not lamp.on:
        return np.zeros((n, 3))
    return lamp.output * lamp.level * weighed_band_xyz(lamp.spectrum * lamp.gel, n)


def lamps_band_errors(arriving: ArrayLike, lamps: Sequence[LampLight], colours: ArrayLike) -> FloatArray:
    """Return how far bands may leave what lamps give at one meter off.

    Parameters
    ----------
    arriving : float array, shape (lamps, ..., n)
        Light at the meter in each band, per unit of the lamp's light in it. [1/m², 1/(m² sr) or 1]
    lamps : sequence of LampLight
        As they are set.
    colours : float array, shape (colours, 81)
        Reflectances and transmissions of what may have been met. [1]

    Returns
    -------
    float array, shape (lamps, ...)
        [lx or cd/m²]
    """
    values = np.asarray(arriving, dtype=float)
    found = np.zeros(values.shape[:-1])
    for number, lamp in enumerate(lamps):
        if not (lamp.on and lamp.output * lamp.level):
            continue
        spectrum = lamp.spectrum * lamp.gel
        for place in np.ndindex(values.shape[1:-1]):
            found[number, *place] = band_error(values[number, *place], spectrum, colours)
        found[number] *= lamp.output * lamp.level
    return found


def lamps_band_xyz(lamps: Iterable[LampLight], n: int = DEFAULT_BANDS) -> FloatArray:
    """Return `lamp_band_xyz` of each lamp; none of them is a dark set. Shape (lamp, n, 3) [lm or lx]"""
    return np.array([lamp_band_xyz(lamp, n) for lamp in lamps], float).reshape(-1, n, 3)
