"""Portrait, study and haze give what the meters read of the same scene, lamps and place.

What they print is held against `meter`'s report on a scene written for it: within rounding where both
take the same paths, within errors where another run has read it.
"""

import dataclasses
import importlib.util
import math
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from previz.deliver import haze_sheet, portrait_sheet, study_sheet
from previz.exposure import faces
from previz.rendering.job import StageJob
from previz.rendering.request import Request
from previz.scene.camera import Meter
from previz.scene.figure import Figure
from previz.scene.read import load
from previz.scene.records import Target
from previz.sight.face_view import head_of
from previz.stage.build import build_stage
from previz.stage.heads import HEAD_RADIUS, NOSE_TO_AXIS
from previz.studies import haze, measures
from previz.studies import meter as meter_session
from previz.studies.portrait import run as portrait_run
from previz.studies.portrait import studio
from previz.studies.study import study

pytestmark = [
    pytest.mark.engine,
    # The colour library warns of optional parts that are not installed.
    pytest.mark.filterwarnings("ignore"),
]

spec = importlib.util.spec_from_file_location("app_one_reading",
                                              Path(__file__).with_name("test_one_reading.py"))
one_reading = importlib.util.module_from_spec(spec)
spec.loader.exec_module(one_reading)


def report_of(scene, cache, precision, *, seed=1, no_spots=True, **more):
    """Return what `previz meter` reads of a scene."""
    file = SimpleNamespace(scene=lambda option: scene, title="", path=Path("scene.yaml"))
    report, = meter_session.meter(
        file, Request(cache, seed=seed, error=precision), options=[""],
        meters=meter_session.Meters(no_spots=no_spots, seconds=60.0, **more)).reports
    return report


def text_of(cell):
    return cell if isinstance(cell, str) else cell.text


def test_a_portrait_gives_what_its_studio_meters(tmp_path, monkeypatch):
    """Each placement's lines are the meters' of that studio, with its key alone alight and the fill."""
    scenes, precision, fill = [], 0.3, -2.0
    built, stages = studio.build_stage, studio.studio

    def kept(scene):
        scenes.append(scene)
        return built(scene)

    monkeypatch.setattr(studio, "build_stage", kept)
    monkeypatch.setattr(studio, "studio", lambda figure: {"hard": stages(figure)["hard"]})
    monkeypatch.setattr(studio, "PLACEMENTS", tuple(
        each for each in studio.PLACEMENTS if each.name in ("frontal", "45° high", "side")))
    # Pictures play no part in it.
    monkeypatch.setattr(portrait_run.StageJob, "frames", lambda *_: None)
    monkeypatch.setattr(portrait_run, "develop", lambda *_: SimpleNamespace(still=None, note=""))
    sitter = SimpleNamespace(figures=(Figure(name="x", at=(0.0, 0.0, 0.0), facing=270.0, hair="none"),))
    row, = portrait_run.portrait(sitter, Request(tmp_path, (16, None), "draft", 1, error=precision),
                                 fill=fill).lines
    scene = next(each for each in scenes if any(light.name == "fill" for light in each.lights))
    for cell in row.cells[1:]:
        levels = {cell.name: 1.0, "fill": 2.0**fill}
        lit = dataclasses.replace(scene, lights=tuple(
            dataclasses.replace(light, on=light.name in levels, dimmer=levels.get(light.name, 1.0))
            for light in scene.lights))
        # So coarse that the paths which the sheet has are read and none are added.
        ledger = one_reading.metered(report_of(lit, tmp_path, 5.0))
        found = re.fullmatch("lit side (.*) lx, (.*)\nshadow side (.*) lx, (.*)\nlit : shadow (.*)\n"
                            "key alone : fill (.*)", "\n".join(portrait_sheet.face_texts(cell)))
        lit_side, shadow_side, (ratio, alone) = found.groups()[:2], found.groups()[2:4], found.groups()[4:]
        ledger.face("portrait", "subject", lit_side, shadow_side, ratio, alone, studio.HEAD)
        assert cell.face.lit_side == ledger.true["subject", "lit", "cheek"]
        ledger.value("portrait", ("subject", "lit", "lx"), cell.face.lit.value, rel=1e-6)
        ledger.value("portrait", ("subject", "lit", "error"), cell.face.lit.error, rel=1e-6)


STORE = """\
previz: 1
title: Lamp store
room: {size: [5 m, 5 m, 3 m], surfaces: {walls: {reflectance: 0.2}}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2.5 m, 2 m],
     facing: [2.5 m, 5 m, 1.6 m]}
lights:
  - {name: spot, kind: fresnel, at: [3.5 m, 4.5 m, 1.9 m], aim: clerk.face, beam: 40 deg, lens: 0.2 m,
     output: 6000 lm, watts: 200 W}
cameras:
  - {name: A, at: [2.5 m, 4 m, 1.6 m], aim: clerk.eyes, lens: 35 mm, stop: T2.8, iso: 800}
"""


