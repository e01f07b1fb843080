"""`previz match-cut`: shots as they are named, a shot against itself, and haze."""

import json
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import previz
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure.comparing.match import Side, differences
from previz.exposure.comparing.views import pinhole_rays
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.physics.exposure import CameraSettings
from previz.rendering.request import Order
from previz.stage.records import Camera, Haze, Stage
from previz.studies import veil
from previz.studies.match import Reference, _words, reference, take
from previz.studies.veil import optical_depth

SCENE = """\
previz: 1
title: Yard at night
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.3}}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2 m, 3 m],
     facing: [2 m, 0 m, 1.6 m]}
lights:
  - {name: box, kind: soft box, at: [0.9 m, 1.6 m, 1.9 m], aim: clerk.face, size: [0.8 m, 0.8 m],
     output: 4000 lm, cct: 5600 K, spectrum: led}
cameras:
  - {name: A, at: [2 m, 1.2 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T2.8, iso: 800}
options:
  clear: {}
  brighter: {lights: {box: {output: 8000 lm}}, cameras: {A: {white_balance: 4300 K}}}
  hazy: {haze: {density: 0.2 /m}}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("match")
    (found / "yard.yaml").write_text(SCENE, encoding="utf-8")
    return found


def run(folder, *words):
    return CliRunner().invoke(previz, [
        "match-cut", *words, "--size", "96x54", "--quality", "draft", "--samples", "4", "--out",
        str(folder / "out")])


@pytest.mark.parametrize(("text", "expected"), [
    ("shed.yaml", ("shed.yaml", "", "")), ("shed.yaml:low sun", ("shed.yaml", "low sun", "")),
    ("shed.yaml:low sun:B", ("shed.yaml", "low sun", "B")), (":dusk", ("one.yaml", "dusk", "")),
    ("::B", ("one.yaml", "noon", "B")), ("shed.yaml::B", ("shed.yaml", "", "B")),
])
def test_shots_are_named_by_file_option_and_camera(text, expected):
    """What is left out is taken from the shot before, or is the first."""
    found = reference(text, Reference("one.yaml", "noon", "A"))
    assert (str(found.path), found.option, found.camera) == expected


def test_a_file_with_options_stands_for_its_first(folder, tmp_path):
    """Named or not; the scene as written only where there are no options, and the first camera."""
    assert [take(Reference(folder / "yard.yaml", option), "one").scene.option for option in ("", "hazy")] == [
        "clear", "hazy"]
    bare = tmp_path / "bare.yaml"
    bare.write_text(SCENE.split("options:")[0])
    found = take(Reference(bare, ""), "one")
    assert (found.scene.option, found.camera) == ("", "A")


def test_what_a_side_lacks_is_compared_with_nothing():
    """A key or a colour on one side alone has no difference; on both it has, and each has its words."""
    settings = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48)
    lit, shadow = Measured(1000.0, 5.0), Measured(500.0, 5.0)
    key = SimpleNamespace(side=30.0, height=20.0, off_nose=40.0, edge=0.01, across=12.0)

    def side(key, cct):
        face = FaceLight("clerk", "left", lit, shadow, cct, None if cct is None else 0.002)
        return Side("one", SimpleNamespace(face=face, key=key, settings=settings, background=None))

    whole, bare = side(key, 4300.0), side(None, None)
    nobody = Side("two", SimpleNamespace(face=None, key=None, settings=settings, background=None))
    for one, two in ((whole, bare), (bare, whole), (bare, bare), (whole, nobody), (nobody, whole)):
        found = differences(one, two)
        assert [found[name] for name in ("direction", "softness", "mired", "duv")] == [None] * 4
        assert found["face"] == found["ratio"] == (None if nobody in (one, two) else 0)
    found = differences(whole, side(key, 4600.0))
    assert (found["softness"], found["duv"]) == (0, 0)
    # A million over each temperature, 1e6 (1 / 4600 - 1 / 4300): cooler by 15.2 mired.
    assert abs(found["mired"]) == pytest.approx(15.17, abs=0.01)
    said = {name: _words(name, whole) for name in ("face", "ratio", "direction", "softness", "mired", "duv")}
    assert all(len(words) > 4 for words in said.values()) and len(set(said.values())) == 6
    assert said["softness"] == "10.0 mm, key 12° wide" and "4300 K" in said["mired"]
    assert [_words(name, bare) for name in ("direction", "softness", "mired", "duv")] == ["–"] * 4


class Rendered:
    """A job whose picture is worked out: a flat wall, through air of an even density or without."""

    density, wall, glow = 0.3, 4.0, 50.0

    def __init__(self, stage, order):
        self.stage, self.order = stage, order

    def cached(self, camera):
        rows, columns = self.order.height, self.order.width
        rays, _ = pinhole_rays(rows, columns, np.asarray(camera.world_from_camera, float), camera.tan_half)
        reach = self.wall / (rays @ np.asarray(camera.world_from_camera)[:, 2])
        light = 100.0 * np.ones((rows, columns))
        if self.stage.haze is not None:
            light = light * np.exp(-self.density * reach) + self.glow
        return SimpleNamespace(shape=(rows, columns), depth=np.full((rows, columns), self.wall), light=light)

    def close(self):
        """Nothing is held."""


@pytest.mark.parametrize("tan_half", [0.2, 2.0])
def test_a_veil_is_what_the_air_adds(tan_half, monkeypatch):
    """Beer's law along each line of sight leaves what the air glows, over mid grey, by any lens."""
    monkeypatch.setattr(veil, "StageJob", Rendered)
    monkeypatch.setattr(veil, "mix_xyz", lambda frames, lamps: np.stack([frames.light] * 3))
    camera = Camera("A", np.eye(3)[:, [0, 2, 1]], np.zeros(3), (tan_half, tan_half), 1.0, 0.0, 1.0, 2.8,
                    800, 1 / 48, 0.0, 5600.0, 0.0, 0.03, (0.02, 0.02))
    air = Haze(Rendered.density, np.ones(81), 0.0, 0.0, 0.0, np.full(3, -1e3), np.full(3, 1e3))
    stage = Stage("yard", {}, (), (), (), haze=air)
    order = Order(16, 16, Sampling(1, 1, 1), 1, "processor", None)
    found = veil.veil_of(SimpleNamespace(stage=stage, order=order), camera, 0.002)
    assert found == pytest.approx(Rendered.glow * 0.002 / 0.18, rel=1e-3)


