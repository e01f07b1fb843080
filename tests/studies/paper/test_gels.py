"""Gel and cloth: what is covered, what is cut, and that a roll is never counted shorter than it must be."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.studies.paper import cutting
from previz.studies.paper.cutting import MOST_EXACT, SEAM, laid, roll_length, strips
from previz.studies.paper.gels import MARGIN, ROLL, sheet_lines, sheet_notes
from tests.studies.paper.listed import workshop

sides = st.integers(1, 24).map(lambda k: k / 10)
pieces = st.lists(st.tuples(sides, sides), min_size=1, max_size=6)
narrow = st.lists(st.tuples(st.integers(1, 12).map(lambda k: k / 10), sides), min_size=1, max_size=14)


@pytest.fixture(scope="module")
def lists(tmp_path_factory):
    return workshop(str(tmp_path_factory.getbasetemp()))


def sheet(lists, what, option="evening"):
    return next((line for line in lists[option][3].sheets if line.what == what), None)


def test_two_gels_lie_side_by_side():
    """Two squares of 0.3 m in 1.22 m: 0.3 m of the roll; five of them need a second row, 0.6 m."""
    assert roll_length([(0.3, 0.3)] * 2, 1.22) == pytest.approx(0.3)
    assert roll_length([(0.3, 0.3)] * 4, 1.22) == pytest.approx(0.3)
    assert roll_length([(0.3, 0.3)] * 5, 1.22) == pytest.approx(0.6)
    # Turned, 2.0 x 0.6 and 2.0 x 0.6 lie side by side along 2.0 m of it.
    assert roll_length([(2.0, 0.6), (0.6, 2.0)], 1.22) == pytest.approx(2.0)
    assert roll_length([], 1.22) == 0


def test_what_is_wider_than_the_roll_is_joined_of_strips():
    """2 x 2 m of 1.22 m: two strips with one seam of 3 cm are 1.015 m wide each, one behind the other."""
    assert strips((2.0, 2.0), 1.22) == [(pytest.approx(1.015), 2.0)] * 2
    assert roll_length([(2.0, 2.0)], 1.22) == pytest.approx(4.0)
    # As wide as the roll is no seam; 1.23 m takes two, and 2.41 m (two rolls less a seam) no third.
    assert len(strips((1.22, 3.0), 1.22)) == 1 and len(strips((1.23, 3.0), 1.22)) == 2
    assert len(strips((2.41, 3.0), 1.22)) == 2 and len(strips((2.42, 3.0), 1.22)) == 3


@given(st.tuples(sides, sides), st.floats(0.3, 2.0))
def test_strips_cover_the_piece(piece, width):
    made = strips(piece, width)
    across = sum(min(side, other) for side, other in made) - (len(made) - 1) * SEAM
    if len(made) > 1:
        assert across == pytest.approx(min(piece))
    assert all(min(each) <= width + 1e-6 for each in made)


@settings(max_examples=40, deadline=None)
@given(pieces)
def test_a_roll_is_long_enough_and_never_longer_than_piece_after_piece(cuts):
    """At least the area over the width, and the longest piece's shorter side; at most one after another."""
    made = [strip for cut in cuts for strip in strips(cut, ROLL)]
    length = roll_length(cuts, ROLL)
    assert length * ROLL >= sum(a * b for a, b in made) - 1e-9
    # A side that is wider than the roll lies along it.
    assert length >= max(max(cut) if max(cut) > ROLL else min(cut) for cut in made) - 1e-9
    assert length <= sum(max(cut) if max(cut) > ROLL else min(cut) for cut in made) + 1e-9


def by_hand(cuts, width):
    """The best rows of all orders, orientations and cuts between them, tried one by one."""
    best = math.inf
    for order in itertools.permutations(cuts):
        for turned in itertools.product(*[{cut, cut[::-1]} for cut in order]):
            for cuts_after in range(1 << (len(order) - 1)):
                rows, row = [], []
                for k, cut in enumerate(turned):
                    row.append(cut)
                    if k == len(turned) - 1 or cuts_after >> k & 1:
                        rows.append(row)
                        row = []
                if all(sum(across for across, _ in row) <= width + 1e-9 for row in rows):
                    best = min(best, sum(max(along for _, along in row) for row in rows))
    return best


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(sides, st.integers(1, 12).map(lambda k: k / 10)), min_size=1, max_size=4))
def test_rows_are_the_best_of_all(cuts):
    assert cutting._shortest(tuple(cuts), 1.2) == pytest.approx(by_hand(cuts, 1.2))
    assert roll_length(cuts, 1.2) <= by_hand(cuts, 1.2) + 1e-9


