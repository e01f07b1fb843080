"""`previz list`: what can be written, as data and as lines."""

import pytest
from click.testing import CliRunner

from previz.cli import list as command_list
from previz.scene.camera import Camera
from previz.scene.fields import table
from previz.studies.vocabulary import SECTIONS, vocabulary


def test_the_command_has_every_section():
    """What the command offers is what there is."""
    assert command_list.SECTIONS == SECTIONS


@pytest.mark.parametrize("section", SECTIONS)
def test_every_entry_says_what_it_is(section):
    """No entry is without a name or a text, and each of them is a line of the command."""
    groups = vocabulary(section)
    entries = [entry for group in groups for entry in group.entries]
    assert entries and all(entry.name and entry.text for entry in entries)
    done = CliRunner().invoke(command_list.command, [section])
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert lines[0] == section.upper()
    heads = [each for group in groups for each in (group.head, group.note) if each]
    # One entry, of the lens, takes two lines; an empty one ends the section.
    assert len(lines) == 2 + len(heads) + sum(entry.text.count("\n") + 1 for entry in entries)


def test_a_kind_lists_what_it_does_not_share():
    """What every lamp has is listed once; a kind's own fields, and those that differ, with the kind."""
    groups = {group.head.split(":")[0]: [entry.name for entry in group.entries]
              for group in vocabulary("lights")}
    assert {"name", "at", "output", "dimmer"} <= set(groups["every lamp"])
    for kind, own in (("soft box", {"size", "grid", "cct"}), ("ellipsoidal", {"field", "iris", "shutters"})):
        assert own <= set(groups[kind]) and not {"name", "at", "dimmer", "gel"} & set(groups[kind])


def test_a_field_is_listed_with_unit_range_and_source():
    """What a camera can have is what its record has, with the same words."""
    (camera,) = [group for group in vocabulary("fields") if group.head == "camera:"]
    entries = {entry.name: entry for entry in camera.entries if not entry.text.startswith("a thin lens")}
    assert list(entries) == list(table(Camera))
    shutter = entries["shutter"]
    assert (shutter.unit, shutter.text) == ("deg", "Shutter angle.")
    assert shutter.facts == ("default 180 deg", "0.1 deg to 360 deg")
    lines = CliRunner().invoke(command_list.command, ["fields"]).output.splitlines()
    assert ("  shutter [deg]: Shutter angle. (default 180 deg; 0.1 deg to 360 deg)") in lines
