"""A good scene file: what it becomes, where its values came from, and how fast."""

import subprocess
import sys
import time
from pathlib import Path

import pytest

from previz.errors import SceneError
from previz.scene import nodes
from previz.scene.colour import linear_from_hex
from previz.scene.fields import INVALID, table
from previz.scene.gel import FULL_SHIFT
from previz.scene.read import load
from previz.scene.records import Record, Target

EXAMPLE = Path(__file__).parent / "example.yaml"


@pytest.fixture(scope="module")
def example():
    return load(EXAMPLE)


def test_example_covers_every_section(example):
    """The example scene writes every section of the format, and nearly every kind of lamp."""
    scene = example.scene()
    for name in table(type(scene)):
        assert getattr(scene, name), name
    assert len({each.kind for each in scene.lights}) > 15


def walk(record):
    """Yield a record and all records in it."""
    yield record
    for name in table(type(record)):
        found = getattr(record, name)
        for each in found if isinstance(found, tuple) else (found,):
            if isinstance(each, Record):
                yield from walk(each)


def test_nothing_invalid_is_returned(example):
    """No record of any option of a file that was loaded holds the mark of a wrong value."""
    for option in ("", *example.option_names):
        for record in walk(example.scene(option)):
            assert not any(getattr(record, name) is INVALID for name in table(type(record)))


def test_values_are_si(example):
    """Lengths are in m, angles in degrees, fractions 0 to 1, whatever was written."""
    scene = example.scene()
    lights = {each.name: each for each in scene.lights}
    assert example.title == scene.title == "Signal cabin, last light"
    assert scene.base == EXAMPLE.parent
    assert scene.option == ""
    assert scene.room.size == (5.2, 3.8, 2.7)
    assert scene.room.openings[0].panes == (3, 2)
    assert scene.room.openings[0].bar == 0.035
    # 4' 6" is 54 in of 25.4 mm.
    assert scene.pieces[3].at == (2.6, 3.75, 1.3716)
    assert scene.pieces[0].at == (1.6, 2.4, 0.0)
    assert lights["overhead"].size == (0.9144, 0.6096)  # 3 ft, 2 ft
    assert lights["overhead"].on is False
    assert lights["key into board"].dimmer == 0.8
    assert scene.daylight.illuminance == 6000.0
    assert scene.cameras[0].lens == 0.035
    assert scene.cameras[0].stop == 2.8
    assert scene.cameras[0].sensor == (0.02489, 0.01866)
    assert scene.cameras[0].aspect == 2.39
    assert scene.cameras[1].aspect == 16 / 9
    assert scene.haze.visibility == 60.0


def test_outputs(example):
    """An output is lumens, candelas, lux at a distance, or watts times efficacy."""
    lights = {each.name: each for each in example.scene().lights}

    def of(name):
        output = lights[name].output
        return output.value, output.unit, output.distance

    assert of("desk lamp") == (450.0, "lm", None)
    assert of("window push") == (38_000.0, "cd", None)
    assert of("overhead") == (900.0, "lx", 1.0)
    # 650 W at 14 lm/W.
    assert of("key into board") == (9100.0, "lm", None)
    assert lights["key into board"].watts == 650.0
    assert lights["window push"].watts == 2000.0


def test_targets(example):
    """A target is a name, a name with a part, a point, or where allowed a plain quantity."""
    scene = example.scene()
    assert scene.cameras[0].aim == Target("clerk.eyes")
    assert (scene.cameras[0].aim.name, scene.cameras[0].aim.anchor) == ("clerk", "eyes")
    assert (scene.boards[0].facing.name, scene.boards[0].facing.anchor) == ("clerk", None)
    assert scene.lights[3].aim.point == (2.6, 1.9, 0.0)
    assert scene.lights[3].aim.name is None
    assert scene.figures[1].facing == 180.0
    assert scene.cameras[1].focus == 2.4
    assert scene.meters[0].facing is None


def test_gels(example):
    """A trade name stands for its nominal shift; figures stand for themselves."""
    lights = {each.name: each for each in example.scene().lights}
    half, (full, frost, grey) = lights["key into board"].gel[0], lights["window push"].gel
    # Half blue is half of the shift from 3200 K to 5600 K, 133.93 mired.
    assert half.mired == pytest.approx(-133.929 / 2, abs=1e-3)
    assert full.mired == pytest.approx(-FULL_SHIFT)
    assert (frost.transmission, frost.green) == (0.8, -0.002)
    # Density 0.3 passes 10^-0.3 of the light.
    assert grey.transmission == pytest.approx(0.501187, abs=1e-6)


