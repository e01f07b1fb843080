"""The meter card: every reading of a scene as a table to read, as JSON, or as CSV."""

from __future__ import annotations

import csv
import io
import json

import numpy as np

from previz.deliver.wording import (
    NO_LIGHT,
    lux_text,
    percent_texts,
    ratio_text,
    settings_text,
    stops_text,
)
from previz.exposure.metering import Measured
from previz.exposure.metering_ratios import stops_of
from previz.physics.exposure import DOME_CONSTANT, INCIDENT_CONSTANT, REFLECTED_CONSTANT

FORMAT = 1
"""Layout of the JSON card."""

LEAST_SHOWN = 0.001
"""A lamp with a smaller share of a reading is summed up with others in the table. [1]"""

NOTES = (
    "± is one standard error. Each reading is a meter of its own in the light, never a picture.",
    f"EV at ISO 100: flat receptor C {INCIDENT_CONSTANT:g}, domed C {DOME_CONSTANT:g}, spot "
    f"K {REFLECTED_CONSTANT:g} (ISO 2720:1974). T is the stop to set.",
)

LAMP_NOTES = (
    "Direct comes straight from the lamp, also through glass, nets and the gaps of a cloth. Bounced "
    "is",
    "all the rest, and so is what the cloth of a frame or a shade scatters.",
)

COLOUR_NOTES = (
    "Spectrum at a point: each lamp's own at 5 nm, times what arrives of it in each of {bands} "
    "bands, taken",
    "as even within a band. Ra: CIE 13.3. Rf, Rg: ANSI/IES TM-30-18. SSI: SMPTE ST 2122 "
    "(from memory).",
)

SPOT_NOTES = (
    "Mean over all that the camera sees of a thing, sharp. Stops from 18 % grey and BT.709 signal "
    "as the",
    "camera is set, before any picture rendering.",
)

RATIO_NOTES = (
    "Both ratios are in print and either is called 'the ratio': say which one you mean.",
)


def _digits(value: float) -> int:
    """Return the decimals that show three figures."""
    if not np.isfinite(value) or value == 0:
        return 2
    return int(np.clip(2 - np.floor(np.log10(abs(value))), 0, 4))


def _pair(light: Measured) -> tuple[str, str]:
    """Return a reading and its error with the same decimals, and one more where they need it."""
    if light.value == 0 and light.error == 0:
        return "0", "0"
    digits = _digits(light.value)
    if 0 < light.error < 0.5 * 10.0**-digits:
        digits = min(digits + 1, 4)
    shown = f"{light.value:.{digits}f}" if digits > _digits(light.value) else lux_text(light.value)
    if light.value < 1:
        shown = f"{light.value:.{digits}f}"
    if 0 < light.error < 0.5 * 10.0**-digits:
        return shown, f"<{10.0**-digits:.{digits}f}"
    return shown, f"{light.error:.{digits}f}"


def _ratio(ratio: float) -> str:
    return f"{ratio:.2f} : 1" if ratio < 10 else ratio_text(ratio)


def _stop(number: float) -> str:
    return f"T{number:.1f}" if number > 0 else "–"


def _ev(value: float) -> str:
    return f"{value:.1f}".replace("-", "\N{MINUS SIGN}") if np.isfinite(value) else NO_LIGHT


class _Table:
    """Rows of text, the first column to the left and the others to the right."""

    def __init__(self, head, first: int = 26):
        self.rows, self.first = [tuple(head)], first

    def add(self, *cells):
        self.rows.append(tuple(str(cell) for cell in cells))

    def text(self) -> str:
        """Return the rows; a row of one cell runs across all columns."""
        full = [row for row in self.rows if len(row) > 1]
        first = max(self.first, *(len(row[0]) for row in full))
        widths = [max(len(row[i]) for row in full) for i in range(1, len(full[0]))]
        lines = []
        for row in self.rows:
            cells = [f"{cell:>{width}}" for cell, width in zip(row[1:], widths, strict=False)]
            lines.append("  ".join([f"{row[0]:<{first}}", *cells]).rstrip())
        return "\n".join(lines)


