"""Looks that are kept: their file beside the scene, what they have rendered, references, the sheet."""

import io
import json
import os
import shutil
import stat

import numpy as np
import pytest
from click.testing import CliRunner
from pdf_words import letters, pages, said
from PIL import Image

from previz.cli.main import previz
from previz.errors import DataError, SceneError
from previz.frames.layouts import marked
from previz.frames.lock import LOCK_NAME
from previz.page import answers, looks, references
from previz.page.desk import Desk
from previz.page.handout import handed_looks
from previz.page.look_strip import moves_words
from previz.page.looks import MOST_LOOKS, MOST_REFERENCES, kept_looks
from previz.page.renders import MOST_LOOK_SHOTS, Renders

LOW = {"name": "low key", "note": "the cook at the counter", "option": "early", "camera": "A", "at": 1,
       "look": {"lamps": {"key": {"level": 0.2}}, "cameras": {"A": {"stop": 4.0}, "B": {"iso": 400}},
                "moves": {}}}
WARM = {"name": "warm", "note": "", "option": "late", "camera": "B", "at": 0,
        "look": {"lamps": {}, "cameras": {}, "moves": {}}, "wants": ["meter place setting 0"]}
MARKS = {"spots|early|A": [{"x": 0.5, "y": 0.5}], "zones": {"on": True}}


def beside(desk):
    """Return what lies beside the scene."""
    return json.loads(desk.path.with_name("canteen.looks.json").read_text(encoding="utf-8"))


def again(desk):
    """Return a desk of the same scene, opened anew."""
    return Desk(desk.request)


def test_looks_lie_beside_the_scene_and_the_rest_with_the_renders(desk):
    """They are there after the renders were thrown away, in the order of the strip; levels are not."""
    desk.change({"look|a": LOW, "early|lamp|key": {"level": 0.5}, **MARKS})
    desk.change({"look|b": WARM})
    assert set(beside(desk)["changes"]) == {"look|a", "look|b", *MARKS}
    own = json.loads((desk.folder / "changes.json").read_text(encoding="utf-8"))["changes"]
    assert own == {"early|lamp|key": {"level": 0.5}}
    assert again(desk).changes == desk.changes
    shutil.rmtree(desk.request.folder)
    found = again(desk)
    assert found.changes == {"look|a": LOW, "look|b": WARM, **MARKS}
    shown = [(each.name, each.stop) for each in kept_looks(found.changes)]
    assert shown == [("warm", None), ("low key", 4.0)]
    found.change({"look|a": None})
    assert set(again(found).changes) == {"look|b", *MARKS}
    # Nothing but the one file is left in a folder that is somebody's own.
    assert not (desk.path.parent / LOCK_NAME).exists()


def test_two_programs_keep_each_others_looks(desk):
    """What another has kept meanwhile stays, as it does with levels."""
    other = again(desk)
    desk.change({"look|a": LOW})
    other.change({"look|b": WARM})
    assert set(again(desk).changes) == {"look|a", "look|b"}


@pytest.mark.parametrize(("spoil", "name", "what"), [
    (lambda path: path.write_text(path.read_text()[:-40]), "damaged", "is damaged"),
    (lambda path: path.write_text(path.read_text().replace("low key", "high key")), "damaged", "is damaged"),
    (lambda path: path.write_text('{"previz_looks": 99, "changes": {}}'), "newer", "was written by a newer"),
    (lambda path: path.write_text("a list of mine"), "damaged", "is damaged")])
def test_what_cannot_be_read_is_put_aside(desk, spoil, name, what):
    """Under another name, whole, and it is said; a second one takes the place of nothing."""
    texts = []
    for _ in range(2):
        desk.change({"look|a": LOW})
        path = desk.path.with_name("canteen.looks.json")
        spoil(path)
        texts.append(path.read_text())
        found = again(desk)
        assert found.changes == {} and not path.exists()
        assert len(found.looks.notes) == 1 and what in found.looks.notes[0]
        desk = found
    kept = [desk.path.with_name(f"canteen.looks-{name}{number}.json") for number in ("", 1)]
    assert [path.read_text() for path in kept] == texts


