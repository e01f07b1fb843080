"""What wants hang on, in a crew's words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from previz.deliver.balance_words import OUTSIDE, miss_text, stops_words
from previz.deliver.wording import NO_LIGHT, signed
from previz.exposure.metering import Measured
from previz.levels.answers import Reading
from previz.levels.dependence import Dependence, OnLamp, Other
from previz.levels.wants import COLOUR, LEVEL, RATIO

NO_SHADOW = "no fill"
"""Stands in place of a ratio's change where the shadow side has no light left."""

LITTLE = 0.075
"""Under this a lamp had better be left alone. [stops]"""

PARTS = ((0.1, "a tenth of a stop"), (0.2, "a fifth of a stop"), (0.25, "a quarter of a stop"),
         (1 / 3, "a third of a stop"), (0.5, "half a stop"), (2 / 3, "two thirds of a stop"),
         (1.0, "a stop"), (1.5, "a stop and a half"), (2.0, "two stops"))
"""Amounts that have a name. [stops]"""

FAR = 4.0
"""A want that takes more to be missed is near to nothing. [stops]"""

TELLING = 0.05
"""Weather that moves no want further is not told of. [stops]"""

MOST_NAMES = 3
"""Names in a list before the rest is counted."""


@dataclass(frozen=True, eq=False)
class HangLine:
    """One want, and what it hangs on.

    Parameters
    ----------
    name, words : str
        Of the want; what it is of.
    camera : str
        Whose working stop counts; '' of ratios and colours.
    of : Dependence
    """

    name: str
    words: str
    camera: str
    of: Dependence

    @property
    def reading(self) -> Reading:
        """The want as everything is set."""
        return self.of.reading


def named(names: Iterable[str], quoted: bool = True) -> str:
    """Return names in a list: "'key' and 'fill'"; the last of many are counted."""
    every = [f"'{name}'" if quoted else name for name in dict.fromkeys(names)]
    if len(every) > MOST_NAMES + 1:
        every = [*every[:MOST_NAMES], f"{len(every) - MOST_NAMES} more"]
    return every[0] if len(every) == 1 else f"{', '.join(every[:-1])} and {every[-1]}"


def lamp_words(lamp: str) -> str:
    """Return a light as it stands in a sentence: 'key', 'the sun'."""
    return f"the {lamp}" if lamp in OUTSIDE else lamp


def lamps_words(lamps: Iterable[str]) -> str:
    """Return lights in a list."""
    return named(map(lamp_words, lamps), quoted=False)


def gone_text(of: Dependence, change: Measured) -> str:
    """Return what is said of a change that leaves nothing to be read."""
    if of.reading.want.kind == RATIO and change.value > 0:
        return NO_SHADOW
    return "–" if of.reading.want.kind == COLOUR else NO_LIGHT


def change_text(of: Dependence, change: Measured) -> str:
    """Return how far a reading moves: '+0.31', '+12 mired', 'no light'."""
    if of.gone(change):
        return gone_text(of, change)
    return f"{signed(change.value, 0)} mired" if of.reading.want.kind == COLOUR else signed(change.value, 2)


def error_text(of: Dependence, change: Measured) -> str:
    """Return the standard error of a change: '± 0.03'; '' where nothing is left."""
    if of.gone(change):
        return ""
    if of.reading.want.kind == COLOUR:
        return f"± {change.error:.0f}" if change.error >= 1 else f"± {change.error:.1f}"
    return f"± {change.error:.2f}"


def off_text(of: Dependence, change: Measured) -> str:
    """Return how a want stands after a change: 'met', '0.28 stops under', 'no light'."""
    then = of.then(change)
    if then.met:
        return "met"
    if of.gone(change):
        return gone_text(of, change)
    turned = of.reading.want.kind == RATIO and then.value.value < 0 <= of.reading.value.value
    return miss_text(then) + (", the other side brighter" if turned else "")


