"""Readings as people write them: a CSV file or a line each, with every fault at its place."""

from __future__ import annotations

import datetime
import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from previz.errors import Problem, RequestError, SceneError
from previz.physics.exposure import marked_stop
from previz.units import UnitError, parse, quote

MOST = 200
"""Readings of one day."""

BRIGHTEST = 1e10
"""No reading is more, whatever slipped. [lx or cd/m²]  Sunlight is 1e5, the sun's disc 2e9 (from memory)."""

LARGEST = 1 << 20
"""Of a file of readings. [bytes]"""

LUX, STOP, NITS, SPOT_STOP, FROM_GREY = "lx", "stop", "cd/m²", "spot stop", "stops from grey"
"""What a meter showed: illuminance, the stop of an incident meter, luminance, the stop of a spot meter,
stops from 18 % grey at the camera's settings."""

Columns = Mapping[str, tuple[str, tuple[str, ...]]]
"""Column -> what stands in it, other heads that are taken for it."""

COLUMNS: Columns = {
    "place": ("where it was taken: a meter, a face's side, a mark or a thing",
              ("where", "what", "mark", "thing", "meter", "at", "position")),
    "reading": ("what the meter showed, with its unit", ("value", "read", "shown")),
    "lux": ("light on the meter", ("lx", "illuminance")),
    "fc": ("the same in foot-candles", ("footcandles", "foot-candles")),
    "stop": ("the stop of an incident meter", ("t-stop", "f-stop", "tstop", "fstop", "f-number")),
    "spot": ("what a spot meter showed", ("cd/m2", "cd/m²", "luminance")),
    "iso": ("what the meter was set to, for stops", ("ei", "asa")),
    "shutter": ("what the meter was set to, for stops", ("exposure",)),
    "receptor": ("flat or dome", ("disc", "dome", "head")),
    "lamps": ("what was on: 'all', 'daylight', 'key + fill', 'all but kicker'", ("lamp", "on", "lights")),
    "level": ("of those lamps; as planned without", ("dimmer",)),
    "hour": ("when, as 16:30", ("time", "clock")),
    "camera": ("whose spot meter or settings", ("cam",)),
    "colour": ("colour temperature there", ("cct", "color", "kelvin")),
    "error": ("of this reading, as 5 %", ("accuracy",)),
    "expected": ("what a meter sheet has there; its unit is that of a reading without one", ("planned",)),
    "tolerance": ("is left alone", ()),
    "stops from working": ("is left alone", ()),
    "who": ("is left alone", ("by", "name", "date", "number", "no")),
    "notes": ("is left alone", ("note", "remark", "remarks", "comment", "comments")),
}
"""Of readings."""

VALUES = ("reading", "lux", "fc", "stop", "spot")
"""Columns of which a reading has one."""

NEEDED = (("place", "where readings were taken", "Call it 'place'.", ("place",)),
          ("reading", "what was read", "Call it 'reading', or 'lux', 'fc', 'stop' or 'spot'.", VALUES))
"""Column, what is not said without it, what to write, columns that will do."""


class ReadingsError(SceneError):
    """Readings are wrong; every problem at once, each with its place."""


@dataclass(frozen=True)
class Cell:
    """A text and where it stands; columns count from 1."""

    text: str
    path: str
    line: int
    column: int
    source: str

    def fault(self, message: str, advice: str) -> Problem:
        """Return what is wrong with it."""
        return Problem(self.path, self.line, self.column, message, advice, self.source)


