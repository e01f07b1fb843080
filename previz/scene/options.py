"""Options: the scene with a few things changed, added or taken out.

An option works on the tree of the file, not on records, so that each value it writes keeps its own
line, and the changed scene is read and checked like any other.

    options:
      direct:
        lights: {key: {aim: clerk.face}}     # change fields of things by their names
        remove: [card]                       # take things out
        add: {flags: [{name: cutter, ...}]}  # put things in
      late:
        like: direct                         # start from another option
        daylight: {illuminance: 400 lx}
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from previz.scene import names
from previz.scene.fields import Field, table
from previz.scene.nodes import List, Map, Node, Text, spread
from previz.scene.reading import refuse_unknown
from previz.scene.records import Place
from previz.scene.scene import Scene
from previz.scene.values import Reading, text_of
from previz.scene.words import did_you_mean, listed
from previz.units import quote

HOLDERS = {"openings": "room", "circuits": "mains", "zones": "map"}
"""Lists of things that a record of the scene holds, and the record."""

ITEM_SECTIONS: tuple[str, ...] = (
    *HOLDERS,
    *(name for name, entry in table(Scene).items() if entry.kind == "items"),
)
"""Lists of things that an option can add to; openings are the room's, circuits the mains', zones
the map's."""

GREATEST_OPTIONS = 100
"""Greatest number of options; each is read and checked as a whole scene."""

OWN_FIELDS = ("like", "add", "remove")


@dataclass(frozen=True)
class Applied:
    """The tree of a file after an option.

    Parameters
    ----------
    tree : Map
        The whole scene.
    removed : dict of str to Place
        Names taken out by it, or by one that it is like, and where it says so.
    """

    tree: Map
    removed: dict[str, Place]


def apply_all(reading: Reading, tree: Map) -> dict[str, Applied]:
    """Return the changed tree of every option of a file, in the order written.

    Options that are wrong altogether are left out.
    """
    node = tree.get("options")
    if node is None:
        return {}
    if not isinstance(node, Map):
        advice = "Write each option as 'name:' with its changes below it."
        reading.refuse(node.place, "'options' is not a group of options", advice)
        return {}
    if len(node.entries) > GREATEST_OPTIONS:
        message = f"'options' holds {len(node.entries)} options"
        reading.refuse(node.place, message, f"Keep to {GREATEST_OPTIONS} in one file.")
        return {}
    written: dict[str, Map] = {}
    for key, changes in node.pairs():
        fault = names.fault(key.text)
        if fault:
            reading.refuse(key.place, *fault)
        elif isinstance(changes, Map):
            written[key.text] = changes
        elif isinstance(changes, Text) and changes.plain and not changes.text:
            written[key.text] = Map(key.place, {})
        else:
            advice = "Write its changes below it, or '{}' for none."
            message = f"option {quote(key.text)} is not a group of changes"
            reading.refuse(changes.place, message, advice)
    done: dict[str, Applied] = {}
    for name in written:
        _apply_chain(reading, tree, written, name, done)
    return {name: done[name] for name in written if name in done}


def _apply_chain(reading, tree, written, name, done):
    """Apply an option after those that it is like, each of them once."""
    chain = [name]
    while True:
        other = _like(reading, written, chain[-1])
        if other is None or other in done:
            break
        if other in chain:
            circle = " is like ".join(quote(each) for each in (*chain[chain.index(other) :], other))
            place = written[chain[-1]].get("like").place
            advice = "Let one of them stand on its own."
            reading.refuse(place, f"options go round in a circle: {circle}", advice)
            other = None
            break
        chain.append(other)
    base = done[other] if other else Applied(tree, {})
    for each in reversed(chain):
        if each not in done:
            done[each] = _applied(reading, base, each, written[each])
        base = done[each]


def _like(reading, written, name):
    node = written[name].get("like")
    if node is None:
        return None
    text = text_of(reading, node, f"'like' of option {quote(name)}", "Write an option's name.")
    if isinstance(text, str) and text not in written:
        advice = f"{did_you_mean(text, written)}The options are: {listed(written)}."
        message = f"option {quote(name)} is like {quote(text)}, and no option has that name"
        reading.refuse(node.place, message, advice)
        return None
    return text or None


def _applied(reading, base, name, changes):
    label = f"option {quote(name)}"
    refuse_unknown(reading, changes, (*OWN_FIELDS, *table(Scene)), label)
    removed = dict(_removals(reading, base.tree, changes.get("remove"), label))
    tree = _without(base.tree, removed) if removed else base.tree
    own = {key: entry for key, entry in changes.entries.items() if key not in OWN_FIELDS}
    editor = _Editor(reading, label, {**base.removed, **removed})
    tree = editor.merged(tree, Map(changes.place, own), table(Scene))
    tree = editor.enlarged(tree, changes.get("add"))
    return Applied(tree, editor.removed)


def item_lists(tree: Map) -> Iterator[tuple[str, List]]:
    """Yield each list of things in the tree of a whole scene, with its section's name."""
    for section in ITEM_SECTIONS:
        holder: Node | None = tree.get(HOLDERS[section]) if section in HOLDERS else tree
        found = holder.get(section) if isinstance(holder, Map) else None
        if isinstance(found, List):
            yield section, found


def _name_of(node):
    name = node.get("name") if isinstance(node, Map) else None
    return name.text.strip() if isinstance(name, Text) else None


def _all_names(tree):
    return [
        name for _, found in item_lists(tree) for each in found.nodes if (name := _name_of(each))
    ]


