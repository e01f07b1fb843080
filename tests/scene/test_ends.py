"""Every field of every record, given the ends of its range and what is no value at all.

The oracle is the field table itself: what lies within its limits is taken, anything else is refused with
something to write instead, and nothing but that happens.
"""

from pathlib import Path

import ends
import pytest

from previz.errors import SceneError
from previz.scene.fields import INVALID, table
from previz.scene.nodes import List, Map, Text
from previz.scene.reading import read_value
from previz.scene.records import Place
from previz.scene.values import Reading

PLACE = Place("scene.yaml", 1, 1, "")


def node(value):
    """A value of `ends` as a part of a scene file."""
    if isinstance(value, list):
        return List(PLACE, tuple(node(each) for each in value))
    if isinstance(value, dict):
        return Map(PLACE, {key: (Text(PLACE, key), node(str(each) if isinstance(each, int) else each))
                           for key, each in value.items()})
    return Text(PLACE, value)


def fields():
    """Each field that can be written anywhere, once: where, its name and what the table says of it."""
    seen = set()
    for host in ends.hosts():
        for name, entry in table(host.cls).items():
            if (host.cls, name) not in seen:
                seen.add((host.cls, name))
                yield f"{host.label}.{name}", entry


def tried(entry):
    """What `ends` writes in a field, and whether it is allowed there."""
    yield from (each for each in ends.values(entry) if each[0] not in ends.NOBODY)
    yield from ((each, False) for each in ends.ODD if not ends.means(each, entry))


def test_a_field_takes_what_its_range_holds_and_nothing_else():
    """Least and greatest are taken; next to them, and texts that others take for numbers, are refused."""
    wrong, kinds = [], set()
    for where, entry in fields():
        for value, inside in tried(entry):
            reading = Reading(Path(__file__).parent)
            found = read_value(reading, node(value), entry, "'it'")
            kinds.add((entry.kind, inside))
            refused = bool(reading.problems)
            if refused == inside or (found is INVALID and not refused):
                wrong.append((where, str(value)[:60], inside))
            assert all(each.message and each.advice and len(str(each)) < 2000
                       for each in reading.problems.values()), where
    assert not wrong
    assert {("quantity", True), ("quantity", False), ("lengths", False), ("output", True)} <= kinds


def test_what_nobody_builds_is_refused():
    """The ends that the table had to get: each is refused in words that name the limit."""
    cases = {
        "a beam": ("lights[fresnel]", "beam", "1e-7 deg", "is less than 0.1 deg"),
        "frames": ("cameras", "fps", "1e-300", "is less than 0.00001"),
        "a box": ("pieces", "size", ["1e-9 m"] * 3, "is less than 0.1 mm"),
        "a million zeros": ("cameras", "iso", "0" * 1_000_000 + "1", "has 1000001 letters"),
        "an exponent": ("room", "wall_thickness", "1e-99999999999999999999 m", "is less than 0.1 mm"),
        "a sun": ("daylight.sun", "cct", "1500 K", "is less than 1600 K"),
        "a sky": ("daylight", "sky_cct", "100 kK", "is more than 25000 K"),
        "a dark lamp": ("lights[bulb]", "output", "1e-300 lm", "is less than any lamp gives"),
        "a near meter": ("lights[bulb]", "output", "1 lx at 1e-300 m", "is no distance to meter"),
    }  # fmt: skip
    hosts = {host.label: host.cls for host in ends.hosts()}
    for label, field, value, words in cases.values():
        reading = Reading(Path())
        assert read_value(reading, node(value), table(hosts[label])[field], "'it'") is INVALID
        (problem,) = reading.problems.values()
        assert words in problem.message
        assert len(str(problem)) < 400


@pytest.mark.parametrize("scene", [
    ends.BASE | {"lights": [{"name": "key", "kind": "bulb", "at": ["0 m", "9000 m", "2 m"],
                             "diameter": "5 mm", "output": "900 lm"}]},
    ends.BASE | {"meters": [{"name": "middle", "at": ["2 m", "3 m", "1 m"],
                             "facing": ["2 m", "3 m", "1.0000001 m"]}]},
    ends.BASE | {"meters": [{"name": "middle", "at": ["2 m", "5 m", "1 m"], "facing": "crate.top"}]},
], ids=["too fine", "all but its own place", "on the top that it faces"])  # fmt: skip
def test_what_a_build_cannot_do_is_refused(load_text, scene):
    """Aims without a direction, and things so small and far off that single precision flattens them."""
    with pytest.raises(SceneError):
        load_text(ends.as_text(scene))
