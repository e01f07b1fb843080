"""The plan of circuits: who feeds what, what is flagged, and that each warning says where it is from.

Sources: check values 7.1 and 7.2; all else is counted up by hand in the tests.
"""

import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.physics.mains import EFFICACY, Draw
from previz.physics.safety import PLANNING_AID
from previz.plans.lines import CableRun, LampLine
from previz.scene.light import LIGHTS
from previz.scene.mains import Circuit, Generator, Mains
from previz.scene.scene import Scene
from previz.stage.mains import load_cautions
from previz.studies.paper.power import power_plan


def lamp(name, watts, circuit="", spectrum="tungsten", factor=None, inrush=None):
    return Draw(name, watts, 0.0, spectrum, factor, circuit, inrush)


def plan(lamps, runs=(), **mains):
    return power_plan(Scene(mains=Mains(**mains)), lamps, runs=runs)


def warned(made, begin):
    return [each for each in made.warnings if each.startswith(begin)]


def test_two_kilowatts_at_120_volts_are_flagged_on_20_amperes():
    """Check value 7.1: 16.67 A need a device of 20.8 A; 230 V and 16 A hold 2944 W, and no more."""
    made = plan([lamp("key", 2000, "wall one")], voltage=120.0, circuit=20.0)
    line, = made.circuits
    assert line.over and line.amperes == pytest.approx(16.67, abs=0.005) and line.holds == pytest.approx(16)
    assert "20.8 A" in line.note
    assert "NEC 210.20(A)" in warned(made, "Circuit wall one")[0]
    for watts, over in ((2944, False), (2946, True)):
        assert plan([lamp("key", watts, "a")]).circuits[0].over == over
    # For two hours the breaker holds all of its rating.
    made = plan([lamp("key", 2000, "a")], voltage=120.0, circuit=20.0, hours=2.0)
    assert not made.circuits[0].over and made.circuits[0].holds == 20


def test_the_way_out_of_an_overload():
    """The smallest lamp that frees enough is named; where none does, how many circuits would do."""
    made = plan([lamp("key", 2000, "a"), lamp("fill", 1000, "a"), lamp("kick", 300, "a")])
    # 3300 W are 14.3 A, 1.5 over 12.8 A; kick has 1.3 A, fill 4.3 A.
    assert made.circuits[0].note == "1.5 A too much: feed fill (4.3 A) from another circuit"
    made = plan([lamp(f"lamp {k}", 1000, "a") for k in range(9)])
    assert "over 4 circuits" in made.circuits[0].note  # 39.1 A on 12.8 A each


def test_lamps_go_where_there_is_room():
    """Stated circuits are kept; the others fill what is left, from the fewest circuits."""
    circuits = (Circuit(name="1"), Circuit(name="2", breaker=32.0), Circuit(name="3"))
    made = plan([lamp("key", 2000, "1"), lamp("fill", 5000), lamp("kick", 900)], circuits=circuits)
    assert [each.lamps for each in made.circuits] == [("key", "kick"), ("fill",), ()]
    assert [each.breaker for each in made.circuits] == [16, 32, 16]
    assert made.unfed == () and not any(each.over for each in made.circuits)


def test_what_cannot_be_fed_is_said():
    """A lamp that is too much for any circuit, and one that finds no room: both told, the rest is fed."""
    made = plan([lamp("big", 5000), lamp("a", 2500), lamp("b", 2500)], circuits=(Circuit(name="1"),))
    assert set(made.unfed) == {"big", "b"} or set(made.unfed) == {"big", "a"}
    # 5 kW at 230 V are 21.7 A, which need 27.2 A.
    assert "at least 27.2 A" in warned(made, "big is not fed")[0]
    other = next(each for each in made.unfed if each != "big")
    assert "10.9 A left" in warned(made, f"{other} is not fed")[0]
    assert made.watts == 10_000 and made.amperes == pytest.approx(2500 / 230)


def test_circuits_are_made_where_none_are_listed():
    """As few as hold the lamps, called 1, 2, ..., on the phases in turn; names that lamps give come first."""
    lamps = [lamp("key", 2900), lamp("fill", 2900), lamp("kick", 2900), lamp("desk", 40, "2")]
    made = plan(lamps, phases="3")
    assert [each.name for each in made.circuits] == ["2", "1", "3", "4"]
    assert [each.phase for each in made.circuits] == ["L1", "L2", "L3", "L1"]
    assert made.supply == "three phases at 230 V, 50 Hz"
    single = plan([lamp("key", 2900), lamp("fill", 60)])
    assert [(each.name, each.phase) for each in single.circuits] == [("1", ""), ("2", "")]
    assert single.phases == (("L1", pytest.approx(2960 / 230)),)


