"""How much of a glowing body's light is lost in the lamp's own holder.

Lumens are stated for a lamp with its holder, wax or logs, so what these swallow is made up for.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from previz.stage.records import EDGE, THIN
from previz.stage.shapes import Triangles, crosses, join

RAYS = 8192

PAIRS = 20_000
"""Rays times triangles that are tested at once, so few that they stay in the processor's cache."""

# Powers of the root of x^8 = x + 1 spread points evenly in seven dimensions.
_ROOT = 1.0969815577985598
_STEPS = _ROOT ** -np.arange(1.0, 8.0)


def share_lost(glowing: Triangles, holder: Triangles, albedo: float) -> float:
    """Return the share of a Lambertian body's light that its holder swallows.

    Parameters
    ----------
    glowing : (vertices, faces)
        Convex; all of it gives light, and what falls on it is lost.
    holder : (vertices, faces)
        Outside it.
    albedo : float
        What the holder scatters of the light on it. [1]

    Returns
    -------
    float
        From evenly spread rays, the same each time; good to about 0.2 % of the light. [1]

    Limits
    ------
    Light that the holder scatters either falls back on the glowing body or gets away.
    """
    shapes = [np.ascontiguousarray(each, kind) for body in (glowing, holder)
              for each, kind in zip(body, (float, np.int64), strict=True)]
    return _lost(tuple(each.tobytes() for each in shapes), float(albedo))


@functools.lru_cache(maxsize=256)
def _lost(shapes: tuple[bytes, ...], albedo: float) -> float:
    # Bulbs of one make are many in a scene, and the same ones in each of its options.
    shapes = [np.frombuffer(each, kind).reshape(-1, 3)
              for each, kind in zip(shapes, (float, np.int64) * 2, strict=True)]
    glowing, holder = tuple(shapes[:2]), tuple(shapes[2:])
    u = np.mod(0.5 + np.arange(1, RAYS + 1)[:, None] * _STEPS, 1.0)
    start, normal = _points(glowing, u[:, :3])
    direction = _scattered(normal, u[:, 3:5])
    distance, met = _first_hit(start, direction, holder)
    hit = np.isfinite(distance)
    if not hit.any():
        return 0.0
    start, direction = start[hit] + direction[hit] * distance[hit, None], direction[hit]
    # The side that the light fell on sends it back.
    side = met[hit] * -np.sign(np.sum(met[hit] * direction, axis=1, keepdims=True))
    again, _ = _first_hit(start + side * 1e-6, _scattered(side, u[hit, 5:7]), glowing)
    back = float(np.mean(np.isfinite(again)))
    return float(hit.mean()) * (1 - albedo * (1 - back))


@dataclass(frozen=True)
class Flames:
    """How much light of flames gets away, and how much to the side.

    Parameters
    ----------
    lost : float
        Share that other flames and what burns swallow. [1]
    side : float
        Intensity to the side, the mean all round, of one lumen that leaves the flames' own surface. [cd/lm]
    """

    lost: float
    side: float


FLAME_RAYS = 8192
GOLDEN = (5**0.5 - 1) / 2
"""Step that spreads numbers evenly. [1]"""


def of_flames(glowing: Sequence[Triangles], level: Callable[[np.ndarray], np.ndarray], holder: Triangles,
              albedo: float, rays: int = FLAME_RAYS) -> Flames:
    """Return what becomes of the light of flames that stand in each other's way.

    Parameters
    ----------
    glowing : sequence of (vertices, faces)
        Closed bodies of thin gas; what leaves them fades towards their outline, see `Emitter.thin`.
    level : function
        Points, shape (n, 3) -> how bright they are beside others, shape (n,). [1]
    holder, albedo
        As for `share_lost`; what it scatters is taken to get away.

    Returns
    -------
    Flames
        From evenly spread rays, the same each time; with 65 536 of them good to about 0.5 % of the light of
        many bodies, with as many as usual of that of one.
    """
    u = np.mod(0.5 + np.arange(1, rays + 1)[:, None] * _STEPS, 1.0)
    start, normal = _points(join(*glowing), u[:, :3])
    bright = level(start)
    bright = bright / bright.sum()
    start = start + normal * 1e-6

    def swallowed(start, direction):
        # One after the other, as most rays miss the ball round each.
        left = np.arange(len(start))
        for body in glowing:
            left = left[np.isinf(_first_hit(start[left], direction[left], body)[0])]
        share = np.ones(len(start))
        wood = np.isfinite(_first_hit(start[left], direction[left], holder)[0])
        share[left] = np.where(wood, 1 - albedo, 0.0)
        return share

    turn = 2 * np.pi * ((np.arange(rays) * GOLDEN) % 1)
    beside = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    facing = np.sum(normal * beside, axis=1)
    ahead = np.flatnonzero(facing > 0)
    facing = facing[ahead]
    seen = swallowed(start[ahead], beside[ahead]) < 1.0
    side = bright[ahead] @ (facing * (EDGE + (1 - EDGE) * facing) * seen) / THIN
    out = _scattered(normal, u[:, 3:5])
    # Drawn by the cosine alone.
    weight = bright * (EDGE + (1 - EDGE) * np.sum(normal * out, axis=1))
    return Flames(float(weight @ swallowed(start, out) / weight.sum()), float(side))


