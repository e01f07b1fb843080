"""Write a changed scene over what its file says: values where they stand, things put in and taken out.

What is about to be written is read back first. It is kept only if the changed scene is what was meant, and
if no other option differs in anything but the things that were changed.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

from previz.errors import DataError, Problem, SceneError
from previz.frames import whole_file
from previz.scene import nodes, writing
from previz.scene.edit import EditError, Edits
from previz.scene.fields import table
from previz.scene.read import SceneFile, load_tree
from previz.scene.records import Item, Record
from previz.scene.scene import Scene
from previz.studies.saving import ITEMS, as_written, changed_fields, changed_meanwhile, lacking, new_item

SECTIONS = (*ITEMS, "cameras")
"""Lists of things that are written."""


def write_in_place(file: SceneFile, option: str, after: Scene, written: bytes, *, everywhere: bool,
                   changed: Callable[[], bool] = lambda: False) -> tuple[str, ...]:
    """Make a changed scene what its file says, for who holds the lock of the folder.

    Parameters
    ----------
    file : SceneFile
        As it was read.
    option : str
        The option that was changed, '' for the scene as written.
    after : Scene
        It with the changes: as `studies.changes.changed_scene` returns it.
    written : bytes
        The file as it was before the change was looked at.
    everywhere : bool
        Values are changed where they stand, for every option that has them from there; else the option alone
        is changed. Of the scene as written they are always changed where they stand.
    changed : function
        Says whether the file is another than was read.

    Returns
    -------
    tuple of str
        Other options that have changed with it, '' for the scene as written.

    Raises
    ------
    DataError
        Nothing is changed, the file's layout cannot take it, it cannot be written, or is another than was
        read.
    SceneError
        The scene format refuses what comes of it.
    """
    if not file.path.stat().st_mode & 0o222:
        raise DataError(f"{file.path.name} may only be read", "Save it in a file of its own.")
    before = file.scene(option)
    mark = b"\xef\xbb\xbf" if written.startswith(b"\xef\xbb\xbf") else b""
    try:
        edits = Edits(written[len(mark):].decode("utf-8"))
        if everywhere or not option:
            touched = _where_it_stands(edits, before, after)
        else:
            touched = _in_the_option(edits, option, before, after)
        text = edits.made()
    except (EditError, ValueError) as error:
        raise DataError(f"the scene's file cannot be changed there: {error}",
                        "Save it as an option.") from None
    if not touched:
        raise DataError("nothing is changed", "Move a lamp, or set a level, first.")
    followed = _checked(text, file, option, after, touched, changed)
    if changed() or file.path.read_bytes() != written:
        raise changed_meanwhile(file.path)
    with whole_file(file.path.resolve()) as part:
        part.write_bytes(mark + text.encode("utf-8"))
        part.chmod(file.path.stat().st_mode)
    return followed


def _pairs(before: Scene, after: Scene) -> list[tuple[str, Item, Item]]:
    """Return what is in both scenes, with its section."""
    found = []
    for section in SECTIONS:
        now = {each.name: each for each in getattr(after, section)}
        found += [(section, each, now[each.name]) for each in getattr(before, section) if each.name in now]
    return found


def _where_it_stands(edits: Edits, before: Scene, after: Scene) -> set[str]:
    """Change values where they were written; return the names of what is changed."""
    _refuse_others(before, after)
    touched = set()
    for _, was, now in _pairs(before, after):
        places = as_written(was).places
        for line in changed_fields(was, now, after.base):
            name, _, text = line.partition(": ")
            if name in places:
                edits.value(places[name], text)
            else:
                edits.field(was.place, line)
            touched.add(was.name)
    for group, one, other in _daylights(before, after):
        for line in writing.fields(other, after.base, one):
            name, _, text = line.partition(": ")
            if name in one.places:
                edits.value(one.places[name], text)
            else:
                edits.field(one.place, line)
            touched.add(group)
    for section in SECTIONS:
        for each in lacking(before, after, section):
            edits.gone(each.place)
            touched.add(each.name)
        for each in lacking(after, before, section):
            edits.item((section,), new_item(each, after.base))
            touched.add(each.name)
    return touched


def _in_the_option(edits: Edits, option: str, before: Scene, after: Scene) -> set[str]:
    """Write values into the option itself; return the names of what is changed."""
    _refuse_others(before, after)
    touched, own = set(), ("options", option)
    for section, was, now in _pairs(before, after):
        for line in changed_fields(was, now, after.base):
            name, _, text = line.partition(": ")
            edits.under((*own, section, was.name, name), text)
            touched.add(was.name)
    for group, one, other in _daylights(before, after):
        for line in writing.fields(other, after.base, one):
            name, _, text = line.partition(": ")
            edits.under((*own, *group.split("."), name), text)
            touched.add(group)
    for section in SECTIONS:
        for each in lacking(before, after, section):
            edits.item((*own, "remove"), each.name)
            touched.add(each.name)
        for each in lacking(after, before, section):
            edits.item((*own, "add", section), new_item(each, after.base))
            touched.add(each.name)
    return touched


DAYLIGHT = "daylight"


def _daylights(before: Scene, after: Scene) -> list[tuple[str, Record, Record]]:
    """Return the daylight of both scenes, and its sun and moon by themselves, as 'daylight.sun'."""
    was, now = before.daylight, after.daylight
    if was is None or now is None:
        return []
    sky = dataclasses.replace(now, sun=was.sun, moon=was.moon)
    found: list[tuple[str, Record, Record]] = [(DAYLIGHT, was, sky)]
    for name in ("sun", "moon"):
        one, other = getattr(was, name), getattr(now, name)
        if one is not None and other is not None:
            found.append((f"{DAYLIGHT}.{name}", one, other))
    return found


def _refuse_others(before: Scene, after: Scene) -> None:
    """Refuse changes of what is neither a thing of a list nor the daylight, such as walls."""
    for name in table(Scene):
        if name not in (*SECTIONS, DAYLIGHT) and getattr(before, name) != getattr(after, name):
            raise EditError(f"'{name}' has changed, which is not written over")


def _checked(text: str, file: SceneFile, option: str, after: Scene, touched: set[str],
             changed: Callable[[], bool]) -> tuple[str, ...]:
    """Read back what is about to be written; return the other options that have changed with it."""
    try:
        tree, problems = nodes.compose(text, str(file.path))
        read = load_tree(tree, file.path, problems)
    except SceneError as error:
        raise SceneError([_unplaced(each) for each in error.problems]) from None
    if changed():
        raise changed_meanwhile(file.path)
    refused = DataError("the scene's file is laid out in a way that this cannot be written into",
                        "Save it as an option.")
    if list(read.scenes) != list(file.scenes) or read.scene(option) != after:
        raise refused
    followed = []
    for name, scene in file.scenes.items():
        if name == option or read.scenes[name] == scene:
            continue
        if _without(read.scenes[name], touched) != _without(scene, touched):
            raise refused
        followed.append(name)
    return tuple(followed)


def _unplaced(problem: Problem) -> Problem:
    """Return a problem without its place: that is of a text which is not on disk."""
    return dataclasses.replace(problem, line=0, column=0, source_line="")


def _without(scene: Scene, names: set[str]) -> Scene:
    kept: dict[str, Any] = {section: tuple(each for each in getattr(scene, section) if each.name not in names)
                            for section in SECTIONS}
    if any(name.partition(".")[0] == DAYLIGHT for name in names):
        kept[DAYLIGHT] = None
    return dataclasses.replace(scene, **kept)


