"""Commands say a scene's cautions on standard error; `check --cautions` every word of them."""

import pytest
from click.testing import CliRunner

from previz.cli.main import previz
from previz.cli.options import print_cautions
from previz.scene.read import load
from previz.stage.build import build_stage

SCENE = """previz: 1
lights:
  - {name: key, kind: fresnel, at: [0 m, 0 m, 2.4 m], aim: [0 m, 3 m, 1 m], output: 4000 lm, watts: 650 W}
flags:
  - {name: cutter, size: [1 m, 0.5 m], before: key, distance: 0.6 m}
options:
  lit: {}
  dark: {lights: {key: {on: no}}}
"""
QUIET = SCENE[:SCENE.index("flags")].replace("2.4 m", "1.4 m").replace("watts: 650 W", "on: no")


@pytest.fixture
def scene(tmp_path, monkeypatch):
    """A scene with a hot lamp over a flag, and without in one option."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "yard.yaml").write_text(SCENE, encoding="utf-8")
    return tmp_path / "yard.yaml"


def test_check_says_every_caution_in_full(scene):
    """All options together, the most urgent first, each with its source; without the option none."""
    done = CliRunner().invoke(previz, ["check", "yard.yaml", "--cautions"])
    assert done.exit_code == 0 and done.stdout.startswith("yard.yaml: good")
    head, *lines = done.stderr.splitlines()
    assert head == "Cautions, a planning aid only. Local codes and licensed people decide."
    assert lines[0].startswith("  Heat: key is 0.6 m from cutter.") and lines[0].count("Source: ") == 1
    assert any(line.startswith("  Mains: 650 W, 2.8 A at 230 V;") for line in lines)
    assert all("Source: " in line for line in lines)
    assert CliRunner().invoke(previz, ["check", "yard.yaml"]).stderr == ""


def test_a_scene_that_calls_for_none_says_none(scene):
    """A dark lamp within reach: not even a head."""
    scene.write_text(QUIET, encoding="utf-8")
    done = CliRunner().invoke(previz, ["check", "yard.yaml", "--cautions"])
    assert (done.exit_code, done.stderr) == (0, "")


def test_other_commands_say_them_short(scene, capsys):
    """One line a sort, with its source, and what says the whole."""
    print_cautions(build_stage(load(scene).scene("lit")).reminders)
    out, told = capsys.readouterr()
    head, *lines = told.splitlines()
    assert out == "" and head.endswith("The whole text: `previz check --cautions`.")
    assert [line.split(":")[0].strip() for line in lines] == [
        "Heat", "Overhead", "Bright", "Work at height, to 2.4 m", "Stands", "Mains"]
    assert all(line.endswith(").") for line in lines)
