"""Lamps: the spectra of the kinds of light a set is lit with, and what a dimmer does to tungsten.

`spectrum_of` gives any kind at any colour temperature and tint, always at one lumen. The kinds
differ in what they do to colours, not in what they do to white.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.blackbody import radiance
from previz.physics.colourtemp import (
    cct_duv,
    mired,
    uv_from_xy,
    xy_from_cct_duv,
    xy_from_uv,
    xy_of,
    xyz_from_xy,
)
from previz.physics.daylight import COOLEST_D_K, WARMEST_D_K, daylight_spectrum, daylight_xy
from previz.physics.multi_emitter import led_emitters, peak
from previz.physics.newton import solve
from previz.physics.spectra import WAVELENGTHS_NM, normalise, xyz_of
from previz.physics.tables import read_table

KINDS = ("blackbody", "daylight", "led", "multi-emitter led", "fluorescent", "tungsten",
         "metal halide")
"""What `spectrum_of` knows."""

WARMEST_K, COOLEST_K = 1600.0, 25000.0
"""Range of colour temperatures a lamp may be given. [K]"""

_TABLES = ("illuminants_standard", "illuminants_fluorescent", "illuminants_led")

# Peaks of a white LED: (centre, width as standard deviation below and above it). [nm]
# A pumping blue, then a green-yellow and a red phosphor, whose tails are longer to the red.
# Common practice, no source: fitted to the colour rendering of a set lamp, Ra about 95.
_LED_BLUE = (450.0, 10.0, 14.0)
_LED_GREEN = (525.0, 36.0, 48.0)
_LED_RED = (634.0, 45.0, 50.0)

# Three-band tubes of the CIE from warm to cool. [K]
_TUBES = (("FL12", 3000.0), ("FL11", 4000.0), ("FL10", 5000.0))

EFFICACY_LM_PER_W = {
    "candle": (0.2, 0.4),
    "household tungsten": (5.0, 17.5),
    "tungsten halogen": (15.0, 35.0),
    "xenon": (30.0, 50.0),
    "metal halide": (65.0, 115.0),
    "fluorescent": (70.0, 104.0),
    "led": (4.5, 150.0),
}
"""Lumens from each watt, lowest and highest of a class. [lm/W]

