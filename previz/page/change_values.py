"""What a page may set: the keys that its changes go by, and what may stand under each.

A page is this machine's own, yet whatever comes over its socket is kept on disk, sent to every other page,
and laid over the scene. So a change is looked at before any of that: a key of a form that is known, and a
value of the kind and size that belongs there. Whether a lamp or an option of that name is there is not asked:
an edit of the scene may bring it back. A new sort of key is one line in `OF_OPTIONS` or in `OWN`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from typing import Any

from previz.errors import DataError, RequestError
from previz.scene import names
from previz.studies.changes import changes_from

Check = Callable[[str, Any], str]
"""Takes the last part of a key and a value, and returns what is wrong with the value, '' for nothing."""

MOST_AT_ONCE = 2000
"""Changes in one message."""

MOST_PARTS = 4000
"""Values, names and groups within one value."""

DEEPEST = 8
"""Groups within groups of one value."""

LONGEST_TEXT = 2000
"""Letters of one text in a value."""

GREATEST = 1e15
"""Greatest number in a value: up to there whole numbers are the same in a browser."""

MOST_LINES = 24
"""Wants that may be added on the page to one option."""

LONGEST_LINE = 200
"""Letters of one of them."""

LOOK = ("lamps", "cameras", "moves")
"""What a look is made of."""


def plain_fault(value: Any) -> str:
    """Return what keeps a value from being plain: finite numbers, texts, lists and groups, not too many."""
    waiting, count = [(value, 0)], 0
    while waiting:
        each, depth = waiting.pop()
        count += 1
        if count > MOST_PARTS:
            return "it is too large"
        if depth > DEEPEST:
            return "it is too deep"
        if isinstance(each, bool) or each is None:
            continue
        if isinstance(each, int | float):
            if not (abs(each) <= GREATEST and math.isfinite(each)):
                return "it has a number that cannot be"
        elif isinstance(each, str):
            if len(each) > LONGEST_TEXT:
                return "it has too long a text"
        elif isinstance(each, list):
            waiting += [(inner, depth + 1) for inner in each]
        elif isinstance(each, dict):
            waiting += [(inner, depth + 1) for pair in each.items() for inner in pair]
        else:
            return "it is no plain value"
        if len(waiting) > MOST_PARTS:
            return "it is too large"
    return ""


def lamp_fields(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return fields of a lamp with the page's 'level' called what a scene calls it, 'dimmer'."""
    return {"dimmer" if key == "level" else key: value for key, value in fields.items()}


def is_lines(value: object) -> bool:
    """Return whether something is a list of wants as they are said, or might be one."""
    return (isinstance(value, list) and len(value) <= MOST_LINES
            and all(isinstance(each, str) and 0 < len(each) <= LONGEST_LINE for each in value))


def _plain(name: str, value: Any) -> str:
    return ""


def _group(name: str, value: Any) -> str:
    return "" if isinstance(value, dict) else "it is no group of values"


def _list(name: str, value: Any) -> str:
    return "" if isinstance(value, list) else "it is no list"


def _true(name: str, value: Any) -> str:
    return "" if value is True else "it is yes or nothing"


def _lamp(name: str, value: Any) -> str:
    return _group(name, value) or _refused({name: lamp_fields(value)}, {})


def _camera(name: str, value: Any) -> str:
    return _group(name, value) or _refused({}, {name: value})


def _wants(name: str, value: Any) -> str:
    return "" if is_lines(value) else f"the wants of a page are at most {MOST_LINES} lines"


def look_fault(look: Any) -> str:
    """Return what is wrong with a look: lamps and cameras as `changes_from` takes them, and what is moved."""
    if not isinstance(look, dict) or not set(look) <= set(LOOK):
        return "it is no look"
    lamps, cameras, moves = (look.get(part, {}) for part in LOOK)
    for group in (lamps, cameras):
        if not isinstance(group, dict) or not all(isinstance(each, dict) for each in group.values()):
            return "it is no look"
    return _group("moves", moves) or _refused(
        {lamp: lamp_fields(fields) for lamp, fields in lamps.items()}, cameras)


def _shown(name: str, value: Any) -> str:
    """Check a look with its place, or what stands for one and has none."""
    return _group(name, value) or (look_fault(value["look"]) if "look" in value else "")


def _refused(lamps: dict[str, dict], cameras: dict[str, dict]) -> str:
    try:
        changes_from(lamps, cameras)
    except RequestError as error:
        return error.message
    return ""


OF_OPTIONS: dict[str, tuple[int, Check]] = {
    "lamp": (1, _lamp),
    "camera": (1, _camera),
    "wants": (0, _wants),
    "place": (2, _group),
    "added": (2, _group),
    "removed": (2, _true),
}
"""Second part of 'option|word|...' -> how many names follow it, and what may stand there."""

OWN: dict[str, tuple[int, Check]] = {
    "pin": (0, _shown),
    "look": (1, _shown),
    "reference": (1, _group),
    "spots": (2, _list),
    "group": (2, _list),
    "zones": (0, _plain),
}
"""First part of 'word|...' -> the same. Options may be called so too; their keys have the other words."""


def _named(name: str) -> bool:
    """Return whether something may be the name of anything: the scene's own words are too."""
    return name == "" or name in names.KEPT or names.fault(name) is None


def _form(key: str) -> tuple[str, Check] | None:
    """Return the last name in a key, and the check of what stands there; None for a key of no form."""
    first, *rest = key.split("|")
    if rest and rest[0] in OF_OPTIONS and _named(first):
        count, check = OF_OPTIONS[rest[0]]
        given = rest[1:]
    elif first in OWN:
        count, check = OWN[first]
        given = rest
    else:
        return None
    # What the page numbers by itself begins with a figure.
    good = len(given) == count and all(_named(each) or (each.isalnum() and len(each) <= names.LONGEST)
                                       for each in given)
    return (given[-1] if given else "", check) if good else None


def fault_of(key: Any, value: Any) -> str:
    """Return what is wrong with one change, '' for nothing."""
    form = _form(key) if isinstance(key, str) else None
    if form is None:
        return f"the page keeps nothing by the name {str(key)[:80]!r}"
    wrong = plain_fault(value) or form[1](form[0], value)
    return f"'{key[:80]}' cannot be set: {wrong}" if wrong else ""


def check_changes(changes: Mapping[str, Any], kept: Collection[str] = ()) -> None:
    """Refuse changes of which one cannot be; a value of None takes back one of those `kept`, or nothing.

    Raises
    ------
    DataError
        With the first that cannot be, and why.
    """
    if len(changes) > MOST_AT_ONCE:
        raise DataError(f"more than {MOST_AT_ONCE} changes came at once", "Undo some of them.")
    for key, value in changes.items():
        taken_back = value is None and (key in kept or _form(key) is not None)
        wrong = "" if taken_back else fault_of(key, value)
        if wrong:
            raise DataError(wrong, "Undo it, or reload the page.")


def good_changes(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return those of changes that can be; of a file that was written by hand, say."""
    return {key: value for key, value in changes.items() if not fault_of(key, value)}