def room_text(room: tuple[float, float]) -> str:
    """Return how far a lamp may fall and rise: '−0.31 to +0.42', 'out to +0.42', '–' of a missed want."""
    low, high = room
    if np.isnan(low):
        return "–"
    return f"{'out' if np.isinf(low) else signed(low, 2)} to {'any' if np.isinf(high) else signed(high, 2)}"


def least_text(of: Dependence) -> tuple[str, str]:
    """Return the least change of a lamp that makes a want missed, and which: ('−0.31 stops', 'key')."""
    if not of.reading.met:
        return "missed as set", ""
    if of.least is None:
        return "no one lamp", ""
    lamp, stops = of.least
    return f"{signed(stops, 2)} stops", lamp


def most_text(of: Dependence) -> tuple[str, str]:
    """Return the lamp that a want hangs on most, and its share of the light."""
    if of.most is None:
        return "–", ""
    share = share_text(of.most)
    return of.most.lamp, share if of.most.shadow_share is not None else f"{share} of its light"


def share_text(lamp: OnLamp) -> str:
    """Return a lamp's share of the light, of a ratio at both sides: '62 %', '8 % lit, 34 % shadow'."""
    share = f"{100 * lamp.share:.0f} %"
    return share if lamp.shadow_share is None else f"{share} lit, {100 * lamp.shadow_share:.0f} % shadow"


def stops_said(stops: float) -> str:
    """Return an amount of light as it is said: 'a third of a stop', '1.4 stops'."""
    size = abs(stops)
    if size < LITTLE:
        return "less than a tenth of a stop"
    value, words = min(PARTS, key=lambda part: abs(part[0] - size))
    return words if abs(value - size) < 0.05 else stops_words(size)


def sentences(lines: Sequence[HangLine], step: float) -> list[str]:
    """Return what the wants hang on in a few sentences: what is missed already, then the weakest point.

    Parameters
    ----------
    lines : sequence of HangLine
    step : float
        How far off the mark; 0 where nobody steps. [m]
    """
    met = [line for line in lines if line.reading.met]
    said = [missed_text(lines), weakest_text(met, len(met) < len(lines)), hangs_text(lines),
            guard_text(met), weather_text(met), steps_text(met, step)]
    return [each for each in said if each]


def missed_text(lines: Iterable[HangLine]) -> str:
    """Return which wants are missed before anything changes; '' for none."""
    missed = [f"'{line.name}' ({miss_text(line.reading)})" for line in lines if not line.reading.met]
    return f"Missed as it is set: {named(missed, quoted=False)}." if missed else ""


def weakest_text(met: Sequence[HangLine], some: bool = False) -> str:
    """Return the least change of one lamp by which a want is missed; `some` are missed already."""
    ends = [(abs(line.of.least[1]), line) for line in met if line.of.least is not None]
    if not ends:
        return "No one lamp, however it fails or grows, makes a want missed." if met else ""
    _, line = min(ends, key=lambda pair: pair[0])
    lamp, stops = line.of.least or ("", 0.0)
    way = "more" if stops > 0 else "less"
    if abs(stops) > FAR:
        return (f"Nothing that is met is near to being missed: it takes {stops_said(stops)} {way} on "
                f"{lamp_words(lamp)}." if stops > 0 else
                f"Nothing that is met is near to being missed, short of {lamp_words(lamp)} going out.")
    return (f"The weakest point{' of what is met' if some else ''}: {stops_said(stops)} {way} on "
            f"{lamp_words(lamp)}, and '{line.name}' is missed.")


def hangs_text(lines: Iterable[HangLine]) -> str:
    """Return which lamp each want hangs on most."""
    by: dict[str, list[str]] = {}
    for line in lines:
        if line.of.most is not None:
            by.setdefault(line.of.most.lamp, []).append(line.name)
    parts = [f"{named(names)} {'hangs' if len(names) == 1 else 'hang'} most on {lamp_words(lamp)}"
             for lamp, names in by.items()]
    return f"{'; '.join(parts)}." if parts else ""


