"""Tables that the page mixes and measures by, made by the same code that makes stills."""

from __future__ import annotations

from functools import cache

import numpy as np

from previz.exposure.camera import FIRST_DAYLIGHT_K, LAST_BLACK_BODY_K, balance_white_xy
from previz.exposure.falsecolour import LUMA
from previz.exposure.palette import ramp
from previz.physics.blackbody import radiance
from previz.physics.chromatic_adaptation import ACES_XY, BRADFORD, acescg_from_xyz
from previz.physics.colourtemp import planckian_xy, uv_from_xy, xy_from_cct_duv, xy_of
from previz.physics.exposure import DOME_CONSTANT, INCIDENT_CONSTANT, MID_GREY, REFLECTED_CONSTANT
from previz.physics.meter import LUX_PER_FOOTCANDLE
from previz.physics.spectra import WAVELENGTHS_NM

WARMEST_BALANCE, COOLEST_BALANCE = 1500.0, 25000.0
"""Ends of a camera's balance. [K]"""

_WHITES = 240
_LOCUS_STEP = 1.01
_TINT = 0.01

DIFFERENCES = (0.25, 0.5, 1.0, 2.0, 3.0)
"""Where the difference map changes colour, over and under the look compared with. [stops]"""


@cache
def page_tables() -> dict:
    """Return every table as plain values; they are the same for every scene, and made once."""
    return {
        "whites": white_table(),
        "locus": locus_table(),
        "bradford": BRADFORD.ravel().tolist(),
        "aces_xy": ACES_XY.tolist(),
        "acescg_from_xyz": acescg_from_xyz().ravel().tolist(),
        "mid_grey": MID_GREY,
        "incident_constant": INCIDENT_CONSTANT,
        "dome_constant": DOME_CONSTANT,
        "reflected_constant": REFLECTED_CONSTANT,
        "lux_per_footcandle": LUX_PER_FOOTCANDLE,
        "luma": list(LUMA),
        "differences": difference_bands(),
    }


def white_table() -> list[list[float]]:
    """Return what a camera takes for white: rows of K, u, v, and u, v for each Duv of tint.

    Rows are close enough in mireds for straight lines between them; the two temperatures at which
    the balance changes from one curve to another are rows of their own.
    """
    mireds = np.linspace(1e6 / WARMEST_BALANCE, 1e6 / COOLEST_BALANCE, _WHITES)
    kelvins = sorted({*(1e6 / mireds).tolist(), LAST_BLACK_BODY_K, FIRST_DAYLIGHT_K})
    rows = []
    for kelvin in kelvins:
        kelvin = float(np.clip(kelvin, WARMEST_BALANCE, COOLEST_BALANCE))
        uv = uv_from_xy(balance_white_xy(kelvin))
        tinted = uv_from_xy(xy_from_cct_duv(kelvin, _TINT)) - uv_from_xy(planckian_xy(kelvin))
        rows.append([kelvin, *uv.tolist(), *(tinted / _TINT).tolist()])
    return rows


def locus_table() -> list[list[float]]:
    """Return black bodies 1 % apart, rows of K, u, v, for colour temperatures on the page."""
    count = int(np.ceil(np.log(100.0) / np.log(_LOCUS_STEP))) + 1
    return [[float(kelvin), *uv_from_xy(xy_of(radiance(WAVELENGTHS_NM, kelvin))).tolist()]
            for kelvin in np.geomspace(1000.0, 100_000.0, count)]


def difference_bands() -> list[dict]:
    """Return the bands of the difference map, darker to lighter than the look compared with.

    It takes the colours of the exposure map, about as many steps of it.
    """
    codes = ramp(len(DIFFERENCES), len(DIFFERENCES))
    edges = [*(-each for each in reversed(DIFFERENCES)), *DIFFERENCES]
    lows, highs = [None, *edges], [*edges, None]
    return [{"label": _difference_label(low, high), "low": low, "high": high,
             "colour": [int(part) for part in code], "mark": ""}
            for low, high, code in zip(lows, highs, codes[1:-1], strict=True)]


def _difference_label(low: float | None, high: float | None) -> str:
    minus = "\N{MINUS SIGN}"
    if low is None:
        return f"under {minus}{-high:g}"
    if high is None:
        return f"over +{low:g}"
    if low < 0 < high:
        return "same"
    if high <= 0:
        return f"{minus}{-high:g} to {minus}{-low:g}"
    return f"+{low:g} to +{high:g}"