def _points(body, u):
    """Return points spread evenly over a body, and its outward normal there."""
    vertices, faces = np.asarray(body[0], float), np.asarray(body[1])
    corners = vertices[faces]
    double = crosses(corners)
    size = np.linalg.norm(double, axis=1)
    face = np.minimum(np.searchsorted(np.cumsum(size) / size.sum(), u[:, 0]), len(faces) - 1)
    root = np.sqrt(u[:, 1])[:, None]
    a, b, c = (corners[face, k] for k in range(3))
    points = a * (1 - root) + b * root * (1 - u[:, 2:3]) + c * root * u[:, 2:3]
    return points, double[face] / size[face][:, None]


def _scattered(normal, u):
    """Return directions about normals, as a Lambertian surface sends light."""
    side = np.where(np.abs(normal[:, :1]) < 0.9, [[1.0, 0, 0]], [[0, 1.0, 0]])
    x = np.cross(side, normal)
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    radius, turn = np.sqrt(u[:, :1]), 2 * np.pi * u[:, 1:2]
    return (x * radius * np.cos(turn) + np.cross(normal, x) * radius * np.sin(turn)
            + normal * np.sqrt(1 - u[:, :1]))


def _first_hit(start, direction, body):
    """Return how far each ray goes to a body, inf for never, and the normal of what it meets.

    A ray meets a triangle where it crosses its plane, if the place in it is inside.
    """
    distance, normal = np.full(len(start), np.inf), np.zeros((len(start), 3))
    corners = np.asarray(body[0], float)[np.asarray(body[1])]
    near = np.flatnonzero(_meets_ball(start, direction, corners.reshape(-1, 3)))
    if not near.size:
        return distance, normal
    planes = _Planes(corners)
    step = max(1, PAIRS // len(corners))
    for first in range(0, near.size, step):
        rays = near[first:first + step]
        t = planes.crossings(start[rays], direction[rays])
        best = np.argmin(t, axis=1)
        distance[rays] = t[np.arange(rays.size), best]
        normal[rays] = planes.normal[best]
    normal[np.isinf(distance)] = 0
    return distance, normal


def _meets_ball(start, direction, points):
    """Return whether each ray comes within the ball round some points."""
    centre = (points.min(axis=0) + points.max(axis=0)) / 2
    radius = np.linalg.norm(points - centre, axis=1).max()
    offset = centre - start
    along = np.maximum(np.sum(offset * direction, axis=1), 0)
    return np.sum((offset - direction * along[:, None]) ** 2, axis=1) <= radius**2


class _Planes:
    """Triangles, each as its plane and the two linear maps that give a place in it."""

    def __init__(self, corners):
        corner, one, two = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        across = np.cross(one, two)
        size = np.linalg.norm(across, axis=1, keepdims=True)
        with np.errstate(invalid="ignore", divide="ignore"):
            # One without an area is never met, as nothing compares with NaN.
            self.normal = across / size
            # The share of an edge in a place is its product with the vector that is square to the
            # other edge and has a product of 1 with this one.
            self.maps = np.stack([self.normal, np.cross(two, across) / size**2,
                                  np.cross(across, one) / size**2])
        self.offsets = np.einsum("ktx,tx->kt", self.maps, corner)

    def crossings(self, start, direction):
        """Return how far each ray goes to each triangle, inf for never. Shape (rays, triangles)"""
        height, u, v = (start @ one.T - offset for one, offset in zip(self.maps, self.offsets, strict=True))
        fall, along_u, along_v = (direction @ one.T for one in self.maps)
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            t = height / -fall
            u += along_u * t
            v += along_v * t
            met = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
        return np.where(met, t, np.inf)
