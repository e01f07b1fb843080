"""Snapshots: what may be written in a scene and what is said of it; what lamps are by their kind."""

import pytest
import snapshot

from previz.scene.light import LIGHTS
from previz.scene.schema import schema
from previz.studies.vocabulary import SECTIONS, vocabulary

OF_A_KIND = ("usual", "held", "flame", "ball", "may_hang", "by_luminance", "sample", "one_of")


def test_snapshot_schema():
    """Every section and record that an editor knows has the fields, ranges and words that it had."""
    found = schema()
    parts = found["properties"] | found["$defs"]
    snapshot.hold("words", "schema", {name: snapshot.number(part) for name, part in parts.items()}, 1e-5)


@pytest.mark.parametrize("section", SECTIONS)
def test_snapshot_vocabulary(section):
    """`previz list` says of each thing what it said."""
    now = {group.head: snapshot.number([group.note, *group.entries]) for group in vocabulary(section)}
    snapshot.hold("words", section, now, 1e-5)


def test_snapshot_kinds():
    """A lamp is held, burns, hangs and is filled in as one of its kind was."""
    now = {kind: snapshot.number([getattr(cls, name, None) for name in OF_A_KIND])
           for kind, cls in LIGHTS.items()}
    snapshot.hold("words", "kinds", now, 1e-5)
