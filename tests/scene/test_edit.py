"""Edits of a scene file's text: what is changed, and that all else stays as it was."""

import pytest
import yaml

from previz.scene.edit import EditError, Edits
from previz.scene.records import Place

TEXT = """\
# A yard.
previz: 1   # the version
lights:
  - {name: key, at: [1 m, 2 m, 3 m], output: 9000 lm}  # from the door
  - name: rim      # block style
    at:
      - 1 m
      - 2 m
      - 3 m   # high
    kind: fresnel
boards: [{name: card}, {name: sheet}]
flags:
  - {name: cutter}

# What may be tried.
options:
  none yet: {}
  empty:
  direct:
    remove: [card]
    lights: {key: {aim: rim}}   # straight
"""


def place_of(text: str, what: str) -> Place:
    """Return where something is first found."""
    before = text[: text.index(what)]
    return Place("", before.count("\n") + 1, len(before) - before.rfind("\n"))


def edited(*steps, text=TEXT) -> str:
    """Return the text after edits, each a method's name with what it takes; a word stands for its place."""
    edits = Edits(text)
    for name, at, *more in steps:
        getattr(edits, name)(place_of(text, at) if isinstance(at, str) else at, *more)
    return edits.made()


def differences(before: str, after: str) -> list[str]:
    """Return the lines that only one of two texts has."""
    one, other = before.splitlines(), after.splitlines()
    return [*("-" + each for each in one if each not in other),
            *("+" + each for each in other if each not in one)]


@pytest.mark.parametrize(("step", "expected"), [
    (("value", "[1 m, 2 m", "[0 m, 0 m, 1 m]"), [
        "-  - {name: key, at: [1 m, 2 m, 3 m], output: 9000 lm}  # from the door",
        "+  - {name: key, at: [0 m, 0 m, 1 m], output: 9000 lm}  # from the door"]),
    (("value", "fresnel", "panel"), ["-    kind: fresnel", "+    kind: panel"]),
    (("value", "- 1 m", "[0 m, 0 m, 1 m]"), [
        "-      - 1 m", "-      - 2 m", "-      - 3 m   # high", "+      [0 m, 0 m, 1 m]   # high"]),
    (("field", "{name: key", "aim: rim"), [
        "-  - {name: key, at: [1 m, 2 m, 3 m], output: 9000 lm}  # from the door",
        "+  - {name: key, at: [1 m, 2 m, 3 m], output: 9000 lm, aim: rim}  # from the door"]),
    (("field", "name: rim", "dimmer: 40 %"), ["+    dimmer: 40 %"]),
    (("gone", "{name: key"), ["-  - {name: key, at: [1 m, 2 m, 3 m], output: 9000 lm}  # from the door"]),
    (("gone", "{name: card"), ["-boards: [{name: card}, {name: sheet}]", "+boards: [{name: sheet}]"]),
    (("gone", "{name: sheet"), ["-boards: [{name: card}, {name: sheet}]", "+boards: [{name: card}]"]),
    (("gone", "{name: cutter"), ["-  - {name: cutter}", "+  []"]),
    (("item", ("lights",), "{name: new}"), ["+  - {name: new}"]),
    (("item", ("boards",), "{name: new}"), [
        "-boards: [{name: card}, {name: sheet}]", "+boards: [{name: card}, {name: sheet}, {name: new}]"]),
    (("item", ("nets",), "{name: new}"), ["+nets:", "+  - {name: new}"]),
    (("under", ("options", "direct", "lights", "key", "at"), "[0 m]"), [
        "-    lights: {key: {aim: rim}}   # straight",
        "+    lights: {key: {aim: rim, at: [0 m]}}   # straight"]),
    (("under", ("options", "direct", "lights", "key", "aim"), "card"), [
        "-    lights: {key: {aim: rim}}   # straight", "+    lights: {key: {aim: card}}   # straight"]),
    (("under", ("options", "none yet", "lights", "key", "aim"), "card"), [
        "-  none yet: {}", "+  none yet: {lights: {key: {aim: card}}}"]),
    (("under", ("options", "empty", "lights", "key", "aim"), "card"), [
        "-  empty:", "+  empty: {lights: {key: {aim: card}}}"]),
    (("item", ("options", "direct", "remove"), "rim"), [
        "-    remove: [card]", "+    remove: [card, rim]"]),
    (("item", ("options", "direct", "add", "flags"), "{name: new}"), ["+    add: {flags: [{name: new}]}"]),
])
def test_one_edit_changes_its_lines_alone(step, expected):
    """Comments, order and the other lines stay; what comes of it is read as it was meant."""
    made = edited(step)
    assert differences(TEXT, made) == expected
    yaml.safe_load(made)


def test_many_edits_at_once():
    """Values that need new groups share them; several things go to one list."""
    made = edited(("under", ("options", "empty", "lights", "key", "at"), "[0 m]"),
                  ("under", ("options", "empty", "lights", "key", "on"), "no"),
                  ("under", ("options", "empty", "lights", "rim", "on"), "no"),
                  ("item", ("options", "empty", "add", "nets"), "{name: one}"),
                  ("item", ("options", "empty", "add", "nets"), "{name: two}"),
                  ("item", ("nets",), "{name: three}"), ("item", ("nets",), "{name: four}"))
    read = yaml.load(made, Loader=yaml.BaseLoader)
    assert read["options"]["empty"] == {
        "lights": {"key": {"at": ["0 m"], "on": "no"}, "rim": {"on": "no"}},
        "add": {"nets": [{"name": "one"}, {"name": "two"}]}}
    assert read["nets"] == [{"name": "three"}, {"name": "four"}]
    assert made.index("nets:") < made.index("options:")


def test_lines_end_as_they_did():
    """A file with the other line ending keeps it, and one whose last line has none."""
    made = edited(("item", ("lights",), "{name: new}"), text=TEXT.replace("\n", "\r\n"))
    assert made.replace("\r\n", "").count("\n") == 0 and "\r\n  - {name: new}\r\n" in made
    assert edited(("item", ("lights",), "{name: b}"), text="lights:\n  - {name: a}") == (
        "lights:\n  - {name: a}\n  - {name: b}\n")


@pytest.mark.parametrize(("steps", "words"), [
    ([("value", Place("", 99, 1), "x")], "nothing stands"),
    ([("field", "fresnel", "a: b")], "no group begins"),
    ([("gone", "{aim: rim")], "in no list"),
    ([("value", "[1 m, 2 m", "x"), ("value", "[1 m, 2 m", "y")], "meet in one place"),
    ([("under", ("previz", "a"), "b")], "no place to stand"),
])
def test_what_cannot_be_edited_is_refused(steps, words):
    """Rather than guessed at."""
    with pytest.raises(EditError, match=words):
        edited(*steps)
