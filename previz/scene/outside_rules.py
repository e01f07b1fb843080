"""What must hold in an opening, in what hangs there, and in the light from outside."""

from __future__ import annotations

from typing import Any

from previz.scene.daylight import SKIES_BY_SUN, Sun
from previz.scene.dressing import MOST_SLATS
from previz.scene.fields import INVALID
from previz.scene.moment import EXAMPLE
from previz.units import show


def sound(*found: Any) -> bool:
    """Return whether the values of fields were all written right."""
    return not any(each is INVALID for each in found)


def opening(made):
    """Yield what is wrong inside an opening."""
    if made.glass == "none":
        for field in ("tint", "colour"):
            if field in made.places:
                yield field, f"has no glass and '{field}'", (
                    f"Write 'glass: clear' or 'glass: double', or leave out '{field}'."
                )  # fmt: skip
    if made.wall == "ceiling" and made.curtain not in (None, INVALID):
        yield "curtain", "is in the ceiling, where no curtain hangs", "Leave out 'curtain'."
    if made.wall == "ceiling" and made.door not in (None, INVALID):
        yield "door", "is in the ceiling, where no door hangs", "Leave out 'door'."
    yield from _blind(made)
    if not sound(made.size, made.panes, made.bar):
        return
    for extent, count, direction in zip(made.size, made.panes, ("across", "up"), strict=True):
        if (count - 1) * made.bar >= extent:
            yield "panes", f"has no room for {count} panes {direction}", (
                "Write fewer 'panes' or a narrower 'bar'."
            )  # fmt: skip


def _blind(made):
    blind = made.blind
    if blind in (None, INVALID) or not sound(made.size, blind.spacing, blind.upright):
        return
    extent = made.size[0 if blind.upright else 1]
    if extent / blind.spacing > MOST_SLATS:
        yield "blind", f"has a blind of more than {MOST_SLATS} slats", (
            "Write a larger 'spacing' in it."
        )  # fmt: skip


def curtain(made):
    """Yield what is wrong inside a curtain."""
    if sound(made.transmission, made.open) and made.open > made.transmission:
        yield "open", (
            f"lets {show(made.open, 'fraction')} straight through and "
            f"{show(made.transmission, 'fraction')} in all"
        ), "Make 'open' no more than 'transmission'."  # fmt: skip


def daylight(made):
    """Yield what is wrong inside the light from outside."""
    yield from _time_and_place(made)
    for body in ("sun", "moon"):
        yield from _in_the_sky(made, body)
    if made.time is None and made.moon is not None and _shines(made.sun):
        yield "moon", "has a sun and a moon", (
            "Keep one of the two, or write a 'time' and a place, which show the one that is up."
        )  # fmt: skip
    if made.sky == "none":
        if made.sun is None and made.moon is None and made.time is None:
            yield "", "has neither a sky nor a sun", (
                "Write 'sky: overcast' with an 'illuminance', or where the sun is; or leave out "
                "'daylight'."
            )  # fmt: skip
        if made.illuminance is not None:
            yield "illuminance", "has an illuminance but no sky", (
                "Write 'sky: overcast', or leave out 'illuminance'."
            )  # fmt: skip
        for field in ("clouds", "colours", "stars"):
            if getattr(made, field):
                yield field, f"has '{field}' but no sky", f"Write 'sky: clear', or leave out '{field}'."
    elif made.sky is not INVALID:
        if made.sky == "overcast" and made.stars is True:
            yield "stars", "has stars in a sky that is overcast", (
                "Write 'sky: clear', or leave out 'stars'."
            )  # fmt: skip
        known = made.time is not None or made.sun is not None or made.moon is not None
        if made.illuminance is None and not known:
            yield "sky", f"has a sky that is {made.sky} without an illuminance", (
                "Write for example 'illuminance: 6000 lx'."
            )  # fmt: skip
        if made.sky in SKIES_BY_SUN and not known:
            yield "sky", f"has a sky that is {made.sky} and does not say where the sun is", (
                "Write 'sun: {azimuth: 240 deg, altitude: 18 deg}'; with 'illuminance: 0 lx' in "
                "it the sun itself is hidden."
            )  # fmt: skip


def _shines(sun):
    return sun is not None and sun is not INVALID and sun.illuminance != 0


def _time_and_place(made):
    written = [name for name in ("time", "latitude", "longitude") if getattr(made, name) is not None]
    if 0 < len(written) < 3:
        missing = next(name for name in ("time", "latitude", "longitude") if name not in written)
        example = {"time": f"'time: {EXAMPLE}'", "latitude": "'latitude: 51.5 deg'",
                   "longitude": "'longitude: 7.1 deg'"}[missing]
        yield written[0], f"has '{written[0]}' and no '{missing}'", (
            f"Write {example} too: time, latitude and longitude go together."
        )  # fmt: skip


def moon(made):
    """Yield what is wrong inside a moon."""
    if made.limb is not None and made.face is False:
        yield "limb", "says where its lit side looks and shows no face", (
            "Write 'face: yes', or leave out 'limb'."
        )  # fmt: skip


def _in_the_sky(made, body):
    """Yield what is wrong with the place of sun or moon."""
    item = getattr(made, body)
    if item in (None, INVALID) or not sound(item.azimuth, item.altitude):
        return
    missing = [name for name in ("azimuth", "altitude") if getattr(item, name) is None]
    if missing and (len(missing) == 1 or made.time is None):
        yield body, f"does not say where the {body} is: it has no {' and no '.join(missing)}", (
            f"Write '{body}: {{azimuth: 240 deg, altitude: 18 deg}}', or a 'time' with "
            "'latitude' and 'longitude'."
        )  # fmt: skip
    elif not missing and made.time is not None:
        yield body, f"has a time and says where the {body} is", (
            f"Leave out 'azimuth' and 'altitude' of the {body}, or leave out 'time'."
        )  # fmt: skip


def daylight_completed(made):
    """Return the sun of a time that no clouds hide, where none is written."""
    if made.time is None or "sun" in made.places or made.sky == "overcast":
        return {}
    return {"sun": Sun(place=made.place)}
