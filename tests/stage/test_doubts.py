"""What `check` reports of good scenes: whole texts, and that it holds its tongue elsewhere."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.check import command
from previz.physics.lamps import EFFICACY_LM_PER_W
from previz.scene import doubts as places
from previz.scene.fields import table
from previz.scene.light import LIGHTS
from previz.scene.presets import OFFERED, offered_efficacy
from previz.scene.read import load
from previz.stage import shapes
from previz.stage.cautions import LEAST_OF_SOURCE
from previz.stage.doubts import doubts
from previz.stage.lamp_limits import black_body_efficacy, efficacy_range

SCENES = Path(__file__).parents[2] / "scenes"

ROOM = """\
previz: 1
room:
  size: [4 m, 3 m, 2.5 m]
  openings: [{name: window, wall: west, along: 1 m, sill: 1 m, size: [1 m, 1 m]}]
figures: [{name: clerk, at: [2 m, 1.5 m], facing: 0 deg, stature: 1.7 m}]
"""
KEY = "kind: panel, size: [0.5 m, 0.5 m], aim: clerk.face, output: 5 klm"


@pytest.fixture
def reported(tmp_path, monkeypatch):
    """Return what `check` says of a scene's text: its doubts, and its verdict."""
    monkeypatch.chdir(tmp_path)

    def report(text, room=ROOM):
        Path("scene.yaml").write_text(room + text, encoding="utf-8")
        done = CliRunner().invoke(command, ["scene.yaml"], catch_exceptions=False)
        assert done.exit_code == 0
        return done.stderr, done.stdout

    return report


@pytest.mark.parametrize("name", sorted(each.name for each in SCENES.glob("*.yaml")))
def test_shipped_scenes_leave_no_doubt(name):
    """None of their options has anything that is hardly meant."""
    for scene in load(SCENES / name).scenes.values():
        assert doubts(scene) == ()


def test_a_camera_outside_the_room(reported):
    """Reported with its place, and what to write; where a window is before it, nothing is reported."""
    camera = "cameras: [{{name: A, at: {}, aim: clerk.eyes, lens: 35 mm, stop: T4, iso: 800}}]\n"
    doubt, verdict = reported(camera.format("[2 m, -3 m, 1.5 m]"))
    assert doubt == (
        "scene.yaml:6:25: camera 'A' is outside the room and no opening is before it, so it sees nothing "
        "in there.\n"
        "    6 | cameras: [{name: A, at: [2 m, -3 m, 1.5 m], aim: clerk.eyes, lens: 35 mm, stop: T4, iso: "
        "800}]\n"
        "      |                         ^\n"
        "  Move it in (inside the room x runs from 0 m to 4 m, y to 3 m and z to 2.5 m), or before a window "
        "or a door.\n")
    assert verdict == ("scene.yaml: good, with 1 thing to look at. 1 figure, 0 lamps, 1 camera, 0 "
                       "options.\n")
    assert reported(camera.format("[-3 m, 1.5 m, 1.5 m]"))[0] == ""
    # A camera that looks at the house from outside means it.
    assert reported(camera.format("[-3 m, -3 m, 1.5 m]").replace("clerk.eyes", "[-1 m, 2 m, 1 m]"))[0] == ""


def test_a_lamp_outside_the_room(reported):
    """A lamp needs an opening on its side; none is needed over a set that is open above."""
    lamp = "lights: [{{name: key, at: {}, {}}}]\n"
    assert "light 'key' (panel) is outside the room" in reported(lamp.format("[6 m, 1 m, 2 m]", KEY))[0]
    assert "it lights nothing in there" in reported(lamp.format("[6 m, 1 m, 2 m]", KEY))[0]
    assert reported(lamp.format("[-6 m, 1 m, 2 m]", KEY))[0] == ""
    assert "outside the room" in reported(lamp.format("[2 m, 1 m, 4 m]", KEY))[0]
    assert reported(lamp.format("[2 m, 1 m, 4 m]", KEY),
                ROOM.replace("2.5 m]\n", "2.5 m]\n  ceiling: no\n", 1))[0] == ""
    street = "kind: bulb, output: 900 lm"
    assert "outside the room" in reported(lamp.format("[2 m, 6 m, 2 m]", street))[0]
    assert reported(lamp.format("[-2 m, 1 m, 2 m]", street))[0] == ""


