"""`previz what-if`: changes against meters of the changed scene and the closed form; what is refused."""

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
from previz.deliver import strips, what_if_sheet
from previz.deliver.what_if_words import stops_said
from previz.exposure.faces import cheeks_of, face_light
from previz.exposure.metering import mix
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Request
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.colours import stage_colours
from previz.stage.records import Mesh
from previz.studies.balance.phrases import want_of
from previz.studies.balance.subjects import subjects_of
from previz.studies.what_if import what_if
from previz.studies.what_if.lighting import weather_of
from previz.studies.what_if.steps import off_marks, stand_of

pytestmark = pytest.mark.filterwarnings("ignore")

_path = Path(__file__).parents[1] / "sheet_numbers.py"
_spec = importlib.util.spec_from_file_location("sheet_numbers", _path)
sheet_numbers = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sheet_numbers)

# No room and no ground: what arrives is straight from two bulbs, but for what clothes throw back.
SCENE = """\
previz: 1
title: Yard gate
figures:
  - {name: porter, person: person one, hair: none, pose: standing, at: [0 m, 0 m], facing: 0 deg}
lights:
  - {name: key, kind: bulb, at: [2 m, 1.6 m, 1.7 m], output: 3000 lm, spectrum: tungsten, cct: 3200 K,
     dimmer: 80 %}
  - {name: fill, kind: bulb, at: [2 m, -1.6 m, 1.7 m], output: 1500 lm}
  - {name: spare, kind: bulb, at: [3 m, 0 m, 2.7 m], output: 900 lm, on: no}
cameras:
  - {name: A, at: [3 m, 0 m, 1.5 m], aim: porter.face, lens: 35 mm, stop: T2.8, iso: 800}
options:
  less: {lights: {key: {dimmer: 56.568542 %}}}
  out: {lights: {key: {on: no}}}
  nearer: {figures: {porter: {at: [0.3 m, 0 m]}}}
  dark: {lights: {key: {on: no}, fill: {on: no}}}
"""

