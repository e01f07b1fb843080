"""What the exposure map shows: its steps, where it says clipped and crushed, zones of the crew's own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from previz.scene.fields import INVALID, choice, items, quantity, special, text
from previz.scene.records import Item, Place, Record, record_class
from previz.units import quote

MOST_ZONES = 6
"""Zones that one map has at most: as many as there are colours that every kind of sight tells apart."""

FURTHEST = 20.0
"""From grey, at most, of zones and of the points where the map says clipped or crushed. [stops]
Common practice, no source."""

LONGEST = 40
"""Of a zone's name. [letters]"""

NEAREST = 0.5
"""Of the points of clip and crush from grey, at least. [stops]"""

STEPS = ("whole", "half")
"""Stops that one colour stands for."""


@record_class
class Zone(Item):
    """Levels that the exposure map paints, by the crew's own name for them.

    Parameters
    ----------
    stops : (float, float)
        From (included) and to (excluded) from 18 % grey. [stops]
    """

    noun: ClassVar[str] = "zone"

    # Nothing is aimed at it, so it may be called what a wall or the sky is called.
    name: str = text("What the crew calls it; unique in the map.", example="skin")
    stops: tuple[float, float] = special(
        "range", "From and to, in stops from 18 % grey.", dimension="number", minimum=-FURTHEST,
        maximum=FURTHEST, example="-0.5 to 0.5",
    )  # fmt: skip


@record_class
class StopMap(Record):
    """What the exposure map shows.

    Parameters
    ----------
    clip, crush : float or None
        None for what the camera's latitude says, and where it has none for the usual. [stops]
    """

    noun: ClassVar[str] = "map"

    steps: str = choice(STEPS, "Stops that one colour stands for.", "whole", example="half")
    clip: float | None = quantity(
        "number", "Stops over grey from which it says clipped; none for the camera's latitude, or a white "
        "card.", None, minimum=NEAREST, maximum=FURTHEST, example="4.5",
    )  # fmt: skip
    crush: float | None = quantity(
        "number", "Stops from grey under which it says crushed; none for the camera's latitude, or -5.5.",
        None, minimum=-FURTHEST, maximum=-NEAREST, example="-6",
    )  # fmt: skip
    zones: tuple[Zone, ...] = items(
        Zone, "Levels that it paints, over the still in grey, in place of every stop.")


def faults(made: StopMap | None) -> Iterator[tuple[Place, str, str]]:
    """Yield what is wrong between zones: place, message and advice."""
    zones = () if made is None else made.zones
    for zone in zones[MOST_ZONES:MOST_ZONES + 1]:
        yield zone.place, f"the map has {len(zones)} zones", (
            f"Keep to {MOST_ZONES}: no more colours are told apart.")
    names: dict[str, Zone] = {}
    known: list[Zone] = []
    for zone in zones:
        if zone.name is not INVALID and not 0 < len(zone.name.strip()) <= LONGEST:
            yield zone.where("name"), f"the name of a zone has {len(zone.name.strip())} letters", (
                f"Write 1 to {LONGEST}.")
        if zone.name is not INVALID and names.setdefault(zone.name, zone) is not zone:
            yield zone.where("name"), f"two zones are called {quote(zone.name)}", (
                "Give each a name of its own.")
        if zone.stops is INVALID:
            continue
        low, high = zone.stops
        if low == high:
            yield zone.where("stops"), f"{zone.label} goes from {low:g} to {high:g}, which is no width", (
                "Write for example 'stops: -0.5 to 0.5'.")
            continue
        for other in known:
            if low < other.stops[1] and other.stops[0] < high:
                yield zone.where("stops"), (
                    f"{zone.label} ({low:g} to {high:g}) lies over {other.label} "
                    f"({other.stops[0]:g} to {other.stops[1]:g})"
                ), "Let one end where the other begins."  # fmt: skip
                break
        known.append(zone)