def test_phases_and_neutral_by_hand():
    """Three filaments of 10, 6 and 2 A, one a phase: unbalance 2/3, neutral by phasors; thirds add up."""
    circuits = tuple(Circuit(name=str(k), phase=f"L{k}") for k in (1, 2, 3))
    made = plan([lamp(f"a{k}", watts, str(k)) for k, watts in ((1, 2300), (2, 1380), (3, 460))], phases="3",
                circuits=circuits)
    assert [amperes for _, amperes in made.phases] == pytest.approx([10, 6, 2])
    assert made.amperes == pytest.approx(10) and made.unbalance == pytest.approx(4 / 6)
    assert made.neutral == pytest.approx(math.sqrt(100 + 36 + 4 - 60 - 12 - 20))
    assert made.volt_amperes == made.watts == 4140
    # Supplies of a power factor of 0.6, alike on all phases: 0.8 of 10 A may be thirds, thrice in neutral.
    made = plan([lamp(f"a{k}", 1380, str(k), "led", 0.6) for k in (1, 2, 3)], phases="3", circuits=circuits)
    assert [amperes for _, amperes in made.phases] == pytest.approx([10] * 3)
    assert made.neutral == pytest.approx(24) and made.volt_amperes == pytest.approx(6900)
    assert "24.0 A, more than any phase" in warned(made, "Neutral")[0]
    # sqrt(3) · 230 V between phases, 2 · 120 V between legs.
    assert "up to 398 V" in warned(made, "Neutral: earth")[0]
    # Filaments on two legs against each other: the neutral has the difference.
    made = plan([lamp("a", 1200, "1"), lamp("b", 480, "2")], voltage=120.0, phases="2", circuits=circuits[:2])
    assert made.neutral == pytest.approx(6) and made.supply == "two legs at 120 V, 50 Hz"
    assert "up to 240 V" in warned(made, "Neutral: earth")[0]
    # On one phase the neutral brings back all of it: 8 A at 0.6 beside 5 A, 9.8 in step and 6.4 distorted.
    one = plan([lamp("a", 1104, "x", "led", 0.6), lamp("b", 1150, "y")])
    assert one.neutral == pytest.approx(math.hypot(4.8 + 5, 6.4)) and not warned(one, "Neutral")


def test_the_incoming_supply():
    """32 A hold 25.6 A in continuous use; three lamps of 2.9 kW are too much for one phase, not for three."""
    lamps = [lamp(f"a{k}", 2900) for k in range(3)]
    assert warned(plan(lamps, supply=32.0), "Supply: 37.8 A")
    assert not warned(plan(lamps, supply=32.0, phases="3"), "Supply")
    # Two lamps of 1 kW and four of 700 W fit on two circuits, on two phases; a weak supply has them on three.
    few = [lamp(f"a{k}", 1000) for k in range(2)] + [lamp(f"b{k}", 700) for k in range(4)]
    assert len([each for each in plan(few, phases="3").circuits if each.lamps]) == 2
    spread = plan(few, phases="3", supply=10.0)
    assert len(spread.circuits) == 3 and not warned(spread, "Supply")


def test_a_generator():
    """20 kVA are 16 kW and 29 A a phase: a fifth is left free, phases are even, the engine is not idle."""
    lamps = [lamp(f"a{k}", 2900) for k in range(3)]
    good = plan(lamps, phases="3", generator=Generator(rating=20_000.0))
    assert [each[:28] for each in warned(good, "Generator")] == ["Generator: meter its voltage"]
    assert good.supply == "generator of 20 kVA, three phases at 230 V, 50 Hz"
    small, = warned(plan(lamps, phases="3", generator=Generator(rating=10_000.0)), "Generator: 8.7 kW")
    # 8.7 of 8 kW is 109 %; 8.7 kW with a fifth free need 10.9 kW, 13.6 kVA.
    assert "engine at 109%" in small and "one of 13.6 kVA" in small
    idle = plan([lamp("a", 1000)], generator=Generator(rating=20_000.0))
    assert "is at 6%" in warned(idle, "Generator: its engine")[0]
    uneven = plan([lamp("a", 2000), lamp("b", 2000)], phases="3", generator=Generator(rating=20_000.0))
    assert "differ by 8.7 A, 30%" in warned(uneven, "Generator: its phases")[0]
    supplies = plan([lamp("a", 2000, "", "led"), lamp("b", 500)], generator=Generator(rating=10_000.0))
    assert "82% of the load" in warned(supplies, "Generator: 82%")[0]


