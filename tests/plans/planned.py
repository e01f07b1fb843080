"""What tests of plans share: small scenes from their text, and what is to be found on a drawing."""

import numpy as np
import shapely

from previz.plans.lettering import corners
from previz.plans.marks import plain
from previz.plans.records import Shape, Symbol, Words
from previz.scene.read import load
from previz.stage.build import build_stage

YARD = """
previz: 1
title: Yard
ground: gravel
pieces:
  - {name: van, shape: box, at: [6 m, 3 m], size: [4.6 m, 1.9 m, 2.2 m], turn: 20 deg}
daylight: {sky: clear, sun: {azimuth: 120 deg, altitude: 30 deg}, north: 30 deg}
lights:
  - {name: top, kind: overhead soft, at: [4 m, 3 m, 6 m], size: [3 m, 2 m], output: 60 klm}
  - {name: back, kind: ellipsoidal, at: [8 m, 7 m, 4 m], aim: [3 m, 3 m, 1.6 m], output: 9000 lm}
  - {name: tower, kind: daylight lamp, at: [60 m, 30 m, 18 m], aim: [3 m, 3 m, 1.6 m], output: 400 klm}
  - {name: lantern, kind: lantern ball, at: [3 m, 5 m, 2.4 m], output: 4000 lm, hung: boom}
boards: [{name: card, at: [1.6 m, 3.6 m, 1.2 m], facing: [3 m, 3.6 m, 1.2 m], size: [1.2 m, 1 m]}]
diffusion: [{name: silk, cloth: half silk, size: [1.2 m, 1.2 m], before: back, distance: 1.5 m}]
flags: [{name: cutter, at: [5 m, 5.5 m, 2.2 m], facing: [3 m, 3 m, 1.6 m], size: [0.6 m, 0.9 m]}]
nets: [{name: lace, at: [4.4 m, 4.4 m, 2.2 m], facing: [3 m, 3 m, 1.6 m], size: [0.6 m, 0.9 m]}]
grids: [{name: cells, at: [5.6 m, 4.2 m, 2.2 m], facing: [3 m, 3 m, 1.6 m], size: [0.6 m, 0.9 m]}]
cameras: [{name: A, at: [-1 m, 1.5 m, 1.6 m], aim: [3 m, 3 m, 1.6 m], lens: 50 mm, stop: T2, iso: 1600}]
"""


def built(folder, text, option=""):
    """Return the scene of a text and its stage."""
    path = folder / "scene.yaml"
    path.write_text(text, encoding="utf-8")
    scene = load(path).scene(option)
    return scene, build_stage(scene)


def boxes(drawing):
    """Return the words of a drawing with their boxes as polygons, on paper. [mm]"""
    unit = drawing.scale / 1000
    found = [mark for mark in plain(drawing.marks) if isinstance(mark, Words)]
    return found, [shapely.Polygon(corners(mark, unit) / unit) for mark in found]


def shapes(drawing, layer, name, part=None):
    """Return the points of the shapes of a thing, one array each."""
    return [mark.points for mark in plain(drawing.marks) if isinstance(mark, Shape)
            and (mark.layer, mark.name) == (layer, name) and part in (None, mark.part)]


def symbol(drawing, layer, name):
    """Return the one symbol of a thing."""
    found, = (mark for mark in drawing.marks if isinstance(mark, Symbol)
              and (mark.layer, mark.name) == (layer, name))
    return found


def texts(drawing):
    """Return all that is written."""
    return [mark.text for mark in plain(drawing.marks) if isinstance(mark, Words)]


def entries(drawing, upright):
    """Return tag -> where its tick lies along a strip of running dimensions. [m]"""
    ticks = {}
    for mark in plain(drawing.marks):
        # Ticks of strips bend; those of chains do not.
        if isinstance(mark, Shape) and mark.part == "tick" and len(mark.points) == 3:
            along = np.ptp(mark.points[:2], axis=0).argmin()
            if bool(along) == upright:
                ticks |= {tag: float(mark.points[0][along]) for tag in mark.name.split(", ")}
    return ticks
