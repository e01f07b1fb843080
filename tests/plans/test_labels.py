"""Names that keep clear of each other, strips whose figures keep apart, lines within boxes."""

import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely

from previz.plans import dimensions
from previz.plans.clip import clipped, lengths_within
from previz.plans.labels import RADIUS, Around, Label, Line, placed, segments
from previz.plans.lettering import corners
from previz.plans.marks import bounds_of, in_metres
from previz.plans.records import Disc, Shape, Words

sys.path.insert(0, str(Path(__file__).parent))

FIELD = np.zeros(2), np.array([120.0, 80.0])


def square(x, y, half=1.0):
    return np.array([[x - half, y - half], [x + half, y + half]])


def crowd(count, seed=7):
    """Return labels of things that lie close together."""
    places = np.random.default_rng(seed).uniform(30, 60, (count, 2))
    more = Line("FR · h 2.35 m", 2.1)
    return [Label(f"lamp {k}", (Line(f"lamp {k}", 2.4, True), more), square(*at), str(k + 1))
            for k, at in enumerate(places)]


def meet(one, two):
    return shapely.box(*one.box).intersection(shapely.box(*two.box)).area > 1e-6


def test_names_of_a_crowd_keep_clear_and_stay_in_the_field():
    found = placed(crowd(14), Around(*FIELD))
    assert len(found) == 14
    assert not any(meet(one, two) for one, two in combinations(found, 2))
    for each in found:
        assert np.all(each.box[:2] >= 0)
        assert np.all(each.box[2:] <= FIELD[1])


def test_a_lone_name_stands_beside_its_thing_without_a_leader():
    found, = placed(crowd(1), Around(*FIELD))
    assert found.leader is None
    assert 0 < shapely.box(*found.box).distance(shapely.box(*found.label.solid.ravel())) < 1.5


def test_names_are_set_alike_each_time():
    one, two = (placed(crowd(9), Around(*FIELD)) for _ in range(2))
    assert all(np.array_equal(a.box, b.box) for a, b in zip(one, two, strict=True))


def test_a_name_that_has_no_room_is_left_out_where_it_may_be_and_led_away_where_not():
    shut = np.array([[30.0, 20.0, 90.0, 60.0]])
    label = Label("mug", (Line("mug"),), square(60, 40), optional=True)
    assert placed([label], Around(*FIELD, shut=shut)) == []
    must = Label("key", (Line("key"),), square(60, 40), "1")
    found, = placed([must], Around(*FIELD, shut=shut))
    assert shapely.box(*found.box).disjoint(shapely.box(*shut[0]))
    # From the circle round its number to the thing itself.
    ring, = (mark for mark in found.marks() if isinstance(mark, Disc))
    assert np.hypot(*(found.leader[0] - ring.at)) == pytest.approx(RADIUS)
    assert shapely.box(*must.solid.ravel()).distance(shapely.Point(found.leader[1])) < 1e-9


def test_lines_are_avoided_where_there_is_a_choice():
    # A line right of the thing, where a name would stand first.
    label = crowd(1)[0]
    x, y = label.solid.mean(axis=0)
    line = np.array([[x + 4, y - 30, x + 4, y + 30]])
    found, = placed([label], Around(*FIELD, lines=line, weights=np.array([5.0])))
    assert lengths_within(line, found.box[None])[0, 0] == 0


def test_a_name_within_a_piece_stays_in_it():
    label = Label("table", (Line("table"),), np.array([[20.0, 20.0], [60.0, 40.0]]),
                  within=shapely.box(20, 20, 60, 40))
    found, = placed([label], Around(*FIELD))
    assert shapely.box(20, 20, 60, 40).contains(shapely.box(*found.box))


