"""`previz block`: which files it writes, under which names, and what it does without GL."""

import csv
import io
import json
import math

import numpy as np
import pytest
from click.testing import CliRunner
from delivered import read_words
from PIL import Image

from previz.cli.block import command
from previz.cli.main import main
from previz.deliver.blocking.gl import GlContext, NoGraphicsError
from previz.deliver.blocking.views import FirstHits, hit_names
from previz.errors import RequestError
from previz.rendering.progress import Progress
from previz.scene.read import load
from previz.studies import block
from previz.studies.block import drawing_size, drawing_stems
from tests.sheet_numbers import drawing, missing, needed

SCENE = """\
previz: 1
title: Canteen, early
room: {size: [5 m, 4 m, 2.8 m]}
pieces:
  - {name: counter, shape: box, at: [2.5 m, 3.4 m], size: [2 m, 0.6 m, 1 m]}
lights:
  - {name: key, kind: panel, at: [0.6 m, 0.6 m, 2.2 m], aim: counter, size: [0.6 m, 0.6 m],
     output: 4000 lm}
boards:
  - {name: card, at: [4.4 m, 2.6 m, 1.4 m], facing: counter, size: [1 m, 1 m]}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.5 m], aim: counter, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B 2, at: [4.6 m, 0.5 m, 1.5 m], aim: counter, lens: 50 mm, stop: T2.8, iso: 800}
options:
  without card: {remove: [card]}
"""


@pytest.fixture
def scene(tmp_path):
    path = tmp_path / "canteen.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return path


@pytest.fixture
def no_gl(monkeypatch):
    """Take GL away, as on a machine that has none."""
    def refuse(*_):
        raise NoGraphicsError("no device")

    monkeypatch.setattr(GlContext, "__init__", refuse)


def run(*arguments):
    return CliRunner().invoke(command, [str(each) for each in arguments])


@pytest.mark.engine
def test_every_camera_and_the_view_from_above_are_written(scene, tmp_path):
    """Each camera has its file, the view from above has one, and each says what it is."""
    out = tmp_path / "out"
    done = run(scene, "--size", "320x180", "--out", out)
    assert done.exit_code == 0, done.output
    names = ["block-A.png", "block-B-2.png", "block-above.png"]
    assert sorted(path.name for path in out.iterdir()) == names
    assert done.stdout.splitlines() == [str(out / name) for name in names]
    for name in names:
        with Image.open(out / name) as picture:
            assert picture.size == (320, 180)
            assert np.asarray(picture).std() > 10
    assert read_words(out / "block-B-2.png")["Description"] == "Blocking. Camera B 2"
    assert read_words(out / "block-above.png")["Title"] == "Canteen, early"


@pytest.mark.engine
def test_without_gl_the_engine_finds_the_same_shapes(scene, tmp_path, no_gl):
    """Where there is no GL the drawings come from the engine, and that is said."""
    done = run(scene, "--size", "320", "--out", tmp_path / "engine", "--camera", "A")
    assert done.exit_code == 0, done.output
    assert "No GL here (no device); the engine finds the shapes." in done.stderr
    assert sorted(p.name for p in (tmp_path / "engine").iterdir()) == ["block-A.png",
                                                                      "block-above.png"]


@pytest.mark.engine
def test_gl_and_the_engine_draw_the_same_picture(scene, tmp_path):
    """A drawing hardly depends on what found its shapes: a pixel here and there on an outline."""
    try:
        GlContext().close()
    except NoGraphicsError as error:
        pytest.skip(f"no GL here: {error}")
    for shapes in ("gl", "engine"):
        done = run(scene, "--size", "480x270", "--out", tmp_path / shapes, "--shapes", shapes)
        assert done.exit_code == 0, done.output
    for name in ("block-A.png", "block-B-2.png", "block-above.png"):
        a, b = (np.asarray(Image.open(tmp_path / shapes / name)).astype(int)
                for shapes in ("gl", "engine"))
        # An outline may fall half a pixel to either side; whole faces may not differ.
        assert np.mean(np.abs(a - b).max(axis=2) > 12) < 0.02, name


def all_air(stage, camera, width, height, *_):
    """Hits of a set in which nothing is met."""
    return FirstHits(np.full((height, width), np.inf, np.float32),
                     np.full((height, width), -1, np.int32), hit_names(stage))