@settings(max_examples=40, deadline=None)
@given(narrow)
def test_pieces_that_are_laid_lie_on_the_roll_and_not_on_each_other(cuts):
    placed = laid(cuts, 1.2)
    assert sorted(tuple(sorted(place[2:])) for place in placed) == sorted(tuple(sorted(cut)) for cut in cuts)
    for start, far, across, along in placed:
        assert start >= 0 and far >= -1e-9 and start + across <= 1.2 + 1e-6 and along > 0
    for (a, b, w, h), (c, d, v, k) in itertools.combinations(placed, 2):
        assert min(a + w, c + v) - max(a, c) < 1e-6 or min(b + h, d + k) - max(b, d) < 1e-6


def test_many_pieces_are_filled_in():
    """Forty squares of 0.3 m: four to a row, ten rows."""
    assert MOST_EXACT < 40
    assert roll_length([(0.3, 0.3)] * 40, 1.22) == pytest.approx(3.0)


def test_a_roll_narrower_than_a_seam_is_refused():
    with pytest.raises(ValueError, match="wider than a seam"):
        roll_length([(1.0, 1.0)], 0.02)


def test_gels_of_round_faces(lists):
    """Two lenses of 0.2 m: discs of 3.14 dm²; with the margin squares of 0.3 m, and 0.3 m of the roll."""
    assert MARGIN == 0.05
    line = sheet(lists, "half ctb")
    assert line.of == ("key", "rim") and line.use == "gel"
    assert line.area == pytest.approx(2 * math.pi * 0.1**2)
    assert line.cuts == (("key", pytest.approx(0.3), pytest.approx(0.3)),
                         ("rim", pytest.approx(0.3), pytest.approx(0.3)))
    assert line.order == pytest.approx(0.3 * ROLL) and line.waste == pytest.approx(1 - line.area / line.order)
    assert "hot lamp" in line.note


def test_what_glows_itself_has_no_gel(lists):
    assert sheet(lists, "full plus green") is None


def test_windows_frames_flags_and_nets(lists):
    window = sheet(lists, "window gel full cto")
    assert (window.use, window.area, window.of) == ("window gel", pytest.approx(1.5 * 1.2), ("window",))
    assert sheet(lists, "window gel full cto", "night") is None
    silk = sheet(lists, "half silk")
    assert (silk.use, silk.area, silk.of) == ("diffusion", pytest.approx(1.44), ("silk",))
    assert "flame-retardant" in silk.note and not sheet(lists, "full silk").note
    assert sheet(lists, "half silk", "night") is None
    net = sheet(lists, "double net")
    assert (net.use, net.area) == ("net", pytest.approx(0.36)) and "ready-made" in net.note
    # A skirt of 0.3 m round 1.5 x 1 m, a board of 2.4 x 1.2 m, a flag of 0.6 x 0.3 m.
    black = sheet(lists, "black cloth")
    assert black.area == pytest.approx(5 * 0.3 + 2.4 * 1.2 + 0.6 * 0.3)
    assert set(black.of) == {"over", "wall", "cutter"}


def test_margin_seam_and_roll_are_stated(lists):
    note, = sheet_notes(lists["evening"][3].sheets)
    assert "50 mm larger" in note and "1.22 m wide" in note and "30 mm" in note
    # 50 mm are 1.97", 1.22 m 4' 0.03", 30 mm 1.18".
    note, = sheet_notes(lists["evening"][3].sheets, "imperial")
    assert '2" larger' in note and """4' 0" wide""" in note and '1 1/4"' in note
    assert sheet_notes([]) == ()


def test_sums_of_a_list(lists):
    """Orders are what rolls give; what is covered and what is lost make up all of it."""
    for scene, stage, tags, set_up in lists.values():
        for line in set_up.sheets:
            assert line.order >= line.area and 0 <= line.waste < 1
            assert line.order * (1 - line.waste) == pytest.approx(line.area)
            assert line.order == pytest.approx(ROLL * roll_length([cut[1:] for cut in line.cuts], ROLL))
            assert {name for name, *_ in line.cuts} == set(line.of)
        wider = {(line.use, line.what): line for line in sheet_lines(scene, stage, tags, 3.0)}
        assert wider["diffusion", "full silk"].order == pytest.approx(3.0 * 1.9)