@dataclass(frozen=True)
class Written:
    """One reading as it was written; names are not looked up yet.

    Parameters
    ----------
    number : int
        From 1, in the order written.
    place : Cell
    kind : str
        `LUX`, `STOP`, `NITS`, `SPOT_STOP` or `FROM_GREY`.
    value : float
        [lx, 1, cd/m², 1 or stops]
    shown : str
        As it was written.
    iso : float or None
    shutter : (str, float) or None
        ('angle', deg) or ('time', s).
    receptor : str
        'flat', 'dome' or '' for whichever the place has, flat first.
    lamps, camera : Cell or None
    level : float or None
        [1]
    hour : datetime.time or None
    cct : float or None
        [K]
    error : float or None
        [1]
    cells : dict of str to Cell
        All of it, for the record.
    """

    number: int
    place: Cell
    kind: str
    value: float
    shown: str
    iso: float | None = None
    shutter: tuple[str, float] | None = None
    receptor: str = ""
    lamps: Cell | None = None
    camera: Cell | None = None
    level: float | None = None
    hour: datetime.time | None = None
    cct: float | None = None
    error: float | None = None
    cells: dict[str, Cell] = field(default_factory=dict)


def read_csv(path: Path, columns: Columns = COLUMNS,
             needed: Sequence[tuple[str, str, str, Sequence[str]]] = NEEDED) -> tuple[
                 list[dict[str, Cell]], list[Problem]]:
    """Return the rows of a file, cell by cell under the names of their columns, and what is wrong.

    Cells are parted by commas, semicolons or tabs, whichever the first line has most of, and may stand in
    double quotes. Empty lines and lines that begin with # are left out.

    Raises
    ------
    RequestError
        There is no such file, or it is no text of a sensible size.
    """
    try:
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise RequestError(f"'{path}' cannot be read: {why}.") from None
    if len(raw) > LARGEST:
        raise RequestError(f"'{path}' is too large a table; one has at most {LARGEST >> 20} MiB.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RequestError(f"'{path}' is no text; save the table as CSV in UTF-8.") from None
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1)
             if line.strip() and not line.lstrip().startswith("#")]
    if len(lines) < 2:
        raise RequestError(f"'{path}' says nothing: its first line names the columns, as "
                           f"'{','.join(list(columns)[:3])}', and there is a line for each thing after it.")
    mark = max(",;\t", key=lines[0][1].count)
    return _rows(str(path), lines, mark, columns, needed)


def _rows(path: str, lines: Sequence[tuple[int, str]], mark: str, columns: Columns,
          needed: Sequence[tuple[str, str, str, Sequence[str]]]) -> tuple[
              list[dict[str, Cell]], list[Problem]]:
    heads, problems = split(*lines[0], path, mark)
    names, seen = list[str](), set[str]()
    for head in heads:
        name = column_of(head.text, columns)
        if name is None and head.text:
            problems.append(head.fault(f"there is no column {quote(head.text)}", near(head.text, columns)))
        elif name is not None and name in seen:
            problems.append(head.fault(f"column '{name}' is there twice", "Take one of them out."))
        seen.add(name or "")
        names.append(name or "")
    problems += [heads[0].fault(f"no column says {what}", advice)
                 for _, what, advice, any_of in needed if not seen & set(any_of)]
    rows = []
    for number, line in lines[1:]:
        cells, wrong = split(number, line, path, mark)
        problems += wrong
        if len(cells) > len(names):
            extra = cells[len(names)]
            if any(cell.text for cell in cells[len(names):]):
                problems.append(extra.fault(
                    f"the line has {len(cells)} cells, and there are {len(names)} columns",
                    'Put a cell with a comma in it into double quotes, as "key, fill".'))
        row = {name: cell for name, cell in zip(names, cells, strict=False) if name and cell.text}
        if row:
            rows.append({**row, "": cells[0]})
    return rows, problems


