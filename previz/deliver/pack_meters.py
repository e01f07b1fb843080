"""The meter sheet: what a meter is to read where, with room to write in what it reads."""

from __future__ import annotations

from previz.deliver.layout import Block, Setting, space
from previz.deliver.pack_parts import list_head, list_table, sentence
from previz.deliver.tables import Cell, Column
from previz.deliver.wording import lux_text, stops_text
from previz.plans.lengths import METRIC
from previz.plans.lines import MeterLine, SetUp

FOOTCANDLE = 0.3048**-2
"""[lx]  A lumen on a square foot."""

FIELD = 8.0
"""Width of the field that is written in. [units]"""

ROW = 1.2
"""Room between rows, more than in other lists: a number is written there by hand; see `tables.Table`."""


def light_text(lux: float, system: str) -> str:
    """Return a light level [lx], in foot-candles on imperial paper; without its unit."""
    return lux_text(lux if system == METRIC else lux / FOOTCANDLE)


def between_text(line: MeterLine, system: str) -> str:
    """Return from where to where a reading needs no asking."""
    low, high = (line.lux * (1 + sign * line.tolerance) for sign in (-1, 1))
    return f"{light_text(max(low, 0.0), system)} to {light_text(high, system)}"


def meter_blocks(setting: Setting, set_up: SetUp, system: str) -> list[Block]:
    """Return the meter sheet of an option, for one column of a page."""
    if not set_up.meters:
        return []
    unit = "lx" if system == METRIC else "fc"
    cameras = dict.fromkeys(line.camera for line in set_up.meters if line.camera)
    columns = [
        Column("place", "", 9.0, lambda line: Cell(line.place), align="left", wraps=True),
        Column("lamps on", "", 6.5, lambda line: line.lamps, align="left", wraps=True),
        Column("expect", unit, 4.2, lambda line: light_text(line.lux, system)),
        Column("good from to", unit, 6.4, lambda line: between_text(line, system)),
        Column("stops", "from the stop", 4.0, lambda line: stops_text(line.stops)),
        Column("read", unit, 30.0, lambda line: Cell("", field=True), align="left", least=FIELD),
        Column("", "", 1.8, lambda line: Cell("", boxes=1), align="left"),
    ]
    table = list_table(setting, columns, set_up.meters, ROW)
    of = f"stops from the stop of camera {', '.join(cameras)}" if cameras else ""
    title = f"Meter sheet, {set_up.option}" if set_up.option else "Meter sheet"
    return [*table.under(list_head(setting, title, of)), space(0.8 * setting.unit)]


def meter_notes(setting: Setting) -> list[Block]:
    """Return how the meter sheet is used."""
    return [sentence(setting, text) for text in (
        "Flat receptor at a cheek or a mark, facing as the place says, dome off; what is not named under "
        "'lamps on' is off, daylight apart. Write the reading in the field and tick what is good. What lies "
        "outside 'good from to' is to be asked why before it is dialled away.",
        "Typed into the meters file that lies beside this paper, in the column 'reading', `previz readings "
        "SCENE FILE` says which lamp is off, and which levels bring the plan back.")]