def test_what_no_page_could_have_set_is_left_out(desk):
    """The file comes along with a scene; what is foreign in it is told, and never reaches a page."""
    bad = {"look|x": "no group", "spots|early|A": {"x": 1}, "reference|../r": {"file": "r.jpg"}}
    looks.write_sealed(desk.path.with_name("canteen.looks.json"),
                       {**marked("previz_looks"), "changes": {"look|a": LOW, **bad}})
    found = again(desk)
    assert found.changes == {"look|a": LOW}
    assert found.looks.notes == [
        "canteen.looks.json holds what no page keeps, 3 in number: that is left out."]


def test_a_pipe_in_the_place_of_looks_is_not_waited_for(desk):
    """It is put aside unread."""
    os.mkfifo(desk.path.with_name("canteen.looks.json"))
    assert "is damaged" in again(desk).looks.notes[0]
    assert stat.S_ISFIFO(desk.path.with_name("canteen.looks-damaged.json").stat().st_mode)


def test_the_command_says_it_too(desk):
    """`previz page --get` says on its second output what it put aside."""
    desk.path.with_name("canteen.looks.json").write_text("{")
    result = CliRunner().invoke(previz, ["page", str(desk.path), "--out", str(desk.request.folder), "--get",
                                         "changes.json"])
    assert "canteen.looks.json is damaged: it was put aside as canteen.looks-damaged.json" in result.stderr


@pytest.fixture
def shut(desk, monkeypatch):
    """Shut the scene's folder, as a share for reading would; root may write anywhere, so not by its mode."""
    written = looks.write_sealed

    def refused(path, head):
        if path.parent == desk.path.parent:
            raise PermissionError(13, "Permission denied", str(path))
        written(path, head)

    desk.change({"look|a": LOW})
    monkeypatch.setattr(looks, "write_sealed", refused)
    return lambda: monkeypatch.setattr(looks, "write_sealed", written)


def test_a_folder_that_may_not_be_written_to(desk, shut):
    """Looks stay with the renders, which is said once; a drop holds; once that ends all goes there."""
    desk.change({"look|b": WARM})
    desk.change({"look|a": None})
    assert len(desk.looks.notes) == 1 and "may not be written to" in desk.looks.notes[0]
    assert set(beside(desk)["changes"]) == {"look|a"}
    assert again(desk).changes == {"look|b": WARM}
    shut()
    desk.change({**MARKS})
    assert set(beside(desk)["changes"]) == {"look|b", *MARKS}
    assert not (desk.folder / looks.FALLBACK).exists()
    assert again(desk).changes == desk.changes == {"look|b": WARM, **MARKS}


def test_only_so_much_is_kept(desk):
    """So many looks and pictures, and names and notes of a length."""
    desk.change({f"look|{n}": LOW for n in range(MOST_LOOKS)})
    for changes, words in (({"look|more": LOW}, "48 looks are the most"),
                           ({f"reference|{n}": {} for n in range(MOST_REFERENCES + 1)}, "8 reference pict"),
                           ({"look|1": {**LOW, "note": "n" * 2000}}, "the note of '1' has more than 1000"),
                           ({f"spots|early|c{n}": ["z" * 1900] * 30 for n in range(20)},
                            "too much to keep beside the scene")):
        with pytest.raises(DataError, match=words):
            desk.change(changes)
    assert len(again(desk).changes) == MOST_LOOKS
    desk.change({"look|1": {**LOW, "name": "again"}})


def test_what_is_no_look_is_left_out():
    """A page may have written anything."""
    good = {"look|a": {**LOW, "at": "first", "wants": "all"}}
    bad = {"look|b": 3, "look|c": {**LOW, "name": 3}, "look|d": {**LOW, "look": []}, "early|lamp|key": LOW}
    found, = kept_looks({**good, **bad})
    assert (found.name, found.wants) == ("low key", ())
    for number in (True, 10**400, float("nan"), "4"):
        strange = {**LOW, "at": number, "look": {"cameras": {"A": {"stop": number}}}}
        assert kept_looks({"look|a": strange})[0].stop is None


# Behind the page


