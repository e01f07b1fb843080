"""Rough places that `check` works with, before anything is built."""

import pytest

from previz.scene.doubts import _crossings, is_outside, opening_points
from previz.scene.room import Opening, Room


@pytest.mark.parametrize(("wall", "middle", "low"), [
    ("west", (0, 1.6, 1.8), (0, 0.62, 1.236)), ("east", (5, 1.6, 1.8), (5, 0.62, 1.236)),
    ("south", (1.6, 0, 1.8), (0.62, 0, 1.236)), ("north", (1.6, 4, 1.8), (0.62, 4, 1.236)),
    ("ceiling", (1.6, 1.8, 3), (0.62, 1.236, 3))])
def test_points_of_an_opening(wall, middle, low):
    """Nine of them, just inside its corners and edges and in its middle, on the wall that it is in."""
    room = Room(size=(5.0, 4.0, 3.0))
    hole = Opening(name="gate", wall=wall, along=0.6 - 0.02, sill=1.224, size=(2.04, 1.152))
    points = opening_points(room, hole)
    assert len(set(points)) == 9
    assert points[4] == pytest.approx(middle, abs=0.02) and points[0] == pytest.approx(low, abs=0.02)
    assert points[8] == pytest.approx([2 * m - a for m, a in zip(points[4], points[0], strict=True)])


@pytest.mark.parametrize(("at", "outside"), [
    ((1, 1, 1), False), ((0, 4, 3), False), ((-0.1, 1, 1), True), ((5.1, 1, 1), True), ((1, -0.1, 1), True),
    ((1, 4.1, 1), True), ((1, 1, -0.1), True), ((1, 1, 3.1), True)])
def test_what_is_outside_a_room(at, outside):
    """Behind a wall, under the floor or over a ceiling; on them is still inside."""
    assert is_outside(Room(size=(5.0, 4.0, 3.0)), at) is outside
    assert is_outside(Room(size=(5.0, 4.0, 3.0), ceiling=False), (1, 1, 9)) is False


@pytest.mark.parametrize(("end", "ceiling", "found"), [
    ((6, 2, 1), True, [(1, "the east wall")]), ((-0.5, 2, 1), True, [(0.5, "the west wall")]),
    ((2, -0.2, 1), True, [(0.2, "the south wall")]), ((2, 4.3, 1), True, [(0.3, "the north wall")]),
    ((2, 2, -0.1), True, [(0.1, "the floor")]), ((2, 2, 3.4), True, [(0.4, "the ceiling")]),
    ((2, 2, 3.4), False, []), ((5, 4, 3), True, [])])
def test_what_goes_through_a_wall(end, ceiling, found):
    """How far beyond each wall a corner is; nothing is over a set that is open above."""
    room = Room(size=(5.0, 4.0, 3.0), ceiling=ceiling)
    assert list(_crossings(room, (2.5, 2.0, 1.5), end)) == [
        (pytest.approx(depth), wall) for depth, wall in found]
