"""How much light sky and sun give with the sun, or the moon, at an altitude: figures for planning."""

from __future__ import annotations

import numpy as np

from previz.physics.daylight import air_mass, sun_illuminance

CLEAR_AIR = 0.21
"""Extinction of clear air for each air mass.  Source: IES recommended practice for the calculation
of daylight availability, 1984 (as quoted in a public program). [1]"""

LOW_SUN = 10.0
"""Below this the sun's level is carried on by its air mass. [deg]"""

TWILIGHT = 3.0
"""Degrees under the horizon in which the light of the sky falls to a tenth.  From memory: about
400 lx at sunset and 3 to 4 lx at the end of civil twilight, 6° down. [deg]"""

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


def clear_sun_illuminance(altitude_deg):
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


def sky_illuminance(sky, sun_altitude_deg, sun_outside=SUN_OUTSIDE):
    """Return a typical illuminance of level ground from the whole sky without the sun.

    a + b sin(h)^p of `SKY_LEVELS`; below the horizon it falls to a tenth every `TWILIGHT` degrees.

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
    high = max(float(sun_altitude_deg), 0.0)
    level = least + more * np.sin(np.radians(high)) ** power
    night = 10.0 ** (min(float(sun_altitude_deg), 0.0) / TWILIGHT)
    return float(level * night * sun_outside / SUN_OUTSIDE)
