"""Scene file in, checked scenes out, or every problem at once.

text -> tree with places -> one tree for each option -> records -> checks
"""

from __future__ import annotations

import dataclasses
import itertools
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from previz.errors import Problem, RequestError, SceneError
from previz.scene import check, earlier, nodes
from previz.scene.fields import INVALID, table
from previz.scene.light import Glow
from previz.scene.nodes import Map, Text
from previz.scene.options import apply_all
from previz.scene.reading import read_record, refuse_unknown
from previz.scene.records import Place, Target
from previz.scene.scene import Scene
from previz.scene.values import Reading
from previz.scene.words import did_you_mean, listed
from previz.units import quote

VERSION = "1"
"""The only version of the scene format."""


@dataclass(frozen=True)
class SceneFile:
    """A scene file without problems.

    Parameters
    ----------
    path : Path
        The file.
    title : str
        The scene's title; '' for none.
    option_names : tuple of str
        Its options, in the order written.
    scenes : dict of str to Scene
        By option; '' is the scene as it is.
    options_place : Place
        Where the options are written.
    earlier : tuple of Problem
        Words of earlier files in it, which are called otherwise now; they were read as that.
    tree : Map
        What was read.
    """

    path: Path
    title: str
    option_names: tuple[str, ...]
    scenes: Mapping[str, Scene]
    options_place: Place
    earlier: tuple[Problem, ...] = ()
    tree: Map = dataclasses.field(default=Map(Place(), {}), compare=False, repr=False)

    def scene(self, option: str | None = None) -> Scene:
        """Return the scene with an option applied.

        Parameters
        ----------
        option : str or None
            An option's name; None or '' for the scene as it is.

        Raises
        ------
        SceneError
            There is no such option.
        """
        found = self.scenes.get(option or "")
        if found is None:
            advice = (
                f"{did_you_mean(option, self.option_names)}"
                f"The options are: {listed(self.option_names)}."
            )
            raise SceneError(
                [self.options_place.problem(f"there is no option {quote(option)}", advice)]
            )
        return found

    def moved(self, option: str, changes: Mapping[str, object]) -> Scene:
        """Return the scene of an option with more changes laid over it, as an option like it would have them.

        Parameters
        ----------
        option : str
            '' for the scene as it is.
        changes : mapping
            Plain values, as the file has an option: `{'lights': {'key': {'at': ['1 m', '2 m', '3 m']}}}`,
            `{'remove': ['card']}`, `{'add': {'lights': [{'name': 'rim', 'kind': 'fresnel', ...}]}}`.

        Raises
        ------
        RequestError
            The changes make no scene; every reason is in it.
        """
        before = self.scene(option)
        written = self.tree.get("options")
        entries = dict(written.entries) if isinstance(written, Map) else {}
        name = next(each for each in _spare_names() if each not in entries)
        body = {key: value for key, value in changes.items() if key != "like"}
        text = json.dumps({name: {**({"like": option} if option else {}), **body}}, ensure_ascii=False)
        kept = {option: entries[option]} if option in entries else {}
        while (like := _like(kept)) in entries and like not in kept:
            kept = {like: entries[like], **kept}
        try:
            # A line of its own would be shown in a message, and the person has written none.
            laid, problems = nodes.compose(text, MOVED)
            key = Text(Place(MOVED), "options")
            tree = self.tree.having({"options": (key, Map(Place(MOVED), {**kept, **laid.entries}))})
            found = load_tree(tree, self.path, problems).scene(name)
        except SceneError as error:
            # Nobody has written an option of that name.
            said = "\n".join(f"{each.message.removeprefix(f'with option {quote(name)}, ')}. {each.advice}"
                             for each in error.problems).replace(f"option {quote(name)}", MOVED)
            raise RequestError(said) from None
        return dataclasses.replace(found, option=before.option)


MOVED = "what was moved"
"""What messages call changes that stand in no file."""


def _spare_names() -> Iterator[str]:
    yield "moved"
    yield from (f"moved {number}" for number in itertools.count(2))