def test_what_looks_need_is_rendered_after_what_is_in_view(desk):
    """Frames at a look's own stop, once each and so many at most; what fits no more is passed over."""
    more = {f"look|{n}": {**LOW, "at": 9, "look": {"cameras": {"A": {"stop": 5.6 + n / 10}}}}
            for n in range(20)}
    strange = [{"option": "gone"}, {"camera": "C"}, {"look": {"moves": {"lights": {"no such": {"at": "x"}}}}}]
    desk.change({"look|a": LOW, "look|b": WARM, "look|c": {**LOW, "name": "the same frames"}, **more,
                 **{f"look|x{n}": {**LOW, "at": -1, **each} for n, each in enumerate(strange)}})
    renders = Renders(desk, print)
    renders.show("late", "A", 2.8)
    orders = list(renders._wishes(desk))
    shots = [(each["option"], each["camera"], each["stop"]) for each in orders
             if each["do"] == "frames" and each["quality"] == "working"]
    assert shots[0] == ("late", "A", 2.8)
    later = [each for each in shots if each[2] > 2.8]
    assert later[0] == ("early", "A", 4.0) and later.count(("early", "A", 4.0)) == 1
    # Of the first sixteen those that fit; three do not, and one is as written.
    assert len(later) == MOST_LOOK_SHOTS - len(strange) - 1
    # What is in view is rendered in full before, and so is all that the scene has as it is written.
    assert len(shots) - len(later) == len([shot for shot in shots if shot[2] == 2.8])
    assert max(n for n, each in enumerate(shots[:6]) if each[2] == 2.8) < shots.index(later[0])


def test_meters_of_what_a_look_has_moved(desk):
    """A look with a lamp elsewhere has frames and meters of its own."""
    moves = {"lights": {"key": {"at": ["2.5 m", "0.5 m", "2 m"]}}}
    desk.change({"look|a": {**LOW, "look": {"moves": moves}}})
    orders = [each for each in Renders(desk, print)._wishes(desk) if each["moves"]]
    assert {each["moves"] for each in orders} == {json.dumps(moves, separators=(",", ":"))}
    assert [(each["do"], each["quality"]) for each in orders] == [
        ("frames", "draft"), ("frames", "working"), ("meters", "working")]
    # A draft of a look comes before the rest in full, so that there is something to see.
    whole = list(Renders(desk, print)._wishes(desk))
    assert whole.index(orders[0]) < min(n for n, each in enumerate(whole) if each["quality"] == "working")


@pytest.mark.parametrize(("width", "columns"), [(None, 160), (80, 80), (160, 160), (480, 160)])
def test_small_pictures_have_the_width_that_is_asked_for(desk, width, columns):
    """Whole steps of pixels, so never wider than the frames."""
    query = {"option": "early", "camera": "A", "quick": "1", **({"width": str(width)} if width else {})}
    assert Image.open(io.BytesIO(answers.answer(desk, "still.png", query).body)).width == columns


@pytest.mark.parametrize("width", ["9", "5000", "wide", "-1", "1e3"])
def test_other_widths_are_refused(desk, width):
    """A page gets no picture as large as it likes."""
    with pytest.raises(DataError, match="'width' lies from 80 to 480"):
        answers.answer(desk, "still.png", {"quick": "1", "width": width})


# Reference pictures


def pictured(kind="PNG", size=(40, 30), colour=(200, 90, 20), mode="RGB"):
    """Return the bytes of an even picture."""
    packed = io.BytesIO()
    Image.new(mode, size, colour).save(packed, format=kind)
    return packed.getvalue()


@pytest.mark.parametrize(("kind", "size", "kept"), [
    ("PNG", (40, 30), (40, 30)), ("JPEG", (3072, 600), (1536, 300)), ("PNG", (400, 3072), (200, 1536))])
