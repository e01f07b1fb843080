"""What was shot: read as people write it, kept as a file that is written whole."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from previz import __version__
from previz.deliver.stems import sheet_stem
from previz.errors import DataError, Problem, RequestError
from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, refuse_foreign, write_sealed
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.changes import MOST_DAYLIGHT, Changes, changed_scene, changes_from
from previz.studies.readings.places import DAYLIGHT, missing, plain
from previz.studies.readings.written import (
    Cell,
    Columns,
    ReadingsError,
    level_of,
    read_csv,
    split,
    stop,
)
from previz.units import UnitError, parse, quote

COLUMNS: Columns = {
    "what": ("a lamp or a camera", ("lamp", "camera", "unit", "name", "fixture")),
    "level": ("of a lamp: '65 %', 'off', 'on'", ("dimmer", "intensity", "at")),
    "colour": ("of a lamp or a camera's balance, in K", ("color", "cct", "kelvin", "white balance", "wb")),
    "stop": ("of a camera", ("t-stop", "f-stop", "tstop", "aperture")),
    "iso": ("of a camera", ("ei", "asa")),
    "shutter": ("of a camera: '172.8 deg' or '1/50 s'", ("angle",)),
    "nd": ("of a camera: a density as 0.6, or '2 stops'", ("filter",)),
    "notes": ("is left alone", ("note", "remarks", "who", "take", "comment")),
}
"""Of a table of what was shot."""

NEEDED = (("what", "which lamp or camera a line is of", "Call it 'what'.", ("what",)),
          ("level", "what was set", "Call it 'level', 'colour', 'stop', 'iso', 'shutter' or 'nd'.",
           ("level", "colour", "stop", "iso", "shutter", "nd")))

LAMP, CAMERA = ("level", "colour"), ("stop", "iso", "shutter", "nd", "colour")
"""Columns of a lamp and of a camera."""


@dataclass(frozen=True)
class Record:
    """What was shot of one option.

    Parameters
    ----------
    option, take : str
        '' for the scene as written, and for none.
    lamps : dict of str to dict
        Fields of `changes.LampChange` by lamp, as they were set.
    cameras : dict of str to dict
        Fields of `changes.CAMERA_FIELDS` by camera.
    readings : tuple of dict
        Readings of the day, each as it was written: column -> text.
    """

    option: str = ""
    take: str = ""
    lamps: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    cameras: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    readings: tuple[Mapping[str, str], ...] = ()

    def changes(self) -> Changes:
        """Return what turns the plan into what was shot."""
        return changes_from(self.lamps, self.cameras)


def record_path(folder: Path, option: str, take: str) -> Path:
    """Return the file of a record, beside the renders."""
    return folder / f"{sheet_stem('as-shot', (option, take))}.json"


def write_record(path: Path, record: Record, title: str) -> None:
    """Keep a record; one that is there is replaced, but no file that is none."""
    refuse_foreign(path)
    write_sealed(path, {**marked("previz_shot"), "version": __version__, "title": title,
                        "option": record.option, "take": record.take, "lamps": record.lamps,
                        "cameras": record.cameras, "readings": list(record.readings)})


def read_record(path: Path) -> Record:
    """Return a record that was kept.

    Raises
    ------
    DataError
        There is none, or it cannot be used.
    """
    if not path.exists():
        raise DataError(f"nothing is kept of what was shot: {path} is not there",
                        "Give a table, or --set 'key, 65 %'; see `previz as-shot --help`.")
    try:
        head = read_sealed(path, "previz_shot")
        return Record(head["option"], head["take"], head["lamps"], head["cameras"], tuple(head["readings"]))
    except FramesError as error:
        raise DataError(error.message, "Move it away, and give what was shot again.") from error
    except KeyError as error:
        raise DataError(f"{path} contradicts its layout", "Move it away.") from error


def shot_of(scene: Scene, stage: Stage, table: Path | None, texts: Sequence[str], *, take: str = "",
            readings: Iterable[Mapping[str, Cell]] = ()) -> Record:
    """Return what was shot, of a table and of typed lines.

    Raises
    ------
    ReadingsError
        With every fault, each at its place.
    RequestError
        There is nothing.
    """
    rows, problems = (list[dict[str, Cell]](), list[Problem]()) if table is None else read_csv(
        table, COLUMNS, NEEDED)
    for number, text in enumerate(texts, 1):
        row, wrong = _typed(number, text)
        rows.append(row)
        problems += wrong
    if not rows and not problems:
        raise RequestError("Nothing is said of what was shot; give a table, or --set 'key, 65 %'.")
    lamps: dict[str, dict[str, Any]] = {}
    cameras: dict[str, dict[str, Any]] = {}
    known = {plain(lamp.name): lamp.name for lamp in stage.lamps}
    seen = {plain(camera.name): camera for camera in scene.cameras}
    seen |= {f"camera {short}": camera for short, camera in seen.items()}
    for row in rows:
        cell = row.get("what")
        if cell is None:
            problems.append(row[""].fault("a line says of no lamp or camera", "Begin with its name."))
            continue
        word = plain(cell.text)
        if word in known:
            said, new = lamps.setdefault(known[word], {}), _lamp(row, known[word] in DAYLIGHT, problems)
        elif word in seen:
            camera = seen[word]
            said, new = cameras.setdefault(camera.name, {}), _camera(row, camera.fps, problems)
        else:
            problems.append(missing(cell, "lamp or camera", [*known.values(), *(
                camera.name for camera in scene.cameras)]))
            continue
        if any(field in said and said[field] != value for field, value in new.items()):
            problems.append(cell.fault(f"'{cell.text}' was set otherwise in a line before",
                                       "Keep the line that is right; another take has another --take."))
        said.update(new)
        # Each line is tried by itself, so that what the scene refuses is told at its place.
        name = known.get(word)
        try:
            changed_scene(scene, stage, changes_from(
                {} if name is None else {name: lamps[name]},
                {seen[word].name: cameras[seen[word].name]} if name is None else {}))
        except RequestError as error:
            problems.append(cell.fault(error.message, error.advice))
    if problems:
        raise ReadingsError(problems)
    return Record(scene.option, take, lamps, cameras, tuple(
        {key: cell.text for key, cell in each.items() if key} for each in readings))


def _typed(number: int, text: str) -> tuple[dict[str, Cell], list[Problem]]:
    """Return a line as 'key, 65 %, 4300 K' or 'A, T4, ISO 800, ND 0.6', cell by cell."""
    cells, problems = split(number, text, "--set", ",")
    row = {"what": cells[0], "": cells[0]} if cells[0].text else {"": cells[0]}
    for cell in cells[1:]:
        name = next((name for name, form in _FORMS if re.fullmatch(form, cell.text, re.IGNORECASE)), None)
        if name is None:
            problems.append(cell.fault(
                f"{quote(cell.text)} is nothing that is set",
                "Write '65 %', 'off', '4300 K', 'T4', 'ISO 800', '180 deg' or 'ND 0.6'."))
            continue
        bare = re.sub(r"^(iso|ei|nd)\s*", "", cell.text, flags=re.IGNORECASE)
        row[name] = Cell(bare, cell.path, cell.line, cell.column, cell.source)
    return row, problems


_FORMS = (("level", r"[0-9.]+\s*%|on|off"), ("colour", r"[0-9.]+\s*k?K"), ("stop", r"[TF]\s*/?\s*[0-9].*"),
          ("iso", r"(iso|ei)\s*[0-9]+"), ("nd", r"nd\s*[0-9.]+|[0-9.]+\s*stops?( of nd)?"),
          ("shutter", r"[0-9.]+\s*(deg|°)|1/[0-9]+(\s*s)?"))


def _values(row: Mapping[str, Cell], what: str, fields: Mapping[str, Callable[[str], tuple[str, Any]]],
            problems: list[Problem]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, cell in row.items():
        if name in ("", "what", "notes"):
            continue
        if name not in fields:
            problems.append(cell.fault(f"a {what} has no {name}", f"It has: {', '.join(fields)}."))
            continue
        try:
            key, value = fields[name](cell.text)
            made[key] = value
        except UnitError as error:
            problems.append(cell.fault(error.message, error.advice))
    return made


def _lamp(row: Mapping[str, Cell], outside: bool, problems: list[Problem]) -> dict[str, Any]:
    def level(text: str) -> tuple[str, Any]:
        if text.lower() in ("on", "off"):
            return "on", text.lower() == "on"
        # Daylight may be over what was planned.
        return "dimmer", level_of(text, MOST_DAYLIGHT if outside else 1.0)

    made = _values(row, "lamp", {"level": level, "colour": lambda text: ("cct", parse(text, "temperature"))},
                   problems)
    # A lamp that is at a level is on, also where the plan has it off.
    return {"on": True, **made} if made.get("dimmer", 0.0) > 0 else made


def _camera(row: Mapping[str, Cell], fps: float, problems: list[Problem]) -> dict[str, Any]:
    def shutter(text: str) -> tuple[str, float]:
        if re.match(r"1/[0-9]+", text):
            return "shutter", parse(text if text.endswith("s") else f"{text} s", "time") * fps * 360
        return "shutter", parse(text, "angle")

    def density(text: str) -> tuple[str, float]:
        match = re.fullmatch(r"([0-9.]+)\s*stops?(?: of nd)?", text, re.IGNORECASE)
        if match:
            return "nd", round(parse(match[1], "number") * 0.30103, 4)
        return "nd", parse(text, "number")

    return _values(row, "camera", {
        "stop": lambda text: ("stop", stop(text, marks=False)),
        "iso": lambda text: ("iso", parse(text, "number")), "shutter": shutter, "nd": density,
        "colour": lambda text: ("white_balance", parse(text, "temperature"))}, problems)
