"""How far a lamp's colour can be moved: its colour temperatures, and the greenest tint at each of them.

A warm light is near the edge of all colours there are, so the warmer it is the less green it can be;
towards magenta, and for cool light, the scene format's own limit is reached first.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.colourtemp import cct_duv, xy_from_cct_duv, xy_of
from previz.physics.lamps import COOLEST_K, WARMEST_K, illuminant, spectrum_of, tinted
from previz.scene.lamp import TWO_COLOUR, OwnSpectrum
from previz.scene.lamp_rules import DAYLIGHT_LOCUS, TUNGSTEN_MELTS
from previz.stage import measured_files

if TYPE_CHECKING:
    from previz.scene.light import Light

MOST_DUV = 0.05
"""Greenest tint that a scene may write. [1]"""

# From the warmest, where next to no green is left, to where the scene format's limit is reached.
_KELVINS = [round(1e6 / float(mired), 1) for mired in np.linspace(1e6 / WARMEST_K, 1e6 / 4200.0, 10)]

_HALVINGS = 7


def colour_range(light: Light) -> tuple[float, float]:
    """Return the colour temperatures that a lamp may be set to, warmest and coolest. [K]

    Two-colour LEDs end at their ends, tungsten where it melts, daylight where the CIE's does.
    """
    own = light.spectrum
    if own == "two-colour led":
        return TWO_COLOUR
    if isinstance(own, OwnSpectrum) and own.is_two_colour:
        return own.ends
    if own == "daylight":
        return DAYLIGHT_LOCUS
    return WARMEST_K, TUNGSTEN_MELTS if own == "tungsten" else COOLEST_K


def has_tint(light: Light) -> bool:
    """Return whether a lamp's tint can be set: not where two colours are mixed."""
    own = light.spectrum
    return own != "two-colour led" and not (isinstance(own, OwnSpectrum) and own.is_two_colour)


def greenest(light: Light) -> tuple[tuple[float, float], ...]:
    """Return the greenest tint of a lamp by its colour temperature.

    Returns
    -------
    tuple of (float, float)
        Kelvins, rising, and the most Duv there. Between two of them the lesser holds, above the last the
        scene format's own limit. A tungsten lamp has one row for all, that of its light when it is dimmed;
        a measured one without a colour temperature of its own has one too. Empty where there is no tint.
    """
    own = light.spectrum
    if not has_tint(light):
        return ()
    if isinstance(own, str):
        rows = _of_kind(own)
        return ((COOLEST_K, rows[0][1]),) if own == "tungsten" else rows
    if light.cct is None:
        measured = _measured(own)
        kelvin, duv = cct_duv(xy_of(measured))
        return ((COOLEST_K, _most(lambda tint: tinted(measured, xy_from_cct_duv(kelvin, duv + tint)))),)
    if own.file is None:
        return _of_table(own.cie)
    measured = _measured(own)
    return _rows(lambda cct, duv: tinted(measured, xy_from_cct_duv(cct, duv)))


def _measured(own: OwnSpectrum) -> np.ndarray:
    return illuminant(own.cie) if own.file is None else measured_files.curve(own, "spectrum")


@cache
def _of_kind(kind: str) -> tuple[tuple[float, float], ...]:
    return _rows(lambda cct, duv: spectrum_of(kind, cct, duv))


@cache
def _of_table(name: str) -> tuple[tuple[float, float], ...]:
    base = illuminant(name)
    return _rows(lambda cct, duv: tinted(base, xy_from_cct_duv(cct, duv)))


def _rows(made: Callable[[float, float], np.ndarray]) -> tuple[tuple[float, float], ...]:
    return tuple((kelvin, _most(partial(made, kelvin))) for kelvin in _KELVINS)


def _most(made: Callable[[float], np.ndarray]) -> float:
    """Return the greenest tint at which a spectrum can be made, a little on the safe side. [1]"""
    low, high = 0.0, MOST_DUV
    if _can_be(made, high):
        return high
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _can_be(made, middle) else (low, middle)
    return float(np.floor(1e4 * low) / 1e4)


def _can_be(made: Callable[[float], np.ndarray], duv: float) -> bool:
    try:
        made(duv)
    except ValueError:
        return False
    return True