Source: 'Luminous efficacy' table of a general encyclopaedia; older figures for LEDs."""


def illuminant(name: str) -> FloatArray:
    """Return a tabulated CIE illuminant.

    Parameters
    ----------
    name : str
        Such as 'A', 'D65', 'FL2', 'LED-B3', 'HP1'.

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Raises
    ------
    ValueError
        The illuminant is not tabulated; the message lists those that are.

    Source
    ------
    CIE 15:2018.
    """
    known = {}
    for table in _TABLES:
        known.update(read_table(table))
    known.pop("wavelength_nm")
    if name not in known:
        raise ValueError(f"illuminant '{name}' is not tabulated; known are: {', '.join(known)}")
    return normalise(known[name])


def tinted(spectrum: ArrayLike, xy: FloatArray) -> FloatArray:
    """Return a spectrum brought to a chromaticity by the smoothest filter that does it.

    The filter is exp(b t + c t²), t = (wavelength - 580 nm) / 200 nm.

    Parameters
    ----------
    spectrum : float array, shape (81,)
        Spectral power. [any]
    xy : float array, shape (2,)
        Chromaticity to have. [1]

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Raises
    ------
    ValueError
        No such filter brings the spectrum there.
    """
    base = normalise(spectrum)
    target = uv_from_xy(xy)
    t = (WAVELENGTHS_NM - 580.0) / 200.0

    def filtered(numbers: FloatArray) -> FloatArray:
        slope = np.clip(numbers[0] * t + numbers[1] * t * t, -60, 60)
        return base * np.exp(slope)

    def miss(numbers: FloatArray) -> FloatArray:
        return uv_from_xy(xy_of(filtered(numbers))) - target

    found = solve(miss, np.zeros(2))
    if found is None:
        raise ValueError(f"no smooth filter brings the light to x {xy[0]:.4f}, y {xy[1]:.4f}")
    return normalise(filtered(found))


def _checked(cct: float) -> float:
    if not WARMEST_K <= cct <= COOLEST_K:
        raise ValueError(
            f"a lamp's colour temperature lies from {WARMEST_K:.0f} to {COOLEST_K:.0f} K, "
            f"got {cct:g} K"
        )
    return float(cct)


def led_white(cct: float, duv: float = 0.0) -> FloatArray:
    """Return a phosphor-converted white LED; as `spectrum_of`.

    A narrow blue peak, a green-yellow and a red phosphor in the amounts that give exactly the
    requested chromaticity; where that needs less than no blue, a smooth filter does the rest.
    """
    xy = xy_from_cct_duv(_checked(cct), duv)
    parts = np.stack([normalise(peak(*each)) for each in (_LED_BLUE, _LED_GREEN, _LED_RED)])
    amounts = np.linalg.solve(xyz_of(parts).T, xyz_from_xy(xy))
    if np.all(amounts >= 0):
        return normalise(amounts @ parts)
    # Warm and green lies outside the triangle of the peaks: filter the untinted lamp instead.
    amounts = np.linalg.solve(xyz_of(parts).T, xyz_from_xy(xy_from_cct_duv(cct)))
    return tinted(np.clip(amounts, 0, None) @ parts, xy)


def led_mix(cct: float, warm: float = 2700.0, cool: float = 6500.0) -> FloatArray:
    """Return a lamp that fades between a warm and a cool white LED.

    Between its ends the mix lies on a straight line under the curved locus: its Duv is negative.

    Parameters
    ----------
    cct : float
        From `warm` to `cool`. [K]
    warm, cool : float
        Colour temperatures of the two LEDs, each on the Planckian locus. [K]

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Raises
    ------
    ValueError
        The wish lies outside the two ends.
    """
    if not warm <= cct <= cool:
        raise ValueError(f"this lamp reaches {warm:g} to {cool:g} K, not {cct:g} K")
    ends = np.stack([led_white(warm), led_white(cool)])
    low, high = 0.0, 1.0
    for _ in range(60):
        share = (low + high) / 2
        mixed = (1 - share) * ends[0] + share * ends[1]
        low, high = (share, high) if cct_duv(xy_of(mixed))[0] < cct else (low, share)
    return normalise(mixed)


def fluorescent(cct: float, duv: float = 0.0) -> FloatArray:
    """Return a three-band tube; as `spectrum_of`.

    CIE FL10, FL11 and FL12 mixed by mired, then brought to the colour by a smooth filter.

    Source
    ------
    CIE 15:2018 for the three tubes.

    Limits
    ------
    Beyond 3000 to 5000 K the phosphors of a real tube differ; the tint only stands in for that.
    """
    xy = xy_from_cct_duv(_checked(cct), duv)
    places = np.array([mired(kelvin) for _, kelvin in _TUBES])
    tubes = np.stack([illuminant(name) for name, _ in _TUBES])
    share = np.clip(mired(cct), places[-1], places[0])
    amounts = [np.interp(share, places[::-1], column) for column in np.eye(len(places))[::-1]]
    return tinted(np.array(amounts)[::-1] @ tubes, xy)


def metal_halide(cct: float, duv: float = 0.0) -> FloatArray:
    """Return a high-pressure metal halide lamp; as `spectrum_of`.

    CIE HP5 brought to the colour by a smooth filter.

    Source
    ------
    CIE 15:2018 for HP5, a lamp of about 4040 K.

    Limits
    ------
    A daylight lamp has other salts and lines than HP5; use this where a spiky daylight matters.
    """
    return tinted(illuminant("HP5"), xy_from_cct_duv(_checked(cct), duv))


def daylight(cct: float, duv: float = 0.0) -> FloatArray:
    """Return daylight at any colour temperature; as `spectrum_of`.

    From 4000 to 25 000 K the CIE D series. Below, D40 brought by a smooth filter towards the
    black body, which it meets at 2500 K: the light of a low sun. `duv` is added to the Duv of
    daylight, which is about +0.003.

    Source
    ------
    CIE 15:2018, section 4.1.2; below 4000 K our own extension.
    """
    _checked(cct)
    if WARMEST_D_K <= cct <= COOLEST_D_K:
        base, own_xy = daylight_spectrum(cct), daylight_xy(cct)
    else:
        base = daylight_spectrum(WARMEST_D_K)
        own = cct_duv(daylight_xy(WARMEST_D_K))[1] * np.clip((cct - 2500) / 1500, 0, 1)
        own_xy = xy_from_cct_duv(cct, own)
    if duv == 0 and cct >= WARMEST_D_K:
        return base
    # Move square to the locus by the difference of two black-body points with that Duv.
    moved = uv_from_xy(xy_from_cct_duv(cct, duv)) - uv_from_xy(xy_from_cct_duv(cct))
    return tinted(base, xy_from_uv(uv_from_xy(own_xy) + moved))


def blackbody(cct: float, duv: float = 0.0) -> FloatArray:
    """Return a glowing body: tungsten, flame, or the Planckian white; as `spectrum_of`.

    A smooth filter tints it.
    """
    glow = normalise(radiance(WAVELENGTHS_NM, _checked(cct)))
    return glow if duv == 0 else tinted(glow, xy_from_cct_duv(cct, duv))


_MAKERS = {
    "blackbody": blackbody,
    "tungsten": blackbody,
    "daylight": daylight,
    "led": led_white,
    "fluorescent": fluorescent,
    "metal halide": metal_halide,
    "multi-emitter led": led_emitters,
}


def spectrum_of(kind: str, cct: float, duv: float = 0.0) -> FloatArray:
    """Return the spectrum of a kind of lamp at a colour.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    cct : float
        Correlated colour temperature, 1600 to 25 000. [K]
    duv : float
        Distance from the kind's own white, plus towards green: from CIE daylight for 'daylight',
        from the Planckian locus for all others. [1]

    Returns
    -------
    float array, shape (81,)
        One lumen. [W/nm per lm]

    Raises
    ------
    ValueError
        The kind is unknown or cannot have that colour.
    """
    if kind not in _MAKERS:
        raise ValueError(f"a spectrum is one of {', '.join(KINDS)}, not '{kind}'")
    return _MAKERS[kind](cct, duv)
