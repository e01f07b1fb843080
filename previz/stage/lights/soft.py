"""Soft boxes and panels: flat faces that light a wide angle."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from previz.physics.beam import cosine_power, exponent_from_angle, lambertian_front
from previz.physics.framing import through_cells
from previz.physics.profiles import through_honeycomb
from previz.scene.light import Backdrop, OverheadSoft, Panel, SmallBox, SoftBox
from previz.stage import shapes
from previz.stage.lights.accessories import barn_doors, skirt
from previz.stage.lights.fixture import Beam, Fixture, Setting, beam_of, body, builds, faces
from previz.stage.surfaces import read_picture

BACKDROP_DEPTH = 0.02
"""Depth of a backdrop behind its face. [m]"""

PANEL_DEPTH = 0.05
"""Depth of a panel behind its face. [m]"""


def _face(size) -> shapes.Triangles:
    return shapes.rectangle((0, 0, 0), (size[0] / 2, 0, 0), (0, size[1] / 2, 0))


def gridded(light, beam: Beam) -> Beam:
    """Return a beam after the grid or egg crate on a lamp's face, if it has one.

    Either takes the light outside its angles away: the lumens stated are those of the lamp
    without it.
    """
    if getattr(light, "grid", None) is not None:
        return beam.through(partial(_honeycomb, cutoff=light.grid / 2), lambertian_front())
    crate = getattr(light, "egg_crate", None)
    if crate is not None:
        cut = partial(through_cells, width=crate.cell, depth=crate.depth)
        return beam.through(cut, lambertian_front())
    return beam


def _honeycomb(table, cutoff):
    return through_honeycomb(table, cutoff)


@builds(Backdrop)
def build_backdrop(light: Backdrop, setting: Setting) -> Fixture:
    """Build a glowing picture: a thin even Lambertian face, coloured place by place."""
    axes = setting.axes(light.turn)
    beam = beam_of(setting, None)
    face = _face(light.size)
    emitters = faces(light.name, face, axes, setting.at, beam, BACKDROP_DEPTH)
    if light.picture is not None:
        emitters = tuple(replace(each, picture=read_picture(light, "picture"))
                         for each in emitters)
    w, h = (each / 2 for each in light.size)
    meshes = [body(light.name, [shapes.box((-w, -h, -BACKDROP_DEPTH), (w, h, 0))], axes,
                   setting.at)]
    return Fixture(emitters, tuple(meshes), (), beam.peak, beam.ahead(face))


def _box(half, depth: float, back: float) -> shapes.Triangles:
    """Return a closed box behind a face whose walls slope to a smaller back plate."""
    w, h = half
    low = np.array([[-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]])
    corners = np.concatenate([low, low * back + [0, 0, -depth]])
    sides = []
    for i in range(4):
        j = (i + 1) % 4
        sides += [[i, i + 4, j + 4], [i, j + 4, j]]
    return corners, np.array([*sides, [4, 7, 6], [4, 6, 5], [0, 2, 1], [0, 3, 2]])


def _build_box(light, setting: Setting, back: float) -> Fixture:
    axes = setting.axes(light.turn)
    half = (light.size[0] / 2, light.size[1] / 2)
    bare, face = beam_of(setting, None), _face(light.size)
    emitters = faces(light.name, face, axes, setting.at, gridded(light, bare), light.depth)
    meshes = [body(light.name, [_box(half, light.depth, back)], axes, setting.at)]
    if light.skirt is not None:
        meshes.append(skirt(light.name, light.skirt, half, axes, setting))
    return Fixture(emitters, tuple(meshes), (), bare.peak, bare.ahead(face))


@builds(SoftBox)
def build_soft_box(light: SoftBox, setting: Setting) -> Fixture:
    """Build a soft box: an even Lambertian front on a closed dark box."""
    return _build_box(light, setting, 0.4)


@builds(OverheadSoft)
def build_overhead_soft(light: OverheadSoft, setting: Setting) -> Fixture:
    """Build a large soft box that hangs over an area, level unless it is aimed."""
    return _build_box(light, setting, 0.9)


@builds(Panel, SmallBox)
def build_panel(light: Panel, setting: Setting) -> Fixture:
    """Build a panel: a flat face whose intensity falls with a power of the cosine."""
    axes = setting.axes(light.turn)
    bare = beam_of(setting, cosine_power(exponent_from_angle(light.beam)))
    half, face = (light.size[0] / 2, light.size[1] / 2), _face(light.size)
    depth = min(PANEL_DEPTH, 0.6 * min(light.size))
    emitters = faces(light.name, face, axes, setting.at, gridded(light, bare), depth)
    w, h = half[0] + 0.01, half[1] + 0.01
    meshes = [body(light.name, [shapes.box((-w, -h, -depth), (w, h, 0))], axes, setting.at)]
    if light.barn_doors is not None:
        meshes.append(barn_doors(light.name, light.barn_doors, half, axes, setting.at))
    return Fixture(emitters, tuple(meshes), (), bare.peak, bare.ahead(face))
