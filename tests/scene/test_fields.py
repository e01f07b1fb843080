"""The one table: every field is described, and its own defaults and examples hold."""

from pathlib import Path

import pytest

from previz.scene import (
    camera,
    daylight,
    dressing,
    figure,
    gel,
    haze,
    lamp,
    mains,
    modifiers,
    piece,
    room,
    surface,
)  # fmt: skip
from previz.scene.colour import HEX, PALETTE
from previz.scene.fields import INVALID, REQUIRED, Field, table
from previz.scene.light import ACCESSORIES, LIGHTS, Consumption, OwnSpectrum
from previz.scene.nodes import compose
from previz.scene.reading import KINDS, read_value
from previz.scene.records import Item, Target
from previz.scene.scene import Scene
from previz.scene.surface import LIBRARY, Surface
from previz.scene.values import Reading

RECORDS = [
    Scene, room.Room, room.RoomSurfaces, room.Opening, piece.Piece, figure.Figure,
    daylight.Daylight, daylight.Sun, daylight.Moon, dressing.Curtain, dressing.Blind,
    *LIGHTS.values(), *ACCESSORIES, Consumption,
    OwnSpectrum, gel.Gel, modifiers.Board, modifiers.Diffusion, modifiers.Flag, modifiers.Net,
    modifiers.Grid, haze.Haze, camera.Camera, camera.Meter, camera.SpotPatch,
    surface.Surface, lamp.Flicker, mains.Mains, mains.Circuit, mains.Generator,
]  # fmt: skip

ALL = {f"{cls.__name__}.{name}": entry for cls in RECORDS for name, entry in table(cls).items()}


def test_each_field_is_described():
    """Each has a kind that can be read, a sentence of help, and an example."""
    wrong = [name for name, entry in ALL.items()
             if entry.kind not in KINDS or not entry.help.endswith(".") or not entry.help[0].isupper()]
    wrong += [name for name, entry in ALL.items() if entry.kind not in ("items", "record")
              and entry.default != "" and not (entry.example or entry.choices)]
    assert wrong == []


def test_the_example_of_each_field_is_good(tmp_path):
    """What a message suggests to write is accepted, but for files."""
    wrong = {}
    (tmp_path / "looks").mkdir()
    (tmp_path / "looks" / "evening.cube").write_text("", encoding="utf-8")
    for name, entry in ALL.items():
        if not entry.example or entry.kind == "file":
            continue
        tree, _ = compose(f"a: {entry.example}\n", "example")
        reading = Reading(tmp_path)
        value = read_value(reading, tree.get("a"), entry, "'a'")
        if value is INVALID or reading.problems:
            wrong[name] = [each.message for each in reading.problems.values()]
    assert wrong == {}


def out_of_limits(entry):
    """Whether a default is one that could not have been written."""
    numbers = entry.default if isinstance(entry.default, tuple) else (entry.default,)
    bad = [each for each in numbers if isinstance(each, float | int) and not isinstance(each, bool) and (
        (entry.minimum is not None and each < entry.minimum)
        or (entry.maximum is not None and each > entry.maximum)
        or (entry.above is not None and each <= entry.above))]
    word = entry.choices and isinstance(entry.default, str) and entry.default not in entry.choices
    return bool(bad or word)


def test_the_default_of_each_field_is_within_its_limits():
    """A default that is a number or a word is one that could have been written."""
    assert [name for name, entry in ALL.items() if out_of_limits(entry)] == []
    assert out_of_limits(Field("quantity", "", -1.0, minimum=0.0))
    assert out_of_limits(Field("choice", "", "c", choices=("a", "b")))


def test_show_writes_values_as_people_do():
    """Values are shown with their units, lists in brackets, nothing as 'none'."""
    fields = table(camera.Camera)
    assert fields["lens"].show(0.035) == "35 mm"
    assert fields["sensor"].show((0.02489, 0.01866)) == "[24.89 mm, 18.66 mm]"
    assert fields["focus"].show(None) == "none"
    assert fields["aim"].show(Target("clerk.eyes")) == "clerk.eyes"
    assert fields["aim"].show(Target(point=(1.0, 2.0, 0.05))) == "[1 m, 2 m, 50 mm]"
    assert table(LIGHTS["fresnel"])["on"].show(True) == "yes"
    assert fields["lens"].unit == "mm"
    assert fields["white_balance"].unit == "K"
    assert fields["aim"].unit == ""