def _like(entries: Mapping[str, tuple[Text, nodes.Node]]) -> str:
    """Return the option that the first of some options is like, '' for none."""
    for _, node in entries.values():
        like = node.get("like") if isinstance(node, Map) else None
        return like.text if isinstance(like, Text) else ""
    return ""


def load(path: str | os.PathLike[str]) -> SceneFile:
    """Return a scene file with all its options, read and checked.

    Parameters
    ----------
    path : path-like
        The file.

    Returns
    -------
    SceneFile
        Every scene of it is complete: no field holds `INVALID`.

    Raises
    ------
    SceneError
        With every problem of the file and of all its options.
    """
    shown, path = os.fspath(path), Path(path)
    tree, problems = nodes.compose(nodes.read_text(path, shown), shown)
    return load_tree(tree, path, problems)


def load_tree(tree: Map, path: Path, problems: list[Problem]) -> SceneFile:
    """Return a scene file from its tree; as `load`, with the problems found while it was composed."""
    try:
        base = path.parent.resolve()
    except (OSError, RuntimeError):
        base = path.parent.absolute()
    reading = Reading(base)
    for each in problems:
        reading.problems[(each.line, each.column, each.message)] = each
    _check_version(reading, tree)
    tree = earlier.taken_up(reading, tree)
    refuse_unknown(reading, tree, ("previz", "options", *table(Scene)), "a scene", "section")
    scenes = {"": _scene(reading, tree, "")}
    for place, message, advice in check.faults(scenes[""]):
        reading.refuse(place, message, advice)
    # A fault of the scene as it is, or of the option that this one is like, is reported once.
    reported = set(reading.problems)
    for option, applied in apply_all(reading, tree).items():
        changed = Reading(base, seen=reading.seen, earlier=reading.earlier)
        scenes[option] = _scene(changed, applied.tree, option)
        for place, message, advice in check.faults(scenes[option], applied.removed):
            changed.refuse(place, message, advice)
        for key, problem in changed.problems.items():
            if key not in reported:
                reported.add(key)
                message = f"with option {quote(option)}, {problem.message}"
                reading.problems[(*key[:2], message)] = dataclasses.replace(
                    problem, message=message
                )
    if reading.problems:
        raise SceneError(reading.problems.values())
    node = tree.get("options")
    return SceneFile(
        path=path,
        title=scenes[""].title,
        option_names=tuple(name for name in scenes if name),
        scenes=scenes,
        options_place=node.place if node else Place(tree.place.file),
        earlier=tuple(problem for _, problem in sorted(reading.earlier.items())),
        tree=tree,
    )


def _check_version(reading, tree):
    node = tree.get("previz")
    if node is None:
        message = "the file does not say which version of the scene format it is written in"
        reading.refuse(tree.place, message, f"Begin it with a line 'previz: {VERSION}'.")
    elif isinstance(node, Text) and node.text.isdecimal() and int(node.text[:9]) > int(VERSION):
        message = f"the file is for a newer previz: version {node.text[:9]} of the scene format"
        advice = f"Use that previz. This one reads version {VERSION}."
        # What else is in it is not known here.
        raise SceneError([node.place.problem(message, advice)])
    elif not isinstance(node, Text) or node.text != VERSION:
        shown = quote(node.text) if isinstance(node, Text) else "this"
        message = f"{shown} is no version of the scene format"
        reading.refuse(node.place, message, f"Write 'previz: {VERSION}'.")


def _scene(reading, tree, option):
    made = read_record(reading, tree, Scene, "")
    if any(isinstance(light, Glow) for light in made.lights):
        made = dataclasses.replace(made, lights=tuple(_placed(light, made) for light in made.lights))
    return dataclasses.replace(made, base=reading.base, option=option)


def _placed(light, scene):
    """Return a lamp that is a piece with the place of that."""
    if not isinstance(light, Glow) or not isinstance(light.piece, Target):
        return light
    piece = next((each for each in scene.pieces if each.name == light.piece.name), None)
    if piece is None or INVALID in (piece.at, piece.size):
        return dataclasses.replace(light, at=(0.0, 0.0, 0.0))
    x, y, z = piece.at
    return dataclasses.replace(light, at=(x, y, z + (piece.size[2] / 2 if piece.size else 0.0)))
