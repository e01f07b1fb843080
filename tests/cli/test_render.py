"""The main job from the command line: a scene file in; stills, maps, EXR, sheet and index out."""

import csv
import io
import json
import os
import subprocess
import sys

import numpy as np
import pytest
import snapshot
from click.testing import CliRunner
from delivered import read_exr
from PIL import Image

from previz import frames
from previz.cli import main as program
from previz.cli.main import main
from previz.deliver.index import read_index
from previz.rendering.cache.limit import kept_in, left_in
from previz.rendering.cache.owned import is_marked
from previz.stage.views import DOME

pytestmark = pytest.mark.engine

SCENE = """\
previz: 1
title: A corner of the yard office
room: {size: [3 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.4}}}
pieces:
  - {name: stand, shape: box, at: [1.4 m, 2 m], size: [0.4 m, 0.4 m, 1.2 m], surface: grey card}
lights:
  - {name: key, kind: fresnel, at: [2.7 m, 0.4 m, 2.2 m], aim: card, output: 3000 lm, spectrum: led}
  - {name: lamp, kind: bulb, at: [0.5 m, 2.4 m, 1.4 m], output: 400 lm}
boards:
  - {name: card, at: [0.4 m, 0.8 m, 1.5 m], facing: stand.top, size: [0.8 m, 0.8 m]}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: stand.centre, lens: 25 mm, stop: T2.8, iso: 800}
meters:
  - {name: on the stand, at: [1.4 m, 2 m, 1.22 m]}
options:
  bounce: {}
  dimmed: {lights: {key: {dimmer: 50 %}}}
  direct: {remove: [card], lights: {key: {aim: stand.top}}}
"""

ENVIRONMENT = {**os.environ, "PYTHONUNBUFFERED": "1"}

# A draft is of half the size; its meters go on for less long.
WORDS = ("render", "office.yaml", "--size", "128x72", "--samples", "8", "--quality", "draft")


def in_own_process(folder, *python):
    """Run Python in a process of its own."""
    return subprocess.run([sys.executable, *python], cwd=folder, text=True, capture_output=True,
                          env=ENVIRONMENT, timeout=240, check=False)


