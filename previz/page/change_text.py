"""Changes as the page sends them, and as it keeps them: JSON with a name a lamp or camera."""

from __future__ import annotations

import json
from collections.abc import Mapping
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
    """Return changes that a page sent as the page keeps them: by lamp, by camera, by what is moved."""
    lamps, cameras = _groups(text)
    return {**{f"{option}|{what}|{name}": each
               for what, group in (("lamp", lamps), ("camera", cameras)) for name, each in group.items()},
            **moves_flat(option, json.loads(read_moves(text) or "{}"))}


def look_now(changes: Mapping[str, Any], option: str) -> dict[str, dict]:
    """Return what is set of an option by the page's own keys, as the page sends a look."""
    lamps: dict[str, Any] = {}
    cameras: dict[str, Any] = {}
    moves: dict[str, Any] = {}
    for key, value in changes.items():
        of, *rest = key.split("|")
        match rest if of == option else []:
            case ["lamp", name]:
                lamps[name] = value
            case ["camera", name]:
                cameras[name] = value
            case ["place", section, name]:
                moves.setdefault(section, {})[name] = value
            case ["added", section, name]:
                moves.setdefault("add", {}).setdefault(section, []).append({"name": name, **value})
            case ["removed", _, name]:
                moves.setdefault("remove", []).append(name)
    return {"lamps": lamps, "cameras": cameras, "moves": moves}


def moves_flat(option: str, moves: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is moved by the page's own keys."""
    flat: dict[str, Any] = {}
    for section, things in moves.items():
        if section == "remove":
            # By its name alone: whichever section it stands in.
            flat |= {f"{option}|removed||{name}": True for name in things}
        elif section == "add":
            for of, added in things.items():
                flat |= {f"{option}|added|{of}|{each['name']}":
                         {key: value for key, value in each.items() if key != "name"} for each in added}
        else:
            flat |= {f"{option}|place|{section}|{name}": fields for name, fields in things.items()}
    return flat


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
