"""Soft boxes and panels: flat faces that light a wide angle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.physics.beam import cosine_power, exponent_from_angle, lambertian_front
from previz.physics.profiles import through_honeycomb
from previz.stage import shapes
from previz.stage.lights.lowered import Lowered, Setting, body, flat_face

PANEL_DEPTH = 0.05
"""Depth of a panel behind its face. [m]"""


def _face(size) -> shapes.Triangles:
    return shapes.rectangle((0, 0, 0), (size[0] / 2, 0, 0), (0, size[1] / 2, 0))


def lower_soft_box(light, setting: Setting) -> Lowered:
    """Lower a soft box: an even Lambertian front on a closed dark box, with a grid if it has one.

    A fabric grid takes the light outside its angle away: the lumens stated are those of the box
    without it.
    """
    axes = setting.axes(light.turn)
    table, share = None, 1.0
    if light.grid is not None:
        table, share = through_honeycomb(lambertian_front(), light.grid / 2)
    emitter = flat_face(light.name, _face(light.size), axes, setting.at, table)
    emitter = replace(emitter, share=share)
    w, h = light.size[0] / 2, light.size[1] / 2
    # The walls slope to a small back plate, as the rods of a box do.
    low = np.array([[-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]])
    back = low * 0.4 + [0, 0, -light.depth]
    corners = np.concatenate([low, back])
    sides = []
    for i in range(4):
        j = (i + 1) % 4
        sides += [[i, i + 4, j + 4], [i, j + 4, j]]
    faces = np.array([*sides, [4, 7, 6], [4, 6, 5], [0, 2, 1], [0, 3, 2]])
    return Lowered((emitter,), (body(light.name, [(corners, faces)], axes, setting.at),), (),
                   share / np.pi if table is None else share * table.peak)


def lower_panel(light, setting: Setting) -> Lowered:
    """Lower a panel: a flat face whose intensity falls with a power of the cosine."""
    axes = setting.axes(light.turn)
    table = cosine_power(exponent_from_angle(light.beam))
    w, h = light.size[0] / 2, light.size[1] / 2
    housing = shapes.box((-w - 0.01, -h - 0.01, -PANEL_DEPTH), (w + 0.01, h + 0.01, 0))
    return Lowered((flat_face(light.name, _face(light.size), axes, setting.at, table),),
                   (body(light.name, [housing], axes, setting.at),), (), table.peak)