def guard_text(met: Sequence[HangLine]) -> str:
    """Return which lamps must not fail, and which may."""
    if not met or not met[0].of.lamps:
        return ""
    lamps = [each.lamp for each in met[0].of.lamps if each.lamp not in OUTSIDE]
    worst: dict[str, tuple[float, HangLine, Measured]] = {}
    for number, each in enumerate(met[0].of.lamps):
        for line in met:
            change = line.of.lamps[number].out
            then = line.of.then(change)
            size = abs(change.value) / line.of.unit
            if not then.met and size > worst.get(each.lamp, (0.0,))[0]:
                worst[each.lamp] = size, line, change
    guarded = [lamp for lamp in lamps if lamp in worst]
    spare = [lamp for lamp in lamps if lamp not in worst]
    said = []
    if guarded:
        first = max(guarded, key=lambda lamp: worst[lamp][0])
        _, line, change = worst[first]
        many = "" if len(guarded) == 1 else f"Guard {lamps_words(guarded)}: a want hangs on each. "
        lead = f"Without {first}" if many else f"Guard {first}: without it"
        said.append(f"{many}{lead} '{line.name}' {_is_off(line.of, change)}.")
    if spare:
        said.append(f"Without {lamps_words(spare)} what is met stays met.")
    return " ".join(said)


def _is_off(of: Dependence, change: Measured) -> str:
    """Return how a want stands then, in a sentence: 'is 0.28 stops under', 'has no light'."""
    words = off_text(of, change)
    if of.gone(change):
        return "has nothing to be read" if words == "–" else f"has {words}"
    return f"is {words}"


def weather_text(met: Sequence[HangLine]) -> str:
    """Return what the weather makes of the wants; '' where it has no light in them."""
    said, fine = [], []
    for number, each in enumerate(met[0].of.weather if met else ()):
        others = [line.of.weather[number] for line in met]
        off = _worst(met, others)
        if off is not None:
            line, other, count = off
            rest = f", and {count - 1} more {'is' if count == 2 else 'are'} missed" if count > 1 else ""
            under = line.of.reading.want.kind == LEVEL and other.change.value < 0
            ready = ": keep a lamp ready for it" if under and each.what.endswith("gone") else ""
            said.append(f"With the {each.what} '{line.name}' {_is_off(line.of, other.change)}{rest}{ready}.")
        elif any(abs(other.change.value) / line.of.unit >= TELLING
                 for line, other in zip(met, others, strict=True)):
            fine.append(each.what)
    if fine:
        said.append(f"With the {' or the '.join(fine)} what is met stays met.")
    return " ".join(said)


def _worst(lines: Sequence[HangLine], others: Sequence[Other]) -> tuple[HangLine, Other, int] | None:
    """Return the want that one change throws out furthest, and how many it does; None for none."""
    missed = [(line, other) for line, other in zip(lines, others, strict=True)
              if not line.of.then(other.change).met]
    if not missed:
        return None
    line, other = max(missed, key=lambda pair: np.nan_to_num(
        abs(pair[0].of.then(pair[1].change).miss) / pair[0].of.unit, nan=99.0))
    return line, other, len(missed)


def steps_text(met: Sequence[HangLine], step: float) -> str:
    """Return what a step off the mark makes of wants at faces; '' where nobody steps."""
    pairs = [(line, other) for line in met for other in line.of.steps]
    if not pairs:
        return ""
    missed = [(line, other) for line, other in pairs if not line.of.then(other.change).met]
    if not missed:
        return f"{step:g} m off the mark, either way, every want that is met stays met."
    line, other = max(missed, key=lambda pair: np.nan_to_num(
        abs(pair[0].of.then(pair[1].change).miss) / pair[0].of.unit, nan=99.0))
    fine = [where for where in dict.fromkeys(each.what for _, each in pairs)
            if where not in {each.what for _, each in missed}]
    held = f"; nothing is missed {named(fine, quoted=False)}" if fine else ""
    return f"Off the mark it is worst {other.what}: '{line.name}' {_is_off(line.of, other.change)}{held}."
