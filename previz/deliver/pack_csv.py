"""The lists as CSV (RFC 4180), a line a thing: for spreadsheets, stock programs, and who orders.

Lengths, areas and weights are in m, m² and kg whatever the paper has; each head says its unit.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from previz.deliver.pack import Pack
from previz.deliver.pack_power import OVER, over_text
from previz.plans.lines import LampLine, Point, SetUp

SEPARATOR = "; "
"""Between the parts of one field."""

OF = ("scene", "option")


def table_text(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Return a table as CSV, its heads in the first line."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(heads)
    writer.writerows([_field(value) for value in row] for row in rows)
    return out.getvalue()


def _field(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        # A hundredth of a millimetre, or of a watt, is nothing that is measured.
        return f"{value:.5g}" if abs(value) < 1000 else f"{value:.1f}".removesuffix(".0")
    if isinstance(value, tuple):
        return SEPARATOR.join(_field(each) for each in value)
    return str(value)


def pack_tables(pack: Pack) -> dict[str, str]:
    """Return the lists of a pack: name of the file without its ending -> CSV."""
    return {
        "lamps": table_text((*OF, *_LAMP), _each(pack, lambda each: map(_lamp, each.lamps))),
        "grip": table_text((*OF, "number", "name", "what", "count", "width [m]", "height [m]", "x [m]",
                            "y [m]", "height over floor [m]", "held by", "for"),
                           _each(pack, lambda each: (
                               (line.tag, line.name, line.what, line.count, *_two(line.size or ()),
                                *_at(line.at), line.support, line.of) for line in each.grip))),
        "gels": table_text((*OF, "what", "as", "covers [m2]", "cut off", "bring [m2]", "for"),
                           _each(pack, lambda each: (
                               (line.what, line.use, line.area, line.waste, line.order, line.of)
                               for line in each.sheets))),
        "cable": table_text((*OF, "list", "lamp", "from", "cable", "route [m]", "length [m]", "pieces [m]",
                             "count"), _each(pack, _cables)),
        "power": table_text((*OF, "list", "name", "phase", "breaker [A]", "lamps", "watts [W]", "amperes [A]",
                             "may hold [A]", "flag", "note"), _each(pack, _power)),
        "flicker": table_text((*OF, "camera", "number", "lamp", "frames a second", "shutter [s]",
                               "ripple [Hz]", "depth", "off by [stops]", "beat [Hz]", "risk", "what to do"),
                              _each(pack, lambda each: (
                                  (line.camera, line.tag, line.lamp, line.fps, line.shutter, line.frequency,
                                   line.depth, line.swing, line.beat, line.risk, line.advice)
                                  for line in each.flicker))),
        "changes": table_text(("scene", "from", "to", "what", "number", "name", "text"), (
            (scene.title, over.before, over.after, change.what, change.tag, change.name, change.text)
            for scene in pack.scenes for over in scene.changes for change in over.changes)),
        "truck": table_text(("group", "what", "count", "unit", "most for", "note"), (
            (line.group, line.what, line.count, line.unit, line.most, line.note) for line in pack.truck)),
    }


def _each(pack: Pack, rows: Any) -> Iterator[tuple[Any, ...]]:
    """Yield what a function makes of every set-up, each with the scene and option that it is of."""
    for scene in pack.scenes:
        for set_up in scene.set_ups:
            for row in rows(set_up):
                yield (scene.title, set_up.option, *row)


_LAMP = ("number", "lamp", "kind", "x [m]", "y [m]", "height over floor [m]", "aim", "pan from north [deg]",
         "tilt [deg]", "throw [m]", "face width or diameter [m]", "face height [m]", "cct [K]",
         "gels", "level", "on", "in shot", "on it and before it", "held by", "weight [kg]", "watts [W]",
         "watts guessed", "amperes [A]", "power factor", "circuit")


def _lamp(line: LampLine) -> tuple[Any, ...]:
    return (line.tag, line.name, line.kind, *_at(line.at), line.aim, line.pan, line.tilt, line.throw,
            *_two(line.size), line.cct, line.gels, line.dimmer, line.on, line.in_shot, line.modifiers,
            line.support, line.weight, line.watts, line.guessed, line.amperes, line.power_factor,
            line.circuit)


def _two(size: Sequence[float]) -> tuple[float | None, float | None]:
    return (size[0] if size else None, size[1] if len(size) > 1 else None)


def _at(at: Point | None) -> tuple[float | None, ...]:
    return (None, None, None) if at is None else at


def _cables(set_up: SetUp) -> Iterator[tuple[Any, ...]]:
    for run in set_up.runs:
        yield "run", run.lamp, run.source, "", run.route, run.length, run.pieces, None
    for line in set_up.cables:
        yield "cable", "", "", line.what, None, line.length, (), line.count


def _power(set_up: SetUp) -> Iterator[tuple[Any, ...]]:
    power = set_up.power
    for line in power.circuits:
        note = SEPARATOR.join(filter(None, (over_text(line) if line.over else "", line.note)))
        yield ("circuit", line.name, line.phase, line.breaker, line.lamps, line.watts, line.amperes,
               line.holds, OVER if line.over else "", note)
    for name, amperes in power.phases:
        yield "phase", name, name, None, (), None, amperes, None, "", ""
    yield "all", power.supply, "", None, (), power.watts, power.amperes, None, "", (
        f"{power.volt_amperes:.0f} VA, neutral up to {power.neutral:.1f} A" if power.circuits else "")
    for name in power.unfed:
        yield "unfed", name, "", None, (name,), None, None, None, "UNFED", "on no circuit"
    for text in power.warnings:
        yield "look at", "", "", None, (), None, None, None, "", text
