"""Questions to the page's server, put by the command line with `--get`, and what they refuse."""

import io
import json
import re

import numpy as np
import pytest
import snapshot
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.errors import DataError, PrevizError, SceneError
from previz.exposure.falsecolour import band_index, grey_of, paint, stop_bands
from previz.exposure.mix import lamp_xyz
from previz.frames.batches import LEAST_SUPPORT, NO_MATTER
from previz.page import answers, pack
from previz.page.desk import Picture
from previz.page.save import save_look
from previz.page.tables import difference_bands
from previz.physics.exposure import signal_per_luminance
from previz.physics.light import lamp_band_xyz, lamps_band_xyz
from previz.physics.stops import MapSettings, Zone
from previz.rendering.request import QUALITIES


def get(folder, path):
    """Return what `previz page --get` prints."""
    result = CliRunner().invoke(previz, [
        "page", str(folder / "canteen.yaml"), "--size", "160", "--samples", "4", "--out",
        str(folder / "renders"), "--get", path], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stdout_bytes


def ask(desk, path, **query):
    """Return the body of an answer."""
    return answers.ANSWERS[path](desk, {key: str(value) for key, value in query.items()}).body


def framed(body):
    length = int.from_bytes(body[:4], "little")
    return json.loads(body[4 : 4 + length]), np.frombuffer(body[4 + length :], "<f2")


def picture(body):
    return np.array(Image.open(io.BytesIO(body)))


def test_get_prints_one_answer(folder):
    """No server is needed for an answer or a file of the page."""
    scene = json.loads(get(folder, "scene.json"))
    assert [each["name"] for each in scene["options"]] == ["early", "late"]
    assert b"<title>previz</title>" in get(folder, "/")
    assert picture(get(folder, "still.png?option=late&camera=B")).shape == (90, 160, 3)


def test_get_of_nothing_says_what_there_is(folder):
    """A path that is none is refused with those that are."""
    result = CliRunner().invoke(previz, ["page", str(folder / "canteen.yaml"), "--get", "../secret"])
    assert result.exit_code == 2
    assert "There is no '../secret'. There are: allowed.json, balance.json, beside.json" in result.output


def test_lamps_are_reported_as_written(desk):
    """Levels, colours, gels and limits come from the scene; the sky is a lamp like others."""
    scene = json.loads(ask(desk, "scene.json"))
    early, late = scene["options"]
    lamps = {lamp["name"]: lamp for lamp in early["lamps"]}
    assert list(lamps) == ["counter", "key", "rim", "sky"]
    assert lamps["counter"]["fades_warm"] is True
    assert lamps["rim"]["level"] == 0.6
    assert lamps["rim"]["gel"] == ["quarter cto", {"sheet": 1, "label": "80%"}]
    assert lamps["sky"]["sort"] == "sky"
    assert lamps["sky"]["kind"] == "overcast sky, 40 lx"
    assert next(each for each in late["lamps"] if each["name"] == "key")["level"] == 0.4
    assert scene["limits"]["stop"] == [0.5, 128.0]
    assert early["cameras"][0]["shutter"] == 180.0


def test_a_slice_is_the_lamp_alone(desk):
    """A lamp's numbers are its own part of the mix at full level, as signal, to a half float."""
    head, halves = framed(ask(desk, "slice", option="early", camera="A", lamp="rim"))
    found = halves.reshape(head["height"], head["width"], 3)
    question = answers.shot(desk, {"option": "early", "camera": "A"})
    rim = pack.full(next(lamp for lamp in question.lamps() if lamp.name == "rim"))
    expected = lamp_xyz(question.found.frames, rim) * signal_per_luminance(question.settings)
    # Half floats: 2^-11 of a number, 2^-24 next to nothing.
    np.testing.assert_allclose(found, np.moveaxis(expected, 0, -1), rtol=2**-11, atol=2**-24)
    assert head["clean"] is False
    assert head["fade"] == []


def test_a_fading_lamp_reports_how_it_warms(desk):
    """Tungsten has a matrix for each half stop; at full level it changes nothing."""
    head, _ = framed(ask(desk, "slice", option="early", camera="A", lamp="counter"))
    assert len(head["fade"]) == len(pack.FADE_STOPS)
    np.testing.assert_allclose(head["fade"][0], np.eye(3).ravel(), atol=1e-5)
    # Warmer means less Z for the same Y, further with every step until a filament is as red as
    # the tables go.
    blues = [row[8] for row in head["fade"]]
    assert all(after <= before for before, after in zip(blues, blues[1:], strict=False))
    assert blues[-1] < 0.2


def test_settled_is_the_still_before_the_screen(desk, developed):
    """The settled picture is what stills are made from, to a half float."""
    head, halves = framed(ask(desk, "settled", option="early", camera="A"))
    found = halves.reshape(head["height"], head["width"], 3)
    expected = np.moveaxis(developed(desk.path.parent, "early").linear, 0, -1)
    np.testing.assert_allclose(found, expected, rtol=2**-11, atol=2**-24)


def test_pictures_for_a_browser_that_cannot_mix(desk, developed):
    """Still and map are those on disk; the quick one is small; a stop less is the band of it."""
    frame = developed(desk.path.parent, "early")
    assert np.array_equal(picture(ask(desk, "still.png", option="early")), frame.still)
    expected = paint(band_index(frame.signal, stop_bands()), stop_bands())
    assert np.array_equal(picture(ask(desk, "map.png", option="early")), expected)
    look = json.dumps({"cameras": {"A": {"iso": 200}}})
    found = picture(ask(desk, "difference.png", option="early", look=look, than="{}"))
    two_under = [band["colour"] for band in difference_bands() if -2 in (band["low"], band["high"])]
    assert {tuple(each) for each in found.reshape(-1, 3).tolist()} <= set(map(tuple, two_under))
    quick = picture(ask(desk, "still.png", option="early", quick=1))
    # Not denoised here, so only the light as a whole is the same.
    assert quick.mean() == pytest.approx(frame.still.mean(), rel=0.15)


def test_the_map_shows_what_is_set_on_the_page(desk, developed):
    """Steps, clip and zones that are set go into the map, its bands and what is handed out."""
    frame = developed(desk.path.parent, "early")
    zones = {"zones": [{"name": "skin", "low": -1, "high": 0.5}], "clip": 2}
    for given, made in (({"steps": "half", "crush": -4}, MapSettings(True, crush=-4.0)),
                        (zones, MapSettings(clip=2.0, zones=(Zone("skin", -1.0, 0.5),)))):
        text, bands = json.dumps(given), stop_bands(made)
        expected = paint(band_index(frame.signal, bands), bands, grey=grey_of(frame.still))
        assert np.array_equal(picture(ask(desk, "map.png", option="early", map=text)), expected)
        found = json.loads(ask(desk, "map.json", option="early", map=text))
        assert [band["label"] for band in found["bands"]] == [band.label for band in bands]
        assert [tuple(band["colour"]) for band in found["bands"]] == [band.colour for band in bands]
        assert (found["clip"], found["crush"]) == (round(bands[-1].low, 3), bands[0].high)
        page = ask(desk, "handout.html", option="early", camera="A", map=text).decode()
        kept = json.loads(re.search(r'id="handout">(.*?)</script>', page).group(1))
        assert kept["scene"]["options"][0]["cameras"][0]["map"] == found


@pytest.mark.parametrize(("given", "words"), [
    ("[]", "nothing that a map shows"), ("{", "nothing that a map shows"),
    ('{"stops": 3}', "nothing that a map shows"), ('{"steps": "third"}', "whole or half"),
    ('{"clip": -1}', "from 0.5 to 20"), ('{"crush": 3}', "from -0.5 to -20"),
    ('{"clip": true}', "are numbers"),
    ('{"zones": {}}', "a list"), ('{"zones": [{"name": "a", "low": 0}]}', "are numbers"),
    ('{"zones": [{"name": "a", "low": 2, "high": 1}]}', "from the greater to the less"),
    ('{"zones": [{"name": "a", "low": 0, "high": 2}, {"name": "b", "low": 1, "high": 3}]}',
     "lies over zone 'a'"),
    ('{"zones": [{"name": " ", "low": 0, "high": 2}]}', "0 letters")])
def test_a_map_that_cannot_be_is_refused(desk, given, words):
    """Whatever is asked for that no map shows is told in words."""
    with pytest.raises(DataError, match=words):
        answers.ANSWERS["map.json"](desk, {"map": given})


def test_lamps_that_are_out_are_black(desk):
    """With every lamp off the still is black: what a switched-off sky keeps is never seen."""
    off = json.dumps({"lamps": {name: {"on": False} for name in ("counter", "key", "rim", "sky")}})
    assert picture(ask(desk, "still.png", option="early", look=off)).max() == 0


def test_few_paths_are_judged_as_in_the_reports(desk):
    """Contributions under the mix as written, worked out from the answer, are those of `previz meter`."""
    batches, stage = desk.meters("early"), desk.stage("early")
    result = json.loads(ask(desk, "meters.json", option="early"))
    few, levels = result["few"], np.array([lamp.level for lamp in stage.lamps])
    assert result["names"] == list(batches.names)
    parts = np.array(few["parts"]) * levels**2
    share = parts / parts.sum(axis=1, keepdims=True)
    contributions = 1 / np.sum(share / np.sqrt(few["support"]), axis=1) ** 2
    weights = lamps_band_xyz(stage.lamps, 12)[..., 1]
    assert contributions.min() > 1 and contributions.max() < 1e3
    assert contributions == pytest.approx(batches.stands_on(weights), rel=1e-3)
    assert few["hidden"] == [[0.0] * len(levels)] * len(batches.names)
    assert (few["least"], few["counts"]) == (LEAST_SUPPORT, NO_MATTER * QUALITIES["working"].precision)


def test_meters_and_spots_report_both_parts_of_their_errors(desk):
    """The error next to a meter is of paths and bands together, and both are reported."""
    result = json.loads(ask(desk, "meters.json", option="early"))
    assert result["names"]
    lamps = len(result["lamps"])
    assert np.shape(result["spread"]) == (len(result["names"]), lamps, lamps)
    # A variance is never negative, and bands leave no light off by more than there is of it.
    assert np.all(np.diagonal(result["spread"], axis1=1, axis2=2) >= 0)
    light = np.array(result["xyz"])[..., 1].sum(axis=2)
    assert np.all((np.array(result["bands"]) >= 0) & (np.array(result["bands"]) <= 0.05 * light))
    spot = json.loads(ask(desk, "spot.json", option="early", camera="A", x=0.5, y=0.5))
    found = [(part["bands"], part["xyz"][1]) for part in spot["parts"] if part["xyz"][1] > 0]
    assert all(bands <= 0.05 * light for bands, light in found)
    # The picture has strong colours in it, the meters were made for even bands.
    assert max(bands for bands, _ in found) > 0


@pytest.mark.parametrize(("x", "y"), [(0.5, 0.5), (0.3, 0.7), (0.0, 1.0)])
def test_a_spot_is_a_disc_of_the_picture(desk, x, y):
    """As many pixels as an area of pi r² has, a quarter of it in a corner, and the light of those alone."""
    spot = json.loads(ask(desk, "spot.json", option="early", camera="A", x=x, y=y))
    frames = answers.shot(desk, {"option": "early", "camera": "A"}).found.frames
    rows, columns = frames.shape
    radius = spot["width"] / 2 * columns
    row, column = np.mgrid[:rows, :columns]
    seen = np.hypot(row - y * (rows - 1), column - x * (columns - 1)) <= radius
    assert spot["pixels"] == seen.sum()
    means = [np.asarray(frames.slices[k])[:, seen].mean(axis=1) for k in range(len(frames.lights))]
    stage = answers.shot(desk, {"option": "early", "camera": "A"})
    for part, mean in zip(spot["parts"], means, strict=True):
        lamp = stage.at_full(part["lamp"], fading=True)
        assert part["xyz"] == pytest.approx(list(mean @ lamp_band_xyz(lamp, len(mean))), rel=1e-5)


ASKED = {"scene.json": ({},), "changes.json": ({},), "view.json": ({},), "meters.json": ({"option": "late"},),
         "frames.json": ({"option": "early", "camera": "B"},),
         "spot.json": ({"option": "early", "camera": "A", "x": 0.31, "y": 0.64},)}
PLACES = ("key", "path", "file", "folder", "rendered", "token", "version")
"""Names of values that are another in each folder and version."""


def plain(value):
    """Return an answer without what depends on where and when it is asked."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items() if key not in PLACES}
    return [plain(each) for each in value] if isinstance(value, list) else value


def test_snapshot_answers(desk):
    """The page is answered as it was: every number and word of each, and the light of each lamp."""
    now = {path: snapshot.number([plain(json.loads(ask(desk, path, **query))) for query in queries])
           for path, queries in ASKED.items()}
    for lamp in ("counter", "key", "rim", "sky"):
        _, halves = framed(ask(desk, "slice", option="late", camera="A", lamp=lamp))
        now[f"slice {lamp}"] = snapshot.number(halves.astype(float))
    snapshot.hold("words", "page", now, 1e-4)
    now = {}
    for path in ("still.png", "map.png", "difference.png"):
        than = '{"lamps": {"key": {"level": 0.1}}}'
        small = {"quick": 1} if path == "still.png" else {}
        found = picture(ask(desk, path, option="late", camera="B", than=than, **small))
        # The denoiser's last bits, and with them a level in a few pixels, are another on other processors.
        now[path] = round(float(np.mean(snapshot.weights(found.size) * found.ravel())) / 10, 3)
    snapshot.hold("words", "page's pictures", now, 5e-3)


def test_meters_without_paths_are_left_out(desk, monkeypatch):
    """A meter that has gathered nothing has no reading, and no place among those that have."""
    whole = json.loads(ask(desk, "meters.json", option="early"))
    gathered = desk.meters("early")
    some = gathered.some(range(len(gathered.names)))
    some.paths[1] = 0
    monkeypatch.setattr(type(desk), "meters", lambda *_: some)
    found = json.loads(ask(desk, "meters.json", option="early"))
    assert found["names"] == [name for k, name in enumerate(whole["names"]) if k != 1]
    assert len(found["xyz"]) == len(found["spread"]) == len(found["few"]["parts"]) == len(found["names"])


@pytest.mark.parametrize("every", ["", "1"])
def test_a_hand_out_has_the_cameras_that_are_wanted(desk, every, monkeypatch):
    """The one in view, or all of the option's with that one first."""
    handed = []
    monkeypatch.setattr(answers, "handout_page", lambda desk, option, shots, *_: (
        handed.extend(shot.camera.name for shot in shots), "")[1])
    ask(desk, "handout.html", option="early", camera="B", all_cameras=every)
    assert handed == (["B", "A"] if every else ["B"])


@pytest.mark.parametrize(("path", "query", "why"), [
    ("slice", {"lamp": "no such"}, "the frames know no lamp 'no such'"),
    ("slice", {}, "the question lacks 'lamp'"),
    ("settled", {"option": "no such"}, "the scene has no option 'no such'"),
    ("settled", {"camera": "Z"}, "the option has no camera 'Z'"),
    ("spot.json", {"x": "2", "y": "0"}, "'x' lies from 0 to 1"),
    ("spot.json", {"x": "nan", "y": "0"}, "'x' lies from 0 to 1"),
    ("frames.json", {"stop": "wide"}, "'stop' is a T-stop"),
    ("settled", {"look": "{"}, "the look is not JSON"),
    ("settled", {"look": "[" * 100_000}, "the look is not JSON"),
    ("settled", {"look": '{"lamps": 3}'}, "'lamps' of the look is not a group of values"),
    ("settled", {"look": '{"lamps": {"key": {"level": NaN}}}'}, "level of key lies from 0 to 1"),
    ("frames.json", {"stop": "nan"}, "'stop' is a T-stop"),
    ("frames.json", {"stop": "-2"}, "'stop' is a T-stop"),
    ("frames.json", {"stop": "0"}, "'stop' is a T-stop"),
    ("frames.json", {"stop": "inf"}, "'stop' is a T-stop"),
    ("settled", {"look": "[]"}, "is not a group of values"),
    ("settled", {"look": '{"lamps": {"key": {"level": 1.5}}}'}, "level of key lies from 0 to 1"),
    ("settled", {"look": '{"lamps": {"key": {"level": 1' + 400 * "0" + "}}}"}, "level of key lies from"),
    ("settled", {"look": '{"lamps": {"key": {"level": true}}}'}, "level of key lies from 0 to 1"),
    ("settled", {"look": '{"lamps": {"key": {"size": 1}}}'}, "a lamp has no 'size'"),
    ("settled", {"look": '{"lamps": {"key": {"gel": ["rose"]}}}'}, "there is no gel 'rose'"),
    ("settled", {"look": '{"lamps": {"key": {"gel": [{"sheet": 4}]}}}'}, "has no sheet 4"),
    ("settled", {"look": '{"lamps": {"sky": {"gel": []}}}'}, "the sky takes no gel"),
    ("settled", {"look": '{"lamps": {"moon": {"on": true}}}'}, "the option has no lamp 'moon'"),
    ("settled", {"look": '{"cameras": {"A": {"at": 3}}}'}, "a camera has no 'at'"),
    ("settled", {"look": '{"cameras": {"A": {"shutter": 0}}}'}, "lies from 0.1 to 360"),
    ("settled", {"look": '{"cameras": {"A": {"iso": 1e99}}}'}, "iso of camera A lies from 1"),
])
def test_what_makes_no_sense_is_refused_in_words(desk, path, query, why):
    """Every question that cannot be answered says why."""
    with pytest.raises(PrevizError, match=why):
        ask(desk, path, **query)


def test_before_the_draft_it_says_to_wait(desk):
    """A camera at a stop that nothing is rendered for falls back to what there is, or says so."""
    found = desk.find("early", "A", 5.6)
    assert found.picture == Picture("early", "A", 2.8, "working")
    result = json.loads(ask(desk, "frames.json", option="early", camera="A", stop=5.6))
    assert result["stop"] == 2.8
    assert result["cautions"][0].startswith("Planning aid only.")
    # Each is there in short, with its source, for the line at the foot of the page.
    assert any(each.startswith("Mains: ") and each.endswith("(NEC 210.20(A)).") for each in result["briefs"])
    assert len(result["cautions"]) > len(result["briefs"])


def test_changes_are_on_disk_at_once(desk):
    """What `change` has returned from is read by the next desk; None takes a change back."""
    desk.change({"early|lamp|key": {"level": 0.5}, "pin": {"option": "early"}})
    desk.change({"pin": None})
    again = type(desk)(desk.request)
    assert again.changes == {"early|lamp|key": {"level": 0.5}}
    with pytest.raises(DataError, match="too many changes"):
        desk.change({f"early|lamp|{n}": {"on": True} for n in range(5000)})
    assert type(desk)(desk.request).changes == again.changes


def test_spoilt_changes_do_not_stop_the_page(desk):
    """A torn file of changes is left aside."""
    desk.change({"early|lamp|key": {"level": 0.5}})
    path = desk.folder / "changes.json"
    path.write_text(path.read_text(encoding="utf-8")[:-30], encoding="utf-8")
    assert type(desk)(desk.request).changes == {}


def test_a_look_keeps_frames_where_they_are(desk):
    """Levels and colours ask for the same frames; a stop for frames of its own."""
    job, camera = desk.job(Picture("early", "A", 2.8, "working"))
    late, _ = desk.job(Picture("late", "A", 2.8, "working"))
    _, closed = desk.job(Picture("early", "A", 4.0, "working"))
    assert job.frame_folder(camera) == late.frame_folder(camera)
    assert job.frame_folder(camera) != job.frame_folder(closed)
    assert closed.stop == 4.0


def test_a_scene_without_options(furnish, tmp_path):
    """A scene as it is written is an option without a name, and a look of it can be saved."""
    text = SCENE_WITHOUT_OPTIONS
    desk = furnish(tmp_path, text)
    assert desk.options == ("",)
    assert picture(ask(desk, "still.png")).shape == (90, 160, 3)
    save_look(desk, {"name": "low", "option": "", "where": "scene",
                     "look": {"lamps": {"key": {"level": 0.25}}}})
    assert desk.path.read_text(encoding="utf-8") == (
        text + "\noptions:\n  low:\n    lights:\n      key: {dimmer: 25 %}\n")


def test_the_moon_is_dimmed_once_and_as_far_as_the_sky(furnish, tmp_path):
    """What a lamp gives at full level does not depend on its level, the moon's neither."""
    desk = furnish(tmp_path, MOONLIT)
    lamps = {lamp["name"]: lamp for lamp in json.loads(ask(desk, "scene.json"))["options"][0]["lamps"]}
    assert lamps["moon"]["sort"] == "moon" and lamps["moon"]["most"] == lamps["sky"]["most"]
    for level in (0.25, lamps["moon"]["most"]):
        look = json.dumps({"lamps": {name: {"level": level} for name in ("moon", "sky")}})
        plain, dimmed = (json.loads(ask(desk, "meters.json", look=each)) for each in ("", look))
        np.testing.assert_allclose(dimmed["xyz"], plain["xyz"], rtol=1e-6)


MOONLIT = """\
previz: 1
room: {size: [4 m, 3 m, 2.5 m]}
daylight: {sky: clear, moon: {azimuth: 150 deg, altitude: 35 deg}}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: [2 m, 2 m, 1 m], lens: 24 mm, stop: T1.4, iso: 3200}
meters:
  - {name: sill, at: [2 m, 1.5 m, 0.8 m]}
"""

SCENE_WITHOUT_OPTIONS = """\
previz: 1
room: {size: [4 m, 3 m, 2.5 m]}
lights:
  - {name: key, kind: panel, at: [3 m, 0.5 m, 2 m], aim: [2 m, 2 m, 1 m], size: [1 m, 1 m], output: 4000 lm}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: [2 m, 2 m, 1 m], lens: 24 mm, stop: T2.8, iso: 800}
"""


def test_options_without_a_camera_are_left_out(folder):
    """An option that takes a camera out is not offered for it; without any it says so."""
    path = folder / "canteen.yaml"
    text = path.read_text(encoding="utf-8") + "  empty: {remove: [A, B]}\n"
    path.write_text(text, encoding="utf-8")
    desk_of = get(folder, "scene.json")
    assert [each["name"] for each in json.loads(desk_of)["options"]] == ["early", "late"]
    result = CliRunner().invoke(previz, ["page", str(path), "--option", "empty", "--get", "scene.json"])
    assert result.exit_code == 2
    assert "The scene has no camera" in result.output


def test_a_bad_scene_is_reported_with_its_places(folder):
    """A scene that cannot be read opens no page; the command says where and what."""
    path = folder / "canteen.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("4000 lm", "4000"), encoding="utf-8")
    result = CliRunner().invoke(previz, ["page", str(path), "--get", "scene.json"])
    assert isinstance(result.exception, SceneError)
    assert f"{path}:16:13: " in str(result.exception)
