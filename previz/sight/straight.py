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

FLAT_PIECES, ROUND_PIECES = 12, 144
"""Points that stand for a flat face, and for one that is not, of which a point sees but a part."""

SEEN_BY = (12, 36)
"""Of those, how many are looked at from a point, to tell shadow."""

STEPS = (0.7548776662, 0.5698402910)
"""Of a sequence that fills a square evenly: one over the root of x³ = x + 1, and that squared."""

AWAY = np.array([0.0, 0.0, -500.0])
"""Where a lamp goes that is to be in nobody's way. [m]"""

GRID = (64, 36)
"""Lines of sight of a camera that find points of a thing, across and down."""

POINTS = 24
"""At most so many points of a thing stand for it."""

ITSELF = 5.0
"""No part of a lamp is so far from another. [m]"""

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


@dataclass(frozen=True, eq=False)
class Stand:
    """Places of a lamp.

    Parameters
    ----------
    at : float array, shape (n, 3)
        [m]
    axes : float array, shape (n, 3, 3)
        Its own axes there, as columns.
    scale : float array, shape (n,)
        Times its size. [1]
    """

    at: np.ndarray
    axes: np.ndarray
    scale: np.ndarray

    def world(self, points: np.ndarray) -> np.ndarray:
        """Return points of the lamp (k, 3), in its own axes, in the world. Shape (n, k, 3) [m]"""
        return np.asarray(self.at[:, None] + np.einsum("nij,kj->nki", self.axes, points)
                          * self.scale[:, None, None])


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
    # A point in each of many parts of the same area.
    upto, count = np.cumsum(size) / size.sum(), FLAT_PIECES if emitter.flat else ROUND_PIECES
    drawn = np.vstack([np.full(count, 0.5), np.outer(STEPS, np.arange(count) + 0.5) % 1])
    if not emitter.flat:
        # Evenly spaced ones would fall in step with rings of faces.
        drawn = np.random.default_rng(1).random((3, count))
    faces = np.searchsorted(upto, (np.arange(count) + drawn[0]) / count)
    u, v = np.sqrt(drawn[1]), drawn[2]
    points = ((1 - u)[:, None] * corners[faces, 0] + (u * (1 - v))[:, None] * corners[faces, 1]
              + (u * v)[:, None] * corners[faces, 2])
    return Part(points, across[faces] / size[faces, None], emitter.share, emitter.table,
                axes.T @ np.asarray(emitter.world_from_light, float))


def straight(part: Part, stand: Stand, points: Points) -> np.ndarray:
    """Return what each piece of a face gives straight at points from many places, nothing in the way.

    Parameters
    ----------
    part : Part
    stand : Stand
        The lamp's places.
    points : Points

    Returns
    -------
    float array, shape (n, k, points)
        Of one lumen of the lamp. [lx/lm]

    Source
    ------
    Inverse square and cosine law of each piece.

    Limits
    ------
    A table that is sharp at a focus is taken as it is far away.
    """
    away = points.position[None, None] - stand.world(part.points)[:, :, None]
    squared = np.maximum(np.sum(away**2, axis=-1), 1e-6)
    away /= np.sqrt(squared)[..., None]
    falls = -np.einsum("nkri,ri->nkr", away, points.normal)
    # A dome is a cardioid: half of one and the cosine.
    falls = np.where(points.dome, 0.5 * (1 + falls), np.maximum(falls, 0.0))
    if part.table is None:
        normals = np.einsum("nij,kj->nki", stand.axes, part.normals)
        intensity = np.maximum(np.einsum("nkri,nki->nkr", away, normals), 0.0) / np.pi
    else:
        own = np.einsum("nkri,nij->nkrj", away, stand.axes @ part.axes)
        theta = np.degrees(np.arccos(np.clip(own[..., 2], -1, 1)))
        intensity = part.table.intensity(theta, np.degrees(np.arctan2(own[..., 1], own[..., 0])))
    return np.asarray(part.share / len(part.points) * intensity * falls / squared)


class Shadows:
    """What of a lamp is seen from points, wherever it stands in a stage.

    Parameters
    ----------
    stage : Stage
    name : str
        Of the lamp. Its body is put out of the way, and looked at there for the shadow that it throws.
    at : float array, shape (3,)
        Where it stands. [m]
    axes : float array, shape (3, 3)
        Its own, there.
    bands : int
    backend : str
        Of the engine.
    """

    def __init__(self, stage: Stage, name: str, at: np.ndarray, axes: np.ndarray, bands: int, backend: str):
        self.stage, self.at, self.axes = stage, np.asarray(at, float) + AWAY, axes
        number = [lamp.name for lamp in stage.lamps].index(name)
        meshes = tuple(replace(each, vertices=np.asarray(each.vertices, float) + AWAY)
                       if each.role == "lamp" and each.name == name else each for each in stage.meshes)
        emitters = tuple(replace(each, vertices=np.asarray(each.vertices, float) + AWAY)
                         if each.lamp == number else each for each in stage.emitters)
        self.buffers: Any = open_stage(replace(stage, meshes=meshes, emitters=emitters), bands, backend)

    def light(self, part: Part, stand: Stand, points: Points) -> np.ndarray:
        """Return what a face gives straight at points, what stands in the way counted.

        Parameters
        ----------
        part : Part
        stand : Stand
        points : Points

        Returns
        -------
        float array, shape (n, points)
            Of one lumen. [lx/lm]
        """
        pieces = straight(part, stand, points)
        whole = pieces.sum(axis=1)
        looked = SEEN_BY[len(part.points) > FLAT_PIECES]
        some = slice(0, None, max(1, len(part.points) // looked))
        place, point = np.nonzero(whole > 0)
        begins = np.repeat(points.position[point][:, None], len(part.points[some]), axis=1)
        away = stand.world(part.points[some])[place] - begins
        length = np.linalg.norm(away, axis=2)
        away /= length[..., None]
        free = self._free(begins, away, length)
        # As the lamp itself has it, where it is out of everybody's way.
        own = -np.einsum("mki,mij->mkj", away, stand.axes[place])
        begins = (part.points[some][None] * stand.scale[place][:, None, None] + own * JUST_OFF) @ self.axes.T
        free &= self._free(begins + self.at, own @ self.axes.T, np.full(length.shape, ITSELF))
        counts = pieces[:, some].transpose(0, 2, 1)[place, point]
        total = counts.sum(axis=1)
        shares = np.ones(whole.shape)
        seen = (counts * free).sum(axis=1) / np.maximum(total, 1e-30)
        shares[place, point] = np.where(total > 0, seen, 1.0)
        return np.asarray(whole * shares)

    def _free(self, begins: np.ndarray, away: np.ndarray, length: np.ndarray) -> np.ndarray:
        """Return which lines (..., 3) meet nothing before their ends."""
        from previz.engine.sightlines import meet

        met = meet(self.buffers, begins.reshape(-1, 3), away.reshape(-1, 3))
        return np.asarray(met.distance.reshape(length.shape) > length - JUST_OFF)

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
