"""The truck list: for each line the most that any set-up needs, and gel cut once."""

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.plans.lines import (
    CableLine,
    CableRun,
    CircuitLine,
    GripLine,
    LampLine,
    PowerPlan,
    SetUp,
    SheetLine,
)
from previz.studies.paper.cutting import roll_length
from previz.studies.paper.gels import ROLL
from previz.studies.paper.truck import sorted_lamps, truck_lines
from tests.studies.paper.listed import workshop

KINDS = ("fresnel", "panel", "bulb")


def sheet_of(cuts):
    order = ROLL * roll_length([cut[1:] for cut in cuts], ROLL)
    return SheetLine("half ctb", "gel", 0.01, 0.5, order, tuple(cut[0] for cut in cuts), cuts=tuple(cuts),
                     roll=ROLL)


@st.composite
def set_ups(draw):
    """Set-ups of two scenes with lamps, stands, cables and gels out of a small stock."""
    made = []
    for number in range(draw(st.integers(1, 4))):
        lamps = tuple(LampLine("1", f"lamp {k}", draw(st.sampled_from(KINDS)), (0.0, 0.0, 1.0), size=(0.2,),
                               cct=draw(st.sampled_from((3200.0, 5600.0))), watts=650.0, spectrum="tungsten",
                               dimmer=draw(st.floats(0.1, 1))) for k in range(draw(st.integers(0, 4))))
        grip = tuple(GripLine("", "", what, draw(st.integers(1, 5))) for what in (
            "stand, low, to 1.30 m", "sandbag, 10 kg, by a plain rule") if draw(st.booleans()))
        cables = tuple(CableLine("16 A, 3-core", length, draw(st.integers(1, 4))) for length in (5.0, 10.0)
                       if draw(st.booleans()))
        sides = st.integers(2, 12).map(lambda k: k / 10)
        cuts = [(f"lamp {k}", draw(sides), draw(sides)) for k in range(draw(st.integers(0, 3)))]
        made.append(SetUp(draw(st.sampled_from(("cabin", "shed"))), f"option {number}", lamps, grip,
                          (sheet_of(cuts),) if cuts else (), (), cables))
    return made


def counted(set_up, group):
    if group == "stands":
        return Counter({line.what: line.count for line in set_up.grip if line.what.startswith("stand")})
    if group == "grip":
        return Counter({line.what: line.count for line in set_up.grip if not line.what.startswith("stand")})
    return Counter({f"cable, {line.what}, {line.length:g} m": line.count for line in set_up.cables})


@settings(max_examples=40, deadline=None)
@given(set_ups())
def test_the_truck_has_what_every_set_up_needs_and_no_more_than_the_worst(made):
    lines = truck_lines(made)
    for group in ("stands", "grip", "cable"):
        found = {line.what: line for line in lines if line.group == group}
        for what, line in found.items():
            needs = {each.label: counted(each, group)[what] for each in made}
            assert line.count == max(needs.values()) and needs[line.most] == line.count
        assert set(found) == {what for each in made for what in counted(each, group)}
    sorts = [Counter(sort for _, sort in each) for each in sorted_lamps(made)]
    most = Counter()
    for each in sorts:
        most |= each
    assert sum(line.count for line in lines if line.group == "lamps") == most.total()


@settings(max_examples=40, deadline=None)
@given(set_ups())
def test_gel_is_cut_once_for_the_same_lamp(made):
    """At least what any one set-up cuts; at most all cuts of all of them; the same again is no more."""
    order = next((line.count for line in truck_lines(made) if line.group == "gels"), 0.0)
    orders = [line.order for each in made for line in each.sheets]
    assert max(orders, default=0) - 1e-9 <= order <= sum(orders) + 1e-9
    twice = next((line.count for line in truck_lines([*made, *made]) if line.group == "gels"), 0.0)
    assert twice == pytest.approx(order)


def lamp(name, kind="panel", cct=5600.0, spectrum="led", **more):
    return LampLine("1", name, kind, (0.0, 0.0, 1.0), size=(0.6, 0.3), cct=cct, watts=100.0,
                    spectrum=spectrum, **more)


