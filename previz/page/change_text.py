"""Changes as the page sends them, and as it keeps them: JSON with a name a lamp or camera."""

from __future__ import annotations

import json
from typing import Any

from previz.errors import DataError
from previz.page.change_values import lamp_fields
from previz.page.desk import moves_text
from previz.studies.changes import Changes, changes_from


def read_changes(text: str) -> Changes:
    """Return the changes that a page sent.

    Parameters
    ----------
    text : str
        JSON: `{"lamps": {name: {level, on, cct, duv, gel}}, "cameras": {name: {stop, ...}}}`.
        A gel is a list of trade names, or `{sheet: n}` for the n-th sheet that the scene has there.

    Raises
    ------
    DataError
        It is not such a thing.
    RequestError
        A number is outside what the scene format allows.
    """
    lamps, cameras = _groups(text)
    return changes_from({name: lamp_fields(each) for name, each in lamps.items()}, cameras)


def read_moves(text: str) -> str:
    """Return what a look has moved, put in or taken out, as `desk.moves_text` has it.

    Parameters
    ----------
    text : str
        JSON; 'moves' in it is as an option of a scene file has it, see `SceneFile.moved`.

    Raises
    ------
    DataError
        It is not such a thing.
    """
    return moves_text(_whole(text).get("moves", {}))


def flat(option: str, text: str) -> dict[str, dict]:
    """Return changes that a page sent as the page keeps them, one value a lamp or camera."""
    lamps, cameras = _groups(text)
    return {f"{option}|{what}|{name}": each
            for what, group in (("lamp", lamps), ("camera", cameras)) for name, each in group.items()}


def _whole(text: str) -> dict:
    try:
        return _group(json.loads(text or "{}"), "look")
    except (ValueError, RecursionError):
        raise _refused("the look is not JSON") from None


def _groups(text: str) -> tuple[dict[str, dict], dict[str, dict]]:
    whole = _whole(text)
    lamps, cameras = (_group(whole.get(name, {}), name) for name in ("lamps", "cameras"))
    return ({name: _group(each, name) for name, each in lamps.items()},
            {name: _group(each, name) for name, each in cameras.items()})


def _refused(message: str) -> DataError:
    return DataError(message, "Reload the page.")


def _group(value: Any, what: str) -> dict:
    if not isinstance(value, dict):
        raise _refused(f"'{what}' of the look is not a group of values")
    return value
