"""Holes and hot spots along a way, of stops that are known."""

import numpy as np
import pytest

from previz.exposure.comparing.uneven import HOLE, HOT, unevens
from previz.exposure.metering import Measured


def found(levels, metres=None, error=0.02, **more):
    """The holes and hot spots of some levels, a metre from each to the next."""
    metres = np.arange(len(levels)) if metres is None else metres
    return unevens(metres, [Measured(level, error) for level in levels], **more)


def test_a_hole_is_as_deep_as_the_line_over_it():
    """Between +1 at 0 m and -1 at 4 m the line is at 0.5 after 1 m: -1.5 there is 2 stops under it."""
    one, = found([1.0, -1.5, -1.1, -1.0], metres=[0, 1, 3, 4])
    assert (one.kind, one.at, one.between) == (HOLE, 1, (0, 3))
    assert one.by.value == pytest.approx(2.0)
    # The worst of three readings, two of them a share of the line: e² (1 + 0.75² + 0.25²).
    assert one.by.error == pytest.approx(0.02 * np.sqrt(1 + 0.75**2 + 0.25**2))


def test_a_hot_spot_is_a_hole_upside_down():
    """The same levels with the other sign."""
    levels = [0.0, 0.2, 1.6, 0.1, 0.0, -0.1]
    hot, = found(levels)
    hole, = found([-level for level in levels])
    assert (hot.kind, hole.kind) == (HOT, HOLE)
    assert (hot.at, hot.first, hot.last, hot.between, hot.by) == (
        hole.at, hole.first, hole.last, hole.between, hole.by)
    # -0.1 at 5 m is the lowest behind it, 0 at 0 m before it: the line is at -0.04 after 2 m.
    assert hot.by.value == pytest.approx(1.64) and hot.between == (0, 5)


def test_its_ends_are_at_half_its_depth():
    """A hole of 2 stops with straight sides of 1 m is 1 m wide and more at its half."""
    metres = np.arange(0, 6.01, 0.25)
    levels = np.interp(metres, [0, 2, 3, 4, 6], [0, 0, -2, 0, 0])
    one, = found(levels, metres)
    assert metres[one.at] == 3.0
    assert (metres[one.first], metres[one.last]) == (2.75, 3.25)


def test_a_fall_towards_an_end_is_no_hole():
    """Nothing is brighter beyond it; with a wanted range it is a hole from where it leaves that."""
    levels = [0.5, 0.2, -0.4, -1.4, -2.6]
    assert found(levels) == ()
    one, = found(levels, wanted=(-1.0, 1.0))
    assert (one.kind, one.at, one.first, one.last, one.by) == (HOLE, 4, 3, 4, None)
    assert one.beyond.value == pytest.approx(1.6)


def test_a_curve_that_falls_off_ever_slower_is_no_hole():
    """Light from one lamp at an end falls as 1/d²: under its chord, and a bump at its end stays one."""
    levels = [-2 * np.log2(1 + metres) for metres in range(8)]
    assert found(levels) == ()
    assert found([*levels, levels[-1] + 0.3]) == ()
    assert len(found([*levels, levels[-1] + 0.4])) == 1


def test_even_light_and_small_steps_are_none():
    """Less than the least is not named, and what comes to it is."""
    for depth, count in ((0.65, 0), (0.75, 1)):
        assert len(found([0, 0, -depth, 0, 0])) == count
        assert len(found([0, 0, -depth, 0, 0], least=0.6)) == 1
    assert found([0.3] * 6) == () and found([1.0]) == () and found([1.0, 0.0]) == ()


def test_what_noise_could_make_is_left_out():
    """A dip of a stop that is known to a stop is none; 200 even walks with noise have no more than a few."""
    assert found([0, 0, -1.0, 0, 0], error=1.0) == ()
    random = np.random.default_rng(5)
    named = sum(len(found(0.25 * random.normal(size=25), error=0.25)) > 0 for _ in range(50))
    sure = sum(len(found(0.02 * random.normal(size=25), error=0.02)) > 0 for _ in range(200))
    assert sure == 0 and named > 0