def _cameras(cameras) -> list[tuple[str, tuple[str, ...]]]:
    """Return the cameras whose settings give the same stop as one: (heading, their names)."""
    groups: dict[tuple, list[str]] = {}
    for camera in cameras:
        settings = camera.settings
        key = (settings.iso, settings.shutter_s, settings.nd_density)
        groups.setdefault(key, []).append(camera.name)
    return [(f"T at {', '.join(names)}", tuple(names)) for names in groups.values()]


def _incident(report) -> str:
    groups = _cameras(report.cameras)
    table = _Table(("INCIDENT LIGHT", "", "lx", "±", "fc", "EV", *(head for head, _ in groups)))
    for place in report.places:
        name = place.name
        for label, reading in (("flat", place.flat), ("dome", place.dome)):
            if reading is None:
                continue
            stops = dict(reading.stops)
            lux, error = _pair(reading.light)
            table.add(name, label, lux, error, lux_text(reading.footcandles),
                      _ev(reading.ev100), *(_stop(stops[names[0]]) for _, names in groups))
            name = ""
    return table.text()


def _lamp_rows(table, parts) -> None:
    if not any(part.share > 0 for part in parts):
        table.add(f"  {NO_LIGHT}")
        return
    shares = percent_texts([part.share for part in parts])
    small = [i for i, part in enumerate(parts) if part.share < LEAST_SHOWN]
    for i, part in enumerate(parts):
        if i in small:
            continue
        table.add(f"  {part.lamp}", *_pair(part.total), *_pair(part.direct),
                  *_pair(part.bounced), f"{shares[i]} %")
    if small:
        table.add(f"  {len(small)} more under {100 * LEAST_SHOWN:g} %")


def _lamps(title: str, readings) -> str:
    """Return the lamps' parts of (name, reading) pairs."""
    table = _Table((title, "all", "±", "direct", "±", "bounced", "±", "share"))
    for name, parts in readings:
        table.add(name)
        _lamp_rows(table, parts)
    return table.text()


def _ratio_rows(report) -> str:
    table = _Table(("RATIOS AT THE FACE", "ratio", "±", "stops", "±"), 40)
    for each in report.ratios:
        key, fill = (f"{' ± '.join(_pair(light))} lx" for light in (each.key, each.fill))
        table.add(f"{each.figure}, {each.basis}")
        table.add(f"  key {key}, fill {fill}")
        for name, ratio in each.named():
            stops = stops_of(ratio)
            table.add(f"  {name}", _ratio(ratio.value),
                      f"{ratio.error:.2f}" if np.isfinite(ratio.error) else "–",
                      stops_text(stops.value) if np.isfinite(stops.value) else "–",
                      f"{stops.error:.2f}" if np.isfinite(stops.error) else "–")
    return table.text()


def _spot_rows(report, camera) -> str:
    table = _Table((f"SPOT METER, camera {camera.name}", "cd/m²", "±", "fL", "EV", "from grey",
                    "signal", "of frame"))
    for spot in report.spots:
        if spot.camera == camera.name:
            level = "clip" if spot.stops.value > 2.474 else f"{spot.percent:.0f} %"
            table.add(f"  {spot.name}", *_pair(spot.luminance), lux_text(spot.footlamberts),
                      _ev(spot.ev100), stops_text(spot.stops.value), level,
                      f"{100 * spot.share:.1f} %")
    return table.text()


def _colour_rows(report) -> str:
    table = _Table(("COLOUR OF THE LIGHT", "CCT", "±", "Duv", "", "Ra", "Rf", "Rg", "SSI",
                    "against"))
    for place in report.places:
        colour = place.colour
        if colour is None:
            table.add(place.name, *["–"] * 9)
            continue
        duv = f"{colour.duv.value:+.4f}".replace("-", "\N{MINUS SIGN}")
        table.add(place.name, f"{colour.cct.value:.0f} K", f"{colour.cct.error:.0f}", duv,
                  colour.tint, *(f"{n:.0f}" for n in (colour.ra, colour.rf, colour.rg,
                                                      colour.ssi)), colour.reference)
    return table.text()


