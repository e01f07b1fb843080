"""Lamps that are put where a light has to come from: their place, beam and light, and what they give."""

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import previz
from previz.errors import RequestError
from previz.exposure.comparing.views import bearing
from previz.exposure.faces import cheeks_of
from previz.exposure.metering import mix
from previz.physics.colourtemp import cct_duv, mired, xy_of
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Request
from previz.scene.read import load
from previz.scene.records import Target
from previz.scene.room import Room
from previz.stage.build import build_stage
from previz.stage.lights.output import lumens_alone
from previz.stage.records import Guide
from previz.studies.match_lamp import direction_for
from previz.studies.outside import beam_over, focused, lifted, place_along, soft, wall_reach
from previz.studies.saving import save_option
from previz.studies.sun_lamp import lamp_for_sun

YARD = """\
previz: 1
title: Yard
ground: gravel
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2 m, 3 m], facing: [2 m, 0 m, 1.6 m]}
daylight: {sky: clear, illuminance: 8000 lx, sun: {azimuth: 150 deg, altitude: 30 deg}}
cameras:
  - {name: A, at: [2 m, 1.2 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T11, iso: 100}
options:
  as it is: {}
"""

DOOR = Guide("door", np.array([4.0, 2.0, 1.0]), np.array([0, 1.0, 0]), np.array([0, 0, 1.0]), opening=True)


def test_a_key_is_put_where_the_other_camera_has_it():
    """The direction read back by the same measure is that of the first shot, for cameras all round."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        side, height = rng.uniform(-170, 170), rng.uniform(-40, 70)
        camera = SimpleNamespace(position=rng.uniform(-5, 5, 3))
        nose = rng.uniform(-1, 1, 3)
        towards = direction_for(SimpleNamespace(side=side, height=height), camera, nose)
        found = bearing(towards, camera.position - nose)
        assert np.linalg.norm(towards) == pytest.approx(1)
        assert (-found[0], found[1]) == pytest.approx((side, height))


def test_a_beam_just_fills_an_opening():
    """Its edge is at the farthest corner: atan(sqrt 2 / 10) from ten metres before a square of 2 m."""
    at = DOOR.centre + np.array([10.0, 0, 0])
    assert beam_over(at, DOOR.centre, DOOR) == pytest.approx(2 * np.degrees(np.arctan(2**0.5 / 10)))
    # Aimed beyond the edge of it, it has to be wider.
    assert beam_over(at, DOOR.centre + [0, 1.0, 0], DOOR) > 1.3 * beam_over(at, DOOR.centre, DOOR)


def test_a_lamp_stands_outside_the_opening_or_as_far_as_there_is_room():
    """On the line from the face: beyond the door, else before the wall, never under the floor."""
    scene = SimpleNamespace(room=Room(size=(4.0, 4.0, 2.5)))
    stage, face = SimpleNamespace(guides=[DOOR]), np.array([1.0, 2.0, 1.5])
    at, opening = place_along(scene, stage, face, np.array([1.0, 0, 0]), 10.0, 1.0)
    assert opening is DOOR
    assert at == pytest.approx([14.0, 2.0, 1.5])
    at, opening = place_along(scene, stage, face, np.array([0, 1.0, 0]), 10.0, 5.0)
    assert opening is None
    assert at == pytest.approx([1.0, 4.0 - 0.3, 1.5])
    # From under the face: a middle of the lamp 15 cm over the floor, however far it should be.
    down = np.array([0, 0.6, -0.8])
    assert place_along(scene, stage, face, down, 10.0, 5.0)[0][2] == pytest.approx(0.15)
    with pytest.raises(RequestError, match=r"no room for a lamp.*0\.3 m"):
        place_along(scene, stage, np.array([1.0, 0.6, 1.5]), np.array([0, -1.0, 0]), 10.0, 5.0)
    assert wall_reach(Room(size=(4.0, 4.0, 2.5), ceiling=False), face, np.array([0, 0, 1.0])) == np.inf


@pytest.mark.parametrize(("height", "word"), [(0.4, "low stand"), (3.0, "a stand"), (8.0, "tower"),
                                              (15.0, "crane")])
def test_what_lifts_a_lamp_follows_its_height(height, word):
    """A stand, a tower, a lift; common practice, no source."""
    assert word in lifted(height)


@pytest.mark.parametrize(("intensity", "beam", "kind"), [
    (6e6, 28.0, "daylight lamp"), (1e6, 8.0, "parallel beam"), (2e4, 30.0, "fresnel")])
def test_the_kind_of_lamp_follows_its_light_and_beam(intensity, beam, kind):
    """A big lamp for much light, a mirror for a narrow beam; its middle is as bright as was requested."""
    light = focused("key", np.zeros(3), Target("clerk"), intensity=intensity, beam=beam, cct=4620.0)
    assert (light.kind, light.beam) == (kind, beam)
    per_lumen = light.output.value / intensity
    # A sharp cone of that beam has 2 pi (1 - cos(beam / 2)) lm for each cd; a soft edge a quarter more.
    assert per_lumen == pytest.approx(1.25 * 2 * np.pi * (1 - np.cos(np.radians(beam / 2))), rel=0.03)


def test_a_soft_lamp_is_as_bright_ahead_as_requested():
    """A Lambertian front gives pi lumens for each candela ahead of it."""
    light = soft("key", np.zeros(3), Target("clerk"), intensity=1000.0, width=0.8, cct=5600.0)
    assert light.output.value == pytest.approx(1000 * np.pi, rel=1e-3)
    assert lumens_alone(light) == light.output.value


def lit(scene, request, meter):
    """All light at a meter."""
    stage = build_stage(scene)
    job = StageJob(stage, request.meter_order())
    gathered = StageMeters(job).incident(Effort(0.01, 20), cheeks_of("clerk"))
    return stage, mix(gathered, stage.lamps)[meter]


@pytest.mark.engine
def test_the_option_gives_the_face_what_the_sun_gave(tmp_path):
    """The saved option, read and metered with other random numbers: light and colour of the lit side."""
    path = tmp_path / "yard.yaml"
    path.write_text(YARD, encoding="utf-8")
    file, meter = load(path), cheeks_of("clerk")[0]
    request = Request(tmp_path / "frames", quality="draft")
    scene = file.scene("as it is")
    stage, reading = lit(scene, request, meter)
    lamp = lamp_for_sun(scene, stage, stage.sun, request, label="the sun of 10:00", throw=10.0,
                        figure="clerk", meter=meter, light=reading)
    save_option(file, "lamp", "as it is", lamp.scene)
    saved = load(path).scene("lamp")
    assert saved.lights == lamp.scene.lights
    after, given = lit(saved, replace(request, seed=7), meter)
    # 0.1 stop is what the issue asks; the meters are good to 1 %.
    assert abs(np.log2(given.light().value / reading.light().value)) < 0.05
    assert given.light(("sky",)).value == pytest.approx(reading.light(("sky",)).value, rel=0.05)
    # It comes from where the sun stands, ten metres away.
    face = np.asarray(stage.places["clerk.face"])
    assert np.asarray(lamp.light.at) - face == pytest.approx(10 * np.asarray(stage.sun.towards), abs=0.01)
    sun, own = (cct_duv(xy_of(each.spectrum))[0] for each in (stage.lamps[0], after.lamps[0]))
    assert abs(mired(own) - mired(sun)) < 1
    told = " ".join(lamp.words())
    assert "stands 6.6 m over the floor: a scaffold tower" in told
    assert {row["quantity"] for row in lamp.rows()} >= {"added_lamp_x", "lamp_flux", "added_lamp_gives"}


ROOM = """\
previz: 1
title: Yard at night
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.3}}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2 m, 3 m], facing: [2 m, 0 m, 1.6 m]}
lights:
  - {name: box, kind: soft box, at: [0.9 m, 1.6 m, 1.9 m], aim: clerk.face, size: [0.8 m, 0.8 m],
     output: 4000 lm, cct: 5600 K, spectrum: led}
  - {name: other, kind: fresnel, at: [3.6 m, 2.2 m, 1.9 m], aim: clerk.face, output: 1500 lm, on: no}
