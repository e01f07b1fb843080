"""The grip list: what holds each lamp and sheet, counted by hand from the workshop's places."""

import math
import re

import pytest

from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.paper.grip import (
    SAFETY,
    SANDBAGS,
    bags_for,
    grip_lines,
    grip_notes,
    sandbag_rule,
    stand_for,
)
from previz.studies.paper.lamps import lamp_lines
from previz.studies.paper.support import Supports
from tests.studies.paper.listed import workshop


@pytest.fixture(scope="module")
def lists(tmp_path_factory):
    return workshop(str(tmp_path_factory.getbasetemp()))


def counts(lines):
    return {line.what: line.count for line in lines if not line.name}


def of(lines, what):
    return next((line.of for line in lines if line.what == what), ())


def test_sheets_with_their_places(lists):
    """A frame before a lamp stands square to the beam, `distance` from its face."""
    lines = {line.name: line for line in lists["evening"][3].grip if line.name}
    assert {name: (line.tag, line.what, line.support) for name, line in lines.items()} == {
        "bounce": ("B1", "board, white card", "stand"), "wall": ("B2", "board, black cloth", "two stands"),
        "silk": ("D1", "diffusion frame, half silk", "before key at 0.50 m"),
        "wide silk": ("D2", "diffusion frame, full silk", "two stands"),
        "cutter": ("F1", "flag", "before rim at 0.40 m"),
        "net": ("N1", "double net", "before fill at 0.50 m")}
    assert math.dist(lines["silk"].at, (1, 1, 2)) == pytest.approx(0.5)


def test_stands_by_the_height_that_they_reach(lists):
    """Key 2 m, fill 1.6 m, bounce 1.5 m, silk 1.9 m, two each of wall 1.6 m and wide silk 2.2 m."""
    lines = lists["evening"][3].grip
    assert of(lines, "stand, medium, to 2.50 m") == ("key", "fill", "bounce", "wall", "silk", "wide silk")
    assert counts(lines)["stand, medium, to 2.50 m"] == 8
    # A daylight lamp of kilowatts is heavy; a boom's stand takes it over the lamp at 2.6 m.
    assert of(lines, "heavy stand, high, to 4.00 m") == ("yard",)
    assert of(lines, "stand, high, to 4.00 m") == ("top",)
    assert [stand_for(height) for height in (1.3, 1.31, 2.5, 4.0, 4.01)] == [
        "stand, low, to 1.30 m", "stand, medium, to 2.50 m", "stand, medium, to 2.50 m",
        "stand, high, to 4.00 m", "tower or lift, over 4.00 m"]


def test_what_hangs_has_a_safety_wire_and_so_has_what_is_on_it(lists):
    """Rim, its snoot and the flag before it, the overhead box, the panel on the boom (check value 7.4)."""
    lines = lists["evening"][3].grip
    assert of(lines, SAFETY) == ("rim", "over", "top", "cutter") and counts(lines)[SAFETY] == 5
    assert "second suspension" in " ".join(grip_notes(lines))


def test_arms_clamps_booms_and_pipes(lists):
    lines = lists["evening"][3].grip
    found = counts(lines)
    assert of(lines, "arm with clamp") == ("silk", "cutter", "net")
    assert (found["board clamp"], found["frame holder"]) == (3, 2)
    assert (found["boom arm"], found["pipe clamp"], found["pipe, 2.00 m, with its fixings"]) == (1, 1, 1)
    night = counts(lists["night"][3].grip)
    assert night["arm with clamp"] == found["arm with clamp"] - 1
    assert night["stand, medium, to 2.50 m"] == 7


def test_sandbags_by_the_plain_rule(lists):
    """1 to 1.8 m, 2 to 3 m, 3 over that; 1 behind a boom; 1 for each begun m² of sail out of doors."""
    assert [bags_for(height) for height in (1.8, 1.81, 3.0, 3.01)] == [1, 2, 2, 3]
    assert bags_for(1.5, boom=True) == 2
    assert [bags_for(1.5, sail=sail) for sail in (0.0, 0.19, 0.2, 1.0, 1.1)] == [1, 1, 2, 2, 3]
    # Key 2, fill 1, top 2 + 1, yard 2 + 1 (0.36 m²), bounce 1, wall 2 x 1, silk 2, wide silk 2 x 2.
    lines = lists["evening"][3].grip
    assert counts(lines)[SANDBAGS["metric"]] == 2 + 1 + 3 + 3 + 1 + 2 + 2 + 4
    assert sandbag_rule() in grip_notes(lines) and "competent person" in sandbag_rule()
    # 1.8 m is 5.91 ft, 3 m is 9.84 ft, 0.2 m² are 2.15 ft²: to the half foot and to the square foot.
    imperial = sandbag_rule("imperial")
    assert "stand to 6', 2 to 10'," in imperial and "from 2 ft² on" in imperial and not re.search(
        r"[0-9] m\b", imperial)


