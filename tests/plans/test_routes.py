"""Ways over a floor: as long as geometry has them, along walls, round what stands and where people go.

Sources: Euclid's distance, the shortest way round a rectangle (a taut string), the perspective of a pinhole.
"""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from previz.plans.areas import footprints, room_walls, seen_floor, wall_gap, way_between
from previz.plans.routes import BESIDE, Floor, Gap, Routes, runs_over
from previz.stage.furniture import build
from previz.stage.furniture.solids import joined

places = st.tuples(st.floats(0.2, 5.8), st.floats(0.2, 3.8))


def routes(start, blocked=(), gaps=(), shunned=(), low=(0, 0), high=(6, 4), rooms=()):
    return Routes(Floor(low, high, blocked, gaps, shunned), start, rooms)


def clear(route, blocked, spare=0.0):
    return route.line.intersection(shapely.union_all(blocked).buffer(-spare)).length < 1e-6


@settings(max_examples=12, deadline=None)
@given(places, places)
def test_over_a_bare_floor_it_is_straight(start, end):
    """Nothing is in the way: Euclid's distance, to a hair for the turns that squares leave."""
    route = routes(start).to(end)
    assert math.dist(start, end) - 1e-9 <= route.length <= 1.01 * math.dist(start, end) + 0.01
    assert route.reaches and route.corners[0] == start and route.corners[-1] == end


def test_round_a_box_as_a_taut_string():
    """From (1, 2) to (5, 2) round a box from y = 1 to 3.2: by its lower corners, 2 sqrt 2 + 2 = 4.83 m."""
    obstacle = box(2, 1, 4, 3.2)
    route = routes((1, 2), [obstacle]).to((5, 2))
    taut = 2 * math.hypot(1, 1) + 2
    # Half a square of clearance at each corner, and squares in place of slants.
    assert taut - 1e-6 <= route.length <= 1.05 * taut
    assert clear(route, [obstacle], 1e-3)
    assert max(y for _, y in route.corners) <= 2.0 + 1e-6


def test_it_keeps_along_walls_where_that_costs_little():
    """Corner to corner, 7.8 m and 1.8 m along two walls: 9.6 m and no slant across, though that is 8.0 m."""
    room = room_walls((8, 2), 0.2)
    ways = routes((0.1, 0.1), [room], low=(-1, -1), high=(9, 3))
    along = ways.to((7.9, 1.9))
    # Within 0.3 m of the walls it may cut the corner: by 2 x 0.3 - 0.3 sqrt 2 = 0.18 m, and half a square.
    assert 9.6 - 0.18 - 0.3 < along.length <= 9.6 + 1e-9
    assert along.line.intersection(box(0, 0, 8, 2).buffer(-BESIDE - 0.1)).length < 0.1


def test_a_wall_is_gone_through_by_its_door():
    """Straight through the wall would be 2 m; the door is 3 m along it."""
    size, thick = (4.0, 4.0), 0.2
    door = Gap("door", wall_gap(size, thick, "east", 3.0, 0.8), "y")
    ways = routes((3.5, 0.5), [room_walls(size, thick)], [door], low=(-2, -2), high=(7, 6))
    route = ways.to((5.5, 0.5))
    assert route.gaps == ("door",) and clear(route, [room_walls(size, thick).difference(door.shape)], 1e-3)
    # By the door's nearer edge: sqrt(0.5² + 2.5²) to it, 0.2 m through, sqrt(1.3² + 2.5²) back.
    taut = math.hypot(0.5, 2.5) + thick + math.hypot(1.3, 2.5)
    assert taut - 1e-6 <= route.length <= 1.1 * taut


def test_a_door_is_found_on_a_wide_floor_too():
    """On 160 x 160 m the squares are 1.4 m wide, and the door 0.8 m."""
    size, thick = (8.0, 8.0), 0.2
    door = Gap("door", wall_gap(size, thick, "north", 3.1, 0.8), "x")
    ways = routes((2, 2), [room_walls(size, thick)], [door], low=(-80, -80), high=(80, 80))
    assert ways.side > 1.3 and ways.to((4, 70)).gaps == ("door",)
    assert ways.to((6, 6)).gaps == ()
    taut = math.hypot(1.1, 6) + thick + math.hypot(0.1, 61.8)
    assert taut - 2 * ways.side <= ways.to((4, 70)).length <= 1.1 * taut


