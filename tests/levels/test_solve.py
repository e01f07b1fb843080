"""Levels from wants, against what is known in closed form and what trying everything finds."""

import itertools

import numpy as np
import pytest

from previz.levels.isotherms import isotherm, mired_of
from previz.levels.moves import CameraMove, LampMove
from previz.levels.solve import LEAST_SQUARES, LEAST_WORST, as_set, balance
from previz.levels.wants import COLOUR, LEVEL, RATIO, Want
from previz.physics.colourtemp import cct_duv, xy_from_cct_duv, xyz_from_xy
from previz.physics.light import lamp_band_xyz
from tests.levels.lamps import BANDS, answer_to, black, lamp, levels, misses, ranged

RULES = (LEAST_SQUARES, LEAST_WORST)


def level(name, meter, lux, **more):
    return Want(name, LEVEL, (f"meter {meter}",), 0.0, lux, **more)


@pytest.mark.parametrize("rule", RULES)
def test_key_and_fill_by_a_worked_example(rule):
    """A key of 800 and a fill of 200 that reaches both sides: lit 1000, shadow 200, lit to shadow 5 : 1.

    Source: two versions of an encyclopaedia's article on the lighting ratio.
    """
    response = answer_to([[1600.0, 400.0], [0.0, 400.0]])
    sides = ("meter 0", "meter 1")
    wants = [Want("key", LEVEL, sides, 0.0, 1000.0, side="brighter"),
             Want("ratio", RATIO, sides, np.log2(5.0), side="brighter")]
    found = balance(response, wants, [lamp(0, 0.9), lamp(1, 0.1)], rule=rule)
    assert levels(found) == pytest.approx([0.5, 0.5], rel=0.01)
    assert found.met and np.abs(misses(found)).max() < 0.01


@pytest.mark.parametrize("rule", RULES)
def test_hidden_levels_are_found(rule):
    """As many wants as lamps, made of levels that are not told: there is one answer, and it is found."""
    draw = np.random.default_rng(5)
    for _ in range(4):
        gains = np.exp(draw.normal(0, 1.5, (6, 6))) + 4 * np.eye(6)
        hidden = draw.uniform(0.05, 1.0, 6)
        wants = [level(f"want {n}", n, lux) for n, lux in enumerate(gains @ hidden)]
        found = balance(answer_to(gains), wants, [lamp(n) for n in range(6)], rule=rule)
        assert np.abs(misses(found)).max() < 0.01
        assert np.log2(gains @ levels(found)) == pytest.approx(np.log2(gains @ hidden), abs=0.01)


def test_the_greatest_miss_is_the_least_there_is():
    """Against trying 40 steps of each of three levels, at five meters that cannot all be had."""
    draw = np.random.default_rng(8)
    steps = np.linspace(0, 1, 41)
    every = np.array(list(itertools.product(steps, repeat=3)))
    for _ in range(2):
        gains, lux = draw.uniform(0.1, 4.0, (5, 3)), draw.uniform(0.3, 3.0, 5)
        with np.errstate(divide="ignore"):
            tried = np.abs(np.log2(every @ gains.T / lux)).max(axis=1).min()
        wants = [level(f"want {n}", n, each) for n, each in enumerate(lux)]
        found = balance(answer_to(gains), wants, [lamp(n) for n in range(3)], rule=LEAST_WORST)
        worst = np.abs(misses(found)).max()
        assert tried - 0.12 < worst < tried + 0.008


def test_the_squares_are_the_least_there_are():
    """Against many starts of a plain search, levels of three lamps at five meters."""
    from scipy.optimize import minimize

    draw = np.random.default_rng(9)
    for _ in range(2):
        gains, lux = draw.uniform(0.1, 4.0, (5, 3)), draw.uniform(0.3, 3.0, 5)

        def loss(each, gains=gains, lux=lux):
            return float((np.log2(gains @ each / lux) ** 2).sum())

        least = min(minimize(loss, start, bounds=[(0.001, 1.0)] * 3).fun
                    for start in draw.uniform(0.05, 1, (4, 3)))
        wants = [level(f"want {n}", n, each) for n, each in enumerate(lux)]
        found = balance(answer_to(gains), wants, [lamp(n) for n in range(3)])
        assert loss(levels(found)) < least + 0.02


