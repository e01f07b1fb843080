"""Lamps that shine all round: bulbs, shaded practicals and tubes."""

from __future__ import annotations

import numpy as np

from previz.physics.beam import cosine_power, exponent_from_angle
from previz.stage import shapes
from previz.stage.lights.lowered import HOUSING, Lowered, Setting, flat_face
from previz.stage.records import Emitter, Guide, Mesh

BALL_PEAK = 1 / (4 * np.pi)
"""Intensity of one lumen from a ball. [cd/lm]"""

TUBE_PEAK = 1 / np.pi**2
"""Intensity of one lumen from a thin Lambertian tube, square to its length. [cd/lm]"""

STEM = 0.012
"""Radius of a practical's stem. [m]"""

TUBE_SIDES = 24


def _bulb(light, at) -> tuple[Emitter, Mesh]:
    """Return the glowing ball and the holder under it."""
    radius = light.diameter / 2
    vertices, faces = shapes.ball(radius)
    emitter = Emitter(0, light.name, vertices + at, faces, symmetric=True)
    holder = shapes.frustum(radius * 0.45, radius * 0.45, 0.05)
    moved = holder[0] + at - [0, 0, radius + 0.052]
    return emitter, Mesh(light.name, HOUSING, moved, holder[1], role="lamp")


def lower_bulb(light, setting: Setting) -> Lowered:
    """Lower a bare bulb in its holder."""
    emitter, holder = _bulb(light, setting.at)
    return Lowered((emitter,), (holder,), (), BALL_PEAK)


def lower_practical(light, setting: Setting) -> Lowered:
    """Lower a practical: a bulb inside a real shade, on a stem that stands on what is below it.

    The shade glows by what goes through its cloth, and light spills out above and below. As light
    reaches most of the room by way of the shade, the shade is a guide.
    """
    emitter, holder = _bulb(light, setting.at)
    meshes, guides = [holder], []
    foot = setting.support(setting.at)
    reach = setting.at[2] - light.diameter / 2 - 0.05 - foot
    if 0.02 < reach < 2.2:
        stem = shapes.frustum(STEM, STEM, reach - 0.015)
        plate = shapes.frustum(0.08, 0.075, 0.015)
        base = np.array([setting.at[0], setting.at[1], foot])
        vertices, faces = shapes.join((stem[0] + [0, 0, 0.015], stem[1]), plate)
        meshes.append(Mesh(light.name, HOUSING, vertices + base, faces, role="lamp"))
    shade = light.shade
    if shade is not None:
        bottom, top, height = shade.bottom / 2, shade.top / 2, shade.height
        vertices, faces = shapes.frustum(bottom, top, height, closed=False)
        lift = setting.at - [0, 0, height / 2]
        surface = setting.surface(shade.surface, transmission=shade.transmission)
        meshes.append(Mesh(light.name, surface, vertices + lift, faces,
                           shapes.frustum_normals(bottom, top, height), role="lamp"))
        around = float(np.hypot(max(bottom, top), height / 2))
        guides.append(Guide(light.name, setting.at, np.zeros(3), np.zeros(3), radius=around))
    return Lowered((emitter,), tuple(meshes), tuple(guides), BALL_PEAK)


def lower_tube(light, setting: Setting) -> Lowered:
    """Lower a tube: a glowing cylinder, or, with a beam, a lit strip on a dark round body."""
    along = setting.along
    if along is None:
        along = np.array([1.0, 0, 0])
        if setting.aim is not None:
            along = shapes.aimed(setting.aim - setting.at)[:, 0]
    along = along / np.linalg.norm(along)
    axes = shapes.aimed(along)
    radius, half = light.diameter / 2, light.length / 2
    tube = shapes.frustum(radius, radius, light.length, sides=TUBE_SIDES, closed=False)
    # The polygon is grown so that its lit area is the cylinder's.
    grown = (np.pi / TUBE_SIDES) / np.sin(np.pi / TUBE_SIDES)
    centred = tube[0] * [grown, grown, 1] - [0, 0, half]
    caps = []
    for end in (-1, 1):
        cap = shapes.frustum(radius * 1.1, radius * 1.1, 0.03)
        shift = half if end > 0 else -half - 0.03
        caps.append((cap[0] + [0, 0, shift], cap[1]))
    vertices, faces = shapes.place(shapes.join(*caps), axes, setting.at)
    meshes = [Mesh(light.name, HOUSING, vertices, faces, role="lamp")]
    if light.beam is None:
        placed, faces = shapes.place((centred, tube[1]), axes, setting.at)
        emitter = Emitter(0, light.name, placed, faces, symmetric=True)
        return Lowered((emitter,), tuple(meshes), (), TUBE_PEAK)
    return _fronted_tube(light, setting, along, radius, half, meshes)


def _fronted_tube(light, setting, along, radius, half, meshes) -> Lowered:
    """Return a tube that is lit on its front only, within a beam square to its length."""
    ahead = setting.aim - setting.at if setting.aim is not None else np.array([0.0, 0, -1])
    ahead = ahead - along * (ahead @ along)
    ahead = ahead / np.linalg.norm(ahead)
    axes = np.stack([along, np.cross(ahead, along), ahead], axis=1)
    table = cosine_power(exponent_from_angle(light.beam))
    face = shapes.rectangle((0, 0, 0), (half, 0, 0), (0, radius, 0))
    emitter = flat_face(light.name, face, axes, setting.at, table)
    back = shapes.box((-half, -radius, -2 * radius), (half, radius, 0))
    vertices, faces = shapes.place(back, axes, setting.at)
    meshes.append(Mesh(light.name, HOUSING, vertices, faces, role="lamp"))
    return Lowered((emitter,), tuple(meshes), (), table.peak)
