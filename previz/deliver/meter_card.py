"""The meter card: every reading of a scene as a table to read, or as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Sequence

import numpy as np

from previz.deliver.face_values import face_values, key_lamps_values, light_values, note_of, plain
from previz.deliver.reminders import WHO, WHOLE, phrases
from previz.deliver.wording import (
    NO_LIGHT,
    lux_text,
    percent_texts,
    ratio_text,
    settings_text,
    stops_text,
)
from previz.exposure.faces import stops_of
from previz.exposure.meter_report import CameraNote, Report
from previz.exposure.metering import Measured, from_working
from previz.exposure.trust import ON_FEW, not_reached
from previz.physics.exposure import DOME_CONSTANT, INCIDENT_CONSTANT, REFLECTED_CONSTANT

FORMAT = 2
"""Layout of the JSON card."""

CARD_WIDTH = 100
"""Columns that words are set in."""

LEAST_SHOWN = 0.001
"""A lamp with a smaller share of a reading is summed up with others in the table. [1]"""

NOTES = (
    "± is the stated error: one standard error of the paths, and what {bands} bands may be off after the",
    "colours that the light has met. Each reading is a meter of its own in the light, never a picture.",
    f"EV at ISO 100: flat receptor C {INCIDENT_CONSTANT:g}, domed C {DOME_CONSTANT:g}, spot "
    f"K {REFLECTED_CONSTANT:g} (ISO 2720:1974). T is the stop to set.",
    "Stops are over (+) or under (\N{MINUS SIGN}) the stop that the camera is set to.",
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

FACE_NOTES = (
    "Lit and shadow side are the flat meters on the brighter and the darker cheek. Key alone is what "
    "the",
    "lit side has over the shadow side, which is the fill. Both ratios are in print and either is "
    "called",
    "'the ratio': say which one you mean. Key lamps count with what of their light comes back off "
    "walls.",
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

    def __init__(self, head: Sequence[str], first: int = 26) -> None:
        self.rows, self.first = [tuple(head)], first

    def add(self, *cells) -> None:
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


_SPEED = ("iso", "shutter_s", "nd_density")
"""Settings by which a light has the same stop to set; with the stop too, it lies as far from that."""


def _alike(cameras: Sequence[CameraNote], *of: str) -> list[tuple[str, str]]:
    """Return cameras whose settings agree in some fields: ('A, B', the first of them)."""
    groups: dict[tuple, list[str]] = {}
    for camera in cameras:
        key = tuple(getattr(camera.settings, name) for name in of)
        groups.setdefault(key, []).append(camera.name)
    return [(", ".join(names), names[0]) for names in groups.values()]


def _incident(report: Report) -> str:
    speeds, settings = _alike(report.cameras, *_SPEED), _alike(report.cameras, "stop", *_SPEED)
    table = _Table(("INCIDENT LIGHT", "", "lx", "±", "fc", "EV",
                    *(f"T at {head}" for head, _ in speeds),
                    *(f"stops, {head}" for head, _ in settings)))
    for place in report.places:
        name = place.name
        for label, reading in (("flat", place.flat), ("dome", place.dome)):
            if reading is None:
                continue
            stops, working = dict(reading.stops), dict(reading.working)
            lux, error = _pair(reading.light)
            table.add(name, label, lux, error, lux_text(reading.footcandles),
                      _ev(reading.ev100), *(_stop(stops[camera]) for _, camera in speeds),
                      *(stops_text(working[camera].value) for _, camera in settings))
            name = ""
    return table.text()


def _lamp_rows(table: _Table, parts: Sequence, stops_of_part: Callable) -> None:
    if not any(part.share > 0 for part in parts):
        table.add(f"  {NO_LIGHT}")
        return
    shares = percent_texts([part.share for part in parts])
    small = [i for i, part in enumerate(parts) if part.share < LEAST_SHOWN]
    for i, part in enumerate(parts):
        if i in small:
            continue
        table.add(f"  {part.lamp}", *_pair(part.total), *stops_of_part(part), *_pair(part.direct),
                  *_pair(part.bounced), f"{shares[i]} %")
    if small:
        table.add(f"  {len(small)} more under {100 * LEAST_SHOWN:g} %")


def _lamps(report: Report) -> str:
    """Return the lamps' parts of each place, with the stops of each alone at the first camera."""
    cameras = report.cameras[:1]
    table = _Table(("LAMP BY LAMP, flat, lx", "all", "±", *(f"stops, {c.name}" for c in cameras),
                    "direct", "±", "bounced", "±", "share"))
    for place in report.places:
        reading = place.flat or place.dome
        table.add(place.name if place.flat else f"{place.name} (dome)")
        _lamp_rows(table, reading.lamps, lambda part, c=reading.constant: [
            stops_text(from_working(part.total, camera.settings, c).value) for camera in cameras])
    return table.text()


