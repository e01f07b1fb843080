"""What readings say, in a crew's words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from previz.deliver.readings_sheet import LampLine, ReadingLine, listed, percent
from previz.deliver.wording import lux_text
from previz.levels.calibration import UNSURE
from previz.levels.outputs import Calibration, Doubt
from previz.studies.readings.places import DAYLIGHT
from previz.studies.readings.planned import Planned

NEAR = 0.1
"""What is off by less is as planned. [stops]  Common practice, no source."""

VAGUE = 0.3
"""What others say of a reading is vague from such a relative error on. [1]  Invented."""

SURE = 0.9
"""What is so probable is said without 'probably'. [1]"""

SAME = 0.12
"""Lamps that are off alike lie within so much of each other. [stops]  Invented."""


def stops_words(stops: float) -> str:
    """Return how far a lamp is off, without its sign: '0.62 stop under', '1.20 stops over'."""
    size = f"{abs(stops):.2f}"
    return f"{size} {'stop' if abs(stops) <= 1.0 else 'stops'} {'over' if stops > 0 else 'under'}"


def verdict(found: Calibration, i: int, plan: str = "") -> str:
    """Return what is to be said of a lamp; `plan` is what daylight was planned at."""
    if found.dead[i]:
        sure = "dead" if found.chance_dead[i] >= SURE else "probably dead"
        return f"{sure}: under {max(100 * found.most[i], 1):.0f} % of its plan"
    if not found.told[i]:
        return "taken as planned"
    stops, error = float(found.stops[i]), float(found.errors[i])
    if abs(stops) < max(NEAR, 2 * error):
        return f"as planned{plan}" if abs(stops) < NEAR else f"as planned, as far as the readings tell{plan}"
    return f"{stops_words(stops)}{plan}"


def sentences(found: Calibration, planned: Planned, lamps: Sequence[LampLine],
              readings: Sequence[ReadingLine], next_one: str, colours: Sequence[str],
              notes: Sequence[str]) -> Iterator[str]:
    """Yield what the readings say, what matters most first."""
    for sure, words in ((True, ""), (False, "probably ")):
        dead = [line.lamp for line in lamps if line.dead
                and (found.chance_dead[found.lamps.index(line.lamp)] >= SURE) == sure]
        if dead:
            yield (f"{listed(dead)} {'is' if len(dead) == 1 else 'are'} {words}dead: look at lamp, cable and "
                   "address first.")
    for doubt in found.doubts:
        yield doubt_words(doubt, readings[doubt.reading], found.chance_wrong[doubt.reading] >= SURE)
    yield from guess_words(found)
    off = sorted((line for line in lamps if line.told and not line.dead
                  and abs(line.stops) >= max(NEAR, 2 * line.error)), key=lambda line: -abs(line.stops))
    if off:
        yield "Off the plan: " + listed([f"{line.lamp} {stops_words(line.stops)} (± {line.error:.2f}), "
                                         f"{percent(2.0**line.stops)} of its plan" for line in off]) + "."
    even = [line.lamp for line in lamps if line.told and not line.dead and line not in off]
    if even:
        yield f"As planned: {listed(even)}."
    yield from _common(lamps)
    if len(planned.walls) > 1:
        yield wall_words(found, planned)
    yield from to_set_words(lamps)
    yield from colours
    untold = [line.lamp for line in lamps if not line.told]
    if untold:
        yield f"Not told by these readings, and taken as planned: {listed(untold)}."
    for i, j, _ in found.alike:
        yield (f"{found.lamps[i]} and {found.lamps[j]} cannot be told apart by these readings: what one "
               "gives more the other may give less.")
    if next_one:
        yield next_one
    yield from notes


def doubt_words(doubt: Doubt, line: ReadingLine, sure: bool) -> str:
    """Return why a reading cannot be so, or is hardly so, and what it would have to be."""
    below = (" That is less than the lamps that other readings tell give by themselves: the rest would "
             "have to give less than nothing." if doubt.below else "")
    why = line.remark.removeprefix("left out").removeprefix(": ")
    cause = f" Perhaps {doubt.cause}." if doubt.cause else f" {why[:1].upper()}{why[1:]}." if why else ""
    value = f"{lux_text(doubt.value)} {line.unit} ± {lux_text(doubt.error)}"
    # Where no other reading says much of the place, it is the plan that speaks against it.
    why = (f"{'cannot be' if sure else 'is hardly'} so: by all others it is {value}"
           if doubt.error < VAGUE * doubt.value else
           f"can hardly be so: the plan has {lux_text(line.planned)} {line.unit} there, and no other reading "
           "tells enough")
    return (f"Reading {line.number} ({line.place}, {line.on}: {line.shown}) {why}.{below}{cause} It is left "
            "out: take it again.")


def guess_words(found: Calibration) -> Iterator[str]:
    """Yield the answers that are not much less probable."""
    for guess in found.guesses:
        parts = []
        if guess.dead:
            names = [found.lamps[i] for i in guess.dead]
            parts.append(f"{listed(names)} {'is' if len(names) == 1 else 'are'} dead")
        if guess.wrong:
            numbers = [f"{i + 1}" for i in guess.wrong]
            parts.append(f"{'reading' if len(numbers) == 1 else 'readings'} {listed(numbers)} cannot be so")
        words = " and ".join(parts) or "all lamps give and all readings are right"
        cause = f": {guess.cause}" if guess.cause else ""
        how = ("It may as well be that" if guess.odds < 1.5 else
               f"It may also be, {guess.odds:.0f} to one against it, that")
        yield f"{how} {words}{cause}."


def _common(lamps: Sequence[LampLine]) -> Iterator[str]:
    told = [line.stops for line in lamps if line.told and not line.dead and line.lamp not in DAYLIGHT]
    if len(told) >= 3 and abs(np.mean(told)) > UNSURE and np.ptp(told) < SAME:
        yield (f"All lamps read alike, {stops_words(float(np.mean(told)))}: look at the meter first (flat or "
               "dome, ISO, cosine), then at the voltage.")


def wall_words(found: Calibration, planned: Planned) -> str:
    """Return what the walls send back."""
    factor, error = found.walls
    own = planned.reflectance
    if not found.walls_told and not planned.walls[0] < factor < planned.walls[-1]:
        end = planned.walls[-1] if factor >= planned.walls[-1] else planned.walls[0]
        more = "more" if factor >= planned.walls[-1] else "less"
        return (f"The walls send back {more} than {percent(own * end)}, in place of the {percent(own)} that "
                "is planned: change their surface in the scene and hold the readings against it again.")
    if not found.walls_told:
        return (f"What the walls send back these readings do not tell: {percent(own)} is kept. Take one with "
                "the meter turned from the window to a wall.")
    return f"The walls send back {percent(own * factor)} ± {100 * own * error:.0f} %, planned {percent(own)}."


def to_set_words(lamps: Sequence[LampLine]) -> Iterator[str]:
    """Yield which levels bring the plan back, and which lamps cannot."""
    able = [f"{line.lamp} to {percent(line.to_set)}" for line in lamps
            if line.to_set is not None and line.to_set <= 1]
    if able:
        yield f"To be back at the plan, set {listed(able)}."
    for line in lamps:
        if line.short is not None and line.to_set is not None:
            yield (f"{line.lamp} would have to be at {percent(line.to_set)}: at full it stays "
                   f"{line.short:.2f} stop{'' if line.short <= 1 else 's'} short.")
