"""Files and colours that cannot be: `previz check` and a build report all of them at once."""

import subprocess
import sys

import pytest
from click.testing import CliRunner

from previz.cli.check import command
from previz.errors import SceneError
from previz.scene.read import load
from previz.stage import named_files, rehearsal
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


ROOMLESS = """\
previz: 1
pieces: [{name: crate, shape: box, at: [2 m, 5 m], size: [1 m, 1 m, 1 m]}]
"""
LAMP = "lights: [{{name: key, kind: {}, at: [2 m, 3 m, 2 m], aim: crate, output: {}}}]\n"

ONLY_BUILT = {
    "shut": (LAMP.format("ellipsoidal", "9 klm, iris: 10 %, shutters: {left: 60 %}"), "let nothing through"),
    "frosted": ("boards: []\n", "is frosted glass in a closed body"),
    "from within the lens": (LAMP.format("parallel beam", "1 lx at 1 cm"),
                             "no light in the middle of its beam"),
}


@pytest.mark.parametrize("name", ONLY_BUILT)
def test_check_says_what_a_build_refuses(tmp_path, name):
    """Shutters that are shut, frosted bodies, meters within a lens: told by both."""
    text, words = ONLY_BUILT[name]
    path = tmp_path / "scene.yaml"
    glass = ", surface: {name: glass, roughness: 0.5}}" if name == "frosted" else "}"
    path.write_text(ROOMLESS.replace("1 m]}", "1 m]" + glass) + text)
    scene = load(path).scene()
    told = (*named_files.faults(scene), *rehearsal.faults(scene))
    with pytest.raises(SceneError) as caught:
        build_stage(scene)
    assert told == caught.value.problems
    assert [words in each.message and each.line > 0 for each in told] == [True]


def test_check_builds_where_a_camera_is_at_the_eyes_that_it_is_aimed_at(tmp_path):
    """Only a body's own build knows where they are; a metre away nothing is built."""
    path = tmp_path / "scene.yaml"
    text = ("previz: 1\nfigures: [{{name: clerk, at: [2 m, 2 m], facing: 0 deg}}]\ncameras: [{{name: A, "
            "at: [{0!r} m, {1!r} m, {2!r} m], aim: clerk.eyes, lens: 35 mm, stop: T2, iso: 800}}]\n")
    path.write_text(text.format(4.0, 2.0, 1.6))
    away = load(path).scene()
    assert not rehearsal.faults(away)
    assert not rehearsal.in_doubt(away)
    path.write_text(text.format(*build_stage(away).places["clerk.eyes"].tolist()))
    problem, = rehearsal.faults(load(path).scene())
    assert "is turned to its own place" in problem.message


LAMP_FILES = {
    "empty": (b" \n", "the file is empty"),
    "bytes": (b"IESNA86\0\1\2", "it is no text file"),
    "wide": ("TILT=NONE\n1 1 1 x".encode("utf-16"), "line 2: 'x' is not a number"),
    "dark": (b"TILT=NONE\n1 1 1 2 1 1 2 0 0 0 1 1 1 0 90 0 0 0", "all of its intensities are 0"),
    "bright": (b"TILT=NONE\n1 1 1e12 2 1 1 2 0 0 0 1 1 1 0 90 0 1 1", "lm in all"),
    "large": (b"TILT=NONE\n1 1 1e300 2 1 1 2 0 0 0 1 1 1 0 90 0 1 1", "'1e300' is too large a number"),
    "power": (b"TILT=NONE\n1 1 1 2 1 1 2 0 0 0 1 1 1e9 0 90 0 1 1", "draws 1e+09 W"),
    "many": (b"TILT=NONE\n1 1 1 9999 9999 1 2 0 0 0 1 1 1 "
             + 2 * b"".join(b"%.4f " % (i / 60) for i in range(9999)) + b"7",
             "99980001 in all, and 1 numbers follow"),
    "tilted": (b"TILT=INCLUDE\n1 2 0 90 1 -1\n", "a factor for a tilt is -1"),
    "twice": (b"TILT=NONE\n1 1 1 2 1 1 2 0 0 0 1 1 1 0 1e-9 0 1 1", "a vertical angle should rise"),
    "digits": ("TILT=NONE\n1 1 1 \u0662".encode(), "'\u0662' is not a number"),
}  # fmt: skip


@pytest.mark.parametrize("name", LAMP_FILES)
def test_a_measured_lamp_is_refused_in_our_words(tmp_path, name):
    """Whatever is in a photometric file, the scene's place of it is told, and the file's own line."""
    data, words = LAMP_FILES[name]
    (tmp_path / "a.ies").write_bytes(data)
    path = tmp_path / "scene.yaml"
    path.write_text("previz: 1\n"
                    "lights: [{name: a, kind: bulb, at: [0 m, 0 m, 2 m], photometry: a.ies}]\n")
    problem, = named_files.faults(load(path).scene())
    assert (problem.line, problem.column) == (2, 65)
    assert words in problem.message
    assert len(problem.message) < 200
