"""What would have to change where no levels do: against sums that can be done by hand."""

import numpy as np
import pytest

from previz.levels.advice import BIGGER, BLACKED, BOUNCED_MORE, EXPOSED, FLAGGED, FREED, conflict, remedies
from previz.levels.moves import CameraMove
from previz.levels.problem import Problem
from previz.levels.solve import LEAST_WORST, solved
from previz.levels.wants import LEVEL, Want
from tests.levels.lamps import answer_to, lamp


def level(name, meter, stops, **more):
    return Want(name, LEVEL, (f"meter {meter}",), stops, within=0.1, **more)


def advice(*problem):
    made = Problem(*problem)
    state = solved(made, LEAST_WORST)
    return conflict(made, state), {each.kind: each for each in remedies(made, state, most=9)}


def test_a_lamp_that_is_too_small():
    """At full it is two stops short: it would have to be bigger by that, less what counts as met."""
    names, found = advice(answer_to([[0.25]]), [level("face", 0, 0.0)], [lamp(0)])
    assert names == ("face",)
    assert found[BIGGER].amount == pytest.approx(2.0 - 0.1, abs=1e-3) and found[BIGGER].all_wants


def test_wants_that_exclude_each_other_and_the_flag_between_them():
    """One lamp puts as much on the wall as on the face; the wall is wanted three stops under.

    Of its direct light on the wall 1 - 2^-3 has to go, less what counts as met on either side.
    """
    response = answer_to([[2.0], [2.0], [1.0]])
    wants = [level("face", 0, 0.0), level("wall", 1, -3.0), level("floor", 2, -1.0)]
    names, found = advice(response, wants, [lamp(0)])
    assert names == ("face", "wall") or names == ("wall", "floor")
    assert found[FLAGGED].lamp == "lamp 0" and found[FLAGGED].meter == "meter 1"
    assert found[FLAGGED].amount == pytest.approx(1 - 2.0 ** (-3 + 0.2), abs=0.02)


def test_light_off_the_walls_is_met_by_black_cloth_or_by_a_board():
    """Fill that comes off the room alone: too much of it is blacked, too little bounced more."""
    response = answer_to([[1.0], [0.0]], [[0.0], [0.5]])
    for stops, kind, amount in ((-3.0, BLACKED, 1 - 2.0 ** (-2 + 0.2)), (0.0, BOUNCED_MORE, 1.0 - 0.1)):
        _, found = advice(response, [level("lit", 0, 0.0), level("shadow", 1, stops)], [lamp(0)])
        assert found[kind].amount == pytest.approx(amount, abs=0.03) and found[kind].meter == "meter 1"


def test_what_is_locked_and_what_the_stop_would_do():
    """A locked lamp gives half a stop too much, and the camera is locked as well."""
    moves = [lamp(0, 0.5, low=0.5, high=0.5)]
    want = Want("face", LEVEL, ("meter 0",), 0.0, 0.5 * 2**-0.5, camera="A", within=0.1)
    _, found = advice(answer_to([[1.0]]), [want], moves, [CameraMove("A")])
    assert found[FREED].amount == pytest.approx(-0.4, abs=1e-2)
    assert found[EXPOSED].amount == pytest.approx(-0.4, abs=1e-2) and found[EXPOSED].camera == "A"


def test_no_advice_where_all_is_met():
    assert advice(answer_to([[1.0]]), [level("face", 0, -1.0)], [lamp(0)]) == ((), {})


def test_advice_does_what_it_says():
    """Of random wants that cannot be met: with the bigger lamp they can."""
    draw = np.random.default_rng(4)
    tried = 0
    for _ in range(6):
        gains = draw.uniform(0.05, 1.0, (3, 3)) + np.eye(3)
        lux = gains @ draw.uniform(0.2, 1.6, 3)
        wants = [level(f"want {n}", n, stops) for n, stops in enumerate(np.log2(lux))]
        _, found = advice(answer_to(gains), wants, [lamp(n) for n in range(3)])
        if BIGGER in found and found[BIGGER].all_wants:
            tried += 1
            number, more = int(found[BIGGER].lamp[-1]), 2.0 ** found[BIGGER].amount
            moves = [lamp(n, high=1.001 * more if n == number else 1.0) for n in range(3)]
            made = Problem(answer_to(gains), wants, moves)
            assert conflict(made, solved(made)) == ()
    assert tried > 1
