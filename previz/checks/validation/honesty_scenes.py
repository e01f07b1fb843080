"""Twelve small scenes whose light is hard to find: what the errors of meters are tried on.

Each is a scene as a crew would write it. Its meters read what comes by few paths: off a mirror,
through a slit, between hairs. Figures of the scenes are our own.
"""

from __future__ import annotations

_CANTEEN = """
room:
  size: [4 m, 3 m, 2.6 m]
  surfaces: {floor: grey paint, walls: grey plaster, ceiling: grey plaster}
"""

SCENES = {
    # The sun in the mirror is as bright as the sun, and a quarter of a degree in radius.
    "mirror": """
boards:
  - {name: mirror board, at: [0 m, 0 m, 1 m], facing: [0 m, -5 m, 1 m], size: [1 m, 1 m],
     surface: mirror}
daylight:
  sky: clear
  illuminance: 400 lx
  sun: {azimuth: 180 deg, altitude: 30 deg, illuminance: 80000 lx}
meters:
  - {name: patch, at: [0 m, -1.73 m, 0.01 m]}
  - {name: patch west, at: [-0.3 m, -1.9 m, 0.01 m]}
  - {name: patch east, at: [0.3 m, -1.5 m, 0.01 m]}
""",
    "mirror in a room": _CANTEEN + """
pieces:
  - {name: dressing mirror, shape: box, at: [2 m, 2.98 m, 0.9 m], size: [0.8 m, 0.02 m, 1 m],
     surface: mirror}
lights:
  - {name: bulb, kind: bulb, at: [2.6 m, 1.9 m, 1.9 m], output: 800 lm}
meters:
  - {name: cheek to the mirror, at: [2 m, 2.2 m, 1.5 m], facing: [2 m, 3 m, 1.5 m]}
  - {name: cheek aside, at: [1.8 m, 2.4 m, 1.5 m], facing: [1.3 m, 3 m, 1.5 m]}
  - {name: shoulder, at: [1.6 m, 1.8 m, 1.3 m], facing: [1.6 m, 3 m, 1 m]}
""",
    "slit of sun": """
room:
  size: [4 m, 3 m, 2.6 m]
  surfaces: {floor: dark oak, walls: grey plaster, ceiling: grey plaster}
  openings:
    - {name: slit, wall: south, along: 1.5 m, sill: 1 m, size: [0.05 m, 0.9 m], glass: none}
daylight:
  sky: clear
  illuminance: 4000 lx
  sun: {azimuth: 190 deg, altitude: 30 deg, illuminance: 80000 lx}
meters:
  - {name: desk, at: [3 m, 2.2 m, 0.8 m]}
  - {name: face, at: [2.6 m, 2 m, 1.5 m], facing: [0 m, 2 m, 1.5 m]}
  - {name: ceiling spot, at: [1 m, 1.5 m, 2.5 m], facing: [1 m, 1.5 m, 0 m]}
""",
    "gloss": """
room:
  size: [4 m, 3 m, 2.6 m]
  surfaces:
    floor: {name: dark oak, gloss: 1, roughness: 0.06}
    walls: dark plaster
    ceiling: soot
lights:
  - {name: spot, kind: fresnel, at: [0.5 m, 1.5 m, 2.3 m], aim: [2 m, 1.5 m, 0 m], beam: 20 deg,
     output: 3000 lm, lens: 0.1 m}
meters:
  - {name: under the bench, at: [3.4 m, 1.5 m, 1.6 m], facing: [3.4 m, 1.5 m, 0 m]}
  - {name: chin, at: [3.1 m, 1.5 m, 1.3 m], facing: [2 m, 1.5 m, 0 m]}
  - {name: wall, at: [3.9 m, 1.5 m, 1.9 m], facing: [2 m, 1.5 m, 1 m]}
""",
    "bounced frame": _CANTEEN + """
boards:
  - {name: card, at: [0.5 m, 0.6 m, 1.7 m], facing: [2.5 m, 1.6 m, 1.4 m], size: [1 m, 1 m]}
lights:
  - {name: key, kind: ellipsoidal, at: [3.6 m, 0.4 m, 2.3 m], aim: card, field: 14 deg,
     output: 4000 lm}
meters:
  - {name: face, at: [2.5 m, 1.6 m, 1.5 m], facing: card}
  - {name: far cheek, at: [2.6 m, 1.7 m, 1.5 m], facing: [4 m, 3 m, 1.5 m]}
  - {name: desk, at: [2.5 m, 2.2 m, 0.8 m]}
""",
    "bottle": _CANTEEN + """
pieces:
  - {name: bottle, shape: cylinder, at: [2 m, 1.5 m, 0.8 m], size: [0.09 m, 0.09 m, 0.3 m],
     surface: {name: glass, colour: green}}
lights:
  - {name: bulb, kind: bulb, at: [1.2 m, 0.9 m, 1.5 m], output: 800 lm}
meters:
  - {name: cloth, at: [1.85 m, 1.4 m, 0.81 m]}
  - {name: cloth behind, at: [2.1 m, 1.62 m, 0.81 m]}
  - {name: hand, at: [1.88 m, 1.36 m, 0.95 m], facing: [2 m, 1.5 m, 0.95 m]}
""",
    "lamp behind a shade": _CANTEEN + """
lights:
  - {name: table lamp, kind: practical, at: [1 m, 1.5 m, 1.2 m], output: 600 lm,
     shade: {top: 0.12 m, bottom: 0.3 m, height: 0.22 m}}
meters:
  - {name: face, at: [2 m, 1.6 m, 1.3 m], facing: table lamp}
  - {name: far wall, at: [3.9 m, 1.5 m, 1.4 m], facing: [0 m, 1.5 m, 1.4 m]}
  - {name: away, at: [2 m, 1.6 m, 1.3 m], facing: [4 m, 1.6 m, 1.3 m]}
""",
    "hair": _CANTEEN + """
figures:
  - {name: clerk, person: person two, pose: seated, at: [2 m, 1.5 m], facing: 180 deg, skin: light,
     hair: long, hair_colour: fair}
lights:
  - {name: rim, kind: fresnel, at: [3.8 m, 2.4 m, 2.4 m], aim: clerk.crown, beam: 16 deg,
     output: 1200 lm}
cameras:
  - {name: A, at: [0.6 m, 1.3 m, 1.3 m], aim: clerk.face, lens: 60 mm,
     stop: T2.8, iso: 800}
spots: [clerk]
""",
    "haze shaft": """
room:
  size: [6 m, 4 m, 3 m]
  surfaces: {floor: soot, walls: soot, ceiling: soot}
haze: {density: 0.2 /m, fills: room}
lights:
  - {name: shaft, kind: ellipsoidal, at: [0.4 m, 2 m, 2.6 m], aim: [5.5 m, 2 m, 0.2 m],
     field: 26 deg, output: 6000 lm}
meters:
  - {name: beside, at: [3 m, 3 m, 1.4 m], facing: [3 m, 2 m, 1.4 m]}
  - {name: under, at: [2 m, 2 m, 0.6 m]}
  - {name: away, at: [3 m, 3 m, 1.4 m], facing: [3 m, 4 m, 1.4 m]}
""",
    "far small lamp": """
room:
  size: [30 m, 8 m, 5 m]
  surfaces: {floor: concrete, walls: {name: brick, reflectance: 0.3}, ceiling: grey plaster}
lights:
  - {name: hand lamp, kind: bulb, at: [28.5 m, 4 m, 1.2 m], output: 300 lm}
  - {name: night light, kind: bulb, at: [4.2 m, 4.4 m, 0.9 m], output: 12 lm}
pieces:
  - {name: crate, shape: box, at: [8 m, 4 m], size: [0.4 m, 6 m, 2.4 m], surface: plywood}
meters:
  - {name: face, at: [4 m, 4 m, 1.5 m], facing: [0 m, 4 m, 1.5 m]}
  - {name: to the lamp, at: [12 m, 4 m, 1.5 m], facing: hand lamp}
  - {name: underfoot, at: [6 m, 3 m, 0.05 m]}
""",
    "egg crate": _CANTEEN + """
lights:
  - {name: box, kind: panel, at: [0.5 m, 1.5 m, 2 m], aim: [2.5 m, 1.5 m, 1.2 m],
     size: [0.6 m, 0.6 m], output: 4000 lm}
grids:
  - {name: cells, before: box, distance: 0.1 m, size: [0.7 m, 0.7 m], cell: 50 mm, depth: 70 mm}
meters:
  - {name: face, at: [2.5 m, 1.5 m, 1.2 m], facing: box}
  - {name: spill, at: [1.4 m, 2.6 m, 1.6 m], facing: box}
  - {name: back, at: [2.6 m, 1.6 m, 1.2 m], facing: [4 m, 1.6 m, 1.2 m]}
""",
    "double frame": _CANTEEN + """
lights:
  - {name: head, kind: fresnel, at: [0.3 m, 1.5 m, 2.2 m], aim: [2.8 m, 1.5 m, 1.3 m],
     beam: 30 deg, output: 8000 lm}
diffusion:
  - {name: first frame, before: head, distance: 0.4 m, size: [0.8 m, 0.8 m], cloth: half silk}
  - {name: second frame, before: head, distance: 1 m, size: [1.2 m, 1.2 m], cloth: full silk}
meters:
  - {name: face, at: [2.8 m, 1.5 m, 1.3 m], facing: head}
  - {name: side, at: [2.2 m, 2.6 m, 1.3 m], facing: second frame}
  - {name: back, at: [2.9 m, 1.5 m, 1.3 m], facing: [4 m, 1.5 m, 1.3 m]}
""",
}
"""Scene text of each stage, without its first line; `spots` names what a camera's spot meters read
in place of meters that stand in the light."""
