"""Files and colours that cannot be: `previz check` and a build report all of them at once."""

import subprocess
import sys

import pytest
from click.testing import CliRunner

from previz.cli.check import command
from previz.errors import SceneError
from previz.scene.read import load
from previz.stage.build import build_stage

TEXT = """\
previz: 1
pieces: [{name: crate, shape: box, at: [1 m, 1 m], size: [1 m, 1 m, 1 m], surface: {texture: p.png}},
  {name: seat, shape: box, at: [3 m, 1 m], size: [1 m, 1 m, 1 m], surface: {file: s.csv}}]
lights:
  - {name: a, kind: bulb, at: [0 m, 0 m, 2 m], photometry: a.ies}
  - {name: b, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, spectrum: {file: b.csv}}
  - {name: c, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, gel: [half cto, {file: c.csv}]}
  - {name: d, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, spectrum: multi-emitter led, duv: 0.05,
     cct: 1700 K}
  - {name: e, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, gel: {mired: 130 mired, transmission: 99 %}}
options:
  more: {lights: {a: {photometry: f.ies}}}
"""
REPORTED = {(2, "the picture 'p.png' cannot be read"), (3, "the measured reflectance 's.csv'"),
        (5, "the photometric file 'a.ies'"),
        (6, "the spectrum 'b.csv'"), (7, "the gel 'c.csv'"), (8, "a lamp of 6 colours does not"),
        (10, "no gel shifts +130 mired")}


@pytest.fixture
def scene(tmp_path, monkeypatch):
    """A scene of which every file is broken."""
    monkeypatch.chdir(tmp_path)
    for name in ("a.ies", "b.csv", "c.csv", "p.png", "f.ies", "s.csv"):
        (tmp_path / name).write_text("no measurement\n")
    path = tmp_path / "scene.yaml"
    path.write_text(TEXT)
    return path


def places(problems):
    """The line of each problem and the words of `REPORTED` that it has."""
    return {(p.line, words) for p in problems for line, words in REPORTED
            if line == p.line and words in p.message}


def test_a_build_reports_every_broken_file(scene):
    """It stops at the first and then checks all the others."""
    with pytest.raises(SceneError) as caught:
        build_stage(load(scene).scene())
    assert places(caught.value.problems) == REPORTED
    assert len(caught.value.problems) == len(REPORTED)


def test_check_reports_every_broken_file_of_every_option(scene):
    """An option's own file too, at its own place, and each once."""
    with pytest.raises(SceneError) as caught:
        CliRunner().invoke(command, [str(scene)], catch_exceptions=False)
    assert places(caught.value.problems) == REPORTED
    assert len(caught.value.problems) == len(REPORTED) + 1
    assert any(p.line == 12 and "'f.ies'" in p.message for p in caught.value.problems)


def test_a_plain_scene_is_checked_without_numbers(tmp_path):
    """A scene that names no files costs a check no heavy import."""
    path = tmp_path / "scene.yaml"
    path.write_text("previz: 1\nlights: [{name: a, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, "
                    "gel: full ctb}]\n")
    code = ("import sys; from click.testing import CliRunner; from previz.cli.check import command; "
            f"print(CliRunner().invoke(command, [{str(path)!r}]).exit_code, 'numpy' in sys.modules)")
    reported = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert reported.stdout.split() == ["0", "False"]
