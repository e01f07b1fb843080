"""Save changes as an option: a few lines put into the scene file, and nothing else of it touched.

What is about to be written is read back first, as any scene is. It is kept only if every option
that was there is still the same and the new one is the changed scene, so a file whose layout is not
understood here is refused, not spoilt.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from previz.errors import DataError, SceneError
from previz.frames import whole_file
from previz.frames.lock import only_writer
from previz.scene import names, nodes, writing
from previz.scene.camera import Camera
from previz.scene.daylight import Daylight
from previz.scene.light import Light
from previz.scene.nodes import Map, Node, Text
from previz.scene.options import GREATEST_OPTIONS
from previz.scene.read import SceneFile, load, load_tree
from previz.scene.room import Room
from previz.scene.scene import Scene

STEP = "  "
"""Indentation of one level in what is written."""

END_MARK = "..."
"""Ends a document; nothing may follow it.  Source: YAML 1.2.2, 9.1.2."""


def check_name(name: str) -> None:
    """Refuse what cannot be the name of an option.

    Raises
    ------
    DataError
        With what to write.
    """
    fault = names.fault(name)
    if fault:
        raise DataError(*fault)


def save_option(file: SceneFile, name: str, base: str, after: Scene, *, own: bool = False) -> Path:
    """Write a changed scene as a new option of the file that it came from; return what was written.

    Parameters
    ----------
    file : SceneFile
        As it was read.
    name : str
        Of the new option.
    base : str
        The option that was changed, '' for the scene as written.
    after : Scene
        The changed scene: as `studies.changes.changed_scene` returns it.
    own : bool
        Write into a file of its own, `own_path`, and leave the scene file.

    Raises
    ------
    DataError
        The name cannot be used, nothing can be added to the file, it cannot be written, or it is another
        than was read.
    """
    check_name(name)
    try:
        with only_writer(file.path.resolve().parent):
            written = file.path.read_bytes()
            try:
                fresh = load(file.path).scenes == file.scenes
            except SceneError:
                fresh = False
            if not fresh:
                raise changed_meanwhile(file.path)
            return write_option(file, name, base, after, written, own=own)
    except OSError as error:
        raise DataError(f"the option cannot be written: {error.strerror or error}",
                        "Look at the folder's permissions and at the space that is left.") from None


def write_option(file: SceneFile, name: str, base: str, after: Scene, written: bytes, *, own: bool,
                 changed: Callable[[], bool] = lambda: False) -> Path:
    """Write an option as `save_option` does, for who holds the lock of the folder.

    `written` is the file as it was before the change was looked at, and `changed` says whether it is not
    the one that was read any more.
    """
    target = own_path(file.path, name) if own else file.path
    if own and target.exists():
        raise DataError(f"there is already a file {target.name}", "Choose another name.")
    if not own and not file.path.stat().st_mode & 0o222:
        raise DataError(f"{file.path.name} may only be read", "Save it in a file of its own.")
    text = with_option(written, file.path, name, option_lines(name, base, file.scene(base), after))
    check_text(text, file, name, after, changed)
    if changed() or file.path.read_bytes() != written:
        raise changed_meanwhile(file.path)
    # A link stays a link: what it leads to is written. A file of its own stays next to the link.
    with whole_file(target.resolve()) as part:
        part.write_bytes(text)
        part.chmod(file.path.stat().st_mode)
    return target


def changed_meanwhile(path: Path) -> DataError:
    """Return the refusal to write over somebody's edit."""
    return DataError(f"{path.name} was changed meanwhile", "Look at what has changed, and save again.")


def own_path(scene: Path, name: str) -> Path:
    """Return the file of its own that an option goes to: next to the scene, where its meshes are."""
    safe = "-".join("".join(c if c.isalnum() else " " for c in name).split())
    return scene.with_name(f"{scene.stem}-{safe}{scene.suffix}")


# What is written


SHEETS = ("boards", "diffusion", "flags", "nets", "grids")
"""Lists of sheets, whose places may be others."""

LEVELS_FIRST = ("dimmer", "on", "cct", "duv", "gel")
"""Fields of a lamp that are written before its others."""


