"""The lamp list: all options share one, and each says only what it has otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from previz.deliver.layout import Block, Setting
from previz.deliver.pack_parts import list_of
from previz.deliver.pack_words import (
    HELD,
    NONE,
    amperes_text,
    angle_text,
    colour_text,
    height_text,
    length_text,
    level_text,
    listed,
    place_text,
    size_text,
    watts_text,
    weight_text,
)
from previz.deliver.tables import Cell, Column
from previz.plans.aims import aim_point, aimed_at
from previz.plans.lines import LampLine, SetUp

SAME = "as listed"
"""Where an option has nothing otherwise."""

ABSENT = "not there"

MOST_COLUMNS = 3
"""Of options that have a column each; more share one."""


@dataclass(frozen=True)
class SharedLamp:
    """A lamp as the first option has it that has it at all, and what each option has otherwise.

    Parameters
    ----------
    line : LampLine
    otherwise : tuple of tuple of str
        Of each option, in words; () for nothing.
    """

    line: LampLine
    otherwise: tuple[tuple[str, ...], ...]


def shared_lamps(set_ups: Sequence[SetUp], system: str) -> list[SharedLamp]:
    """Return the lamps of all options, each once."""
    first: dict[str, LampLine] = {}
    for set_up in set_ups:
        for line in set_up.lamps:
            first.setdefault(line.name, line)
    by_name = [{line.name: line for line in set_up.lamps} for set_up in set_ups]
    return [SharedLamp(line, tuple(otherwise(line, lamps.get(name), system) for lamps in by_name))
            for name, line in first.items()]


def otherwise(base: LampLine, other: LampLine | None, system: str) -> tuple[str, ...]:
    """Return in words what a lamp has otherwise than the list says; () for nothing."""
    if other is None:
        return (ABSENT,)
    said = []
    if level_text(other) != level_text(base):
        said.append(level_text(other) if not other.on else f"at {level_text(other)}")
    if other.gels != base.gels:
        said.append(" + ".join(other.gels) or "no gel")
    if other.cct != base.cct and other.cct is not None:
        said.append(f"{other.cct:.0f} K")
    if other.at != base.at:
        said.append(f"stands at {place_text(other.at, system)}, {height_text(other.at, system)} high")
    if (other.aim, other.pan, other.tilt) != (base.aim, base.pan, base.tilt):
        said.append(f"aim {aim_text(other, system)}, pan {angle_text(other.pan)}, tilt "
                    f"{angle_text(other.tilt, sign=True)}, {length_text(other.throw, system)}")
    if other.modifiers != base.modifiers:
        said.append(f"with {listed(other.modifiers)}" if other.modifiers else "bare")
    if other.support != base.support:
        said.append(other.support)
    if other.circuit != base.circuit and other.circuit:
        said.append(f"circuit {other.circuit}")
    if other.size != base.size:
        said.append(f"face {size_text(other.size, system)}")
    return tuple(said)


def aim_text(lamp: LampLine, system: str) -> str:
    """Return what a lamp is aimed at; a point that is written in numbers as places are."""
    at = aim_point(lamp)
    if at is not None:
        return f"{place_text(at, system)}, {height_text(at, system)} high"
    return aimed_at(lamp.aim) or "all round"


def lamp_blocks(setting: Setting, set_ups: Sequence[SetUp], system: str) -> list[Block]:
    """Return the lamp list of all options of a scene."""
    lamps = shared_lamps(set_ups, system)
    if not lamps:
        return []
    note = "x, y and heights as on the plan; pan clockwise from north; W and A at full level"
    if len(set_ups) > 1:
        note += f"; levels, colours and aims of '{set_ups[0].option}', what differs on the right"
    return list_of(setting, "Lamps", [*_lamp_columns(lamps, system), *_option_columns(lamps, set_ups)],
                   lamps, note)


def _lamp_columns(lamps: Sequence[SharedLamp], system: str) -> list[Column]:
    def of(cell):
        return lambda shared: cell(shared.line)

    columns = [
        Column("no.", "", 2.2, of(lambda lamp: lamp.tag), align="left"),
        Column("lamp", "", 8.5, of(lambda lamp: Cell(lamp.name + (", in shot" if lamp.in_shot else ""))),
               align="left", wraps=True),
        Column("kind", "", 6.0, of(lambda lamp: lamp.kind), align="left", wraps=True),
        Column(f"x,{HELD}y", "", 8.0, of(lambda lamp: place_text(lamp.at, system)),
               align="left", wraps=True),
        Column("height", "", 4.4, of(lambda lamp: height_text(lamp.at, system))),
        Column("aim", "", 7.0, of(lambda lamp: aim_text(lamp, system)), align="left", wraps=True),
        Column("pan", "", 3.4, of(lambda lamp: angle_text(lamp.pan))),
        Column("tilt", "", 3.0, of(lambda lamp: angle_text(lamp.tilt, sign=True))),
        Column("throw", "", 4.4, of(lambda lamp: length_text(lamp.throw, system))),
        Column("level", "", 3.6, of(lambda lamp: Cell(level_text(lamp),
                                                      strong=lamp.dimmer < 1 or not lamp.on))),
        Column("colour and gels", "", 7.0, of(colour_text), align="left", wraps=True),
        Column("face, and what is on it and before it", "", 11.0, of(
            lambda lamp: fittings_text(lamp, system)), align="left", wraps=True),
        Column("held by", "", 6.0, of(lambda lamp: lamp.support), align="left", wraps=True),
        Column("weight", "", 4.0, of(lambda lamp: weight_text(lamp.weight, system))),
        Column("W", "", 4.0, of(lambda lamp: watts_text(lamp.watts, lamp.guessed))),
        Column("A", "", 3.0, of(lambda lamp: amperes_text(lamp.amperes))),
        Column("circuit", "", 4.4, of(lambda lamp: lamp.circuit or NONE), align="left", wraps=True),
        Column("rigged, fed, lit", "", 4.6, lambda shared: Cell("", boxes=3), align="left"),
    ]
    # What no lamp has is left out: a column of dashes says nothing.
    empty = {"weight": all(each.line.weight is None for each in lamps),
             "circuit": not any(each.line.circuit for each in lamps)}
    return [column for column in columns if not empty.get(column.head)]


def fittings_text(lamp: LampLine, system: str) -> str:
    """Return the size of a lamp's face, and what is on it and before it."""
    size = () if not lamp.size else (size_text(lamp.size, system),)
    return ", ".join((*size, *lamp.modifiers)) or NONE


def _option_columns(lamps: Sequence[SharedLamp], set_ups: Sequence[SetUp]) -> list[Column]:
    """Return what options have otherwise, in a column each; in one for all of many."""
    which = [number for number in range(len(set_ups)) if any(each.otherwise[number] for each in lamps)]
    if len(which) > MOST_COLUMNS:
        return [Column("what differs", "", 16.0, lambda shared: Cell("; ".join(
            f"{set_ups[number].option}: {listed(shared.otherwise[number])}"
            for number in which if shared.otherwise[number]) or SAME), align="left", wraps=True)]
    return [Column(f"differs in {set_ups[number].option}", "", 9.0, lambda shared, number=number: _differs(
        shared.otherwise[number]), align="left", wraps=True) for number in which]


def _differs(said: tuple[str, ...]) -> Cell:
    return Cell(listed(said), strong=True) if said else Cell(SAME)