def lamps_of(made):
    return {line.what: line for line in truck_lines(made) if line.group == "lamps"}


def test_lamps_that_differ_in_level_gel_or_place_are_one():
    """One panel dimmed here and moved there is one panel; two at once are two."""
    one = SetUp("cabin", "a", (lamp("key", dimmer=0.4), lamp("fill", gels=("half cto",))))
    two = SetUp("cabin", "b", (lamp("rim", on=False),))
    line, = lamps_of([one, two]).values()
    assert (line.what, line.count, line.most) == ("panel, 600 mm × 300 mm, 100 W, LED 5600 K", 2, "cabin, a")
    assert line.note == "key, fill, rim"
    assert lamps_of([two])["panel, 600 mm × 300 mm, 100 W, LED 5600 K"].note == "rim; off in all set-ups"


def test_a_colour_that_is_set_on_the_lamp_is_no_other_lamp():
    """A two-colour lamp at any colour; one that has two colours in a day is one that can be set to both."""
    tuned = [SetUp("cabin", name, (lamp("key", cct=cct, spectrum="two-colour led"),))
             for name, cct in (("a", 3200.0), ("b", 5600.0))]
    assert {what: line.count for what, line in lamps_of(tuned).items()} == {
        "panel, 600 mm × 300 mm, 100 W, two-colour LED": 1}
    fixed = [SetUp("cabin", name, (lamp("key", cct=cct),)) for name, cct in (("a", 3200.0), ("b", 5600.0))]
    assert {what: line.count for what, line in lamps_of(fixed).items()} == {
        "panel, 600 mm × 300 mm, 100 W, LED 3200 K to 5600 K": 1}
    other = [SetUp("cabin", "a", (lamp("key", cct=3200.0),)), SetUp("shed", "b", (lamp("key", cct=5600.0),))]
    assert [line.count for line in lamps_of(other).values()] == [1, 1]


def test_distribution_batteries_and_care():
    """The most circuits at once; covers where cables lie on the floor across a way, not over a sill."""
    circuits = tuple(CircuitLine(str(k), "", 16.0, ("key",) if k < 3 else (), 500.0, 2.2, 12.8)
                     for k in range(4))
    crossed = ("door", "window, over its sill, to stand open")
    runs = (CableRun("key", "box", 9, 9, (10.0,), "16 A, 3-core", crossed),
            CableRun("car", "battery", 0, 0, ()))
    lamps = (lamp("key"), lamp("wick", "candle"), lamp("hot", spectrum="tungsten"))
    made = [SetUp("cabin", "a", lamps, (), (), runs, (), PowerPlan(circuits, supply="one phase of 63 A")),
            SetUp("cabin", "b")]
    lines = truck_lines(made)
    assert {line.what: line.count for line in lines if line.group == "distribution"} == {
        "one phase of 63 A": 1, "circuit, 16 A": 3, "battery with its lead": 1}
    care = {line.what: line.count for line in lines if line.group == "care"}
    assert care["cable cover or ramp, where cables cross a way"] == 1
    assert care["residual-current device, 30 mA, at each circuit"] == 3
    assert any("flames" in what for what in care) and any("gloves" in what for what in care)
    assert truck_lines([SetUp("cabin", "")]) == ()


def test_the_workshops_truck(tmp_path_factory):
    """Two Fresnels of 690 W together; the window's gel of the evening, half ctb the same in both."""
    made = [each[3] for each in workshop(str(tmp_path_factory.getbasetemp())).values()]
    lines = {line.what: line for line in truck_lines(made)}
    assert lines["fresnel, 200 mm, 690 W, tungsten 3200 K"].count == 2
    assert lines["stand, medium, to 2.50 m"].count == 8
    assert lines["half ctb, gel"].count == pytest.approx(0.3 * ROLL) and lines["half ctb, gel"].unit == "m²"
    assert lines["window gel full cto"].most == "Workshop of the depot, evening"
