"""Things that hang: what they hang by is there, seen and shades; nothing stands under them."""


import numpy as np
import pytest

from previz.scene.read import load
from previz.sight.rig_bodies import Stand, bodies_of
from previz.stage.build import BOOM_END
from previz.stage.hanging import BOOM_REACH, DROP, LOOSE, PIPE, _reach
from previz.stage.ingredients import ingredients

ROOM = "room: {size: [4 m, 3 m, 2.5 m]}\n"
LAMP = "lights: [{name: glow, kind: practical, at: [1 m, 1.4 m, 1.6 m], output: 400 lm, shade: none%s}]\n"


def of(stage, name):
    return np.concatenate([m.vertices for m in stage.meshes if m.name == name])


def test_a_practical_stands_unless_it_hangs(plain, tmp_path):
    """By itself on a stem down to the floor; on a cord its holder is over it, and nothing under."""
    low = of(plain.stage_of(tmp_path, ROOM + LAMP % ""), "glow")[:, 2]
    assert low.min() == pytest.approx(0)
    hung = of(plain.stage_of(tmp_path, ROOM + LAMP % ", hung: cord"), "glow")
    assert hung[:, 2].min() > 1.6
    assert hung[:, 2].max() == pytest.approx(2.5)
    # Straight up, as thin as a cord.
    up = hung[hung[:, 2] > 2]
    assert np.hypot(*(up[:, :2] - [1, 1.4]).T).max() < 0.005


def test_a_cord_ends_at_the_first_thing_above(plain, tmp_path):
    """The roof of a box between lamp and ceiling; with nothing above it is reported."""
    roof = ("pieces: [{name: roof, shape: box, at: [1 m, 1.4 m, 2.1 m], size: [1 m, 1 m, 0.05 m]}]\n")
    assert of(plain.stage_of(tmp_path, ROOM + roof + LAMP % ", hung: cord"), "glow")[:, 2].max() == (
        pytest.approx(2.1))
    open_air = plain.stage_of(tmp_path, LAMP % ", hung: cord")
    assert of(open_air, "glow")[:, 2].max() == pytest.approx(1.6 + 0.03 + 0.05 + LOOSE, abs=0.01)
    assert "Check: nothing is above glow that its cord could hang from." in open_air.cautions


def test_a_wall_plate_is_on_the_nearest_wall(plain, tmp_path):
    """Level from the lamp to the west wall at 0.4 m; further than a metre from any wall it is reported."""
    text = ROOM + LAMP % ", hung: wall plate"
    stage = plain.stage_of(tmp_path, text.replace("[1 m, 1.4 m, 1.6 m]", "[0.4 m, 1.4 m, 1.6 m]"))
    body = of(stage, "glow")
    assert body[:, 0].min() == pytest.approx(0, abs=1e-6)
    assert body[:, 2].min() > 1.45 and body[:, 2].max() < 1.75
    far = plain.stage_of(tmp_path, text.replace("[1 m, 1.4 m, 1.6 m]", "[2 m, 1.5 m, 1.6 m]"))
    assert "Check: no wall is within 1 m of glow for its plate." in far.cautions


def test_a_pipe_runs_across_the_beam(plain, tmp_path):
    """A quarter of a metre over the lamp, a metre to each side, or to the wall."""
    key = ("lights: [{name: key, kind: fresnel, at: [0.6 m, 0.5 m, 1.8 m], aim: [0.6 m, 3 m, 1.2 m], "
           "output: 5 klm, hung: pipe}]\n")
    stage = plain.stage_of(tmp_path, ROOM + key)
    pipe = [m.vertices for m in stage.meshes if m.name == "key"][-1]
    pipe = pipe[pipe[:, 2] > pipe[:, 2].max() - 2.1 * PIPE]
    assert pipe[:, 0].min() == pytest.approx(0, abs=1e-6)
    assert pipe[:, 0].max() == pytest.approx(1.6, abs=0.01)
    lamp = np.concatenate([m.vertices for m in stage.meshes if m.name == "key"][:-1])
    assert pipe[:, 2].mean() - lamp[:, 2].max() == pytest.approx(DROP + PIPE, abs=0.03)
    assert any(line.startswith("Overhead: key.") for line in stage.cautions)


