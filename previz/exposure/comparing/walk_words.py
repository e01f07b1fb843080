"""A walk in words, and as plain values: how even it is, each hole and hot spot, sides and colour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from previz.exposure.comparing.uneven import DARKEST, HOLE
from previz.exposure.comparing.walk import Strip
from previz.exposure.metering import Measured
from previz.exposure.trust import SURE

MOST_SWAPS = 4
"""Most changes of the lit side that are told one by one."""


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "next to nothing"


def _lux(value: float) -> str:
    """Return a light level with three figures. [lx]"""
    if value >= 1000:
        digits = int(np.floor(np.log10(value))) - 2
        return f"{round(value, -digits):.0f}"
    return f"{value:.0f}" if value >= 100 else f"{value:.1f}" if value >= 10 else f"{value:.2f}"


def where_text(strip: Strip, number: int) -> str:
    """Return where a reading is in words: 'at window', 'between door and window'."""
    at = strip.readings[number].point
    if at.mark is not None:
        return f"at {at.mark}"
    before = [strip.readings[i].point.mark for i in strip.marks if i < number]
    after = [strip.readings[i].point.mark for i in strip.marks if i > number]
    if before and after:
        return f"between {before[-1]} and {after[0]}"
    return f"after {before[-1]}" if before else f"before {after[0]}" if after else "on the way"


def uneven_text(strip: Strip, number: int) -> str:
    """Return one hole or hot spot in words: how large, where, by which lamp."""
    each, cause = strip.unevens[number], strip.causes[number]
    here = strip.readings[each.at]
    hole = each.kind == HOLE
    dark = not here.face.lit.value > 0
    # What is darker than any camera shows counts as that dark.
    size = f"{'over ' if here.lit.value < DARKEST else ''}{each.amount.value:.1f} stops"
    words = f"A {each.kind} of {size} at {here.point.metres:.1f} m, {where_text(strip, each.at)}"
    if each.beyond is not None:
        words = (f"{'Under' if hole else 'Over'} the wanted range by {size} at {here.point.metres:.1f} m, "
                 f"{where_text(strip, each.at)}")
    low, high = (strip.readings[k].point.metres for k in (each.first, each.last))
    if high - low > 0.05:
        words += f", from {low:.1f} to {high:.1f} m"
    if not dark:
        words += f" ({_lux(here.face.lit.value)} lx; {_lux(strip.even_light(number))} lx would be "
        words += ("even)" if each.beyond is None else "in it)")
    if each.by is not None and each.beyond is not None:
        words += f", {each.by.value:.1f} stops {'under' if hole else 'over'} the line between its neighbours"
    parts, name = [], f"'{cause.lamp}'"
    if cause.nearest == cause.lamp:
        name += f", the nearest lamp, {cause.distance:.1f} m away,"
    if cause.lamp and hole and each.by is not None:
        parts.append(f"{name} falls off there most" + (", as it is behind the face" * cause.behind)
                     + f", and gives {_percent(cause.share)} of what is left")
    elif cause.lamp:
        does = "makes it" if each.by is not None else "is the strongest there"
        parts.append(f"{name} {does}, with {_percent(cause.share)} of the light")
    if hole and cause.nearest and cause.nearest != cause.lamp:
        number = strip.lamps.index(cause.nearest)
        off = not any(reading.lamps[number].value for reading in strip.readings)
        parts.append(f"the nearest lamp is '{cause.nearest}', {cause.distance:.1f} m away, which "
                     + ("is off" if off else f"gives {_percent(cause.nearest_share)}"))
    return words + (": " + "; ".join(parts) if parts else "") + "."


def summary(strip: Strip) -> tuple[str, ...]:
    """Return a walk in a few sentences: how even it is, each hole and hot spot, sides and colour."""
    readings = strip.readings
    lit = [each for each in readings if each.face.lit.value > 0]
    if not lit:
        return ("No light reaches the face anywhere on the way.",)
    low, high = (pick(readings, key=lambda each: each.lit.value) for pick in (min, max))
    words = [f"The lit side goes from {_level(low.lit)} at {low.point.metres:.1f} m "
             f"({where_text(strip, readings.index(low))}) to {_level(high.lit)} at {high.point.metres:.1f} m "
             f"({where_text(strip, readings.index(high))})"
             + (f", {high.lit.value - low.lit.value:.1f} stops in all." if low.face.lit.value > 0 else ".")]
    words += [uneven_text(strip, number) for number in range(len(strip.unevens))]
    if not strip.unevens:
        words.append(f"There is no hole and no hot spot of {strip.least:g} stops or more"
                     + (", and all of it lies in the wanted range." if strip.wanted else "."))
    if strip.swaps:
        first = "left" if readings[strip.swaps[0]].face.lit_side == "right" else "right"
        at = ", ".join(f"the {readings[i].face.lit_side} from {readings[i].point.metres:.1f} m on"
                       for i in strip.swaps[:MOST_SWAPS])
        words.append(f"The lit side is the {first} cheek, the figure's own, {at}"
                     + (", and changes further on." if len(strip.swaps) > MOST_SWAPS else "."))
    drift = strip.drift
    if drift is not None and drift.by.value > SURE * drift.by.error:
        cool, warm = readings[drift.coolest], readings[drift.warmest]
        words.append(f"Colour on the lit side drifts by {drift.by.value:.0f} mired: coolest at "
                     f"{cool.point.metres:.1f} m ({cool.face.cct:.0f} K), warmest at "
                     f"{warm.point.metres:.1f} m ({warm.face.cct:.0f} K).")
    return tuple(words)


def _level(stops: Measured) -> str:
    """Return stops from the working stop in words."""
    if not np.isfinite(stops.value):
        return "no light"
    if abs(stops.value) < 0.05:
        return "the working stop"
    return f"{abs(stops.value):.1f} stops {'over' if stops.value > 0 else 'under'}"


def record(strip: Strip) -> dict[str, Any]:
    """Return a strip as plain JSON values, lists along the way; None is no number.

    Stops are from the working stop, errors standard ones.
    """
    def plain(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    def both(of: Sequence[Measured | None]) -> dict[str, list[float | None]]:
        return {"value": [None if each is None else plain(each.value) for each in of],
                "error": [None if each is None else plain(each.error) for each in of]}

    readings = strip.readings
    return {
        "figure": strip.figure, "metres": list(strip.metres),
        "marks": [{"name": readings[i].point.mark, "at": i} for i in strip.marks],
        "facing_deg": [each.point.facing for each in readings],
        "lit_cheek": [each.face.lit_side for each in readings],
        "lit_stops": both([each.lit for each in readings]),
        "shadow_stops": both([each.shadow for each in readings]),
        "lit_lx": both([each.face.lit for each in readings]),
        "lit_to_shadow": both([each.face.lit_to_shadow for each in readings]),
        "off_balance_mired": both([each.mired for each in readings]),
        "lamps_lx": {name: both([each.lamps[k] for each in readings])
                     for k, name in enumerate(strip.lamps)},
        "uneven": [{"kind": each.kind, "at": each.at, "first": each.first, "last": each.last,
                    "stops": plain(each.amount.value), "error": plain(each.amount.error),
                    "between": each.between, "lamp": cause.lamp, "nearest": cause.nearest,
                    "words": uneven_text(strip, number)}
                   for number, (each, cause) in enumerate(zip(strip.unevens, strip.causes, strict=True))],
        "least_stops": strip.least, "wanted_stops": strip.wanted, "words": list(summary(strip)),
    }
