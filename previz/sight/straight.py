"""What a lamp would give straight at some points if it stood elsewhere: geometry and shadows, no bounces.

A place costs a few thousand products in place of a run of meters, so many can be looked at. Bounced light
is another matter, as is what goes through frames and off boards.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from previz.engine.render import open_stage
from previz.physics.beam import AngularTable
from previz.sight.subjects import projected
from previz.stage.records import Camera, Emitter, Stage
from previz.stage.shapes import aimed

PIECES = 12
"""Points of a lamp's face that stand for it."""

SEEN_BY = 4
"""Of those, how many are looked at from a point, to tell shadow."""

AWAY = np.array([0.0, 0.0, -500.0])
"""Where a lamp goes that is to be in nobody's way. [m]"""

GRID = (64, 36)
"""Lines of sight of a camera that find points of a thing, across and down."""

POINTS = 24
"""At most so many points of a thing stand for it."""

JUST_OFF = 1e-3
"""Lines end so far before what they lead to. [m]"""


@dataclass(frozen=True, eq=False)
class Part:
    """One emitter of a lamp as points, in the lamp's own axes.

    Parameters
    ----------
    points, normals : float array, shape (k, 3)
        From the lamp's place, z along its aim [m]; unit vectors.
    share : float
        Of the lamp's lumens. [1]
    table : AngularTable or None
        As of `Emitter`.
    axes : float array, shape (3, 3)
        Of the table, in the lamp's own.
    """

    points: np.ndarray
    normals: np.ndarray
    share: float
    table: AngularTable | None
    axes: np.ndarray


@dataclass(frozen=True, eq=False)
class Points:
    """Where light is asked for.

    Parameters
    ----------
    position, normal : float array, shape (n, 3)
        [m]
    dome : bool array, shape (n,)
        Where the receptor is domed.
    """

    position: np.ndarray
    normal: np.ndarray
    dome: np.ndarray


def axes_of(at: np.ndarray, aim: np.ndarray | None, turn_deg: float) -> np.ndarray:
    """Return a lamp's own axes in the world, as the stage has them: columns x, y and z along its aim."""
    return aimed(np.array([0.0, 0.0, -1.0]) if aim is None else aim - at, np.radians(turn_deg))


def parts_of(stage: Stage, name: str, at: np.ndarray, axes: np.ndarray) -> list[Part]:
    """Return the emitters of a lamp of a stage, which stands at a place [m] with axes of its own."""
    number = [lamp.name for lamp in stage.lamps].index(name)
    return [_part(each, at, axes) for each in stage.emitters if each.lamp == number]


def _part(emitter: Emitter, at: np.ndarray, axes: np.ndarray) -> Part:
    corners = (np.asarray(emitter.vertices, float)[np.asarray(emitter.faces)] - at) @ axes
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(across, axis=1)
    # Points an equal part of the area apart, each in the middle of its own.
    upto = np.cumsum(size) / size.sum()
    faces = np.searchsorted(upto, (np.arange(PIECES) + 0.5) / PIECES)
    golden = np.outer(np.arange(PIECES) + 0.5, [0.7548776662, 0.5698402910]) % 1
    u, v = np.sqrt(golden[:, 0]), golden[:, 1]
    points = ((1 - u)[:, None] * corners[faces, 0] + (u * (1 - v))[:, None] * corners[faces, 1]
              + (u * v)[:, None] * corners[faces, 2])
    return Part(points, across[faces] / size[faces, None], emitter.share, emitter.table,
                axes.T @ np.asarray(emitter.world_from_light, float))


