"""Colours of the exposure map, of difference maps and of zones, worked out rather than chosen.

A map shows an order, so lightness rises from band to band and a greyscale print keeps it. A set is dark, and
so are most of its stops: lightness rises by even steps of what is seen on a dimmed screen in a dim room, with
light of the room on its black. Mid grey is a neutral grey. From stop to stop hues of earth and of dusk take
turns, the two ends of the axis from yellow to blue, which eyes without L or M cones keep: neighbours differ
in hue as well as in lightness, and a stop has its hue in every map, however many stops a camera holds. Which
hues and how strong is searched for: the table that makes the least difference between bands largest, to
normal eyes and to those without L, M or S cones, in daylight (CIEDE2000) and in a dim room (CAM16-UCS).

In the map of ten bands any two differ by 16 and more, by day and in the dim room, to normal eyes and to those
without L or M cones, by 13 to those without S cones; stops under grey from the next by 28, and 25. (A
difference of 1 is just seen side by side.) Half stops have the hue of the whole stop that lies further from
grey, weaker: 7.5 and more, and 4.5.

The tables are constants; `tests/exposure/palette_derivation.py` derives them anew.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.chromatic_adaptation import D65_XY, REC709_XY, xyz_from_rgb
from previz.physics.transfer import srgb_signal

XYZ_FROM_SRGB = xyz_from_rgb(REC709_XY, D65_XY)
"""Linear sRGB to XYZ with Y = 1 for white.  Source: IEC 61966-2-1 (primaries of BT.709, D65)."""
XYZ_FROM_SRGB.setflags(write=False)

UNDER = ((270, 0.07), (100, 0.13), (285, 0.13), (60, 0.07))
"""Oklab hue and most chroma of the first, second, third, fourth stop under grey, and so round again.
[deg, 1]"""

OVER = ((230, 0.10), (100, 0.10), (270, 0.10), (50, 0.07))
"""The same of stops over grey. [deg, 1]"""

HALF_CHROMA = 0.45
"""Chroma of a half stop over that of the whole one whose hue it has. [1]"""

ZONES = ((260, 0.13), (60, 0.13), (230, 0.13), (75, 0.13))
"""Hue and most chroma of a crew's own zones from the darkest on, and so round again. [deg, 1]"""

ZONE_LIGHTNESS = (0.30, 0.75)
"""Where the darkest and the lightest of several zones lie on the way of `lightened`. [1]"""

BLACK = 13
"""sRGB code of the crushed band: dark, but light enough for its dots to show in print."""

DIM_GREYS = (
    0.00402, 0.00823, 0.01313, 0.01878, 0.02525, 0.03258, 0.04086, 0.05015, 0.06052, 0.07207, 0.08486,
    0.09902, 0.11462, 0.13179, 0.15065, 0.17132, 0.19395, 0.21869, 0.24570, 0.27516, 0.30727, 0.34223,
    0.38029, 0.42169, 0.46671, 0.51565, 0.56883, 0.62662, 0.68941, 0.75765, 0.83179, 0.91239, 1.00000,
)
"""Luminances over white's in even steps of lightness from `BLACK` to white, as seen in a dim room. [1]

Source: CAM16 (Li et al. 2017, taken over by CIE 248:2022), dim surround, white of 40 cd/m², its fifth for
adaptation, 1 % of white as flare on everything.
"""

MOST_STOPS = 10
"""Whole stops to either side of grey that have a band of their own at most."""

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
_LIGHTNESSES = np.linspace(0.05, 1.0, 400)
_CHROMAS = np.linspace(1.0, 0.0, 61)


def srgb_from_oklab(lab: ArrayLike) -> np.ndarray:
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


@cache
def _column(hue_deg: float, chroma: float) -> tuple[np.ndarray, np.ndarray]:
    """Return linear sRGB of a hue from dark to light, no stronger than a display shows, and luminances."""
    tried = chroma * _CHROMAS[None, :]
    angle = np.radians(hue_deg)
    lab = np.stack(np.broadcast_arrays(
        _LIGHTNESSES[:, None], tried * np.cos(angle), tried * np.sin(angle)), axis=-1)
    rgb = srgb_from_oklab(lab)
    # Neutral colours are always inside but for rounding, so the last column settles the rest.
    inside = np.all((rgb > -1e-4) & (rgb < 1 + 1e-4), axis=-1)
    inside[:, -1] = True
    rgb = rgb[np.arange(_LIGHTNESSES.size), inside.argmax(axis=1)].clip(0.0, 1.0)
    rising = np.maximum.accumulate(rgb @ XYZ_FROM_SRGB[1]) + 1e-12 * np.arange(_LIGHTNESSES.size)
    return rgb, rising


def coloured(hue_deg: float, chroma: float, luminance: float) -> np.ndarray:
    """Return linear sRGB of a hue at a luminance over white's: the strongest up to a chroma. Shape (3,)"""
    rgb, rising = _column(hue_deg, chroma)
    return np.array([np.interp(luminance, rising, part) for part in rgb.T])


def lightened(way: ArrayLike) -> np.ndarray:
    """Return luminances over white's on the way, 0 to 1, from `BLACK` to white as a dim room shows it."""
    knots = np.array(DIM_GREYS) ** (1 / 2.4)
    return np.interp(way, np.linspace(0.0, 1.0, knots.size), knots) ** 2.4


def stops_of(below: int, above: int, *, halves: bool = False) -> np.ndarray:
    """Return the stops that bands are about, in whole or half ones: `below` under grey, `above` over it."""
    return np.arange(-below, above + 1) / (2.0 if halves else 1.0)


def hue_of(stops: float) -> tuple[float, float]:
    """Return hue and most chroma of a band about a number of stops, not grey's. [deg, 1]"""
    whole = int(np.ceil(abs(stops)))
    table = UNDER if stops < 0 else OVER
    hue, chroma = table[(whole - 1) % len(table)]
    return hue, chroma if stops == int(stops) else chroma * HALF_CHROMA


def linear_ramp(below: int, above: int, *, halves: bool = False) -> np.ndarray:
    """Return linear sRGB of `ramp`, unrounded."""
    stops = stops_of(below, above, halves=halves)
    black, *between, white = lightened(np.linspace(0.0, 1.0, stops.size + 2))
    bands = [np.full(3, light) if at == 0 else coloured(*hue_of(at), light)
             for at, light in zip(stops, between, strict=True)]
    return np.array([np.full(3, black), *bands, np.full(3, white)])


@cache
def ramp(below: int, above: int, *, halves: bool = False) -> np.ndarray:
    """Return the colours of a map, sRGB from crush to clip: uint8 of shape (below + above + 3, 3).

    Parameters
    ----------
    below, above : int
        Bands between crush and mid grey, and between mid grey and clip.
    halves : bool, optional
        Whether a band is half a stop and not a whole one.
    """
    codes = _codes(linear_ramp(below, above, halves=halves))
    codes.setflags(write=False)
    return codes


def zone_colours(count: int) -> np.ndarray:
    """Return the colours of a crew's own zones, the darkest first: uint8 of shape (count, 3)."""
    way = np.linspace(*ZONE_LIGHTNESS, count) if count > 1 else np.full(count, np.mean(ZONE_LIGHTNESS))
    return _codes(np.array([coloured(*ZONES[number % len(ZONES)], light)
                            for number, light in enumerate(lightened(way))]).reshape(-1, 3))


def _codes(linear: np.ndarray) -> np.ndarray:
    return np.round(srgb_signal(np.clip(linear, 0.0, 1.0)) * 255.0).astype(np.uint8)
