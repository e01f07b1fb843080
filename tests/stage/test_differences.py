"""What is moved is told apart: lamps with what stands in front of them, and everything else."""

import pytest

from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.differences import moved_between
from previz.stage.sheets import held_by

SCENE = """\
previz: 1
title: Lamp room of the depot
room: {size: [4 m, 3 m, 2.5 m]}
daylight: {sky: overcast, illuminance: 40 lx}
lights:
  - {name: key, kind: panel, at: [3 m, 0.5 m, 2 m], aim: table, size: [0.6 m, 0.3 m], output: 4000 lm}
  - {name: rim, kind: panel, at: [0.5 m, 2.5 m, 2.2 m], aim: key, size: [0.3 m, 0.3 m], output: 1500 lm}
  - {name: bulb, kind: bulb, at: [1 m, 1 m, 2 m], output: 900 lm}
diffusion:
  - {name: frame, before: key, distance: 0.4 m, size: [0.8 m, 0.8 m]}
pieces:
  - {name: table, shape: table, at: [2 m, 1.5 m], size: [1 m, 0.6 m, 0.75 m]}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: table, lens: 24 mm, stop: T2.8, iso: 800}
options: {as it is: {}}
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """The scene."""
    path = tmp_path_factory.mktemp("room") / "room.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return load(path)


@pytest.mark.parametrize(("moves", "lamps", "whole"), [
    ({}, set(), False),
    ({"lights": {"bulb": {"at": ["1.2 m", "1 m", "2 m"]}}}, {"bulb"}, False),
    # The frame goes with its lamp, and the lamp that is aimed at it turns.
    ({"lights": {"key": {"at": ["3 m", "0.6 m", "2 m"]}}}, {"key", "rim"}, False),
    ({"lights": {"key": {"dimmer": "20 %", "cct": "3000 K"}}}, set(), False),
    ({"diffusion": {"frame": {"distance": "0.5 m"}}}, {"key"}, False),
    ({"pieces": {"table": {"at": ["2.1 m", "1.5 m"]}}}, {"key"}, True),
    ({"pieces": {"table": {"surface": "grey card"}}}, set(), True),
    ({"remove": ["bulb"]}, set(), False),
    ({"add": {"lights": [{"name": "new", "kind": "bulb", "at": ["2 m", "1 m", "2 m"], "output": "90 lm"}]}},
     {"new"}, False),
    ({"cameras": {"A": {"at": ["2.1 m", "0.3 m", "1.4 m"]}}}, set(), False),
])
def test_what_differs(file, moves, lamps, whole):
    """Levels and colours are no difference; a camera is not one of the stage."""
    scene = file.moved("as it is", moves)
    before = build_stage(file.scene("as it is"), reminders=False)
    moved = moved_between(before, build_stage(scene, reminders=False), held_by(scene))
    assert moved.whole is whole
    assert moved.lamps - {"frame"} == lamps
    named = {"key": {"key", "frame"}, "bulb": {"bulb"}, "rim": {"rim"}, "new": {"new"}}
    if not whole:
        gone = set(moves.get("remove", ()))
        assert moved.bodies <= set().union(gone, *(named[lamp] for lamp in lamps))
        assert moved.bodies >= gone | lamps - ({"key"} if "diffusion" in moves else set())


def test_a_stage_without_reminders_is_the_same_otherwise(file):
    """What takes longest to find is left out, and can be had later."""
    with_them, without = (build_stage(file.scene("as it is"), reminders=wanted) for wanted in (True, False))
    assert with_them.reminders and not without.reminders
    assert without.around is not None
    moved = moved_between(with_them, without, {})
    assert not (moved.whole or moved.lamps or moved.bodies)
