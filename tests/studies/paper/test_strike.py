"""From option to option: the order against all orders, and each change told once."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.plans.tags import tags_of
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.paper.lists import set_up_of
from previz.studies.paper.order import MOST_EXACT, cheapest_order, total
from previz.studies.paper.strike import (
    ADD,
    AIM,
    EFFORT,
    GEL,
    MOVE,
    OVERHEAD,
    SET,
    STRIKE,
    change_overs,
    light_level,
)
from tests.studies.paper.listed import listed, workshop

NARROW = "\N{NARROW NO-BREAK SPACE}"


@pytest.fixture(scope="module")
def lists(tmp_path_factory):
    return workshop(str(tmp_path_factory.getbasetemp()))


def options_of(lists, names=None):
    return [(lists[name][0], lists[name][3]) for name in names or lists]


def tables(least, most):
    return st.integers(least, most).flatmap(lambda n: st.lists(
        st.lists(st.integers(0, 20).map(lambda k: k / 4), min_size=n, max_size=n), min_size=n, max_size=n))


@settings(max_examples=40, deadline=None)
@given(tables(1, 6), st.booleans())
def test_the_order_is_the_best_of_all(costs, held):
    """Against every order; costs need not be alike both ways."""
    first = len(costs) - 1 if held else None
    order = cheapest_order(costs, first)
    assert sorted(order) == list(range(len(costs))) and (first is None or order[0] == first)
    orders = [each for each in itertools.permutations(range(len(costs))) if first is None or each[0] == first]
    best = min(total(costs, each) for each in orders)
    assert total(costs, order) == pytest.approx(best)
    # Of equally good ones the first in the order given.
    assert order == min(each for each in orders if total(costs, each) == pytest.approx(best))


def test_eight_are_exact_and_many_are_no_worse_than_the_nearest_next():
    """Places on a line, out of order: from one end to the other is the least, their whole span."""
    spots = [3, 7, 1, 0, 5, 2, 6, 4]
    costs = [[abs(one - other) for other in spots] for one in spots]
    assert total(costs, cheapest_order(costs)) == 7
    many = [(k * 7) % 17 for k in range(17)]
    assert len(many) > MOST_EXACT
    costs = [[abs(one - other) for other in many] for one in many]
    order = cheapest_order(costs)
    assert sorted(order) == list(range(17)) and total(costs, order) == 16
    assert cheapest_order(costs, 5)[0] == 5


def test_each_change_is_told_with_its_place_and_how_far(lists):
    """By hand: strike 2, moves 3 + 0.1 a metre, an aim, two gels (the window's top is overhead), settings."""
    over, = change_overs(options_of(lists), first="evening")
    assert (over.before, over.after) == ("evening", "night")
    assert [(change.what, change.tag, change.name, change.text) for change in over.changes] == [
        (STRIKE, "D1", "silk", "strike silk (diffusion frame, half silk)"),
        (MOVE, "4", "fill",
         "move fill by 1.00 m to x 3.00 m, y 1.00 m, 1.60 m high; aim at x 4.00 m, y 3.00 m, 1.00 m high"),
        (MOVE, "B1", "bounce", "move bounce by 0.10 m to x 6.00 m, y 1.00 m, 1.60 m high"),
        (AIM, "1", "key", "aim key at x 4.00 m, y 3.00 m, 0.50 m high (pan 56°, tilt -23°)"),
        (GEL, "1", "key", "key: nd 0.3 out"),
        (GEL, "", "window", "window: full cto out"),
        (SET, "1", "key", "key to 50 %"),
        (SET, "4", "fill", "fill to 3200 K"),
        (SET, "6", "yard", "yard off"),
        (SET, "10", "globe", "globe on at 100 %"),
        (SET, "", "A", "camera A: T2"),
    ]
    # Silk at 1.86 m, key at 2 m: overhead from 2 m on.
    assert over.effort == pytest.approx(
        EFFORT[STRIKE] + 2 * EFFORT[MOVE] + 0.1 * 1.1 + OVERHEAD * (EFFORT[AIM] + 2 * EFFORT[GEL])
        + 5 * EFFORT[SET])


def test_the_better_way_round_comes_first(lists):
    """To take a frame down is less than to put it up, so the option with it comes first."""
    assert EFFORT[ADD] > EFFORT[STRIKE]
    there, = change_overs(options_of(lists, ["night", "evening"]))
    assert (there.before, there.after) == ("evening", "night")
    back, = change_overs(options_of(lists), first="night")
    assert (back.before, back.after) == ("night", "evening") and back.effort > there.effort
    assert {change.what for change in back.changes if change.name == "silk"} == {ADD}
    assert "before key at 0.50 m" in next(change.text for change in back.changes if change.name == "silk")


def test_one_option_is_no_change_and_a_wrong_name_is_told(lists):
    assert change_overs(options_of(lists, ["night"])) == ()
    with pytest.raises(ValueError, match="no option 'noon'"):
        change_overs(options_of(lists), first="noon")


MORE = """\
previz: 1
title: Yard at dusk
room:
  size: [6 m, 5 m, 3 m]
  openings: [{name: window, wall: north, along: 1 m, sill: 1 m, size: [1 m, 1.5 m]}]
pieces: [{name: crate, shape: box, at: [1 m, 1 m], size: [0.5 m, 0.5 m, 0.5 m]}]
lights:
  - {name: spot, kind: ellipsoidal, at: [1 m, 4 m, 1.8 m], aim: [3 m, 2 m, 1 m], output: 9000 lm}
  - {name: lamp, kind: fresnel, at: [5 m, 4 m, 1.5 m], aim: [3 m, 2 m, 1 m], output: 5000 lm}
boards: [{name: card, at: [3 m, 4 m, 1 m], facing: [3 m, 2 m, 1 m], size: [1 m, 1 m]}]
cameras: [{name: A, at: [3 m, 0.5 m, 1.5 m], aim: [3 m, 4 m, 1.2 m], lens: 35 mm, stop: T4, iso: 800}]
options:
  plain: {}
  other:
    room: {openings: {window: {blind: {}}}}
    remove: [card]
    pieces: {crate: {at: [2 m, 1 m]}}
    lights: {spot: {output: 18000 lm}, lamp: {flood: 0.2, barn_doors: {top: 20 deg}, hung: cord}}
    haze: {density: 0.02 /m, fills: room}
    cameras: {A: {lens: 50 mm, nd: 0.6, at: [2 m, 0.5 m, 1.5 m]}}
"""


def test_other_lamps_parts_pieces_air_and_cameras(tmp_path):
    """A bigger lamp takes the other's place; barn doors go on; a lens, a filter, haze, a blind."""
    path = tmp_path / "more.yaml"
    path.write_text(MORE, encoding="utf-8")
    over, = change_overs(options_of(listed(path)), first="plain")
    assert {change.text for change in over.changes} == {
        "strike spot (ellipsoidal)", "in its place spot (ellipsoidal)", "strike card (board, white card)",
        "lamp hung by a cord instead of stand",
        "lamp: flood 20 %", "lamp: barn doors (top 20°) on", "window: hang the blind",
        "move crate by 1.00 m to x 2.00 m, y 1.00 m, 0.00 m high",
        "haze in, and time for it to spread", "move camera A by 1.00 m to x 2.00 m, y 0.50 m, 1.50 m high",
        "camera A: lens 50 mm", "camera A: ND 0.6"}


@pytest.mark.parametrize(("lux", "metric", "imperial"), [
    # A foot-candle is 10.764 lx: 139.35, 820.3 and 0.01858.
    (1500.0, f"1{NARROW}500 lx", "139 fc"), (8830.0, f"8{NARROW}830 lx", "820 fc"),
    (0.2, "0.2 lx", "0.0186 fc"),
])
def test_light_is_said_in_figures_that_are_read_out(lux, metric, imperial):
    assert (light_level(lux), light_level(lux, "imperial")) == (metric, imperial)


def test_sun_that_goes_is_told(tmp_path):
    """From sun on the engine to the lamp that stands in for it: the light to wait for has no sun."""
    path = tmp_path / "shed.yaml"
    path.write_text(SHED)
    file = load(path)
    done = []
    for name in ("day", "lamp"):
        scene = file.scene(name)
        stage = build_stage(scene)
        done.append((scene, set_up_of("shed", scene, stage, tags_of([scene]), "metric")))
    over, = change_overs(done, first="day")
    assert f"wait for the light: sky clear, no sun, the sky alone 1{NARROW}500 lx on open ground" in {
        change.text for change in over.changes}


SHED = """\
previz: 1
room: {size: [4 m, 3 m, 3 m]}
ground: gravel
daylight: {sky: clear, illuminance: 7000 lx, sun: {azimuth: 98 deg, altitude: 14 deg}}
cameras: [{name: A, at: [1 m, 1 m, 1.5 m], aim: [3 m, 2 m, 1 m], lens: 24 mm, stop: T4, iso: 800}]
options:
  day: {}
  lamp: {daylight: {illuminance: 1500 lx, sun: {illuminance: 0 lx}}}
"""
