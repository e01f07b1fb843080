"""`previz compare`: what is rendered again, whose face is measured, what stands in the frame."""

import csv
import io
import json
import re

import numpy as np
import pytest
import snapshot
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.exposure.camera import settings_of
from previz.exposure.comparing.coverage import HIDDEN, IN_FRAME, NEAR_EDGE
from previz.physics.mains import SUPPLY_POWER_FACTOR
from previz.scene.read import load
from previz.sight.coverage import coverage
from previz.sight.subjects import projected, subject_of
from previz.stage.build import build_stage
from previz.studies.compare import compare
from previz.studies.measures import draws_of

pytestmark = pytest.mark.engine

# One clerk under a box and a practical in shot; B looks past A, which stands in its frame; a box
# just over A's frame. Levels and colours alone distinguish 'warm' and 'low' from 'box'.
SCENE = """\
previz: 1
title: Parcels office
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.3}}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2 m, 3 m],
     facing: [2 m, 0 m, 1.6 m]}
lights:
  - {name: box, kind: soft box, at: [0.9 m, 1.6 m, 1.9 m], aim: clerk.face, size: [0.8 m, 0.8 m],
     output: 4000 lm, watts: 80 W, cct: 5600 K, spectrum: led}
  - {name: desk lamp, kind: bulb, at: [3.2 m, 3.6 m, 1.5 m], output: 400 lm, in_shot: yes}
cameras:
  - {name: A, at: [2 m, 1.2 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B, at: [2.2 m, 0.4 m, 1.7 m], aim: clerk.face, lens: 25 mm, stop: T2.8, iso: 800}
options:
  box: {}
  low: {lights: {box: {dimmer: 25 %}}}
  warm: {lights: {box: {gel: half cto}}, cameras: {A: {white_balance: 4300 K}}}
  hard: {lights: {box: {size: [0.2 m, 0.2 m]}}}
"""

# The same scene, and one option whose camera is another frame.
LONGER = "  longer: {cameras: {A: {lens: 50 mm}}}\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("compare")
    (found / "office.yaml").write_text(SCENE, encoding="utf-8")
    return found


def run(folder, *more, scene="office.yaml"):
    return CliRunner().invoke(previz, [
        "compare", str(folder / scene), "--size", "128x72", "--quality", "draft", "--samples", "4",
        "--out", str(folder / "out"), *more])


@pytest.fixture(scope="module")
def made():
    """What the commands have compared, to be read by several tests."""
    return []


@pytest.fixture(scope="module")
def first(folder, made):
    """The whole comparison, once."""
    from previz.studies import compare as module

    def kept(*words, **more):
        made.append(compare(*words, **more))
        return made[-1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "compare", kept)
        done = run(folder, "--volts", "115")
    assert done.exit_code == 0, done.output
    return done


@pytest.fixture(scope="module")
def turned(first, folder):
    """Two of its options from the cache, the last as the base, as a table."""
    done = run(folder, "--option", "box", "--option", "hard", "--base", "hard", "--csv")
    assert done.exit_code == 0, done.output
    return done


@pytest.fixture(scope="module")
def shared(first, folder):
    """Three of its options from the cache as JSON, and the folders of frames that were read."""
    from previz.rendering import job

    read, whole = [], job.whole_picture

    def watched(work, camera):
        if (work.order.width, work.order.height) == (64, 36):
            read.append(work.frame_folder(camera))
        return whole(work, camera)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(job, "whole_picture", watched)
        done = run(folder, "--option", "box", "--option", "low", "--option", "hard", "--json")
    assert done.exit_code == 0, done.output
    return done, read


def test_levels_and_colours_alone_are_rendered_once(first):
    """Of four options by two cameras, three differ in levels: two renders a camera, four in all."""
    result = [line for line in first.stderr.splitlines() if ", camera " in line]
    assert len(result) == 8
    rendered = [bool(re.search(r"rendered in", line)) for line in result]
    assert rendered == [True, True] + [False] * 4 + [True, True]
    assert all("differs from 'box' in levels, colours or camera settings only" in line
               for line in result[2:6])
    assert "4 pictures rendered, 4 taken over." in first.stderr


def test_a_second_comparison_renders_nothing(turned):
    """Everything is in the cache."""
    assert "0 pictures rendered, 4 taken over." in turned.stderr
    assert turned.stderr.count("taken from the cache, nothing rendered") == 4
    # The base comes first.
    assert turned.stderr.index("hard, camera A") < turned.stderr.index("box, camera A")


def test_frames_that_options_share_are_read_once(shared):
    """Checking every byte of a picture takes its time; box and low are the same light."""
    done, read = shared
    assert "0 pictures rendered, 6 taken over." in done.stderr
    assert len(read) == len(set(read)) == 4