ODD = """\
previz: 1
title: Odd places
room: {size: [6 m, 5 m, 3 m]}
pieces:
  - {name: table, shape: table, at: [2 m, 2 m]}
  - {name: locker, shape: cabinet, at: [5 m, 4 m], size: [1 m, 1 m, 1.2 m]}
  - {name: rack, shape: box, at: [1 m, 4.5 m, 2 m], size: [1 m, 0.4 m, 0.03 m]}
  - {name: rail, shape: box, at: [3 m, 1 m], size: [4 m, 0.07 m, 0.1 m]}
lights:
  - {name: low, kind: panel, at: [1 m, 1 m, 0.3 m], aim: [3 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm}
  - {name: on table, kind: panel, at: [2 m, 2 m, 0.95 m], aim: [3 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm}
  - {name: under rack, kind: small box, at: [1 m, 4.5 m, 1.8 m], aim: [3 m, 3 m, 1 m], output: 300 lm}
  - {name: over locker, kind: panel, at: [5 m, 4.3 m, 2.2 m], aim: [3 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm}
  - {name: over rail, kind: panel, at: [3 m, 1 m, 2 m], aim: [3 m, 3 m, 1 m], size: [0.3 m, 0.2 m],
     output: 900 lm}
  - {name: on camera, kind: small box, at: [4 m, 1 m, 1.7 m], aim: [3 m, 3 m, 1 m], output: 300 lm}
  - {name: house tube, kind: tube, at: [3 m, 3 m, 2.95 m], length: 1.2 m, output: 2000 lm, in_shot: yes}
  - {name: our tube, kind: tube, at: [2 m, 3 m, 2.9 m], length: 1.2 m, output: 2000 lm}
  - {name: lantern, kind: lantern ball, at: [4 m, 3 m, 2 m], output: 2000 lm}
  - {name: wall lamp, kind: practical, at: [5.8 m, 2 m, 1.6 m], output: 300 lm, hung: wall plate}
  - {name: yard light, kind: panel, at: [-2 m, 2 m, 2.8 m], aim: [1 m, 2 m, 1 m], size: [1 m, 1 m],
     output: 9000 lm}
  - {name: picture, kind: backdrop, at: [3 m, 5.2 m, 1.5 m], aim: [3 m, 2 m, 1.5 m], size: [4 m, 2 m],
     output: 100 cd/m2, gel: full cto}
cameras:
  - {name: A, at: [4 m, 1 m, 1.5 m], aim: [3 m, 3 m, 1 m], lens: 35 mm, stop: T4, iso: 800}
"""


def test_no_stand_where_none_can_stand_and_one_wherever_nothing_else_holds(tmp_path):
    """No stand under a house tube nor in a locker; what is under a rack is clamped; a lantern needs one."""
    path = tmp_path / "odd.yaml"
    path.write_text(ODD, encoding="utf-8")
    scene = load(path).scenes[""]
    stage = build_stage(scene)
    lamps = lamp_lines(scene, stage, {})
    assert {line.name: line.support for line in lamps} == {
        "low": "on the floor", "on table": "on table", "under rack": "clamped to rack",
        "over locker": "stand beside locker, on an arm", "over rail": "stand", "on camera": "on the camera",
        "house tube": "on the set", "our tube": "overhead", "lantern": "stand",
        "wall lamp": "on a wall plate",
        # Outside the walls there is no ceiling to hang from.
        "yard light": "stand", "picture": "on the set"}
    lines = grip_lines(scene, stage, {}, lamps)
    held = {name for line in lines for name in line.of if "stand" in line.what}
    assert held == {"over locker", "over rail", "lantern", "yard light"}
    assert of(lines, "arm with clamp") == ("over locker",)
    assert of(lines, "floor plate") == ("low", "on table")
    assert of(lines, "frame or truss for a backdrop, 4.00 m × 2.00 m") == ("picture",)
    assert set(of(lines, SAFETY)) == {"our tube"}
    # The locker's edge is at y = 3.5 and 4.5: 0.3 m clear of the nearer, at 4.8.
    support = Supports(scene, stage).of(next(light for light in scene.lights if light.name == "over locker"))
    assert support.foot == (pytest.approx(5.0), pytest.approx(4.8)) and support.aside == pytest.approx(0.5)
    # Neither daylight nor ground: what is outside the walls stands in a hall, without wind.
    assert not Supports(scene, stage).is_outdoors((-2.0, 2.0, 2.8))