def _removals(reading, tree, node, label) -> Iterator[tuple[str, Place]]:
    if node is None:
        return
    known = _all_names(tree)
    for each in node.nodes if isinstance(node, List) else (node,):
        name = text_of(reading, each, f"'remove' of {label}", "Write names: '[card, cutter]'.")
        if name in known:
            yield name, each.place
        elif isinstance(name, str):
            advice = f"{did_you_mean(name, known)}The scene has: {listed(sorted(set(known)))}."
            message = f"{label} removes {quote(name)}, and nothing has that name"
            reading.refuse(each.place, message, advice)


def _without(tree, removed):
    changes = {}
    for section, found in item_lists(tree):
        kept = tuple(each for each in found.nodes if _name_of(each) not in removed)
        if len(kept) == len(found.nodes):
            continue
        shorter = List(found.place, kept)
        if section in HOLDERS:
            key, holder = tree.entries[HOLDERS[section]]
            list_key = holder.entries[section][0]
            changes[HOLDERS[section]] = (key, holder.having({section: (list_key, shorter)}))
        else:
            changes[section] = (tree.entries[section][0], shorter)
    return tree.having(changes)


class _Editor:
    """Applies the changes of one option."""

    def __init__(self, reading, label, removed):
        self._reading = reading
        self._label = label
        self.removed = removed

    def merged(self, base: Map, changes: Map, entries: dict[str, Field]) -> Map:
        """Return a mapping with an option's changes, going into records and lists of things."""
        made = {}
        for key, (key_node, change) in changes.entries.items():
            entry, old = entries.get(key), base.get(key)
            new: Node = change
            if entry and entry.kind == "items":
                new = self._changed_items(old, change, entry, key)
            elif entry and entry.kind == "record" and isinstance(change, Map):
                held = spread(old, entry.record.short)
                new = self.merged(
                    held if isinstance(held, Map) else Map(change.place, {}),
                    change,
                    table(entry.record),
                )
            if new is not None:
                made[key] = (key_node, new)
        return base.having(made)

    def _changed_items(self, old, change, entry, section):
        noun = entry.base.noun
        if not isinstance(change, Map):
            message = f"{self._label} does not say which {noun} of '{section}' it changes"
            advice = f"Write '{section}: {{name: {{field: value}}}}', or put new ones under 'add:'."
            self._reading.refuse(change.place, message, advice)
            return old
        nodes = list(old.nodes) if isinstance(old, List) else []
        where = {_name_of(each): index for index, each in enumerate(nodes)}
        for key, fields in change.pairs():
            index = where.get(key.text)
            if index is None:
                self._no_such_item(key, noun, [name for name in where if name])
            elif not isinstance(fields, Map):
                message = f"{self._label} does not say what it changes of {noun} {quote(key.text)}"
                self._reading.refuse(fields.place, message, "Write '{field: value}'.")
            elif "name" in fields.entries:
                message = f"{self._label} gives {noun} {quote(key.text)} another name"
                advice = "Leave out 'name': a thing keeps its name in every option."
                self._reading.refuse(fields.entries["name"][0].place, message, advice)
            else:
                nodes[index] = self._changed_item(nodes[index], fields, entry)
        return List(old.place, tuple(nodes)) if isinstance(old, List) else None

    def _changed_item(self, item, fields, entry):
        cls = entry.record
        if isinstance(cls, dict):
            kind = fields.get("kind") or item.get("kind")
            cls = cls.get(kind.text if isinstance(kind, Text) else "", entry.base)
        return self.merged(item, fields, table(cls))

    def _no_such_item(self, key, noun, known):
        if key.text in self.removed:
            message = f"{self._label} changes {noun} {quote(key.text)}, which is removed"
            advice = f"It is removed on line {self.removed[key.text].line}: keep one of the two."
        else:
            message = f"{self._label} changes {quote(key.text)}, and no {noun} has that name"
            advice = (
                f"{did_you_mean(key.text, known)}There are: {listed(sorted(known))}. Put a new "
                "one under 'add:'."
            )
        self._reading.refuse(key.place, message, advice)

    def enlarged(self, tree: Map, node: Node | None) -> Map:
        """Return a tree with the things that an option adds."""
        if node is None:
            return tree
        if not isinstance(node, Map):
            message = f"'add' of {self._label} does not say to which lists it adds"
            advice = "Write for example 'add: {flags: [{name: cutter, ...}]}'."
            self._reading.refuse(node.place, message, advice)
            return tree
        label = f"'add' of {self._label}"
        refuse_unknown(self._reading, node, ITEM_SECTIONS, label, "list")
        for key, new in node.pairs():
            if key.text not in ITEM_SECTIONS:
                continue
            if not isinstance(new, List):
                message = f"'{key.text}' of {label} is not a list"
                advice = "Begin each new thing with '- name:'."
                self._reading.refuse(new.place, message, advice)
            elif key.text in HOLDERS:
                tree = self._with_held(tree, key, new)
            else:
                tree = tree.having({key.text: (key, _joined(tree.get(key.text), new))})
        return tree

    def _with_held(self, tree, key, new):
        """Return a tree with more in a list that a record of the scene holds."""
        section, name = key.text, HOLDERS[key.text]
        holder = tree.get(name)
        if not isinstance(holder, Map):
            if section == "openings":
                message = f"{self._label} adds openings to a scene without a room"
                self._reading.refuse(key.place, message, "Write a 'room', or leave them out.")
                return tree
            # Every scene has mains and maps, written or not.
            holder = Map(key.place, {})
        entries = {section: (key, _joined(holder.get(section), new))}
        name_key = tree.entries[name][0] if name in tree.entries else key
        return tree.having({name: (name_key, holder.having(entries))})


def _joined(old, new):
    """Return a list followed by another; each thing keeps its own place."""
    return List(old.place, old.nodes + new.nodes) if isinstance(old, List) else new
