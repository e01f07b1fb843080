"""Candles and fires: glowing bodies that stand still."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.physics.materials import MATERIALS
from previz.scene.light import Candle, Fire
from previz.scene.surface import Surface
from previz.stage import shapes
from previz.stage.lights.fixture import Fixture, Setting, builds
from previz.stage.lights.own_body import share_lost
from previz.stage.records import Emitter, Guide, Mesh

WICK = 0.006
"""From a candle's top to its flame. [m]"""

WAX = Surface(name="cream paint")
WOOD = Surface(name="soot")

LOG_RADIUS = 0.05
"""[m]"""


def _flame(light, setting: Setting, under: shapes.Triangles, surface: Surface) -> Fixture:
    """Return an evenly glowing ellipsoid over what burns, which is given about its middle."""
    width, height = light.flame
    vertices, triangles = shapes.ball(1.0, subdivisions=3)
    vertices = vertices * [width / 2, width / 2, height / 2]
    emitter = Emitter(0, light.name, vertices + setting.at, triangles, symmetric=True)
    mesh = Mesh(light.name, setting.surface(surface), *shapes.moved(under, setting.at), role="lamp")
    if setting.photometry is not None:
        # Only a ball has the same apparent size from everywhere, as a measured table needs.
        vertices, triangles = shapes.ball(width / 2, subdivisions=3)
        table = setting.photometry.table
        emitter = replace(emitter, vertices=vertices + setting.at, faces=triangles, table=table,
                          world_from_light=setting.axes(light.turn))
        return Fixture((emitter,), (mesh,), float(table.intensity(0.0)))
    albedo = float(np.mean(MATERIALS[surface.name].reflectance))
    share = 1 / (1 - share_lost((vertices, triangles), under, albedo))
    area = 0.5 * np.linalg.norm(shapes.crosses(vertices[triangles]), axis=1).sum()
    # Seen from the side a Lambertian body has the intensity of its outline.
    peak = share * (np.pi * width * height / 4) / (np.pi * area)
    return Fixture((replace(emitter, share=share),), (mesh,), float(peak))


@builds(Candle)
def build_candle(light: Candle, setting: Setting) -> Fixture:
    """Build a candle: a flame on a stick of wax; an output in cd is that to the side."""
    stick = shapes.frustum(light.diameter / 2, light.diameter / 2, light.height, sides=24)
    top = light.flame[1] / 2 + WICK
    fixture = _flame(light, setting, shapes.moved(stick, [0, 0, -(top + light.height)]), WAX)
    # What comes through the wax, a tenth of all that goes up, comes mostly from millimetres of it.
    pool = Guide(light.name, setting.at - [0, 0, top], radius=min(top, light.diameter / 2))
    return replace(fixture, guides=(pool,))


@builds(Fire)
def build_fire(light: Fire, setting: Setting) -> Fixture:
    """Build a wood fire: one body of flames over logs; an output in cd is that to the side."""
    width, height = light.flame
    logs = []
    for turn, lift in ((0.3, 0.0), (1.9, 0.0), (1.1, 1.6 * LOG_RADIUS)):
        log = shapes.frustum(LOG_RADIUS, LOG_RADIUS, width * 1.1, sides=12)
        lying = shapes.moved(log, [0, 0, -width * 0.55])
        axes = shapes.aimed((np.cos(turn), np.sin(turn), 0.0))
        logs.append(shapes.place(lying, axes, (0, 0, lift - height / 2 - 3.7 * LOG_RADIUS)))
    return _flame(light, setting, shapes.join(*logs), WOOD)