WANTS = ("lit side porter -1.75, within 0.4", "shadow side porter -2.3, within 0.5",
         "ratio porter +0.6 stops, within 0.4", "colour porter 3080 K, within 30 mired")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("what-if")
    (found / "gate.yaml").write_text(SCENE, encoding="utf-8")
    (found / "bare.yaml").write_text(SCENE.replace("figures:", "figures: []\npieces:").replace(
        "name: porter, person: person one, hair: none, pose: standing, at: [0 m, 0 m], facing: 0 deg",
        "name: porter, shape: box, at: [0 m, 0 m, 0 m], size: [1 m, 1 m, 1 m]").replace(
        "porter.face", "[0 m, 0 m, 1 m]").split("options:")[0], encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def found(folder):
    """What the wants of the scene hang on."""
    request = Request(folder / "frames", quality="draft")
    return what_if(load(folder / "gate.yaml").scene(), request, wants=WANTS)


def run(folder, *words, scene="gate.yaml"):
    return CliRunner().invoke(previz, ["what-if", str(folder / scene), *words])


def values(rows, quantity, **of):
    return [row["value"] for row in rows if row["quantity"] == quantity
            and all(row[key] == value for key, value in of.items())]


def face_of(folder, option):
    """Return both sides and the colour of the porter's face by the meters at its cheeks, from the cache."""
    request = Request(folder / "frames", quality="draft")
    job = StageJob(build_stage(load(folder / "gate.yaml").scene(option or None)), request.meter_order())
    cheeks = cheeks_of("porter")
    gathered = StageMeters(job).incident(Effort(request.precision, 60.0), cheeks)
    job.close()
    mixed = mix(gathered, job.stage.lamps, stage_colours(job.stage))
    face = face_light("porter", *(mixed[name] for name in cheeks))
    return {"lit_side": face.lit.value, "shadow_side": face.shadow.value, "face_cct": face.cct}


def metered(folder, option):
    """Return the same as `previz meter` has it."""
    rows = library.open(folder / "gate.yaml")[option].meters(
        cache=folder / "frames", quality="draft", spots=False).rows()
    return {quantity: values(rows, quantity, figure="porter")[0]
            for quantity in ("lit_side", "shadow_side", "face_cct")}


@pytest.mark.engine
@pytest.mark.parametrize("read", [face_of, pytest.param(metered, marks=pytest.mark.long)])
def test_changes_are_those_of_meters_of_the_changed_scene(folder, found, read):
    """Half a stop less on the key, and the key out: meters of options that have it so, on the same paths."""
    rows, read = found.rows(), {option: read(folder, option) for option in ("", "less", "out")}
    for option, change in (("less", "half a stop less"), ("out", "out")):
        of = {"lamp": "key", "change": change}
        before, after = read[""], dict(read[option])
        if option == "out":
            # The meter's lit side is the other cheek then; here it stays the one that was lit.
            after["lit_side"], after["shadow_side"] = after["shadow_side"], after["lit_side"]
        lit, shadow = (math.log2(after[side] / before[side]) for side in ("lit_side", "shadow_side"))
        for want, expected in (("lit side", lit), ("shadow side", shadow), ("ratio", lit - shadow)):
            moves, = values(rows, "moves_stops", want=f"{want} porter", **of)
            assert moves == pytest.approx(expected, abs=1e-6)
    # Tungsten is warmer when it is dimmed; the two ways to a colour temperature are within a mired.
    mired = 1e6 / read["less"]["face_cct"] - 1e6 / read[""]["face_cct"]
    warmer, = values(rows, "moves_mired", want="colour porter", lamp="key", change="half a stop less")
    assert warmer == pytest.approx(mired, abs=1.0) and warmer > 5


@pytest.mark.engine
def test_a_step_is_the_closed_form(folder, found):
    """E = I cos θ / d² of each bulb (check value 1.1), I = Φ / 4 π, where the cheeks would be."""
    scene = load(folder / "gate.yaml").scene()
    stage = build_stage(scene)
    subjects, _ = subjects_of(scene, stage, [want_of(WANTS[0])])
    off = off_marks(stage, "porter", map(stand_of, subjects), 0.3)
    bulbs = [(np.array(light.at), light.dimmer * lamp.output / (4 * math.pi))
             for light, lamp in zip(scene.lights, stage.lamps, strict=True) if light.on]
    light = {}
    for probe in off.stage.probes:
        ways = [(at - probe.position, candela) for at, candela in bulbs]
        light[probe.name] = sum(candela * max(way @ probe.normal, 0.0) / np.linalg.norm(way) ** 3
                                for way, candela in ways)
    (stand, steps), = off.steps.items()
    assert steps == ["to camera left", "to camera right", "forward", "back"] and off.blocked == ()
    here = [light[name] for name in stand.meters("on the mark")]
    for step in steps:
        there = [light[name] for name in stand.meters(step)]
        for want, side in (("lit side porter", np.argmax(here)), ("shadow side porter", np.argmin(here))):
            row, = (row for row in found.rows() if row["quantity"] == "moves_stops" and row["want"] == want
                    and row["change"] == f"0.3 m {step}")
            off_by = row["value"] - math.log2(there[side] / here[side])
            assert abs(off_by) <= 4 * row["standard_error"] + 0.02, (want, step)
    # The camera looks back along x: its left is the porter's own right, towards the fill.
    left = next(probe for probe in off.stage.probes if probe.name in stand.meters("to camera left"))
    middle = next(probe for probe in off.stage.probes if probe.name in stand.meters("on the mark"))
    assert left.position - middle.position == pytest.approx([0, -0.3, 0], abs=2e-3)


@pytest.mark.engine
def test_every_number_is_a_row_and_it_explains_itself(found, tmp_path):
    """What the sheet draws, with units; sentences name the key, and the lamp that is off plays no part."""
    with sheet_numbers.drawing() as texts:
        files = found.sheet(tmp_path / "sheet")
    assert [path.suffix for path in files] == [".png", ".pdf"]
    rows = found.rows()
    same = [*(text for _, text in what_if_sheet.TERMS), strips.KEY]
    errors = [text for text in texts if text.startswith("± ")]
    texts = [text for text in texts if text not in errors]
    assert sheet_numbers.missing(texts, rows, same) == []
    assert {"moves_stops", "may_rise", "moves_mired"} <= sheet_numbers.needed(texts, rows, same)
    known = [{**row, "value": row["standard_error"]} for row in rows if row["standard_error"] is not None]
    assert errors and sheet_numbers.missing([text.replace("± ", "+") for text in errors], known) == []
    assert json.loads(found.to_json())["rows"] == json.loads(json.dumps(rows))
    assert {row["lamp"] for row in rows} == {"", "key", "fill"}
    assert values(rows, "want_met") == [True] * 4 and values(rows, "step_off_mark") == [0.3]
    assert found.said[0].startswith("The weakest point: ") and "on key, and " in found.said[0]
    assert any("Guard key and fill" in each for each in found.said)
    assert "colour porter" in found.table()
    # A want is missed from the level on that `may_fall` says.
    fall, = values(rows, "may_fall", want="lit side porter", lamp="key")
    off, = values(rows, "off_stops", want="lit side porter", change="half a stop less", lamp="key")
    assert (fall < -0.5) == (abs(off) <= 0.4)


@pytest.mark.engine
def test_the_command_without_wants_keeps_what_is_there(folder, found):
    """Both sides of the face and their ratio, to stay as they are; the same meters, from the cache."""
    done = run(folder, "--out", str(folder), "--quality", "draft", "--step", "0 m", "--csv")
    assert done.exit_code == 0, done.output
    assert (folder / "what-if-draft.png").is_file() and (folder / "what-if-draft.pdf").is_file()
    rows = list(csv.DictReader(io.StringIO(done.stdout, newline="")))
    assert list(dict.fromkeys(row["want"] for row in rows if row["want"])) == [
        "lit side of porter", "shadow side of porter", "ratio of porter"]
    assert {row["value"] for row in rows if row["quantity"] == "want_met"} == {"True"}
    assert not any("0.3 m" in row["change"] for row in rows)
    held = next(row for row in rows if row["quantity"] == "wanted_level")
    assert float(held["value"]) == pytest.approx(values(found.rows(), "level_before")[0], abs=1e-6)
    done = run(folder, "--out", str(folder), "--quality", "draft", "--option", "dark")
    assert done.exit_code == 2 and "There is no light to be kept as it is" in done.stderr


@pytest.mark.long
def test_a_step_is_near_what_the_figure_meters_there(folder, found):
    """The figure itself 0.3 m nearer, with its own body: within a tenth of a stop of the step forward."""
    file, words = library.open(folder / "gate.yaml"), {"quality": "draft", "spots": False}
    lit = [values(file[option].meters(**words).rows(), "lit_side", figure="porter")[0]
           for option in ("", "nearer")]
    step, = values(found.rows(), "moves_stops", want="lit side porter", change="0.3 m forward")
    assert step == pytest.approx(math.log2(lit[1] / lit[0]), abs=0.1)


def test_a_step_into_a_wall_is_left_out(folder):
    """It is said what stands there."""
    scene = load(folder / "gate.yaml").scene()
    stage = build_stage(scene)
    head = stage.head("porter").centre
    wall = head + np.array([[-0.2, -1, -1], [-0.2, 1, -1], [-0.2, 0, 2]])
    stage = replace(stage, meshes=(*stage.meshes, Mesh("west wall", "plain", wall, np.array([[0, 1, 2]]))))
    subjects, _ = subjects_of(scene, stage, [want_of(WANTS[0])])
    off = off_marks(stage, "porter", map(stand_of, subjects), 0.3)
    assert off.blocked == ("porter: no room for a step back, there is 'west wall'.",)
    assert list(off.steps.values()) == [["to camera left", "to camera right", "forward"]]
    assert "porter" not in {mesh.name for mesh in off.stage.meshes} and len(off.stage.probes) == 8


def test_weather_is_of_what_shines(folder):
    """Clouds before a sun; where there is none, more and less sky; nothing indoors."""
    lamp = build_stage(load(folder / "gate.yaml").scene()).lamps[0]
    sun, sky, none = (replace(lamp, name=name, output=output)
                      for name, output in (("sun", 1.0), ("sky", 1.0), ("sun", 0.0)))
    assert [(what, factor) for what, _, factor in weather_of([lamp, sun, sky])] == [
        ("sun two stops down", 0.25), ("sun gone", 0.0)]
    assert [what for what, _, _ in weather_of([none, sky])] == ["sky half", "sky double"]
    assert weather_of([lamp]) == []


def test_amounts_are_said_as_a_crew_says_them():
    assert [stops_said(each) for each in (0.03, -0.1, 0.34, -0.5, 1.02, 1.37, 2.6)] == [
        "less than a tenth of a stop", "a tenth of a stop", "a third of a stop", "half a stop", "a stop",
        "1.4 stops", "2.6 stops"]


@pytest.mark.parametrize(("words", "message"), [
    (["--option", "les"], "has no option 'les'. Did you mean 'less'?"),
    (["--want", "lit side portr 0"], "portr"),
    (["--want", "bright"], "says nothing that can be wanted"),
    (["--step", "1 cm"], "write 2 cm to 3 m"),
])
def test_what_is_not_there_is_refused(folder, words, message, monkeypatch):
    """With what there is; nothing is metered."""
    monkeypatch.setattr("previz.rendering.job.open_stage", lambda *_: pytest.fail("the engine was started"))
    done = run(folder, *words)
    assert done.exit_code == 2 and message in " ".join(done.stderr.split()), done.stderr


def test_nothing_to_be_kept_is_refused(folder, monkeypatch):
    """No want and no figure."""
    monkeypatch.setattr("previz.rendering.job.open_stage", lambda *_: pytest.fail("the engine was started"))
    done = run(folder, scene="bare.yaml")
    assert done.exit_code == 2 and "Nothing is wanted, and there is no figure" in done.stderr
