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

from previz.errors import DataError, SceneError
from previz.frames import whole_file
from previz.frames.lock import only_writer
from previz.scene import names, nodes, writing
from previz.scene.daylight import Daylight
from previz.scene.edit import STEP
from previz.scene.figure import Figure
from previz.scene.light import Glow, Light
from previz.scene.nodes import Map, Node, Text
from previz.scene.options import GREATEST_OPTIONS
from previz.scene.read import SceneFile, load, load_tree
from previz.scene.records import Item
from previz.scene.room import Room
from previz.scene.scene import Scene

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


ITEMS = ("lights", "boards", "diffusion", "flags", "nets", "grids", "pieces", "figures", "meters")
"""Lists of things that may differ in their fields, be put in and be taken out; cameras too."""

LEVELS_FIRST = ("dimmer", "on", "cct", "duv", "gel")
"""Fields of a lamp that are written before its others."""


def option_lines(name: str, base: str, before: Scene, after: Scene) -> list[str]:
    """Return the lines of an option that turns one scene into another.

    It is like `base`, '' for the scene as written. The two differ in fields of things, of daylight and of
    cameras, in what walls send back, and in things that one of them has besides.

    Raises
    ------
    ValueError
        They differ in what is not written.
    """
    body = [f"like: {base}"] if base else []
    for section in ITEMS:
        body += _group(section, _changed_items(before, after, section))
    body += _daylight_lines(before.daylight, after.daylight, after.base)
    body += _group("cameras", _changed_items(before, after, "cameras"))
    body += _wall_lines(before.room, after.room, after.base)
    sections = *ITEMS, "cameras"
    gone = [each.name for section in sections for each in lacking(before, after, section)]
    if gone:
        body += [f"remove: [{', '.join(gone)}]"]
    added = [f"{STEP}{section}: [{', '.join(new_item(each, after.base) for each in new)}]"
             for section in sections if (new := lacking(after, before, section))]
    if added:
        body += ["add:", *added]
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


def lacking(one: Scene, other: Scene, section: str) -> list[Item]:
    """Return the things of one scene that the other has not."""
    names = {each.name for each in getattr(other, section)}
    return [each for each in getattr(one, section) if each.name not in names]


def _changed_items(before: Scene, after: Scene, section: str) -> list[tuple[str, list[str]]]:
    was = {each.name: each for each in getattr(before, section)}
    return [(each.name, changed_fields(was[each.name], each, after.base))
            for each in getattr(after, section) if each.name in was]


def changed_fields(before: Item, after: Item, folder: Path) -> list[str]:
    """Return 'field: value' of what differs in one thing.

    Raises
    ------
    ValueError
        It has become another kind of thing, or differs in what is not written.
    """
    if type(before) is not type(after):
        raise ValueError(f"{before.label} has become another kind of {before.noun}")
    found = writing.fields(as_written(after), folder, as_written(before),
                           first=LEVELS_FIRST if isinstance(after, Light) else ())
    # A piece that glows has its place from the piece.
    return [text for text in found if not (isinstance(after, Glow) and text.startswith("at:"))]


def as_written(item: Item) -> Item:
    """Return a thing as its fields say, a figure that is at a mark as it is without."""
    return item.home if isinstance(item, Figure) and item.home is not None else item


def new_item(item: Item, folder: Path) -> str:
    """Return something that is put in, as a scene file has it."""
    kind = [f"kind: {item.kind}"] if isinstance(item, Light) else []
    return writing.group([f"name: {item.name}", *kind, *(
        text for text in writing.fields(as_written(item), folder) if not text.startswith("name:"))])


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
