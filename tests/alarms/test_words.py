"""Alarms: what may be written in a scene and what is said of it; what lamps are by their kind."""

import alarm
import pytest

from previz.scene.light import LIGHTS
from previz.scene.schema import schema
from previz.studies.vocabulary import SECTIONS, vocabulary

OF_A_KIND = ("usual", "held", "flame", "ball", "may_hang", "by_luminance", "sample", "one_of")


def test_alarm_schema():
    """Every section and record that an editor knows has the fields, ranges and words that it had."""
    found = schema()
    parts = found["properties"] | found["$defs"]
    alarm.ring("words", "schema", {name: alarm.number(part) for name, part in parts.items()}, 1e-5)


@pytest.mark.parametrize("section", SECTIONS)
def test_alarm_vocabulary(section):
    """`previz list` says of each thing what it said."""
    now = {group.head: alarm.number([group.note, *group.entries]) for group in vocabulary(section)}
    alarm.ring("words", section, now, 1e-5)


def test_alarm_kinds():
    """A lamp is held, burns, hangs and is filled in as one of its kind was."""
    now = {kind: alarm.number([getattr(cls, name, None) for name in OF_A_KIND])
           for kind, cls in LIGHTS.items()}
    alarm.ring("words", "kinds", now, 1e-5)
