"""Words of earlier scene files: read as what they are called now, and pointed out.

The version of the scene format stays while a file means what it meant; a word that is called otherwise now
is taken up here. A change of meaning raises `read.VERSION`, with a step on the tree from the version before.
"""

from __future__ import annotations

from previz.scene.nodes import List, Map, Node, Text
from previz.scene.values import Reading
from previz.scene.words import RENAMED_FIELDS

SECTIONS = {"camera": "cameras"}
"""Noun of a record whose fields were called otherwise -> the section of a scene that holds such records."""


def taken_up(reading: Reading, tree: Map) -> Map:
    """Return the tree of a file with its fields called what they are called now, in options too."""
    made = _scene(reading, tree)
    options = made.get("options")
    if isinstance(options, Map):
        made = made.having({"options": (made.entries["options"][0], _each(
            options, lambda option: _scene(reading, option)))})
    return made


def _scene(reading: Reading, tree: Map) -> Map:
    for (noun, old), new in RENAMED_FIELDS.items():
        section = SECTIONS[noun]
        entry = tree.entries.get(section)
        if entry is not None:
            tree = tree.having({section: (entry[0], _each(
                entry[1], lambda item, old=old, new=new: _renamed(reading, item, old, new)))})
        added = tree.get("add")
        if isinstance(added, Map):
            tree = tree.having({"add": (tree.entries["add"][0], _scene(reading, added))})
    return tree


def _each(node: Node, change) -> Node:
    """Return a list or group with each group in it changed."""
    if isinstance(node, List):
        return List(node.place, tuple(change(each) if isinstance(each, Map) else each for each in node.nodes))
    if isinstance(node, Map):
        return Map(node.place, {name: (key, change(value) if isinstance(value, Map) else value)
                                for name, (key, value) in node.entries.items()})
    return node


def _renamed(reading: Reading, item: Map, old: str, new: str) -> Map:
    """Return a record with one field called otherwise; as it is where it has both."""
    if old not in item.entries or new in item.entries:
        return item
    reading.point_out(item.entries[old][0].place, old, new)
    return Map(item.place, {
        new if name == old else name: (Text(key.place, new, key.plain) if name == old else key, value)
        for name, (key, value) in item.entries.items()})