def split(number: int, line: str, path: str, mark: str) -> tuple[list[Cell], list[Problem]]:
    """Return the cells of a line, less quotes and blanks, each at its column."""
    cells, problems, start = list[Cell](), list[Problem](), 0
    while start <= len(line):
        first = start + len(line[start:]) - len(line[start:].lstrip(" "))
        if line[first:first + 1] == '"':
            match = re.compile(r'"((?:[^"]|"")*)"\s*').match(line, first)
            if match is None:
                problems.append(Problem(path, number, first + 1, "a quote is not closed",
                                        'Put " at its end.', line))
                return [*cells, Cell(line[first + 1:].strip(), path, number, first + 1, line)], problems
            cells.append(Cell(match[1].replace('""', '"').strip(), path, number, first + 2, line))
            end = match.end()
            if end < len(line) and line[end] != mark:
                problems.append(Problem(path, number, end + 1, "something stands behind a quoted cell",
                                        "Put all of it into the quotes.", line))
                end = line.find(mark, end) if mark in line[end:] else len(line)
        else:
            end = line.find(mark, start) if mark in line[start:] else len(line)
            cells.append(Cell(line[start:end].strip(), path, number, min(first, end) + 1, line))
        start = end + 1
    return cells, problems


def typed(texts: Iterable[str]) -> tuple[list[dict[str, Cell]], list[Problem]]:
    """Return readings that were typed as 'clerk left cheek, 420 lx, lamps=key', as `read_csv` does.

    What stands behind 'lamps=' may have commas.
    """
    rows, problems = list[dict[str, Cell]](), list[Problem]()
    for number, text in enumerate(texts, 1):
        cells, wrong = split(number, text, "--reading", ",")
        problems += wrong
        row, last, plain = dict[str, Cell](), "", ["place", "reading"]
        for cell in cells:
            name, equals, value = (part.strip() for part in cell.text.partition("="))
            if equals:
                known = column_of(name)
                if known is None:
                    problems.append(cell.fault(f"a reading has no {quote(name)}", near(name)))
                    continue
                at = cell.column + cell.text.index("=") + 1
                row[known] = Cell(value, cell.path, cell.line, at, cell.source)
                last = known
            elif last == "lamps":
                so_far = row["lamps"]
                row["lamps"] = Cell(f"{so_far.text}, {cell.text}", so_far.path, so_far.line, so_far.column,
                                    so_far.source)
            elif plain and cell.text:
                row[plain.pop(0)] = cell
            elif cell.text:
                problems.append(cell.fault(f"{quote(cell.text)} does not say what it is",
                                           "Write for example 'lamps=key' or 'hour=16:30'."))
        rows.append({**row, "": cells[0]})
    return rows, problems


def column_of(head: str, columns: Columns = COLUMNS) -> str | None:
    """Return the column that a head means, None for none."""
    word = head.strip().lower().replace("_", " ")
    return next((name for name, (_, others) in columns.items() if word == name or word in others), None)


def near(head: str, columns: Columns = COLUMNS) -> str:
    """Return which column may be meant, and which there are."""
    known = [word for name, (_, others) in columns.items() for word in (name, *others)]
    close = difflib.get_close_matches(head.strip().lower(), known, n=1)
    hint = f"Did you mean '{close[0]}'? " if close else ""
    return f"{hint}There are: {', '.join(columns)}."


def filled(rows: Sequence[dict[str, Cell]]) -> tuple[list[dict[str, Cell]], int]:
    """Return rows less those lines of a meter sheet that nobody wrote a reading into, and how many these are.

    A row is of a meter sheet where it says what is expected; a bare number there has the unit of that.

    Raises
    ------
    RequestError
        Nothing was written into any of them.
    """
    left = [row for row in rows if "expected" not in row or any(name in row for name in VALUES)]
    if rows and not left:
        raise RequestError(f"None of the meter sheet's {len(rows)} lines has a reading.",
                           "Write what the meter showed into the column 'reading', as '840', '78 fc' or "
                           "'T2.8 1/3'; leave out what was not metered.")
    return [{name: _with_unit(cell, row) if name == "reading" else cell for name, cell in row.items()}
            for row in left], len(rows) - len(left)