@pytest.mark.parametrize("hung", ["cord", "boom", "wall plate", "pipe"])
def test_nothing_stands_under_what_hangs(plain, tmp_path, hung):
    """Lamps and boards alike; a boom has its stand aside, at the end of its arm."""
    text = ROOM + (
        "lights: [{name: key, kind: panel, at: [2 m, 0.6 m, 1.9 m], aim: [2 m, 3 m, 1 m], size: [0.4 m, "
        f"0.4 m], output: 3 klm, hung: {hung}}}]\n"
        "boards: [{name: card, at: [3 m, 2 m, 1.8 m], facing: [1 m, 1 m, 1 m], size: [0.6 m, 0.6 m], "
        f"hung: {hung}}}]\n"
        "cameras: [{name: A, at: [0.5 m, 1 m, 1.5 m], aim: [3 m, 2 m, 1 m], lens: 35 mm, stop: T4, "
        "iso: 800}]\n")
    stage = plain.stage_of(tmp_path, text)
    scene = load(tmp_path / "scene.yaml").scene()
    stands = [body for body in bodies_of(scene, stage) if isinstance(body, Stand)]
    if hung != "boom":
        assert stands == []
        return
    assert [body.name for body in stands] == ["stand of key", "stand of card"]
    # Away from where it looks there are but 0.6 m to the wall, so the arm goes along it.
    assert stands[0].foot[2] == 0
    reach = np.linalg.norm((stands[0].top - stage.places["key"])[:2])
    assert reach == pytest.approx(BOOM_REACH, abs=0.05)
    assert stands[0].top == pytest.approx(stage.places["key" + BOOM_END])
    assert any(line.startswith("Boom: key, card. Weigh down the stand") for line in stage.cautions)


def test_what_it_hangs_by_belongs_to_it(plain, tmp_path):
    """To a lamp's body, so its light and that of others is rendered anew as for any other body."""
    stood = ingredients(plain.stage_of(tmp_path, ROOM + LAMP % ""))
    hung = ingredients(plain.stage_of(tmp_path, ROOM + LAMP % ", hung: cord"))
    assert stood.things == hung.things
    assert stood.bodies["glow"] != hung.bodies["glow"]


def test_reach_is_the_plain_distance():
    """A triangle square to the line is met at its distance; next to it and behind it nothing is."""
    corners = np.array([[[0.0, 0, 2], [1, 0, 2], [0, 1, 2]]])
    up = np.array([0.0, 0, 1])
    assert _reach(corners, np.array([0.2, 0.2, 0.5]), up) == pytest.approx(1.5)
    assert np.isinf(_reach(corners, np.array([0.8, 0.8, 0.5]), up))
    assert np.isinf(_reach(corners, np.array([0.2, 0.2, 2.5]), up))
    assert np.isinf(_reach(corners[:0], np.array([0.2, 0.2, 2.5]), up))


@pytest.mark.engine
def test_what_stands_shades_and_what_hangs_does_not(bench, tmp_path):
    """Right under a bulb its stand's foot and holder take all of the light; hung it gives I / d².

    400 lm from a ball are 31.83 cd (check value 1.21) but for what holder and cord send back.
    """
    under = bench.Meters(np.array([[1.0, 1.4, 0.6]]), np.array([[0.0, 0, 1]]), np.ones(1))
    lit = [bench.light(bench.stage_of(tmp_path, LAMP % hung), under, samples=4000)[0, 0]
           for hung in ("", ", hung: cord")]
    assert lit[0] < 0.02 * lit[1]
    # Of the bulb's light its holder's share is made up for (`own_body`).
    assert lit[1] == pytest.approx(1 / (4 * np.pi), rel=0.12)
