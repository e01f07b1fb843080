"""Cable runs: lengths by hand, the fewest cables, what they lie across, and what is fed by a battery."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.plans.lines import CableLine, CableRun
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.paper.cable import (
    LEAD,
    SLACK,
    STOCK,
    cable_for,
    cable_lines,
    cable_notes,
    cable_runs,
    crossings,
    made_up,
)
from previz.studies.paper.lamps import lamp_lines
from tests.studies.paper.listed import workshop

HALL = """\
previz: 1
title: Bare hall
room: {size: [10 m, 6 m, 4 m]}
lights:
  - {name: floor lamp, kind: panel, at: [5 m, 0.1 m, 2 m], aim: [5 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm}
  - {name: hung lamp, kind: panel, at: [5 m, 3 m, 3 m], aim: [5 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm,
     hung: cord}
  - {name: boomed, kind: panel, at: [5 m, 5 m, 3 m], aim: [5 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm,
     hung: boom}
  - {name: wick, kind: candle, at: [3 m, 3 m, 1 m]}
  - {name: van, kind: headlamp, at: [9 m, 3 m, 0.7 m], aim: [0 m, 3 m, 0.7 m], output: 900 lm}
"""


@pytest.fixture(scope="module")
def lists(tmp_path_factory):
    return workshop(str(tmp_path_factory.getbasetemp()))


@pytest.fixture(scope="module")
def hall(tmp_path_factory):
    path = tmp_path_factory.mktemp("hall") / "hall.yaml"
    path.write_text(HALL, encoding="utf-8")
    scene = load(path).scenes[""]
    stage = build_stage(scene)
    return scene, stage, lamp_lines(scene, stage, {})


def run(runs, name):
    return next((each for each in runs if each.lamp == name), None)


def test_lengths_by_hand(hall):
    """Along the wall 4.9 m and up the stand 2 m; up the wall 4 m, over 3 m of ceiling and 1 m down a cord."""
    scene, stage, lamps = hall
    runs = cable_runs(scene, stage, lamps, source=(0.1, 0.1, 0.0))
    stood = run(runs, "floor lamp")
    assert stood.route == pytest.approx(4.9 + 2.0, abs=0.02)
    assert stood.length == pytest.approx(stood.route * 1.1) and stood.source == "distribution"
    assert stood.pieces == (10.0,) and stood.what == "16 A, 3-core"
    hung = run(runs, "hung lamp")
    # By the south wall: 4.9 m of floor to x = 5, or up at once and 5.7 m across; the less is what it takes.
    by_floor, at_once = 4.9 + 4 + 3 + 1, 4 + math.hypot(4.9, 2.98) + 1
    assert hung.route == pytest.approx(min(by_floor, at_once), abs=0.3)
    boomed = run(runs, "boomed")
    foot = stage.places["boomed.boom end"]
    assert boomed.route >= math.dist((0.1, 0.1), foot[:2]) + foot[2] + math.dist(foot[:2], (5, 5)) - 0.01
    # The box's own height is a part of the way.
    higher = cable_runs(scene, stage, lamps, source=(0.1, 0.1, 1.0))
    assert run(higher, "floor lamp").route == pytest.approx(stood.route + 1)


def test_flames_are_not_fed_and_a_van_has_its_battery(hall):
    scene, stage, lamps = hall
    runs = cable_runs(scene, stage, lamps)
    assert run(runs, "wick") is None
    assert run(runs, "van") == CableRun("van", "battery", 0.0, 0.0, ())
    sources = {each.source for each in runs if each.lamp != "van"}
    assert len(sources) == 1 and sources.pop().endswith("corner")


def test_a_list_without_a_cable_is_refused(hall):
    scene, stage, lamps = hall
    for stock in ((), (5.0, 0.0)):
        with pytest.raises(ValueError, match="above 0 m"):
            cable_runs(scene, stage, lamps, stock=stock)


def test_out_by_the_door_round_where_people_go(lists):
    """The yard's lamp by the door; the rest on the fitter's own side, or across their way and said so."""
    runs = lists["evening"][3].runs
    assert {each.source for each in runs} == {"box by door", "battery"}
    assert run(runs, "yard").crosses == ("door",)
    assert not any(run(runs, name).crosses for name in ("key", "fill", "top", "rim", "over", "globe"))
    assert crossings(runs) == ("door: cable to yard",)
    # 8.9 kW of metal halide at 230 V and 0.9 are 42.9 A: over 80 % of 32 A, within that of 63 A.
    assert run(runs, "yard").what == "63 A, 3-core"
    # What goes out by the door is no shorter than straight to the door's edge and on to the lamp.
    door = math.dist(run(runs, "yard").path[0], (8.0, 2.0))
    assert run(runs, "yard").route > door + math.hypot(5, 7)


def test_slack_and_lead_are_stated(lists, hall):
    note, = cable_notes(lists["evening"][3].runs)
    assert "10%" in note.replace(" ", "") and "lead of 2 m" in note
    # 2 m are 6.56 ft.
    note, = cable_notes(lists["evening"][3].runs, "imperial")
    assert "lead of 6 1/2'" in note
    assert cable_notes([CableRun("van", "battery", 0.0, 0.0, ())]) == ()


def test_cables_over_ways_are_told_once_with_their_lamps():
    runs = [CableRun("a", "box", 5, 5, (5.0,), "16 A, 3-core", ("door", "way of fitter to vice")),
            CableRun("b", "box", 5, 5, (5.0,), "16 A, 3-core", ("door",)), CableRun("c", "box", 1, 1, ())]
    assert crossings(runs) == ("door: cables to a, b", "way of fitter to vice: cable to a")


def by_hand(length, stock):
    """Every set of cables that is long enough, by how many and how long they are."""
    for count in range(1, 12):
        made = [each for each in itertools.combinations_with_replacement(sorted(stock), count)
                if sum(each) >= length - 1e-9]
        if made:
            return count, min(map(sum, made))
    raise AssertionError(length)


@settings(max_examples=80)
@given(st.floats(0.01, 90), st.sets(st.integers(5, 30), min_size=1, max_size=4))
def test_the_fewest_cables_and_the_least_left_over(length, stock):
    """Against a search through all sets of them."""
    if length > 11 * max(stock):
        return
    made = made_up(length, tuple(map(float, stock)))
    assert (len(made), sum(made)) == by_hand(length, stock)
    assert list(made) == sorted(made, reverse=True)


def test_cables_of_the_usual_stock():
    """27 m is 15 + 15 (30) rather than 25 + 5 (30)? Both are 30 m: the same; 31 m is 25 + 10."""
    assert made_up(0.0) == () and made_up(-1.0) == () and made_up(5.0) == (5.0,)
    assert sum(made_up(27.0)) == 30 and made_up(31.0) == (25.0, 10.0)
    long = made_up(2000.0, STOCK)
    assert len(long) == 80 and sum(long) == 2000


def test_a_cable_by_its_current():
    """80 % of 16 A are 12.8 A (check value 7.1); 2 kW at 120 V are 16.67 A, over 80 % of 20 A."""
    assert cable_for(12.8, 230) == "16 A, 3-core" and cable_for(12.9, 230) == "32 A, 3-core"
    assert cable_for(2000 / 120, 120) == "60 A, 3-core" and cable_for(16.0, 120) == "20 A, 3-core"
    assert cable_for(101, 230) == "over 125 A, by an electrician"


def test_the_list_counts_what_the_runs_take(lists):
    for _, _, _, set_up in lists.values():
        assert sum(line.length * line.count for line in set_up.cables) == sum(
            sum(each.pieces) for each in set_up.runs)
        for each in set_up.runs:
            if each.source != "battery":
                need = each.length - LEAD
                assert sum(each.pieces) >= need - 1e-9
                assert each.length == pytest.approx(each.route * (1 + SLACK))
    runs = [CableRun(name, "box", 9, 9, pieces, f"{rating} A, 3-core") for name, pieces, rating in (
        ("a", (10.0,), 32), ("b", (10.0, 5.0), 16), ("c", (10.0,), 16))]
    assert cable_lines(runs) == (CableLine("16 A, 3-core", 5.0, 1), CableLine("16 A, 3-core", 10.0, 2),
                                 CableLine("32 A, 3-core", 10.0, 1))


DEPOT = """\
previz: 1
title: Depot with a rail
room:
  size: [8 m, 4 m, 3 m]
  openings: [{name: gate, wall: south, along: 3.5 m, sill: 0 m, size: [1 m, 2 m]}]
pieces:
  - {name: rail, shape: box, at: [4 m, 2 m], size: [8 m, 0.07 m, 0.1 m]}
  - {name: mat, shape: box, at: [6 m, 0.5 m], size: [1 m, 1 m, 0.005 m]}
  - {name: beam, shape: box, at: [4 m, 3 m, 2.5 m], size: [8 m, 0.2 m, 0.2 m]}
lights:
  - {name: far, kind: panel, at: [1 m, 3 m, 2 m], aim: [4 m, 2 m, 1 m], size: [0.3 m, 0.2 m], output: 900 lm}
  - {name: near, kind: panel, at: [7 m, 0.2 m, 1 m], aim: [4 m, 2 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm}
"""


def test_a_rail_and_the_way_to_a_gate_are_told(tmp_path):
    """The rail lies right across the room; past the gate there is no other way along its wall."""
    path = tmp_path / "depot.yaml"
    path.write_text(DEPOT, encoding="utf-8")
    scene = load(path).scenes[""]
    stage = build_stage(scene)
    runs = cable_runs(scene, stage, lamp_lines(scene, stage, {}), source=(0.3, 0.3, 0.0))
    assert run(runs, "far").crosses == ("over rail",)
    # The mat is flat, and the beam is overhead.
    assert run(runs, "near").crosses == ("before gate",)
