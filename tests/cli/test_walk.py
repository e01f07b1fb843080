"""`previz walk`: a way metered by the engine against the closed form, its stills, and what is refused."""

import csv
import importlib.util
import io
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import previz as library
from previz.cli.main import previz
from previz.deliver import walk_sheet
from previz.errors import RequestError
from previz.rendering.request import Request
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.walk import walk
from previz.studies.walk_way import at_mark, stops_of, walker, way_of

pytestmark = pytest.mark.filterwarnings("ignore")

_path = Path(__file__).parents[1] / "sheet_numbers.py"
_spec = importlib.util.spec_from_file_location("sheet_numbers", _path)
sheet_numbers = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sheet_numbers)

GLOBE, RADIUS, LUMINANCE = np.array([1.5, 1.0, 2.8]), 0.1, 60e3

# No room and no ground: what arrives is straight from the globe. The spot is aimed at who walks.
SCENE = """\
previz: 1
title: Yard path
figures:
  - {name: porter, person: person one, hair: none, pose: standing, at: [0 m, 0 m], facing: 0 deg,
     marks: [{name: gate, at: [3 m, 0 m], facing: 60 deg}]}
pieces:
  - {name: ball, shape: sphere, at: [1.5 m, 1 m, 2.7 m], size: [0.2 m, 0.2 m, 0.2 m]}
lights:
  - {name: globe, kind: glow, piece: ball, output: 60000 cd/m2, cct: 3200 K}
  - {name: spot, kind: fresnel, at: [-4 m, -1 m, 2.5 m], aim: porter.face, output: 900 lm, on: no}
cameras:
  - {name: A, at: [1.5 m, -4 m, 1.5 m], aim: porter.face, lens: 18 mm, stop: T2.8, iso: 800,
     white_balance: 3200 K}
options:
  dim: {lights: {globe: {dimmer: 50 %}}}
  at the gate: {figures: {porter: {mark: gate}}}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("walk")
    (found / "path.yaml").write_text(SCENE, encoding="utf-8")
    clerk = "  - {name: clerk, at: [0 m, 4 m], facing: 0 deg%s}\npieces:"
    for name, marks in (("one", ""), ("two", ", marks: [{name: shed, at: [2 m, 4 m]}]")):
        (found / f"{name}.yaml").write_text(SCENE.replace("pieces:", clerk % marks), encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def scene(folder):
    return load(folder / "path.yaml").scene()


@pytest.fixture(scope="module")
def walked(folder, scene):
    """The walk of the scene as it is written, with its stills."""
    return walk(scene, Request(folder / "frames", (48, 27), "draft", samples=2, error=0.03), every=0.5)


def run(folder, *words, scene="path.yaml"):
    return CliRunner().invoke(previz, ["walk", str(folder / scene), *words])


@pytest.mark.engine
def test_light_along_a_straight_way_is_the_closed_form(walked):
    """E = I cos θ / d² at each cheek (check value 1.1), I = L π r² of an even ball, within 4 errors and 1 %.

    The ball is faceted, which takes up to a hundredth of its section.
    """
    intensity, found = LUMINANCE * math.pi * RADIUS**2, 0
    lit = {name: reading.face for reading in walked.strip.readings for name in reading.point.meters}
    assert len(walked.strip.readings) == 7 and len(lit) == 14
    for probe in walked.way.stage.probes:
        towards = GLOBE - probe.position
        distance = np.linalg.norm(towards)
        cosine = float(probe.normal @ towards) / distance
        face = lit[probe.name]
        light = face.lit if f"{face.lit_side} cheek" in probe.name else face.shadow
        if cosine > RADIUS / distance:
            found += 1
            expected = intensity * cosine / distance**2
            assert abs(light.value - expected) <= 4 * light.error + 0.01 * expected, probe.name
        elif cosine < -RADIUS / distance:
            assert light.value == 0
    assert found >= 6


@pytest.mark.engine
def test_nobody_stands_in_their_own_way(walked):
    """The figure is out of the metered stage; at its marks it stands in the pictures."""
    assert "porter" not in {mesh.name for mesh in walked.way.stage.meshes}
    assert [(stand.place, stand.metres) for stand in walked.stands] == [("start", 0.0), ("gate", 3.0)]
    assert walked.stands[0].still.shape == (16, 24, 3)
    # Its own face reads what the empty place does, but for its own shade.
    for stand, i in zip(walked.stands, walked.strip.marks, strict=True):
        own, empty = stand.face.lit, walked.strip.readings[i].face.lit
        off = 4 * math.hypot(own.error, empty.error) + 0.1 * empty.value
        assert own.value == pytest.approx(empty.value, abs=off)


@pytest.mark.engine
def test_every_number_of_a_walk_is_a_row(walked, tmp_path):
    """What the sheet draws, with units and errors; JSON and CSV have the same."""
    with sheet_numbers.drawing() as texts:
        files = walked.sheet(tmp_path / "sheet")
    assert [path.suffix for path in files] == [".png", ".pdf"]
    rows = walked.rows()
    assert sheet_numbers.missing(texts, rows, [text for _, text in walk_sheet.TERMS]) == []
    assert {"along_the_way", "walk_shadow_side", "camera_stop"} <= sheet_numbers.needed(
        texts, rows, [text for _, text in walk_sheet.TERMS])
    assert json.loads(walked.to_json())["rows"] == json.loads(json.dumps(rows))
    assert all(row["standard_error"] is not None for row in rows if row["quantity"] == "walk_lit_side")
    assert json.loads(json.dumps(walked.record(), allow_nan=False))["figure"] == "porter"


@pytest.mark.engine
def test_other_levels_cost_no_engine(folder, walked, monkeypatch):
    """Half the globe is half the light everywhere, of the same meters, by `relit` and by its option."""
    monkeypatch.setattr("previz.rendering.job.open_stage", lambda *_: pytest.fail("the engine was started"))
    dim = load(folder / "path.yaml").scene("dim")
    half = walked.relit(build_stage(dim).lamps)
    for one, other in zip(walked.strip.readings, half.readings, strict=True):
        assert other.face.lit.value == pytest.approx(0.5 * one.face.lit.value)
    # T5.6 for T2.8: two stops.
    closed = walked.relit(walked.way.stage.lamps, replace(walked.strip.settings, stop=5.6))
    for one, other in zip(walked.strip.readings, closed.readings, strict=True):
        assert other.lit.value == pytest.approx(one.lit.value - 2)
    again = walk(dim, Request(folder / "frames", (48, 27), "draft", samples=2, error=0.03), every=0.5,
                 frames=False)
    assert again.stands == ()
    assert [each.lit.value for each in again.strip.readings] == pytest.approx(
        [each.lit.value for each in half.readings])


@pytest.mark.engine
def test_the_command_writes_a_sheet_and_rows(folder, walked):
    """By its options: the way by named marks, a range that is wanted, no stills."""
    done = run(folder, "--option", "at the gate", "--mark", "gate", "--mark", "gate", "--no-frames")
    assert done.exit_code == 2 and "all at one place" in done.stderr
    done = run(folder, "--out", str(folder), "--every", "0.5 m", "--quality", "draft", "--want", "-1..+1",
               "--no-frames", "--csv")
    assert done.exit_code == 0, done.output
    assert (folder / "walk-porter-draft.png").is_file() and (folder / "walk-porter-draft.pdf").is_file()
    rows = list(csv.DictReader(io.StringIO(done.stdout, newline="")))
    metres = [float(row["value"]) for row in rows if row["quantity"] == "along_the_way"]
    assert metres == pytest.approx([0.5 * k for k in range(7)])
    assert {row["value"] for row in rows if row["quantity"] == "wanted_from"} == {"-1.0"}
    assert any("wanted range" in row["value"] for row in rows if row["quantity"] == "walk_summary")


def test_the_way_is_by_marks_as_written(folder, scene):
    """From where the figure stands, or, where an option has it at a mark, by its marks alone."""
    assert stops_of(walker(scene)) == ["", "gate"]
    assert stops_of(walker(scene), ("gate", "gate")) == ["gate", "gate"]
    gate = load(folder / "path.yaml").scene("at the gate")
    with pytest.raises(RequestError, match="has one place, 'gate'; it takes two"):
        stops_of(walker(gate))


def test_lamps_stay_where_they_are_aimed(scene):
    """At the gate the spot still points at where the figure was, and the camera turns after it."""
    stage = build_stage(scene)
    there = build_stage(at_mark(scene, walker(scene), "gate", stage))
    axes = [next(each for each in made.emitters if each.name == "spot") for made in (stage, there)]
    np.testing.assert_allclose(axes[0].vertices, axes[1].vertices, atol=1e-9)
    assert not np.allclose(stage.cameras[0].world_from_camera, there.cameras[0].world_from_camera)
    assert not np.allclose(stage.head("porter").face, there.head("porter").face)


def test_a_walking_head_is_as_high_as_its_person(scene):
    """Between marks it is carried as high as it stands."""
    way = way_of(scene, "porter", every=1.0)
    heights = [point.at[2] for point in way.points]
    assert heights[1:3] == pytest.approx([heights[0]] * 2, abs=1e-3)
    assert [point.mark for point in way.points] == ["start", None, None, "gate"]
    assert way.points[1].facing == pytest.approx(0, abs=0.5)
    assert way.points[-1].facing == pytest.approx(60, abs=1)
    assert len(way.stage.probes) == 2 * len(way.points) and way.length == pytest.approx(3.0)


@pytest.mark.parametrize(("words", "message"), [
    (["--figure", "portr"], "has no figure 'portr'. Did you mean 'porter'?"),
    (["--figure", "clerk", "--option", "dim"], "'clerk' has no marks to walk along"),
    ([], "Several figures have marks: 'porter', 'clerk'"),
    (["--mark", "gat"], "has no mark of 'porter' 'gat'. Did you mean 'gate'?"),
    (["--camera", "B"], "has no camera 'B'"),
    (["--every", "1 cm"], "2 cm to 50 m"), (["--every", "2 cm", "--mark", "gate"], "has one place"),
    (["--want", "1..-1"], "is no range of stops"), (["--want", "1"], "is no range of stops"),
])
def test_what_is_not_there_is_refused(folder, words, message, monkeypatch):
    """With what there is; nothing is metered."""
    monkeypatch.setattr("previz.rendering.job.open_stage", lambda *_: pytest.fail("the engine was started"))
    done = run(folder, *words, scene="one.yaml" if words else "two.yaml")
    assert done.exit_code == 2 and message in " ".join(done.stderr.split()), done.stderr


def test_too_many_places_are_refused(scene):
    """With a step that would do."""
    with pytest.raises(RequestError, match="240 places are the most") as raised:
        way_of(scene, "porter", every=0.01)
    assert "Take one every 0.02 m" in str(raised.value)


@pytest.mark.parametrize(("words", "message"), [
    ({"every": 0.0}, "Give a length"), ({"carried": "back"}, "'ahead' or 'turning'"),
    ({"wanted": (1.0, -1.0)}, "the least first")])
def test_what_a_notebook_gives_is_tried_too(folder, scene, words, message):
    """The command's options cannot have these."""
    with pytest.raises(RequestError) as raised:
        walk(scene, Request(folder / "frames"), **words)
    assert message in str(raised.value)


def test_the_library_has_it(folder, monkeypatch):
    """An option is handed down with its words and settings."""
    given = {}

    def kept(scene, request, *, every=1.0, progress=None):
        given.update(option=scene.option, every=every, size=request.size)

    monkeypatch.setattr("previz.studies.walk.walk", kept)
    library.walk(library.open(folder / "path.yaml")["dim"], every=0.5, size=64)
    assert given == {"option": "dim", "every": 0.5, "size": (64, None)}
