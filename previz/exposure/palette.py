"""Colours of the exposure map and of difference maps, worked out rather than chosen.

A map shows an order, so its colours keep that order in a greyscale print, and each can be known from
the next by people who lack the L or the M cones. Mid grey is a neutral grey; what lies below takes
hues of earth, what lies above hues of dusk, as those two kinds of sight leave the axis from blue to
yellow. Away from grey, chroma alternates between strong and weak; lightness rises from band to band
by the steps that make the least CIEDE2000 between neighbours, in all three kinds of sight, largest.

That least difference is above 13 in the exposure map of ten bands and above 11 in all, and no two
bands of a map, neighbours or not, are closer than 7. (A difference of 1 is just seen side by side.)

The tables are constants; `tests/exposure/palette_derivation.py` derives them anew.
"""

from __future__ import annotations

import numpy as np

RAMPS = {
    (3, 3): "0d0d0d 3a1e01 584e39 6a6703 7a7a7a 8388e0 9fa6be cbddfe ffffff",
    (5, 2): "0d0d0d 391d00 594a38 785a01 77725b 8c8908 999999 a0a6ff c3d0e7 ffffff",
    (5, 5): "0d0d0d 301800 4d3f2d 654b04 625d47 706e02 797979 7c80d7 9196ae 8aa2f9 acb6cd d8e5fe ffffff",
}
"""Bands between crush and mid grey, and between mid grey and clip -> sRGB from crush to clip."""


def ramp(below: int, above: int) -> np.ndarray:
    """Return the colours of a map, sRGB from crush to clip: uint8 of shape (below + above + 3, 3).

    Parameters
    ----------
    below, above : int
        Bands between crush and mid grey, and between mid grey and clip; a key of `RAMPS`.
    """
    return np.array([list(bytes.fromhex(code)) for code in RAMPS[below, above].split()], dtype=np.uint8)
