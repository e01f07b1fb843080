"""Options: what they change, what they leave alone, and where their values came from."""

from pathlib import Path

import pytest

from previz.errors import SceneError
from previz.scene.read import load

EXAMPLE = Path(__file__).parent / "example.yaml"


@pytest.fixture(scope="module")
def example():
    return load(EXAMPLE)


def named(scene, name):
    return next(each for each in scene.all_items() if each.name == name)


def test_names_and_the_scene_as_it_is(example):
    """Options are in the order written; none, or an empty name, is the scene as it is."""
    assert example.option_names == ("bounce", "direct", "late")
    assert example.scene() is example.scene(None) is example.scene("")
    assert example.scene("late").option == "late"


def test_an_empty_option_changes_nothing(example):
    """An option without changes is the scene under another name."""
    scene, same = example.scene(), example.scene("bounce")
    assert same.option == "bounce"
    assert (same.lights, same.boards, same.room) == (scene.lights, scene.boards, scene.room)
    # Records that nothing changed are shared, not read again.
    assert same.lights[0] is scene.lights[0]


def test_an_option_changes_and_removes(example):
    """A field is replaced, a thing is taken out, and the scene itself stays as it was."""
    direct = example.scene("direct")
    key = named(direct, "key into board")
    assert (key.aim.text, key.gel, key.dimmer) == ("clerk.face", (), 0.8)
    assert direct.boards == ()
    assert named(example.scene(), "key into board").aim.text == "card"
    assert len(example.scene().boards) == 1


def test_like_starts_from_another_option(example):
    """An option that is like another has its changes too, and adds its own."""
    late = example.scene("late")
    assert named(late, "key into board").aim.text == "clerk.face"
    assert late.boards == ()
    assert late.title == "Signal cabin, night"
    assert late.haze is None


def test_a_circle_is_told_without_what_leads_to_it(tmp_path):
    """An option that leads into a circle is no part of it."""
    path = tmp_path / "scene.yaml"
    path.write_text("previz: 1\noptions:\n  d: {like: a}\n  a: {like: b}\n  b: {like: a}\n")
    with pytest.raises(SceneError) as caught:
        load(path)
    assert "in a circle: 'a' is like 'b' is like 'a'." in str(caught.value)


def test_groups_are_changed_field_by_field(example):
    """In a group only the fields that are written change, however deep it lies."""
    scene, late = example.scene(), example.scene("late")
    assert (late.daylight.illuminance, late.daylight.sky) == (300.0, "overcast")
    assert late.daylight.north == scene.daylight.north
    assert late.room.surfaces.walls.name == "brick"
    assert late.room.surfaces.floor == scene.room.surfaces.floor
    assert late.room.openings[0].glass == "double"
    assert late.room.openings[0].panes == (3, 2)
    lamp = named(late, "desk lamp")
    assert (lamp.shade.transmission, lamp.shade.top, lamp.dimmer) == (0.2, 0.12, 0.6)


def test_things_are_added(example):
    """Things are added at the end of their section, openings to the room."""
    late = example.scene("late")
    assert [each.name for each in late.flags] == ["cutter", "topper"]
    assert late.room.openings[-1].name == "hatch"


def test_values_of_an_option_keep_their_own_places(example):
    """A value that an option wrote has the option's line, all others their own."""
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines()
    key = named(example.scene("direct"), "key into board")
    assert "aim: clerk.face" in lines[key.where("aim").line - 1]
    assert "dimmer: 80 %" in lines[key.where("dimmer").line - 1]
    assert "name: key into board" in lines[key.place.line - 1]
    late = example.scene("late")
    assert "300 lx" in lines[late.daylight.where("illuminance").line - 1]
    assert "sky: overcast" in lines[late.daylight.where("sky").line - 1]
    assert "topper" in lines[named(late, "topper").place.line - 1]


def test_unknown_option(example):
    """Asking for an option that is not there says which there are."""
    with pytest.raises(SceneError) as caught:
        example.scene("lat")
    # The options begin on the line after 'options:', in the third column.
    line = EXAMPLE.read_text(encoding="utf-8").split("\noptions:")[0].count("\n") + 3
    assert str(caught.value) == (
        f"{EXAMPLE}:{line}:3: there is no option 'lat'.\n"
        f"{line:5d} |   bounce: {{}}\n"
        "      |   ^\n"
        "  Did you mean 'late'? The options are: bounce, direct, late."
    )


def test_unknown_option_of_a_scene_without_any(load_text):
    """A scene without options says that there are none."""
    with pytest.raises(SceneError) as caught:
        load_text("previz: 1\n").scene("late")
    assert str(caught.value) == ("scene.yaml: there is no option 'late'.\n  The options are: none.")


