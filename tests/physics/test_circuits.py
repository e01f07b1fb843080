"""Lamps shared out over circuits, held against every way there is."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.physics.circuits import ALIKE, even_out, fewest

ROOM = 1e-6


def every_way(loads, room):
    """Yield all ways to put each load on a circuit or on none, that no circuit is over."""
    for way in itertools.product([None, *range(len(room))], repeat=len(loads)):
        on = [sum(load for load, at in zip(loads, way, strict=True) if at == k) for k in range(len(room))]
        if all(used <= most + 1e-9 for used, most in zip(on, room, strict=True)):
            yield way


def cost(way, used):
    """Loads on none, and circuits in use that were not."""
    return way.count(None), len({k for k in way if k is not None and not used[k]})


def on_phases(loads, way, phases, carried):
    found = list(carried)
    for load, at in zip(loads, way, strict=True):
        if at is not None:
            found[phases[at]] += load
    return found


def test_a_handful_by_hand():
    """Four lamps of 6, 5, 4 and 3 A need two circuits of 9 A: 6 + 3 and 5 + 4; best fit alone finds it."""
    answer, proved = fewest([6, 5, 4, 3], [9, 9, 9])
    assert proved and answer[0] == answer[3] != answer[1] == answer[2]


def test_best_fit_is_not_always_enough():
    """Here the largest first, each where it fits best, leaves one over; 10 is 4 + 3 + 3 twice."""
    # 4, 4 go together first by best fit (8 of 10), then 3 + 3 + 3, and the last 3 is left.
    answer, proved = fewest([4, 4, 3, 3, 3, 3], [10, 10])
    assert proved and None not in answer


def test_a_load_that_no_circuit_takes_is_left_and_the_rest_is_fed():
    """20 A fit on no circuit of 12.8 A; circuits over their own room take nothing more."""
    answer, proved = fewest([20, 5, 5], [12.8, -3.0])
    assert (answer, proved) == ([None, 0, 0], True)


def test_used_circuits_come_first():
    """A lamp goes on a circuit that is in use, where that has room, also if another fits it better."""
    assert fewest([4.0], [4.0, 9.0], used=[False, True])[0] == [1]


def test_nothing_to_share_out():
    """No loads, and no circuits."""
    assert fewest([], [9.0]) == ([], True)
    assert fewest([3.0], []) == ([None], True)
    assert even_out([], [9.0], [], [0], [0.0, 0.0]) == ([], True)


@settings(max_examples=120, deadline=None, derandomize=True)
@given(loads=st.lists(st.integers(1, 12), max_size=5),
       room=st.lists(st.integers(0, 16), min_size=1, max_size=4), data=st.data())
def test_as_few_as_can_be(loads, room, data):
    """No way of all leaves fewer lamps, or needs fewer circuits; no circuit is over."""
    used = data.draw(st.lists(st.booleans(), min_size=len(room), max_size=len(room)))
    answer, proved = fewest(loads, room, used=used)
    assert proved and tuple(answer) in set(every_way(loads, room))
    assert cost(answer, used) == min(cost(way, used) for way in every_way(loads, room))


@settings(max_examples=120, deadline=None, derandomize=True)
@given(loads=st.lists(st.floats(0.1, 12), max_size=5),
       room=st.lists(st.floats(1, 16), min_size=2, max_size=4), data=st.data())
def test_phases_as_even_as_can_be(loads, room, data):
    """With the same lamps fed from as many circuits, no way of all leaves the fullest phase less."""
    phases = [data.draw(st.integers(0, 2)) for _ in room]
    carried = [data.draw(st.sampled_from((0.0, 3.0))) for _ in range(3)]
    start, _ = fewest(loads, room)
    answer, proved = even_out(loads, room, start, phases, carried)
    assert proved
    fed = [at is None for at in start]
    assert [at is None for at in answer] == fed
    most = cost(start, [False] * len(room))[1]
    ways = [way for way in every_way(loads, room)
            if [at is None for at in way] == fed and cost(way, [False] * len(room))[1] <= most]
    assert tuple(answer) in set(ways)
    least = min(max(on_phases(loads, way, phases, carried)) for way in ways)
    assert max(on_phases(loads, answer, phases, carried)) <= least + ALIKE + ROOM


def test_more_circuits_may_be_allowed_for_even_phases():
    """Three lamps of 4 A fit on one circuit of 12 A; with two more allowed each phase has one."""
    args = [4.0] * 3, [12.0] * 3, [0, 0, 0], [0, 1, 2], [0.0] * 3
    assert max(on_phases(args[0], even_out(*args)[0], args[3], args[4])) == 12.0
    assert sorted(even_out(*args, more=2)[0]) == [0, 1, 2]


def test_many_lamps_are_shared_out_well_within_the_limit():
    """Sixty lamps: no circuit over, hardly more than the sum needs, phases alike; always the same answer."""
    loads = [1.0 + 7.0 * (k * 37 % 60) / 60 for k in range(60)]
    room = [12.8] * 60
    answer, _ = fewest(loads, room)
    count = len(set(answer))
    assert None not in answer and count <= sum(loads) / 12.8 + 2
    phases = [k % 3 for k in range(60)]
    answer, _ = even_out(loads, room, answer, phases, [0.0] * 3, more=2)
    for k in set(answer):
        assert sum(load for load, at in zip(loads, answer, strict=True) if at == k) <= 12.8 + ROOM
    found = on_phases(loads, answer, phases, [0.0] * 3)
    assert max(found) < 1.05 * sum(found) / 3
    assert fewest(loads, room) == fewest(loads, room)


def test_a_search_without_end_stops_and_says_so():
    """Forty lamps of which two fit on a circuit and three do not: the sum proves nothing."""
    loads = [3.4 + 0.0125 * k for k in range(40)]
    answer, proved = fewest(loads, [10.0] * 40)
    assert not proved and len(set(answer)) == 20 and None not in answer
    # Four of these, and every way has been tried.
    assert fewest(loads[:4], [10.0] * 4)[1]


def test_moves_and_swaps_alone_even_phases_out():
    """Without a step of the search: 4 + 4 + 3 and 3 A become 7 and 7 by a move, 5 + 4 and 3 + 2 by a swap."""
    moved, _ = even_out([4, 4, 3, 3], [20, 20], [0, 0, 0, 1], [0, 1], [0.0, 0.0], steps=0)
    assert on_phases([4, 4, 3, 3], moved, [0, 1], [0, 0]) == [7, 7]
    # 4 A do not help on the other side, where 3 + 2 + 4 are 9 again; 4 for 2 do.
    swapped, _ = even_out([5, 4, 3, 2], [9, 9], [0, 0, 1, 1], [0, 1], [0.0, 0.0], steps=0)
    assert on_phases([5, 4, 3, 2], swapped, [0, 1], [0, 0]) == [7, 7]


def test_what_other_phases_have_no_room_for_is_proof():
    """Seven circuits that hold two lamps each, three of them on L1: it has six lamps whatever is done."""
    loads = [3.9 + 0.01 * k for k in range(14)]
    phases = [0, 1, 2, 0, 1, 2, 0]
    start, _ = fewest(loads, [8.0] * 7)
    answer, proved = even_out(loads, [8.0] * 7, start, phases, [0.0] * 3)
    # The six smallest: 6 · 3.9 + 0.01 · 15.
    assert proved and on_phases(loads, answer, phases, [0] * 3)[0] == pytest.approx(23.55, abs=ALIKE)


@pytest.mark.parametrize("call", [
    lambda: fewest([-1.0], [9.0]), lambda: fewest([1.0], [9.0], used=[True, False]),
    lambda: even_out([1.0], [9.0], [0], [2], [0.0]), lambda: fewest([float("nan")], [9.0]),
])  # fmt: skip
def test_what_does_not_fit_together_is_refused(call):
    """Loads below 0 and shapes that differ."""
    with pytest.raises(ValueError, match="loads must|each circuit needs"):
        call()
