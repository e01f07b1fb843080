"""The truck list: the most that any one set-up of the day needs at once, and all that is cut for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from previz.plans.lengths import METRIC, said, said_finely
from previz.plans.lines import LampLine, SetUp, SheetLine, TruckLine
from previz.scene.light import LIGHTS
from previz.studies.paper.cable import BATTERY, crossings
from previz.studies.paper.cutting import roll_length
from previz.studies.paper.floor import OVER_SILL
from previz.studies.paper.gels import BLIND, HOT, USES
from previz.studies.paper.grip import SANDBAGS, TOWER, sandbag_rule_brief

LAMPS, STANDS, GRIP, GELS, CABLE, DISTRIBUTION, CARE = (
    "lamps", "stands", "grip", "gels", "cable", "distribution", "care")

HELD_UP = ("stand", "heavy stand", TOWER, "boom", "floor plate")
"""Beginnings of what goes to the group of stands."""

PACKED = ("field ", "fabric grid", "egg crate", "snoot", "barn doors", "skirt")
"""Beginnings of what is on a lamp and is packed with it; the field is its lens."""

TUNED = ("two-colour led", "multi-emitter led")
"""Spectra whose colour is set on the lamp, and is no sort of its own."""


UNSAID = ("", "own", "blackbody")
"""Spectra that are no sort of lamp that a rental house knows."""


class Sort(NamedTuple):
    """Lamps that can stand in for each other: kind, size [m], watts, spectrum, colours [K].

    A lamp that has several colours in the course of a day is one that can be set to all of them.
    """

    kind: str
    size: tuple[float, ...]
    watts: float | None
    spectrum: str
    ccts: tuple[float, ...]


def truck_lines(set_ups: Sequence[SetUp], system: str = METRIC) -> tuple[TruckLine, ...]:
    """Return what goes on the truck for a day.

    Parameters
    ----------
    set_ups : sequence of SetUp
        All options of all scenes of the day.
    system : str
        Of lengths in words: 'metric' or 'imperial'.

    Returns
    -------
    tuple of TruckLine
        Of lamps, stands, grip, cable and distribution the most that one set-up needs at once; of gel and
        cloth the sum of what is to be cut, where the same cut for the same thing of a scene is made once.
    """
    return (*_lamps(set_ups, system), *_grip(set_ups, system), *_sheets(set_ups, system),
            *_cable(set_ups, system), *_distribution(set_ups), *_care(set_ups))


def sorted_lamps(set_ups: Sequence[SetUp]) -> list[list[tuple[LampLine, Sort]]]:
    """Return the lamps of each set-up with their sorts; those that are off are there too."""
    colours: dict[tuple[str, str, Sort], set[float]] = {}
    for set_up in set_ups:
        for line in set_up.lamps:
            own = colours.setdefault((set_up.scene, line.name, _plain(line)), set())
            if line.cct is not None and line.spectrum not in TUNED:
                own.add(round(line.cct, -2))
    return [[(line, _plain(line)._replace(ccts=tuple(sorted(colours[set_up.scene, line.name, _plain(line)]))))
             for line in set_up.lamps] for set_up in set_ups]


def _plain(line: LampLine) -> Sort:
    """Return a lamp's sort but for its colours."""
    watts = None if line.watts is None else float(f"{line.watts:.2g}")
    size = tuple(round(side, 2 if side >= 0.1 else 3) for side in line.size)
    return Sort(line.kind, size, watts, line.spectrum, ())


def _most(counts: Sequence[Counter[str]], set_ups: Sequence[SetUp]) -> Iterator[tuple[str, int, str]]:
    """Yield what there is, the most that one set-up needs of it, and which; in the order that it comes in."""
    for what in dict.fromkeys(what for each in counts for what in each):
        number = max(range(len(counts)), key=lambda k: counts[k][what])
        yield what, counts[number][what], set_ups[number].label