def test_sheets_are_written_where_they_say(first, folder):
    """A PNG and a PDF; the PNG has pictures on it."""
    paths = first.stdout.split()
    assert [path.rsplit("/", 1)[1] for path in paths] == ["compare-draft.png", "compare-draft.pdf"]
    with Image.open(paths[0]) as sheet:
        assert np.asarray(sheet).std() > 15


@pytest.mark.parametrize(("form", "options"), [
    ("--json", ("box", "low", "hard")), ("--csv", ("hard", "box"))])
def test_rows_have_standard_output_to_themselves(shared, turned, form, options):
    """The numbers can be piped; the sheet is written all the same and named on standard error."""
    done = shared[0] if form == "--json" else turned
    # What was picked out is in the name, so that it takes no other comparison's place.
    name = f"compare-{'-'.join(('box', 'low', 'hard') if form == '--json' else options[::-1])}-draft.png"
    assert name in done.stderr and name not in done.stdout
    rows = (json.loads(done.stdout)["rows"] if form == "--json"
            else list(csv.DictReader(io.StringIO(done.stdout, newline=""))))
    found = {(row["option"], row["camera"]): row for row in rows if row["quantity"] == "lit_side"}
    assert found.keys() == {(option, camera) for option in options for camera in "AB"}
    if form == "--json":
        snapshot.hold_rows("compare options", rows)
    lit = found["box", "A"]
    assert lit["unit"] == "lx" and lit["figure"] == "clerk" and lit["meter"] in (
        "clerk: left cheek", "clerk: right cheek")
    # Draft meters go on until they are within 3 %.
    assert 0 < float(lit["standard_error"]) <= 0.03 * float(lit["value"])


def test_one_form_at_a_time(folder):
    """Two forms on one output are refused before anything is rendered."""
    done = run(folder, "--json", "--csv")
    assert done.exit_code == 2
    assert "Give --json or --csv, not both." in done.output


def test_another_framing_has_no_difference(first, folder, monkeypatch):
    """Pixels of a longer lens are of other places: only B, which is as it was, is held against it."""
    (folder / "longer.yaml").write_text(SCENE + LONGER, encoding="utf-8")
    shown = {}
    monkeypatch.setattr("previz.studies.compare.write_comparison",
                        lambda stem, made, words: shown.update(made.shown) or [])
    done = run(folder, "--option", "box", "--option", "longer", scene="longer.yaml")
    assert done.exit_code == 0, done.output
    assert shown["longer", "A"].difference is None
    assert shown["longer", "B"].difference is not None


@pytest.fixture(scope="module")
def measured(first, made):
    """The comparison itself, at 115 V."""
    return made[0]


def test_levels_move_the_face_as_they_were_set(measured):
    """The box at a quarter leaves a quarter of its light: two stops of what it gives."""
    box, low = (measured.effects[option]["clerk"] for option in ("box", "low"))
    given = [next(e.lit.value for e in effects if e.lamp == "box") for effects in (box, low)]
    # The same paths weighted otherwise; more of them may be added for the darker mix: 3 % each.
    assert given[1] == pytest.approx(given[0] / 4, rel=0.06)


def test_softness_follows_the_size_of_the_source(measured):
    """0.8 and 0.2 m boxes at the same place appear as geometry has it, four to one."""
    shots = {option: measured.cells[option, "A"].measures for option in ("box", "hard")}
    stage = build_stage(load_scene("box"))
    far = np.linalg.norm(np.array([0.9, 1.6, 1.9]) - stage.places["clerk.nose"])
    for option, side in (("box", 0.8), ("hard", 0.2)):
        expected = 2 * np.degrees(np.arctan(side / 2 / far))
        key = shots[option].key
        assert (key.thing, key.lamps) == ("box", ("box",))
        assert key.across == pytest.approx(expected, rel=0.05)
        # check value 1.22: source width · (nose to cheek) / (source to nose).
        assert key.edge == pytest.approx(side / far * key.throw, rel=0.05)
    # It stands to the left of the lens as the camera sees it.
    assert shots["box"].key.side < -20


_SCENES = {}


def load_scene(option):
    """A scene of the file, read from text."""
    import tempfile
    from pathlib import Path

    if not _SCENES:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "office.yaml"
            path.write_text(SCENE, encoding="utf-8")
            _SCENES["file"] = load(path)
    return _SCENES["file"].scene(option)


