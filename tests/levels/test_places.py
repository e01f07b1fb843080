"""Where a lamp best stands: the search on closed forms."""

import numpy as np
import pytest

from previz.levels.places import search, spread

INTENSITY = 1000.0
"""Of a point lamp, the same in all directions. [cd]"""


def floor_light(lamps, points):
    """Return E = I h / r³ of point lamps (n, 3) on a floor at points (m, 2). Shape (n, m)"""
    away = lamps[:, None, :2] - points[None]
    height = lamps[:, None, 2]
    return INTENSITY * height / (np.sum(away**2, axis=2) + height**2) ** 1.5


def test_points_fill_a_box_evenly():
    """Radical inverses: the first of base 2 are 1/2, 1/4, 3/4, 1/8; a count in any half is the half."""
    points = spread(256, 3)
    assert points[:4, 0] == pytest.approx([1 / 2, 1 / 4, 3 / 4, 1 / 8])
    assert points[:4, 1] == pytest.approx([1 / 3, 2 / 3, 1 / 9, 4 / 9])
    # The discrepancy of 256 such points is under log(256)^3 / 256; in practice a few points in a half.
    assert np.abs((points < 0.5).mean(axis=0) - 0.5).max() < 0.02
    assert np.array_equal(spread(10, 2, first=7), spread(16, 2)[6:])
    with pytest.raises(ValueError, match="1 to 6 directions"):
        spread(3, 7)


def test_the_height_and_distance_for_two_levels_are_found():
    """A point lamp over the line of two floor points: their levels say how high and how far along it is.

    E = I h / (x² + h²)^1.5 and the same with 4 - x; at x = 1 m and h = 2 m that is 1000 * 2 / 5^1.5 =
    178.9 lx and 1000 * 2 / 13^1.5 = 42.67 lx (inverse square and cosine law).
    """
    points = np.array([[0.0, 0.0], [4.0, 0.0]])
    wanted = np.array([178.885, 42.669])
    assert floor_light(np.array([[1.0, 0.0, 2.0]]), points)[0] == pytest.approx(wanted, rel=1e-4)

    def screen(places):
        lamps = np.column_stack([places[:, 0], np.zeros(len(places)), places[:, 1]])
        return np.sum(np.log2(floor_light(lamps, points) / wanted) ** 2, axis=1)

    best, tried = search(screen, np.array([0.0, 0.5]), np.array([4.0, 4.0]), rounds=10)
    assert best[0].point == pytest.approx([1.0, 2.0], abs=0.01)
    # Other places give the same two levels only if the two curves cross again; the best misses nothing.
    assert best[0].missed < 1e-4
    assert tried <= 256 + 10 * 6 * 24


def test_what_may_not_be_is_never_proposed():
    """Behind a wall at x = 2 m the level at a point is lost; the box and what is barred are kept to."""
    point = np.array([[3.0, 1.0]])

    def screen(places):
        behind = places[:, 0] < 2
        barred = places[:, 2] > 3
        light = floor_light(places, point)[:, 0] * np.where(behind, 0.01, 1.0)
        return np.where(barred, np.inf, np.abs(np.log2(light / 100)))

    best, _ = search(screen, np.zeros(3), np.array([5.0, 2.0, 4.0]) , keep=4)
    assert len(best) == 4
    assert [each.missed for each in best] == sorted(each.missed for each in best)
    assert best[0].missed < 0.01
    for each in best:
        assert 2 <= each.point[0] <= 5
        assert each.point[2] <= 3
    # What is kept are different places.
    apart = [np.abs((a.point - b.point) / [5, 2, 4]).max() for a in best for b in best if a is not b]
    assert min(apart) >= 0.12


def test_a_box_where_nothing_may_stand_gives_nothing():
    """No place, rather than a bad one; a box turned inside out is refused."""
    assert search(lambda places: np.full(len(places), np.inf), np.zeros(2), np.ones(2))[0] == []
    with pytest.raises(ValueError, match="from its low"):
        search(lambda places: places[:, 0], np.ones(2), np.zeros(2))


def test_a_direction_that_stays_is_not_moved():
    """A box without height is searched as a plane, and what is there now is tried as well."""
    def screen(places):
        return (places[:, 0] - 0.3) ** 2 + (places[:, 2] - 0.9) ** 2 + places[:, 1]

    best, _ = search(screen, np.array([0.0, 1.5, 0.0]), np.array([1.0, 1.5, 1.0]), rounds=8)
    assert best[0].point == pytest.approx([0.3, 1.5, 0.9], abs=0.01)
    here, tried = search(screen, np.zeros(3), np.ones(3), count=1, rounds=0, start=np.array([0.3, 0.0, 0.9]))
    assert here[0].missed == pytest.approx(0)
    assert tried == 2
