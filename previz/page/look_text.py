"""A look as text, to be sent back: written by hand-outs and the page, taken in by page and command.

It is JSON with the mark of its layout, under words for whoever reads the mail. Mail programs quote, cut and
smarten what they carry, so it is looked for and mended before it is given up.
"""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from previz.errors import DataError, PrevizError, RequestError
from previz.frames.layouts import LayoutError, marked, taken_up
from previz.frames.whole import whole_file
from previz.page.change_text import look_now, moves_flat
from previz.page.change_values import fault_of, lamp_fields, plain_fault
from previz.page.desk import Desk, moves_text
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.changes import Changes, changed_scene, changes_from

BEFORE_NAME = "look-before.json"

MOST_TEXT = 1 << 18
"""Longest text that a look is looked for in. [characters]"""

_WIDEST = 68
"""Longest line of a look. [characters]"""

_BETWEEN = re.compile(r'(?<=[\]}"\de],)(?=[{"])')
_START = re.compile(r'\{\s*"previz_look"')
_QUOTE = re.compile(r"^[ \t]*(?:>[ \t]?)+", re.MULTILINE)
_SMART = str.maketrans({"“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "\u00a0": " ", "\u202f": " ",
                        "\u200b": "", "\ufeff": "", "\r": None})


@dataclass(frozen=True)
class Taken:
    """A look that was taken in.

    Parameters
    ----------
    option, camera : str
        What it is laid over, and what it was last seen by; '' for a camera that is not there.
    look : dict
        What fits of it, as the page sends a look.
    said : tuple of str
        What does not fit, item by item.
    """

    option: str
    camera: str
    look: dict[str, dict]
    said: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """What was taken in, in words."""
        parts = [f"{len(self.look[what])} {word}{'' if len(self.look[what]) == 1 else 's'}"
                 for what, word in (("lamps", "lamp"), ("cameras", "camera")) if self.look[what]]
        parts += ["what is moved"] if self.look["moves"] else []
        over = f", option {self.option}" if self.option else ""
        return f"Taken in: {' and '.join(parts) or 'a look in which nothing is changed'}{over}."


def look_line(desk: Desk, option: str, camera: str, look: Mapping[str, Any]) -> str:
    """Return a look as the lines that `read_look` reads: so short that no mail program wraps them."""
    text = json.dumps({**marked("previz_look"), "file": desk.path.name, "option": option, "camera": camera,
                       "look": look}, ensure_ascii=False, separators=(",", ":"))
    # Between values alone: a comma in a name has no quote, bracket or figure on both sides.
    return "\n".join(_filled(_BETWEEN.split(text)))


def _filled(parts: list[str]) -> Iterator[str]:
    line = ""
    for part in parts:
        if line and len(line) + len(part) > _WIDEST:
            yield line
            line = ""
        line += part
    yield line


def read_look(text: str) -> dict[str, Any]:
    """Return what the line of a look in a text says.

    Raises
    ------
    DataError
        There is no look in it, it is torn, or a newer previz wrote it.
    """
    if len(text) > MOST_TEXT:
        raise DataError("the text is too long for a look", "Give the lines of the look alone.")
    mended = _QUOTE.sub("", text.translate(_SMART))
    start = _START.search(mended)
    if start is None:
        raise DataError("there is no look in this text",
                        'A look begins with {"previz_look". Give all from there to its last }.')
    found = _decoded(mended[start.start():])
    if found is None:
        raise DataError("the look in this text is cut off or spoilt", "Give all of it, from { to its last }.")
    try:
        return taken_up("previz_look", found, Path())
    except LayoutError as error:
        raise DataError(f"the look {error}", "Use that previz." if error.newer else "") from None


def _decoded(text: str) -> dict[str, Any] | None:
    """Return the first value of a text; a line that was cut is joined, without a space or with one."""
    for joined in (text, text.replace("\n", ""), re.sub(r"[ \t]*\n[ \t]*", " ", text)):
        try:
            found = json.JSONDecoder().raw_decode(joined)[0]
        except (ValueError, RecursionError):
            continue
        return found if isinstance(found, dict) and not plain_fault(found) else None
    return None