def test_gl_that_fails_leaves_the_rest_to_the_engine(scene, monkeypatch):
    """GL may fail at any view; that one and those after it are found by the engine, and it is said."""
    by_gl, by_engine, said = [], [], []

    class Failing:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def first_hits(self, stage, camera, *size):
            if by_gl:
                raise NoGraphicsError("out of memory")
            by_gl.append(camera.name)
            return all_air(stage, camera, *size)

    def engine(stage, camera, *size):
        by_engine.append(camera.name)
        return all_air(stage, camera, *size)

    monkeypatch.setattr(block, "GlContext", Failing)
    monkeypatch.setattr(block, "engine_first_hits", engine)
    found = block.block(load(scene), size=(320, 180), progress=Progress(message=said.append))
    assert (by_gl, by_engine) == (["A"], ["B 2", "above"])
    assert [drawing.view.name for _, drawing in found.drawings] == ["A", "B 2", "above"]
    assert said == ["No GL here (out of memory); the engine finds the shapes."]


def test_gl_requested_and_not_there_is_an_error(scene, tmp_path, no_gl, capsys):
    """`--shapes gl` without GL ends with 2 and in words, and nothing is written."""
    with pytest.raises(SystemExit) as stop:
        main(["block", str(scene), "--shapes", "gl", "--out", str(tmp_path / "out")])
    assert stop.value.code == 2
    result = capsys.readouterr().err
    assert "There is no GL to draw with here (no device)." in result and "Traceback" not in result
    assert not (tmp_path / "out").exists()


