"""YAML text to a tree in which every scalar is still text and every node knows its place.

YAML's own guessing of types is left out on purpose: to it `16:9` is 969, `010` is 8 and `off` is
false. What a scalar means is decided by the field that it is written in. The tree is never changed
once it is built, so an option can share whatever it does not touch.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

from previz.errors import Problem, SceneError
from previz.scene import syntax
from previz.scene.records import Place
from previz.units import quote

FILE_BYTES = 2 * 1024 * 1024
"""Greatest size of a scene file. [bytes]"""

GREATEST_NODES = 20_000
"""Greatest number of values, counting an alias as all that it stands for; a large scene has 2000.
"""

GREATEST_DEPTH = 24
"""Greatest depth of lists and mappings inside each other; a scene needs 8."""


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A part of the file, and where it begins."""

    place: Place


@dataclass(frozen=True, slots=True, eq=False)
class Text(Node):
    """A scalar, as it was written.

    Parameters
    ----------
    text : str
        The scalar without quotes.
    plain : bool
        True where it had no quotes.
    """

    text: str
    plain: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class List(Node):
    """A list and what it holds."""

    nodes: tuple[Node, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Map(Node):
    """A mapping of text to nodes, without repeated keys.

    Parameters
    ----------
    entries : dict of str to (Text, Node)
        Each key with its own node and its value's.
    """

    entries: dict[str, tuple[Text, Node]]

    def get(self, key: str) -> Node | None:
        """Return the value of a key, None where it is not written."""
        entry = self.entries.get(key)
        return entry[1] if entry else None

    def pairs(self) -> Iterator[tuple[Text, Node]]:
        """Yield each key's node with its value's node, in the order written."""
        yield from self.entries.values()

    def having(self, changes: dict[str, tuple[Text, Node]]) -> Map:
        """Return this mapping with some entries replaced or added."""
        return Map(self.place, {**self.entries, **changes})


def spread(node: Node | None, short: str) -> Node | None:
    """Return what a text stands for that is written for a record: its field of the name `short`."""
    if not short or not isinstance(node, Text):
        return node
    return Map(node.place, {short: (Text(node.place, short), node)})


def read_text(path: Path, shown: str) -> str:
    """Return the text of a scene file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        What messages call it.

    Returns
    -------
    str
        The text, without a byte order mark.

    Raises
    ------
    SceneError
        There is no such file, it cannot be read, is too large, or is not UTF-8.
    """

    def refuse(message, advice):
        raise SceneError([Problem(shown, 0, 0, message, advice)])

    try:
        if path.is_dir():
            refuse("this is a folder, not a scene file", "Name a scene file, such as scene.yaml.")
        with path.open("rb") as source:
            data = source.read(FILE_BYTES + 1)
    except FileNotFoundError:
        refuse("there is no such file", "Check the name and the folder.")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        refuse(f"the file cannot be read ({reason})", "Check the name and its permissions.")
    if len(data) > FILE_BYTES:
        refuse(
            f"the file is larger than {FILE_BYTES // 2**20} MB",
            "A scene file is short text; put meshes and pictures in files beside it.",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        start = data.rfind(b"\n", 0, error.start) + 1
        column = len(data[start : error.start].decode("utf-8", "replace")) + 1
        source_line = data[start:].split(b"\n", 1)[0].decode("utf-8", "replace")
        message = f"byte {data[error.start]:#04x} is not UTF-8 text"
        advice = "Save the file as UTF-8."
        raise SceneError([Problem(shown, line, column, message, advice, source_line)]) from None


class _Limit(yaml.MarkedYAMLError):
    """The file holds more than a scene can."""

    def __init__(self, message, advice, mark):
        super().__init__(problem=message, problem_mark=mark)
        self.advice = advice


class _Bounded(yaml.composer.Composer):
    """A composer that stops before too many or too deeply nested nodes are composed."""

    _composed = 0
    _depth = 0

    def compose_node(self, parent, index):
        self._composed += 1
        self._depth += 1
        mark = self.peek_event().start_mark
        if self._composed > GREATEST_NODES:
            raise _Limit(*_TOO_MANY, mark)
        if self._depth > GREATEST_DEPTH:
            raise _Limit(*_TOO_DEEP, mark)
        node = super().compose_node(parent, index)
        self._depth -= 1
        return node


class _Loader(_Bounded, yaml.BaseLoader):
    """The parser whose words for a fault are shown."""


if yaml.__with_libyaml__:

    class _QuickLoader(_Bounded, yaml.CBaseLoader):
        """The library's parser in C, in a fifth of the time; nodes are composed as for the other."""

        def __init__(self, stream):
            yaml.CBaseLoader.__init__(self, stream)
            yaml.composer.Composer.__init__(self)

        def compose_scalar_node(self, anchor):
            node = super().compose_scalar_node(anchor)
            if not node.style and (not node.value or "?" in node.value):
                # The two do not see the same place where nothing is written, nor the same sense in '?'.
                raise yaml.MarkedYAMLError
            return node


_ALIKE = re.compile("[\n -~\u00a1-\u1fff\u2030-\ud7ff]*")
"""Characters that both parsers read alike: no tabs, no marks of byte order, no breaks but one."""


def _quickly_parsed(text: str) -> yaml.Node | None:
    """Return the tree by the parser in C, None where the other has to look."""
    if not yaml.__with_libyaml__ or not _ALIKE.fullmatch(text):
        return None
    try:
        loader = _QuickLoader(text)
        try:
            return loader.get_single_node()
        finally:
            loader.dispose()
    except (yaml.YAMLError, ValueError, OverflowError):
        # The other finds the same, and words it as `syntax` knows them.
        return None


_TOO_MANY = (
    f"the file holds more than {GREATEST_NODES} values",
    "Write large shapes as mesh files, and repeat less by '&' and '*'.",
)
_TOO_DEEP = (
    f"this is nested more than {GREATEST_DEPTH} levels deep",
    "Close a bracket that was left open, or correct the indentation.",
)

_ENDLESS = (
    "what stands here is repeated by a '*' inside itself",
    "Write it out instead of repeating it by '&' and '*'.",
)


def compose(text: str, shown: str) -> tuple[Map, list[Problem]]:
    """Return the tree of a scene file.

    Parameters
    ----------
    text : str
        The file.
    shown : str
        What messages call it.

    Returns
    -------
    Map
        Its outermost mapping.
    list of Problem
        Faults that did not keep it from being read: repeated keys, merge keys, tags.

    Raises
    ------
    SceneError
        It is not YAML, not a mapping, or too large or deep when aliases are written out.
    """
    lines = text.splitlines()
    tree = _quickly_parsed(text) or _parsed(text, shown, lines)
    builder = _Builder(shown, lines)
    if not isinstance(tree, yaml.MappingNode):
        place = builder.place(tree) if tree is not None else Place(shown, 1, 1, *lines[:1])
        message = "a scene file holds fields such as 'room:' and 'lights:', and this is none"
        advice = "Begin with 'previz: 1' and 'title: ...' on lines of their own."
        raise SceneError([place.problem(message, advice)])
    return builder.build(tree, 1), builder.problems


def _parsed(text: str, shown: str, lines: list[str]) -> yaml.Node | None:
    """Return the tree by the parser in Python, None of a file without any; errors as for `compose`."""
    try:
        loader = _Loader(text)
        try:
            return loader.get_single_node()
        finally:
            loader.dispose()
    except yaml.reader.ReaderError as error:
        raise SceneError([syntax.problem_of_character(error, text, shown)]) from None
    except yaml.MarkedYAMLError as error:
        raise SceneError([syntax.problem_of(error, shown, lines)]) from None
    except (ValueError, OverflowError):
        # The parser lets these out for an escape such as "\\UFFFFFFFF".
        error = yaml.MarkedYAMLError(
            problem="a '\\' in quotes names a character that does not exist",
            problem_mark=loader.get_mark(),
        )
        error.advice = "Write the character itself."
        raise SceneError([syntax.problem_of(error, shown, lines)]) from None


class _Builder:
    """Turns the parser's nodes into ours, with aliases written out."""

    def __init__(self, shown, lines):
        self.problems = []
        self._shown = shown
        self._lines = lines
        self._built = 0
        self._open = set()

    def place(self, node):
        mark = node.start_mark
        line = self._lines[mark.line] if mark.line < len(self._lines) else ""
        return Place(self._shown, mark.line + 1, mark.column + 1, line)

    def _note(self, place, message, advice):
        self.problems.append(place.problem(message, advice))

    def build(self, node, depth):
        place = self.place(node)
        self._built += 1
        if id(node) in self._open:
            raise SceneError([place.problem(*_ENDLESS)])
        if self._built > GREATEST_NODES:
            raise SceneError([place.problem(*_TOO_MANY)])
        if depth > GREATEST_DEPTH:
            raise SceneError([place.problem(*_TOO_DEEP)])
        if node.tag not in _PLAIN_TAGS:
            message = f"the tag {quote(node.tag)} has no meaning in a scene"
            self._note(place, message, "Leave out the word that begins with '!'.")
        if isinstance(node, yaml.ScalarNode):
            return Text(place, node.value, not node.style)
        self._open.add(id(node))
        if isinstance(node, yaml.SequenceNode):
            made = List(place, tuple(self.build(each, depth + 1) for each in node.value))
        else:
            made = self._build_map(node, place, depth)
        self._open.discard(id(node))
        return made

    def _build_map(self, node, place, depth):
        entries = {}
        for key_node, value_node in node.value:
            key_place = self.place(key_node)
            value = self.build(value_node, depth + 1)
            if not isinstance(key_node, yaml.ScalarNode):
                self._note(key_place, "a field's name must be one word", "Write 'name: value'.")
                continue
            key = self.build(key_node, depth + 1)
            if key.text == "<<" and key.plain:
                message = "merging by '<<' is not part of the scene format"
                advice = "Write the fields out; an option can say 'like:' another option."
                self._note(key_place, message, advice)
            elif key.text in entries:
                first = entries[key.text][0].place.line
                message = f"{quote(key.text)} is written twice here, first on line {first}"
                self._note(key_place, message, "Keep one of the two.")
            else:
                entries[key.text] = (key, value)
        return Map(place, entries)


_PLAIN_TAGS = tuple(f"tag:yaml.org,2002:{sort}" for sort in ("str", "seq", "map"))
