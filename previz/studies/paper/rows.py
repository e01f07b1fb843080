"""The numbers of paper as rows: of its lists, its meter sheet and its drawings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from previz.deliver.pack import Pack, PackNumbers, PackScene, numbers_of
from previz.deliver.pack_words import pieces_text
from previz.plans.lines import (
    CircuitLine,
    FlickerLine,
    GripLine,
    LampLine,
    MeterLine,
    Point,
    PowerPlan,
    SetUp,
    TruckLine,
)
from previz.plans.records import Sheet, Symbol, Words
from previz.studies.result import Row, row

FIGURE = re.compile(r"\d")

TRUCK = {"": "truck_count", "m²": "truck_area", "m": "truck_length"}
"""Unit of a line of the truck list to its quantity."""


def pack_rows(pack: Pack) -> Iterator[Row]:
    """Yield every number of the lists."""
    for scene in pack.scenes:
        of = {"scene": scene.title}
        for set_up in scene.set_ups:
            yield from set_up_rows(set_up, **of)
        yield from _scene_rows(scene, **of)
    for line in pack.truck:
        yield from _truck_rows(line)


def _scene_rows(scene: PackScene, /, **of: str) -> Iterator[Row]:
    for over in scene.changes:
        to = {**of, "option": over.after}
        yield row("change_effort", over.effort, note=f"from {over.before}", **to)
        for change in over.changes:
            yield row("change", change.text, note=change.what, thing=change.name, **to)
    for notes in scene.notes.values():
        yield from (row("list_note", text, **of) for text in notes)
    for text in scene.crossings:
        yield row("cable_crossing", text, **of)


def set_up_rows(set_up: SetUp, /, **of: str) -> Iterator[Row]:
    """Yield every number of the lists of one option."""
    of = {**of, "option": set_up.option}
    yield from _numbers_rows(numbers_of(set_up), **of)
    for lamp in set_up.lamps:
        yield from _lamp_rows(lamp, **of)
    for grip in set_up.grip:
        yield from _grip_rows(grip, **of)
    for sheet in set_up.sheets:
        at = {**of, "thing": sheet.what}
        yield row("sheet_area", sheet.area, note=sheet.use, **at)
        yield row("sheet_waste", sheet.waste, note=sheet.use, **at)
        yield row("sheet_order", sheet.order, note=f"{sheet.use} of {', '.join(sheet.of)}", **at)
    for run in set_up.runs:
        at = {**of, "lamp": run.lamp}
        yield row("cable_route", run.route, note=f"from {run.source}", **at)
        yield row("cable_length", run.length, note=f"from {run.source}", **at)
        yield row("cable_pieces", pieces_text(run.pieces, "metric"), **at)
    for cable in set_up.cables:
        at = {**of, "thing": f"{cable.what}, {cable.length:g} m"}
        yield row("cable_stock_length", cable.length, **at)
        yield row("cable_count", cable.count, **at)
    yield from _power_rows(set_up.power, **of)
    for flicker in set_up.flicker:
        yield from _flicker_rows(flicker, **of)
    for meter in set_up.meters:
        yield from _meter_rows(meter, **of)


def _numbers_rows(numbers: PackNumbers, /, **of: str) -> Iterator[Row]:
    yield row("lamps_lit", numbers.lamps, **of)
    yield row("circuits_used", numbers.circuits, **of)
    yield row("circuits_over", numbers.over, **of)
    yield row("lamps_unfed", numbers.unfed, **of)
    yield row("lamps_weight", numbers.weight, note=f"{numbers.unweighed} not stated", **of)
    yield row("lamps_unweighed", numbers.unweighed, **of)
    yield row("highest_lamp", numbers.highest, **of)
    yield row("cable_total", numbers.cable, **of)


def _place_rows(thing: str, at: Point | None, /, **of: str) -> Iterator[Row]:
    if at is not None:
        for quantity, value in zip((f"{thing}_x", f"{thing}_y", f"{thing}_height"), at, strict=True):
            yield row(quantity, value, **of)


def _lamp_rows(lamp: LampLine, /, **of: str) -> Iterator[Row]:
    of = {**of, "lamp": lamp.name}
    words = {"lamp_tag": lamp.tag, "lamp_kind": lamp.kind, "lamp_aim": lamp.aim,
             "lamp_gels": " + ".join(lamp.gels), "lamp_fittings": ", ".join(lamp.modifiers),
             "lamp_support": lamp.support, "lamp_circuit": lamp.circuit}
    yield from (row(quantity, text, **of) for quantity, text in words.items() if text)
    yield from _place_rows("lamp", lamp.at, **of)
    numbers = {"lamp_pan": lamp.pan, "lamp_tilt": lamp.tilt, "lamp_throw": lamp.throw, "lamp_cct": lamp.cct,
               "full_load": lamp.watts, "lamp_amperes": lamp.amperes, "lamp_weight": lamp.weight}
    notes = {"full_load": "guessed from the lumens"} if lamp.guessed else {}
    yield from (row(quantity, value, note=notes.get(quantity, ""), **of)
                for quantity, value in numbers.items() if value is not None)
    sides = ("face_diameter",) if len(lamp.size) == 1 else ("face_width", "face_height")
    yield from (row(quantity, side, **of) for quantity, side in zip(sides, lamp.size, strict=False))
    yield row("lamp_level", lamp.dimmer, **of)
    yield row("lamp_on", lamp.on, **of)
    yield row("lamp_power_factor", lamp.power_factor, **of)


def _grip_rows(line: GripLine, /, **of: str) -> Iterator[Row]:
    of = {**of, "thing": line.name or line.what}
    yield row("grip", line.what, note=", ".join(filter(None, (line.tag, line.support, *line.of))), **of)
    yield row("grip_count", line.count, note=line.what, **of)
    if line.size is not None:
        yield row("grip_width", line.size[0], **of)
        yield row("grip_height", line.size[1], **of)
    if line.at is not None:
        for quantity, value in zip(("grip_x", "grip_y", "grip_at_height"), line.at, strict=True):
            yield row(quantity, value, **of)
    if line.support:
        yield row("grip_support", line.support, **of)


def _power_rows(power: PowerPlan, /, **of: str) -> Iterator[Row]:
    for line in power.circuits:
        yield from _circuit_rows(line, **of)
    for name, amperes in power.phases:
        yield row("phase_amperes", amperes, thing=name, **of)
    yield row("load", power.watts, **of)
    yield row("volt_amperes", power.volt_amperes, **of)
    yield row("fullest_phase", power.amperes, **of)
    yield row("neutral_amperes", power.neutral, **of)
    yield row("phase_unbalance", power.unbalance, **of)
    if power.supply:
        yield row("supply", power.supply, **of)
    for name in power.unfed:
        yield row("unfed", True, lamp=name, **of)
    for text in power.warnings:
        yield row("power_warning", text, **of)


def _circuit_rows(line: CircuitLine, /, **of: str) -> Iterator[Row]:
    of = {**of, "circuit": line.name}
    lamps = ", ".join(line.lamps)
    yield row("circuit_watts", line.watts, note=lamps, **of)
    yield row("circuit_amperes", line.amperes, note=lamps, **of)
    yield row("circuit_holds", line.holds, **of)
    yield row("circuit_breaker", line.breaker, note=line.phase, **of)
    yield row("circuit_over", line.over, note=line.note, **of)
    if line.over:
        yield row("circuit_too_much", line.amperes - line.holds, **of)
    if line.note:
        yield row("circuit_note", line.note, **of)


def _flicker_rows(line: FlickerLine, /, **of: str) -> Iterator[Row]:
    of = {**of, "camera": line.camera, "lamp": line.lamp}
    for quantity, value in (("frame_rate", line.fps), ("camera_shutter", line.shutter),
                            ("flicker_frequency", line.frequency), ("flicker_depth", line.depth),
                            ("flicker_swing", line.swing), ("flicker_beat", line.beat)):
        yield row(quantity, value, **of)
    yield row("flicker_risk", line.risk, note=line.advice, **of)
    if line.advice:
        yield row("flicker_advice", line.advice, **of)


def _meter_rows(line: MeterLine, /, **of: str) -> Iterator[Row]:
    of = {**of, "camera": line.camera, "meter": line.place}
    note = ", ".join(filter(None, (f"lamps on: {line.lamps}", line.note)))
    spot = line.unit != "lx"
    kind, stops = ("spot", "stops_from_grey") if spot else ("meter", "stops_from_working")
    yield row(f"{kind}_expected", line.lux, line.error, note=note, **of)
    yield row(f"{kind}_from", max(line.lux * (1 - line.tolerance), 0.0), note=note, **of)
    yield row(f"{kind}_to", line.lux * (1 + line.tolerance), note=note, **of)
    yield row(stops, line.stops, note=note, **of)


def _truck_rows(line: TruckLine) -> Iterator[Row]:
    quantity = TRUCK.get(line.unit, "truck_count")
    note = ", ".join(filter(None, (line.group, line.most and f"most for {line.most}", line.note)))
    yield row(quantity, line.count, note=note, thing=line.what)


def drawn_rows(sheets: Iterable[tuple[str, Sheet]]) -> Iterator[Row]:
    """Yield every word with a figure that stands on a drawing; `sheets` have the scene that each is of."""
    for scene, sheet in sheets:
        marks = [part for mark in sheet.drawing.marks
                 for part in (mark.parts if isinstance(mark, Symbol) else (mark,))]
        words = [mark for mark in (*marks, *sheet.furniture) if isinstance(mark, Words)]
        for text, name in dict.fromkeys((each.text, each.name) for each in words if FIGURE.search(each.text)):
            yield row("drawn_words", text, note=sheet.head.subject, scene=scene, thing=name)
