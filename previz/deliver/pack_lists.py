"""Grip, gels and cloth, cable, what is done between options, and what goes on the truck."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from previz.deliver.layout import Block, Setting, space, together
from previz.deliver.pack_parts import list_head, list_of
from previz.deliver.pack_words import (
    HELD,
    NONE,
    area_text,
    cable_text,
    count_text,
    height_text,
    listed,
    pieces_text,
    place_text,
    printed,
    share_text,
    size_text,
)
from previz.deliver.tables import Cell, Column
from previz.plans.lengths import said
from previz.plans.lines import CableRun, ChangeOver, GripLine, SetUp, TruckLine

GROUPS = ("lamps", "stands", "grip", "gels", "cable", "distribution", "care")
"""Of the truck list, in the order in which they are loaded."""


@dataclass(frozen=True)
class Shared:
    """A line of a list that options share, with how many, or how much, each has of it; 0 for none."""

    line: Any
    counts: tuple[float, ...]


def shared(set_ups: Sequence[SetUp], lines: Callable[[SetUp], Sequence[Any]], key: Callable[[Any], Hashable],
           count: Callable[[Any], float]) -> list[Shared]:
    """Return the lines of all options, each once, in the order in which they come."""
    first: dict[Hashable, Any] = {}
    counts: dict[Hashable, list[float]] = {}
    for number, set_up in enumerate(set_ups):
        for line in lines(set_up):
            first.setdefault(key(line), line)
            counts.setdefault(key(line), [0.0] * len(set_ups))[number] += count(line)
    return [Shared(line, tuple(counts[name])) for name, line in first.items()]


def _count_columns(lines: Sequence[Shared], set_ups: Sequence[SetUp], head: str, share: float,
                   text: Callable[[Shared, float], str]) -> list[Column]:
    """Return one column of counts where all options have the same, else one each."""
    if all(len(set(each.counts)) == 1 for each in lines):
        return [Column(head, "", share, lambda each: text(each, each.counts[0]))]
    return [Column(set_up.option, "", share + 0.8, lambda each, number=number: (
        text(each, each.counts[number]) if each.counts[number] else NONE), head if number == 0 else "")
        for number, set_up in enumerate(set_ups)]


def grip_lines(set_ups: Sequence[SetUp]) -> list[Shared]:
    """Return the grip of all options, each once."""
    def key(line: GripLine) -> Hashable:
        # What has no name of its own is one of so many, whatever it holds in which option.
        own = (line.size, line.at, line.support, line.of) if line.name else ()
        return line.tag, line.name, line.what, own

    lines = shared(set_ups, lambda each: each.grip, key, lambda line: line.count)
    of: dict[Hashable, dict[str, None]] = {}
    for set_up in set_ups:
        for line in set_up.grip:
            of.setdefault(key(line), {}).update(dict.fromkeys(line.of))
    return [replace(each, line=replace(each.line, of=tuple(of[key(each.line)]))) for each in lines]


def grip_blocks(setting: Setting, set_ups: Sequence[SetUp], system: str) -> list[Block]:
    """Return boards, frames, flags and nets with their places, and what holds them."""
    lines = grip_lines(set_ups)
    columns = [
        *([Column("no.", "", 1.0, lambda each: each.line.tag, align="left")]
          if any(each.line.tag for each in lines) else ()),
        Column("what", "", 6.0, lambda each: grip_text(each.line, system), align="left", wraps=True),
        Column("held by, or for", "", 4.0, lambda each: listed(tuple(filter(
            None, (each.line.support, listed(each.line.of, 6))))) or NONE, align="left", wraps=True),
        *_count_columns(lines, set_ups, "count", 1.0, lambda each, count: f"{count:g}"),
        _tick(1),
    ]
    return list_of(setting, "Grip", columns, lines)


def grip_text(line: GripLine, system: str) -> str:
    """Return what a thing is, and of one with a place its size and where its middle is."""
    parts = [f"{line.what} '{line.name}'" if line.name and line.name != line.what else line.what]
    if line.size is not None:
        parts.append(size_text(line.size, system))
    if line.at is not None:
        at = f"at {place_text(line.at, system)}, {height_text(line.at, system)} high"
        parts.append(at.replace(" ", HELD))
    return ", ".join(parts)


def _tick(boxes: int, head: str = "") -> Column:
    return Column(head, "", 0.1, lambda each: Cell("", boxes=boxes), align="left")


def sheet_blocks(setting: Setting, set_ups: Sequence[SetUp], system: str) -> list[Block]:
    """Return gels, diffusion and cloth by area."""
    lines = shared(set_ups, lambda each: each.sheets, lambda line: (line.what, line.use),
                   lambda line: line.order)
    return list_of(setting, "Gels, diffusion and cloth", [
        Column("what", "", 8.0, lambda each: each.line.what, align="left", wraps=True),
        Column("as", "", 5.0, lambda each: each.line.use, align="left", wraps=True),
        Column("for", "", 10.0, lambda each: listed(each.line.of, 5), align="left", wraps=True),
        Column("covers", "", 5.0, lambda each: area_text(each.line.area, system)),
        Column("cut off", "", 3.4, lambda each: share_text(each.line.waste)),
        *_count_columns(lines, set_ups, "bring", 5.2, lambda each, count: area_text(count, system)),
        _tick(1),
    ], lines, "what is cut off and lost is in what to bring")


def runs_of(set_ups: Sequence[SetUp]) -> list[tuple[CableRun, tuple[str, ...]]]:
    """Return the cable runs of all options, each once, with the options that it is of."""
    where: dict[CableRun, list[str]] = {}
    for set_up in set_ups:
        for run in set_up.runs:
            where.setdefault(run, []).append(set_up.option)
    return [(run, tuple(options)) for run, options in where.items()]


def cable_blocks(setting: Setting, set_ups: Sequence[SetUp], system: str,
                 crossings: Sequence[str] = ()) -> list[list[Block]]:
    """Return how each lamp is fed, and what cables that takes and where they cross ways."""
    runs, tags = runs_of(set_ups), {line.name: line.tag for each in set_ups for line in each.lamps}
    sources = dict.fromkeys(run.source for run, _ in runs)
    note = "along walls and floor, and up to the lamp"
    columns = [
        Column("no.", "", 2.2, lambda each: tags.get(each[0].lamp, ""), align="left"),
        Column("lamp", "", 8.0, lambda each: each[0].lamp, align="left", wraps=True),
        Column("route", "", 4.4, lambda each: said(each[0].route, system)),
        Column("with slack", "", 4.4, lambda each: said(each[0].length, system)),
        Column("made up of", "", 8.0, lambda each: pieces_text(each[0].pieces, system), align="left",
               wraps=True),
    ]
    if len(sources) == 1:
        note = f"from {next(iter(sources))}, {note}"
    else:
        columns.insert(2, Column("from", "", 8.0, lambda each: each[0].source, align="left", wraps=True))
    if any(len(options) < len(set_ups) for _, options in runs):
        columns.append(Column("in", "", 6.0, lambda each: "all" if len(each[1]) == len(set_ups)
                              else listed(each[1]), align="left", wraps=True))
    ways = list_of(setting, "Cable runs", [*columns, _tick(1)], runs, note)
    lines = shared(set_ups, lambda each: each.cables, lambda line: (line.what, line.length),
                   lambda line: line.count)
    blocks = list_of(setting, "Cables", [
        Column("cable", "", 12.0, lambda each: each.line.what, align="left", wraps=True),
        Column("length", "", 5.0, lambda each: cable_text(each.line.length, system)),
        *_count_columns(lines, set_ups, "count", 3.0, lambda each, count: f"{count:g}"),
        _tick(2),
    ], lines)
    return [ways, blocks + list_of(setting, "Cables cross", [
        Column("", "", 30.0, lambda text: text, align="left", wraps=True), _tick(1)],
        crossings, "cover, tape or fly")]


def change_blocks(setting: Setting, changes: Sequence[ChangeOver]) -> list[Block]:
    """Return what is struck, added and changed from option to option, in the order that moves least."""
    blocks: list[Block] = []
    for number, over in enumerate(changes):
        rows = over.changes or ()
        title = f"From '{over.before or 'as written'}' to '{over.after or 'as written'}'"
        columns = [
            Column("", "", 3.6, lambda change: change.what, align="left"),
            Column("", "", 2.4, lambda change: change.tag or NONE, align="left"),
            Column("", "", 26.0, lambda change: printed(change.text or change.name), align="left",
                   wraps=True),
            _tick(1)]
        note = "in the order that moves least" if number == 0 and len(changes) > 1 else ""
        blocks += list_of(setting, title, columns, rows, note)
        if not rows:
            blocks += [together(list_head(setting, title, "nothing is moved or changed"), space(0))]
    return blocks


def truck_blocks(setting: Setting, lines: Sequence[TruckLine], system: str, first: str = "",
                 scene: str = "") -> list[Block]:
    """Return what goes on the truck, group by group, with boxes for out and back.

    Of the set-up `first` it is not said that it needs most; of a `scene` that is the only one its title is
    left out.
    """
    known = [*GROUPS, *dict.fromkeys(line.group for line in lines if line.group not in GROUPS)]
    rows = [(group if number == 0 else "", line) for group in known for number, line in enumerate(
        [line for line in lines if line.group == group])]

    def most(line: TruckLine) -> str:
        return "" if line.most == first else line.most.removeprefix(f"{scene}, ") if scene else line.most

    columns = [
        Column("", "", 1.0, lambda each: each[0], align="left"),
        Column("what", "", 10.0, lambda each: each[1].what, align="left", wraps=True),
        Column("count", "", 2.0, lambda each: count_text(each[1].count, each[1].unit, system)),
        Column("note", "", 6.0, lambda each: "; ".join(filter(None, (
            each[1].note, f"most for {most(each[1])}" if most(each[1]) else ""))), align="left", wraps=True),
        Column("out, back", "", 1.0, lambda each: Cell("", boxes=2), align="left"),
    ]
    note = "the most that any one set-up needs at once"
    if any(most(line) for line in lines):
        name = first.removeprefix(f"{scene}, ") if scene else first
        note += f"; that is '{name}' where no other is named"
    return list_of(setting, "Truck", columns, rows, note)
