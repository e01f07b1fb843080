"""Save a look as an option: a few lines put into the scene file, and nothing else of it touched.

What is about to be written is read back first, as any scene is. It is kept only if every option
that was there is still the same and the new one is the look, so a file whose layout is not
understood here is refused, not spoilt.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from previz.errors import DataError, SceneError
from previz.frames import whole_file
from previz.frames.lock import only_writer
from previz.page.change_text import read_changes
from previz.page.desk import Desk
from previz.scene import gel, names, nodes
from previz.scene.nodes import Map
from previz.scene.options import GREATEST_OPTIONS
from previz.scene.read import load_tree
from previz.scene.scene import Scene
from previz.studies.changes import Changes, changed_scene

STEP = "  "
"""Indentation of one level in what is written."""

END_MARK = "..."
"""Ends a document; nothing may follow it.  Source: YAML 1.2.2, 9.1.2."""


def save_look(desk: Desk, request: dict) -> dict:
    """Write a look as a new option.

    Parameters
    ----------
    desk : Desk
        Whose scene it is.
    request : dict
        'name' of the new option, 'option' that it starts from, 'look' as `read_changes`
        takes it (decoded), and 'where': 'scene' or 'own file'.

    Returns
    -------
    dict
        'path', 'option', 'text' for the person, and 'reload': whether the scene itself changed.

    Raises
    ------
    DataError
        The name cannot be used, nothing is changed, or the file cannot take it.
    SceneError
        The scene file, or the look in it, has problems.
    """
    name, base = str(request.get("name", "")).strip(), str(request.get("option", ""))
    where = request.get("where")
    if where not in ("scene", "own file"):
        raise DataError("a look is saved in the scene or in a file of its own", "Choose one.")
    changes = read_changes(json.dumps(request.get("look", {})))
    fault = names.fault(name)
    if fault:
        raise DataError(*fault)
    try:
        # Two pages may save at once, of one program or of two; each has to see what the other wrote.
        with desk.saving, only_writer(desk.folder):
            target = _save(desk.as_it_is(), name, base, changes, own=where != "scene")
    except OSError as error:
        raise DataError(f"the look cannot be written: {error.strerror or error}",
                        "Look at the folder's permissions and at the space that is left.") from None
    where_to = "" if where == "scene" else f" Render it from {target.name}."
    return {"path": str(target), "option": name, "reload": where == "scene",
            "text": f"Saved as option '{name}' in {target.name}.{where_to}"}


def _save(desk: Desk, name: str, base: str, changes: Changes, *, own: bool) -> Path:
    written = desk.path.read_bytes()
    target = own_path(desk.path, name) if own else desk.path
    if own and target.exists():
        raise DataError(f"there is already a file {target.name}", "Choose another name.")
    if not own and not desk.path.stat().st_mode & 0o222:
        raise DataError(f"{desk.path.name} may only be read", "Save the look in a file of its own.")
    scene = changed_scene(desk.scene(base), desk.stage(base), changes)
    text = with_option(written, desk.path, name, option_lines(name, base, desk.scene(base), scene))
    check_text(text, desk, name, scene)
    if desk.changed_on_disk() or desk.path.read_bytes() != written:
        raise _changed_meanwhile(desk)
    # A link stays a link: what it leads to is written. The look next to a link stays next to it.
    with whole_file(target.resolve()) as part:
        part.write_bytes(text)
        part.chmod(desk.path.stat().st_mode)
    return target


def _changed_meanwhile(desk: Desk) -> DataError:
    return DataError(f"{desk.path.name} was changed meanwhile",
                     "Look at what has changed, and save the look again.")


def own_path(scene: Path, name: str) -> Path:
    """Return the file of its own that a look goes to: next to the scene, where its meshes are."""
    safe = "-".join("".join(c if c.isalnum() else " " for c in name).split())
    return scene.with_name(f"{scene.stem}-{safe}{scene.suffix}")


# What is written


def option_lines(name: str, base: str, before: Scene, after: Scene) -> list[str]:
    """Return the lines of an option that turns one scene into another.

    It is like `base`, '' for the scene as written; the two differ only in what a look can change.
    """
    body = [f"like: {base}"] if base else []
    lamps = [(b.name, _lamp_fields(b, a, after.base))
             for b, a in zip(before.lights, after.lights, strict=True)]
    body += _group("lights", lamps)
    body += _daylight_lines(before.daylight, after.daylight)
    cameras = [(b.name, _camera_fields(b, a))
               for b, a in zip(before.cameras, after.cameras, strict=True)]
    body += _group("cameras", cameras)
    if not body:
        return [f"{name}: {{}}"]
    return [f"{name}:", *(STEP + line for line in body)]


def _group(section: str, items) -> list[str]:
    changed = [(name, fields) for name, fields in items if fields]
    if not changed:
        return []
    lines = [f"{section}:"]
    lines += [f"{STEP}{name}: {{{', '.join(fields)}}}" for name, fields in changed]
    return lines


def _differing(before, after, writers) -> list[str]:
    return [f"{key}: {write(getattr(after, key))}" for key, write in writers.items()
            if getattr(before, key) != getattr(after, key)]


def _number(value: float) -> str:
    """Return a number in plain digits that read back as the same double."""
    text = format(Decimal(repr(float(value))).normalize(), "f")
    return "0" if text == "-0" else text


def _in(unit: str) -> Callable[[float], str]:
    return lambda value: f"{_number(value)} {unit}"


def _percent(value: float) -> str:
    return f"{format((Decimal(repr(float(value))) * 100).normalize(), 'f')} %"


def _lamp_fields(before, after, folder: Path) -> list[str]:
    return _differing(before, after, {
        "dimmer": _percent, "on": lambda on: "yes" if on else "no", "cct": _in("K"), "duv": _number,
        "gel": lambda sheets: _gels(sheets, folder)})


def _gels(sheets, folder: Path) -> str:
    if not sheets:
        return "none"
    written = [_gel(sheet, folder) for sheet in sheets]
    return f"[{', '.join(written)}]" if len(written) > 1 else written[0]


def _gel(sheet, folder: Path) -> str:
    if sheet.name in gel.NAMES:
        return sheet.name
    writers = {"name": json.dumps, "mired": _in("mired"), "transmission": _percent, "green": _number,
               "file": lambda path: json.dumps(path.relative_to(folder).as_posix())}
    return f"{{{', '.join(_differing(gel.Gel(), sheet, writers))}}}"


def _camera_fields(before, after) -> list[str]:
    return _differing(before, after, {
        "stop": lambda stop: f"T{_number(stop)}", "iso": _number, "shutter": _in("deg"), "nd": _number,
        "white_balance": _in("K"), "green": _number})


def _daylight_lines(before, after) -> list[str]:
    if before is None:
        return []
    fields = _differing(before, after, {"illuminance": _in("lx"), "sky_cct": _in("K")})
    lines = [STEP + field for field in fields]
    for name in ("sun", "moon"):
        if getattr(before, name) is not None:
            own = _differing(getattr(before, name), getattr(after, name),
                             {"illuminance": _in("lx"), "cct": _in("K")})
            lines += [f"{STEP}{name}: {{{', '.join(own)}}}"] if own else []
    return ["daylight:", *lines] if lines else []


# Where it is written


def with_option(written: bytes, path: Path, name: str, lines: list[str]) -> bytes:
    """Return a scene file with one more option, every other byte as it was.

    `lines` are the option's, without indentation of their own; `path` is for messages.

    Raises
    ------
    DataError
        There is such an option already, or the options have a layout that cannot be
        added to.
    """
    mark = b"\xef\xbb\xbf" if written.startswith(b"\xef\xbb\xbf") else b""
    text = written[len(mark):].decode("utf-8")
    tree, _ = nodes.compose(text, str(path))
    ending = "\r\n" if "\r\n" in text else "\n"
    options = tree.entries.get("options")
    if options is None:
        added = ["options:", *(STEP + line for line in lines)]
        rows = text.splitlines(keepends=True)
        marks = [number for number, row in enumerate(rows) if row.rstrip() == END_MARK]
        before, after = rows[: marks[0]] if marks else rows, rows[marks[0] :] if marks else []
        before = "".join(before)
        if before and not before.endswith("\n"):
            before += ending
        blank = ending if before.strip() and not before.endswith(ending * 2) else ""
        made = before + blank + ending.join(added) + ending + "".join(after)
        return mark + made.encode("utf-8")
    key, group = options
    if not isinstance(group, Map):
        raise _unknown_layout()
    if name in group.entries:
        raise DataError(f"there is already an option '{name}'", "Choose another name.")
    if len(group.entries) >= GREATEST_OPTIONS:
        raise DataError(f"a file holds at most {GREATEST_OPTIONS} options",
                        "Take out one that is not needed any more.")
    rows = text.splitlines(keepends=True)
    end = _last_row(rows, tree, key.place.line)
    first = next(iter(group.pairs()), None)
    if first is None or _bracketed(rows, group, first):
        made = _in_brackets(rows, end, lines)
    else:
        column = first[0].place.column - 1
        if not rows[end].endswith("\n"):
            rows[end] += ending
        block = [" " * column + line + ending for line in lines]
        made = "".join([*rows[: end + 1], *block, *rows[end + 1 :]])
    return mark + made.encode("utf-8")


def _unknown_layout() -> DataError:
    return DataError("the scene's options are laid out in a way that nothing can be added to",
                     "Write each option on a line of its own under 'options:'.")


def _last_row(rows: list[str], tree: Map, line: int) -> int:
    """Return the index of a section's last row: the last before the next that says anything."""
    later = [key.place.line for key, _ in tree.pairs() if key.place.line > line]
    end = (min(later) if later else len(rows) + 1) - 2
    while end > line - 1 and (rows[end].strip() in ("", END_MARK) or rows[end].lstrip().startswith("#")):
        # A comment that is indented belongs to what is above it.
        if rows[end].lstrip().startswith("#") and rows[end][:1].isspace():
            break
        end -= 1
    return end


