"""`previz render` says what of the rig is in the picture, and marks it on the still."""

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.deliver.index import read_index
from previz.scene.read import load
from previz.sight.rig_bodies import CameraBody, Stand, bodies_of
from previz.stage.build import build_stage

# A night window square to the camera, the key behind the camera's shoulder, a bulb left in shot,
# and a card that stands at the wall next to the window.
SCENE = """\
previz: 1
title: Night shift
room:
  size: [4 m, 4 m, 3 m]
  wall_thickness: 0.2 m
  surfaces: {floor: {reflectance: 0.2}, walls: {reflectance: 0.2}, ceiling: {reflectance: 0.2}}
  openings: [{name: yard window, wall: north, along: 0.5 m, sill: 0.5 m, size: [3 m, 2 m]}]
lights:
  - {name: key, kind: panel, at: [2.8 m, 0.5 m, 1.9 m], aim: [2.8 m, 4 m, 1.9 m],
     size: [0.3 m, 0.3 m], output: 2000 lm}
  - {name: lamp, kind: bulb, at: [1.4 m, 3 m, 1.4 m], output: 100 lm, in_shot: yes}
boards:
  - {name: card, at: [0.75 m, 3.7 m, 1.5 m], facing: [2 m, 0 m, 1.5 m], size: [0.3 m, 0.3 m]}
cameras:
  - {name: A, at: [2 m, 1 m, 1.5 m], aim: [2 m, 4 m, 1.5 m], lens: 20 mm, stop: T2.8, iso: 800}
options:
  night: {}
  dark: {lights: {key: {on: no}}}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("rig")
    (found / "night.yaml").write_text(SCENE, encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def done(folder):
    made = CliRunner().invoke(previz, [
        "render", str(folder / "night.yaml"), "--size", "192x108", "--quality", "draft", "--samples", "4",
        "--no-exr", "--mark-rig", "--scopes", "--out", str(folder / "out")])
    assert made.exit_code == 0, made.output
    return made


@pytest.mark.engine
def test_every_picture_says_what_is_in_it(done):
    """Left in shot, not meant to be seen, and given away by the window: each in its own words."""
    lines = done.stderr.splitlines()
    first = lines.index("night, camera A: of the rig in the picture")
    last = lines.index("dark, camera A: of the rig in the picture")
    night = [line.strip() for line in lines[first + 1:last]]
    assert any(line.startswith("lamp, left") and line.endswith("left in shot") for line in night)
    assert any(line.startswith("card, left") and line.endswith("not meant to be seen")
               for line in night)
    assert any(line.startswith("stand of card, ") for line in night)
    assert any(line.startswith("key in the glass of yard window, middle, 0.3 %") and
               line.endswith("not meant to be seen") for line in night)


@pytest.mark.engine
def test_the_index_keeps_it(done, folder):
    """Where the key's mirror image lies is geometry; a lamp that is off is no longer given away."""
    entries = {entry.option: entry for entry in read_index(folder / "out").entries if entry.option}
    seen = {(each["name"], each["within"]): each for each in entries["night"].settings["rig"]}
    key = seen["key", "yard window"]
    # The pane is at y = 4.1 plus half a bar, 4.12; the key's face lies just before y = 0.5.
    stage = build_stage(load(folder / "night.yaml").scene("night"))
    camera, pane = stage.cameras[0], stage.panes[0]
    face = next(e for e in stage.emitters if e.name == "key").vertices.mean(axis=0)
    image = face + [0, 2 * (pane.centre[1] - face[1]), 0]
    x, y, depth = (image - camera.position) @ camera.world_from_camera
    middle = [0.5 + x / depth / camera.tan_half[0] / 2, 0.5 - y / depth / camera.tan_half[1] / 2]
    left, top, right, bottom = key["box"]
    assert [(left + right) / 2, (top + bottom) / 2] == pytest.approx(middle, abs=0.006)
    assert (key["where"], key["on_purpose"]) == ("in frame", False)
    dark = {(each["name"], each["within"]): each for each in entries["dark"].settings["rig"]}
    assert dark["key", "yard window"]["where"] == "too faint to notice"
    # What the truck brings besides the lamps.
    grip, = entries["dark"].settings["grip"]
    assert grip["name"] == "card" and grip["what"].startswith("board, ") and len(grip["size"]) == 2
    assert entries["dark"].settings["hung"] == {}
    kinds = {file.kind for file in entries["night"].files}
    assert {"rig", "scopes"} <= kinds


@pytest.mark.engine
def test_it_is_marked_on_the_still(done, folder):
    """Round the window's reflection runs a line of the colour of what was not meant to be seen."""
    with Image.open(folder / "out" / "night-A-draft-rig.png") as sheet, \
            Image.open(folder / "out" / "dark-A-draft-rig.png") as other:
        marks = [int(np.all(np.array(each) == (255, 170, 40), axis=-1).sum())
                 for each in (sheet, other)]
    # In the dark the card and its stand are marked still, and the key's reflection is not.
    assert marks[0] > 1.05 * marks[1] > 0


def test_what_stands_on_what(folder):
    """Panel and card stand on stands, the bulb left in shot does not; a camera is a body."""
    scene = load(folder / "night.yaml").scene("night")
    bodies = bodies_of(scene, build_stage(scene))
    assert [(body.name, type(body)) for body in bodies] == [
        ("stand of key", Stand), ("stand of card", Stand), ("camera A", CameraBody)]
    card = bodies[1]
    # Its pole ends at the sheet's lower edge: 1.5 m less half of 0.3 m.
    assert card.top == pytest.approx([0.75, 3.7, 1.35], abs=1e-6)
    assert card.foot == pytest.approx([0.75, 3.7, 0.0])


def test_what_hangs_has_no_stand(folder):
    """A lamp within half a metre of the ceiling hangs; one on a piece is held by it."""
    text = SCENE.replace("at: [2.8 m, 0.5 m, 1.9 m]", "at: [2.8 m, 0.5 m, 2.7 m]").replace(
        "lights:", "pieces: [{name: desk, shape: box, at: [0.75 m, 3.7 m], "
        "size: [0.5 m, 0.5 m, 1.2 m]}]\nlights:", 1)
    (folder / "hung.yaml").write_text(text, encoding="utf-8")
    scene = load(folder / "hung.yaml").scene("night")
    assert [body.name for body in bodies_of(scene, build_stage(scene))] == ["camera A"]


def test_a_small_box_on_a_camera_has_no_stand(folder):
    """Within reach of the lens it sits on the camera; across the room it stands on its own."""
    box = "lights:\n  - {name: box, kind: small box, at: [AT], aim: card, output: 300 lm}"
    for at, stands in (("2.1 m, 0.9 m, 1.7 m", 2), ("0.4 m, 0.4 m, 1.7 m", 3)):
        text = SCENE.replace("lights:", box.replace("AT", at), 1)
        (folder / "box.yaml").write_text(text, encoding="utf-8")
        scene = load(folder / "box.yaml").scene("night")
        bodies = bodies_of(scene, build_stage(scene))
        assert sum(isinstance(body, Stand) for body in bodies) == stands
