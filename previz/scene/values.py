"""A node of the file to the value of one field, for the kinds that are not records themselves.

Each reader here takes a node, or a text and its place, the field's entry in the table and what messages
call it, and returns the value, or `INVALID` after it has kept the problem.
"""

from __future__ import annotations

import dataclasses
import functools
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from previz.errors import Problem
from previz.scene import files, names
from previz.scene.camera import SENSORS
from previz.scene.colour import HEX, PALETTE, linear_from_hex
from previz.scene.fields import INVALID, Field
from previz.scene.moment import parse_moment
from previz.scene.nodes import List, Node, Text
from previz.scene.records import Place, Target
from previz.scene.wants import LONGEST_LIST
from previz.scene.words import RENAMED, did_you_mean, listed
from previz.units import UnitError, parse, quote

LONGEST_TEXT = 200
"""Of a title. [characters]"""


@dataclass
class Reading:
    """What is carried along while one file is read.

    Parameters
    ----------
    base : Path
        Folder of the scene file.
    problems : dict of (int, int, str) to Problem
        Found so far, by line, column and message.
    seen : dict
        Records already made, by the node they were made from, so that what an option leaves alone
        is read once.
    earlier : dict of (int, int) to Problem
        Words of earlier files, by line and column: what they are called now.
    efficacy : float
        Lumens of each watt that messages offer for the lamp that is being read. [lm/W]
    """

    base: Path
    problems: dict[tuple[int, int, str], Problem] = field(default_factory=dict)
    seen: dict[Any, Any] = field(default_factory=dict)
    earlier: dict[tuple[int, int], Problem] = field(default_factory=dict)
    efficacy: float = 26.0

    def word(self, place: Place, text: str, known: Iterable[str]) -> str:
        """Return a word, or what it is called now, which is kept in `earlier`."""
        new = RENAMED.get(text)
        if new not in known:
            return text
        self.point_out(place, text, new)
        return new

    def point_out(self, place: Place, old: str, new: str) -> None:
        """Keep a line that a word is called otherwise now."""
        self.earlier.setdefault((place.line, place.column), place.problem(
            f"{quote(old)} is called {quote(new)} now, and is read as that", f"Write {quote(new)}."))

    def refuse(self, place: Place, message: str, advice: str) -> Any:
        """Keep a problem, what is wrong and what to write, and return `INVALID`."""
        key = (place.line, place.column, message)
        self.problems.setdefault(key, place.problem(message, advice))
        return INVALID


Reader = Callable[[Reading, Node, Field, str], Any]
"""Takes the node, the field's entry and what messages call it."""

TextReader = Callable[[Reading, Place, str, Field, str], Any]
"""Takes the place of a text and the text, and the rest as a `Reader`."""


def example_advice(entry: Field) -> str:
    """Return what may be written in a field."""
    if entry.choices and entry.kind == "choice":
        return f"Write one of: {listed(entry.choices)}."
    return f"Write for example {quote(entry.example)}." if entry.example else "Write a value."


def text_of(reading: Reading, node: Node, subject: str, advice: str) -> Any:
    """Return a node's text, or INVALID if it is a list or a mapping; `advice` says what to write instead."""
    if isinstance(node, Text):
        return node.text.strip()
    sort = "a list" if isinstance(node, List) else "a group of fields"
    return reading.refuse(node.place, f"{subject} is {sort}, but should be one value", advice)


