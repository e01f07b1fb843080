"""How problems are put into words."""

import pickle

from previz.errors import DataError, EngineError, Problem, SceneError
from previz.scene.piece import Piece
from previz.scene.records import INVALID
from previz.scene.words import MOST_LISTED, listed


def test_problem_shows_the_line_and_the_place():
    """A problem is written with its place, its line, a caret and the advice."""
    problem = Problem("yard.yaml", 4, 5, "a is wrong", "Write b.", "    a: 1")
    assert str(problem) == (
        "yard.yaml:4:5: a is wrong.\n    4 |     a: 1\n      |     ^\n  Write b."
    )


def test_long_lists_are_cut_where_they_are_told():
    """As many words as one reads, and how many more there are."""
    words = [f"w{k}" for k in range(MOST_LISTED + 3)]
    assert listed(words) == ", ".join(words[:MOST_LISTED]) + " and 3 more"
    assert listed(words[:MOST_LISTED]) == ", ".join(words[:MOST_LISTED])
    assert listed([]) == "none"


def test_what_has_no_name_is_told_by_what_it_is(tmp_path):
    """A thing whose name cannot be read is still called something in other messages."""
    assert Piece(name="desk", at=(0.0, 0.0)).label == "piece 'desk'"
    assert Piece(name=INVALID, at=(0.0, 0.0)).label == "a piece without a name"


def test_problem_of_a_whole_file_has_no_line():
    """A problem without a line names only the file."""
    assert str(Problem("yard.yaml", 0, 0, "gone.", "Look.")) == "yard.yaml: gone.\n  Look."


def test_long_lines_are_cut_round_the_place():
    """A long line is shown round the place, and the caret still stands under it."""
    line = "x" * 500 + "Y" + "z" * 500
    shown, caret = str(Problem("a", 1, 501, "m", "", line)).split("\n")[1:3]
    assert shown[caret.index("^")] == "Y"
    assert len(shown) < 120
    first, caret = str(Problem("a", 1, 1, "m", "", "Y" + line)).split("\n")[1:3]
    assert first[caret.index("^")] == "Y"
    last, caret = str(Problem("a", 1, 1002, "m", "", line + "Y")).split("\n")[1:3]
    assert last[caret.index("^")] == "Y"


def test_tabs_and_control_characters_do_not_move_the_caret():
    """Characters that a terminal would act on are shown as one space each."""
    shown, caret = str(Problem("a", 1, 4, "m", "", "\t\x1b\tY")).split("\n")[1:3]
    assert shown[caret.index("^")] == "Y"
    assert "\x1b" not in shown


def test_scene_error_sorts_its_problems():
    """Problems are reported from the top of the file to its end, however they were found."""
    late, early = (Problem("a", line, 1, "m", "") for line in (10, 9))
    assert SceneError(iter([late, early])).problems == (early, late)
    assert str(SceneError([late, early])) == "a:9:1: m.\na:10:1: m."


def test_errors_carry_message_and_advice():
    """Errors of the engine and of data keep their two parts, and survive being sent elsewhere."""
    for cls in (EngineError, DataError):
        error = pickle.loads(pickle.dumps(cls("no backend", "Install one.")))
        assert (error.message, error.advice) == ("no backend", "Install one.")
        assert str(error) == "no backend.\n  Install one."
    error = pickle.loads(pickle.dumps(SceneError([Problem("a", 1, 1, "m", "")])))
    assert str(error) == "a:1:1: m."
