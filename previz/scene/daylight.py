"""Daylight: the sky and the sun outside."""

from __future__ import annotations

import datetime
from typing import ClassVar

from previz.scene.fields import choice, quantity, record, share, special, yes_no
from previz.scene.moment import EXAMPLE
from previz.scene.records import Record, record_class

SKIES = ("none", "overcast", "clear", "intermediate")
SKIES_BY_SUN = ("clear", "intermediate")
"""Skies whose brightness depends on where the sun is."""

WARMEST, COOLEST = 1600.0, 25_000.0
"""Colours of light that are lowered to a spectrum. [K]  The cool end is that of the CIE daylight series.
Source: CIE 15, illuminant D series."""

DARKEST_SKY = 1e-6
"""Less than of an overcast night without moon or town, about 1e-5 lx. [lx]  From memory."""


def _azimuth():
    return quantity(
        "angle", "Clockwise from true north, seen from above; none follows from the time.", None,
        minimum=0.0, maximum=360.0, example="240 deg",
    )  # fmt: skip


def _altitude():
    return quantity(
        "angle", "Height above the horizon; none follows from the time.", None, minimum=0.0,
        maximum=90.0, example="18 deg",
    )  # fmt: skip


@record_class
class Sun(Record):
    """The sun's place and strength.

    An `illuminance` of 0 hides the disc.
    """

    noun: ClassVar[str] = "sun"

    azimuth: float | None = _azimuth()
    altitude: float | None = _altitude()
    illuminance: float | None = quantity(
        "illuminance", "On a surface that faces the sun; none follows from the altitude.", None,
        minimum=0.0, maximum=200_000.0, example="60 klx",
    )  # fmt: skip
    cct: float | None = quantity(
        "temperature", "Colour temperature of the sun; none follows from the altitude.", None,
        minimum=WARMEST, maximum=COOLEST, example="4500 K",
    )  # fmt: skip


@record_class
class Moon(Record):
    """The moon's place and strength; it shines while the sun is down."""

    noun: ClassVar[str] = "moon"

    azimuth: float | None = _azimuth()
    altitude: float | None = _altitude()
    phase: float | None = share(
        "Share of the disc that is lit; none follows from the time, or is full.", None, example="50 %"
    )
    illuminance: float | None = quantity(
        "illuminance", "On a surface that faces the moon; none follows from altitude and phase.",
        None, minimum=0.0, maximum=1000.0, example="0.2 lx",
    )  # fmt: skip
    cct: float | None = quantity(
        "temperature", "Colour temperature of the moon; none follows from the altitude.", None,
        minimum=WARMEST, maximum=COOLEST, example="4100 K",
    )  # fmt: skip
    face: bool = yes_no("Whether its disc shows its phase and its seas.", False)
    limb: float | None = quantity(
        "angle", "Where its lit side looks, clockwise from up; none follows from the sun, or is right.",
        None, minimum=-360.0, maximum=360.0, example="110 deg",
    )  # fmt: skip


CLOUDS = ("fair", "high", "broken", "storm")
"""Kinds of cloud: heaps with flat bases, streaks, rolls with gaps, and a dark deck."""


@record_class
class Clouds(Record):
    """Clouds to be seen in the sky.

    They share out the light that the sky gives and add none; a sun that shines is seen past them.
    """

    noun: ClassVar[str] = "clouds"
    short: ClassVar[str] = "kind"

    kind: str = choice(CLOUDS, "What kind they are.", "fair", example="broken")
    cover: float | None = share(
        "Share of the sky that they cover; none is usual for the kind.", None, example="40 %"
    )
    draw: float = quantity(
        "number", "Another number gives other clouds of the kind.", 1.0, minimum=0.0, maximum=9999.0,
        example="2",
    )  # fmt: skip


@record_class
class Daylight(Record):
    """The light from outside.

    Without a `sky_cct` the sky has the usual one of its kind.
    """

    noun: ClassVar[str] = "daylight"

    sky: str = choice(SKIES, "How the sky is.", "none", example="overcast")
    illuminance: float | None = quantity(
        "illuminance", "From the whole sky without the sun, on open level ground; none follows "
        "from where sun and moon stand.", None, minimum=DARKEST_SKY, maximum=200_000.0, example="6000 lx",
    )  # fmt: skip
    sun: Sun | None = record(
        Sun, "Where the sun is; with a time it is out unless the sky is overcast.", None,
        example="{azimuth: 240 deg, altitude: 18 deg}",
    )  # fmt: skip
    moon: Moon | None = record(
        Moon, "Where the moon is, while the sun is down.", None,
        example="{azimuth: 150 deg, altitude: 35 deg}",
    )  # fmt: skip
    time: datetime.datetime | None = special(
        "moment", "Date, time of day and time zone, which put sun and moon in their places.", None,
        example=EXAMPLE,
    )  # fmt: skip
    latitude: float | None = quantity(
        "angle", "Latitude of the place, north positive.", None, minimum=-90.0, maximum=90.0,
        example="51.5 deg",
    )  # fmt: skip
    longitude: float | None = quantity(
        "angle", "Longitude of the place, east positive.", None, minimum=-180.0, maximum=180.0,
        example="7.1 deg",
    )  # fmt: skip
    north: float = quantity(
        "angle", "Turns true north clockwise away from the set's own north (+y).", 0.0,
        minimum=-360.0, maximum=360.0, example="30 deg",
    )  # fmt: skip
    sky_cct: float | None = quantity(
        "temperature", "Colour temperature of the sky.", None, minimum=WARMEST, maximum=COOLEST,
        example="6500 K",
    )  # fmt: skip
    clouds: Clouds | None = record(
        Clouds, "Clouds to be seen; none for an even sky.", None, example="{kind: fair, cover: 40 %}"
    )
    colours: bool = yes_no(
        "Whether the sky is bluer here and warmer there, as by the sun; with clouds it is.", False
    )
    stars: bool = yes_no("Whether stars are seen as points.", False)