@pytest.mark.parametrize("label", [
    crowd(1)[0], Label("door", (Line("door"), Line("head 2.10 m")), square(40, 40), upright=True),
])
def test_words_lie_within_their_labels_box(label):
    found, = placed([label], Around(*FIELD))
    area = shapely.box(*found.box).buffer(0.35)
    words = [mark for mark in found.marks() if isinstance(mark, Words)]
    assert len(words) == len(label.lines) + bool(label.number)
    for mark in words:
        assert area.contains(shapely.Polygon(corners(mark)))
    for one, two in combinations(words, 2):
        assert shapely.Polygon(corners(one)).intersection(shapely.Polygon(corners(two))).area < 0.05


def test_lines_within_boxes():
    # Of the diagonal of 0..4, 0..4 the middle half lies in 1..3: 2 sqrt 2 of 4 sqrt 2; one beside it, none.
    lines = np.array([[0, 0, 4, 4], [0, 5, 4, 5], [2, 0, 2, 4], [2, 2, 2, 2]], float)
    within = lengths_within(lines, np.array([[1.0, 1.0, 3.0, 3.0]]))
    assert within[0] == pytest.approx([2 * 2**0.5, 0, 2, 0])
    assert np.allclose(clipped([0, 0], [4, 4], [1, 1], [3, 3]), [[1, 1], [3, 3]])
    assert clipped(np.array([0, 5]), np.array([4, 5]), np.array([1, 1]), np.array([3, 3])) is None


def test_segments_of_a_ring_close_it():
    points = np.array([[0, 0], [1, 0], [1, 1]])
    assert len(segments(points, False)) == 2
    assert segments(points, True)[-1].tolist() == [1, 1, 0, 0]


def test_figures_are_spread_no_more_than_it_takes():
    # Those at 10, 10.5 and 11 need 2 between them: 8.5, 10.5, 12.5 moves them least; the one at 30 stays.
    assert dimensions.spread([10, 10.5, 11, 30], 2.0) == pytest.approx([8.5, 10.5, 12.5, 30])
    assert dimensions.spread([1, 5], 2.0) == pytest.approx([1, 5])


def test_entries_at_one_place_are_one():
    entries = [dimensions.Entry("4", 2.0), dimensions.Entry("1", 0.5), dimensions.Entry("2", 2.0004)]
    assert [each.tag for each in dimensions.merged(entries)] == ["1", "4, 2"]


@pytest.mark.parametrize("upright", [False, True])
def test_a_strip_keeps_its_figures_apart_and_its_ticks_in_place(upright):
    places = {"1": 1.0, "2": 1.02, "3": 1.04, "W wall": 0.0}
    entries = [dimensions.Entry(tag, at) for tag, at in places.items()]
    marks = list(in_metres(dimensions.strip(entries, -10.0, 0.05, "metric", upright, (0.0, 60.0)), 0.05))
    words = [mark for mark in marks if isinstance(mark, Words)]
    assert {mark.text for mark in words} == {"1", "2", "3", "W wall", "0.00 m", "1.00 m", "1.02 m", "1.04 m"}
    areas = [shapely.Polygon(corners(mark, 0.05)) for mark in words]
    assert not any(one.intersection(two).area > 1e-9 for one, two in combinations(areas, 2))
    ticks = {mark.name: mark.points for mark in marks if isinstance(mark, Shape) and mark.part == "tick"}
    for tag, at in places.items():
        assert ticks[tag][:2, int(upright)] == pytest.approx([at, at])
    low, high = bounds_of(marks, 0.05)
    # All of it lies outside its line but the inner halves of ticks.
    assert high[1 - upright] <= (-10 + dimensions.TICK) * 0.05 + 1e-9


def test_a_chain_says_each_length_and_short_ones_beside_it():
    marks = list(dimensions.chain([0.0, 0.05, 2.0], 5.0, 0.05, "metric", False, "wall"))
    words = {mark.text: mark for mark in marks if isinstance(mark, Words)}
    assert set(words) == {"0.05 m", "1.95 m"}
    areas = [shapely.Polygon(corners(mark)) for mark in words.values()]
    assert areas[0].disjoint(areas[1])
    assert words["1.95 m"].at[0] == pytest.approx((0.05 + 2.0) / 2 / 0.05)