def test_a_reference_is_kept_small_beside_the_scene(desk, kind, size, kept):
    """Its picture comes back by its name, as a JPEG of the same colours and no more than two megabytes."""
    found = references.keep_reference(desk, pictured(kind, size))
    assert (found["width"], found["height"]) == kept
    assert [path.name for path in desk.path.with_name("canteen.looks").iterdir()] == [found["file"]]
    desk.change({"reference|r": {"name": "the window", **found}})
    shutil.rmtree(desk.request.folder)
    body = answers.answer(again(desk), "reference.jpg", {"file": found["file"]}).body
    image = Image.open(io.BytesIO(body))
    assert image.format == "JPEG" and image.size == kept and len(body) <= references.LARGEST_KEPT
    assert np.abs(np.asarray(image, int) - (200, 90, 20)).max() <= 4


def test_a_reference_may_lie_beside_the_scene(desk):
    """Pictures there are offered by name, and no other file is opened by one."""
    desk.path.with_name("window.JPG").write_bytes(pictured("JPEG"))
    desk.path.with_name("a list.png").write_text("a list")
    desk.path.parent.joinpath("deep").mkdir()
    desk.path.parent.joinpath("deep", "other.png").write_bytes(pictured())
    # A link out of the scene's folder is not offered either.
    elsewhere = desk.path.parent.parent / "elsewhere.png"
    elsewhere.write_bytes(pictured())
    desk.path.with_name("linked.png").symlink_to(elsewhere)
    assert json.loads(answers.answer(desk, "beside.json", {}).body) == ["a list.png", "window.JPG"]
    assert references.keep_named(desk, "window.JPG")["width"] == 40
    with pytest.raises(DataError, match="the picture cannot be used: it is of another kind"):
        references.keep_named(desk, "a list.png")
    for name in ("canteen.yaml", "deep/other.png", "../depot/window.JPG", "linked.png", ""):
        with pytest.raises(DataError, match="lies beside the scene"):
            references.keep_named(desk, name)


@pytest.mark.parametrize(("data", "why"), [
    (pictured("GIF"), "it is GIF, and only PNG and JPEG are read"), (b"%!PS-Adobe", "it is PostScript"),
    (pictured("TIFF"), "it is TIFF"), (b"", "it is empty"), (pictured()[:60], "it is cut off"),
    (b"<svg onload='x'/>", "it is SVG")])
def test_other_files_are_no_references(desk, data, why):
    """The gate is that of all pictures that are read; nothing is written."""
    with pytest.raises(DataError, match=why):
        references.keep_reference(desk, data)
    assert not desk.path.with_name("canteen.looks").exists()


@pytest.mark.parametrize("value", [
    None, {}, {"file": "../canteen.yaml"}, {"file": "0123456789abcdef.jpg"}, {"file": 3}])
def test_a_key_is_no_file_name(desk, value):
    """Whatever a page has written under a reference, only pictures that were kept come back."""
    (desk.path.parent / "canteen.looks").mkdir()
    desk.change({"reference|r": value})
    with pytest.raises(DataError, match="no such reference picture"):
        references.reference_image(desk, "r")
    with pytest.raises(DataError, match="no such reference picture"):
        answers.answer(desk, "reference.jpg", {"file": str((value or {}).get("file", "r"))})


def test_pictures_that_nothing_names_go_when_they_are_many(desk):
    """Those that are named, and the newest, stay."""
    first = references.keep_reference(desk, pictured(colour=(1, 2, 3)))
    desk.change({"reference|r": {"name": "first", **first}})
    for number in range(4 * MOST_REFERENCES):
        last = references.keep_reference(desk, pictured(colour=(4 * number, 9, 9), size=(8, 8)))
    names = {path.name for path in desk.path.with_name("canteen.looks").iterdir()}
    assert {first["file"], last["file"]} <= names and len(names) <= 4 * MOST_REFERENCES


# The sheet


def test_the_strip_as_a_pdf_holds_the_words(desk):
    """Printed by the command: name, note, camera, what differs in words, cautions and who decides."""
    desk.change({"look|a": LOW, "look|b": WARM})
    result = CliRunner().invoke(previz, [
        "page", str(desk.path), "--size", "160", "--samples", "4", "--out", str(desk.request.folder),
        "--get", "strip.pdf"], catch_exceptions=False)
    assert result.exit_code == 0 and result.stdout_bytes.startswith(b"%PDF-")
    pdf = result.stdout_bytes
    lines = [line for content, _ in pages(pdf) for line in said(content, letters(pdf))]
    places = [lines.index(each) for each in ("Canteen, last shift", "warm", "low key")]
    assert places == sorted(places)
    # f/2.8 and f/4 as they are set; camera B's ISO is not in the picture of camera A.
    for words in ("early, camera A, T4 · ISO 800 · 1/48 s · 4300 K", "the cook at the counter",
                  "changed: key at 20 %, stop 4", "as written", "wanted as well: meter place setting 0"):
        assert (words in lines) == (words != "as written"), words
    assert any("Local codes and licensed people decide" in line for line in lines)