def _lamps(set_ups: Sequence[SetUp], system: str) -> Iterator[TruckLine]:
    lamps = sorted_lamps(set_ups)
    counts = [Counter(sort for _, sort in each) for each in lamps]
    for sort in dict.fromkeys(sort for each in counts for sort in each):
        number = max(range(len(counts)), key=lambda k: counts[k][sort])
        lines = [line for each in lamps for line, own in each if own == sort]
        note = ", ".join(dict.fromkeys((*(line.name for line in lines),
                                        *(mark for line in lines for mark in _marks(line)))))
        if not any(line.on for line in lines):
            note += "; off in all set-ups"
        yield TruckLine(LAMPS, _sort_said(sort, system), counts[number][sort], "", set_ups[number].label,
                        note)


def _marks(line: LampLine) -> Iterator[str]:
    if line.in_shot:
        yield "in shot"
    if line.guessed:
        yield "watts guessed"
    yield from (text.partition(" (")[0] for text in line.modifiers if text.startswith(PACKED))


def _sort_said(sort: Sort, system: str) -> str:
    size = " × ".join(said_finely(side, system) for side in sort.size)
    watts = "" if sort.watts is None else f"{sort.watts:.0f} W" if sort.watts >= 1 else f"{sort.watts:g} W"
    colours = " to ".join(f"{cct:.0f} K" for cct in dict.fromkeys((*sort.ccts[:1], *sort.ccts[-1:])))
    source = "" if sort.spectrum in UNSAID or sort.spectrum == sort.kind else sort.spectrum
    source = source.replace("led", "LED")
    light = "" if LIGHTS[sort.kind].flame else " ".join(filter(None, (source, colours)))
    return ", ".join(filter(None, (sort.kind, size, watts, light)))


def _grip(set_ups: Sequence[SetUp], system: str) -> Iterator[TruckLine]:
    counts: list[Counter[str]] = []
    for set_up in set_ups:
        count: Counter[str] = Counter()
        for line in set_up.grip:
            size = "" if line.size is None else ", " + " × ".join(said(side, system) for side in line.size)
            count[line.what + size] += line.count
        counts.append(count)
    lines = [TruckLine(STANDS if what.startswith(HELD_UP) else GRIP, what, number, "", most,
                       sandbag_rule_brief(system) if what in SANDBAGS.values() else "")
             for what, number, most in _most(counts, set_ups)]
    yield from sorted(lines, key=lambda line: (line.group == GRIP, line.what in SANDBAGS.values()))


def _sheets(set_ups: Sequence[SetUp], system: str) -> Iterator[TruckLine]:
    """Yield gel and cloth; what is cut for the same thing of a scene in several set-ups is cut once."""
    sorts: dict[tuple[str, str], list[tuple[SetUp, SheetLine]]] = {}
    for set_up in set_ups:
        for line in set_up.sheets:
            sorts.setdefault((line.use, line.what), []).append((set_up, line))
    for (use, what), lines in sorted(sorts.items(), key=lambda each: (USES.index(each[0][0]), each[0][1])):
        order = _cut(lines)
        if order <= 0:
            continue
        most = max(lines, key=lambda each: each[1].order)[0].label
        notes = dict.fromkeys(line.note for _, line in lines if line.note)
        roll = max(line.roll for _, line in lines)
        length = (f"{said(order / roll, system)} off a roll {said(roll, system)} wide",) if roll else ()
        yield TruckLine(GELS, what if use in what else f"{what}, {use}", order, "m²", most,
                        "; ".join((*length, *notes)))


