"""The derivation of `previz.exposure.palette`: colours of the exposure map, worked out.

The map shows an order, so its colours must keep that order in a greyscale print, and each must be
distinguished from the next by people who lack the L or the M cones. The derivation:

1. Mid grey is a neutral grey. What lies below takes hues of earth (Oklab hue 62° at the dark end
   to 108° next to grey), what lies above takes hues of dusk (280° next to grey to 262°). Protanopia
   and deuteranopia leave the axis from blue to yellow, and those two families are its two ends.
2. Going away from grey, chroma alternates between strong and weak. Neighbours then differ in
   chroma as well as in lightness, also where an eye sees no difference of hue.
3. Lightness is what is left to choose. A greyscale print keeps nothing else, so each step gets
   at least `PRINT_SHARE` of an even share of L* from black to white. Starting near black, each
   band takes the least lightness that keeps this and whose CIEDE2000 from the band below reaches
   d in all three kinds of sight; the end is the white of the clip band. The largest d for which
   the ramp still ends below white is found by bisection.

All of it works on linear sRGB of a display, 0 to 1. A difference of 1 is just seen side by side.
"""

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
    """Return colours as an eye has them.

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


def derived(below, above):
    """Return the colours of a map.

    Parameters
    ----------
    below, above : int
        Bands between crush and mid grey, and between mid grey and clip; 1 or more.

    Returns
    -------
    codes : uint8 array, shape (below + above + 3, 3)
        sRGB from crush to clip.
    step : float
        d, the least CIEDE2000 between neighbours in any of the three kinds of sight.

    Raises
    ------
    ValueError
        There is no band below or above grey, or there are too many to be distinguished.
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
            differs = ciede2000(last, labs).min(axis=0) >= step
            lighter = labs[0, :, 0] >= last[0, :, 0] + print_step
            if not np.any(differs & lighter):
                return None
            taken.append(codes[np.argmax(differs & lighter)])
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
    return best, low