def test_colours_are_reported_against_the_cameras_balance(measured):
    """Half CTO warms a 5600 K box by about 67 mired; at 4300 K it is near the balance."""
    plain, warm = (measured.cells[option, "A"].measures for option in ("box", "warm"))
    shift = 1e6 / warm.face.cct - 1e6 / plain.face.cct
    # Nominal half: +67 mired on the box; the bulb's part of the light dilutes it.
    assert 40 < shift < 70
    assert warm.settings.white_balance == 4300.0
    assert warm.face.mired_off(4300.0) == pytest.approx(1e6 / warm.face.cct - 1e6 / 4300.0)


def test_load_is_of_what_is_lit(measured):
    """80 W stated by a box with a supply, the bulb guessed at its lumens over its kind's efficacy, 115 V."""
    load_of = measured.cells["box", "A"].measures.load
    assert load_of.guessed == ("desk lamp",)
    assert load_of.watts > 80
    assert load_of.amperes == pytest.approx((80 / SUPPLY_POWER_FACTOR + load_of.watts - 80) / 115.0)
    load, = (each for each in measured.cautions if each.kind == "mains")
    assert f"{load_of.watts:.0f} W, {load_of.amperes:.1f} A at 115 V" in load.brief
    names = [name for name, *_ in draws_of(load_scene("box"), build_stage(load_scene("box")))]
    assert names == ["box", "desk lamp"]


def test_what_stands_in_the_frame_is_found(measured):
    """The lamp left in shot is meant to be there; A's body is in B's frame and is not."""
    seen = {s.name: s for s in measured.cells["box", "B"].coverage.seen}
    assert seen["desk lamp"].where == IN_FRAME and seen["desk lamp"].on_purpose
    assert seen["camera A"].where == IN_FRAME and not seen["camera A"].on_purpose
    assert [s.name for s in measured.cells["box", "A"].coverage.unwanted] == []


def test_both_cameras_are_on_the_only_face(measured):
    """A face is measured from its own camera; levels do not change whose it is."""
    assert {cell.measures.face.figure for cell in measured.cells.values()} == {"clerk"}
    assert {cell.coverage.subject for cell in measured.cells.values()} == {"clerk"}


@pytest.mark.parametrize(("words", "message"), [
    (["--base", "bxo"], "no option 'bxo'. Did you mean 'box'?"),
    (["--spill", "west wal"], "no thing 'west wal'. Did you mean 'west wall'?"),
    (["--key", "boxx"], "no lamp 'boxx'. Did you mean 'box'?"),
    (["--on", "A=clark"], "no figure 'clark'. Did you mean 'clerk'?"),
    (["--on", "clerk"], "'clerk' does not say who is whose"),
    (["--camera", "C"], "no camera 'C'"),
])
def test_wrong_names_are_reported_before_anything_is_rendered(folder, words, message):
    """A misspelt name says what is meant, and renders nothing."""
    done = run(folder, *words)
    assert done.exit_code == 2
    assert message in done.output
    assert "rendered in" not in done.output


def test_projection_is_the_cameras_own():
    """The point it is aimed at is in the middle; half an angle of view to the side is the edge."""
    camera = build_stage(load_scene("box")).cameras[0]
    axes = camera.world_from_camera
    edge = camera.position + 3 * (axes[:, 2] + camera.tan_half[0] * axes[:, 0])
    assert projected(camera, edge) == pytest.approx((1.0, 0.0, 3.0), abs=1e-9)
    assert np.isnan(projected(camera, camera.position - axes[:, 2])[0])
    assert settings_of(camera).stop == 2.8


def test_a_rig_just_outside_or_behind_is_distinguished(measured):
    """A lamp over the frame's edge is near it; one behind something that is seen is hidden."""
    from dataclasses import replace

    stage = build_stage(load_scene("box"))
    camera, cell = stage.cameras[0], measured.cells["box", "A"]
    emitter = next(e for e in stage.emitters if e.name == "desk lamp")
    right, up, ahead = camera.world_from_camera.T

    def moved(point):
        shift = point - emitter.vertices.mean(axis=0)
        new = replace(emitter, name="stray", vertices=emitter.vertices + shift)
        return replace(stage, emitters=(*stage.emitters, new))

    near = camera.position + 2 * ahead + 2 * 1.06 * camera.tan_half[1] * up
    seen = {s.name: s for s in coverage(moved(near), "", camera, cell.frames, None).seen}
    assert (seen["stray"].where, seen["stray"].side) == (NEAR_EDGE, "top")
    behind = camera.position + 9 * ahead
    seen = {s.name: s for s in coverage(moved(behind), "", camera, cell.frames, None).seen}
    assert seen["stray"].where == HIDDEN
    far = camera.position + 2 * ahead + 4 * camera.tan_half[0] * right
    assert "stray" not in {s.name for s in coverage(moved(far), "", camera, cell.frames, None).seen}
    assert subject_of(stage, camera, cell.frames) == "clerk"