@pytest.mark.parametrize("few", [False, True])
def test_one_answer_of_many_whatever_the_order(few):
    """Two wants and five lamps: the order of lamps and wants changes nothing."""
    draw = np.random.default_rng(3)
    gains, lux = draw.uniform(0.2, 2.0, (2, 5)), [1.0, 0.8]
    now = draw.uniform(0.1, 0.9, 5)
    answers = []
    for order in ([0, 1, 2, 3, 4], [4, 2, 0, 3, 1]):
        moves = [LampMove(f"lamp {n}", (black(f"lamp {n}"),), ("3200 K",), now[k], watts=100.0 + 10 * k)
                 for n, k in enumerate(order)]
        wants = [level(f"want {n}", n, each) for n, each in enumerate(lux)]
        found = levels(balance(answer_to(gains[:, order]), wants, moves, few=few))
        answers.append(found[np.argsort(order)])
    assert answers[0] == pytest.approx(answers[1], abs=0.005)


def test_what_is_met_already_stays():
    response = answer_to([[2.0, 1.0], [1.0, 3.0]])
    wants = [level("one", 0, 1.5), level("other", 1, 2.0)]
    found = balance(response, wants, [lamp(0), lamp(1)])
    assert levels(found) == pytest.approx([0.5, 0.5], abs=1e-3)


def test_no_lamp_is_touched_that_need_not_be():
    """The lamp that does most for its move does it; of two that do the same, both do, by as much."""
    for gains, moved in (([[4.0, 0.2, 0.3]], [0]), ([[2.0, 2.0, 0.3]], [0, 1])):
        found = levels(balance(answer_to(gains), [level("face", 0, 1.0)], [lamp(n) for n in range(3)]))
        still = [n for n in range(3) if n not in moved]
        assert found[still] == pytest.approx([0.5] * len(still), abs=1e-6)
        assert found[moved] == pytest.approx([found[moved[0]]] * len(moved), abs=0.01)


def test_fewest_lamps_then_fewest_watts():
    """Any of three lamps does it alone; the one that draws least is taken, and what stays on stays on."""
    response = answer_to([[2.0, 2.0, 1.0, 0.3]])
    moves = [lamp(0, watts=500.0), lamp(1, watts=300.0), lamp(2, watts=400.0),
             lamp(3, 0.5, low=0.2, watts=60.0)]
    found = levels(balance(response, [level("face", 0, 1.0)], moves, few=True))
    assert found[[0, 2]] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert found[3] >= 0.2 and 2 * found[1] + 0.3 * found[3] == pytest.approx(1.0, rel=0.01)


def test_a_lamp_is_off_or_within_its_range():
    """A lamp that dims no lower than 40 % is taken out where less is wanted, or left where more is."""
    moves = [lamp(0, 0.5), lamp(1, 0.5, low=0.4, may_be_off=True)]
    for lux, there in ((0.3, False), (1.8, True)):
        found = levels(balance(answer_to([[1.0, 1.0]]), [level("face", 0, lux)], moves))
        assert found[1] >= 0.4 if there else found[1] == 0
        assert found.sum() == pytest.approx(lux, rel=0.01)


@pytest.mark.parametrize("rule", RULES)
def test_a_range_holds_where_it_is_missed(rule):
    """A lamp at a tenth or more, or off, where 0.04 of it are wanted."""
    response = answer_to([[1.0, 0.0, 0.3], [0.0, 1.0, 0.3]])
    wants = [level("one", 0, 0.34), level("other", 1, 0.1)]
    found = balance(response, wants, [lamp(0, low=0.1, may_be_off=True), lamp(1), lamp(2, low=1.0)],
                    rule=rule)
    assert levels(found)[0] == pytest.approx(0.0, abs=1e-9) or levels(found)[0] >= 0.1
    assert levels(found)[2] == 1.0


