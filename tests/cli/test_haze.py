"""`previz haze`: one scene at several densities."""

import click
import pytest
from click.testing import CliRunner
from PIL import Image

from previz.cli.haze import Factors
from previz.cli.main import previz

SCENE = """\
previz: 1
title: Lamp room
room: {size: [4 m, 4 m, 3 m], surfaces: {walls: {reflectance: 0.1}}}
haze: {level: light}
lights:
  - {name: lamp, kind: bulb, at: [2 m, 3 m, 1.5 m], output: 400 lm}
cameras:
  - {name: A, at: [2 m, 0.5 m, 1.5 m], aim: lamp, lens: 25 mm, stop: T2.8, iso: 800}
options:
  clear: {haze: none}
"""


@pytest.fixture
def scene(tmp_path):
    file = tmp_path / "room.yaml"
    file.write_text(SCENE, encoding="utf-8")
    return file


def run(*words):
    return CliRunner().invoke(previz, ["haze", *map(str, words)], standalone_mode=False)


def test_factors():
    """Fractions and numbers, sorted; what is no ladder is refused in words."""
    assert Factors().convert("2, 1/2,0 ,1", None, None) == (0.0, 0.5, 1.0, 2.0)
    for wrong in ("", "-1", "1/0", "thick", "1,2,3,4,5,6,7,8,9", "101"):
        with pytest.raises(click.BadParameter, match="no ladder of densities"):
            Factors().convert(wrong, None, None)


def test_a_scene_without_haze_is_told_what_to_write(scene):
    """An option without haze ends in words."""
    done = run(scene, "--option", "clear")
    assert isinstance(done.exception, click.UsageError)
    assert "add for example 'haze: {level: light}'" in str(done.exception)


@pytest.mark.engine
def test_the_ladder(scene, tmp_path):
    """Up to twice from one render, four times anew; both are said; a second run renders nothing."""
    words = (scene, "--densities", "0,1,4", "--size", "32x18", "--samples", "8", "--out", tmp_path)
    done = run(*words)
    assert done.exception is None, done.output
    assert "Rendered anew: 4 ×. More than 2 × the density rendered" in done.stderr
    assert "1 ×. Every path was weighed anew" in done.stderr
    sheet = tmp_path / "haze-A.png"
    with Image.open(sheet) as picture:
        assert picture.width == 2400
    assert (tmp_path / "haze-A.pdf").exists()
    kept = {file: file.stat().st_mtime_ns for file in (tmp_path / "frames").glob("haze-*.npz")}
    assert len(kept) >= 2
    assert run(*words).exception is None
    assert {f: f.stat().st_mtime_ns for f in (tmp_path / "frames").glob("haze-*.npz")} == kept
    # A torn file is rendered anew.
    next(iter(kept)).write_bytes(b"torn")
    assert run(*words).exception is None
