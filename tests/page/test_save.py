"""A look written into a scene file: what is added, what is left alone, what is refused."""

import errno
import json
from threading import Thread

import pytest

from previz.errors import DataError, SceneError
from previz.page.change_text import read_changes
from previz.page.desk import moves_text
from previz.page.save import save_look
from previz.scene.read import load
from previz.studies.changes import changed_scene
from previz.studies.saving import own_path, with_option

LOOK = {"lamps": {"key": {"level": 0.5}}, "cameras": {}}


def save(desk, name="dimmed", **more):
    result = {"name": name, "option": "early", "where": "scene", "look": LOOK, **more}
    return save_look(desk, result)


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
                              "white_balance": 5600, "green": 0.002}, "B": {"iso": 1600}}}
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
      A: {stop: T4, iso: 400, shutter: 172.8 deg, nd: 0.6, white_balance: 5600 K, green: 0.002}
      B: {iso: 1600}
"""


def test_what_is_read_again_is_the_look(desk):
    """The saved option is equal to the scene with the look laid over it, field by field."""
    look = {"lamps": {"key": {"level": 0.329877, "cct": 3333}, "sky": {"on": False}}}
    expected = changed_scene(desk.scene("late"), desk.stage("late"), read_changes(json.dumps(look)))
    save(desk, option="late", look=look)
    found = load(desk.path).scene("dimmed")
    assert found.lights == expected.lights
    assert found.daylight == expected.daylight
    assert found.cameras == expected.cameras


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
    "in brackets with a comma at the end": ("options: {early: {},}\n", "options: {early: {}, new: {}}\n"),
    "an end of the document": (
        "options:\n  early: {}\n...\n", "options:\n  early: {}\n  new: {}\n...\n"),
    "an end of the document, no options": (
        "title: Yard\n...\n", "title: Yard\n\noptions:\n  new: {}\n...\n"),
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
    from previz.studies import saving as module

    plain = module.check_text

    def edit_meanwhile(*result):
        plain(*result)
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
    """The scene stays as it is; the new file next to it is the whole scene with the look."""
    before = desk.path.read_bytes()
    result = save(desk, name="late shift", where="own file")
    assert desk.path.read_bytes() == before
    path = own_path(desk.path, "late shift")
    assert path.name == "canteen-late-shift.yaml"
    assert result["path"] == str(path)
    assert result["reload"] is False
    assert path.read_bytes().startswith(before)
    assert load(path).scene("late shift").lights[1].dimmer == 0.5
    with pytest.raises(DataError, match="there is already a file canteen-late-shift.yaml"):
        save(desk, name="late shift", where="own file")


MOVES = {"lights": {"key": {"at": ["1 m", "1.5 m", "2.2 m"]}}}


@pytest.mark.parametrize("where", ["option", "everywhere"])
def test_a_look_becomes_what_the_file_says(desk, where):
    """Levels, the sky, a lamp's place: in the option itself, or where they stand; the page lets go."""
    look = {"lamps": {"key": {"level": 0.25}, "sky": {"level": 0.5}}, "cameras": {"A": {"iso": 400}},
            "moves": MOVES}
    expected = changed_scene(desk.scene("late", moves_text(MOVES)), desk.stage("late"),
                             read_changes(json.dumps(look)))
    desk.change({"late|lamp|key": {"level": 0.25}, "late|place|lights|key": MOVES["lights"]["key"],
                 "early|lamp|key": {"level": 0.5}, "late|wants": ["lit side cook 0"]})
    before = load(desk.path)
    saved = save_look(desk, {"option": "late", "look": look, "where": where})
    assert sorted(saved["taken"]) == ["late|lamp|key", "late|place|lights|key"]
    after = load(desk.path)
    assert after.scene("late") == expected
    assert after.scenes.keys() == before.scenes.keys()
    same = after.scene("early") == before.scene("early")
    assert same is (where == "option")
    assert ("With it changed" in saved["text"]) is not same


def test_a_look_goes_nowhere_else(desk):
    """Where a look goes is one of a few words, never a path."""
    with pytest.raises(DataError, match="in one of these places"):
        save(desk, where="/tmp/elsewhere.yaml")


ODD = """\
%YAML 1.1
---
# Ørsted's\tyard \u2014 Łódź, 夜
"previz": 1\t# a tab before this
room: {size: [4 m, 3 m, 2.5 m]}
lights: [{name: key, kind: panel, at: [3 m, 0.5 m, 2 m], aim: [2 m, 2 m, 1 m], size: [1 m, 1 m],
          output: 4000 lm}]
cameras:
- {name: A, at: [2 m, 0.3 m, 1.4 m], aim: [2 m, 2 m, 1 m], lens: 24 mm, stop: T2.8, iso: 800}
options:
    'day':   # äöü
        {lights: {key: {dimmer: 50 %}}}
    # below the day
...
# after the end
"""