def readings_in(rows: Sequence[dict[str, Cell]], first: int = 1) -> tuple[list[Written], list[Problem]]:
    """Return the readings of rows, numbered from `first` on, and everything that is wrong with them."""
    found, problems = list[Written](), list[Problem]()
    for number, cells in enumerate(rows, first):
        whole = cells[""]

        def take(name: str, what: Callable[[str], object], cells: dict[str, Cell] = cells) -> Any:
            cell = cells.get(name)
            if cell is None:
                return None
            try:
                return what(cell.text)
            except UnitError as error:
                problems.append(cell.fault(error.message, error.advice))
                return None

        named = [name for name in VALUES if name in cells]
        if "place" not in cells:
            problems.append(whole.fault("a reading has no place", "Say where it was taken."))
        if len(named) != 1:
            problems.append((cells[named[1]] if named else whole).fault(
                f"a reading has {', '.join(named)}" if named else "a reading has no number",
                "Leave one of them." if named else "Write what the meter showed."))
            continue
        value: Any = take(named[0], _VALUE[named[0]])
        more = {name: take(name, what) for name, what in _MORE.items()}
        if value is None or "place" not in cells:
            continue
        found.append(Written(number, cells["place"], value[0], value[1], cells[named[0]].text,
                             lamps=cells.get("lamps"), camera=cells.get("camera"),
                             cells={k: v for k, v in cells.items() if k},
                             **{_FIELD.get(name, name): each for name, each in more.items()
                                if each is not None}))
    return found, problems


# Values


_BARE = re.compile(r"[+-]?\s*[0-9.]+(?:[eE][+-]?[0-9]+)?")
_STOP = re.compile(r"(?:[TtFf]\s*/?\s*)?([0-9]+(?:\.[0-9]+)?)\s*"
                   r"(?:([+-]?)\s*([0-9]{1,3}\s*/\s*[0-9]{1,3}|0?\.[0-9]+))?(?:\s*(?:of a )?stops?)?")
_STOP_LIKE = re.compile(r"[TtFf]\s*/?\s*[0-9]")


def stop(text: str, *, marks: bool = True) -> float:
    """Return the stop that a meter showed, of 'T2.8', 'f/4', 'T2.8 1/3', 'T4 + 2/3' or '5.6 0.3'. [1]

    With `marks`, 2.8 is taken for what it stands for, see `exposure.marked_stop`; scene files say it as it
    is engraved.

    Raises
    ------
    UnitError
        It is no stop.
    """
    match = _STOP.fullmatch(" ".join(text.replace("−", "-").split()))
    if match is None:
        raise UnitError(f"{quote(text)} is no stop", "Write for example 'T2.8', 'T2.8 1/3' or 'T4 + 2/3'.")
    number, sign, part = match.groups()
    more = 0.0
    if part and "/" in part:
        above, below = (int(each) for each in part.split("/"))
        more = above / below if below else 9.0
    elif part:
        more = float(part)
    if more >= 1 or not 0.35 <= float(number) <= 256:
        raise UnitError(f"{quote(text)} is no stop", "Write one from T0.35 to T256, and less than a stop "
                        "behind it, as 'T2.8 1/3'.")
    base = marked_stop(float(number)) if marks else float(number)
    return float(base * 2 ** ((-more if sign == "-" else more) / 2))


def _limited(text: str, dimension: str, kind: str, usual: str = "") -> tuple[str, float]:
    clean = text.strip()
    if usual and _BARE.fullmatch(clean):
        clean = f"{clean} {usual}"
    value = parse(re.sub(r"\s*lux$", " lx", clean, flags=re.IGNORECASE), dimension)
    if value < 0:
        raise UnitError(f"{quote(text)} is less than nothing", "Write what the meter showed.")
    if value > BRIGHTEST:
        raise UnitError(f"{quote(text)} is more than any meter shows", "Write what the meter showed.")
    return kind, value


def _lux(text: str) -> tuple[str, float]:
    return _limited(text, "illuminance", LUX, "lx")


def _fc(text: str) -> tuple[str, float]:
    return _limited(text, "illuminance", LUX, "fc")


def _incident_stop(text: str) -> tuple[str, float]:
    return STOP, stop(text)