@dataclass
class _Sorting:
    """Sorts what fits a scene from what does not, item by item."""

    scene: Scene
    stage: Stage
    said: list[str] = field(default_factory=list)

    def group(self, value: Any, what: str) -> Iterator[tuple[str, dict]]:
        if not isinstance(value, dict):
            self.said.append(f"{what} of the look are no group of values.")
            return
        for name, fields in value.items():
            if isinstance(fields, dict):
                yield name, fields
            else:
                self.said.append(f"{name}: no group of values.")

    def lamps(self, given: Any) -> dict[str, dict]:
        known, fit = [lamp.name for lamp in self.stage.lamps], {}
        for name, fields in self.group(given, "The lamps"):
            if name not in known:
                self.said.append(f"{name}: the option has no lamp of that name.")
                continue
            kept = {key: value for key, value in fields.items() if self.fits(
                f"{name}, {key}", lambda key=key, value=value, name=name:
                changes_from({name: lamp_fields({key: value})}, {}))}
            fit.update({name: kept} if kept else {})
        return fit

    def cameras(self, given: Any) -> dict[str, dict]:
        known, fit = [camera.name for camera in self.scene.cameras], {}
        for name, fields in self.group(given, "The cameras"):
            if name not in known:
                self.said.append(f"camera {name}: the option has no camera of that name.")
                continue
            kept = {key: value for key, value in fields.items() if self.fits(
                f"camera {name}, {key}", lambda key=key, value=value, name=name:
                changes_from({}, {name: {key: value}}))}
            fit.update({name: kept} if kept else {})
        return fit

    def fits(self, what: str, changes) -> bool:
        try:
            made: Changes = changes()
            changed_scene(self.scene, self.stage, made)
        except RequestError as error:
            self.said.append(f"{what}: {error.message.rstrip('.')}.")
            return False
        return True


def take_look(desk: Desk, text: str, option: str | None = None) -> Taken:
    """Return what fits the scene of a look in a text; nothing is set yet.

    `option` is laid under a look whose own option the scene does not have; the first without it.

    Raises
    ------
    DataError
        There is no look in the text.
    """
    found, said = read_look(text), []
    base = found.get("option")
    if base not in desk.options:
        here = option if option in desk.options else desk.options[0]
        said.append(f"The scene has no option '{base}'; the look is laid over "
                    f"{repr(here) if here else 'the scene as written'}.")
        base = here
    file = found.get("file")
    if file != desk.path.name:
        said.append(f"The look was made of another file, {str(file)[:80]}.")
    look = found.get("look")
    if not isinstance(look, dict):
        raise DataError("the look in this text is spoilt", "Give all of it, from { to its last }.")
    moves = _moves(desk, base, look.get("moves", {}), said)
    sorting = _Sorting(desk.scene(base, moves), desk.stage(base, moves), said)
    fit = {"lamps": sorting.lamps(look.get("lamps", {})), "cameras": sorting.cameras(look.get("cameras", {})),
           "moves": json.loads(moves or "{}")}
    camera = found.get("camera")
    names = [each.name for each in desk.cameras(base, moves)]
    return Taken(base, camera if camera in names else "", fit, tuple(said))


def _moves(desk: Desk, option: str, given: Any, said: list[str]) -> str:
    """Return what a look has moved, as `desk.moves_text` has it; '' where it cannot be."""
    try:
        moves = moves_text(given)
        desk.stage(option, moves)
    except PrevizError as error:
        said.append(f"What is moved: {error}")
        return ""
    keys = moves_flat(option, json.loads(moves or "{}"))
    wrong = [fault for fault in itertools.starmap(fault_of, keys.items()) if fault]
    said += [f"What is moved: {fault}." for fault in wrong]
    return "" if wrong else moves


def keep_before(desk: Desk, option: str) -> Path | None:
    """Keep what is set of an option as text before a look takes its place; return where, None for nothing."""
    look = look_now(desk.changes, option)
    if not any(look.values()):
        return None
    path = desk.folder / BEFORE_NAME
    with whole_file(path) as part:
        part.write_text(look_line(desk, option, "", look) + "\n", encoding="utf-8")
    return path


def values_of(desk: Desk, taken: Taken) -> dict[str, Any]:
    """Return changes that set a look in place of whatever is set of its option, by the page's own keys."""
    option, look, values = taken.option, taken.look, dict[str, Any]()
    for key in desk.changes:
        of, *rest = key.split("|")
        if of == option and rest and rest[0] in ("lamp", "camera", "place", "added", "removed"):
            values[key] = None
    for what, group in (("lamp", look["lamps"]), ("camera", look["cameras"])):
        values |= {f"{option}|{what}|{name}": fields for name, fields in group.items()}
    return values | moves_flat(option, look["moves"])


def look_answer(desk: Desk, body: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the page sets of a look that was given to it: 'values', and what is said of it."""
    option = body.get("option")
    taken = take_look(desk, str(body.get("text", "")), option if isinstance(option, str) else None)
    return {"option": taken.option, "camera": taken.camera, "values": values_of(desk, taken),
            "text": taken.text, "said": list(taken.said)}