def test_colours():
    """Colours are linear light by the sRGB curve."""
    # IEC 61966-2-1: signal 1 is 1, 0 is 0, and 0x80 = 0.50196 is 0.21586.
    assert linear_from_hex("#ff0080") == pytest.approx((1.0, 0.0, 0.21586), abs=1e-5)
    # On the straight part, 0x0a / 255 / 12.92.
    assert linear_from_hex("#0a0a0a")[0] == pytest.approx(10 / 255 / 12.92)


def test_defaults_depend_on_the_kind(example):
    """A lamp that does not say its colour or spectrum has those of its kind."""
    lights = {each.name: each for each in example.scene().lights}
    assert (lights["rack panel"].cct, lights["rack panel"].spectrum) == (5600.0, "led")
    assert (lights["key into board"].cct, lights["key into board"].spectrum) == (3200.0, "tungsten")
    assert (lights["pilot bulb"].cct, lights["pilot bulb"].spectrum) == (2700.0, "led")


def test_every_value_keeps_its_place(example):
    """Each item and each field that was written knows its line and column."""
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines()
    scene = example.scene()
    for item in scene.all_items():
        assert item.place.file == str(EXAMPLE)
        for name, place in item.places.items():
            assert place.source_line == lines[place.line - 1]
            written = place.source_line[: place.column - 1].rstrip()
            assert written.endswith(f"{name}:"), (item.name, name)
    assert scene.where("title").line == 3
    lamp = next(each for each in scene.lights if each.name == "desk lamp")
    assert lamp.where("dimmer") == lamp.place  # not written
    assert lamp.shade.where("surface").line == lamp.where("shade").line


def test_a_place_makes_a_problem(example):
    """Later steps can report a problem at the place of a value."""
    camera = example.scene().cameras[0]
    problem = camera.where("lens").problem("the lens is too long", "Use another.")
    assert (problem.path, problem.source_line) == (str(EXAMPLE), "    lens: 35 mm")
    assert problem.source_line[problem.column - 1 :] == "35 mm"


YAML_TRAPS = """\
previz: 1
title: no
cameras:
  - {name: off, at: [1 m, 1 m, 1 m], aim: on, lens: 35 mm, stop: 2, iso: 0800, fps: 1e1,
     aspect: 16:9}
  - {name: on, at: [1 m, 2 m, 1 m], aim: yes, lens: 35 mm, stop: 2.8, iso: 010}
  - {name: yes, at: [1 m, 3 m, 1 m], aim: off, lens: 35 mm, stop: 2.8, iso: 1e3, nd: .3}
"""


def test_yaml_does_not_guess_types(load_text):
    """on, off, yes, no are words; 16:9 is a ratio, 010 is ten, 1e3 a thousand."""
    scene = load_text(YAML_TRAPS).scene()
    assert scene.title == "no"
    assert [each.name for each in scene.cameras] == ["off", "on", "yes"]
    assert [each.aim.name for each in scene.cameras] == ["on", "yes", "off"]
    assert [each.iso for each in scene.cameras] == [800.0, 10.0, 1000.0]
    assert scene.cameras[0].fps == 10.0
    assert scene.cameras[0].aspect == 16 / 9
    assert scene.cameras[2].nd == 0.3


def test_none_takes_away_what_is_optional(load_text):
    """The word 'none' empties an optional field, a list of gels, a section."""
    scene = load_text(
        "previz: 1\nroom: none\nhaze: none\nflags: none\nmeters: []\n"
        "lights:\n  - {name: a, kind: practical, at: [1 m, 1 m, 1 m], output: 9 lm, shade: none,"
        " gel: none, aim: none}\n"
    ).scene()
    assert (scene.room, scene.haze, scene.flags, scene.meters) == (None, None, (), ())
    assert (scene.lights[0].shade, scene.lights[0].gel, scene.lights[0].aim) == (None, (), None)


def test_furniture_has_a_usual_size(load_text):
    """A shape of furniture needs no size; a mesh of glTF needs no units."""
    piece = load_text("previz: 1\npieces: [{name: stool, shape: stool, at: [1 m, 1 m]}]\n")
    assert piece.scene().pieces[0].size == (0.36, 0.36, 0.46)


