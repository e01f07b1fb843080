"""What wants stand and fall with, against sums that can be done by hand."""

import numpy as np
import pytest

from previz.levels.problem import Problem
from previz.levels.sensitivity import by_level, elsewhere, shares, tolerance
from previz.levels.wants import LEVEL, RATIO, Want
from tests.levels.lamps import answer_to, lamp


def problem(gains, wants, **more):
    response = answer_to(gains, **more)
    return Problem(response, wants, [lamp(n, 1.0) for n in range(len(response.lamps))])


SIDES = ("meter 0", "meter 1")
WANTS = [Want("lit", LEVEL, SIDES[:1], 0.0, 4.0, within=0.25), Want("ratio", RATIO, SIDES, 2.0, within=0.25)]


def test_half_a_stop_on_the_key():
    """Three parts of four are the key's: half a stop more on it is log2((3 sqrt 2 + 1) / 4)."""
    made = problem([[3.0, 1.0], [0.0, 1.0]], WANTS)
    assert shares(made, made.now) == pytest.approx(np.array([[0.75, 0.25], [0.75, 0.25]]))
    more, out, fill = by_level(made, made.now, {"more": ("lamp 0", 2**0.5), "out": ("lamp 0", 0.0),
                                                "fill": ("lamp 1", 2.0)})
    lit = np.log2((3 * 2**0.5 + 1) / 4)
    assert [each.value for each in more.changes] == pytest.approx([lit, lit])
    assert [each.value for each in out.changes] == pytest.approx([-2.0, -2.0])
    assert [each.value for each in fill.changes] == pytest.approx([np.log2(5 / 4), np.log2(5 / 8)])


def test_how_far_a_lamp_may_go():
    """Lit is met within a quarter of a stop: the key from (4 / 2^0.25 - 1) / 3 to (4 * 2^0.25 - 1) / 3."""
    made = problem([[3.0, 1.0], [0.0, 1.0]], WANTS)
    low, high = tolerance(made, made.now, 0, 0)
    assert low == pytest.approx(np.log2((4 * 2**-0.25 - 1) / 3), abs=1e-6)
    assert high == pytest.approx(np.log2((4 * 2**0.25 - 1) / 3), abs=1e-6)
    free = problem([[3.0, 0.01], [0.0, 1.0]], [Want("lit", LEVEL, SIDES[:1], 0.0, 3.0, within=0.25)])
    assert tolerance(free, free.now, 0, 1)[0] == -np.inf
    missed = problem([[9.0, 1.0], [0.0, 1.0]], WANTS)
    assert np.isnan(tolerance(missed, missed.now, 0, 0)).all()


def test_a_step_off_the_mark():
    """Further from a small lamp the light falls with the square: 2 m to 2.5 m costs log2(4 / 6.25).

    Errors of both places count; those of a lamp's own change cancel in part.
    """
    wants = [Want("lit", LEVEL, SIDES[:1], 0.0, 1.0)]
    made = problem([[1 / 4]], wants, noise=0.02, batches=64)
    there = answer_to([[1 / 6.25]], noise=0.02, batches=64, seed=2)
    step = elsewhere(made, made.now, "half a metre back", there).changes[0]
    assert step.value == pytest.approx(np.log2(4 / 6.25), abs=1e-6)
    assert step.error == pytest.approx(2**0.5 * 0.02 / np.log(2), rel=0.3)
    level = by_level(made, made.now, {"down": ("lamp 0", 0.5)})[0].changes[0]
    assert level.value == pytest.approx(-1.0) and level.error < 1e-9