def test_an_odd_file_keeps_every_byte(furnish, tmp_path):
    """Comments, quotes, marks of YAML itself, Windows' line ends and other scripts stay as they are."""
    text = ODD.replace("%YAML 1.1\n", "").replace("1\t# a tab", "1 # a\ttab")
    desk = furnish(tmp_path, text)
    desk.path.write_bytes(text.replace("\n", "\r\n").encode())
    desk.reload()
    assert added(desk, option="day", name="nacht 夜") == (
        "    nacht 夜:\r\n      like: day\r\n")
    assert load(desk.path).scene("nacht 夜").lights[0].dimmer == 0.5


def test_a_read_only_scene_is_left_alone(desk):
    """A file that its owner keeps from being written to is not replaced; a file next to it may be."""
    before = desk.path.read_bytes()
    desk.path.chmod(0o444)
    with pytest.raises(DataError, match="canteen.yaml may only be read"):
        save(desk)
    assert desk.path.read_bytes() == before
    save(desk, where="own file")
    assert own_path(desk.path, "dimmed").exists()


def test_a_link_stays_a_link(desk):
    """Through a symbolic link the file it leads to is written."""
    real = desk.path.rename(desk.path.with_name("real.yaml"))
    desk.path.symlink_to(real.name)
    desk.reload()
    save(desk)
    assert desk.path.is_symlink()
    assert "dimmed" in real.read_text(encoding="utf-8")


def test_an_edit_that_was_not_read_yet_is_named(desk):
    """Saved in an editor a moment ago, the file is as it should be; only the page is behind."""
    text = desk.path.read_text(encoding="utf-8")
    text = text.replace("output: 1500 lm", "output: 1700 lm")
    desk.path.write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="was changed meanwhile"):
        save(desk)
    assert desk.path.read_text(encoding="utf-8") == text
    desk.reload()
    save(desk)


def test_two_pages_may_save_at_once(desk, monkeypatch):
    """Of two looks saved in one moment the second is refused; none is lost."""
    from previz.studies import saving as module

    plain, result = module.check_text, []

    def second(*checked):
        plain(*checked)
        if not result:
            result.append(Thread(target=answered))
            result[0].start()

    def answered():
        try:
            result.append(save(desk, name="second")["option"])
        except DataError as error:
            result.append(error.message)

    monkeypatch.setattr(module, "check_text", second)
    save(desk, name="first")
    result[0].join(20)
    assert result[1] == "canteen.yaml was changed meanwhile"
    assert list(load(desk.path).scenes)[-1] == "first"


def test_a_full_disk_is_reported_in_words(desk, monkeypatch):
    """An error of the system is a sentence, and the file is as it was."""
    from previz.studies import saving as module

    def full(path):
        raise OSError(errno.ENOSPC, "No space left on device")

    before = desk.path.read_bytes()
    monkeypatch.setattr(module, "whole_file", full)
    with pytest.raises(DataError, match="the look cannot be written: No space left on device"):
        save(desk)
    assert desk.path.read_bytes() == before


def test_a_look_that_lands_elsewhere_is_refused(tmp_path, furnish):
    """A scene that is one pair of brackets is not spoilt, and the advice is what can be done."""
    path = tmp_path / "canteen.yaml"
    desk = furnish(tmp_path, ODD.partition("---\n")[2].partition("...")[0].replace("\t", " "))
    whole = ("{previz: 1, room: {size: [4 m, 3 m, 2.5 m]}, lights: [{name: key, kind: panel, "
             "at: [3 m, 0.5 m, 2 m], aim: [2 m, 2 m, 1 m], size: [1 m, 1 m], output: 4000 lm}], "
             "cameras: [{name: A, at: [2 m, 0.3 m, 1.4 m], aim: [2 m, 2 m, 1 m], lens: 24 mm, "
             "stop: T2.8, iso: 800}], options: {day: {lights: {key: {dimmer: 50 %}}}}}\n")
    path.write_text(whole, encoding="utf-8")
    desk.reload()
    with pytest.raises(DataError, match="nothing can be added to. *\n? *Write each option on a line"):
        save(desk, option="day")
    assert path.read_text(encoding="utf-8") == whole
