"""Lamps with a flat front, and what is put on it: grids, barn doors, snoot, skirt, all of real size."""

from __future__ import annotations

from functools import partial

import numpy as np

from previz.physics.framing import through_cells
from previz.physics.profiles import through_honeycomb
from previz.scene.light import Light
from previz.scene.surface import Surface
from previz.stage import shapes
from previz.stage.lights.fixture import Beam, Fixture, Setting, body
from previz.stage.records import Emitter, Mesh

FACE_GAP = 0.002
"""How far a lamp's face stands off its housing. [m]"""

PROUD = 1.04
"""How far a snoot, a skirt or the hinges of doors stand outside a face, over its size. [1]"""

BLACK_CLOTH = Surface(name="black cloth")


def fronted(light: Light, setting: Setting, axes: np.ndarray, face: shapes.Triangles,
            half: tuple[float, float], bare: Beam, housing, depth: float, *,
            beam: Beam | None = None, focus: float = np.inf) -> Fixture:
    """Return a lamp with a flat front, and what is put on it.

    Parameters
    ----------
    light : Light
    setting : Setting
    axes : float array, shape (3, 3)
        World-from-light.
    face : (vertices, faces)
        In the plane z=0, looking along +z. [m]
    half : (float, float)
        Half of the face's width and height. [m]
    bare : Beam
        With nothing on the front, which is what outputs are read by. What it sends back leaves by a
        second face behind the housing.
    housing : sequence of (vertices, faces)
        In the lamp's own axes.
    depth : float
        Of the housing behind the face. [m]
    beam : Beam or None
        What leaves the face; None for `bare` after the grid on it.
    focus : float
        As in `Emitter`. [m]
    """
    beam = beam or _gridded(light, bare)
    emitters = []
    if beam.share > 0:
        front = shapes.place(face, axes, setting.at + axes[:, 2] * FACE_GAP)
        emitters.append(Emitter(0, light.name, *front, beam.share, beam.table, axes, flat=True, focus=focus))
    if beam.back is not None:
        vertices, faces = shapes.place(face, axes, setting.at - axes[:, 2] * (depth + FACE_GAP))
        emitters.append(Emitter(0, light.name, vertices, faces[:, ::-1], beam.back_share, beam.back,
                                axes * [1, 1, -1], flat=True))
    meshes = [body(light.name, housing, axes, setting.at)]
    if getattr(light, "barn_doors", None) is not None:
        meshes.append(body(light.name, _barn_doors(light.barn_doors, half), axes, setting.at))
    if getattr(light, "snoot", None) is not None:
        meshes.append(body(light.name, [_snoot(light.snoot, half[0])], axes, setting.at))
    if getattr(light, "skirt", None) is not None:
        cloth = setting.surface(BLACK_CLOTH)
        meshes.append(body(light.name, _skirt(light.skirt, half), axes, setting.at, cloth))
    return Fixture(tuple(emitters), tuple(meshes), bare.peak, bare.ahead(face, focus))


def _gridded(light, beam: Beam) -> Beam:
    """Return a beam after the grid or egg crate on a lamp's face, if it has one.

    Either takes the light outside its angles away: the lumens stated are those of the lamp
    without it.
    """
    if getattr(light, "grid", None) is not None:
        return beam.through(partial(through_honeycomb, cutoff_deg=light.grid / 2))
    crate = getattr(light, "egg_crate", None)
    if crate is not None:
        return beam.through(partial(through_cells, width=crate.cell, depth=crate.depth))
    return beam


def _barn_doors(doors, half) -> list[shapes.Triangles]:
    """Return four leaves hinged round a face, in its own axes."""
    across, up = (PROUD * each for each in half)
    length = doors.length or 2 * max(half)
    leaves = []
    # Seen from behind, the lamp's x points left and its y up.
    for angle, out, along, away, width in (
        (doors.top, (0, 1, 0), (1, 0, 0), up, across),
        (doors.bottom, (0, -1, 0), (1, 0, 0), up, across),
        (doors.left, (1, 0, 0), (0, 1, 0), across, up),
        (doors.right, (-1, 0, 0), (0, 1, 0), across, up),
    ):
        out, along = np.array(out, float), np.array(along, float)
        turn = np.radians(angle)
        reach = (np.cos(turn) * np.array([0, 0, 1.0]) + np.sin(turn) * out) * length / 2
        leaves.append(shapes.rectangle(out * away + reach, along * width, reach))
    return leaves


def _snoot(pipe, radius: float) -> shapes.Triangles:
    """Return a black pipe in front of a round face."""
    mouth = PROUD * radius if pipe.diameter is None else pipe.diameter / 2
    return shapes.frustum(PROUD * radius, mouth, pipe.length, closed=False)


def _skirt(depth: float, half) -> list[shapes.Triangles]:
    """Return cloth round a rectangular face, reaching ahead of it."""
    u, v = half[0] + 0.005, half[1] + 0.005
    ahead = (0, 0, depth / 2)
    return [shapes.rectangle((x, y, depth / 2), edge, ahead)
            for x, y, edge in ((u, 0, (0, v, 0)), (-u, 0, (0, v, 0)), (0, v, (u, 0, 0)), (0, -v, (u, 0, 0)))]


def round_skirt(name: str, drop: float, radius: float, setting: Setting) -> Mesh:
    """Return black cloth that hangs round a ball from the height of its top. [m]"""
    vertices, faces = shapes.frustum(PROUD * radius, PROUD * radius, drop, closed=False)
    low = setting.at + np.array([0, 0, radius - drop])
    return Mesh(name, setting.surface(BLACK_CLOTH), vertices + low, faces, role="lamp")