def test_a_study_of_the_lamp_as_it_is_gives_what_the_meters_read(tmp_path):
    """Lamp straight: brightest in lux and stops, lux a watt and spill are the meters' without people."""
    (tmp_path / "store.yaml").write_text(STORE, encoding="utf-8")
    scene, precision = load(tmp_path / "store.yaml").scene(), 0.05
    found = study(scene, Request(tmp_path / "one", error=precision), lamp="spot", figure="clerk",
                  sizes=(), distances=(), pictures=False)
    direct, = found.steps
    # Where the ring's brightest meter stands: by the head's own mark, to the angle that was found.
    turn = math.radians(direct.ring.peak_angle)
    head = head_of(build_stage(scene), "clerk")
    towards = np.array([-math.sin(turn), math.cos(turn), 0.0])
    at = head.nose - NOSE_TO_AXIS * head.ahead + HEAD_RADIUS * towards
    meter = Meter(name="head", at=tuple(at), facing=Target("", tuple(at + towards)))
    bare = dataclasses.replace(scene, figures=(), meters=(meter,), lights=(dataclasses.replace(
        scene.lights[0], aim=Target("", tuple(head.nose))),), cameras=tuple(
            dataclasses.replace(each, aim=Target("", tuple(head.nose))) for each in scene.cameras))
    places = {each.name: each.flat for each in report_of(bare, tmp_path / "two", precision, seed=7).places}
    columns = {column.head: column for column in study_sheet._columns(found.spill, found.camera)}
    (lux, stops) = one_reading.cell_texts(columns["brightest"], direct)
    # Each of two runs is good to the precision; 4 of their errors, and what rounding takes.
    room = 4 * math.hypot(precision, places["head"].light.error / places["head"].light.value)
    held = (("brightest", lux, places["head"].light.value, room * places["head"].light.value),
            ("stops", stops, dict(places["head"].working)["A"].value, room / math.log(2)),
            ("light", text_of(columns["light"].cell(direct)), places["head"].light.value / 200,
             room * places["head"].light.value / 200),
            ("spill", text_of(columns["spill"].cell(direct)),
             math.log2(places["back wall"].light.value / places["head"].light.value),
             math.sqrt(2) * room / math.log(2)))
    for name, text, true, within in held:
        value, rounding = one_reading.text_number(text)
        assert value == pytest.approx(true, abs=within + rounding), name
    assert found.spill == "back wall" and text_of(columns["loss"].cell(direct)) == "0.0"


LAMP_ROOM = """\
previz: 1
title: Lamp room
room: {size: [4 m, 4 m, 3 m], surfaces: {walls: {reflectance: 0.05}, floor: {reflectance: 0.05}}}
haze: {level: shafts}
lights:
  - {name: lamp, kind: bulb, at: [3.4 m, 3.2 m, 2.2 m], output: 3000 lm}
cameras:
  - {name: A, at: [2 m, 0.5 m, 1.5 m], aim: [2 m, 4 m, 1.5 m], lens: 25 mm, stop: T2.8, iso: 800}
options:
  clear: {haze: none}
"""
PATCHES = ((0.75, 0.4, 0.3, 0.4), (0.2, 0.7, 0.3, 0.4))
"""Middle and size of what stands for the face and for what is behind it. [share of the picture]"""


def test_a_haze_ladder_gives_what_spot_meters_read(tmp_path, monkeypatch):
    """Both levels and the contrast, without haze and with the scene's own, are the spot meters'."""
    (tmp_path / "room.yaml").write_text(LAMP_ROOM, encoding="utf-8")
    file = load(tmp_path / "room.yaml")

    def patches(stage, camera, frames, figure):
        down, across = (np.indices(frames.shape) + 0.5) / np.reshape(frames.shape, (2, 1, 1))
        return [(abs(across - x) < wide / 2) & (abs(down - y) < high / 2) for x, y, wide, high in PATCHES]

    # Of a face a spot meter sees the skin, and the ladder the whole head: what both see alike is held.
    monkeypatch.setattr(haze, "_face", patches)
    # Draft renders half of that.
    ladder = haze.haze(file.scene(), Request(tmp_path / "one", (96, 48), "draft", 256),
                       factors=(0.0, 1.0)).ladder
    columns = {column.head: column for column in haze_sheet._columns("")}
    levels = []
    for step, option in zip(ladder.steps, ("clear", None), strict=True):
        report = report_of(file.scene(option), tmp_path / "two", 0.03, no_spots=False,
                           spots=tuple(f"patch at {100 * x:g} %, {100 * y:g} %" for x, y, *_ in PATCHES),
                           patches=PATCHES)
        spots = [each.stops for each in report.spots]
        read = {"face": spots[0].value, "background": spots[1].value,
                  "contrast": spots[0].value - spots[1].value}
        noise = 4 * math.hypot(step.rung.contrast_error, *(each.error for each in spots))
        assert noise < 0.4, "too noisy to hold anything"
        for head, true in read.items():
            value, rounding = one_reading.text_number(text_of(columns[head].cell(step)))
            assert value == pytest.approx(true, abs=noise + rounding), (step.name, head)
        levels.append(spots)
    # The haze is thick enough for the steps to differ: the darker patch is veiled.
    assert levels[1][1].value - levels[0][1].value > 0.8


def test_measures_keep_which_of_their_meters_fell_short(tmp_path, monkeypatch):
    """Where time runs out, both cheeks of the face that is read are said to be short, with their errors."""
    (tmp_path / "store.yaml").write_text(STORE, encoding="utf-8")
    monkeypatch.setattr(measures, "METER_SECONDS", 0.1)
    stage = build_stage(load(tmp_path / "store.yaml").scene())
    job = StageJob(stage, Request(tmp_path).meter_order())
    both = [measures.OptionMeters(job, each) for each in (1e-9, 10.0)]
    short, enough = (each.short("clerk") for each in both)
    lit = faces.face_light("clerk", *both[0].cheeks("clerk"))
    job.close()
    assert enough == ()
    assert [each.name for each in short] == list(faces.cheeks_of("clerk"))
    of_lit = short[faces.CHEEKS.index(lit.lit_side)]
    assert of_lit.error == pytest.approx(lit.lit.paths / lit.lit.value, rel=1e-6)
