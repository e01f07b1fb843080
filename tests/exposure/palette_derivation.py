"""The derivation of `previz.exposure.palette`: colours of the exposure map, worked out.

The map shows an order, so its colours must keep that order in a greyscale print; each must be told from
the next by people who lack a kind of cones, and on a dimmed screen in the dark of a set, where most bands
lie under grey. The derivation:

1. Mid grey is a neutral grey. From stop to stop hues of earth (Oklab hue 50 to 105°) and of dusk (215 to
   290°) take turns: protanopia and deuteranopia leave the axis from blue to yellow, and those two families
   are its two ends. Hues from leaf green to teal and from rose to red are in neither.
2. Lightness rises in even steps of J' of CAM16-UCS, as greys have it in a dim room (`dim_greys`).
3. Hue and most chroma of the first four stops under grey and of the first four over it are left to choose;
   further stops go round again, so that a hue means its stop in maps of any length. From the middle of each
   family on, one after the other takes what raises `score`, until none does. Each of the four ways to begin
   the turns under and over grey is tried.
4. `score` is the power mean (exponent -8, near the least) of all differences between two bands, by CIEDE2000
   in daylight and by CAM16-UCS in the dim room, in four kinds of sight, over maps of several lengths, whole
   and half stops. A difference that only an eye without S cones sees so small, one of ten thousand and more
   against one man of twelve without or with other L or M cones, counts as if it were larger.
5. Zones lie on a grey picture: their four hues are those whose least difference, from each other and from
   any grey, is largest for one to six zones.

All of it works on linear sRGB of a display, 0 to 1. A difference of 1 is just seen side by side.
`python -m tests.exposure.palette_derivation` prints the tables.
"""

import itertools
import sys

import colour
import numpy as np

