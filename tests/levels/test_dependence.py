"""What a want hangs on, against sums that can be done by hand."""

import numpy as np
import pytest

from previz.exposure.metering import Measured
from previz.levels.answers import answer_of
from previz.levels.dependence import dependences
from previz.levels.problem import Problem
from previz.levels.wants import COLOUR, LEVEL, RATIO, Want
from tests.levels.lamps import answer_to, lamp

SIDES = ("meter 0", "meter 1")


def hanging(gains, wants, weather=(), lamps=None, **more):
    response = answer_to(gains, **more)
    problem = Problem(response, wants, lamps or [lamp(n, 1.0) for n in range(len(response.lamps))])
    return dependences(problem, problem.now, answer_of(problem, problem.now).readings, weather)


def test_each_lamp_of_a_level_and_a_ratio():
    """A key of 3 lx and a fill of 1 lx on both sides; the ratio of 2 stops stands and falls with both."""
    lit, ratio = hanging([[3.0, 1.0, 0.001], [0.0, 1.0, 0.0]], [
        Want("lit", LEVEL, SIDES[:1], 0.0, 4.0, within=0.3),
        Want("ratio", RATIO, SIDES, 2.0, within=0.3, side="brighter")])
    # Half a stop of the fill moves the ratio by more than any moves the lit side.
    assert [each.lamp for each in lit.lamps] == [each.lamp for each in ratio.lamps] == ["lamp 1", "lamp 0"]
    fill, key = lit.lamps
    assert (key.share, fill.share) == pytest.approx((0.75, 0.25), rel=1e-3) and key.shadow_share is None
    more = np.log2((3 * 2**0.5 + 1) / 4)
    assert [each.value for each in key.changes] == pytest.approx(
        [more, np.log2((3 / 2**0.5 + 1) / 4), -2.0], abs=2e-3)
    assert ratio.lamps[0].shadow_share == pytest.approx(1.0)
    # Half a stop more fill on both sides is less contrast; without it nothing is left to count against.
    assert ratio.lamps[0].more.value == pytest.approx(np.log2((3 + 2**0.5) / 2**0.5) - 2, abs=2e-3)
    assert ratio.gone(ratio.lamps[0].out) and ratio.then(ratio.lamps[0].out).value.value == np.inf
    assert not ratio.then(ratio.lamps[0].out).met
    assert (lit.most.lamp, ratio.most.lamp) == ("lamp 0", "lamp 1")
    name, stops = lit.least
    assert name == "lamp 0" and stops == pytest.approx(np.log2((4 * 2**0.3 - 1) / 3), abs=2e-3)


def test_what_is_in_the_dark_then():
    """Without the only lamp a level is dark, and a colour is none; a level that is to stay down is met."""
    dark, down, warm = hanging([[2.0]], [
        Want("lit", LEVEL, SIDES[:1], 1.0), Want("low", LEVEL, SIDES[:1], 2.0, at_most=True),
        Want("warm", COLOUR, SIDES[:1], 1e6 / 3200, within=20.0)])
    assert dark.then(dark.lamps[0].out).miss == -np.inf and not dark.then(dark.lamps[0].out).met
    assert down.then(down.lamps[0].out).met and down.least[1] == pytest.approx(1.1, abs=1e-4)
    assert warm.gone(warm.lamps[0].out) and not warm.then(warm.lamps[0].out).met
    assert warm.least == ("lamp 0", -12.0)


def test_weather_and_what_is_missed():
    """A sun two stops down on half the light: log2(5/8); a want that is missed has no room."""
    made, = hanging([[1.0, 1.0]], [Want("lit", LEVEL, SIDES[:1], 0.0, 2.0)],
                    [("sun two stops down", "lamp 0", 0.25), ("sun gone", "lamp 0", 0.0)])
    assert [each.change.value for each in made.weather] == pytest.approx([np.log2(5 / 8), -1.0])
    assert made.then(made.weather[1].change).miss == pytest.approx(-1.0)
    missed, = hanging([[1.0, 1.0]], [Want("lit", LEVEL, SIDES[:1], 3.0, 2.0)])
    assert missed.least is None and np.isnan(missed.lamps[0].room).all()
    # Two stops brighter it is met; errors of the reading and of the change both count.
    then = missed.then(Measured(3.0, 0.3))
    assert then.met and then.value.error == pytest.approx(0.3)