def test_things_in_bodies(reported):
    """A camera in a figure or in a lantern, a lamp in a figure."""
    camera = "cameras: [{{name: A, at: {}, aim: [4 m, 1 m, 1 m], lens: 35 mm, stop: T4, iso: 800}}]\n"
    assert ("camera 'A' is inside figure 'clerk' and sees the inside of it."
            in reported(camera.format("[2.05 m, 1.5 m, 1.55 m]"))[0])
    assert reported(camera.format("[2.4 m, 1.5 m, 1.55 m]"))[0] == ""
    # Over the crown, and between the legs.
    assert reported(camera.format("[2 m, 1.5 m, 2 m]"))[0] == ""
    assert reported(camera.format("[2 m, 1.5 m, 0.3 m]"))[0] == ""
    bulb = "lights: [{name: glow, kind: bulb, at: [2 m, 1.5 m, 1.2 m], output: 400 lm}]\n"
    assert "light 'glow' (bulb) is inside figure 'clerk' and lights its inside." in reported(bulb)[0]
    lantern = "lights: [{name: moon, kind: lantern ball, at: [3 m, 1 m, 1.5 m], output: 4000 lm}]\n"
    assert ("camera 'A' is inside light 'moon' (lantern ball) and sees nothing but it."
            in reported(lantern + camera.format("[3.1 m, 1 m, 1.6 m]"))[0])


def test_boards_in_walls(reported):
    """By how much and through which; a window or the set's open top lets them through."""
    board = "boards: [{{name: card, at: {}, facing: {}, size: [1.2 m, 1.2 m]}}]\n"
    # Square to the corner it reaches 0.6 m to each side of 0.4 m: 0.2 m through the wall.
    doubt, _ = reported(board.format("[2 m, 0.4 m, 1 m]", "[4 m, 0.4 m, 1 m]"))
    assert doubt == (
        "scene.yaml:6:27: board 'card' goes through the south wall by 0.2 m.\n"
        "    6 | boards: [{name: card, at: [2 m, 0.4 m, 1 m], facing: [4 m, 0.4 m, 1 m], size: [1.2 m, 1.2 "
        "m]}]\n"
        "      |                           ^\n"
        "  Move it off the wall, or make it smaller.\n")
    assert "through the floor by 0.2 m" in reported(board.format("[2 m, 1 m, 0.4 m]", "[2 m, 3 m, 0.4 m]"))[0]
    high = board.format("[2 m, 1 m, 2.2 m]", "[2 m, 3 m, 2.2 m]")
    assert "through the ceiling by 0.3 m" in reported(high)[0]
    assert reported(high, ROOM.replace("2.5 m]\n", "2.5 m]\n  ceiling: no\n", 1))[0] == ""
    assert reported(board.format("[2 m, 0.7 m, 1 m]", "[4 m, 0.7 m, 1 m]"))[0] == ""
    assert "is in the south wall" in reported(board.format("[2 m, -0.1 m, 1 m]", "[2 m, 3 m, 1 m]"))[0]
    window = board.format("[0.2 m, 1.5 m, 1.5 m]", "[0.2 m, 3 m, 1.5 m]").replace("1.2 m, 1.2", "0.8 m, 0.8")
    assert reported(window)[0] == ""
    frame = ("lights: [{name: key, at: [3.9 m, 0.1 m, 2 m], " + KEY + "}]\n"
             "diffusion: [{name: silk, before: key, size: [1.2 m, 1.2 m]}]\n")
    assert "diffusion frame 'silk' goes through the" in reported(frame)[0]


def test_corners_are_the_stages_own(tmp_path):
    """The pure sums of the check agree with the axes that the stage is built by."""
    path = tmp_path / "scene.yaml"
    path.write_text(ROOM + "boards:\n  - {name: card, at: [1 m, 1 m, 1.2 m], facing: [3 m, 2.2 m, 0.4 m], "
                    "size: [1.1 m, 0.6 m], turn: 25 deg}\n")
    scene = load(path).scene()
    board = scene.boards[0]
    middle, ends = places._corners(scene, board)
    axes = shapes.aimed(np.subtract(board.facing.point, board.at), np.radians(25))
    expected = [middle + a * axes[:, 0] * 0.55 + b * axes[:, 1] * 0.3 for a in (-1, 1) for b in (-1, 1)]
    assert np.allclose(ends, expected)