@pytest.mark.parametrize("text", ["", "a:b:c:d"])
def test_what_names_no_shot_is_refused(text):
    """No file, or too many parts."""
    with pytest.raises(RequestError, match="names no shot"):
        reference(text)


def test_even_haze_adds_up_along_the_path():
    """Optical depth is density times distance; in a box only the part inside counts."""
    directions, far = np.eye(3)[:2], np.array([10.0, 10.0])
    even = Haze(0.05, np.ones(81), 0.7, 0.0, 0.0, np.full(3, -100.0), np.full(3, 100.0))
    assert optical_depth(even, np.zeros(3), directions, far) == pytest.approx(0.5)
    boxed = Haze(0.05, np.ones(81), 0.7, 0.0, 0.0, np.array([0, -1, -1.0]), np.array([5, 1, 1.0]))
    # 5 m of the first path; the box's width of 1 m of the second: a step of 64 along it.
    assert optical_depth(boxed, np.array([1e-6, 0, 0]), directions, far) == pytest.approx(
        [0.25, 0.05], abs=0.05 * 10 / 64)


def test_haze_that_thins_has_its_integral():
    """Straight up: beta h (1 - exp(-d / h)) for an e-folding height h."""
    thin = Haze(0.1, np.ones(81), 0.7, 1 / 3.0, 0.0, np.full(3, -100.0), np.full(3, 100.0))
    found = optical_depth(thin, np.zeros(3), np.array([[0, 0, 1.0]]), np.array([6.0]))
    assert found[0] == pytest.approx(0.1 * 3 * (1 - np.exp(-2)), rel=1e-3)


@pytest.mark.engine
def test_a_shot_cuts_with_itself(folder):
    """Nothing is different; the sheet is written; the second side renders nothing."""
    done = run(folder, f"{folder}/yard.yaml:clear", ":clear")
    assert done.exit_code == 0, done.output
    assert done.stdout.splitlines()[-1] == "They cut."
    data = run(folder, f"{folder}/yard.yaml:clear", ":clear", "--json")
    rows = json.loads(data.stdout)["rows"]
    assert [row["value"] for row in rows if row["quantity"] == "verdict"] == ["They cut."]
    assert [row["value"] for row in rows if row["quantity"] == "face_difference"] == [0.0]
    assert [p.name for p in (folder / "out").glob("match-*")] and done.stderr.count("cache") == 1


@pytest.mark.engine
def test_what_differs_is_named_with_what_to_do(folder):
    """Twice the light is a stop; 5600 K at 4300 K is a step of 54 mired (check value 2.5)."""
    # The background is a stop off as well, which is its limit to a rounding.
    done = run(folder, f"{folder}/yard.yaml:clear", ":brighter", "--allow", "background=1.5")
    assert done.exit_code == 0, done.output
    assert "They do not cut yet: lit side and colour" in done.stdout
    assert "close brighter from T2.8 to T4.0, or add ND 0.3." in done.stderr
    assert "or set its balance to 5" in done.stderr
    loose = run(folder, f"{folder}/yard.yaml:clear", ":brighter", "--allow", "face=1.2",
                "--allow", "mired=60", "--allow", "background=1.5", "--allow", "duv=0.05")
    assert loose.stdout.splitlines()[-1] == "They cut."


@pytest.mark.engine
def test_haze_lays_a_veil(folder):
    """Haze of 0.2 /m lifts the picture; clear air has no veil."""
    done = run(folder, f"{folder}/yard.yaml:clear", ":hazy")
    assert done.exit_code == 0, done.output
    assert "haze veil" in done.stdout
    assert "less haze in hazy" in done.stderr


@pytest.mark.parametrize(("words", "message"), [
    (["--allow", "hue=3"], "there is no limit 'hue'; there are face (0.5 stops)"),
    (["--allow", "face"], "'face' sets no limit; write for example 'face=0.5'"),
    (["--allow", "face=-1"], "sets no limit"),
])
def test_limits_that_are_none_are_refused(folder, words, message):
    """A limit needs a name that there is and a number."""
    done = run(folder, f"{folder}/yard.yaml", ":clear", *words)
    assert done.exit_code == 2
    assert message in " ".join(done.output.split())