def test_limits_in_words():
    """The limits of a field read as a phrase."""
    phrases = [
        ({}, ""),
        ({"minimum": 0.0}, "0 m or more"),
        ({"above": 0.0}, "more than 0 m"),
        ({"maximum": 2.0}, "2 m or less"),
        ({"minimum": 1.0, "maximum": 2.0}, "1 m to 2 m"),
        ({"above": 1.0, "maximum": 2.0}, "more than 1 m, up to 2 m"),
    ]
    assert [Field("quantity", "A length.", dimension="length", **limits).range_text
            for limits, _ in phrases] == [words for _, words in phrases]


def test_records_can_be_made_without_a_file():
    """A program can make records itself; they compare by their values, not by their places."""
    one = LIGHTS["bulb"](name="a", at=(0, 0, 1), output=None)
    other = LIGHTS["bulb"](name="a", at=(0, 0, 1), output=None, places={"at": None})
    assert one == other
    assert one.label == "light 'a' (bulb)"
    assert one.where("at").line == 0


def test_records_are_frozen_and_made_of_their_own_fields():
    """A record cannot be changed, lacks nothing and takes nothing else; equal ones hash alike."""
    import dataclasses

    bulb = LIGHTS["bulb"]
    one = bulb(name="a", at=(0, 0, 1), output=None)
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.name = "b"
    with pytest.raises(dataclasses.FrozenInstanceError):
        del one.name
    with pytest.raises(TypeError, match="'name'"):
        bulb(at=(0, 0, 1))
    with pytest.raises(TypeError, match="'colour'"):
        bulb(name="a", at=(0, 0, 1), colour="red")
    other = dataclasses.replace(one, at=(0, 0, 2))
    assert other.at == (0, 0, 2) and one.at == (0, 0, 1) and one != other
    assert hash(one) == hash(dataclasses.replace(other, at=(0, 0, 1)))
    assert repr(one).startswith("Bulb(name='a', ") and "places" not in repr(one)


def test_markers_are_single():
    """The marks for 'no value' survive copying and are false."""
    import copy
    import pickle

    for marker in (REQUIRED, INVALID):
        assert copy.deepcopy(marker) is marker
        assert pickle.loads(pickle.dumps(marker)) is marker
        assert not marker


def test_a_loaded_scene_can_be_sent_to_another_process(load_text):
    """Scenes survive pickling, places included."""
    import pickle

    scene = load_text("previz: 1\nhaze: {visibility: 60 m}\n").scene()
    again = pickle.loads(pickle.dumps(scene))
    assert again == scene
    assert again.haze.where("visibility") == scene.haze.where("visibility")


def test_names_of_the_library_and_the_palette_are_apart():
    """No word is both a surface and a colour, so that a message can distinguish them."""
    assert not set(LIBRARY) & (set(PALETTE) - {"brick"})
    assert all(HEX.fullmatch(each) for each in PALETTE.values())
    assert len(PALETTE) >= 30


def test_every_item_section_holds_items():
    """Everything in a section has a name."""
    for entry in table(Scene).values():
        if entry.kind == "items":
            assert issubclass(entry.base, Item)


def test_default_surfaces_are_in_the_library():
    """Surfaces that nobody wrote are ones that the library has."""
    for entry in ALL.values():
        if isinstance(entry.default, Surface):
            assert entry.default.name in LIBRARY


def test_gel_names_are_read():
    """Every trade name of a gel stands for figures, and other names do not."""
    for name in gel.NAMES:
        assert gel.nominal(name)
    for name in ("half", "cto", "double cto", "nd", "nd 9", "half cto ", "nd 0.3.1"):
        assert gel.nominal(name) is None


def test_package_data_is_only_code():
    """The scene package has no files but modules."""
    folder = Path(surface.__file__).parent
    assert {each.suffix for each in folder.iterdir() if each.is_file()} == {".py"}
