"""Soft boxes and panels: flat faces that light a wide angle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.physics.beam import AngularTable, cosine_power, exponent_from_angle
from previz.scene.light import Backdrop, OverheadSoft, Panel, SmallBox, SoftBox
from previz.stage import shapes
from previz.stage.lights.fixture import Fixture, Setting, beam_of, builds
from previz.stage.lights.fronts import fronted
from previz.stage.surfaces import read_picture

BACKDROP_DEPTH = 0.02
"""Depth of a backdrop behind its face. [m]"""

PANEL_DEPTH = 0.05
"""Depth of a panel behind its face. [m]"""


def _oblong(light, setting: Setting, own: AngularTable | None, housing: shapes.Triangles,
            depth: float) -> Fixture:
    """Return a lamp with a rectangular face of its `size`."""
    half = light.size[0] / 2, light.size[1] / 2
    face = shapes.rectangle((0, 0, 0), (half[0], 0, 0), (0, half[1], 0))
    return fronted(light, setting, setting.axes(light.turn), face, half, beam_of(setting, own),
                   [housing], depth)


def _case(light, depth: float, rim: float = 0.0) -> shapes.Triangles:
    """Return a flat case behind a rectangular face, with a rim round it. [m]"""
    w, h = (each / 2 + rim for each in light.size)
    return shapes.box((-w, -h, -depth), (w, h, 0))


@builds(Backdrop)
def build_backdrop(light: Backdrop, setting: Setting) -> Fixture:
    """Build a glowing picture: a thin even Lambertian face, coloured place by place."""
    fixture = _oblong(light, setting, None, _case(light, BACKDROP_DEPTH), BACKDROP_DEPTH)
    if light.picture is None:
        return fixture
    picture = read_picture(light, "picture")
    return replace(fixture, emitters=tuple(replace(each, picture=picture) for each in fixture.emitters))


def _box(light, back: float) -> shapes.Triangles:
    """Return a closed box behind a face whose walls slope to a smaller back plate."""
    w, h = light.size[0] / 2, light.size[1] / 2
    low = np.array([[-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]])
    corners = np.concatenate([low, low * back + [0, 0, -light.depth]])
    sides = []
    for i in range(4):
        j = (i + 1) % 4
        sides += [[i, i + 4, j + 4], [i, j + 4, j]]
    return corners, np.array([*sides, [4, 7, 6], [4, 6, 5], [0, 2, 1], [0, 3, 2]])


@builds(SoftBox)
def build_soft_box(light: SoftBox, setting: Setting) -> Fixture:
    """Build a soft box: an even Lambertian front on a closed dark box."""
    return _oblong(light, setting, None, _box(light, 0.4), light.depth)


@builds(OverheadSoft)
def build_overhead_soft(light: OverheadSoft, setting: Setting) -> Fixture:
    """Build a large soft box that hangs over an area, level unless it is aimed."""
    return _oblong(light, setting, None, _box(light, 0.9), light.depth)


@builds(Panel, SmallBox)
def build_panel(light: Panel, setting: Setting) -> Fixture:
    """Build a panel: a flat face whose intensity falls with a power of the cosine."""
    depth = min(PANEL_DEPTH, 0.6 * min(light.size))
    return _oblong(light, setting, cosine_power(exponent_from_angle(light.beam)),
                   _case(light, depth, 0.01), depth)