def _opening(report) -> str:
    name = ": ".join(filter(None, (report.title, report.option)))
    few, most = (f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}") for n in report.paths)
    paths = few if few == most else f"{few} to {most}"
    count = len(report.lamps)
    lamps = f"{count} lamp{'' if count == 1 else 's'}" if count else f"no lamps: {NO_LIGHT}"
    head = [name] if name else []
    head.append(f"{lamps}, {report.bands} bands; readings to a standard error of "
                f"{100 * report.precision:g} %, by {paths} paths each")
    for camera in report.cameras:
        head.append(f"camera {camera.name}: {settings_text(camera.settings)}")
    for meter, error in report.short:
        head.append(f"NOT REACHED: '{meter}' is at {100 * error:.2g} %")
    return "\n".join(head)


def table_text(report) -> str:
    """Return one option's readings as tables to read, at most about 100 columns wide.

    Parameters
    ----------
    report : exposure.metering.Report
        The readings.
    """
    parts = [_opening(report)]
    if report.places:
        parts += [_incident(report), "\n".join(NOTES)]
        shown = [(p.name if p.flat else f"{p.name} (dome)", (p.flat or p.dome).lamps)
                 for p in report.places]
        parts += [_lamps("LAMP BY LAMP, flat, lx", shown), "\n".join(LAMP_NOTES)]
    if report.ratios:
        parts += [_ratio_rows(report), "\n".join(RATIO_NOTES)]
    if report.places:
        parts += [_colour_rows(report),
                  "\n".join(COLOUR_NOTES).format(bands=report.bands)]
    for camera in report.cameras:
        if any(spot.camera == camera.name for spot in report.spots):
            parts.append(_spot_rows(report, camera))
    if report.spots:
        parts.append("\n".join(SPOT_NOTES))
    return "\n\n".join(parts) + "\n"


def _plain(value):
    """Return a number as JSON has it; None where it is not finite."""
    return float(value) if np.isfinite(value) else None


def _note(light: Measured) -> dict:
    """Return the words that go with a reading of nothing: its stops and exposure value are null."""
    return {} if light.value > 0 else {"note": NO_LIGHT}


def _told(light: Measured, unit: str) -> dict:
    return {"value": _plain(light.value), "standard_error": _plain(light.error), "unit": unit}


def _told_lamps(parts, unit: str) -> dict:
    return {part.lamp: {"total": _told(part.total, unit), "direct": _told(part.direct, unit),
                        "bounced": _told(part.bounced, unit), "share": _plain(part.share)}
            for part in parts}


def _told_receptor(reading) -> dict | None:
    if reading is None:
        return None
    return {"illuminance": _told(reading.light, "lx"), **_note(reading.light),
            "footcandles": _plain(reading.footcandles),
            "ev100": _plain(reading.ev100),
            "t_stop": {camera: _plain(stop) for camera, stop in reading.stops},
            "lamps": _told_lamps(reading.lamps, "lx")}


def _told_colour(colour) -> dict | None:
    if colour is None:
        return None
    return {"cct": _told(colour.cct, "K"), "duv": _told(colour.duv, "1"), "tint": colour.tint,
            "ra": _plain(colour.ra), "rf": _plain(colour.rf), "rg": _plain(colour.rg),
            "ssi": _plain(colour.ssi), "ssi_reference": colour.reference}


def _told_ratios(each) -> dict:
    return {"figure": each.figure, "basis": each.basis, "key": _told(each.key, "lx"),
            "fill": _told(each.fill, "lx"),
            "ratios": {name: {**_told(ratio, "1"), "stops": _plain(stops_of(ratio).value)}
                       for name, ratio in each.named()}}


