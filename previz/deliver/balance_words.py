"""What is wanted, how it stands and what would do, in a crew's words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from previz.deliver.wording import NO_LIGHT, ratio_text, signed
from previz.exposure.metering import Measured
from previz.levels.advice import BIGGER, BLACKED, EXPOSED, FLAGGED, FREED, Remedy
from previz.levels.answers import Reading
from previz.levels.wants import COLOUR, RATIO, Want

DARKEST = -25.0
"""Stops under which there is no light: a thirty millionth of what is wanted. [stops]"""

OUTSIDE = ("sky", "sun", "moon")
"""What no dimmer holds."""


def wanted_text(want: Want) -> str:
    """Return what is wanted: '+0.0', 'at most +2.5', '4.0 : 1', '3600 K'."""
    if want.kind == COLOUR:
        return f"{1e6 / want.target:.0f} K"
    if want.kind == RATIO:
        return ratio_text(2.0**want.target)
    bound = "at most " if want.at_most else "at least " if want.at_least else ""
    return f"{bound}{signed(want.target, 1)}"


def value_text(want: Want, value: Measured) -> tuple[str, str]:
    """Return how a want stands, and its standard error: ('−1.98', '± 0.01')."""
    if not value.value > DARKEST:
        return ("–" if want.kind == COLOUR else NO_LIGHT), ""
    if want.kind == COLOUR:
        kelvin = 1e6 / value.value
        return f"{kelvin:.0f} K", f"± {kelvin**2 / 1e6 * value.error:.0f}"
    if want.kind == RATIO:
        ratio = 2.0**value.value
        return ratio_text(ratio), f"± {ratio * np.log(2) * value.error:.2f}"
    return signed(value.value, 2), f"± {value.error:.2f}"


def stops_words(stops: float) -> str:
    """Return a number of stops without its sign: '1 stop', '0.4 stops'."""
    text = f"{abs(stops):.1f}"
    return "1 stop" if text == "1.0" else f"{text} stops"


def miss_text(reading: Reading) -> str:
    """Return whether a want is met, or how far it is off: 'met', '0.8 stops over', '24 mired too warm'."""
    if reading.met:
        return "met"
    if not reading.value.value > DARKEST:
        return NO_LIGHT
    if reading.want.kind == COLOUR:
        return f"{abs(reading.miss):.0f} mired too {'warm' if reading.miss > 0 else 'cool'}"
    return f"{abs(reading.miss):.2f} stops {'over' if reading.miss > 0 else 'under'}"


def place_words(meter: str) -> str:
    """Return where a meter is: 'the left cheek of clerk' of 'clerk: left cheek'."""
    of, colon, part = meter.rpartition(": ")
    if colon and part.endswith("cheek"):
        return f"the {part} of {of}"
    # Names have no commas: what follows one is the camera of a spot meter.
    thing, _, camera = meter.partition(", ")
    return f"the background of camera {camera}" if thing == "background" and camera else thing


def remedy_text(remedy: Remedy) -> str:
    """Return one change that would do."""
    lamp, stops = remedy.lamp, stops_words(remedy.amount)
    where = place_words(remedy.meter)
    if remedy.kind == BIGGER:
        return f"{lamp} {stops} bigger"
    if remedy.kind == FREED and lamp in OUTSIDE:
        return f"{stops} less of the {lamp}, by nets, or by ND before windows"
    if remedy.kind == FREED:
        return f"{lamp}, which is held as it is, {stops} {'up' if remedy.amount > 0 else 'down'}"
    if remedy.kind == EXPOSED:
        return f"camera {remedy.camera} {stops} {'more' if remedy.amount > 0 else 'less'} open"
    if remedy.kind == FLAGGED:
        return f"a flag or net that takes {100 * remedy.amount:.0f} % of {_the(lamp)} off {where}"
    if remedy.kind == BLACKED:
        return (f"black cloth that takes {100 * remedy.amount:.0f} % of what is bounced of {_the(lamp)} off "
                f"{where}")
    return f"a board nearer or larger, for {stops} more of what is bounced of {_the(lamp)} at {where}"


def _the(lamp: str) -> str:
    return f"the {lamp}" if lamp in OUTSIDE else lamp


def _named(names: Sequence[str]) -> str:
    quoted = [f"'{name}'" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"


def verdict_text(readings: Sequence[Reading]) -> str:
    """Return how many wants are met."""
    missed = [each.want.name for each in readings if not each.met]
    if not missed:
        few = {1: "The want is met.", 2: "Both wants are met."}
        return few.get(len(readings), f"All {len(readings)} wants are met.")
    if len(missed) == len(readings):
        few = {1: "The want is not met.", 2: "Neither want is met."}
        return few.get(len(readings), f"None of {len(readings)} wants is met.")
    held = len(readings) - len(missed)
    return (f"{held} of {len(readings)} wants {'is' if held == 1 else 'are'} met, {_named(missed)} "
            f"{'is' if len(missed) == 1 else 'are'} not.")


def conflict_text(names: Sequence[str]) -> str:
    """Return which wants exclude each other; '' for none."""
    if not names:
        return ""
    if len(names) == 1:
        return f"No levels within what may move bring {_named(names)} about."
    return f"No levels within what may move bring {_named(names)} about together."


def remedies_text(remedies: Iterable[Remedy]) -> str:
    """Return what would have to change, each alone; '' for none."""
    found = list(remedies)
    if not found:
        return ""
    each = "; or ".join(remedy_text(remedy) for remedy in found)
    rest = "" if found[0].all_wants else ", and those wants can be met; others stay off"
    return f"What would do, each alone: {each}{rest}."


def sentences(readings: Sequence[Reading], conflict: Sequence[str], remedies: Sequence[Remedy]) -> list[str]:
    """Return the answer in a few sentences."""
    said = [verdict_text(readings), conflict_text(conflict), remedies_text(remedies)]
    if conflict and not remedies:
        said.append("Nothing that was looked at would do by itself: no larger lamp, other stop, flag, black "
                    "or board.")
    return [each for each in said if each]