def _bracketed(rows: list[str], group: Map, first) -> bool:
    place = group.place
    return rows[place.line - 1][place.column - 1 : place.column] == "{" and (
        (place.line, place.column) < (first[0].place.line, first[0].place.column))


def _in_brackets(rows: list[str], end: int, lines: list[str]) -> str:
    """Put an option into '{...}', before the bracket that closes it."""
    row = rows[end]
    code = row.split(" #")[0].rstrip()
    if not code.endswith("}"):
        raise _unknown_layout()
    inside = code[:-1].rstrip()
    comma = "" if inside.endswith("{") else " " if inside.endswith(",") else ", "
    rows[end] = inside + comma + _on_one_line(lines) + "}" + row[len(code):]
    return "".join(rows)


def _on_one_line(lines: list[str]) -> str:
    """Return an option's lines in brackets, on one line."""
    made, open_at = "", []
    for line in lines:
        deep = len(line) - len(line.lstrip())
        while open_at and deep <= open_at[-1]:
            open_at.pop()
            made += "}"
        made += ("" if not made or made.endswith("{") else ", ") + line.strip()
        if line.endswith(":"):
            open_at.append(deep)
            made += " {"
    return made + "}" * len(open_at)


def check_text(text: bytes, desk: Desk, name: str, expected: Scene) -> None:
    """Read back what is about to be written and hold it against what it should be.

    Raises
    ------
    SceneError
        The scene format refuses it.
    DataError
        An option that was there has changed, or the new one is not the look.
    """
    shown = str(desk.path)
    try:
        tree, problems = nodes.compose(text.decode("utf-8-sig"), shown)
    except SceneError:
        raise _unknown_layout() from None
    options = tree.entries.get("options")
    if options is None or not isinstance(options[1], Map) or name not in options[1].entries:
        raise _unknown_layout()
    read = load_tree(tree, desk.path, problems)
    if desk.changed_on_disk():
        # What is held against each other here are then two scenes.
        raise _changed_meanwhile(desk)
    for option, scene in desk.file.scenes.items():
        if read.scenes.get(option) != scene:
            raise _unknown_layout()
    if read.scene(name) != dataclasses.replace(expected, option=name):
        raise _unknown_layout()

