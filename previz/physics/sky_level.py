"""How much light sky and sun give with the sun, or the moon, at an altitude: figures for planning."""

from __future__ import annotations

import numpy as np

from previz.physics.daylight import air_mass, sun_illuminance

CLEAR_AIR = 0.21
"""Extinction of clear air for each air mass.  Source: IES recommended practice for the calculation
of daylight availability, 1984 (as quoted in a public program). [1]"""

LOW_SUN = 10.0
"""Below this the sun's level is carried on by its air mass. [deg]"""

TWILIGHT = (
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-12.0, (2.70, 12.17, -431.69, -1899.83)),
    (-18.0, (13.84, 262.72, 1447.42, 2797.93)),
)
"""Lowest altitude of the sun [deg] and terms of log10 of the illuminance of level ground [lx] in
h / 90 deg, of a clear evening.  Source: Seidelmann (ed.), Explanatory Supplement to the Astronomical
Almanac, 1992, section 9.3 (as two public programs quote it; its own errors are 0.01 to 0.02)."""

SUNSET = -0.8
"""Altitude from which the twilight's own curve holds; over it, it runs into the day's. [deg]"""

JOINT = 0.5
"""Half the width over which one polynomial of `TWILIGHT` passes into the next. [deg]"""

NIGHT_RATE = 0.217
"""What the last of them falls by at its end, at which it is carried on. [decades per deg]"""

STARLIGHT = 0.002
"""Light of a moonless clear night.  Source: encyclopaedia table of orders of magnitude. [lx]"""

SUN_OUTSIDE = 127_500.0
"""Illuminance of the sun outside the air.  Source: as `CLEAR_AIR`. [lx]"""

SKY_LEVELS = {
    "clear": (0.8e3, 15.5e3, 0.5),
    "intermediate": (0.3e3, 45.0e3, 1.0),
    "overcast": (0.3e3, 21.0e3, 1.0),
}
"""a [lx], b [lx] and power p of a sky's light on level ground, a + b sin(h)^p.  Source: as
`CLEAR_AIR`, its formulae for clear, partly cloudy and overcast skies (from memory; they agree with
the half-sky forms quoted in a public program to 3 %)."""


def clear_sun_illuminance(altitude_deg: float) -> float:
    """Return the illuminance of a surface facing a clear sun, low suns included.

    Above 10° as `sun_illuminance`; below that E(10°) · exp(-c (m - m(10°))) with the air mass m.

    Parameters
    ----------
    altitude_deg : float
        [deg]

    Returns
    -------
    float
        0 with the sun down. [lx]

    Source
    ------
    c is `CLEAR_AIR`.
    """
    if altitude_deg >= LOW_SUN:
        return float(sun_illuminance(altitude_deg))
    if altitude_deg <= 0:
        return 0.0
    more = float(air_mass(altitude_deg) - air_mass(LOW_SUN))
    return float(sun_illuminance(LOW_SUN)) * float(np.exp(-CLEAR_AIR * more))


def twilight_illuminance(altitude_deg: float) -> float:
    """Return the illuminance of level ground by a clear sky with the sun down.

    log10 E = sum of a_n (h / 90 deg)^n, by the polynomials of `TWILIGHT`; under 18 deg it falls on
    at the rate that the last one ends with.

    Parameters
    ----------
    altitude_deg : float
        h, of the sun's middle without refraction, 0 or below. [deg]

    Returns
    -------
    float
        Sunlight alone, without moon, stars and glow of the air. [lx]

    Raises
    ------
    ValueError
        The sun is up.

    Source
    ------
    As `TWILIGHT`.
    """
    if altitude_deg > 0:
        raise ValueError(f"twilight has the sun at 0 deg or below, got {altitude_deg:g} deg")
    last = TWILIGHT[-1][0]
    height = max(float(altitude_deg), last)
    levels = [np.polynomial.polynomial.polyval(height / 90, terms) for _, terms in TWILIGHT]
    level = levels[0]
    for (low, _), below in zip(TWILIGHT, levels[1:], strict=False):
        share = np.clip((low + JOINT - height) / (2 * JOINT), 0, 1)
        level = level * (1 - share) + below * share
    return float(10.0 ** (level - NIGHT_RATE * (height - float(altitude_deg))))


def sky_illuminance(sky: str, sun_altitude_deg: float, sun_outside: float = SUN_OUTSIDE) -> float:
    """Return a typical illuminance of level ground from the whole sky without the sun.

    a + b sin(h)^p of `SKY_LEVELS`. Below the horizon a clear sky gives `twilight_illuminance`, into
    which the day's level runs at `SUNSET`; clouds take the share of it that they take at sunset.

    Parameters
    ----------
    sky : str
        'clear', 'intermediate' or 'overcast'.
    sun_altitude_deg : float
        h. [deg]
    sun_outside : float
        Illuminance of the sun, or the moon, outside the air, which scatters both alike. [lx]

    Returns
    -------
    float
        [lx]

    Raises
    ------
    ValueError
        The sky is unknown.

    Source
    ------
    As `SKY_LEVELS`; a figure for planning, ±50 %, and ten times as uncertain at night.
    """
    if sky not in SKY_LEVELS:
        raise ValueError(f"a sky is one of {sorted(SKY_LEVELS)}, got '{sky}'")
    least, more, power = SKY_LEVELS[sky]
    height = float(sun_altitude_deg)
    level = least + more * np.sin(np.radians(max(height, 0.0))) ** power
    if height < 0:
        clear = SKY_LEVELS["clear"][0]
        day = (clear / twilight_illuminance(0.0)) ** max(1 - height / SUNSET, 0.0)
        level *= twilight_illuminance(height) * day / clear
    return float(level * sun_outside / SUN_OUTSIDE)
