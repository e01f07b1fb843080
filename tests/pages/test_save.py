"""A look written into a scene file: what is added, what is left alone, what is refused."""

import json

import pytest

from previz.app.live.looks import changed_scene, read_look
from previz.app.live.save import own_path, save_look, with_option
from previz.errors import DataError, SceneError
from previz.scene.read import load

LOOK = {"lamps": {"key": {"level": 0.5}}, "cameras": {}}


def save(desk, name="dimmed", **more):
    told = {"name": name, "option": "early", "where": "scene", "look": LOOK, **more}
    return save_look(desk, told)


def added(desk, **more):
    """Save and return the lines that the file has more, all others being as they were."""
    before = desk.path.read_bytes()
    save(desk, **more)
    after = desk.path.read_bytes()
    # The file is the old one with one piece put in somewhere.
    at = next(i for i in range(len(before), -1, -1) if after.startswith(before[:i])
              and before[i:] == after[len(after) - len(before) + i :])
    return after[at : at + len(after) - len(before)].decode()


def test_only_what_is_changed_is_written(desk):
    """One level is one field of one lamp; comments and order stay, to the byte."""
    assert added(desk) == "  dimmed:\n    like: early\n    lights:\n      key: {dimmer: 50 %}\n"


def test_everything_that_a_look_can_change(desk):
    """Lamps, daylight and cameras are written in the scene's own words and units."""
    look = {"lamps": {"counter": {"level": 0.0312, "on": False},
                      "key": {"cct": 3450, "duv": -0.0035, "gel": ["half ctb", "nd 0.3"]},
                      "rim": {"gel": [{"sheet": 1}, "full cto"], "level": 1},
                      "sky": {"level": 0.5, "cct": 9000}},
            "cameras": {"A": {"stop": 4, "iso": 400, "shutter": 172.8, "nd": 0.6,
                              "white_balance": 5600, "tint": 0.002}, "B": {"iso": 1600}}}
    assert added(desk, look=look) == """\
  dimmed:
    like: early
    lights:
      counter: {dimmer: 3.12 %, on: no}
      key: {cct: 3450 K, duv: -0.0035, gel: [half ctb, nd 0.3]}
      rim: {dimmer: 100 %, gel: [{transmission: 80 %}, full cto]}
    daylight:
      illuminance: 20 lx
      sky_cct: 9000 K
    cameras:
      A: {stop: T4, iso: 400, shutter: 172.8 deg, nd: 0.6, white_balance: 5600 K, tint: 0.002}
      B: {iso: 1600}
"""


def test_what_is_read_again_is_the_look(desk):
    """The saved option is equal to the scene with the look laid over it, field by field."""
    look = {"lamps": {"key": {"level": 0.329877, "cct": 3333}, "sky": {"on": False}}}
    wanted = changed_scene(desk.scene("late"), desk.stage("late"), read_look(json.dumps(look)))
    save(desk, option="late", look=look)
    found = load(desk.path).scene("dimmed")
    assert found.lights == wanted.lights
    assert found.daylight == wanted.daylight
    assert found.cameras == wanted.cameras


def test_an_unchanged_look_is_an_option_like_its_base(desk):
    """Nothing changed is still an option that can be named."""
    assert added(desk, look={}) == "  dimmed:\n    like: early\n"


def test_the_old_options_stay_the_same_scenes(desk):
    """Options that were there read as they did."""
    before = load(desk.path).scenes
    save(desk)
    after = load(desk.path).scenes
    assert list(after) == [*before, "dimmed"]
    assert all(after[name] == before[name] for name in before)