def test_a_generator_has_even_phases_where_lamps_allow():
    """Few circuits would be uneven on a generator: one more circuit is taken for that."""
    lamps = [lamp(f"a{k}", 950) for k in range(6)]
    # Three of 4.1 A fit on a circuit of 12.8 A.
    assert len(plan(lamps, phases="3").circuits) == 2
    made = plan(lamps, phases="3", generator=Generator(rating=15_000.0))
    assert [amperes for _, amperes in made.phases] == pytest.approx([1900 / 230] * 3)
    assert not warned(made, "Generator: its phases")
    # 12.4 A more on two phases than on the third are little to one of 290 A a phase.
    assert len(plan(lamps, phases="3", generator=Generator(rating=200_000.0)).circuits) == 2


def test_circuits_in_use_are_free_to_even_phases_out():
    """Two lamps of 2 A beside 6 A each on two phases: one goes to each, though both fit on either."""
    circuits = (Circuit(name="1", phase="L1"), Circuit(name="2", phase="L2"))
    made = plan([lamp("a", 1380, "1"), lamp("b", 1380, "2"), lamp("c", 460), lamp("d", 460)], phases="2",
                circuits=circuits)
    assert [amperes for _, amperes in made.phases] == pytest.approx([8, 8])
    assert [each.watts for each in made.circuits] == [1840, 1840]


@pytest.mark.parametrize(("curve", "words"), [
    ("B", "trips it, a type B"), ("C", "may trip it, a type C"), ("D", None),
    (None, "trips at once by type: B (yes) and C (may)"),
])  # fmt: skip
def test_switching_on(curve, words):
    """Two lamps of 5 A and ten times that at once are 100 A, 6.25 times 16 A; one after the other 50 A."""
    made = plan([lamp("a", 1150, "1", inrush=10), lamp("b", 1150, "1", inrush=10)], curve=curve)
    found = warned(made, "Circuit 1: 100 A in the first half cycle")
    assert len(found) == (words is not None)
    if words:
        assert words in found[0] and "IEC 60898-1, from memory" in found[0]
        assert ("one after the other" in found[0]) == (curve != "B")
    # 18 times 5 A is over 5 times 16 A alone: to switch on one after the other is no help.
    alone = plan([lamp("a", 1150, "1", inrush=18), lamp("b", 230, "1", inrush=1)], curve="C")
    assert "ask the electrician" in warned(alone, "Circuit 1: 91 A")[0]
    assert not warned(plan([lamp("a", 1150), lamp("b", 1150)], curve="B"), "Circuit")


def test_cable_runs():
    """70 m to 2 kW by 2.5 mm²: 2 · 1.25 · 0.0175 · 70 · 8.7 / 2.5 is 10.7 V, 4.6 %; 40 m are within 3 %."""
    for length, told in ((70.0, True), (40.0, False)):
        made = plan([lamp("key", 2000)], runs=[CableRun("key", "distribution", 60, length, ())])
        found = warned(made, "key: 70 m of cable of 2.5 mm² take 4.6%")
        assert bool(found) == told


def test_lines_of_the_list_and_what_is_off():
    """Lamp lines count at full level while they are lit; those that are off or draw nothing do not."""
    line = LampLine("1", "key", "fresnel", (0, 0, 2), watts=2000.0, amperes=8.7, power_factor=1.0, dimmer=0.1)
    lines = [line, dataclasses.replace(line, name="off", on=False),
             dataclasses.replace(line, name="zero", dimmer=0), LampLine("4", "candle", "candle", (0, 0, 1)),
             dataclasses.replace(line, name="tube", watts=575.0, power_factor=0.9, guessed=True, circuit="a")]
    light = LIGHTS["bulb"](name="tube", at=(0, 0, 1), output=None, spectrum="fluorescent", inrush=40.0)
    made = power_plan(Scene(lights=(light,)), lines)
    assert [each.lamps for each in made.circuits] == [("tube",), ("key",)]
    assert made.watts == 2575 and made.volt_amperes == pytest.approx(2000 + 575 / 0.9)
    assert warned(made, "Watts guessed from the light of tube")
    # 575 W at 0.9 and 230 V are 2.78 A; forty times that is 111 A.
    assert warned(made, "Circuit a: 111 A")


def test_nothing_that_draws():
    """A scene of daylight has listed circuits that are free, and nothing to warn of."""
    made = plan([], circuits=(Circuit(name="1"),))
    assert made.circuits[0].lamps == () and made.warnings == () and made.amperes == 0
    assert plan([]).circuits == ()


def test_every_warning_says_where_it_is_from_and_who_decides():
    """Each ends with its source in brackets; the last says that this is a planning aid."""
    lamps = [lamp(f"a{k}", 4000, "", "led", 0.5, 90.0) for k in range(3)] + [lamp("b", None, "x", "led")]
    made = plan(lamps, phases="3", supply=10.0, generator=Generator(rating=4000.0), circuit=32.0)
    assert made.warnings[-1] == PLANNING_AID
    assert len(made.warnings) > 6
    assert all(each.endswith(")") and "(" in each for each in made.warnings[:-1])