def test_anchors_repeat_values(load_text):
    """YAML's '&' and '*' may repeat a value."""
    scene = load_text(
        "previz: 1\n"
        "flags:\n"
        "  - {name: a, size: &s [1 m, 1 m], at: [1 m, 1 m, 1 m], facing: [0 m, 0 m, 0 m]}\n"
        "  - {name: b, size: *s, at: [1 m, 1 m, 1 m], facing: [0 m, 0 m, 0 m]}\n"
    ).scene()
    assert scene.flags[0].size == scene.flags[1].size == (1.0, 1.0)


def test_a_repeated_item_is_two_of_one_name(message_of):
    """An item that is repeated by '*' is a second thing of the same name."""
    assert message_of(
        "previz: 1\n"
        "flags:\n"
        "  - &a {name: a, size: [1 m, 1 m], at: [1 m, 1 m, 1 m], facing: [0 m, 0 m, 0 m]}\n"
        "  - *a\n"
    ).startswith("scene.yaml:3:15: two things are called 'a', this flag and the flag on line 3.")


def test_byte_order_mark_and_line_ends(folder):
    """A file from another system, with a mark at its start and CR LF, reads the same."""
    (folder / "scene.yaml").write_bytes(b"\xef\xbb\xbfprevez: 1\r\ntitle: a\r\n")
    with pytest.raises(SceneError) as caught:
        load("scene.yaml")
    first, second = caught.value.problems
    assert (first.line, first.column) == (1, 1)
    assert (second.line, second.source_line) == (1, "prevez: 1")
    (folder / "scene.yaml").write_bytes(b"\xef\xbb\xbfprevez: 1\r\n".replace(b"prevez", b"previz"))
    assert load("scene.yaml").title == ""


def test_all_problems_at_once_from_the_top(load_text):
    """Every problem of a file is reported in one go, from its top, each at the text it is about."""
    with pytest.raises(SceneError) as caught:
        load_text(
            "previz: 1\n"
            "cameras:\n"
            "  - {name: A, at: [1, 1 m, 1 m], aim: clerk, lens: 35, stop: f/2, iso: 0}\n"
            "lights:\n"
            "  - {name: A, kind: fresnel, at: [1 m, 1 m, 1 m], aim: A, cct: 3200, dimer: 4}\n"
            "options:\n"
            "  a: {remove: [B]}\n"
        )
    found = [
        (each.line, each.source_line[each.column - 1 :].split(",")[0], each.message)
        for each in caught.value.problems
    ]
    assert found == [
        (3, "1", "'at' of camera 'A': '1' has no unit"),
        (3, "clerk", "'aim' of camera 'A' is 'clerk', and nothing has that name"),
        (3, "35", "'lens' of camera 'A': '35' has no unit"),
        (3, "f/2", "'stop' of camera 'A': 'f/2' is an f-number, not a T-stop"),
        (3, "0}", "'iso' of camera 'A': '0' is less than 1"),
        (5, "{name: A", "light 'A' (fresnel) has no 'output'"),
        (5, "A", "two things are called 'A', this light and the camera on line 3"),
        (5, "3200", "'cct' of light 'A' (fresnel): '3200' has no unit"),
        (5, "dimer: 4}", "light 'A' (fresnel) has no field 'dimer'"),
        (7, "B]}", "option 'a' removes 'B', and nothing has that name"),
    ]


def test_an_unreadable_field_does_not_hide_the_rest(load_text):
    """A lamp of an unknown kind still has its other fields checked."""
    with pytest.raises(SceneError) as caught:
        load_text(
            "previz: 1\nlights:\n"
            "  - {name: key, kind: spot, at: [1 m, 1 m, 1 m], aim: nobody, output: 9 lx,"
            " gel: red}\n"
        )
    assert [
        each.source_line[each.column - 1 :].split(",")[0] for each in caught.value.problems
    ] == ["spot", "nobody", "9 lx", "red}"]