def _spot(text: str) -> tuple[str, float]:
    if _STOP_LIKE.match(text):
        return SPOT_STOP, stop(text)
    if re.search(r"stops?$", text):
        return FROM_GREY, _between("stops", -20.0, 20.0, "-20 to +20 stops")(text)
    return _limited(text, "luminance", NITS, "cd/m2")


def _any(text: str) -> tuple[str, float]:
    if _STOP_LIKE.match(text):
        return _incident_stop(text)
    if re.search(r"stops?$|cd", text):
        return _spot(text)
    if _BARE.fullmatch(text.strip()):
        raise UnitError(f"{quote(text)} has no unit",
                        f"Write '{text} lx' or '{text} fc', a stop as 'T{text}', or '{text} cd/m2'.")
    return _limited(text, "illuminance", LUX)


def _with_unit(cell: Cell, row: Mapping[str, Cell]) -> Cell:
    """Return a reading with the unit of what is expected there, where it has none of its own."""
    expected = re.fullmatch(r"[0-9.]+\s*(\S.*)", row["expected"].text) if "expected" in row else None
    bare = expected is not None and _BARE.fullmatch(cell.text.strip())
    return replace(cell, text=f"{cell.text} {expected[1]}") if expected is not None and bare else cell


def _clock(text: str) -> datetime.time:
    match = re.fullmatch(r"([0-9]{1,2})[:.h]([0-9]{2})", text)
    if match and int(match[1]) < 24 and int(match[2]) < 60:
        return datetime.time(int(match[1]), int(match[2]))
    raise UnitError(f"{quote(text)} is no time of day", "Write it as '16:30'.")


def _receptor(text: str) -> str:
    words = {"flat": "flat", "disc": "flat", "disk": "flat", "in": "flat", "dome": "dome", "domed": "dome",
             "ball": "dome", "out": "dome"}
    if text.lower() not in words:
        raise UnitError(f"{quote(text)} is no receptor", "Write 'flat' or 'dome'.")
    return words[text.lower()]


def _between(dimension: str, low: float, high: float, words: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        value = parse(text, dimension)
        if not low <= value <= high:
            raise UnitError(f"{quote(text)} is out of range", f"Write {words}.")
        return value

    return read


def level_of(text: str, most: float = 1.0) -> float:
    """Return a level, of '65 %' or '0.65'. [1]

    Raises
    ------
    UnitError
        It is none, or more than there is.
    """
    value = parse(text, "fraction")
    if value > 1 and "%" not in text:
        raise UnitError(f"{quote(text)} is more than all", f"Write '{text} %'.")
    if not 0 <= value <= most:
        raise UnitError(f"{quote(text)} is no level", f"Write 0 % to {100 * most:g} %.")
    return value


def _shutter(text: str) -> tuple[str, float]:
    if text.rstrip().endswith(("s", "sec")):
        return "time", _between("time", 1e-5, 100.0, "a time, as '1/48 s'")(text)
    if re.fullmatch(r"1/[0-9]+", text):
        return "time", _between("time", 1e-5, 100.0, "a time, as '1/48 s'")(f"{text} s")
    return "angle", _between("angle", 0.1, 360.0, "0.1 deg to 360 deg")(text)


_VALUE: dict[str, Callable[[str], tuple[str, float]]] = {
    "reading": _any, "lux": _lux, "fc": _fc, "stop": _incident_stop, "spot": _spot}
_MORE: dict[str, Callable[[str], object]] = {
    "iso": _between("number", 1.0, 1e7, "an ISO from 1 to 10000000"),
    "shutter": _shutter, "receptor": _receptor,
    "level": lambda text: level_of(text), "hour": _clock,
    "colour": _between("temperature", 1000.0, 40_000.0, "1000 K to 40000 K"),
    "error": _between("fraction", 1e-3, 1.0, "0.1 % to 100 %")}
_FIELD = {"colour": "cct"}