def _face_rows(report: Report) -> str:
    """Return both sides of each face, in lux and in stops, and the key alone."""
    groups = _alike(report.cameras, "stop", *_SPEED)
    by_name = {camera.name: camera.settings for camera in report.cameras}
    table = _Table(("FACES", "lx", "±", *(f"stops, {head}" for head, _ in groups)), 36)
    for face in report.faces:
        table.add(face.figure)
        for side, light in ((f"lit side, {face.lit_side} cheek", face.lit),
                            (f"shadow side, {face.shadow_side} cheek", face.shadow),
                            ("key alone, lit less shadow side", face.key_alone)):
            table.add(f"  {side}", *_pair(light), *(stops_text(from_working(
                light, by_name[camera]).value) for _, camera in groups))
    return table.text()


def _ratio_rows(report: Report) -> str:
    table = _Table(("RATIOS AT THE FACE", "ratio", "±", "stops", "±"), 40)
    by_figure = {each.figure: each for each in report.key_lamps}
    for face in report.faces:
        table.add(face.figure)
        _add_ratios(table, face.ratios)
        lamps = by_figure.get(face.figure)
        if lamps is None:
            continue
        called = " + ".join(f"'{name}'" for name in lamps.lamps)
        key, others = (f"{' ± '.join(_pair(light))} lx" for light in (lamps.key, lamps.others))
        table.add(f"  key lamps {called} at the {lamps.cheek} cheek {key}, all others {others}")
        _add_ratios(table, lamps.ratios)
    return table.text()


def _add_ratios(table: _Table, ratios: Sequence) -> None:
    for name, ratio in ratios:
        stops = stops_of(ratio)
        table.add(f"  {name}", _ratio(ratio.value),
                  f"{ratio.error:.2f}" if np.isfinite(ratio.value) else "–",
                  stops_text(stops.value) if np.isfinite(stops.value) else "–",
                  f"{stops.error:.2f}" if np.isfinite(stops.error) else "–")


def _spot_rows(report: Report, camera: CameraNote) -> str:
    table = _Table((f"SPOT METER, camera {camera.name}", "cd/m²", "±", "fL", "EV", "from grey",
                    "signal", "of frame"))
    for spot in report.spots:
        if spot.camera == camera.name:
            level = "clip" if spot.stops.value > 2.474 else f"{spot.percent:.0f} %"
            table.add(f"  {spot.name}", *_pair(spot.luminance), lux_text(spot.footlamberts),
                      _ev(spot.ev100), stops_text(spot.stops.value), level,
                      f"{100 * spot.share:.1f} %")
    return table.text()


def _colour_rows(report: Report) -> str:
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


def _opening(report: Report) -> str:
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
    for short in report.short:
        head.append(f"NOT REACHED: '{short.name}' {not_reached(short)}")
    if any(short.few for short in report.short):
        head.append(ON_FEW)
    return "\n".join(head)


def table_text(report: Report) -> str:
    """Return one option's readings as tables to read, at most about 100 columns wide."""
    parts = [_opening(report)]
    if report.places:
        parts += [_incident(report), "\n".join(NOTES).format(bands=report.bands)]
        parts += [_lamps(report), "\n".join(LAMP_NOTES)]
    if report.faces:
        parts += [_face_rows(report), _ratio_rows(report), "\n".join(FACE_NOTES)]
    if report.places:
        parts += [_colour_rows(report),
                  "\n".join(COLOUR_NOTES).format(bands=report.bands)]
    for camera in report.cameras:
        if any(spot.camera == camera.name for spot in report.spots):
            parts.append(_spot_rows(report, camera))
    if report.spots:
        parts.append("\n".join(SPOT_NOTES))
    if report.cautions:
        parts.append(_cautions(report))
    return "\n\n".join(parts) + "\n"


