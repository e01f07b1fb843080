"""What wants hang on in sentences: what is missed, the weakest point, what to guard, weather and steps."""

from dataclasses import replace

import numpy as np
import pytest
from samples import hang_lines

from previz.deliver.what_if_words import (
    change_text,
    least_text,
    off_text,
    room_text,
    sentences,
    share_text,
)
from previz.exposure.metering import Measured
from previz.levels.answers import Reading


@pytest.fixture
def lines():
    """Four wants that hang on the key first; each is met as it is set."""
    return [line for line in hang_lines(("key", "stove glow")) if line.name in (
        "face at the stop", "contrast", "warm face", "window holds")]


def test_what_is_met_is_said_from_its_weakest_point(lines):
    """The key's third of a stop, its loss, the sun's, and the worst step."""
    said = sentences([replace(line) for line in lines[:2]], 0.3)
    assert said == [
        "The weakest point: a third of a stop less on key, and 'face at the stop' is missed.",
        "'face at the stop' and 'contrast' hang most on key.",
        "Guard key and stove glow: a want hangs on each. Without key 'face at the stop' has no light.",
        "With the sun two stops down 'face at the stop' is 1.11 stops under, and 1 more is missed. "
        "With the sun gone 'face at the stop' is 1.61 stops under, and 1 more is missed: keep a lamp ready "
        "for it.",
        "Off the mark it is worst 0.3 m to camera left: 'face at the stop' is 0.76 stops under; nothing is "
        "missed 0.3 m to camera right and 0.3 m back."]


@pytest.mark.parametrize(("room", "said"), [
    ((-12.0, np.inf), "Nothing that is met is near to being missed, short of key going out."),
    ((-np.inf, 4.5), "Nothing that is met is near to being missed: it takes 4.5 stops more on key."),
])
def test_what_nothing_ordinary_makes_missed_has_no_weak_point(lines, room, said):
    """A dozen stops are no slip of a dimmer."""
    of = lines[0].of
    far = replace(of, lamps=(replace(of.lamps[0], room=room),))
    assert sentences([replace(lines[0], of=far)], 0.3)[0] == said


def test_what_is_missed_already_comes_first(lines):
    """It has no weakest point, and nothing to be guarded."""
    line = lines[0]
    missed = Reading(line.of.reading.want, Measured(0.8, 0.01), 0.8)
    lost = replace(line, of=replace(line.of, reading=missed))
    said = sentences([lost], 0.3)
    assert said[0] == "Missed as it is set: 'face at the stop' (0.80 stops over)."
    assert said[1] == "'face at the stop' hangs most on key." and len(said) == 2
    assert least_text(lost.of) == ("missed as set", "")
    both = sentences([lost, lines[1]], 0.3)
    assert both[1].startswith("The weakest point of what is met: ")


def test_changes_in_words(lines):
    """Stops, mired, nothing left, and a ratio that turns."""
    level, ratio, colour, hold = (line.of for line in lines)
    assert change_text(level, Measured(-0.306, 0.0)) == "−0.31"
    assert change_text(colour, Measured(11.6, 0.0)) == "+12 mired"
    dark = [change_text(each, Measured(-40.0 * each.unit, 0.0)) for each in (level, colour)]
    assert dark == ["no light", "–"]
    assert change_text(ratio, Measured(30.0, 0.0)) == off_text(ratio, Measured(30.0, 0.0)) == "no fill"
    assert off_text(ratio, Measured(-3.0, 0.0)) == "2.99 stops under, the other side brighter"
    # What must hold is met in the dark.
    assert off_text(hold, Measured(-40.0, 0.0)) == off_text(level, Measured(0.05, 0.0)) == "met"
    assert [room_text(room) for room in ((-0.306, 0.42), (-np.inf, np.inf), (np.nan, np.nan))] == [
        "−0.31 to +0.42", "out to any", "–"]
    assert share_text(ratio.lamps[0]) == "60 % lit, 10 % shadow"
