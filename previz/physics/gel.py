"""Colour filters in front of a lamp: warming and cooling, green and magenta, neutral.

A gel here is a smooth spectral transmission that does to a stated light exactly what it is said
to do: a mired shift, a Duv shift, a luminous transmission. Its curve is a model, not a measured
dye. Gel names of the trade mean a nominal strength only (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.blackbody import radiance
from previz.physics.colourtemp import (
    cct_duv,
    shifted_kelvin,
    uv_from_xy,
    xy_from_cct_duv,
    xy_of,
)
from previz.physics.exposure import density_transmission
from previz.physics.newton import solve
from previz.physics.spectra import WAVELENGTHS_NM, normalise, observer

DAYLIGHT_K, TUNGSTEN_K = 5600.0, 3200.0
"""Black bodies that warming and cooling gels are stated on. [K]"""

FULL_SHIFT = 1e6 / TUNGSTEN_K - 1e6 / DAYLIGHT_K
"""What 'full' means: daylight to tungsten or back, 133.9. [mired]"""

CLEAREST = 0.92
"""Transmission of the bare film, both faces reflecting. [1]  Common practice, no source."""

_FRACTIONS = {"full": 1.0, "half": 0.5, "quarter": 0.25, "eighth": 0.125}

# Light lost, in stops, at the nominal strengths; common practice, no source.
_WARMING_LOSS = ((0.0, 0.0), (1 / 8, 1 / 4), (1 / 4, 1 / 3), (1 / 2, 1 / 2), (1.0, 2 / 3))
_COOLING_LOSS = ((0.0, 0.0), (1 / 8, 1 / 3), (1 / 4, 2 / 3), (1 / 2, 1.0), (1.0, 3 / 2))

# Full, half, quarter, eighth plus or minus green, as densities of a colour-compensating filter.
_GREEN_DENSITY = 0.30
_STRONGEST_GREEN = 0.6
_GREEN_CENTRE_NM, _GREEN_WIDTH_NM = 545.0, 45.0

NEUTRAL_DENSITIES = (0.15, 0.3, 0.6, 0.9, 1.2)

GEL_NAMES = (
    *(f"{fraction} {kind}" for kind in ("cto", "ctb") for fraction in _FRACTIONS),
    *(f"{fraction} {kind} green" for kind in ("plus", "minus") for fraction in _FRACTIONS),
    *(f"nd {density}" for density in NEUTRAL_DENSITIES),
)
"""Every gel that may be called by name."""


def nominal_transmission(shift: float) -> float:
    """Return the usual luminous transmission of a warming or cooling gel.

    Parameters
    ----------
    shift : float
        Plus is warmer. [mired]

    Returns
    -------
    float
        Linear in stops between the nominal strengths, and beyond full by the last slope. [1]

    Source
    ------
    Common practice, no source: full warming two thirds of a stop, full cooling one and a half.
    """
    strength, loss = np.array(_WARMING_LOSS if shift >= 0 else _COOLING_LOSS).T
    size = abs(shift) / FULL_SHIFT
    if size <= 1:
        stops = np.interp(size, strength, loss)
    else:
        stops = loss[-1] + (size - 1) * (loss[-1] - loss[-2]) / (strength[-1] - strength[-2])
    return float(2.0**-stops)


def neutral(transmission: float) -> FloatArray:
    """Return a grey filter.

    Parameters
    ----------
    transmission : float
        0 to 1. [1]

    Returns
    -------
    float array, shape (81,)
        The same at all wavelengths. [1]

    Raises
    ------
    ValueError
        The transmission is outside 0 to 1.
    """
    if not 0 <= transmission <= 1:
        raise ValueError(f"a transmission lies from 0 to 1, got {transmission!r}")
    return np.full(WAVELENGTHS_NM.shape, float(transmission))


def luminous_transmission(gel: ArrayLike, spectrum: ArrayLike) -> float:
    """Return the share of a light's lumens that a filter passes.

    Parameters
    ----------
    gel, spectrum : float array, shape (81,)
        Transmission, and the light's spectral power. [1, any]

    Returns
    -------
    float
        [1]
    """
    seen = np.asarray(spectrum, dtype=float) * observer()[1]
    return float(np.sum(seen * gel) / np.sum(seen))


def green_filter(density: float) -> FloatArray:
    """Return a colour-compensating filter, green for a density above 0 and magenta below.

    Green: density outside a Gaussian window 545 ± 45 nm. Magenta: density inside it.

    Parameters
    ----------
    density : float
        0.30 is about a full plus green, -0.30 a full minus green. [1]

    Returns
    -------
    float array, shape (81,)
        10^-(density of each wavelength). [1]

    Source
    ------
    An idealised filter; the strengths are common practice, no source.
    """
    window = np.exp(-0.5 * ((WAVELENGTHS_NM - _GREEN_CENTRE_NM) / _GREEN_WIDTH_NM) ** 2)
    absorbing = 1 - window if density >= 0 else window
    return density_transmission(abs(density) * absorbing)


def shift_gel(shift: float, transmission: float | None = None, green: float = 0.0) -> FloatArray:
    """Return the filter with a stated mired shift, Duv and luminous transmission.

    The curve is 0.92 / (1 + exp(-(a + b q + c q²))), q = 555 nm / wavelength - 1, with a, b, c
    solved so that all three hold exactly for a black body, of 5600 K for warming and 3200 K for
    cooling. A green without a shift or a transmission is the colour-compensating filter of that Duv
    on 5600 K.

    Parameters
    ----------
    shift : float
        Plus is warmer. [mired]
    transmission : float, optional
        Luminous transmission; the nominal one of the shift (times that of the green) if left out.
        [1]
    green : float
        Duv after the filter, plus towards green. [1]

    Returns
    -------
    float array, shape (81,)
        Spectral transmission, above 0 and at most 0.92. [1]

    Raises
    ------
    ValueError
        No filter can do it: too much light for so strong a colour, or a colour too far off.
    """
    if transmission is None and shift == 0:
        return CLEAREST * (green_filter(_green_density(green)) if green else neutral(1.0))
    if transmission is None:
        transmission = nominal_transmission(shift)
        if green:
            daylight = radiance(WAVELENGTHS_NM, DAYLIGHT_K)
            transmission *= luminous_transmission(green_filter(_green_density(green)), daylight)
    if not 0 < transmission <= 1:
        raise ValueError(f"a gel's transmission lies above 0 and up to 1, got {transmission!r}")
    if shift == 0 and green == 0:
        return neutral(transmission)
    curve = _smooth_curve(shift, transmission, green)
    if curve is None:
        most = _brightest(shift, green)
        advice = f"the most is about {most:.0%}" if most else "no sheet has that colour"
        raise ValueError(
            f"no gel shifts {shift:+.0f} mired with Duv {green:+.4f} and passes "
            f"{transmission:.0%} of the light: {advice}"
        )
    return curve


def _smooth_curve(shift: float, transmission: float, green: float) -> FloatArray | None:
    """The curve of `shift_gel`, or None where there is none."""
    reference = DAYLIGHT_K if shift >= 0 else TUNGSTEN_K
    source = normalise(radiance(WAVELENGTHS_NM, reference))
    target = uv_from_xy(xy_from_cct_duv(shifted_kelvin(reference, shift), green))
    q = 555.0 / WAVELENGTHS_NM - 1

    def curve(numbers: FloatArray) -> FloatArray:
        slope = numbers[0] + numbers[1] * q + numbers[2] * q * q
        return CLEAREST / (1 + np.exp(-np.clip(slope, -60, 60)))

    def miss(numbers: FloatArray) -> FloatArray:
        gel = curve(numbers)
        off = uv_from_xy(xy_of(source * gel)) - target
        return np.array([*off, luminous_transmission(gel, source) - transmission])

    level = min(transmission / CLEAREST, 0.98)
    start = np.array([np.log(level / (1 - level)), -0.02 * shift, 0.0])
    found = solve(miss, start, tolerance=1e-9)
    return None if found is None else curve(found)


def _brightest(shift: float, green: float) -> float:
    """Highest transmission for which there is a curve, to 0.5 %; 0 where none was found."""
    low, high = 0.0, CLEAREST
    while high - low > 0.005:
        middle = (low + high) / 2
        possible = _smooth_curve(shift, middle, green) is not None
        low, high = (middle, high) if possible else (low, middle)
    return low


def _green_density(green: float) -> float:
    """Density of the colour-compensating filter that gives daylight this Duv."""
    source = radiance(WAVELENGTHS_NM, DAYLIGHT_K)
    side = np.sign(green)
    low, high = 0.0, _STRONGEST_GREEN
    for _ in range(40):
        middle = (low + high) / 2
        duv = cct_duv(xy_of(source * green_filter(side * middle)))[1]
        low, high = (middle, high) if abs(duv) < abs(green) else (low, middle)
    if low > 0.999 * _STRONGEST_GREEN:
        raise ValueError(f"no gel gives Duv {green:+.4f}; stay within about 0.05")
    return side * low


def named_gel(name: str) -> FloatArray:
    """Return a gel by its nominal name.

    Parameters
    ----------
    name : str
        One of `GEL_NAMES`, such as 'half ctb', 'quarter plus green', 'nd 0.6'; any density may
        follow 'nd'.

    Returns
    -------
    float array, shape (81,)
        Spectral transmission. [1]

    Raises
    ------
    ValueError
        There is no such gel; the message lists the names.

    Source
    ------
    Common practice, no source: full is 133.9 mired (5600 to 3200 K), fractions are exact parts,
    full plus green is a colour-compensating density of 0.30.
    """
    words = " ".join(str(name).lower().split()).split(" ")
    if words[0] == "nd" and len(words) == 2:
        density = _number(words[1])
        if density is not None and 0 <= density <= 10:
            return neutral(float(density_transmission(density)))
    fraction = _FRACTIONS.get(words[0])
    if fraction is not None and len(words) == 2 and words[1] in ("cto", "ctb"):
        side = 1.0 if words[1] == "cto" else -1.0
        return shift_gel(side * fraction * FULL_SHIFT)
    if fraction is not None and len(words) == 3 and words[2] == "green":
        towards = {"plus": 1.0, "minus": -1.0}.get(words[1])
        if towards is not None:
            return CLEAREST * green_filter(towards * fraction * _GREEN_DENSITY)
    raise ValueError(f"there is no gel '{name}'; known are: {', '.join(GEL_NAMES)}")


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def stack(gels: Iterable[ArrayLike]) -> FloatArray:
    """Return several filters one behind the other.

    Parameters
    ----------
    gels : iterable of float array, shape (81,)
        Transmissions. [1]

    Returns
    -------
    float array, shape (81,)
        Their product; ones for none. [1]
    """
    product: FloatArray = np.ones(WAVELENGTHS_NM.shape)
    for gel in gels:
        product = product * np.asarray(gel, dtype=float)
    return product
