"""Lengths in words. A metre is 39.370 in (an inch is 25.4 mm, exact by definition)."""

import pytest

from previz.plans.aims import aim_point, aimed_at
from previz.plans.lengths import IMPERIAL, METRIC, roughly, said
from previz.plans.lines import LampLine


@pytest.mark.parametrize(("length", "system", "text"), [
    (2.35, METRIC, "2.35 m"), (-3.0, METRIC, "\N{MINUS SIGN}3.00 m"), (-0.001, METRIC, "0.00 m"),
    # 118.11 in are 9 ft 10.11 in, and 92.52 in 7 ft 8.52 in.
    (-3.0, IMPERIAL, "\N{MINUS SIGN}9' 10\""), (2.35, IMPERIAL, "7' 8 1/2\""), (-0.001, IMPERIAL, '0"'),
])
def test_what_lies_outside_has_a_true_minus(length, system, text):
    assert said(length, system) == text


@pytest.mark.parametrize(("length", "metric", "imperial"), [
    # 1.18, 1.97 and 7.87 in; 5.91, 6.56 and 9.84 ft.
    (0.03, "30 mm", '1 1/4"'), (0.05, "50 mm", '2"'), (0.2, "200 mm", '7 3/4"'),
    (1.8, "1.8 m", "6'"), (2.0, "2 m", "6 1/2'"), (3.0, "3 m", "10'"),
])
def test_rules_of_thumb_have_the_units_of_the_paper(length, metric, imperial):
    assert (roughly(length), roughly(length, IMPERIAL)) == (metric, imperial)


@pytest.mark.parametrize(("target", "text"), [
    ("clerk.right ear", "clerk's right ear"), ("card", "card"), ("", ""), ("[1.5 m, 2 m, 1 m]",) * 2])
def test_aims_are_said_as_on_set(target, text):
    assert aimed_at(target) == text


def test_a_point_that_is_aimed_at_follows_from_pan_tilt_and_throw():
    # East and down by 3-4-5: pan 90, tilt -asin(3/5) = -36.870 deg, throw 5 m.
    lamp = LampLine("1", "key", "fresnel", (1.0, 2.0, 3.0), aim="[5 m, 2 m, 0 m]", pan=90.0, tilt=-36.8699,
                    throw=5.0)
    assert aim_point(lamp) == pytest.approx((5.0, 2.0, 0.0), abs=1e-5)
    assert aim_point(LampLine("1", "key", "fresnel", (1.0, 2.0, 3.0), aim="card", pan=90.0, tilt=0.0,
                              throw=1.0)) is None
