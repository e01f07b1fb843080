"""Lamps that shine all round: bulbs, shaded practicals, lanterns and tubes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.physics.beam import cosine_power, exponent_from_angle
from previz.scene.light import Bulb, LanternBall, Practical, Tube
from previz.stage import shapes
from previz.stage.lights.ahead import tube_ahead
from previz.stage.lights.fixture import HOUSING, HOUSING_ALBEDO, Fixture, Setting, beam_of, body, builds
from previz.stage.lights.fronts import fronted, round_skirt
from previz.stage.lights.own_body import share_lost
from previz.stage.records import Emitter, Guide, Mesh

BALL_PEAK = 1 / (4 * np.pi)
"""Intensity of one lumen from a ball. [cd/lm]"""

TUBE_PEAK = 1 / np.pi**2
"""Intensity of one lumen from a thin Lambertian tube, square to its length. [cd/lm]"""

STEM = 0.012
"""Radius of a practical's stem. [m]"""

TUBE_SIDES = 24

FROM_ABOVE = ("cord", "boom", "pipe")
"""What holds a bulb from above."""


def _ball(light, setting: Setting, radius: float, holder) -> tuple[Emitter, Mesh, float]:
    """Return a glowing ball, its holder, and its intensity for each lumen.

    A measured ball has the file's intensities, holder and all; a plain one makes up for what the
    holder takes, which is given about the middle of the ball.
    """
    vertices, triangles = shapes.ball(radius, subdivisions=3)
    emitter = Emitter(0, light.name, vertices + setting.at, triangles, symmetric=True)
    mesh = Mesh(light.name, HOUSING, *shapes.moved(holder, setting.at), role="lamp")
    if setting.photometry is not None:
        table = setting.photometry.table
        emitter = replace(emitter, table=table, world_from_light=setting.axes(light.turn))
        return emitter, mesh, float(table.intensity(0.0))
    lost = share_lost((vertices, triangles), holder, HOUSING_ALBEDO)
    share = 1 / (1 - lost)
    return replace(emitter, share=share), mesh, BALL_PEAK * share


def _bulb(light, setting: Setting) -> tuple[Emitter, Mesh, float]:
    """Return the glowing ball, its holder, and its intensity for each lumen.

    The holder is under it, and over one that hangs down.
    """
    radius = light.diameter / 2
    holder = shapes.frustum(radius * 0.45, radius * 0.45, 0.05, sides=24)
    lift = radius + 0.002 if light.hung in FROM_ABOVE else -(radius + 0.052)
    return _ball(light, setting, radius, shapes.moved(holder, [0, 0, lift]))


@builds(Bulb)
def build_bulb(light: Bulb, setting: Setting) -> Fixture:
    """Build a bare bulb in its holder."""
    emitter, holder, peak = _bulb(light, setting)
    return Fixture((emitter,), (holder,), peak)


@builds(LanternBall)
def build_lantern_ball(light: LanternBall, setting: Setting) -> Fixture:
    """Build a lantern: an evenly glowing ball with a small cap, and a skirt if it has one."""
    radius = light.diameter / 2
    cap = shapes.frustum(radius * 0.15, radius * 0.15, 0.02, sides=24)
    emitter, mesh, peak = _ball(light, setting, radius, shapes.moved(cap, [0, 0, radius * 1.01]))
    meshes = [mesh]
    if light.skirt is not None:
        meshes.append(round_skirt(light.name, light.skirt, radius, setting))
    return Fixture((emitter,), tuple(meshes), peak)


@builds(Practical)
def build_practical(light: Practical, setting: Setting) -> Fixture:
    """Build a practical: a bulb inside a real shade, on a stem that stands on what is below it, or hung.

    The shade glows by what goes through its cloth, and light spills out above and below. As light
    reaches most of the room through the shade, the shade is a guide. The lumens stated are those
    of the bulb.
    """
    emitter, holder, peak = _bulb(light, setting)
    meshes, guides = [holder], []
    foot = setting.support(setting.at)
    reach = setting.at[2] - light.diameter / 2 - 0.05 - foot
    if light.hung is None and 0.02 < reach < 2.2:
        stem = shapes.moved(shapes.frustum(STEM, STEM, reach - 0.015), [0, 0, 0.015])
        stand = shapes.join(stem, shapes.frustum(0.08, 0.075, 0.015))
        base = np.array([setting.at[0], setting.at[1], foot])
        meshes.append(Mesh(light.name, HOUSING, *shapes.moved(stand, base), role="lamp"))
    shade = light.shade
    if shade is not None:
        bottom, top, height = shade.bottom / 2, shade.top / 2, shade.height
        vertices, triangles = shapes.frustum(bottom, top, height, closed=False)
        lift = setting.at - [0, 0, height / 2]
        surface = setting.surface(shade.surface, transmission=shade.transmission)
        meshes.append(Mesh(light.name, surface, vertices + lift, triangles,
                           shapes.frustum_normals(bottom, top, height), role="lamp"))
        around = float(np.hypot(max(bottom, top), height / 2))
        guides.append(Guide(light.name, setting.at, radius=around))
    return Fixture((emitter,), tuple(meshes), peak, guides=tuple(guides))


@builds(Tube)
def build_tube(light: Tube, setting: Setting) -> Fixture:
    """Build a tube: a glowing cylinder, or, with a beam, a lit strip on a dark round body."""
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
    cap = shapes.frustum(radius * 1.1, radius * 1.1, 0.03)
    caps = body(light.name, [shapes.moved(cap, [0, 0, shift]) for shift in (-half - 0.03, half)], axes,
                setting.at)
    if light.beam is None and setting.photometry is None:
        placed = shapes.place((centred, tube[1]), axes, setting.at)
        emitter = Emitter(0, light.name, *placed, symmetric=True)
        return Fixture((emitter,), (caps,), TUBE_PEAK, tube_ahead(light.length))
    front = _tube_front(light, setting, along, radius, half)
    return replace(front, meshes=(caps, *front.meshes))


def _tube_front(light, setting: Setting, along, radius: float, half: float) -> Fixture:
    """Return a tube that is lit on its front only, within a beam square to its length; without caps."""
    ahead = setting.aim - setting.at if setting.aim is not None else np.array([0.0, 0, -1])
    ahead = ahead - along * (ahead @ along)
    if np.linalg.norm(ahead) < 1e-6:
        ahead = shapes.aimed(along)[:, 1]
    ahead = ahead / np.linalg.norm(ahead)
    axes = np.stack([along, np.cross(ahead, along), ahead], axis=1)
    own = None if light.beam is None else cosine_power(exponent_from_angle(light.beam))
    face = shapes.rectangle((0, 0, 0), (half, 0, 0), (0, radius, 0))
    back = shapes.box((-half, -radius, -2 * radius), (half, radius, 0))
    return fronted(light, setting, axes, face, (half, radius), beam_of(setting, own), [back], 2 * radius)
