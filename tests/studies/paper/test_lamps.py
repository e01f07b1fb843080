"""The lamp list: bearings from trigonometry, watts as the load has them, what is on and before a lamp."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from previz.physics.mains import EFFICACY
from previz.plans.lengths import IMPERIAL
from previz.scene.gel import Gel, gel_name
from previz.stage.mains import draws
from previz.studies.paper.lamps import bearing, lamp_lines
from tests.studies.paper.listed import workshop

# Level sides of 3 (east) and 4 (north) have the diagonal 5 (Pythagoras). 5 up or down over 5 level is 45°.
# The bearing's tangent is east over north: atan(3/4) = 36.870° (its sine is 3/5).
TRIANGLE = math.degrees(math.asin(3 / 5))


@pytest.fixture(scope="module")
def lists(tmp_path_factory):
    return workshop(str(tmp_path_factory.getbasetemp()))


def lamp(lists, name, option="evening"):
    return next(line for line in lists[option][3].lamps if line.name == name)


@pytest.mark.parametrize(("direction", "pan", "tilt"), [
    ((3, 4, -5), TRIANGLE, -45), ((3, -4, 5), 180 - TRIANGLE, 45), ((-3, -4, 0), 180 + TRIANGLE, 0),
    ((-3, 4, 0), 360 - TRIANGLE, 0), ((0, 1, 0), 0, 0), ((1, 0, 0), 90, 0), ((0, -2, 0), 180, 0),
    ((-1, 0, 1), 270, 45), ((0, 0, -3), None, -90), ((0, 0, 1), None, 90),
])
def test_bearings_of_a_triangle(direction, pan, tilt):
    """Clockwise from north, over (+) or under (-) level."""
    found = bearing(direction)
    assert found[1] == pytest.approx(tilt, abs=1e-9)
    assert found[0] is None if pan is None else found[0] == pytest.approx(pan, abs=1e-9)


@given(st.tuples(*[st.floats(-50, 50)] * 3).filter(lambda at: math.hypot(at[0], at[1]) > 1e-3))
def test_a_bearing_leads_back_to_its_direction(direction):
    """What stands at a bearing and a tilt is where the aim is, and a bearing is at least 0 and below 360."""
    pan, tilt = bearing(direction)
    assert 0 <= pan < 360
    pan, tilt = math.radians(pan), math.radians(tilt)
    back = math.cos(tilt) * math.sin(pan), math.cos(tilt) * math.cos(pan), math.sin(tilt)
    assert np.array(back) * math.hypot(*direction) == pytest.approx(np.array(direction), abs=1e-6)


def test_a_lamp_as_it_is_hung_and_focused(lists):
    """From (1, 1, 2) to (4, 5, 0.5): 5 m level, 1.5 m down."""
    key = lamp(lists, "key")
    assert (key.tag, key.kind, key.at, key.aim) == ("1", "fresnel", (1, 1, 2), "[4 m, 5 m, 0.5 m]")
    assert key.pan == pytest.approx(TRIANGLE)
    assert key.tilt == pytest.approx(-math.degrees(math.atan(1.5 / 5)))
    assert key.throw == pytest.approx(math.hypot(5, 1.5))
    assert key.gels == ("half ctb", "nd 0.3") and key.size == (0.2,) and key.spectrum == "tungsten"
    assert key.modifiers == ("flood 50 %", "barn doors (top 30°)", "D1 half silk at 0.50 m")
    assert lamp(lists, "key", "night").modifiers == ("flood 50 %", "barn doors (top 30°)")
    assert lamp(lists, "key", "night").dimmer == 0.5
    assert lamp(lists, "rim").modifiers == ("flood 50 %", "snoot 200 mm", "F1 flag at 0.40 m")
    assert "egg crate 50 mm" in lamp(lists, "fill").modifiers
    assert lamp(lists, "over").modifiers == ("skirt 300 mm",)
    assert lamp(lists, "globe").modifiers == ("shade 180 mm to 300 mm, 220 mm high",)


def test_what_hangs_unaimed_shines_straight_down_and_a_globe_nowhere(lists):
    over, globe = lamp(lists, "over"), lamp(lists, "globe")
    assert (over.aim, over.pan, over.tilt, over.throw) == ("straight down", None, -90, 3)
    assert (globe.aim, globe.pan, globe.tilt, globe.throw) == ("", None, None, None)
    assert not globe.on and lamp(lists, "globe", "night").on


def test_every_lamp_has_a_line_and_what_holds_it(lists):
    """Off ones, flames and what glows too; nothing has a stand that hangs, or belongs to the set."""
    scene, _, tags, set_up = lists["evening"]
    assert [line.name for line in set_up.lamps] == [light.name for light in scene.lights]
    assert all(line.tag == tags[line.name] for line in set_up.lamps)
    assert {line.name: line.support for line in set_up.lamps} == {
        "key": "stand", "rim": "overhead", "over": "hung by a pipe", "fill": "stand", "top": "on a boom",
        "yard": "stand", "lit sign": "on the set", "night": "on the set", "car": "on the set",
        "globe": "on the set"}


def test_watts_are_those_of_the_load(lists):
    """As `stage.mains` draws them; 9000 lm of tungsten at 13 lm/W are 692 W, 3.01 A at 230 V."""
    for scene, stage, _, set_up in lists.values():
        loads = {draw.name: draw for draw in draws(scene, stage.around.given)}
        for line in set_up.lamps:
            if line.name in loads:
                assert line.watts == pytest.approx(loads[line.name].power())
                assert line.amperes == pytest.approx(loads[line.name].amperes(230))
    key, rim = lamp(lists, "key"), lamp(lists, "rim")
    assert key.watts == pytest.approx(9000 / EFFICACY["tungsten"]) and key.guessed
    assert key.amperes == pytest.approx(9000 / 13 / 230) and key.power_factor == 1
    # Check value 7.2: A = W / (V PF).
    assert (rim.watts, rim.amperes, rim.guessed) == (690, pytest.approx(3.0), False)
    assert lamp(lists, "fill").amperes == pytest.approx(50 / (230 * 0.9))
    for name in ("night", "car"):
        assert (lamp(lists, name).watts, lamp(lists, name).amperes) == (None, None)


def test_the_colour_of_what_glows_is_no_sheet(lists):
    assert lamp(lists, "lit sign").gels == ("full plus green, set in it or behind it",)


def test_lengths_in_feet(lists):
    scene, stage, tags, _ = lists["evening"]
    assert lamp_lines(scene, stage, tags, IMPERIAL)[0].modifiers[-1] == "D1 half silk at 1' 7 1/2\""


def test_a_gel_in_figures_is_named_by_them():
    assert gel_name(Gel(mired=-78.0, transmission=0.5)) == "gel -78 mired, 50 % through"
    assert gel_name(Gel(name="full cto", mired=134.0)) == "full cto"