def _text(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    if len(text) > LONGEST_TEXT:
        message = f"{subject} has {len(text)} letters"
        return reading.refuse(place, message, f"Use {LONGEST_TEXT} letters or fewer.")
    odd = next((letter for letter in text if not letter.isprintable()), None)
    if odd:
        message = f"{subject} has the character U+{ord(odd):04X} in it"
        return reading.refuse(place, message, "Keep to one line of ordinary text.")
    return text


def _name(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    fault = names.fault(text)
    return reading.refuse(place, *fault) if fault else text


def parsed(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    """Return a quantity that is within the field's limits, or INVALID."""
    try:
        value = parse(text, entry.dimension, usual=entry.usual, example=entry.example or None)
    except UnitError as error:
        return reading.refuse(place, f"{subject}: {error.message}", error.advice)
    return _within(reading, place, text, value, entry, subject)


def _within(reading: Reading, place: Place, text: str, value: float, entry: Field, subject: str) -> Any:
    """Return a value if the table allows it."""
    fault = None
    if entry.above is not None and value <= entry.above:
        fault = f"is not more than {entry.show(entry.above)}"
    elif entry.minimum is not None and value < entry.minimum:
        fault = f"is less than {entry.show(entry.minimum)}"
    elif entry.maximum is not None and value > entry.maximum:
        fault = f"is more than {entry.show(entry.maximum)}"
    if fault is None:
        return value
    advice = f"Write {entry.range_text}."
    if entry.dimension == "fraction" and "%" not in text and 1 < value <= 100:
        advice = f"Did you mean '{text} %'? {advice}"
    return reading.refuse(place, f"{subject}: {quote(text)} {fault}", advice)


def _integer(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    if not re.fullmatch(r"[+-]?[0-9]{1,9}", text):
        message = f"{subject}: {quote(text)} is not a whole number"
        return reading.refuse(place, message, example_advice(entry))
    return _within(reading, place, text, int(text), entry, subject)


def _choice(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    text = reading.word(place, text, entry.choices)
    if text in entry.choices:
        return text
    advice = f"{did_you_mean(text, entry.choices)}Write one of: {listed(entry.choices)}."
    return reading.refuse(place, f"{subject} cannot be {quote(text)}", advice)


def _read_yes_no(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    text = text_of(reading, node, subject, "Write 'yes' or 'no'.")
    if text is INVALID:
        return text
    value = {"yes": True, "true": True, "no": False, "false": False}.get(text)
    if value is None:
        message = f"{subject} cannot be {quote(text)}"
        return reading.refuse(node.place, message, "Write 'yes' or 'no'.")
    return value


def _target(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    if text[:1].isalpha():
        return _named_target(reading, place, text, subject)
    if entry.dimension:
        return parsed(reading, place, text, entry, subject)
    message = f"{subject}: {quote(text)} names no thing or point"
    advice = "Write a name, such as 'clerk.eyes', or a point, '[2 m, 1 m, 1.5 m]'."
    return reading.refuse(place, message, advice)


def _named_target(reading: Reading, place: Place, text: str, subject: str) -> Any:
    parts = [each.strip() for each in text.split(".")]
    if len(parts) > 2 or not all(parts):
        message = f"{subject}: {quote(text)} is not a name, or a name and a part of it"
        return reading.refuse(place, message, "Write for example 'clerk' or 'clerk.eyes'.")
    return Target(".".join(parts))


def _target_point(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    point = _listed_values(reading, node, _POINT, subject)
    return point if point is INVALID else Target(point=point)


_POINT = Field(
    "point", "", dimension="length", counts=(3,), example="[2 m, 1 m, 1.5 m]",
    minimum=-10_000.0, maximum=10_000.0,
)  # fmt: skip


def _listed_values(reading: Reading, node: Node, entry: Field, subject: str,
                   read_one: TextReader = parsed) -> Any:
    """Return a tuple of the values of a list whose length the table has."""
    counts = " or ".join(str(each) for each in entry.counts)
    advice = f"Write {counts} values, for example {quote(entry.example)}."
    if not isinstance(node, List):
        return reading.refuse(node.place, f"{subject} is not a list of {counts} values", advice)
    if len(node.nodes) not in entry.counts:
        count = len(node.nodes)
        message = f"{subject} has {count} value{'' if count == 1 else 's'}"
        return reading.refuse(node.place, message, advice)
    values = []
    for each in node.nodes:
        text = text_of(reading, each, f"a value of {subject}", advice)
        values.append(
            text if text is INVALID else read_one(reading, each.place, text, entry, subject)
        )
    return INVALID if INVALID in values else tuple(values)


def _read_point(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    values = _listed_values(reading, node, entry, subject)
    return (*values, 0.0) if values is not INVALID and len(values) == 2 else values


RANGE_WORD = re.compile(r"\s+to\s+")
"""Between the ends of a range."""


def _range(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    ends = RANGE_WORD.split(text)
    if len(ends) != 2:
        message = f"{subject}: {quote(text)} is not a least and a most with 'to' between them"
        return reading.refuse(place, message, example_advice(entry))
    low, high = (parsed(reading, place, end, entry, subject) for end in ends)
    if INVALID in (low, high):
        return INVALID
    if low > high:
        advice = f"Write {quote(f'{ends[1]} to {ends[0]}')}."
        return reading.refuse(place, f"{subject}: {quote(text)} runs from the greater to the less", advice)
    return low, high


def _quantities(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    nodes = node.nodes if isinstance(node, List) else (node,)
    if not 1 <= len(nodes) <= LONGEST_LIST:
        message = f"{subject} has {len(nodes)} values"
        return reading.refuse(node.place, message, f"Write 1 to {LONGEST_LIST}: {quote(entry.example)}.")
    values = []
    for each in nodes:
        text = text_of(reading, each, f"a value of {subject}", example_advice(entry))
        values.append(text if text is INVALID else parsed(reading, each.place, text, entry, subject))
    return INVALID if INVALID in values else tuple(values)


_SHARE = Field("number", "", dimension="number", minimum=0.0, maximum=1.0, counts=(3,),
               example="[0.2, 0.3, 0.25]")  # fmt: skip


def _shares(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    return _listed_values(reading, node, _SHARE, subject)


def _colour(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    if text in PALETTE:
        return linear_from_hex(PALETTE[text])
    if HEX.fullmatch(text):
        return linear_from_hex(text)
    advice = (
        f"{did_you_mean(text, PALETTE)}Write '#rrggbb' in quotes, [red, green, blue] from 0 to 1, "
        f"or one of: {listed(PALETTE)}."
    )
    return reading.refuse(place, f"{subject} cannot be {quote(text)}", advice)


def _sides(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    sides = dataclasses.replace(entry, counts=(2,), example="[24.9 mm, 18.7 mm]")
    return _listed_values(reading, node, sides, subject)


def _sensor(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    if text in SENSORS:
        return SENSORS[text]
    advice = (
        f"{did_you_mean(text, SENSORS)}Write [width, height], such as '[24.9 mm, 18.7 mm]', or "
        f"one of: {listed(SENSORS)}."
    )
    return reading.refuse(place, f"{subject} cannot be {quote(text)}", advice)


def _moment(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    found = parse_moment(text)
    if isinstance(found, tuple):
        message, advice = found
        return reading.refuse(place, f"{subject}: {quote(text)} {message}", advice)
    return found


def _file(reading: Reading, place: Place, text: str, entry: Field, subject: str) -> Any:
    found = files.inside(reading.base, text, entry.suffixes, entry.maximum)
    if isinstance(found, Path):
        return found
    message, advice = found
    return reading.refuse(place, f"{subject}: {message}", advice)


def _of_text(read: TextReader, read_list: Reader | None = None) -> Reader:
    """Return a reader of nodes from one of text, and one of lists where a list may be written too."""

    def read_node(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
        if read_list and isinstance(node, List):
            return read_list(reading, node, entry, subject)
        text = text_of(reading, node, subject, example_advice(entry))
        return text if text is INVALID else read(reading, node.place, text, entry, subject)

    return read_node


SIMPLE: dict[str, Reader] = {
    "text": _of_text(_text),
    "name": _of_text(_name),
    "quantity": _of_text(parsed),
    "choice": _of_text(_choice),
    "yes_no": _read_yes_no,
    "target": _of_text(_target, _target_point),
    "point": _read_point,
    "lengths": _listed_values,
    "range": _of_text(_range),
    "quantities": _quantities,
    "integers": functools.partial(_listed_values, read_one=_integer),
    "colour": _of_text(_colour, _shares),
    "sensor": _of_text(_sensor, _sides),
    "moment": _of_text(_moment),
    "file": _of_text(_file),
}
"""How each kind of field is read that is not a record itself."""
