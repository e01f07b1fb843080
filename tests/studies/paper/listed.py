"""Scenes for the tests of lists: a workshop with all that lists tell of, and how they are read."""

from functools import cache

from previz.plans.lines import SetUp
from previz.plans.tags import tags_of
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.paper.cable import cable_lines, cable_runs
from previz.studies.paper.gels import sheet_lines
from previz.studies.paper.grip import grip_lines
from previz.studies.paper.lamps import lamp_lines

WORKSHOP = """\
previz: 1
title: Workshop of the depot
room:
  size: [8 m, 6 m, 4 m]
  wall_thickness: 0.3 m
  openings:
    - {name: door, wall: east, along: 1 m, sill: 0 m, size: [1 m, 2 m], glass: none}
    - {name: window, wall: north, along: 2 m, sill: 1 m, size: [1.5 m, 1.2 m], gel: full cto}
ground: gravel
daylight: {sky: overcast, illuminance: 500 lx}
mains: {voltage: 230 V}
pieces:
  - {name: bench, shape: box, at: [4 m, 3 m], size: [2 m, 1 m, 0.9 m]}
  - {name: sign, shape: box, at: [0.1 m, 3 m, 1.5 m], size: [0.1 m, 0.8 m, 0.3 m]}
lights:
  - {name: key, kind: fresnel, at: [1 m, 1 m, 2 m], aim: [4 m, 5 m, 0.5 m], output: 9000 lm, lens: 0.2 m,
     spectrum: tungsten, gel: [half ctb, nd 0.3], barn_doors: {top: 30 deg}}
  - {name: rim, kind: fresnel, at: [7 m, 5 m, 3.8 m], aim: [4 m, 3 m, 1 m], output: 5000 lm, lens: 0.2 m,
     watts: 690 W,
     spectrum: tungsten, gel: half ctb, snoot: {length: 0.2 m}}
  - {name: over, kind: overhead soft, at: [4 m, 3 m, 3 m], size: [1.5 m, 1 m], output: 20 klm,
     skirt: 0.3 m, hung: pipe}
  - {name: fill, kind: soft box, at: [2 m, 1 m, 1.6 m], aim: [4 m, 3 m, 1 m], size: [0.9 m, 0.6 m],
     output: 4000 lm,
     spectrum: two-colour led, cct: 4300 K, egg_crate: {cell: 50 mm, depth: 50 mm}}
  - {name: top, kind: panel, at: [3 m, 1 m, 2.6 m], aim: [4 m, 3 m, 1 m], size: [0.6 m, 0.3 m],
     output: 3000 lm,
     hung: boom}
  - {name: yard, kind: daylight lamp, at: [3 m, 9 m, 3 m], aim: [3 m, 6 m, 1.5 m], output: 400 klm}
  - {name: lit sign, kind: glow, piece: sign, output: 100 cd/m2, gel: full plus green}
  - {name: night, kind: candle, at: [4 m, 2.7 m, 1.1 m]}
  - {name: car, kind: headlamp, at: [9.5 m, 1.5 m, 0.7 m], aim: [0 m, 1.5 m, 0.7 m], output: 900 lm}
  - {name: globe, kind: practical, at: [4.5 m, 3 m, 1.3 m], output: 600 lm, on: no}
boards:
  - {name: bounce, at: [6 m, 1 m, 1.5 m], facing: [4 m, 3 m, 1 m], size: [1.2 m, 1.2 m]}
  - {name: wall, at: [1 m, 5 m, 1.6 m], facing: [4 m, 3 m, 1 m], size: [2.4 m, 1.2 m], surface: black cloth}
diffusion:
  - {name: silk, before: key, distance: 0.5 m, size: [1.2 m, 1.2 m], cloth: half silk}
  - {name: wide silk, at: [6.5 m, 3 m, 2.2 m], facing: [4 m, 3 m, 1 m], size: [1.8 m, 1.8 m],
     cloth: full silk}
flags:
  - {name: cutter, before: rim, distance: 0.4 m, size: [0.6 m, 0.3 m]}
nets:
  - {name: net, before: fill, distance: 0.5 m, size: [0.6 m, 0.6 m], layers: double}
figures:
  - {name: fitter, at: [4 m, 1.5 m], facing: 270 deg, marks: [{name: vice, at: [2 m, 4.5 m]}]}
cameras:
  - {name: A, at: [7.5 m, 1 m, 1.5 m], aim: [3 m, 4.5 m, 1 m], lens: 50 mm, stop: T4, iso: 800}
options:
  evening: {}
  night:
    room: {openings: {window: {gel: []}}}
    remove: [silk]
    lights: {key: {aim: [4 m, 3 m, 0.5 m], dimmer: 50 %, gel: half ctb}, yard: {on: no}, globe: {on: yes},
             fill: {at: [3 m, 1 m, 1.6 m], cct: 3200 K}}
    boards: {bounce: {at: [6 m, 1 m, 1.6 m]}}
    cameras: {A: {stop: T2}}
"""


@cache
def workshop(folder):
    """Return option -> (scene, stage, tags, set-up) of the workshop; `folder` as text."""
    path = f"{folder}/workshop.yaml"
    with open(path, "w", encoding="utf-8") as file:
        file.write(WORKSHOP)
    return listed(path)


def listed(path, options=None):
    """Return option -> (scene, stage, tags, set-up) of a scene file."""
    file = load(path)
    tags = tags_of(file.scenes.values())
    return {name: (file.scenes[name], *lists_of(file.scenes[name], tags, file.title))
            for name in options or file.option_names}


def lists_of(scene, tags, title):
    """Return stage, tags and set-up of one option."""
    stage = build_stage(scene)
    lamps = lamp_lines(scene, stage, tags)
    runs = cable_runs(scene, stage, lamps)
    return stage, tags, SetUp(title, scene.option, lamps, grip_lines(scene, stage, tags, lamps),
                              sheet_lines(scene, stage, tags), runs, cable_lines(runs))
