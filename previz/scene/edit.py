"""Edits of a scene file's text: a value, a field, a thing of a list, and nothing else of it touched.

Where something stands is taken from the places that records keep. The text in between stays as it was:
comments, order, quotes, the way that lines are broken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import yaml

from previz.scene.records import Place

STEP = "  "
"""Indentation of one level in what is written."""


class EditError(ValueError):
    """The text is laid out in a way that cannot be edited there."""


@dataclass(frozen=True, eq=False)
class _Spot:
    """A node of the text, what holds it, and which of its own it is."""

    node: yaml.Node
    holder: yaml.Node | None
    number: int


@dataclass(frozen=True)
class _Splice:
    start: int
    end: int
    text: str


class Edits:
    """Edits of one text, which are made all at once.

    Places are those of the text as it was; two edits of one place exclude each other.

    Raises
    ------
    EditError
        Of each method: nothing stands there, or the layout cannot take it.
    """

    def __init__(self, text: str):
        self.text = text
        self._ending = "\r\n" if "\r\n" in text else "\n"
        root = yaml.compose(text, Loader=yaml.BaseLoader)
        if not isinstance(root, yaml.MappingNode):
            raise EditError("the text is no group of values")
        self._root = root
        self._spots: dict[tuple[int, int], list[_Spot]] = {}
        self._fields: dict[int, list[str]] = {}
        self._items: dict[int, list[str]] = {}
        self._groups: list[tuple[tuple[str, ...], str]] = []
        self._splices: list[_Splice] = []
        seen: set[int] = set()
        for spot in _walked(root, None, 0):
            if id(spot.node) not in seen:
                seen.add(id(spot.node))
                mark = spot.node.start_mark
                self._spots.setdefault((mark.line + 1, mark.column + 1), []).append(spot)
        self._by_id = {id(spot.node): spot.node for spots in self._spots.values() for spot in spots}

    # What is edited

    def value(self, place: Place, text: str) -> None:
        """Write another value where one stands."""
        node = self._at(place)[-1].node
        self._splices.append(_Splice(node.start_mark.index, self._end(node), text))

    def field(self, place: Place, text: str) -> None:
        """Put 'field: value' into the group that begins at a place.

        Raises
        ------
        EditError
            No group begins there.
        """
        node = next((each.node for each in self._at(place) if isinstance(each.node, yaml.MappingNode)), None)
        if node is None:
            raise EditError(f"no group begins on line {place.line}")
        self._fields.setdefault(id(node), []).append(text)

    def gone(self, place: Place) -> None:
        """Take the thing that begins at a place out of its list.

        Raises
        ------
        EditError
            Nothing in a list begins there.
        """
        for spot in self._at(place):
            if isinstance(spot.holder, yaml.SequenceNode):
                self._take_out(spot.node, spot.holder, spot.number)
                return
        raise EditError(f"what begins on line {place.line} is in no list")

    def under(self, path: Sequence[str], text: str) -> None:
        """Write a value under keys, such as ('options', 'direct', 'lights', 'key', 'at').

        Groups that are not there are made, on one line.
        """
        node: yaml.Node | None = self._root
        for key in path:
            node = _entry(node, key) if node is not None else None
        if node is None or _is_nothing(node):
            self._groups.append((tuple(path), text))
        else:
            self._splices.append(_Splice(node.start_mark.index, self._end(node), text))

    def item(self, path: Sequence[str], text: str) -> None:
        """Put a thing at the end of the list under keys, which is made where there is none."""
        node: yaml.Node | None = self._root
        for key in path:
            node = _entry(node, key) if node is not None else None
        if isinstance(node, yaml.SequenceNode):
            self._items.setdefault(id(node), []).append(text)
        elif len(path) == 1:
            self._section(path[0], text)
        else:
            # Several things for one list that is not there yet come together.
            for number, (other, written) in enumerate(self._groups):
                if other == tuple(path):
                    self._groups[number] = (other, f"{written[:-1]}, {text}]")
                    return
            self._groups.append((tuple(path), f"[{text}]"))

    # The text

    def made(self) -> str:
        """Return the text with all edits made.

        Raises
        ------
        EditError
            Two of them meet in one place.
        """
        self._place_groups()
        splices = list(self._splices)
        splices += [self._fields_splice(self._by_id.get(number, self._root), texts)
                    for number, texts in self._fields.items()]
        splices += [self._items_splice(self._by_id[number], texts) for number, texts in self._items.items()]
        splices.sort(key=lambda each: (each.start, each.end))
        made, at = [], 0
        for each in splices:
            if each.start < at:
                raise EditError("two changes meet in one place")
            made += [self.text[at : each.start], each.text]
            at = each.end
        return "".join([*made, self.text[at:]])

    def _place_groups(self) -> None:
        """Put values under keys that are not there yet: those that share new groups into one."""
        groups, self._groups = self._groups, []
        by_node: dict[int, tuple[yaml.Node, dict]] = {}
        for path, text in groups:
            node: yaml.Node = self._root
            depth = 0
            while depth < len(path) and (found := _entry(node, path[depth])) is not None \
                    and not _is_nothing(found):
                node, depth = found, depth + 1
            if depth == len(path) or not isinstance(node, yaml.MappingNode):
                raise EditError(f"'{path[-1]}' has no place to stand")
            tree = by_node.setdefault(id(node), (node, {}))[1]
            for key in path[depth:-1]:
                tree = tree.setdefault(key, {})
                if not isinstance(tree, dict):
                    raise EditError(f"'{key}' is written twice")
            tree[path[-1]] = text
        for node, tree in by_node.values():
            for key, value in tree.items():
                empty = _entry(node, key)
                if empty is not None:
                    at = empty.start_mark.index
                    space = "" if self.text[at - 1 : at].isspace() else " "
                    self._splices.append(_Splice(at, max(at, empty.end_mark.index), space + _written(value)))
                else:
                    self._fields.setdefault(id(node), []).append(f"{key}: {_written(value)}")

    def _at(self, place: Place) -> list[_Spot]:
        found = self._spots.get((place.line, place.column))
        if not found:
            raise EditError(f"nothing stands in column {place.column} of line {place.line}")
        return found

    def _end(self, node: yaml.Node) -> int:
        """Return where what a node says ends; a block ends only where the next thing begins."""
        if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
            last = node.value[-1]
            return self._end(last[1] if isinstance(last, tuple) else last)
        return int(node.end_mark.index)

    def _line_start(self, index: int) -> int:
        return self.text.rfind("\n", 0, index) + 1

    def _line_end(self, index: int) -> int:
        """Return the index after the end of a line, of the text for the last."""
        found = self.text.find("\n", index)
        return len(self.text) if found < 0 else found + 1

    def _new_lines(self, after: int, lines: list[str]) -> _Splice:
        """Return the splice that puts lines after the one in which something ends."""
        if self.text[after - 1 : after] == "\n":
            at = after
        else:
            at = self._line_end(after)
        before = "" if at == 0 or self.text[at - 1] == "\n" else self._ending
        return _Splice(at, at, before + "".join(line + self._ending for line in lines))

    def _fields_splice(self, node: yaml.Node, texts: list[str]) -> _Splice:
        if node.flow_style:
            at = self._end(node.value[-1][1]) if node.value else node.start_mark.index + 1
            if node.value and _is_nothing(node.value[-1][1]):
                raise EditError("a group ends in a field without a value")
            return _Splice(at, at, (", " if node.value else "") + ", ".join(texts))
        indent = " " * node.value[0][0].start_mark.column
        return self._new_lines(self._end(node), [indent + text for text in texts])

    def _items_splice(self, node: yaml.Node, texts: list[str]) -> _Splice:
        if node.flow_style:
            at = self._end(node.value[-1]) if node.value else node.start_mark.index + 1
            return _Splice(at, at, (", " if node.value else "") + ", ".join(texts))
        indent = " " * node.start_mark.column
        return self._new_lines(self._end(node), [f"{indent}- {text}" for text in texts])

    def _section(self, name: str, text: str) -> None:
        """Make a section with a thing in it, before the options, which come last."""
        added = [section for section in self._splices if section.text.startswith(f"{name}:{self._ending}")]
        if added:
            self._splices.remove(added[0])
            grown = f"{added[0].text}{STEP}- {text}{self._ending}"
            self._splices.append(_Splice(added[0].start, added[0].end, grown))
            return
        if self._root.flow_style:
            self._fields.setdefault(id(self._root), []).append(f"{name}: [{text}]")
            return
        options = next((key for key, _ in self._root.value if key.value == "options"), None)
        lines = f"{name}:{self._ending}{STEP}- {text}{self._ending}"
        if options is not None:
            at = self._line_start(options.start_mark.index)
            self._splices.append(_Splice(at, at, lines))
            return
        end = self._new_lines(self._end(self._root), [])
        self._splices.append(_Splice(end.start, end.end, end.text + lines))

    def _take_out(self, node: yaml.Node, holder: yaml.Node, number: int) -> None:
        items = holder.value
        if holder.flow_style:
            if number + 1 < len(items):
                start, end = node.start_mark.index, items[number + 1].start_mark.index
            elif number:
                start, end = self._end(items[number - 1]), self._end(node)
            else:
                start, end = node.start_mark.index, self._end(node)
            self._splices.append(_Splice(start, end, ""))
            return
        start = self._line_start(node.start_mark.index)
        lead = self.text[start : node.start_mark.index]
        if lead.strip() != "-":
            raise EditError(f"what begins on line {node.start_mark.line + 1} shares its line")
        end = self._end(node)
        end = end if self.text[end - 1] == "\n" else self._line_end(end)
        only = (lead[: lead.index("-")] or STEP) + "[]" + self._ending if len(items) == 1 else ""
        self._splices.append(_Splice(start, end, only))


def _walked(node: yaml.Node, holder: yaml.Node | None, number: int) -> Iterator[_Spot]:
    yield _Spot(node, holder, number)
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield from _walked(key, node, -1)
            yield from _walked(value, node, -1)
    elif isinstance(node, yaml.SequenceNode):
        for each, item in enumerate(node.value):
            yield from _walked(item, node, each)


def _entry(node: yaml.Node, key: str) -> yaml.Node | None:
    if not isinstance(node, yaml.MappingNode):
        return None
    return next((value for name, value in node.value if name.value == key), None)


def _is_nothing(node: yaml.Node) -> bool:
    return isinstance(node, yaml.ScalarNode) and not node.value and not node.style


def _written(value: str | dict) -> str:
    if isinstance(value, str):
        return value
    return "{" + ", ".join(f"{key}: {_written(each)}" for key, each in value.items()) + "}"
