"""What hung things hang by: a cord, a pipe, a wall plate or a boom, as triangles.

They are part of the thing that they hold: they shade, they are seen, and they go where it goes.
"""

from __future__ import annotations

import numpy as np

from previz.stage import shapes
from previz.stage.lights.fixture import HOUSING
from previz.stage.records import Mesh

CORD, PIPE, BOOM, ARM = 0.003, 0.02415, 0.0175, 0.010
"""Radius of a cord, a scaffold tube of 48.3 mm (EN 39, from memory), a boom and a plate's arm. [m]
Common practice, no source, but for the tube."""

DROP = 0.25
"""From the top of what hangs on a pipe to the pipe. [m]  Common practice, no source."""

PIPE_REACH, BOOM_REACH, PLATE_REACH = 1.0, 1.5, 1.0
"""How far a pipe goes to each side, a boom to its stand, and a plate's arm at most. [m]  Common
practice, no source."""

PLATE = 0.06, 0.012
"""Radius and thickness of a wall plate. [m]"""

LOOSE = 2.0
"""Length of a cord that nothing is above. [m]"""

AROUND = 16
"""Directions in which the nearest wall is sought."""

SIDES = 12


def hang(item, body: np.ndarray, ahead: np.ndarray, role: str,
         around) -> tuple[Mesh, np.ndarray | None, str | None]:
    """Return what a hung thing hangs by.

    Parameters
    ----------
    item : scene.lamp.Light or scene.modifiers.Sheet
        With `hung` set.
    body : float array, shape (n, 3)
        Its corners. [m]
    ahead : float array, shape (3,)
        Where it faces.
    role : str
        Of its meshes.
    around : sequence of Mesh
        What it may be fixed to: the room and what stands there.

    Returns
    -------
    Mesh
    float array, shape (3,), or None
        Where the stand of a boom takes it. [m]
    str or None
        What is not there that it would be fixed to.
    """
    low, high = body.min(axis=0), body.max(axis=0)
    top = np.array([*((low + high) / 2)[:2], high[2] - 0.002])
    corners = _corners(around)
    parts, foot, note = _HOLDERS[item.hung](item.name, top, (low + high) / 2, _level(ahead), corners)
    return Mesh(item.name, HOUSING, *shapes.join(*parts), role=role), foot, note


def _level(ahead) -> np.ndarray | None:
    """Return the level part of a direction, None for one that goes straight up or down."""
    level = np.array([ahead[0], ahead[1], 0.0])
    size = np.linalg.norm(level)
    return level / size if size > 1e-3 * np.linalg.norm(ahead) else None


def _cord(name, top, middle, ahead, corners):
    reach = _reach(corners, top, np.array([0.0, 0, 1]))
    note = None
    if not np.isfinite(reach):
        reach, note = LOOSE, f"Check: nothing is above {name} that its cord could hang from."
    return [_rod(top, top + [0, 0, reach], CORD)], None, note


def _pipe(name, top, middle, ahead, corners):
    reach = _reach(corners, top, np.array([0.0, 0, 1]))
    height = min(DROP, max(reach - 2 * PIPE, 0.0))
    along = np.array([1.0, 0, 0]) if ahead is None else np.array([-ahead[1], ahead[0], 0.0])
    at = top + [0, 0, height + PIPE]
    ends = [at + side * along * min(PIPE_REACH, _reach(corners, at, side * along)) for side in (-1, 1)]
    return [_rod(top, at, ARM), _rod(*ends, PIPE)], None, None


def _wall_plate(name, top, middle, ahead, corners):
    directions = _round()
    reaches = [_reach(corners, middle, direction) for direction in directions]
    nearest = int(np.argmin(reaches))
    direction, reach, note = directions[nearest], reaches[nearest], None
    if reach > PLATE_REACH:
        direction = -ahead if ahead is not None else directions[0]
        reach, note = 0.15, f"Check: no wall is within {PLATE_REACH:g} m of {name} for its plate."
    radius, thick = PLATE
    end = middle + direction * reach
    front = end - direction * thick
    return [_rod(middle, front, ARM), _rod(front, end, radius)], None, note


def _boom(name, top, middle, ahead, corners):
    directions = ([] if ahead is None else [-ahead]) + _round()
    reaches = [_reach(corners, top, direction) for direction in directions]
    free = [k for k, reach in enumerate(reaches) if reach > BOOM_REACH + 0.3]
    best = free[0] if free else int(np.argmax(reaches))
    length = min(BOOM_REACH, 0.8 * reaches[best])
    foot = top + directions[best] * length
    return [_rod(top - directions[best] * 0.02, foot, BOOM)], foot, None


_HOLDERS = {"cord": _cord, "pipe": _pipe, "wall plate": _wall_plate, "boom": _boom}


def _round() -> list[np.ndarray]:
    turns = np.arange(AROUND) * 2 * np.pi / AROUND
    return [np.array([np.cos(turn), np.sin(turn), 0.0]) for turn in turns]


def _rod(one, other, radius: float) -> shapes.Triangles:
    direction = np.asarray(other, float) - one
    length = float(np.linalg.norm(direction))
    body = shapes.frustum(radius, radius, max(length, 1e-4), sides=SIDES)
    return shapes.place(body, shapes.aimed(direction if length > 1e-9 else [0, 0, 1]), np.asarray(one, float))


def _corners(meshes) -> np.ndarray:
    """Return the corners of all triangles. Shape (faces, 3, 3) [m]"""
    found = [np.asarray(m.vertices, float)[np.asarray(m.faces)] for m in meshes]
    return np.concatenate(found) if found else np.zeros((0, 3, 3))


def _reach(corners, start, direction) -> float:
    """Return how far it is from a point to the first triangle in a direction, inf for none. [m]"""
    distance = shapes.crossings(corners, start, direction)
    met = distance[distance > 1e-4]
    return float(met.min()) if met.size else float("inf")