def test_an_option_is_named_in_file_and_picture(scene, tmp_path, monkeypatch):
    """An option's files carry its name; it is drawn with its own changes."""
    seen = {}

    def hits(stage, camera, *size):
        seen[camera.name] = [mesh.name for mesh in stage.meshes]
        return all_air(stage, camera, *size)

    monkeypatch.setattr(block, "engine_first_hits", hits)
    done = run(scene, "--option", "without card", "--camera", "A", "--shapes", "engine",
               "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "block-without-card-A.png", "block-without-card-above.png"]
    assert "card" not in seen["A"] and "ceiling" in seen["A"] and "ceiling" not in seen["above"]
    words = read_words(tmp_path / "out" / "block-without-card-A.png")
    assert words["Description"] == "Blocking. Camera A, without card"


@pytest.mark.parametrize(("arguments", "message"), [
    (["--camera", "B 1"], "The scene has no camera 'B 1'. Did you mean 'B 2'? It has: 'A', 'B 2'."),
    (["--option", "without cart"], "The scene has no option 'without cart'. Did you mean "
                                   "'without card'? It has: 'without card'."),
    (["--size", "200x100"], "200x100 is too small to read; write 320x180 or more."),
])
def test_what_is_not_there_is_reported(scene, tmp_path, capsys, arguments, message):
    """A camera or option that the scene lacks, or a size that cannot be read, ends with 2."""
    with pytest.raises(SystemExit) as stop:
        main(["block", str(scene), "--out", str(tmp_path / "out"), *arguments])
    assert stop.value.code == 2
    result = " ".join(capsys.readouterr().err.split())
    assert message in result
    assert not (tmp_path / "out").exists()


def test_a_bad_scene_is_reported_with_its_place(scene, tmp_path, capsys):
    """A scene with a fault ends with 2, with file, line and column, and overwrites nothing."""
    scene.write_text(SCENE.replace("kind: panel", "kind: pannel"), encoding="utf-8")
    out = tmp_path / "out"
    out.mkdir()
    (out / "block-A.png").write_bytes(b"kept")
    with pytest.raises(SystemExit) as stop:
        main(["block", str(scene), "--out", str(out)])
    assert stop.value.code == 2
    result = capsys.readouterr().err
    # The lamp is on line 7 of the text above.
    assert f"{scene}:7:" in result and "pannel" in result and "Traceback" not in result
    assert [path.name for path in out.iterdir()] == ["block-A.png"]
    assert (out / "block-A.png").read_bytes() == b"kept"


@pytest.mark.parametrize(("drawings", "stems"), [
    ([("", "A"), ("", None)], ["block-A", "block-above"]),
    ([("", "above"), ("", None)], ["block-above-2", "block-above"]),
    ([("", "cam 1"), ("", "cam-1"), ("", "CAM 1")],
     ["block-cam-1", "block-cam-1-2", "block-CAM-1-3"]),
    ([("a", "b c"), ("a b", "c"), ("a", None), ("a b", None)],
     ["block-a-b-c", "block-a-b-c-2", "block-a-above", "block-a-b-above"]),
    ([("", "kran's é/..")], ["block-kran-s-é---"]),
])
def test_no_two_drawings_share_a_file(drawings, stems):
    """File names are plain, and differ in more than their case."""
    assert drawing_stems("block", drawings) == stems


@pytest.mark.parametrize(("size", "expected"), [((960, None), (960, 540)), ((800, 600), (800, 600)),
                                                ((1000, None), (1000, 562))])
def test_a_width_alone_is_16_to_9(size, expected):
    """A drawing is 16:9 where its height is left out: 1000 · 9 / 16 = 562.5, to the even pixel."""
    assert drawing_size(size) == expected
    with pytest.raises(RequestError, match="too small"):
        drawing_size((200, None))


def test_what_the_drawings_say_can_be_had_as_rows(scene, tmp_path, monkeypatch):
    """Lenses, fields of view, heights and the scale, as JSON and as CSV; files are named elsewhere."""
    monkeypatch.setattr(block, "engine_first_hits", all_air)
    arguments = (scene, "--shapes", "engine", "--camera", "B 2", "--out", tmp_path / "out")
    done = run(*arguments, "--json")
    assert done.exit_code == 0, done.output
    answer = json.loads(done.stdout)
    assert (answer["study"], answer["title"]) == ("block", "Canteen, early")
    assert str(tmp_path / "out" / "block-above.png") in done.stderr

    def value(quantity, **of):
        (found,) = [each for each in answer["rows"] if each["quantity"] == quantity
                    and all(each[key] == name for key, name in of.items())]
        return found["value"]

    # As the scene has them: the camera's stop, and a lamp at 2.2 m, whose face lies just ahead.
    assert value("camera_stop", camera="B 2") == 2.8
    assert value("lamp_height", lamp="key") == pytest.approx(2.2, abs=0.005)
    # Half the sensor's width over the focal length is the tangent of half the angle: 24.89 mm
    # (the usual sensor of a scene) behind 50 mm.
    assert value("field_across", camera="B 2") == pytest.approx(
        2 * math.degrees(math.atan(24.89 / 2 / 50)), abs=0.01)
    assert value("focal_length", camera="A") == pytest.approx(0.025)
    assert value("lamp_in_frame", camera="B 2", lamp="key") is False
    # 5 m and two walls fill four fifths of 960 px; the scale has 16 % of them at most.
    assert value("plan_scale") == 1
    table = list(csv.DictReader(io.StringIO(run(*arguments, "--csv").stdout)))
    assert [row["quantity"] for row in table] == [row["quantity"] for row in answer["rows"]]


def test_every_number_drawn_is_a_row(scene, monkeypatch):
    """Captions, heights, the sun and the scale: what stands on the drawings stands in the rows."""
    scene.write_text(SCENE + "daylight: {sky: clear, sun: {altitude: 32 deg, azimuth: 200 deg}}\n",
                     encoding="utf-8")
    monkeypatch.setattr(block, "engine_first_hits", all_air)
    with drawing() as texts:
        found = block.block(load(scene), size=(960, 540), shapes="engine")
    assert any("32° high" in text for text in texts) and any("m up" in text for text in texts)
    # A frame is written as its width to one.
    texts = [text.replace(":1 ", " ") for text in texts]
    assert missing(texts, found.rows()) == []
    assert {"focal_length", "field_across", "field_upwards", "frame_aspect", "lamp_height",
            "sky_height"} <= needed(texts, found.rows())


def test_a_lamp_in_frame_is_a_row(scene, monkeypatch):
    """A camera that has the lamp in frame says so, as its drawing does."""
    def lamp_everywhere(stage, camera, width, height, *_):
        names = hit_names(stage)
        return FirstHits(np.full((height, width), 2.0, np.float32),
                         np.full((height, width), names.index("key"), np.int32), names)

    monkeypatch.setattr(block, "engine_first_hits", lamp_everywhere)
    found = block.block(load(scene), size=(320, 180), shapes="engine", cameras=("A",))
    (row,) = [each for each in found.rows() if each["quantity"] == "lamp_in_frame"]
    assert (row["camera"], row["lamp"], row["value"]) == ("A", "key", True)
