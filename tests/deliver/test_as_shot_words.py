"""What is said of a shot whose light was not planned at all, or is gone."""

import pytest

from previz.deliver.as_shot_sheet import ShotLamp, ShotMeter, sentences
from previz.deliver.readings_sheet import percent
from previz.exposure.metering import Measured


def meter(name, planned, shot):
    return ShotMeter(name, Measured(planned, 0.0), Measured(shot, 0.0))


def test_light_that_was_not_planned_is_said_so():
    """Stops over no light are no number; those that are, are still told apart."""
    lamp = ShotLamp("bench lamp", 0.0, 0.001, 3200.0, 3200.0, True)
    meters = [meter("left cheek", 0.0, 5.0), meter("bench", 8.0, 0.0), meter("wall", 8.0, 4.0)]
    said = sentences([lamp], [], meters)
    assert said == ["Levels off the plan: bench lamp on at 0.1 %, planned off.",
                    "By the levels as shot there is no light at bench.",
                    "By the levels as shot there is light where none was planned, at left cheek.",
                    "By the levels as shot wall is furthest off, −1.00 stops."]


@pytest.mark.parametrize(("share", "words"), [
    (None, "–"), (0.0, "0 %"), (0.001, "0.1 %"), (0.014, "1.4 %"), (0.05, "5 %"), (0.655, "66 %"),
    (1.0, "100 %"),
])
def test_a_small_share_is_told_to_a_tenth(share, words):
    """A dimmer at a thousandth is not one that is off."""
    assert percent(share) == words
