"""What things cover, seen from above: true footprints, made of their triangles."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from previz.stage.records import Mesh, Stage

CUT = 1.2
"""Height at which walls are cut, and over which things are drawn as overhead. [m]
Common practice, no source: about where sills are, so that windows show."""

MANY = 10_000
"""Triangles from which on corners are first taken to a grid: bodies of people, scanned things."""

GRID = 0.01
"""Of those corners; their outlines are off by about as much. [m]"""

SMOOTHED = 0.0005
"""How far a simplified outline may leave the true one. [m]"""

FIRST = 200
"""Triangles that are joined first; four times as many each time after."""

LEAST_AREA = 1e-10
"""Projected triangles under it are seen edge on. [m²]"""


@dataclass(frozen=True, eq=False)
class Footprint:
    """What a thing covers of the floor, and from which height to which.

    Parameters
    ----------
    area : shapely geometry
        [m]
    low, high : float
        [m]
    """

    area: BaseGeometry
    low: float
    high: float

    @property
    def cut(self) -> bool:
        """Whether the cut goes through it."""
        return self.low < CUT < self.high

    @property
    def overhead(self) -> bool:
        """Whether all of it is over the cut."""
        return self.low >= CUT


def footprint(meshes: Iterable[Mesh]) -> Footprint | None:
    """Return what some meshes cover together, None where that is nothing."""
    corners = [np.asarray(m.vertices, float)[np.asarray(m.faces)] for m in meshes if len(m.faces)]
    if not corners:
        return None
    triangles = np.concatenate(corners)
    area = covered(triangles[:, :, :2])
    if area.is_empty:
        # A sheet that stands upright covers a line.
        area = MultiPoint(triangles[:, :, :2].reshape(-1, 2)).convex_hull
    return Footprint(area, float(triangles[:, :, 2].min()), float(triangles[:, :, 2].max()))


def covered(triangles: np.ndarray) -> BaseGeometry:
    """Return the union of flat triangles, shape (n, 3, 2), with its outlines simplified. [m]"""
    key = hashlib.blake2b(np.ascontiguousarray(triangles, float).tobytes(), digest_size=16).digest()
    if key not in _KNOWN:
        if len(_KNOWN) >= MOST_KNOWN:
            _KNOWN.clear()
        _KNOWN[key] = _covered(triangles)
    return _KNOWN[key]


_KNOWN: dict[bytes, BaseGeometry] = {}
"""What was covered by triangles before: a plan is drawn anew for each thing that is moved."""

MOST_KNOWN = 1000


def _covered(triangles: np.ndarray) -> BaseGeometry:
    many = len(triangles) > MANY
    if many:
        triangles = _on_grid(triangles)
    one, two = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    twice = np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
    triangles = triangles[twice > 2 * LEAST_AREA]
    if not len(triangles):
        return Polygon()
    if many:
        area = shapely.union_all(shapely.polygons(triangles))
        # Steps and specks of the grid.
        area = area.buffer(GRID, join_style="mitre").buffer(-GRID, join_style="mitre")
    else:
        area = _union(triangles[np.argsort(-twice[twice > 2 * LEAST_AREA])])
    return shapely.simplify(area, 0.6 * GRID if many else SMOOTHED)


def _union(triangles: np.ndarray) -> BaseGeometry:
    """Return the union of flat triangles, the largest first. [m]

    Most small ones lie within what larger ones cover, which is found in less time than they are joined; of
    triangles on a grid, many of which are alike, in more.
    """
    shapes, count = shapely.polygons(triangles), FIRST
    area, rest = shapely.union_all(shapes[:count]), shapes[count:]
    while len(rest):
        shapely.prepare(area)
        rest = rest[~shapely.covers(area, rest)]
        count *= 4
        area, rest = shapely.union_all([area, *rest[:count]]), rest[count:]
    return area


def _on_grid(triangles: np.ndarray) -> np.ndarray:
    steps = np.round(triangles / GRID).astype(np.int64)
    ordered = np.sort(steps[..., 0] * (1 << 31) + steps[..., 1], axis=1)
    # Of hair and other fine things most close up, with two corners in one place.
    whole = np.flatnonzero((ordered[:, 0] != ordered[:, 1]) & (ordered[:, 1] != ordered[:, 2]))
    first = np.unique(ordered[whole], axis=0, return_index=True)[1]
    return steps[whole[np.sort(first)]] * GRID


def footprints(stage: Stage, names: Iterable[str]) -> dict[str, Footprint]:
    """Return name -> footprint of the things that have a mesh."""
    parts: dict[str, list[Mesh]] = {name: [] for name in names}
    for mesh in stage.meshes:
        if mesh.name in parts:
            parts[mesh.name].append(mesh)
    found = ((name, footprint(meshes)) for name, meshes in parts.items())
    return {name: made for name, made in found if made is not None}


def rings(area: BaseGeometry) -> Iterator[tuple[np.ndarray, bool]]:
    """Yield (points (n, 2), closed) of all outlines of a geometry, outer ones before holes; first
    points are not repeated.
    """
    for part in getattr(area, "geoms", [area]):
        if part.is_empty:
            continue
        if isinstance(part, Polygon):
            yield np.array(part.exterior.coords)[:-1], True
            for hole in part.interiors:
                yield np.array(hole.coords)[:-1], True
        else:
            yield np.array(part.coords), False


def hull(points: np.ndarray) -> np.ndarray:
    """Return the convex hull of points, shape (n, 2): corners, or the two ends of a line. [m]"""
    around = MultiPoint(np.asarray(points, float)).convex_hull
    if isinstance(around, Polygon):
        return np.array(around.exterior.coords)[:-1]
    return np.array(around.coords)