cameras:
  - {name: A, at: [2 m, 1.2 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B, at: [2.8 m, 1.2 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T4, iso: 800,
     white_balance: 4300 K}
options:
  box: {}
  other: {lights: {box: {on: no}, other: {on: yes}}}
"""


@pytest.mark.engine
@pytest.mark.long
def test_the_second_shot_gets_the_key_of_the_first(tmp_path):
    """Of the saved option, match-cut finds lit side, direction, colour and edge those of the first shot."""
    (tmp_path / "room.yaml").write_text(ROOM, encoding="utf-8")
    more = ["--size", "96x54", "--quality", "draft", "--out", str(tmp_path / "out"), "--json"]

    def differences(second, *words):
        first = f"{tmp_path / 'room.yaml'}:box:A"
        done = CliRunner().invoke(previz, ["match-cut", first, second, *more, *words])
        assert done.exit_code == 0, done.output
        rows = json.loads(done.stdout)["rows"]
        return {row["quantity"]: row["value"] for row in rows if row["quantity"].endswith("_difference")}

    before = differences(":other:B", "--save", "matched")
    assert before["direction_difference"] > 60
    assert abs(before["face_difference"]) > 1
    after = differences(":matched:B")
    # 3 % meters twice, and panoramas of few paths for the direction.
    assert abs(after["face_difference"]) < 0.1
    assert after["direction_difference"] < 3
    assert abs(after["mired_difference"]) < 3
    assert abs(after["softness_difference"]) < 0.2


def test_an_option_that_cannot_be_written_is_refused_before_any_work(tmp_path):
    """Which sun is meant, and a name that is taken, are asked for at once; the file stays."""
    path = tmp_path / "yard.yaml"
    path.write_text(YARD, encoding="utf-8")

    def told(*words):
        done = CliRunner().invoke(previz, [*words])
        assert done.exit_code == 2
        return " ".join(done.output.split())

    times = ["times", str(path), "--place", "52.5, 13.4", "--date", "2026-06-21", "--zone", "+02:00"]
    assert "needs --save-at" in told(*times, "--at", "9:00", "--at", "10:00", "--save", "lamp")
    assert "needs --save" in told(*times, "--at", "9:00", "--save-at", "9:00")
    assert "There is already an option 'as it is'" in told(*times, "--at", "9:00", "--save", "as it is")
    assert "The sun does not shine at 23:00" in told(*times, "--at", "23:00", "--save", "lamp")
    assert "10:00 is not among the times" in told(*times, "--at", "9:00", "--save", "l", "--save-at", "10:00")
    assert "There is already an option 'as it is'" in told(
        "match-cut", f"{path}:as it is", ":as it is", "--save", "as it is")
    assert path.read_text(encoding="utf-8") == YARD
