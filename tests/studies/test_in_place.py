"""A changed scene written over what its file says."""

import pytest

from previz.errors import DataError, RequestError, SceneError
from previz.scene.read import load
from previz.studies.in_place import write_in_place

YARD = """\
previz: 1
ground: gravel   # raked
daylight: {sky: overcast, illuminance: 8000 lx}
lights:
  - {name: key, kind: soft box, at: [1 m, 1 m, 2 m], aim: [2 m, 2 m, 1 m], size: [1 m, 1 m], output: 9000 lm}
  # a spare
  - {name: rim, kind: panel, at: [3 m, 1 m, 2 m], aim: [2 m, 2 m, 1 m], size: [1 m, 1 m], output: 900 lm}
figures:
  - {name: guard, at: [2 m, 2 m], facing: A, marks: [{name: gate, at: [3 m, 3 m]}]}
boards:
  - {name: card, at: [1 m, 3 m, 1 m], facing: [2 m, 3 m, 1 m], size: [1 m, 1 m]}
cameras:
  - {name: A, at: [5 m, 5 m, 1.5 m], aim: guard, lens: 35 mm, stop: T2.8, iso: 800}
options:
  plain: {}
  near:
    lights: {key: {at: [1.5 m, 1 m, 2 m]}}
  nearer: {like: near, remove: [card]}
"""

MOVED = {"lights": {"key": {"at": ["0.5 m", "1 m", "2 m"]}}}


@pytest.fixture
def yard(tmp_path):
    """The file of a yard."""
    path = tmp_path / "yard.yaml"
    path.write_text(YARD, encoding="utf-8")
    return path


def written(path, option, moves, *, everywhere):
    """Write moves into a file; return who followed, and the lines that came and went."""
    file = load(path)
    after = file.moved(option, moves)
    followed = write_in_place(file, option, after, path.read_bytes(), everywhere=everywhere)
    again = load(path)
    assert again.scene(option) == after
    now = path.read_text(encoding="utf-8").splitlines()
    was = YARD.splitlines()
    lines = [*("-" + each for each in was if each not in now),
             *("+" + each for each in now if each not in was)]
    return followed, lines


def test_a_lamp_has_its_new_place_where_the_old_one_stood(yard):
    """Of the scene as written; options that have the place from there follow, one with its own does not."""
    followed, lines = written(yard, "", MOVED, everywhere=False)
    assert followed == ("plain",)
    key = YARD.splitlines()[4]
    assert lines == [f"-{key}", f"+{key.replace('1 m, 1 m, 2', '0.5 m, 1 m, 2')}"]


def test_an_option_alone(yard):
    """What is written into an option changes those that are like it, and no other."""
    followed, lines = written(yard, "near", {**MOVED, "remove": ["rim"]}, everywhere=False)
    assert followed == ("nearer",)
    assert lines == ["-    lights: {key: {at: [1.5 m, 1 m, 2 m]}}",
                     "+    lights: {key: {at: [0.5 m, 1 m, 2 m]}}", "+    remove: [rim]"]


def test_a_place_that_an_option_has_from_the_scene(yard):
    """Everywhere: the scene's own line is changed; in the option alone: it gets one of its own."""
    card = {"boards": {"card": {"at": ["1 m", "3 m", "1.4 m"]}}}
    followed, lines = written(yard, "near", card, everywhere=False)
    assert followed == () and lines == ["+    boards: {card: {at: [1 m, 3 m, 1.4 m]}}"]
    yard.write_text(YARD, encoding="utf-8")
    followed, lines = written(yard, "near", card, everywhere=True)
    assert followed == ("", "plain")
    assert [line[:1] for line in lines] == ["-", "+"] and "1.4 m" in lines[1]


def test_put_in_taken_out_turned_and_walked_to_a_mark(yard):
    """Lamps, figures, sheets and cameras alike; a mark is written as the mark."""
    hair = {"name": "hair", "kind": "panel", "at": ["2 m", "4 m", "3 m"], "aim": "guard.crown",
            "size": ["0.3 m", "0.3 m"], "output": "600 lm"}
    moves = {"add": {"lights": [hair]}, "remove": ["rim"], "figures": {"guard": {"mark": "gate"}},
             "cameras": {"A": {"lens": "50 mm"}}}
    followed, lines = written(yard, "", moves, everywhere=True)
    assert followed == ("plain", "near", "nearer")
    assert ("+  - {name: guard, at: [2 m, 2 m], facing: A, marks: [{name: gate, at: [3 m, 3 m]}], mark: gate}"
            in lines)
    assert "+  - {name: hair, kind: panel, at: [2 m, 4 m, 3 m], aim: guard.crown, output: 600 lm, " in (
        "".join(lines))
    assert "  # a spare" in yard.read_text(encoding="utf-8").splitlines()


def test_what_would_change_something_else_is_refused(yard):
    """Two lamps share a place by an alias: to change the one's would change the other's. The file stays."""
    text = YARD.replace("at: [1 m, 1 m, 2 m]", "at: &place [1 m, 1 m, 2 m]")
    text = text.replace("at: [3 m, 1 m, 2 m]", "at: *place")
    yard.write_text(text, encoding="utf-8")
    file = load(yard)
    with pytest.raises((DataError, SceneError)):
        write_in_place(file, "", file.moved("", MOVED), yard.read_bytes(), everywhere=True)
    assert yard.read_text(encoding="utf-8") == text


def test_what_an_option_needs_is_not_taken_out(yard):
    """An option takes the card out itself: the scene without one would be refused."""
    file = load(yard)
    with pytest.raises(SceneError, match="card"):
        write_in_place(file, "", file.moved("", {"remove": ["card"]}), yard.read_bytes(), everywhere=True)
    assert yard.read_text(encoding="utf-8") == YARD


def test_refusals(yard):
    """Nothing to write, another file than was read, one that may only be read, no scene at all."""
    file = load(yard)
    with pytest.raises(DataError, match="nothing is changed"):
        write_in_place(file, "", file.scene(), yard.read_bytes(), everywhere=True)
    moved = file.moved("", MOVED)
    with pytest.raises(DataError, match="changed meanwhile"):
        write_in_place(file, "", moved, YARD.replace("raked", "wet").encode(), everywhere=True)
    yard.chmod(0o444)
    with pytest.raises(DataError, match="only be read"):
        write_in_place(file, "", moved, yard.read_bytes(), everywhere=True)
    assert yard.read_text(encoding="utf-8") == YARD
    with pytest.raises(RequestError, match="nothing has that name"):
        file.moved("", {"cameras": {"A": {"aim": "nobody"}}})
    with pytest.raises(RequestError, match="no light has that name"):
        file.moved("near", {"lights": {"nobody": {"on": "no"}}})