@pytest.mark.parametrize("rule", RULES)
def test_a_colour_that_gains_nothing_stays(rule):
    """Levels that cannot all be had ask for no other colour where it gains a hundredth of a stop."""
    response = answer_to([[400.0, 100.0], [200.0, 100.0]])
    # What comes to one meter is a little warmer than what comes to the other.
    response.light[0] *= np.linspace(0.97, 1.03, BANDS)
    wants = [level("one", 0, 300.0), level("other", 1, 60.0)]
    found = balance(response, wants, [ranged(0, 3200.0, 5600.0, 4300.0), lamp(1)], rule=rule)
    assert not found.met
    assert found.settings[0].mired == pytest.approx(1e6 / 4300.0, abs=2.6)


def test_a_lamp_that_hardly_burns_is_out():
    """Nobody dials a thousandth that no want needs; where one needs it, it is dialled."""
    needed = [level("one", 0, 1.0), level("other", 1, 0.002)]
    found = balance(answer_to([[1.0, 0.0], [0.0, 1.0]]), needed, [lamp(0), lamp(1)])
    assert levels(found)[1] == pytest.approx(0.002, rel=0.02)
    beside = [level("one", 0, 0.5), level("other", 1, 0.5, at_most=True)]
    found = balance(answer_to([[1.0, 0.0], [0.999, 1.0]]), beside, [lamp(0), lamp(1)])
    assert levels(found)[1] == 0.0


def test_a_lit_side_that_cannot_stay_lit_is_the_other():
    """A key that is held down under a fill that stays: the fill's cheek is the lit one."""
    response = answer_to([[400.0, 20.0], [100.0, 200.0]])
    sides = ("meter 0", "meter 1")
    wants = [Want("lit", LEVEL, sides, 0.0, 200.0, side="brighter"),
             Want("dark", LEVEL, sides, -2.0, 200.0, side="darker")]
    found = balance(response, wants, [lamp(0, 1.0, high=0.2), lamp(1, 1.0, low=1.0)])
    assert levels(found)[0] == pytest.approx(0.075, abs=0.01)


def test_what_is_locked_stays_and_what_must_hold_holds():
    """A window that holds limits the lamp that lights it; one below its limit is no want at all."""
    response = answer_to([[1.0, 0.5], [4.0, 0.0]])
    moves = [lamp(0), lamp(1, 0.7, low=0.7, high=0.7)]
    wants = [level("face", 0, 1.2), level("window", 1, 1.0, at_most=True, weight=100.0)]
    found = balance(response, wants, moves, rule=LEAST_WORST)
    assert levels(found)[1] == pytest.approx(0.7)
    assert misses(found)[1] == pytest.approx(0.0, abs=0.02) and misses(found)[0] < -0.5
    dim = balance(response, [level("face", 0, 0.45), wants[1]], moves)
    assert dim.met and dim.readings[1].value.value < 0 and dim.readings[1].miss == 0


def test_a_ratio_alone_keeps_the_side_that_is_lit():
    response = answer_to([[1.0, 0.2], [0.2, 1.0]])
    want = Want("ratio", RATIO, ("meter 0", "meter 1"), 1.0, side="brighter")
    for now, brighter in (((0.6, 0.5), 0), ((0.5, 0.6), 1)):
        found = levels(balance(response, [want], [lamp(0, now[0]), lamp(1, now[1])]))
        light = response.light[:, :, :, 0, 0].mean(axis=1) @ found
        assert light[brighter] / light[1 - brighter] == pytest.approx(2.0, rel=0.01)


def test_the_stop_moves_where_lamps_cannot():
    """A lamp at full is 1.4 stops short: the next third opens for it, the dimmer does the rest."""
    thirds = tuple(each / 3 for each in range(-6, 7))
    want = Want("face", LEVEL, ("meter 0",), 0.0, 2.0**1.4, camera="A")
    found = balance(answer_to([[1.0]]), [want], [lamp(0)], [CameraMove("A", thirds)])
    assert found.met and np.abs(misses(found)).max() < 0.01
    assert found.shifts["A"] >= 1.4 and found.shifts["A"] * 3 == pytest.approx(round(found.shifts["A"] * 3))
    fixed = balance(answer_to([[1.0]]), [want], [lamp(0)], [CameraMove("A")])
    assert misses(fixed) == pytest.approx([-1.4], abs=0.01)
    assert levels(fixed) == [1.0]