def test_two_holes_and_what_is_between_them():
    """The deeper one has the whole walk for its neighbours, the other only what is beside it."""
    one, hot, other = found([0, -2.0, 0.2, -1.0, 0])
    assert [each.kind for each in (one, hot, other)] == [HOLE, HOT, HOLE]
    assert (one.between, other.between) == ((0, 2), (2, 4))
    assert one.by.value == pytest.approx(2.1) and other.by.value == pytest.approx(1.1)
    # Between -2 at 1 m and -1 at 3 m.
    assert hot.by.value == pytest.approx(1.7) and hot.between == (1, 3)


def test_numbers_of_places_are_plain():
    """They go into JSON as they are, also behind a place that is lower."""
    for one in found([0.0, -2.0, 0.0, -1.4, 0.1, -3.0, 0.0]):
        assert {type(each) for each in (one.at, one.first, one.last, *one.between)} == {int}


def test_a_dip_of_the_brighter_part_is_none():
    """It is over the middle of the walk, so it is no hole, and the peaks beside it are of one plateau."""
    assert [each.kind for each in found([-3, -3, -3, -3, 0.2, -0.8, 0.2, -3, -3, -3])] == [HOT, HOT]


def test_within_the_wanted_range_nothing_is_named():
    """A dip of two stops that stays inside is as it should be; one that leaves has both numbers."""
    levels = [0.9, -0.9, 0.9, -1.5, 0.9]
    assert [each.at for each in found(levels)] == [1, 2, 3]
    one, = found(levels, wanted=(-1.0, 1.0))
    assert one.at == 3 and one.by.value == pytest.approx(2.4) and one.beyond.value == pytest.approx(0.5)
    # Outside by no more than the reading's error is not outside.
    assert found([-1.15, 0, 0], error=0.1, wanted=(-1.0, 1.0)) == ()
    two = found([2.0, 0.0, -2.0], wanted=(-1.0, 1.0))
    assert [(each.kind, each.at, round(each.beyond.value, 6)) for each in two] == [
        (HOT, 0, 1.0), (HOLE, 2, 1.0)]


def test_no_light_is_a_hole_with_an_end():
    """A place without light counts as twelve stops under the working stop."""
    one, = found([0.0, -np.inf, 0.0])
    assert one.at == 1 and one.by.value == pytest.approx(12.0) and np.isfinite(one.by.error)


def test_plateaus_and_places_of_the_same_metres():
    """A flat floor is one hole, named where it begins; a figure that rises stays where it is."""
    one, = found([0, -1, -1, -1, 0])
    assert (one.at, one.first, one.last) == (1, 1, 3)
    one, = found([0, -1.5, 0], metres=[2.0, 2.0, 2.0])
    assert one.by.value == pytest.approx(1.5)


@pytest.mark.parametrize("seed", range(20))
def test_any_way_against_the_definition(seed):
    """Every place is tried by the definition, in plain loops."""
    random = np.random.default_rng(seed)
    metres = np.sort(random.uniform(0, 10, 12))
    levels = np.cumsum(random.normal(size=12))
    weights = np.array([sum(abs(metres[i] - metres[j]) for j in (i - 1, i + 1) if 0 <= j < 12)
                        for i in range(12)])
    order = sorted(range(12), key=lambda i: levels[i])
    passed, middle = 0.0, None
    for i in order:
        passed += weights[i]
        if passed >= weights.sum() / 2 - 1e-12:
            middle = levels[i]
            break
    expected = []
    for i in range(1, 11):
        left = [j for j in range(i) if all(levels[k] > levels[i] for k in range(j, i))]
        right = [j for j in range(i + 1, 12) if all(levels[k] > levels[i] for k in range(i + 1, j + 1))]
        if not left or not right or levels[i] > middle:
            continue
        one, other = max(left, key=lambda j: levels[j]), max(right, key=lambda j: levels[j])
        share = (metres[i] - metres[one]) / (metres[other] - metres[one])
        depth = levels[one] + share * (levels[other] - levels[one]) - levels[i]
        if depth >= 0.7 and min(levels[one], levels[other]) - levels[i] >= 0.35:
            expected.append((i, one, other, round(depth, 9)))
    assert [(each.at, *each.between, round(each.by.value, 9))
            for each in found(levels, metres) if each.kind == HOLE] == expected