def here(*words):
    """Run the program here, which must end well; a process of its own takes seconds to start."""
    done = CliRunner().invoke(program.previz, words, catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    return done


def refused(capsys, words):
    """Run the program here, which must end with 2 and without a traceback; return what it says."""
    with pytest.raises(SystemExit) as stop:
        main(list(words))
    said = capsys.readouterr().err
    assert stop.value.code == 2, said
    assert "Traceback" not in said
    return said


@pytest.fixture(scope="module")
def rendered(tmp_path_factory):
    """A folder in which the scene has been rendered once."""
    folder = tmp_path_factory.mktemp("render")
    (folder / "office.yaml").write_text(SCENE)
    # As a person does.
    done = in_own_process(folder, "-m", "previz", *WORDS)
    assert done.returncode == 0, done.stderr
    return folder, done


def test_render_writes_everything_it_names(rendered):
    """Each option has a still, a map and an EXR; a sheet compares them; the index lists all."""
    folder, done = rendered
    for line in done.stdout.split():
        assert (folder / line).is_file()
    out = folder / "renders" / "office"
    for option in ("bounce", "dimmed", "direct"):
        with Image.open(out / f"{option}-A-draft.png") as still:
            assert still.size == (64, 36)
        assert (out / f"{option}-A-draft-map.png").is_file()
    index = read_index(out)
    assert {entry.option for entry in index.entries if entry.option} == {"bounce", "dimmed",
                                                                        "direct"}
    assert index.title == "A corner of the yard office"


def test_everything_that_a_render_keeps_is_known_as_its_own(rendered):
    """The cache is marked, and all in it can be bounded and cleared; beside it lies whose files they are."""
    out = rendered[0] / "renders" / "office"
    assert left_in(out / "frames") == []
    assert is_marked(out / "frames")
    assert {"lamp", "picture", "planes", "meter", "bodies"} <= {each.kind for each in kept_in(out / "frames")}
    assert json.loads((out / "scene.json").read_text())["scene"] == "../../office.yaml"


def test_an_option_of_levels_is_not_rendered_again(rendered):
    """Options that differ in levels share one set of frames; three options make two."""
    folder, _ = rendered
    index = read_index(folder / "renders" / "office")
    hashes = {entry.option: entry.transport_hash for entry in index.entries if entry.option}
    assert hashes["bounce"] == hashes["dimmed"] != hashes["direct"]


def test_readings_follow_the_level(rendered):
    """At half its light a lamp puts half its lux on the meter, from the same paths."""
    folder, _ = rendered
    index = read_index(folder / "renders" / "office")
    lux = {entry.option: entry.readings["on the stand"]["lamps"]["key"]["bounced"]
           for entry in index.entries if entry.option}
    assert lux["bounce"] > 0
    assert lux["dimmed"] == pytest.approx(lux["bounce"] / 2, rel=1e-6)


def test_readings_state_both_parts_of_their_error(rendered):
    """The index shows what paths leave open, what bands may be off, and both together."""
    folder, _ = rendered
    index = read_index(folder / "renders" / "office")
    for entry in index.entries:
        for result in entry.readings.values():
            parts = np.hypot(result["standard_error"], result["band_error"])
            assert result["error"] == pytest.approx(parts)
            # Paints of a room under its lamps: a part in a hundred would be far too much.
            assert 0 <= result["band_error"] < 0.01 * result["lux"] + 1e-9


def test_exr_parts_sum_to_the_mix(rendered):
    """The lamps' parts of the EXR add up to its mix, within half floats."""
    folder, _ = rendered
    parts = read_exr(folder / "renders" / "office" / "bounce-A-draft.exr")
    lamps = [pixels["RGB"] for name, (_, pixels) in parts.items() if name.startswith("lamp.")]
    assert len(lamps) == 2
    # Half floats keep 11 bits.
    np.testing.assert_allclose(sum(np.asarray(each, float) for each in lamps),
                               parts["mix"][1]["RGB"], rtol=2**-9, atol=1e-4)


@pytest.fixture(scope="module")
def again(rendered):
    """The same call in a process of its own that may not load the engine, its numbers as JSON."""
    script = ("import sys; from previz.cli.main import main\n"
              f"try: main({[*WORDS, '--json']})\n"
              "except SystemExit as stop:\n"
              "    assert not stop.code, stop.code\n"
              "    assert 'mitsuba' not in sys.modules, 'the engine was loaded'")
    return in_own_process(rendered[0], "-c", script)


def test_a_second_call_renders_nothing(again):
    """With everything cached the engine is not even loaded."""
    assert again.returncode == 0, again.stderr


def test_every_number_is_printed_as_rows(rendered, again, monkeypatch):
    """JSON and CSV have standard output to themselves, and hold what the index does."""
    folder, found = rendered[0], again
    monkeypatch.chdir(folder)
    table = here(*WORDS, "--csv", "--no-exr")
    for done in (found, table):
        assert "renders/office/sheet-A-draft.png" in done.stderr.replace(os.sep, "/")
    rows = json.loads(found.stdout)["rows"]
    snapshot.hold_rows("render", rows)
    assert [row["quantity"] for row in csv.DictReader(io.StringIO(table.stdout))] == [
        row["quantity"] for row in rows]
    by_key = {(row["option"], row["camera"], row["meter"] + (DOME if row["receptor"] == "dome" else ""),
               row["lamp"], row["quantity"]): row for row in rows}
    for entry in read_index(folder / "renders" / "office").entries:
        for meter, reading in entry.readings.items():
            row = by_key[entry.option, "", meter, "", "illuminance"]
            assert (row["value"], row["standard_error"], row["unit"]) == (
                reading["lux"], reading["standard_error"], "lx")
            assert by_key[entry.option, "A", meter, "", "stops_from_working"]["value"] == (
                reading["stops_from_working"])
            for lamp, parts in reading["lamps"].items():
                for part, lux in parts.items():
                    assert by_key[entry.option, "", meter, lamp, part]["value"] == lux
        for lamp, state in entry.settings.get("lamps", {}).items():
            assert by_key[entry.option, "", "", lamp, "lamp_level"]["value"] == state["level"]


def test_same_seed_same_frames(rendered, tmp_path, monkeypatch):
    """Another folder and process, the same seed: the slices agree bit for bit."""
    folder, _ = rendered
    monkeypatch.chdir(tmp_path)
    (tmp_path / "office.yaml").write_text(SCENE)
    here(*WORDS, "--option", "bounce", "--no-exr")
    name = next(entry.transport_hash
                for entry in read_index(tmp_path / "renders" / "office").entries if entry.option)
    one, two = (frames.read(base / "renders" / "office" / "frames" / name)
                for base in (folder, tmp_path))
    for first, second in zip(one.slices, two.slices, strict=True):
        assert np.array_equal(first, second)


INTERRUPTED = """\
import signal, sys
from previz.cli.main import main
from previz.engine.kernel import Transport

trace, passes = Transport.run, []

def traced(*arguments):
    sums = trace(*arguments)
    passes.append(sums)
    if len(passes) == 3:
        signal.raise_signal(signal.SIGTERM)
    return sums

Transport.run = traced
main(sys.argv[1:])
"""
"""The program, told to end in its third pass; from outside it might come before or after them all."""


def test_interrupted_and_resumed(tmp_path, monkeypatch):
    """SIGTERM, as Ctrl-C, keeps the passes that are done, and the next call goes on to the same picture."""
    monkeypatch.chdir(tmp_path)
    # Meters have no part in it, and take long in the quality that has more than two passes.
    meter = "meters:\n  - {name: on the stand, at: [1.4 m, 2 m, 1.22 m]}\n"
    assert meter in SCENE
    (tmp_path / "office.yaml").write_text(SCENE.replace(meter, ""))
    words = ("render", "office.yaml", "--size", "64x36", "--samples", "8", "--option", "bounce", "--no-exr")
    done = in_own_process(tmp_path, "-c", INTERRUPTED, *words)
    assert done.returncode == 143, done.stderr
    assert "goes on from there" in done.stderr
    kept = tmp_path / "renders" / "office" / "frames"
    passes = [json.loads(note.read_text())["passes"] for note in kept.glob("lamps/*/*/lamp.json")]
    # Two lamps, and two of the four passes that working quality has.
    assert passes == [2, 2]
    assert not list(kept.glob("*/meta.json"))
    assert not list((tmp_path / "renders" / "office").glob("*.png"))
    here(*words)
    here(*words, "--out", "whole")
    one, two = ((tmp_path / base / "bounce-A.png").read_bytes()
                for base in ("renders/office", "whole"))
    assert one == two, f"resumed after {passes} passes"


def test_a_bad_scene_leaves_old_files_alone(rendered, monkeypatch, capsys):
    """A scene that cannot be read ends with 2, says where, and touches nothing."""
    folder, _ = rendered
    out = folder / "renders" / "office"
    before = {path: path.stat().st_mtime_ns for path in out.rglob("*") if path.is_file()}
    (folder / "broken.yaml").write_text(SCENE.replace("aim: card", "aim: crad"))
    monkeypatch.chdir(folder)
    result = refused(capsys, ("render", "broken.yaml", "--out", "renders/office"))
    assert "broken.yaml:7:" in result
    assert "Did you mean 'card'?" in result
    assert before == {path: path.stat().st_mtime_ns for path in out.rglob("*") if path.is_file()}


@pytest.mark.parametrize(("words", "result"), [
    (("render", "office.yaml", "--option", "bouncy"), "Did you mean 'bounce'?"),
    (("render", "office.yaml", "--camera", "B"), "has no camera 'B'"),
    (("render", "office.yaml", "--size", "big"), "'big' is no picture size"),
    (("rendr", "office.yaml"), "Did you mean 'render'?"),
    (("render", "office.yaml", "--json", "--csv"), "Give --json or --csv, not both."),
    (("check", "nowhere.yaml"), "nowhere.yaml"),
])
def test_wrong_words_are_reported(rendered, monkeypatch, capsys, words, result):
    """A wrong name on the command line is reported with what is near, and ends with 2."""
    monkeypatch.chdir(rendered[0])
    assert result in refused(capsys, words)


def test_meshes_that_cannot_be_lit(tmp_path, monkeypatch, capsys):
    """A mesh with points that are no numbers, and one without faces, are reported with their place."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "nan.obj").write_text("v 0 0 0\nv 1 0 0\nv nan 1 0\nf 1 2 3\n")
    (tmp_path / "points.obj").write_text("v 0 0 0\nv 1 0 0\n")
    for name in ("nan", "points"):
        piece = (f"pieces:\n  - {{name: thing, mesh: {name}.obj, units: m, up: z, "
                 "at: [1 m, 1 m]}\n  -")
        (tmp_path / f"{name}.yaml").write_text(SCENE.replace("pieces:\n  -", piece))
        assert f"{name}.yaml:5:" in refused(capsys, ("render", f"{name}.yaml"))
        assert not (tmp_path / "renders").exists()


def test_check_is_quick_and_loads_no_engine(rendered):
    """`check` says what the scene holds; nothing slow is imported for it."""
    folder, _ = rendered
    script = ("import sys; from previz.cli.main import main\n"
              "try: main(['check', 'office.yaml'])\n"
              "except SystemExit as stop: assert not stop.code\n"
              "slow = {'mitsuba', 'drjit', 'numpy', 'trimesh', 'colour', 'PIL'} & set(sys.modules)\n"
              "assert not slow, slow")
    done = in_own_process(folder, "-c", script)
    assert done.returncode == 0, done.stderr
    assert "0 figures, 2 lamps, 1 camera, 3 options" in done.stdout


def test_the_index_reports_the_cautions(rendered):
    """What the program reminds of travels with the renders, and defers to local law."""
    folder, _ = rendered
    result = json.loads((folder / "renders" / "office" / "index.json").read_text())
    settings = next(entry["settings"] for entry in result["entries"] if entry["option"])
    assert settings["cautions"][0].startswith("Planning aid only.")
    assert any("key" in line and "Overhead" in line for line in settings["cautions"])
    assert [each["text"] for each in settings["reminders"]] == settings["cautions"][1:]
    assert all(each["source"] for each in settings["reminders"])