def _told_spot(spot) -> dict:
    return {"thing": spot.name, "camera": spot.camera,
            "luminance": _told(spot.luminance, "cd/m²"), **_note(spot.luminance),
            "footlamberts": _plain(spot.footlamberts),
            "stops_from_grey": _told(spot.stops, "stops"), "signal_percent": _plain(spot.percent),
            "ev100": _plain(spot.ev100), "share_of_frame": _plain(spot.share),
            "lamps": _told_lamps(spot.lamps, "cd/m²")}


def plain_values(report) -> dict:
    """Return one option's readings as plain JSON values.

    Parameters
    ----------
    report : exposure.metering.Report
        The readings.
    """
    return {
        "title": report.title, "option": report.option, "precision": report.precision,
        "reached": not report.short,
        "not_reached": {name: _plain(error) for name, error in report.short},
        "paths": list(report.paths), "bands": report.bands, "lamps": list(report.lamps),
        "constants": {"flat_c": INCIDENT_CONSTANT, "dome_c": DOME_CONSTANT,
                      "spot_k": REFLECTED_CONSTANT},
        "cameras": {camera.name: settings_text(camera.settings) for camera in report.cameras},
        "incident": {place.name: {"flat": _told_receptor(place.flat),
                                  "dome": _told_receptor(place.dome),
                                  "colour": _told_colour(place.colour)}
                     for place in report.places},
        "ratios": [_told_ratios(each) for each in report.ratios],
        "spots": [_told_spot(spot) for spot in report.spots],
        "notes": [*NOTES, *LAMP_NOTES, *(note.format(bands=report.bands) for note in COLOUR_NOTES),
                  *RATIO_NOTES, *SPOT_NOTES],
    }


def json_text(reports, version: str = "") -> str:
    """Return readings of several options as JSON.

    Parameters
    ----------
    reports : sequence of exposure.metering.Report
        One for each option.
    version : str
        Of the program.
    """
    told = {"previz_meters": FORMAT, "version": version,
            "options": [plain_values(report) for report in reports]}
    return json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


CSV_HEAD = ("option", "kind", "at", "seen by", "receptor", "lamp", "quantity", "unit", "value",
            "standard error")


def _csv_rows(report):
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
            yield from _csv_lamps(at, reading.lamps, "lx")
        if place.colour is not None:
            at, colour = ("colour", place.name, "", "", ""), place.colour
            yield (*at, "CCT", "K", colour.cct)
            yield (*at, f"Duv ({colour.tint})", "1", colour.duv)
            for name in ("ra", "rf", "rg"):
                yield (*at, name.capitalize(), "1", getattr(colour, name))
            yield (*at, f"SSI against {colour.reference}", "1", colour.ssi)
    for each in report.ratios:
        for name, ratio in each.named():
            yield ("ratio", f"{each.figure}, {each.basis}", "", "flat", "", name, "1", ratio)
    for spot in report.spots:
        at = ("spot", spot.name, spot.camera, "")
        yield (*at, "", "luminance", "cd/m²", spot.luminance)
        yield (*at, "", "luminance", "fL", spot.footlamberts)
        yield (*at, "", "from 18 % grey", "stops", spot.stops)
        yield (*at, "", "BT.709 signal", "%", spot.percent)
        yield from _csv_lamps(at, spot.lamps, "cd/m²")


def _csv_lamps(at, parts, unit):
    for part in parts:
        for name in ("total", "direct", "bounced"):
            yield (*at, part.lamp, name, unit, getattr(part, name))


def csv_text(reports) -> str:
    """Return readings of several options as one long table, one number a row.

    Parameters
    ----------
    reports : sequence of exposure.metering.Report
        One for each option.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_HEAD)
    for report in reports:
        for *where, value in _csv_rows(report):
            number, error = value if isinstance(value, Measured) else (value, "")
            writer.writerow([report.option, *where, _exact(number), _exact(error)])
    return out.getvalue()


def _exact(number) -> str:
    """Return a number as text; an empty cell where there is none to tell."""
    if isinstance(number, str):
        return number
    return f"{number:.6g}" if np.isfinite(number) else ""
