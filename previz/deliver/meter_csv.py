"""The meter card as CSV: one long table, one number a row."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

import numpy as np

from previz.exposure.meter_report import Report
from previz.exposure.metering import Measured, from_working

WORKING = "from the working stop"

CSV_HEAD = ("option", "kind", "at", "seen by", "receptor", "lamp", "quantity", "unit", "value",
            "error", "standard error", "band error")


def _csv_rows(report: Report) -> Iterator[tuple]:
    """Yield (kind, at, seen by, receptor, lamp, quantity, unit, Measured or float or str)."""
    for place in report.places:
        for label, reading in (("flat", place.flat), ("dome", place.dome)):
            if reading is None:
                continue
            at = ("incident", place.name, "", label)
            yield (*at, "", "illuminance", "lx", reading.light)
            yield (*at, "", "illuminance", "fc", reading.footcandles)
            yield (*at, "", "exposure value", "EV", reading.ev100)
            for camera, stop in reading.stops:
                yield ("incident", place.name, camera, label, "", "T-stop", "1", stop)
            for camera, stops in reading.working:
                yield ("incident", place.name, camera, label, "", WORKING, "stops", stops)
            yield from _csv_lamps(at, reading.lamps, "lx")
        if place.colour is not None:
            at, colour = ("colour", place.name, "", "", ""), place.colour
            yield (*at, "CCT", "K", colour.cct)
            yield (*at, f"Duv ({colour.tint})", "1", colour.duv)
            for name in ("ra", "rf", "rg"):
                yield (*at, name.capitalize(), "1", getattr(colour, name))
            yield (*at, f"SSI against {colour.reference}", "1", colour.ssi)
    yield from _csv_faces(report)
    for spot in report.spots:
        at = ("spot", spot.name, spot.camera, "")
        yield (*at, "", "luminance", "cd/m²", spot.luminance)
        yield (*at, "", "luminance", "fL", spot.footlamberts)
        yield (*at, "", "from 18 % grey", "stops", spot.stops)
        yield (*at, "", "BT.709 signal", "%", spot.percent)
        yield from _csv_lamps(at, spot.lamps, "cd/m²")


def _csv_faces(report: Report) -> Iterator[tuple]:
    for face in report.faces:
        for side, light in (("lit side", face.lit), ("shadow side", face.shadow)):
            yield ("face", face.figure, "", "flat", "", side, "lx", light)
            for camera in report.cameras:
                yield ("face", face.figure, camera.name, "flat", "", f"{side}, {WORKING}", "stops",
                       from_working(light, camera.settings))
        yield ("face", face.figure, "", "flat", "", "key alone", "lx", face.key_alone)
        for name, ratio in face.ratios:
            yield ("face", face.figure, "", "flat", "", name, "1", ratio)
    for each in report.key_lamps:
        at = ("key lamps", each.figure, "", "flat", " + ".join(each.lamps))
        for name, light in (("key lamps", each.key), ("all others", each.others)):
            yield (*at, name, "lx", light)
        for name, ratio in each.ratios:
            yield (*at, name, "1", ratio)


def _csv_lamps(at: tuple, parts: Sequence, unit: str) -> Iterator[tuple]:
    for part in parts:
        for name in ("total", "direct", "bounced"):
            yield (*at, part.lamp, name, unit, getattr(part, name))


def csv_text(reports: Sequence[Report]) -> str:
    """Return readings, a report for each option, as one long table, one number a row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_HEAD)
    for report in reports:
        for *where, value in _csv_rows(report):
            cells = ((value.value, value.error, value.paths, value.bands)
                     if isinstance(value, Measured) else (value, "", "", ""))
            writer.writerow([report.option, *where, *(_exact(cell) for cell in cells)])
    return out.getvalue()


def _exact(number: float | str) -> str:
    """Return a number as text; an empty cell where there is none."""
    if isinstance(number, str):
        return number
    return f"{number:.6g}" if np.isfinite(number) else ""