def test_files_that_cannot_be_read(folder):
    """A file that is missing, a folder, too large or not text is reported by its name."""

    def problems_of(name):
        with pytest.raises(SceneError) as caught:
            load(name)
        return str(caught.value)

    assert problems_of("gone.yaml") == (
        "gone.yaml: there is no such file.\n  Check the name and the folder."
    )
    (folder / "yard").mkdir()
    assert problems_of("yard") == (
        "yard: this is a folder, not a scene file.\n  Name a scene file, such as scene.yaml."
    )
    (folder / "large.yaml").write_bytes(b"#" * (nodes.FILE_BYTES + 1))
    assert problems_of("large.yaml") == (
        "large.yaml: the file is larger than 2 MB.\n"
        "  A scene file is short text; put meshes and pictures in files beside it."
    )
    (folder / "latin.yaml").write_bytes("previz: 1\ntitle: caf\u00e9\n".encode("latin-1"))
    assert problems_of("latin.yaml") == (
        "latin.yaml:2:11: byte 0xe9 is not UTF-8 text.\n"
        "    2 | title: caf\ufffd\n"
        "      |           ^\n"
        "  Save the file as UTF-8."
    )
    assert problems_of("a\0b") == (
        "a\0b: the file cannot be read (embedded null byte).\n  Check the name and its permissions."
    )


def test_alias_bomb_is_refused(message_of):
    """Aliases that stand for millions of values are refused, quickly."""
    lines = ["previz: 1", "a: &a [1, 2, 3, 4, 5, 6, 7, 8, 9]"]
    for one, other in zip("bcdefghi", "abcdefgh", strict=True):
        lines.append(f"{one}: &{one} [{', '.join([f'*{other}'] * 9)}]")
    begun = time.perf_counter()
    text = message_of("\n".join(lines) + "\n")
    assert time.perf_counter() - begun < 5.0
    assert "the file holds more than 20000 values." in text


def test_too_many_values_are_refused(message_of):
    """A file of very many small values is refused before it is all read."""
    text = message_of("previz: 1\nflags: [" + "a," * 30_000 + "]\n")
    assert text.startswith("scene.yaml:2:") and "more than 20000 values" in text


def test_deep_nesting_is_refused(message_of):
    """Brackets opened very often are refused and do not exhaust the stack."""
    text = message_of("previz: 1\nroom: " + "[" * 100_000 + "\n")
    assert text.startswith("scene.yaml:2:30: this is nested more than 24 levels deep.")


def test_an_ordinary_scene_loads_quickly():
    """Reading and checking the example with its three options is well under 0.15 s."""
    load(EXAMPLE)
    best = min(_seconds() for _ in range(5))
    assert best < 0.15


def _seconds():
    # The process' own time: a busy machine must not fail it.
    begun = time.process_time()
    load(EXAMPLE)
    return time.process_time() - begun


def test_reading_needs_nothing_slow():
    """Importing the scene package and reading a scene imports no array library or renderer."""
    code = (
        "import sys, previz.scene.read, previz.scene.schema\n"
        f"previz.scene.read.load({str(EXAMPLE)!r})\n"
        "slow = {'numpy', 'mitsuba', 'drjit', 'trimesh', 'PIL', 'jsonschema', 'click'}\n"
        "print(sorted(slow & {name.partition('.')[0] for name in sys.modules}))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_mains_and_what_lamps_do_on_them(load_text):
    """A generator's kW and kVA follow from each other; flicker and inrush are kept as written."""
    scene = load_text(
        "previz: 1\nmains: {at: [0 m, 1 m, 0 m], frequency: 60 Hz, generator: {rating: 20 kVA}, "
        "hours: 2.5 h}\n"
        "lights:\n  - {name: key, kind: bulb, at: [0 m, 0 m, 2 m], output: 900 lm, inrush: 12, "
        "flicker: {depth: 30 %, frequency: 20 kHz}}\n").scene()
    mains, light = scene.mains, scene.lights[0]
    # Generators are rated at a power factor of 0.8 (ISO 8528, from memory).
    assert (mains.generator.volt_amperes, mains.generator.watts) == (20_000, pytest.approx(16_000))
    assert (mains.at, mains.frequency, mains.hours, mains.phase_names) == ((0, 1, 0), 60, 2.5, ("",))
    assert (light.inrush, light.flicker.depth, light.flicker.frequency) == (12, 0.3, 20_000)
    other = load_text("previz: 1\nmains: {generator: {power: 16 kW, power_factor: 100 %}, phases: 2}\n")
    mains = other.scene().mains
    assert (mains.generator.volt_amperes, mains.generator.watts) == (16_000, 16_000)
    assert mains.phase_names == ("L1", "L2")