from previz.exposure import palette
from previz.exposure.palette import XYZ_FROM_SRGB
from previz.physics.transfer import srgb_signal
from previz.physics.uplift import linear_from_srgb

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
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
"""Linear sRGB as seen with all cones, without L cones, without M cones, and without S cones.

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

WHITE_NITS, FLARE, SURROUND = 40.0, 0.01, "Dim"
"""A screen turned down for a dark set: its white, what of it lies on its black, and CAM16's surround.
[cd/m², 1]  Common practice, no source."""


def dim_room(rgb):
    """Return J', a', b' of CAM16-UCS of colours on a dimmed screen in a dim room.

    Parameters
    ----------
    rgb : float array, shape (..., 3)
        Linear. [1]

    Returns
    -------
    float array, shape (..., 3)

    Source
    ------
    Li et al., "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS", Color Research and Application
    42(6), 2017, by a general colour library.
    """
    white = 100.0 * XYZ_FROM_SRGB.sum(axis=1)
    xyz = 100.0 * np.asarray(rgb, dtype=float) @ XYZ_FROM_SRGB.T + FLARE * white
    seen = colour.XYZ_to_CAM16(xyz, white * (1 + FLARE), WHITE_NITS / 5, 20.0,
                               colour.VIEWING_CONDITIONS_CAM16[SURROUND])
    return colour.JMh_CAM16_to_CAM16UCS(np.stack([seen.J, seen.M, seen.h], axis=-1))


def dim_greys(count):
    """Return `palette.DIM_GREYS` with so many entries."""
    fine = np.linspace(0.0, 1.0, 8001) ** 2.4
    seen = dim_room(np.repeat(fine[:, None], 3, axis=1))[:, 0]
    black = float(linear_from_srgb(palette.BLACK / 255.0))
    ends = np.interp([black, 1.0], fine, seen)
    return np.interp(np.linspace(*ends, count), seen, fine)


def seen_in_all(linear):
    """Return CIELAB and dim-room coordinates in each kind of sight, both of shape (sight, ..., 3)."""
    seen = np.stack([seen_by(linear, sight) for sight in SIGHT])
    return cielab(seen), dim_room(seen)


EARTH = tuple(range(50, 106, 5))
DUSK = tuple(range(215, 291, 5))
CHROMAS_UNDER = (0.04, 0.07, 0.10, 0.13)
CHROMAS_OVER = (0.04, 0.07, 0.10)
"""Strengths that are tried; quieter over grey, where the map is light and colours are loud."""

SIZES = ((5, 2, False), (11, 4, True), (7, 6, False), (5, 5, False))
"""Bands under and over grey, and whether of half stops, of the maps that count."""

WITHOUT_S = 0.6
"""What is asked of differences for eyes without S cones, over what is asked for all others. [1]"""


def differences(linear):
    """Return all differences between two colours: CIEDE2000, dim room; each of shape (sight, pair)."""
    labs, rooms = seen_in_all(linear)
    first, second = np.triu_indices(len(linear), 1)
    return (ciede2000(labs[:, first], labs[:, second]),
            np.linalg.norm(rooms[:, first] - rooms[:, second], axis=-1))


def score(under, over):
    """Return how well bands are told apart with tables of hue and chroma under and over grey."""
    asked = np.array([WITHOUT_S if sight == "tritanopia" else 1.0 for sight in SIGHT])[:, None]
    kept = palette.UNDER, palette.OVER
    palette.UNDER, palette.OVER = tuple(under), tuple(over)
    try:
        means = []
        for below, above, halves in SIZES:
            linear = palette.linear_ramp(below, above, halves=halves)
            # The more bands, the closer they lie: each map counts by what it could have.
            apart = np.concatenate(differences(linear)) / np.concatenate([asked, asked]) * len(linear)
            means.append(np.mean(apart**-8.0) ** (-1 / 8))
        return min(means)
    finally:
        palette.UNDER, palette.OVER = kept


def improved(under, over, families):
    """Return tables after one round of better hues and chromas, and their score.

    `families` has the hues that each entry may have: eight, four under grey and four over it.
    """
    tables = [list(under), list(over)]
    best = score(*tables)
    for place, family in enumerate(families):
        table, chromas = (tables[0], CHROMAS_UNDER) if place < 4 else (tables[1], CHROMAS_OVER)
        for tried in itertools.product(family, chromas):
            before, table[place % 4] = table[place % 4], tried
            found = score(*tables)
            if found > best + 1e-6:
                best = found
            else:
                table[place % 4] = before
    return tuple(tables[0]), tuple(tables[1]), best


def families(under_first, over_first):
    """Return the hues that each of the eight entries may have, from the families that begin."""
    other = {EARTH: DUSK, DUSK: EARTH}
    return [*(under_first, other[under_first]) * 2, *(over_first, other[over_first]) * 2]


def derived():
    """Return the tables under and over grey, and their score."""
    found = []
    for under_first, over_first in itertools.product((EARTH, DUSK), repeat=2):
        hues = families(under_first, over_first)
        begun = [(family[len(family) // 2], 0.07) for family in hues]
        under, over, best = tuple(begun[:4]), tuple(begun[4:]), 0.0
        while True:
            under, over, better = improved(under, over, hues)
            if better <= best + 1e-6:
                break
            best = better
        found.append((best, under, over))
    best, under, over = max(found)
    return under, over, best


MOST_ZONES = 6
ZONE_HUES = (45, 75, 100, 230, 260, 285)


def zone_differences(count):
    """Return the least difference of so many zones from each other, and from any grey."""
    zones = decode_srgb(palette.zone_colours(count))
    greys = np.repeat(np.linspace(0.0, 1.0, 60)[:, None] ** 2.2, 3, axis=1)
    (labs, rooms), (grey_labs, grey_rooms) = seen_in_all(zones), seen_in_all(greys)
    apart = np.concatenate(differences(zones)).min() if count > 1 else np.inf
    return apart, min(ciede2000(labs[:, :, None], grey_labs[:, None]).min(),
                      np.linalg.norm(rooms[:, :, None] - grey_rooms[:, None], axis=-1).min())


if __name__ == "__main__":
    sys.stdout.write(f"DIM_GREYS {np.array2string(dim_greys(33), separator=', ', precision=5)}\n")
    sys.stdout.write("UNDER, OVER, score\n" + "\n".join(map(str, derived())) + "\n")