LAYOUTS = {
    "a section after the options": (
        "options:\n  early: {}\n\n# The end comes here.\nhaze: {visibility: 60 m}\n",
        "options:\n  early: {}\n  new: {}\n\n# The end comes here.\nhaze: {visibility: 60 m}\n"),
    "a comment that belongs to an option": (
        "options:\n  early: {}\n  # kept below\n\n\n",
        "options:\n  early: {}\n  # kept below\n  new: {}\n\n\n"),
    "no line end at the end": ("options:\n  early: {}", "options:\n  early: {}\n  new: {}\n"),
    "deeper indentation": (
        "options:\n      early:\n          lights: {}\n",
        "options:\n      early:\n          lights: {}\n      new: {}\n"),
    "no options at all": ("title: Yard\n", "title: Yard\n\noptions:\n  new: {}\n"),
    "no options, nothing after the last line": ("title: Yard", "title: Yard\n\noptions:\n  new: {}\n"),
    "in brackets": ("options: {early: {}}  # both\n", "options: {early: {}, new: {}}  # both\n"),
    "in empty brackets": ("options: {}\ntitle: Yard\n", "options: {new: {}}\ntitle: Yard\n"),
    "in brackets over lines": (
        "options: {\n  early: {},\n  late: {}\n}\n", "options: {\n  early: {},\n  late: {}\n, new: {}}\n"),
    "lines end as in Windows": (
        "options:\r\n  early: {}\r\n", "options:\r\n  early: {}\r\n  new: {}\r\n"),
    "text in quotes with a hash": (
        'options:\n  early: {}\ntitle: "a # b"\n', 'options:\n  early: {}\n  new: {}\ntitle: "a # b"\n'),
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_any_layout_keeps_the_rest(layout, tmp_path):
    """However the file is laid out, every other byte stays where it was."""
    before, after = LAYOUTS[layout]
    written = f"previz: 1\n{before}".encode()
    found = with_option(written, tmp_path / "yard.yaml", "new", ["new: {}"])
    assert found.decode() == f"previz: 1\n{after}"


def test_a_byte_order_mark_stays(tmp_path):
    """A file that begins with the mark of UTF-8 still does."""
    written = b"\xef\xbb\xbfprevis: 1\noptions:\n  early: {}\n"
    found = with_option(written, tmp_path / "yard.yaml", "new", ["new: {}"])
    assert found == written + b"  new: {}\n"


def test_an_option_in_brackets_goes_on_one_line(tmp_path):
    """Nested changes close their brackets where they end."""
    lines = ["new:", "  like: early", "  lights:", "    key: {dimmer: 50 %}", "    rim: {on: no}",
             "  cameras:", "    A: {iso: 400}"]
    found = with_option(b"options: {early: {}}\n", tmp_path / "yard.yaml", "new", lines)
    assert found == (b"options: {early: {}, new: {like: early, lights: {key: {dimmer: 50 %}, "
                     b"rim: {on: no}}, cameras: {A: {iso: 400}}}}\n")


def test_a_layout_that_cannot_be_added_to_is_refused(desk):
    """An alias as the options stands elsewhere: nothing is written, and it says what to do."""
    text = desk.path.read_text(encoding="utf-8")
    text = text.replace("options:\n", "options: &all\n", 1)
    head, tail = text.split("options: &all")
    desk.path.write_text(f"{head}options: &all{tail}", encoding="utf-8")
    desk.reload()
    spoilt = desk.path.read_text(encoding="utf-8") + "      , {\n"
    desk.path.write_text(spoilt, encoding="utf-8")
    with pytest.raises((DataError, SceneError)):
        save(desk)
    assert desk.path.read_text(encoding="utf-8") == spoilt


@pytest.mark.parametrize(("name", "why"), [
    ("", "a name is empty"), ("early", "there is already an option 'early'"),
    ("../up", "does not begin with a letter"), ("a: b", "has a ':' in it"),
    ("sky", "is kept for the sky itself"), ("x" * 99, "has 99 letters")])
def test_names_that_cannot_be(desk, name, why):
    """A name that the scene format or the file cannot take is refused in words."""
    before = desk.path.read_bytes()
    with pytest.raises(DataError, match=why):
        save(desk, name=name)
    assert desk.path.read_bytes() == before


def test_a_file_changed_meanwhile_is_not_overwritten(desk, monkeypatch):
    """An edit made between reading and writing is kept, and the look refused."""
    from previz.app.live import save as module

    plain = module.check_text

    def edit_meanwhile(*told):
        plain(*told)
        desk.path.write_text(desk.path.read_text(encoding="utf-8") + "# by hand\n", encoding="utf-8")

    monkeypatch.setattr(module, "check_text", edit_meanwhile)
    with pytest.raises(DataError, match="was changed meanwhile"):
        save(desk)
    assert desk.path.read_text(encoding="utf-8").endswith("# by hand\n")
    assert "dimmed" not in desk.path.read_text(encoding="utf-8")


def test_what_the_scene_format_refuses_is_not_written(desk):
    """A tungsten lamp hotter than tungsten melts is refused as it is in a file."""
    before = desk.path.read_bytes()
    with pytest.raises((SceneError, DataError)):
        save(desk, look={"lamps": {"counter": {"cct": 9000}}})
    assert desk.path.read_bytes() == before


def test_a_file_of_its_own(desk):
    """The scene stays as it is; the new file beside it is the whole scene with the look."""
    before = desk.path.read_bytes()
    told = save(desk, name="late shift", where="own file")
    assert desk.path.read_bytes() == before
    path = own_path(desk.path, "late shift")
    assert path.name == "canteen-late-shift.yaml"
    assert told["path"] == str(path)
    assert told["reload"] is False
    assert path.read_bytes().startswith(before)
    assert load(path).scene("late shift").lights[1].dimmer == 0.5
    with pytest.raises(DataError, match="there is already a file canteen-late-shift.yaml"):
        save(desk, name="late shift", where="own file")


def test_a_look_goes_nowhere_else(desk):
    """Where a look goes is one of two words, never a path."""
    with pytest.raises(DataError, match="in the scene or in a file of its own"):
        save(desk, where="/tmp/elsewhere.yaml")