SMALL = """\
previz: 1
boards:
  - {name: card, size: [1 m, 1 m], at: [3 m, 1 m, 1 m], facing: [0 m, 0 m, 0 m]}
lights:
  - {name: key, kind: fresnel, at: [1 m, 1 m, 2 m], aim: card, output: 9000 lm}
options:
"""


def test_remove_and_add_under_the_same_name(load_text):
    """A thing can be replaced by another of its name, and references then mean the new one."""
    scene = load_text(
        SMALL + "  a:\n"
        "    remove: card\n"
        "    add: {flags: [{name: card, size: [1 m, 1 m], at: [1 m, 2 m, 1 m],"
        " facing: [0 m, 0 m, 0 m]}]}\n"
    ).scene("a")
    assert (scene.boards, scene.flags[0].name) == ((), "card")


def test_an_option_can_bring_in_a_whole_section(load_text):
    """A section that the scene does not write can come from an option."""
    option = load_text(SMALL + "  a: {haze: {visibility: 40 m}, ground: snow}\n").scene("a")
    assert (option.haze.visibility, option.ground.name) == (40.0, "snow")


def test_like_may_come_before_or_after(load_text):
    """An option may be like one that is written below it."""
    found = load_text(
        SMALL + "  a: {like: b, lights: {key: {dimmer: 50 %}}}\n"
        "  b: {like: c, lights: {key: {dimmer: 20 %, cct: 3000 K}}}\n"
        "  c: {lights: {key: {turn: 5 deg, cct: 2900 K}}}\n"
    )
    key = found.scene("a").lights[0]
    assert (key.dimmer, key.cct, key.turn) == (0.5, 3000.0, 5.0)
    assert found.option_names == ("a", "b", "c")


def test_an_empty_option_may_have_nothing_after_its_name(load_text):
    """'late:' with nothing below it is an option without changes."""
    assert load_text(SMALL + "  late:\n").option_names == ("late",)


def test_a_fault_of_the_scene_is_reported_once(message_of):
    """What is wrong without any option is not reported again for each of them."""
    text = message_of(SMALL.replace("aim: card", "aim: crad") + "  a: {}\n  b: {like: a}\n")
    assert text.count("nothing has that name") == 1
    assert "with option" not in text


def test_a_fault_of_two_options_is_reported_of_the_first(message_of):
    """Two options that break the same aim alike are both named by their lines."""
    text = message_of(SMALL + "  a: {remove: card}\n  b: {like: a}\n  c: {remove: [card]}\n")
    assert [line for line in text.splitlines() if line.startswith("scene.yaml")] == [
        "scene.yaml:5:58: with option 'a', 'aim' of light 'key' (fresnel) is 'card', which the "
        "option removes on line 7.",
        "scene.yaml:5:58: with option 'c', 'aim' of light 'key' (fresnel) is 'card', which the "
        "option removes on line 9.",
    ]


def test_too_many_options(message_of):
    """A file may hold a hundred options."""
    text = message_of(SMALL + "".join(f"  o{number}: {{}}\n" for number in range(101)))
    assert "'options' holds 101 options." in text


def test_circuits_are_changed_added_and_removed(tmp_path):
    """Circuits of the mains go by their names as openings of the room do, by figures too."""
    path = tmp_path / "scene.yaml"
    path.write_text("previz: 1\nmains: {phases: 3, circuits: [{name: 1}, {name: wall one, breaker: 20 A}]}\n"
                    "options:\n  more:\n    add: {circuits: [{name: 3, phase: L2}]}\n"
                    "    mains: {circuits: {1: {breaker: 32 A}}}\n"
                    "  less: {remove: [wall one]}\n")
    file = load(path)
    found = {name: [(each.name, each.breaker, each.phase) for each in file.scene(name).mains.circuits]
             for name in ("", "more", "less")}
    assert found == {
        "": [("1", None, None), ("wall one", 20.0, None)],
        "more": [("1", 32.0, None), ("wall one", 20.0, None), ("3", None, "L2")],
        "less": [("1", None, None)],
    }
    assert file.scene("less").mains.phase_names == ("L1", "L2", "L3")


def test_circuits_are_added_to_mains_that_are_not_written(tmp_path):
    """Every scene has mains, so an option may bring circuits of its own."""
    path = tmp_path / "scene.yaml"
    path.write_text("previz: 1\noptions:\n  a: {add: {circuits: [{name: one}, {name: two}]}}\n")
    mains = load(path).scene("a").mains
    assert [each.name for each in mains.circuits] == ["one", "two"]
    assert mains.voltage == 230.0 and load(path).scene().mains.circuits == ()
