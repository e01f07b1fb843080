"""Lamps with a lens: ellipsoidal spots and Fresnel spots."""

from __future__ import annotations

import numpy as np

from previz.physics.profiles import flooding_angles, hard_edged, soft_edged
from previz.stage import shapes
from previz.stage.lights.lowered import Lowered, Setting, body, flat_face

FIELD_PER_BEAM = 1.6
"""Field angle over beam angle of a Fresnel spot where only the beam is given
(common practice, no source)."""


def _barrel(radius: float, length: float, grown: float = 1.08):
    """Return a closed barrel behind a lens, its rim a little proud of the glass."""
    vertices, faces = shapes.frustum(radius * grown, radius * grown, length)
    return vertices - [0, 0, length], faces


def lower_ellipsoidal(light, setting: Setting) -> Lowered:
    """Lower an ellipsoidal spot: a lens that throws a sharp-edged disc of light.

    The edge is sharp at the focus, by default where the lamp is aimed, and blurs before and
    behind by as much as the lens is wide.
    """
    axes = setting.axes(light.turn)
    throw = float(np.linalg.norm(setting.aim - setting.at))
    table = hard_edged(light.field, light.edge)
    radius = light.lens / 2
    emitter = flat_face(light.name, shapes.disc(radius), axes, setting.at, table,
                        focus=light.focus or throw)
    barrel = [_barrel(radius, 0.35), _barrel(radius * 1.35, 0.25)]
    barrel[1] = (barrel[1][0] - [0, 0, 0.33], barrel[1][1])
    return Lowered((emitter,), (body(light.name, barrel, axes, setting.at),), (),
                   float(table.intensity(0.0)))


def lower_fresnel(light, setting: Setting) -> Lowered:
    """Lower a Fresnel spot: a round face with a smooth beam between spot and flood."""
    axes = setting.axes(light.turn)
    beam, field = flooding_angles(light.flood)
    if light.beam is not None:
        beam, field = light.beam, light.beam * FIELD_PER_BEAM
    if light.field is not None:
        field = light.field
        beam = light.beam or min(beam, field / FIELD_PER_BEAM)
    table = soft_edged(beam, min(field, 175.0))
    radius = light.lens / 2
    emitter = flat_face(light.name, shapes.disc(radius), axes, setting.at, table)
    case = shapes.box((-radius * 1.15, -radius * 1.25, -radius * 2.4),
                      (radius * 1.15, radius * 1.25, 0))
    return Lowered((emitter,), (body(light.name, [case], axes, setting.at),), (),
                   float(table.intensity(0.0)))