def test_the_caution_on_sheets_is_of_the_same_plan():
    """Sheets say as many circuits, the same circuits over, lamps unfed and the supply too small."""
    lamps = [lamp(f"a{k}", 1600) for k in range(4)]
    made = plan(lamps)
    caution, = load_cautions(lamps, Mains())
    # Two of 7 A are more than 12.8 A, though the sum is only 2.2 circuits: each lamp needs its own.
    assert len(made.circuits) == 4 and "at least 4 circuits" in caution.brief
    mains = Mains(circuits=(Circuit(name="1", breaker=20.0), Circuit(name="2")), supply=20.0)
    lamps = [lamp("key", 4000, "1"), lamp("fill", 2800), lamp("kick", 2800)]
    briefs = [each.brief for each in load_cautions(lamps, mains)]
    made = power_plan(Scene(mains=mains), lamps)
    assert [each.over for each in made.circuits] == [True, False] and len(made.unfed) == 1
    assert briefs[0].endswith(
        "key alone is too much for a circuit; a 20 A circuit holds 16 A in continuous use")
    assert briefs[1].startswith("Circuit 2: 2800 W, 12.2 A at 230 V; a 16 A")
    assert f"no circuit has room for {made.unfed[0]}" in briefs[2]
    assert briefs[3] == "Supply: 29.6 A on the fullest phase: too much for 20 A, which holds 16 A"
    assert not [each for each in load_cautions(lamps, Mains(generator=Generator(rating=50_000.0)))
                if each.names == ("supply",)]
    two, = load_cautions([lamp("a", 2000, "x"), lamp("b", 2000, "x")], Mains())
    assert "17.4 A at 230 V: too much for it; a 16 A" in two.brief
    generator = load_cautions(lamps, Mains(generator=Generator(rating=5000.0)))[-1]
    assert "loaded to 240%" in generator.brief and generator.source == "common practice, no source"


def test_short_use_is_said_so():
    """For two hours a circuit holds what it is fused for, and the caution says for how long."""
    caution, = load_cautions([lamp("key", 3500)], Mains(hours=2.0))
    assert caution.brief == "Mains: 3500 W, 15.2 A at 230 V; a 16 A circuit holds 16 A for 2 h"


def test_watts_are_guessed_from_lumens():
    """As the caution does, by the efficacy of what makes the light."""
    made = plan([Draw("panel", None, 8000.0, "led"), Draw("strip", 100.0, 8000.0, "led", inrush=5.0)])
    assert made.watts == pytest.approx(8000 / EFFICACY["led"] + 100)
    assert warned(made, "Watts guessed from the light of panel:")
    assert warned(made, "1 lamp does not state the current at switching on")
    silent = [lamp(f"lamp {k}", 100, "", "led") for k in range(3)] + [lamp("bulb", 100)]
    assert warned(plan(silent), "3 lamps do not state") and not warned(plan(silent), "Watts guessed")
    many = plan([Draw(f"panel {k}", None, 800.0, "led") for k in range(6)])
    assert "panel 0, panel 1, panel 2, panel 3 and 2 more: read" in warned(many, "Watts guessed")[0]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(watts=st.lists(st.sampled_from((1, 40, 300, 650, 1000, 1250, 2000, 2900, 5000)), max_size=9),
       phases=st.sampled_from(("1", "2", "3")), listed=st.integers(0, 4), named=st.integers(0, 2))
def test_no_lamp_is_lost_and_no_circuit_is_over_by_the_plan(watts, phases, listed, named):
    """Each lamp is on one circuit or told unfed; only circuits that lamps name can be over; sums agree."""
    circuits = tuple(Circuit(name=str(k)) for k in range(listed))
    lamps = [lamp(f"lamp {k}", each, "0" if listed and k < named else "") for k, each in enumerate(watts)]
    made = plan(lamps, phases=phases, circuits=circuits)
    fed = [name for line in made.circuits for name in line.lamps]
    assert sorted([*fed, *made.unfed]) == sorted(each.name for each in lamps)
    stated = {each.name for each in lamps if each.circuit}
    for line in made.circuits:
        assert line.over == (line.amperes > line.holds * (1 + 1e-9)) == bool(line.note)
        if line.over:
            assert set(line.lamps) <= stated
    total = sum(each.amperes for each in made.circuits)
    assert sum(amperes for _, amperes in made.phases) == pytest.approx(total)
    if not listed:
        assert {name: each for name, each in zip([x.name for x in lamps], watts, strict=True)
                if name in made.unfed and each < 2944} == {}
