"""`previz block`: which files it writes, under which names, and what it does without GL."""

import re

import numpy as np
import pytest
from click.testing import CliRunner
from delivered import read_words
from PIL import Image

from previz.cli import block
from previz.cli.block import command, drawing_size, file_stems
from previz.cli.block_beside import Beside
from previz.cli.main import main
from previz.deliver.blocking import hits as blocking_hits
from previz.deliver.blocking.hits import NoGraphicsError
from previz.stage.mesh_files import read_parts

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
        yield

    monkeypatch.setattr(Beside, "look", refuse)


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
        blocking_hits.GlEye().close()
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


def test_a_driver_that_crashes_leaves_the_drawings_to_the_engine(scene, tmp_path, monkeypatch):
    """The process that draws may die at any view; the rest are found by the engine."""
    answer, answers, engine = Beside._answer, [], []

    def killed(self):
        # The first answer is that of the files; the third, of "B 2", is larger than the pipe.
        answers.append(None)
        if len(answers) == 3:
            self._process.kill()
        return answer(self)

    def hits(stage, camera, width, height, backend):
        engine.append(camera.name)
        return blocking_hits.FirstHits(np.full((height, width), np.inf, np.float32),
                                       np.full((height, width), -1, np.int32),
                                       blocking_hits.hit_names(stage))

    try:
        blocking_hits.GlEye().close()
    except NoGraphicsError as error:
        pytest.skip(f"no GL here: {error}")
    monkeypatch.setattr(Beside, "_answer", killed)
    monkeypatch.setattr(block, "engine_first_hits", hits)
    done = run(scene, "--size", "320x180", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert "No GL here (the process that draws ended with -9); the engine" in done.stderr
    assert engine[-2:] == ["B 2", "above"] and len(list(tmp_path.glob("block-*.png"))) == 3


def test_mesh_files_are_read_beside(tmp_path, monkeypatch):
    """Files read ahead are what the reader gives, and a broken one is told by the reader itself.

    A file in the folder that has a library's name is not run.
    """
    import trimesh

    (tmp_path / "trimesh.py").write_text("raise SystemExit")
    monkeypatch.chdir(tmp_path)
    trimesh.creation.box((1, 2, 3)).export(tmp_path / "crate.ply")
    (tmp_path / "torn.ply").write_bytes(b"ply\nformat ascii 1.0\nelement vertex 9\n")
    paths = [str(tmp_path / name) for name in ("crate.ply", "torn.ply")]
    with Beside((320, 180)) as beside:
        beside.read_ahead(paths)
        (crate,) = beside.read_parts(paths[0])
        (wanted,) = read_parts(paths[0])
        assert paths[0] in beside._files and paths[1] not in beside._files
        np.testing.assert_array_equal(crate.vertices, wanted.vertices)
        np.testing.assert_array_equal(crate.faces, wanted.faces)
        with pytest.raises(Exception) as told:
            beside.read_parts(paths[1])
        with pytest.raises(type(told.value), match=re.escape(str(told.value))):
            read_parts(paths[1])


def test_gl_asked_for_and_not_there_is_an_error(scene, tmp_path, no_gl, capsys):
    """`--shapes gl` without GL ends with 2 and in words, and nothing is written."""
    with pytest.raises(SystemExit) as stop:
        main(["block", str(scene), "--shapes", "gl", "--out", str(tmp_path / "out")])
    assert stop.value.code == 2
    told = capsys.readouterr().err
    assert "There is no GL to draw with here (no device)." in told and "Traceback" not in told
    assert not (tmp_path / "out").exists()


def test_an_option_is_named_in_file_and_picture(scene, tmp_path, monkeypatch):
    """An option's files carry its name; it is drawn with its own changes."""
    seen = {}

    def look(stage, camera, width, height, backend):
        seen[camera.name] = [mesh.name for mesh in stage.meshes]
        return blocking_hits.FirstHits(np.full((height, width), np.inf, np.float32),
                                       np.full((height, width), -1, np.int32),
                                       blocking_hits.hit_names(stage))

    monkeypatch.setattr(block, "engine_first_hits", look)
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
def test_what_is_not_there_is_told(scene, tmp_path, capsys, arguments, message):
    """A camera or option that the scene lacks, or a size that cannot be read, ends with 2."""
    with pytest.raises(SystemExit) as stop:
        main(["block", str(scene), "--out", str(tmp_path / "out"), *arguments])
    assert stop.value.code == 2
    told = " ".join(capsys.readouterr().err.split())
    assert message in told
    assert not (tmp_path / "out").exists()


def test_a_bad_scene_is_told_with_its_place(scene, tmp_path, capsys):
    """A scene with a fault ends with 2, with file, line and column, and overwrites nothing."""
    scene.write_text(SCENE.replace("kind: panel", "kind: pannel"), encoding="utf-8")
    out = tmp_path / "out"
    out.mkdir()
    (out / "block-A.png").write_bytes(b"kept")
    with pytest.raises(SystemExit) as stop:
        main(["block", str(scene), "--out", str(out)])
    assert stop.value.code == 2
    told = capsys.readouterr().err
    # The lamp is on line 7 of the text above.
    assert f"{scene}:7:" in told and "pannel" in told and "Traceback" not in told
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
    assert file_stems(drawings) == stems


@pytest.mark.parametrize(("size", "expected"), [((960, None), (960, 540)), ((800, 600), (800, 600)),
                                                ((1000, None), (1000, 562))])
def test_a_width_alone_is_16_to_9(size, expected):
    """A drawing is 16:9 where its height is left out: 1000 · 9 / 16 = 562.5, to the even pixel."""
    assert drawing_size(size) == expected
