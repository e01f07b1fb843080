"""Colours of the exposure map, worked out rather than chosen.

The map shows an order, so its colours must keep that order in a greyscale print, and each must be
told from the next by people who lack the L or the M cones. The derivation:

1. Mid grey is a neutral grey. What lies below takes hues of earth (Oklab hue 62° at the dark end
   to 108° beside grey), what lies above takes hues of dusk (280° beside grey to 262°). Protanopia
   and deuteranopia leave the axis from blue to yellow, and those two families are its two ends.
2. Going away from grey, chroma alternates between strong and weak. Neighbours then differ in
   chroma as well as in lightness, also where an eye sees no difference of hue.
3. Lightness is what is left to choose. A greyscale print keeps nothing else, so each step gets
   at least `PRINT_SHARE` of an even share of L* from black to white. Starting near black, each
   band takes the least lightness that keeps this and whose CIEDE2000 from the band below reaches
   d in all three kinds of sight; the end is the white of the clip band. The largest d for which
   the ramp still ends below white is found by bisection.

With the ten bands of the default map d is above 13; with clip six stops over grey it is above 11.
No two bands of such maps, neighbours or not, are closer than 7. (A difference of 1 is just seen
side by side.)
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from previz.exposure.appearance import (
    SIGHT,
    XYZ_FROM_SRGB,
    ciede2000,
    cielab,
    decode_srgb,
    encode_srgb,
    seen_by,
)

_LMS_FROM_XYZ = np.array(
    [
        [0.8189330101, 0.3618667424, -0.1288597137],
        [0.0329845436, 0.9293118715, 0.0361456387],
        [0.0482003018, 0.2643662691, 0.6338517070],
    ]
)
_OKLAB_FROM_ROOTS = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)

EARTH_HUES = (62.0, 108.0)
DUSK_HUES = (280.0, 262.0)
STRONG_CHROMA = 0.13
WEAK_CHROMA = 0.035
BLACK_LIGHTNESS = 0.16
"""Oklab lightness of the crushed band: dark, but light enough for its dots to show in print."""

PRINT_SHARE = 0.7
"""Least step of L* in parts of an even share of the way from black to white. [1]"""

_LIGHTNESSES = np.linspace(0.12, 0.995, 351)
_CHROMAS = np.linspace(1.0, 0.0, 51)


def srgb_from_oklab(lab):
    """Return linear sRGB of Oklab, unclipped.

    Parameters
    ----------
    lab : float array, shape (..., 3)
        L 0 to 1, a, b.

    Returns
    -------
    float array, shape (..., 3)
        Linear sRGB; outside 0 to 1 where the display cannot show it. [1]

    Source
    ------
    B. Ottosson, "A perceptual color space for image processing", 2020 (matrices M1 and M2).
    """
    roots = np.asarray(lab, dtype=float) @ np.linalg.inv(_OKLAB_FROM_ROOTS).T
    return roots**3 @ np.linalg.inv(_LMS_FROM_XYZ).T @ np.linalg.inv(XYZ_FROM_SRGB).T


def _codes(hue_deg, chroma):
    """Return 8-bit colours of one hue for every lightness, chroma cut to what a display shows."""
    angle = np.radians(hue_deg)
    tried = chroma * _CHROMAS[None, :]
    lab = np.stack(
        [
            np.broadcast_to(_LIGHTNESSES[:, None], (_LIGHTNESSES.size, _CHROMAS.size)),
            np.broadcast_to(tried * np.cos(angle), (_LIGHTNESSES.size, _CHROMAS.size)),
            np.broadcast_to(tried * np.sin(angle), (_LIGHTNESSES.size, _CHROMAS.size)),
        ],
        axis=-1,
    )
    rgb = srgb_from_oklab(lab)
    # Neutral colours are always inside but for rounding, so the last column settles the rest.
    inside = np.all((rgb > -1e-4) & (rgb < 1 + 1e-4), axis=-1)
    inside[:, -1] = True
    return encode_srgb(rgb[np.arange(_LIGHTNESSES.size), inside.argmax(axis=1)])


def _seen(codes):
    """Return CIELAB of 8-bit colours in each kind of sight, shape (sight, ..., 3)."""
    linear = decode_srgb(codes)
    return np.stack([cielab(seen_by(linear, sight)) for sight in SIGHT])


def _families(below, above):
    """Return hue and chroma of each band between crush and clip, dark to light."""
    hues, chromas = [], []
    for step in range(below, 0, -1):
        dark = (step - 1) / max(below - 1, 1)
        hues.append(EARTH_HUES[1] + (EARTH_HUES[0] - EARTH_HUES[1]) * dark)
        chromas.append(STRONG_CHROMA if step % 2 else WEAK_CHROMA)
    hues.append(0.0)
    chromas.append(0.0)
    for step in range(1, above + 1):
        light = (step - 1) / max(above - 1, 1)
        hues.append(DUSK_HUES[0] + (DUSK_HUES[1] - DUSK_HUES[0]) * light)
        chromas.append(STRONG_CHROMA if step % 2 else WEAK_CHROMA)
    return zip(hues, chromas, strict=True)


@lru_cache(maxsize=32)
def ramp(below, above):
    """Return the colours of a map.

    Parameters
    ----------
    below, above : int
        Bands between crush and mid grey, and between mid grey and clip; 1 or more.

    Returns
    -------
    codes : uint8 array, shape (below + above + 3, 3)
        sRGB from crush to clip; read-only.
    step : float
        d, the least CIEDE2000 between neighbours in any of the three kinds of sight.

    Raises
    ------
    ValueError
        There is no band below or above grey, or there are too many to be told apart.
    """
    if below < 1 or above < 1:
        raise ValueError(f"a map needs a band below and above grey, got {below} and {above}")
    offered = [_codes(hue, chroma) for hue, chroma in _families(below, above)]
    seen = [_seen(codes) for codes in offered]
    black = encode_srgb(srgb_from_oklab([BLACK_LIGHTNESS, 0.0, 0.0]))
    white = np.array([255, 255, 255], dtype=np.uint8)

    print_step = PRINT_SHARE * (100.0 - _seen(black)[0, 0]) / (below + above + 2)

    def climb(step):
        """Return the colours that keep the step, or None if they do not end below white."""
        taken = [black]
        for codes, labs in zip(offered, seen, strict=True):
            last = _seen(taken[-1])[:, None]
            apart = ciede2000(last, labs).min(axis=0) >= step
            lighter = labs[0, :, 0] >= last[0, :, 0] + print_step
            if not np.any(apart & lighter):
                return None
            taken.append(codes[np.argmax(apart & lighter)])
        last = _seen(taken[-1])
        if 100.0 - last[0, 0] < print_step or ciede2000(last, _seen(white)).min() < step:
            return None
        return np.array([*taken, white])

    low, high, best = 0.0, 40.0, None
    while high - low > 0.01:
        middle = (low + high) / 2
        found = climb(middle)
        if found is None:
            high = middle
        else:
            low, best = middle, found
    if best is None or low < 3:
        raise ValueError(f"{below + above + 3} bands cannot be told apart by colour")
    best.setflags(write=False)
    return best, low
