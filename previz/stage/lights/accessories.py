"""What is put on a lamp and stands in its light: barn doors, snoot, skirt. All real geometry."""

from __future__ import annotations

import numpy as np

from previz.scene.surface import Surface
from previz.stage import shapes
from previz.stage.lights.fixture import HOUSING, Setting
from previz.stage.records import Mesh

PROUD = 1.04
"""How far a snoot, a skirt or the hinges of doors stand outside a face, over its size. [1]"""

BLACK_CLOTH = Surface(name="black cloth")


def barn_doors(name: str, doors, half, axes: np.ndarray, at) -> Mesh:
    """Return four leaves hinged round a face.

    Parameters
    ----------
    name : str
        The lamp's.
    doors : scene.accessories.BarnDoors
        Their angles and length.
    half : (float, float)
        Half of the face's width and height. [m]
    axes, at
        Of the face, world-from-light. [m]
    """
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
    vertices, faces = shapes.place(shapes.join(*leaves), axes, at)
    return Mesh(name, HOUSING, vertices, faces, role="lamp")


def snoot(name: str, pipe, radius: float, axes: np.ndarray, at) -> Mesh:
    """Return a black pipe in front of a round face.

    Parameters
    ----------
    name : str
        The lamp's.
    pipe : scene.accessories.Snoot
        Its length and mouth.
    radius : float
        Of the face. [m]
    axes, at
        Of the face, world-from-light. [m]
    """
    mouth = PROUD * radius if pipe.diameter is None else pipe.diameter / 2
    tube = shapes.frustum(PROUD * radius, mouth, pipe.length, closed=False)
    vertices, faces = shapes.place(tube, axes, at)
    return Mesh(name, HOUSING, vertices, faces, role="lamp")


def skirt(name: str, depth: float, half, axes: np.ndarray, setting: Setting) -> Mesh:
    """Return black cloth round a rectangular face, reaching ahead of it.

    Parameters
    ----------
    name : str
        The lamp's.
    depth : float
        [m]
    half : (float, float)
        Half of the face's width and height. [m]
    axes : float array, shape (3, 3)
        World-from-light.
    setting : Setting
        Of the lamp.
    """
    u, v = half[0] + 0.005, half[1] + 0.005
    ahead = (0, 0, depth / 2)
    sides = [
        shapes.rectangle((u, 0, depth / 2), (0, v, 0), ahead),
        shapes.rectangle((-u, 0, depth / 2), (0, v, 0), ahead),
        shapes.rectangle((0, v, depth / 2), (u, 0, 0), ahead),
        shapes.rectangle((0, -v, depth / 2), (u, 0, 0), ahead),
    ]
    vertices, faces = shapes.place(shapes.join(*sides), axes, setting.at)
    return Mesh(name, setting.surface(BLACK_CLOTH), vertices, faces, role="lamp")


def round_skirt(name: str, drop: float, radius: float, setting: Setting) -> Mesh:
    """Return black cloth that hangs round a ball from the height of its top.

    Parameters
    ----------
    name : str
        The lamp's.
    drop : float
        [m]
    radius : float
        Of the ball. [m]
    setting : Setting
        Of the lamp.
    """
    vertices, faces = shapes.frustum(PROUD * radius, PROUD * radius, drop, closed=False)
    low = setting.at + np.array([0, 0, radius - drop])
    return Mesh(name, setting.surface(BLACK_CLOTH), vertices + low, faces, role="lamp")
