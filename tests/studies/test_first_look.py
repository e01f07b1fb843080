"""A first look at a picture: where it lies, what it says of itself, and that it goes again."""

import shutil

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from previz.cli import render as command
from previz.cli.main import previz
from previz.rendering import request as requests
from previz.rendering.request import LOOK, QUALITIES, Request
from previz.scene.read import load
from previz.stage import ahead
from previz.stage.ahead import StageAhead
from previz.stage.build import build_stage
from previz.stage.fingerprint import light_path_hash
from previz.studies.first_look import FirstLook
from previz.studies.render import render
from previz.studies.render_files import RenderFiles
from previz.studies.still_files import StillFiles

SCENE = """\
previz: 1
title: Weigh office
room: {size: [3 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.4}}}
pieces:
  - {name: crate, shape: box, at: [1.5 m, 2 m], size: [0.6 m, 0.6 m, 1 m]}
lights:
  - {name: bulb, kind: bulb, at: [0.6 m, 0.6 m, 2.2 m], output: 1500 lm}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: crate, lens: 25 mm, stop: T2.8, iso: 800}
options:
  day: {}
  dim: {lights: {bulb: {dimmer: 25 %}}}
"""


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """A scene, and a request for which a first look pays."""
    (tmp_path / "yard.yaml").write_text(SCENE)
    monkeypatch.setattr(requests, "WORTH_A_LOOK", 1)
    out = tmp_path / "out"
    return tmp_path / "yard.yaml", out, Request(out / "frames", (96, None), samples=2)


class Ready(StageAhead):
    """A stage that was built here."""

    def __init__(self, path, option):
        self._stage = build_stage(load(path).scene(option))

    ready = True

    def close(self):
        pass

    def stage(self):
        return self._stage


@pytest.fixture
def look(yard):
    path, out, request = yard
    said = []
    made = FirstLook(Ready(path, "day"), StillFiles(load(path), out, request), request, said.append)
    made.said = said
    return made


@pytest.mark.engine
def test_it_lies_where_the_still_will_until_that_is_there(yard, look):
    """As large as the still, with words of its own; what is rendered takes its place and stays."""
    path, out, request = yard
    look.show("day", ())
    still = out / "day-A.png"
    with Image.open(still, formats=["PNG"]) as picture:
        assert picture.size == (96, 54) and "First look, 96 pixels wide" in picture.text["Description"]
        assert np.asarray(picture).mean() > 20
    assert look.said == [f"day, camera A: a first look is in {still}; the picture follows."]
    assert not request.cache.exists()
    files = RenderFiles(load(path), out, request)
    files.deliver(render(load(path), request, options=("day",), shown=files.still), exr=False)
    whole = still.read_bytes()
    look.take_back()
    assert still.read_bytes() == whole != look._written
    look.said.clear()
    again = FirstLook(look.ahead, StillFiles(load(path), out, request), request, look.said.append)
    again.show("day", ())
    assert look.said == [] and still.read_bytes() == whole


@pytest.mark.engine
@pytest.mark.parametrize("before", [None, b"another picture"])
def test_it_goes_again_where_no_picture_follows(yard, look, before):
    """What was there before is there again."""
    still = yard[1] / "day-A.png"
    if before is not None:
        still.parent.mkdir()
        still.write_bytes(before)
    look.show("day", ())
    assert still.read_bytes() not in (None, before)
    look.take_back()
    assert (still.read_bytes() if still.is_file() else None) == before


@pytest.mark.engine
def test_the_command_shows_it_and_takes_it_back(yard, monkeypatch):
    """It is told of before what follows; a render that comes to nothing leaves nothing of it."""
    path, out, _ = yard
    monkeypatch.setattr(command, "stage_ahead", lambda *words: Ready(path, "day"))
    words = ["render", str(path), "--size", "96", "--samples", "2", "--no-exr", "--out", str(out)]
    done = CliRunner().invoke(previz, [*words, "--option", "dya"])
    assert done.exit_code == 2 and "no option 'dya'" in done.output and not list(out.glob("*.png"))
    monkeypatch.setattr(RenderFiles, "deliver", lambda *_, **__: 1 / 0)
    done = CliRunner().invoke(previz, [*words, "--option", "day"])
    assert isinstance(done.exception, ZeroDivisionError) and "a first look is in" in done.output
    # What was rendered by then has taken its place.
    with Image.open(out / "day-A.png", formats=["PNG"]) as picture:
        assert "First look" not in picture.text["Description"]
    monkeypatch.setattr("previz.studies.render.render", lambda *_, **__: 1 / 0)
    (out / "day-A.png").unlink()
    shutil.rmtree(out / "frames")
    done = CliRunner().invoke(previz, [*words, "--option", "day"])
    assert "a first look is in" in done.output and not (out / "day-A.png").exists()


def test_of_what_is_rendered_soon_there_is_none(yard, look, monkeypatch):
    monkeypatch.setattr(requests, "WORTH_A_LOOK", 96 * 54 * 2 + 1)
    look.show("day", ())
    assert look.said == [] and not yard[1].exists()


def test_a_process_of_its_own_builds_the_same_stage(yard, monkeypatch):
    """Of the first option or a named one; without a word where the scene is none."""
    path = yard[0]
    for option, name in ((ahead.FIRST, "day"), ("dim", "dim")):
        made, own = StageAhead(path, option).stage(), build_stage(load(path).scene(name))
        assert light_path_hash(made) == light_path_hash(own)
        assert [lamp.level for lamp in made.lamps] == [lamp.level for lamp in own.lamps]
        for one, other in zip(made.meshes, own.meshes, strict=True):
            assert np.array_equal(one.vertices, other.vertices)
    broken = path.with_name("broken.yaml")
    broken.write_text(SCENE.replace("aim: crate", "aim: crat"))
    assert StageAhead(broken, ahead.FIRST).stage() is None
    waiting = StageAhead(path, ahead.FIRST)
    waiting.close()
    assert waiting.stage() is None


def test_its_quality_is_a_page_s_alone():
    """No command takes it by name; it is a third as wide as the picture, on two paths."""
    assert LOOK not in QUALITIES
    asked = Request(None, (960, None), LOOK)
    assert asked.pixels(16 / 9) == (320, 180) and asked.sampling().samples == 2
    assert Request(None, (960, None)).worth_a_look(16 / 9)
    assert not Request(None, (96, None)).worth_a_look(16 / 9)