def test_a_window_is_the_last_way_and_costs_its_sill():
    """The window is on the way, but shy; without the door it is taken, with its sill up and down."""
    size, thick = (4.0, 4.0), 0.2
    walls = [room_walls(size, thick)]
    window = Gap("window", wall_gap(size, thick, "east", 0.2, 0.8), "y", 2.0, 1000.0)
    door = Gap("door", wall_gap(size, thick, "west", 1.0, 0.8), "y")
    both = routes((3.5, 0.5), walls, [window, door], low=(-2, -2), high=(7, 6)).to((5.5, 0.5))
    alone = routes((3.5, 0.5), walls, [window], low=(-2, -2), high=(7, 6)).to((5.5, 0.5))
    assert both.gaps == ("door",) and alone.gaps == ("window",)
    assert alone.length == pytest.approx(2.0 + 2.0, abs=0.1)


def test_without_a_way_it_says_so():
    route = routes((2, 2), [room_walls((4, 4), 0.2)], low=(-2, -2), high=(7, 6)).to((6, 2))
    assert not route.reaches and route.length == pytest.approx(4)


def test_where_people_go_is_gone_round_if_there_is_a_way():
    """Across a way it is 4 m; round its end less than 40 times that: so it goes round."""
    way = way_between([(3, 0.9), (3, 4.5)], 0.8)
    ways = routes((1, 2), (), (), [way])
    route = ways.to((5, 2))
    assert not runs_over(route, way) and route.length > 4.5
    barred = way_between([(3, -1), (3, 5)], 0.8)
    assert runs_over(routes((1, 2), (), (), [barred]).to((5, 2)), barred)


def test_a_lamp_over_a_piece_is_reached_from_its_side_in_the_room():
    """A cable to what stands on a bench by a wall does not come from outside the wall."""
    size, thick = (4.0, 4.0), 0.2
    bench, room = box(0, 1, 1, 3), box(0, 0, 4, 4)
    walls = room_walls(size, thick)
    door = Gap("door", wall_gap(size, thick, "east", 1.0, 0.8), "y")
    route = routes((3.5, 3.5), [walls, bench], [door], low=(-2, -2), high=(6, 6), rooms=[room]).to((0.1, 2.0))
    assert not route.gaps and route.corners[-1] == (0.1, 2.0)
    assert min(x for x, _ in route.corners) >= 0


@settings(max_examples=10, deadline=None)
@given(places, places, st.tuples(st.floats(1, 4), st.floats(0.5, 2.5), *[st.floats(0.3, 1.5)] * 2))
def test_no_way_leads_through_a_piece(start, end, piece):
    """Whatever stands there; and no way is shorter than the straight line."""
    x, y, width, depth = piece
    solid = box(x, y, x + width, y + depth)
    if solid.buffer(0.2).contains(Point(start)) or solid.buffer(0.2).contains(Point(end)):
        return
    route = routes(start, [solid]).to(end)
    assert clear(route, [solid], 0.01) and route.length >= math.dist(start, end) - 1e-9


def test_the_legs_of_a_table_leave_room_between_them():
    """Four legs that taper to 4 cm stand on the floor; its top is over it."""
    made = joined(*build("table", (1.4, 0.8, 0.75)).values())
    corners, faces = made.vertices, made.faces
    legs = footprints(corners, faces, 0.05, 0.3)
    assert len(legs) == 4
    assert 4 * 0.04**2 < sum(leg.area for leg in legs) < 4 * 0.062**2
    assert footprints(corners, faces, 0.8, 1.0) == []


def test_the_floor_in_a_picture():
    """A pinhole 1 m high, 45° down, half angles of 45° and 22.5°.

    The picture's middle meets the floor 1 m ahead; its lower edge, 67.5° down, at cot 67.5° = 0.414 m; its
    upper one, 22.5° down, at cot 22.5° = 2.414 m. At the middle's distance of sqrt 2 it is 2 sqrt 2 wide.
    """
    right, forward = np.array([1.0, 0, 0]), np.array([0, 1.0, -1.0]) / math.sqrt(2)
    axes = np.stack([right, np.cross(right, forward), forward], axis=1)
    seen = seen_floor((0, 0, 1), axes, (1.0, math.tan(math.radians(22.5))), (-9, -9), (9, 9))
    low_x, low_y, high_x, high_y = seen.bounds
    assert low_y == pytest.approx(1 / math.tan(math.radians(67.5)))
    assert high_y == pytest.approx(1 / math.tan(math.radians(22.5)))
    across = seen.intersection(shapely.LineString([(-9, 1), (9, 1)])).length
    assert across == pytest.approx(2 * math.sqrt(2))
    # One that looks up sees no floor.
    up = np.stack([right, np.cross(right, -forward * [1, -1, 1]), -forward * [1, -1, 1]], axis=1)
    assert seen_floor((0, 0, 1), up, (0.5, 0.3), (-9, -9), (9, 9)).is_empty