def _cautions(report: Report) -> str:
    """Return each sort of caution on lines of its own, the most urgent first, and who decides."""
    lines = ["CAUTIONS"]
    for each in phrases(report.cautions):
        lines += textwrap.wrap(each, CARD_WIDTH, initial_indent="  ", subsequent_indent="    ")
    return "\n".join([*lines, f"Planning aid only. {WHO}. The whole text: `{WHOLE}`."])


def _lamp_values(parts: Sequence, unit: str, cameras: Sequence = (),
                 constant: float = INCIDENT_CONSTANT) -> dict:
    found = {}
    for part in parts:
        found[part.lamp] = {**{name: light_values(getattr(part, name), unit)
                               for name in ("total", "direct", "bounced")}, "share": plain(part.share)}
        if cameras:
            found[part.lamp]["stops_from_working"] = {
                camera.name: plain(from_working(part.total, camera.settings, constant).value)
                for camera in cameras}
    return found


def _receptor_values(reading, cameras: Sequence) -> dict | None:
    if reading is None:
        return None
    return {"illuminance": light_values(reading.light, "lx"), **note_of(reading.light),
            "footcandles": plain(reading.footcandles),
            "ev100": plain(reading.ev100),
            "t_stop": {camera: plain(stop) for camera, stop in reading.stops},
            "stops_from_working": {camera: light_values(stops, "stops")
                                   for camera, stops in reading.working},
            "lamps": _lamp_values(reading.lamps, "lx", cameras, reading.constant)}


def _colour_values(colour) -> dict | None:
    if colour is None:
        return None
    return {"cct": light_values(colour.cct, "K"), "duv": light_values(colour.duv, "1"), "tint": colour.tint,
            "ra": plain(colour.ra), "rf": plain(colour.rf), "rg": plain(colour.rg),
            "ssi": plain(colour.ssi), "ssi_reference": colour.reference}


def _spot_values(spot) -> dict:
    return {"thing": spot.name, "camera": spot.camera,
            "luminance": light_values(spot.luminance, "cd/m²"), **note_of(spot.luminance),
            "footlamberts": plain(spot.footlamberts),
            "stops_from_grey": light_values(spot.stops, "stops"), "signal_percent": plain(spot.percent),
            "ev100": plain(spot.ev100), "share_of_frame": plain(spot.share),
            "lamps": _lamp_values(spot.lamps, "cd/m²")}


def plain_values(report: Report) -> dict:
    """Return one option's readings as plain JSON values."""
    cameras = [(camera.name, camera.settings) for camera in report.cameras]
    return {
        "title": report.title, "option": report.option, "precision": report.precision,
        "reached": not report.short,
        "not_reached": {short.name: plain(short.error) for short in report.short},
        "on_few_paths": [short.name for short in report.short if short.few],
        "cautions": [each.plain() for each in report.cautions],
        "paths": list(report.paths), "bands": report.bands, "lamps": list(report.lamps),
        "constants": {"flat_c": INCIDENT_CONSTANT, "dome_c": DOME_CONSTANT,
                      "spot_k": REFLECTED_CONSTANT},
        "cameras": {camera.name: settings_text(camera.settings) for camera in report.cameras},
        "incident": {place.name: {"flat": _receptor_values(place.flat, report.cameras),
                                  "dome": _receptor_values(place.dome, report.cameras),
                                  "colour": _colour_values(place.colour)}
                     for place in report.places},
        "faces": {face.figure: face_values(face, cameras) for face in report.faces},
        "key_lamps": [key_lamps_values(each) for each in report.key_lamps],
        "spots": [_spot_values(spot) for spot in report.spots],
        "notes": [note.format(bands=report.bands) for note in (
            *NOTES, *LAMP_NOTES, *COLOUR_NOTES, *FACE_NOTES, *SPOT_NOTES)],
    }


def json_text(reports: Sequence[Report], version: str = "") -> str:
    """Return readings, a report for each option, as JSON; `version` is the program's."""
    card = {"previz_meters": FORMAT, "version": version,
            "options": [plain_values(report) for report in reports]}
    return json.dumps(card, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