def straight(parts: list[Part], at: np.ndarray, axes: np.ndarray, scale: np.ndarray, points: Points,
             ) -> tuple[np.ndarray, np.ndarray]:
    """Return what a lamp gives straight at points from each of many places, nothing in the way.

    Parameters
    ----------
    parts : list of Part
    at : float array, shape (n, 3)
        Its places. [m]
    axes : float array, shape (n, 3, 3)
        Its own axes there.
    scale : float array, shape (n,)
        Times its size. [1]
    points : Points

    Returns
    -------
    light : float array, shape (n, points)
        Of one lumen. [lx/lm]
    faces : float array, shape (n, SEEN_BY, 3)
        Places on its face, to look at from the points. [m]
    """
    total = np.zeros((len(at), len(points.position)))
    shown = []
    for part in parts:
        places = at[:, None] + np.einsum("nij,kj->nki", axes, part.points) * scale[:, None, None]
        away = points.position[None, None] - places[:, :, None]
        squared = np.maximum(np.sum(away**2, axis=-1), 1e-6)
        away /= np.sqrt(squared)[..., None]
        falls = -np.einsum("nkri,ri->nkr", away, points.normal)
        # A dome is a cardioid: half of one and the cosine.
        falls = np.where(points.dome, 0.5 * (1 + falls), np.maximum(falls, 0.0))
        if part.table is None:
            normals = np.einsum("nij,kj->nki", axes, part.normals)
            intensity = np.maximum(np.einsum("nkri,nki->nkr", away, normals), 0.0) / np.pi
        else:
            own = np.einsum("nkri,nij->nkrj", away, axes @ part.axes)
            theta = np.degrees(np.arccos(np.clip(own[..., 2], -1, 1)))
            intensity = part.table.intensity(theta, np.degrees(np.arctan2(own[..., 1], own[..., 0])))
        total += part.share * np.mean(intensity * falls / squared, axis=1)
        shown.append(places[:, :: max(1, PIECES // SEEN_BY)][:, :SEEN_BY])
    return total, shown[0]


class Shadows:
    """What of a lamp is seen from points, on a stage where the lamp itself is out of the way."""

    def __init__(self, stage: Stage, name: str, bands: int, backend: str):
        number = [lamp.name for lamp in stage.lamps].index(name)
        meshes = tuple(replace(each, vertices=np.asarray(each.vertices, float) + AWAY)
                       if each.role == "lamp" and each.name == name else each for each in stage.meshes)
        emitters = tuple(replace(each, vertices=np.asarray(each.vertices, float) + AWAY)
                         if each.lamp == number else each for each in stage.emitters)
        self.stage = replace(stage, meshes=meshes, emitters=emitters)
        self.buffers: Any = open_stage(self.stage, bands, backend)

    def seen(self, light: np.ndarray, faces: np.ndarray, points: Points) -> np.ndarray:
        """Return the share of a lamp's face that is seen from each point, where there is light at all.

        Parameters
        ----------
        light : float array, shape (n, points)
            As of `straight`.
        faces : float array, shape (n, k, 3)
            [m]
        points : Points

        Returns
        -------
        float array, shape (n, points)
            [1]
        """
        from previz.engine.sightlines import meet

        place, point = np.nonzero(light > 0)
        ends = faces[place]
        begins = np.repeat(points.position[point][:, None], ends.shape[1], axis=1)
        away = ends - begins
        length = np.linalg.norm(away, axis=2)
        met = meet(self.buffers, begins.reshape(-1, 3), (away / length[..., None]).reshape(-1, 3))
        free = met.distance.reshape(length.shape) > length - JUST_OFF
        shares = np.zeros(light.shape)
        shares[place, point] = free.mean(axis=1)
        return shares

    def of_thing(self, camera: Camera, things: set[str], *, but: bool = False,
                 beyond: float = 0.0) -> tuple[Points, np.ndarray]:
        """Return points of some things as a camera sees them, and what they reflect. Shape (n, 81) [1]

        With `but` all other things than these, `beyond` a depth. [m]
        """
        from previz.engine.sightlines import meet

        x = (np.arange(GRID[0]) + 0.5) / GRID[0] * 2 - 1
        y = 1 - (np.arange(GRID[1]) + 0.5) / GRID[1] * 2
        plane = np.stack(np.broadcast_arrays(x[None] * camera.tan_half[0], y[:, None] * camera.tan_half[1],
                                             1.0), axis=-1).reshape(-1, 3)
        rays = plane / np.linalg.norm(plane, axis=1)[:, None] @ np.asarray(camera.world_from_camera).T
        met = meet(self.buffers, np.repeat(np.asarray(camera.position, float)[None], len(rays), axis=0), rays)
        names = self.buffers.geometry.names
        wanted = np.array([(names[i] in things) != but if i >= 0 else False for i in met.name])
        depth = met.distance * (rays @ np.asarray(camera.world_from_camera)[:, 2])
        found = np.flatnonzero(wanted & np.isfinite(met.distance) & (depth > beyond) & ~met.shines)
        found = found[np.linspace(0, len(found) - 1, min(POINTS, len(found))).round().astype(int)]
        normal = met.normal[found]
        place = camera.position + rays[found] * met.distance[found][:, None] + normal * JUST_OFF
        surfaces = list(self.stage.surfaces.values())
        reflects = np.array([surfaces[met.surface[i]].reflectance for i in found]).reshape(-1, 81)
        return Points(place, normal, np.zeros(len(found), bool)), reflects


def in_frame(camera: Camera, at: np.ndarray, radius: float) -> bool:
    """Return whether anything of a ball [m] may lie in a camera's frame, what hides it left aside."""
    x, y, depth = projected(camera, at)
    if depth <= radius:
        return False
    return (abs(x) <= 1 + radius / (depth * camera.tan_half[0])
            and abs(y) <= 1 + radius / (depth * camera.tan_half[1]))