def test_the_strip_as_a_picture(desk):
    """A PNG with the stills as they would be rendered; looks that cannot be shown say why."""
    moves = {"lights": {"key": {"at": ["2.5 m", "0.5 m", "2 m"]}}, "remove": ["rim"]}
    desk.change({"look|a": LOW, "look|b": {**LOW, "camera": "C"}, "look|c": {**LOW, "look": {"moves": moves}},
                 "look|d": {**LOW, "look": {"lamps": {"no such": {"on": False}}}}})
    lines = [_line_of(desk, each) for each in kept_looks(desk.changes)]
    assert [each.picture for each in lines[1:]] == ["no longer in the scene", "not rendered yet",
                                                    "no longer fits the scene"]
    assert list(lines[2].differs) == ["moved: key; taken out: rim"]
    shot = answers.shot(desk, {"option": "early", "camera": "A", "look": json.dumps(LOW["look"])})
    np.testing.assert_array_equal(lines[0].picture, shot.developed().still)
    image = Image.open(io.BytesIO(answers.answer(desk, "strip.png", {}).body))
    assert image.width == 2400 and image.height > 1000
    with pytest.raises(DataError, match="no look is kept"):
        answers.answer(desk, "strip.pdf", {"looks": '["none of these"]'})
    with pytest.raises(DataError, match="'looks' is a list"):
        answers.answer(desk, "strip.pdf", {"looks": "{"})


def _line_of(desk, look):
    from previz.page.look_strip import _line

    return _line(desk, look)[0]


def test_moves_in_words():
    """Moved, put in and taken out, each only where there is any."""
    assert moves_words("") == ""
    given = {"lights": {"key": {}}, "pieces": {"table": {}}, "add": {"sheets": [{"name": "flag"}]},
             "remove": ["rim"]}
    assert moves_words(json.dumps(given)) == "moved: key, table; put in: flag; taken out: rim"


# The hand-out


def test_a_hand_out_has_the_looks_that_it_can_show(desk):
    """Those of its option and cameras whose lamps have its colours and stand where its own stand."""
    gelled = {"lamps": {"key": {"level": 0.3, "gel": ["half ctb"]}}}
    desk.change({"look|a": LOW, "look|b": WARM, "look|c": {**LOW, "camera": "B"},
                 "look|d": {**LOW, "look": gelled},
                 "look|e": {**LOW, "look": {"moves": {"remove": ["rim"]}}}})
    plain = answers.shot(desk, {"option": "early", "camera": "A"})
    assert list(handed_looks(desk, plain, ["A"])) == ["look|a"]
    assert list(handed_looks(desk, plain, ["A", "B"])) == ["look|a", "look|c"]
    same = answers.shot(desk, {"option": "early", "camera": "A", "look": json.dumps(
        {"lamps": {"key": {"gel": ["half ctb"]}, "rim": {"on": False}}})})
    assert list(handed_looks(desk, same, ["A"])) == ["look|d"]


@pytest.mark.parametrize("scene", [".", ".."])
def test_a_folder_is_no_scene_of_a_page(tmp_path, monkeypatch, scene):
    """A path without a name, with no file of looks beside it, is refused as a scene; nothing is written."""
    (tmp_path / "yard").mkdir()
    monkeypatch.chdir(tmp_path / "yard")
    result = CliRunner().invoke(previz, ["page", scene, "--get", "index.html", "--no-open"])
    assert isinstance(result.exception, SceneError)
    assert f"{scene}: this is a folder, not a scene file." in str(result.exception)
    assert [each.name for each in tmp_path.rglob("*")] == ["yard"]
