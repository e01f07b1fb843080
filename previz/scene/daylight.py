"""Daylight: the sky and the sun outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from previz.scene.fields import choice, quantity, record
from previz.scene.records import Record

SKIES = ("none", "overcast", "clear", "intermediate")
SKIES_BY_SUN = ("clear", "intermediate")
"""Skies whose brightness depends on where the sun is."""


@dataclass(frozen=True, kw_only=True)
class Sun(Record):
    """The sun's place and strength.

    Parameters
    ----------
    azimuth : float
        Clockwise from true north, seen from above. [deg]
    altitude : float
        Above the horizon. [deg]
    illuminance : float or None
        On a surface that faces the sun; None follows from the altitude, 0 hides the disc. [lx]
    cct : float or None
        Correlated colour temperature; None follows from the altitude. [K]
    """

    noun: ClassVar[str] = "sun"

    azimuth: float = quantity(
        "angle", "Clockwise from true north, seen from above.", minimum=0.0, maximum=360.0,
        example="240 deg",
    )  # fmt: skip
    altitude: float = quantity(
        "angle", "Height above the horizon.", minimum=0.0, maximum=90.0, example="18 deg"
    )
    illuminance: float | None = quantity(
        "illuminance", "On a surface that faces the sun; none follows from the altitude.", None,
        minimum=0.0, maximum=200_000.0, example="60 klx",
    )  # fmt: skip
    cct: float | None = quantity(
        "temperature", "Colour temperature of the sun; none follows from the altitude.", None,
        minimum=1500.0, maximum=25_000.0, example="4500 K",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Daylight(Record):
    """The light from outside.

    Parameters
    ----------
    sky : str
        One of `SKIES`.
    illuminance : float or None
        From the whole sky without the sun, on open level ground; set unless the sky is 'none'. [lx]
    sun : Sun or None
        None for no sun.
    north : float
        Turns true north clockwise, seen from above, away from the set's own north (+y). [deg]
    sky_cct : float or None
        Correlated colour temperature of the sky; None for the usual one of its kind. [K]
    """

    noun: ClassVar[str] = "daylight"

    sky: str = choice(SKIES, "How the sky is.", "none", example="overcast")
    illuminance: float | None = quantity(
        "illuminance", "From the whole sky without the sun, on open level ground.", None,
        above=0.0, maximum=200_000.0, example="6000 lx",
    )  # fmt: skip
    sun: Sun | None = record(
        Sun, "Where the sun is.", None, example="{azimuth: 240 deg, altitude: 18 deg}"
    )
    north: float = quantity(
        "angle", "Turns true north clockwise away from the set's own north (+y).", 0.0,
        minimum=-360.0, maximum=360.0, example="30 deg",
    )  # fmt: skip
    sky_cct: float | None = quantity(
        "temperature", "Colour temperature of the sky.", None, minimum=1500.0, maximum=100_000.0,
        example="6500 K",
    )  # fmt: skip