def test_lamps_that_give_more_than_they_can(reported):
    """Lumens against the kind's own, and lumens for each watt against what makes the light."""
    lamp = "lights: [{{name: key, kind: {}, at: [1 m, 1 m, 2 m], {}}}]\n"
    doubt, _ = reported(lamp.format("practical", "output: 9000 lm"))
    assert doubt == (
        "scene.yaml:6:68: light 'key' (practical) gives 9000 lm, and the kind gives 200 lm to 1600 lm.\n"
        "    6 | lights: [{name: key, kind: practical, at: [1 m, 1 m, 2 m], output: 9000 lm}]\n"
        "      |                                                                    ^\n"
        "  Check its output, or write the kind of lamp that gives as much.\n")
    doubt, _ = reported(lamp.format("practical", "output: {watts: 25 W, efficacy: 60 lm/W}"))
    # A black body of 2700 K gives 12.36 lm/W (check value 1.19), and tungsten up to 1.3 times that.
    assert "would give 60 lm/W, and 2700 K tungsten sources give 5 to 16.1." in doubt
    assert "at 16.1 lm/W, 25 W give 400 lm" in doubt
    assert reported(lamp.format("practical", "output: {watts: 40 W, efficacy: 12 lm/W}"))[0] == ""
    led = "spectrum: led, output: {watts: 8 W, efficacy: 90 lm/W}"
    assert reported(lamp.format("practical", led))[0] == ""
    doubt, _ = reported(lamp.format("bulb", "output: 900 lm, watts: 5 W, spectrum: fluorescent"))
    assert "scene.yaml:6:78: light 'key' (bulb) would give 180 lm/W, and fluorescent sources give" in doubt
    # An intensity and a reading at a distance are lumens too: 4 pi lm for each candela of a bulb, less
    # what its holder takes.
    assert "gives 120000 lm" in reported(lamp.format("bulb", "output: 10 kcd"))[0]
    assert "gives 120000 lm" in reported(lamp.format("bulb", "output: 2500 lx at 2 m"))[0]
    assert reported(lamp.format("bulb", "output: 100 cd"))[0] == ""


def test_mains_that_hardly_fit(reported):
    """A circuit that is fused for more than its supply, and a candle on a circuit; others are left alone."""
    text = ("mains: {supply: 32 A, circuits: [{name: one, breaker: %s A}]}\n"
            "lights: [{name: flame, kind: candle, at: [1 m, 1 m, 1 m]%s}]\n")
    doubt, verdict = reported(text % (63, ", circuit: one"))
    assert "circuit 'one' is fused for 63 A, and the supply for 32 A" in doubt
    assert "scene.yaml:6:55" in doubt
    assert "light 'flame' (candle) is on a circuit and draws nothing from the mains" in doubt
    assert reported(text % (32, ""))[0] == ""


def test_doubts_of_options_are_reported_once(reported):
    """With the option's name; what the scene itself has is not reported again for each of them."""
    doubt, verdict = reported("lights: [{name: key, kind: practical, at: [1 m, 1 m, 2 m], output: 9000 lm}]\n"
                          "options:\n  a: {}\n  b: {lights: {key: {output: 20 klm}}}\n")
    assert doubt.count("gives 9000 lm") == 1
    assert "scene.yaml:9:30: with option 'b', light 'key' (practical) gives 20000 lm" in doubt
    assert "with 2 things to look at" in verdict


def test_offered_efficacies_fit_what_they_are_offered_for(tmp_path):
    """What a message offers for a kind and spectrum is what such a lamp can give."""
    for kind, cls in LIGHTS.items():
        for spectrum in {table(cls)["spectrum"].default, "led", "tungsten", "fluorescent", "metal halide"}:
            light = cls.__new__(cls)
            cct = table(cls)["cct"].default
            for name, value in (("spectrum", spectrum), ("cct", cct)):
                object.__setattr__(light, name, value)
            limits = efficacy_range(light)
            if limits is None or (spectrum == "tungsten" and cct > 3500):
                continue
            if cls.flame and spectrum != "blackbody":
                continue
            _, low, high = limits
            offered = offered_efficacy(cls.usual.efficacy, spectrum)
            assert LEAST_OF_SOURCE * low <= offered <= high, (kind, spectrum)
    assert max(OFFERED.values()) < EFFICACY_LM_PER_W["led"][1]


@pytest.mark.parametrize(("kelvin", "lumens"), [(2000, 1.61), (2700, 12.36), (2856, 16.45), (3200, 27.09)])
def test_efficacy_of_a_black_body(kelvin, lumens):
    """Over all wavelengths (check value 1.19: Planck's law over 380 to 780 nm against all of it)."""
    assert black_body_efficacy(kelvin) == pytest.approx(lumens, rel=0.01)


def test_a_scene_with_boards_is_checked_without_numbers(tmp_path):
    """Walls and bodies cost a check no heavy import."""
    path = tmp_path / "scene.yaml"
    path.write_text(ROOM + "boards: [{name: card, at: [1 m, 1 m, 1 m], facing: clerk, size: [1 m, 1 m]}]\n")
    code = ("import sys; from click.testing import CliRunner; from previz.cli.check import command; "
            f"print(CliRunner().invoke(command, [{str(path)!r}]).exit_code, 'numpy' in sys.modules)")
    reported = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert reported.stdout.split() == ["0", "False"]