@pytest.mark.parametrize("rule", RULES)
def test_a_colour_between_two_lamps(rule):
    """Tungsten and daylight mixed to 4000 K at a lux: the chromaticity of the mix says it, by another way."""
    response = answer_to([[2.0, 2.0]])
    wants = [level("face", 0, 1.0), Want("colour", COLOUR, ("meter 0",), 250.0, within=2.0)]
    found = balance(response, wants, [lamp(0, kelvin=3200.0), lamp(1, kelvin=5600.0)], rule=rule)
    mix = sum(2 * each.level * lamp_band_xyz(black("x", kelvin), 8).sum(axis=0)
              for each, kelvin in zip(found.settings, (3200.0, 5600.0), strict=True))
    assert mix[1] == pytest.approx(1.0, rel=0.01)
    assert cct_duv(mix[:2] / mix.sum())[0] == pytest.approx(4000.0, abs=10.0)


@pytest.mark.parametrize("rule", RULES)
def test_a_lamp_with_a_range_goes_to_the_colour(rule):
    """Hidden colours of two ranges are found; a colour that nothing asks for stays."""
    response = answer_to([[2.0, 0.1, 0.0], [0.1, 2.0, 0.0], [0.0, 0.0, 2.0]])
    wants = [level("one", 0, 1.0), level("two", 1, 1.0), level("three", 2, 1.0),
             Want("warm", COLOUR, ("meter 0",), 1e6 / 3000, within=2.0),
             Want("cool", COLOUR, ("meter 1",), 1e6 / 5000, within=2.0)]
    found = balance(response, wants, [ranged(0), ranged(1), ranged(2, now=4000.0)], rule=rule)
    assert np.abs(misses(found)[:3]).max() < 0.02 and np.abs(misses(found)[3:]).max() < 1.5
    assert found.settings[0].mired > 325 and found.settings[1].mired < 205
    assert found.settings[2].mired == pytest.approx(250.0, abs=0.1)


def test_the_gel_that_serves_is_taken():
    """Of three sheets the one whose colour is wanted, and none where none is."""
    name, kelvins = "lamp 0", (3200.0, 3800.0, 4400.0)
    move = LampMove(name, tuple(black(name, each) for each in kelvins), ("none", "one", "two"), 0.5)
    for wanted, number in ((3800.0, 1), (4400.0, 2)):
        wants = [level("face", 0, 0.4), Want("colour", COLOUR, ("meter 0",), 1e6 / wanted, within=5.0)]
        found = balance(answer_to([[1.0]]), wants, [move])
        assert found.settings[0].colour == number and found.met
    assert balance(answer_to([[1.0]]), [level("face", 0, 0.4)], [move]).settings[0].colour == 0


def test_errors_of_readings_are_those_of_the_paths():
    """Two lamps, each with a relative error of 2 %: of equal parts the sum has 2 / sqrt 2 %."""
    response = answer_to([[1.0, 1.0]], noise=0.02, batches=64)
    found = as_set(response, [level("face", 0, 1.0)], [lamp(0, 1.0), lamp(1, 1.0)]).readings[0]
    assert found.value.value == pytest.approx(1.0, abs=1e-9)
    assert found.value.error == pytest.approx(0.02 / np.sqrt(2) / np.log(2), rel=0.3)


def test_isotherms_against_another_way_to_the_colour_temperature():
    """Mired by isotherms against the nearest black body.  Source: Ohno, Leukos 10 (2014) 47."""
    for kelvin in (1600.0, 2700.0, 4000.0, 6500.0, 20000.0):
        for duv in (-0.02, 0.0, 0.01):
            xyz = xyz_from_xy(xy_from_cct_duv(kelvin, duv))
            assert float(mired_of(xyz)) == pytest.approx(1e6 / kelvin, abs=0.05)
            assert isotherm(1e6 / kelvin + 5) @ xyz < 0 < isotherm(1e6 / kelvin - 5) @ xyz


def test_wants_that_are_of_nothing_are_refused():
    with pytest.raises(ValueError, match="meter 7"):
        balance(answer_to([[1.0]]), [level("face", 7, 1.0)], [lamp(0)])
    with pytest.raises(ValueError, match="the meters know"):
        balance(answer_to([[1.0]]), [level("face", 0, 1.0)], [lamp(1)])
