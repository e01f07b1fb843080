"""Haze: its noise at equal time against the library's volumetric path tracer, and what it costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.checks.benches.setting import Setting, built
from previz.stage.records import Haze, Stage

SIZE, QUICK_SIZE = (80, 45), (32, 18)
"""Pictures are small, so that many can be rendered for their spread. [px]"""

RENDERS, QUICK_RENDERS = 24, 6
"""Renders that the error is estimated from; a firefly counts with all that it is."""

CLEAR_OF_WALLS = 0.1
"""The haze reaches so far into the walls: the library wants no surface in its faces. [m]"""

SHED = """\
previz: 1
title: Shed with shafts
room:
  size: [16 m, 10 m, 6.2 m]
  wall_thickness: 0.4 m
  surfaces:
    floor: concrete
    walls: {name: brick, reflectance: 0.16}
    ceiling: {name: soot, reflectance: 0.06}
  openings:
    - {name: great door, wall: east, along: 2.6 m, sill: 0 m, size: [4.4 m, 4.6 m], glass: none}
    - {name: roof light, wall: ceiling, along: 3 m, sill: 6.4 m, size: [9 m, 1.2 m],
       panes: [9, 1], bar: 60 mm, glass: none}
    - {name: side window, wall: south, along: 3.2 m, sill: 1.8 m, size: [2.4 m, 2.2 m],
       panes: [4, 4], bar: 50 mm, glass: none}
ground: gravel
pieces:
  - {name: engine, shape: box, at: [7.4 m, 5.6 m, 0.3 m], size: [5 m, 1.8 m, 2.4 m], surface: rust}
  - {name: bench, shape: bench, at: [3.4 m, 0.8 m], size: [2.6 m, 0.8 m, 0.9 m], surface: dark oak}
daylight: {sky: clear, illuminance: 7000 lx, sun: {azimuth: 152 deg, altitude: 27 deg}}
lights:
  - {name: bench lamp, kind: bulb, at: [3.4 m, 0.7 m, 1.4 m], output: 800 lm}
cameras:
  - {name: A, at: [1.3 m, 8.7 m, 1.6 m], aim: [4.9 m, 1.6 m, 2 m], lens: 24 mm, stop: T5.6, iso: 800}
"""

ROOM = """\
previz: 1
title: Lamp room, after hours
room:
  size: [5 m, 4 m, 2.6 m]
  surfaces: {floor: dark oak, walls: {reflectance: 0.3, colour: brown}, ceiling: {reflectance: 0.5}}
pieces:
  - {name: long table, shape: table, at: [2.4 m, 2.4 m], size: [2.4 m, 0.8 m, 0.75 m], surface: dark oak}
  - {name: chest, shape: box, at: [4.5 m, 3.4 m], size: [0.8 m, 0.8 m, 0.6 m], surface: rust}
lights:
  - {name: table lamp, kind: bulb, at: [1.6 m, 2.5 m, 1.05 m], output: 300 lm}
  - {name: hand lamp, kind: bulb, at: [3.1 m, 2.3 m, 0.95 m], output: 200 lm}
  - {name: floor lamp, kind: bulb, at: [0.5 m, 3.4 m, 0.7 m], output: 400 lm}
  - {name: chest lamp, kind: bulb, at: [4.4 m, 3.3 m, 0.85 m], output: 250 lm}
cameras:
  - {name: A, at: [0.8 m, 0.4 m, 1.3 m], aim: [2.8 m, 3 m, 0.95 m], lens: 24 mm, stop: T2.8, iso: 800}
"""


def stages() -> dict[str, Stage]:
    """Return the two stages: sun through a shed's openings, and a room of low practicals."""
    made = {}
    for name, text, density, forward, size in (
            ("shafts", SHED, 0.045, 0.75, (16, 10, 6.2)), ("practicals", ROOM, 0.05, 0.6, (5, 4, 2.6))):
        out = np.full(3, CLEAR_OF_WALLS)
        haze = Haze(density, np.full(81, 0.99), forward, 0.0, 0.0, -out, np.asarray(size) + out)
        made[name] = replace(built(text), haze=haze)
    return made


def haze(setting: Setting) -> tuple[dict, dict]:
    """Return 'haze_gain', the lesser of the two stages', and 'haze_cost', the greater."""
    from previz.engine.benchmark import Ours, Plain, equal_time_gain

    size = QUICK_SIZE if setting.quick else SIZE
    renders = QUICK_RENDERS if setting.quick else RENDERS
    gains, costs, details = {}, {}, {}
    for name, stage in stages().items():
        camera = stage.cameras[0]
        ours = Ours(stage, camera, *size, setting.bands)
        gain = equal_time_gain(ours, Plain(stage, camera, *size), setting.samples, renders)
        clear = Ours(replace(stage, haze=None), camera, *size, setting.bands)
        gains[name] = gain.pop("gain")
        costs[name] = gain["ours_seconds"] / clear.seconds(setting.samples)
        details |= {f"haze_{name}_{key}": value for key, value in gain.items()}
    details |= {"haze_gains": gains, "haze_costs": costs, "haze_size": list(size)}
    return {"haze_gain": min(gains.values()), "haze_cost": max(costs.values())}, details