def option_lines(name: str, base: str, before: Scene, after: Scene) -> list[str]:
    """Return the lines of an option that turns one scene into another.

    It is like `base`, '' for the scene as written. The two differ in fields of lamps, sheets, daylight and
    cameras, in what walls send back, and in lamps that the second has besides, after those of the first.

    Raises
    ------
    ValueError
        They differ in what is not written, or the second lacks a lamp of the first.
    """
    body = [f"like: {base}"] if base else []
    own = len(before.lights)
    if [each.name for each in after.lights[:own]] != [each.name for each in before.lights]:
        raise ValueError("the changed scene has not the lamps of the scene that it comes from")
    lamps = [(b.name, _lamp_fields(b, a, after.base))
             for b, a in zip(before.lights, after.lights[:own], strict=True)]
    body += _group("lights", lamps)
    for section in SHEETS:
        pairs = zip(getattr(before, section), getattr(after, section), strict=True)
        body += _group(section, [(b.name, writing.fields(a, after.base, b)) for b, a in pairs])
    body += _daylight_lines(before.daylight, after.daylight, after.base)
    cameras = [(b.name, _camera_fields(b, a))
               for b, a in zip(before.cameras, after.cameras, strict=True)]
    body += _group("cameras", cameras)
    body += _wall_lines(before.room, after.room, after.base)
    if after.lights[own:]:
        added = ", ".join(_new_lamp(each, after.base) for each in after.lights[own:])
        body += ["add:", f"{STEP}lights: [{added}]"]
    if not body:
        return [f"{name}: {{}}"]
    return [f"{name}:", *(STEP + line for line in body)]


def _group(section: str, items: Iterable[tuple[str, list[str]]]) -> list[str]:
    changed = [(name, fields) for name, fields in items if fields]
    if not changed:
        return []
    lines = [f"{section}:"]
    lines += [f"{STEP}{name}: {writing.group(fields)}" for name, fields in changed]
    return lines


def _lamp_fields(before: Light, after: Light, folder: Path) -> list[str]:
    if type(before) is not type(after):
        raise ValueError(f"lamp '{before.name}' has become another kind of lamp")
    return writing.fields(after, folder, before, first=LEVELS_FIRST)


def _new_lamp(light: Light, folder: Path) -> str:
    return writing.group([f"name: {light.name}", f"kind: {light.kind}",
                          *(text for text in writing.fields(light, folder) if not text.startswith("name:"))])


def _camera_fields(before: Camera, after: Camera) -> list[str]:
    writers: dict[str, Callable[[Any], str]] = {
        "stop": lambda stop: f"T{writing.number(stop)}", "iso": writing.number,
        "shutter": lambda angle: f"{writing.number(angle)} deg", "nd": writing.number,
        "white_balance": lambda kelvin: f"{writing.number(kelvin)} K", "green": writing.number}
    return [f"{key}: {write(getattr(after, key))}" for key, write in writers.items()
            if getattr(before, key) != getattr(after, key)]


def _daylight_lines(before: Daylight | None, after: Daylight | None, folder: Path) -> list[str]:
    if before is None or after is None:
        return []
    lines = []
    for text in writing.fields(replace(after, sun=before.sun, moon=before.moon), folder, before):
        lines.append(STEP + text)
    for name in ("sun", "moon"):
        was, now = getattr(before, name), getattr(after, name)
        if was == now:
            continue
        own = "none" if now is None else writing.group(writing.fields(now, folder, was))
        lines.append(f"{STEP}{name}: {own}")
    return ["daylight:", *lines] if lines else []


def _wall_lines(before: Room | None, after: Room | None, folder: Path) -> list[str]:
    """Return walls of another reflectance; an option's surface stands by itself, so all of it is written."""
    if before is None or after is None:
        return []
    lines = []
    for name in ("walls", "north", "south", "east", "west"):
        one, other = getattr(before.surfaces, name), getattr(after.surfaces, name)
        if one != other and other is not None:
            lines.append(f"{STEP * 2}{name}: {writing.group(writing.fields(other, folder))}")
    return ["room:", f"{STEP}surfaces:", *lines] if lines else []


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
        end = marks[0] if marks else len(rows)
        before, after = "".join(rows[:end]), "".join(rows[end:])
        if before and not before.endswith("\n"):
            before += ending
        blank = ending if before.strip() and not before.endswith(ending * 2) else ""
        made = before + blank + ending.join(added) + ending + after
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


def _bracketed(rows: list[str], group: Map, first: tuple[Text, Node]) -> bool:
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
    made, open_at = "", list[int]()
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


def check_text(text: bytes, file: SceneFile, name: str, expected: Scene,
               changed: Callable[[], bool] = lambda: False) -> None:
    """Read back what is about to be written and hold it against what it should be.

    Raises
    ------
    SceneError
        The scene format refuses it.
    DataError
        An option that was there has changed, or the new one is not what was to be saved.
    """
    shown = str(file.path)
    try:
        tree, problems = nodes.compose(text.decode("utf-8-sig"), shown)
    except SceneError:
        raise _unknown_layout() from None
    options = tree.entries.get("options")
    if options is None or not isinstance(options[1], Map) or name not in options[1].entries:
        raise _unknown_layout()
    read = load_tree(tree, file.path, problems)
    if changed():
        # What is held against each other here are then two scenes.
        raise changed_meanwhile(file.path)
    for option, scene in file.scenes.items():
        if read.scenes.get(option) != scene:
            raise _unknown_layout()
    if read.scene(name) != dataclasses.replace(expected, option=name):
        raise _unknown_layout()