def _cut(lines: Sequence[tuple[SetUp, SheetLine]]) -> float:
    """Return what is to be brought of one sort for all set-ups. [m²]"""
    most = max(line.order for _, line in lines)
    if lines[0][1].use == BLIND:
        once = {(set_up.scene, line.of): line.order for set_up, line in lines}
        return sum(once.values())
    roll = max(line.roll for _, line in lines)
    if not roll:
        return most
    # Of alike cuts for one thing, as many as one set-up has at most.
    cuts: Counter[tuple[str, str, float, float]] = Counter()
    for set_up, line in lines:
        cuts |= Counter((set_up.scene, name, round(width, 4), round(height, 4))
                        for name, width, height in line.cuts)
    length = roll_length([(width, height) for *_, width, height in cuts.elements()], roll)
    # All pieces together are not always laid out as well as those of each set-up by themselves.
    one_by_one = {(set_up.scene, line.cuts): line.order for set_up, line in lines}
    return min(max(roll * length, most), sum(one_by_one.values()))


def _cable(set_ups: Sequence[SetUp], system: str) -> Iterator[TruckLine]:
    counts: list[Counter[str]] = []
    for set_up in set_ups:
        count: Counter[str] = Counter()
        for line in sorted(set_up.cables, key=lambda each: (each.what, each.length)):
            length = f"{line.length:g} m" if system == METRIC else said(line.length, system)
            count[f"cable, {line.what}, {length}"] += line.count
        counts.append(count)
    for what, number, most in _most(counts, set_ups):
        yield TruckLine(CABLE, what, number, "", most)


def _distribution(set_ups: Sequence[SetUp]) -> Iterator[TruckLine]:
    supplies = dict.fromkeys(each.power.supply for each in set_ups if each.power.supply and each.lamps)
    for supply in supplies:
        most = next(each.label for each in set_ups if each.power.supply == supply and each.lamps)
        yield TruckLine(DISTRIBUTION, supply, 1, "", most, "connected by a licensed electrician")
    counts = [Counter(f"circuit, {line.breaker:g} A" for line in each.power.circuits if line.lamps)
              for each in set_ups]
    for what, number, most in _most(counts, set_ups):
        yield TruckLine(DISTRIBUTION, what, number, "", most)
    unfed = [Counter(f"supply for {name}" for name in each.power.unfed) for each in set_ups]
    for what, number, most in _most(unfed, set_ups):
        yield TruckLine(DISTRIBUTION, what, number, "", most, "on no circuit of this plan")
    batteries = [Counter(BATTERY for run in each.runs if run.source == BATTERY) for each in set_ups]
    for _, number, most in _most(batteries, set_ups):
        yield TruckLine(DISTRIBUTION, "battery with its lead", number, "", most,
                        "for what is not on the mains")


def _care(set_ups: Sequence[SetUp]) -> Iterator[TruckLine]:
    """Yield reminders of what keeps people safe; how many is decided on the spot."""
    lamps = [line for each in set_ups for line in each.lamps]
    if not lamps:
        return
    flames = sorted({line.name for line in lamps if LIGHTS[line.kind].flame})
    by_law = "common practice, no source; local codes and the competent person decide"
    yield TruckLine(CARE, "fire extinguisher for electrical fires", 1, "", "", by_law)
    if flames:
        yield TruckLine(CARE, "fire blanket and extinguisher at the flames", len(flames), "", "",
                        f"{', '.join(flames)}; a fire watch as the local code asks")
    if any(run.pieces for each in set_ups for run in each.runs):
        yield TruckLine(CARE, "residual-current device, 30 mA, at each circuit", max(
            1, max(sum(bool(line.lamps) for line in each.power.circuits) for each in set_ups)), "", "",
            "a licensed electrician's; IEC 60364-4-41, from memory")
    # What goes over a sill lies on no floor.
    covers = [sum(OVER_SILL not in text for text in crossings(each.runs)) for each in set_ups]
    if max(covers):
        yield TruckLine(CARE, "cable cover or ramp, where cables cross a way", max(covers), "",
                        set_ups[covers.index(max(covers))].label, "as long as the way is wide")
    if any(line.spectrum in HOT for line in lamps):
        yield TruckLine(CARE, "heat-resistant gloves", 2, "", "",
                        "pairs, for hot lamps; common practice, no source")
