"""The meter sheet: what a meter is to read where, with room to write in what it reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from previz.deliver.layout import Block, Setting, space
from previz.deliver.pack_parts import LONG, list_head, list_table, sentence
from previz.deliver.tables import Cell, Column
from previz.deliver.wording import lux_text, stops_text
from previz.plans.lengths import METRIC
from previz.plans.lines import MeterLine, SetUp

FOOTCANDLE, FOOTLAMBERT = 0.3048**-2, 0.3048**-2 / np.pi
"""[lx], [cd/m²]  A lumen on a square foot; 1/pi candela of one."""

IMPERIAL_UNITS = {"lx": ("fc", FOOTCANDLE), "cd/m²": ("fL", FOOTLAMBERT)}
"""Unit of a reading to what it is on imperial paper, and how much of it that is."""

FIELD = 8.0
"""Width of the field that is written in. [units]"""

ROW = 2.25
"""Least height of a row: a number is written there by hand. [units]"""

SPOT = "spot meter, from 18 % grey"
"""Note of a line that is said by its unit, and by the head of the list."""


def light_text(light: float, system: str, unit: str = "lx") -> str:
    """Return a light level [lx or cd/m²], in foot-candles or foot-lamberts on imperial paper."""
    return lux_text(light if system == METRIC else light / IMPERIAL_UNITS[unit][1])


def unit_text(unit: str, system: str) -> str:
    """Return the unit of a reading as paper has it."""
    return unit if system == METRIC else IMPERIAL_UNITS[unit][0]


def between_text(line: MeterLine, system: str) -> str:
    """Return from where to where a reading needs no asking."""
    low, high = (line.lux * (1 + sign * line.tolerance) for sign in (-1, 1))
    return f"{light_text(max(low, 0.0), system, line.unit)} to {light_text(high, system, line.unit)}"


def meter_blocks(setting: Setting, set_up: SetUp, system: str) -> list[Block]:
    """Return the meter sheet of an option, for one column of a page."""
    if not set_up.meters:
        return []
    cameras = dict.fromkeys(line.camera for line in set_up.meters if line.camera)
    several = len(cameras) > 1

    def stops(line: MeterLine) -> str:
        text = stops_text(line.stops)
        return f"{text} {line.camera}" if several and line.camera and line.stops is not None else text

    columns = [
        Column("place", "", 9.0, lambda line: line.place, align="left", wraps=True),
        Column("lamps on", "", 6.5, lambda line: _lamps_on(line), align="left", wraps=True),
        Column("expect", "", 4.2, lambda line: light_text(line.lux, system, line.unit)),
        Column("good from to", "", 6.4, lambda line: between_text(line, system)),
        Column("", "", 2.0, lambda line: unit_text(line.unit, system), align="left"),
        Column("stops", "", 4.0, stops),
        Column("read", "", 30.0, lambda line: Cell("", field=True), align="left", least=FIELD),
        Column("", "", 1.8, lambda line: Cell("", boxes=1), align="left"),
    ]
    table = list_table(setting, columns, set_up.meters, ROW)
    of = f"stops from the stop of camera {', '.join(cameras)}" if cameras else ""
    if any(line.unit != "lx" for line in set_up.meters):
        of += "; of a spot meter from 18 % grey"
    title = f"Meter sheet, {set_up.option}" if set_up.option else "Meter sheet"
    blocks = table.under(list_head(setting, title, of))
    if len(set_up.meters) > LONG:
        blocks = [replace(block, whole=None) for block in blocks]
    return [*blocks, space(0.8 * setting.unit)]


def _lamps_on(line: MeterLine) -> str:
    return ", ".join(filter(None, (line.lamps, line.note.replace(SPOT, "spot"))))


def meter_notes(setting: Setting, notes: Sequence[str]) -> list[Block]:
    """Return how the meter sheet is used: what goes with its lines, and where readings are typed."""
    used = ("What is not named under 'lamps on' is off. Write the reading in the field, tick what is good; "
            "what lies outside 'good from to' is asked why before it is dialled away. Typed into the meters "
            "file beside this paper, column 'reading', `previz readings SCENE FILE` says which lamp is off "
            "and which levels bring the plan back.")
    return [sentence(setting, text, small=True) for text in (*notes, used)]
