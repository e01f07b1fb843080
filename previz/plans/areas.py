"""Areas of a floor on the plan: walls and gaps, pieces, where people go, what a camera sees of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

Place = tuple[float, float]
"""On the floor. [m]"""

Area: TypeAlias = BaseGeometry
"""A part of the floor, on the plan. [m]"""


def room_walls(size: Sequence[float], thickness: float) -> Area:
    """Return the walls of a room on the plan, without gaps. [m]"""
    across, deep = size[0], size[1]
    outer = box(-thickness, -thickness, across + thickness, deep + thickness)
    return outer.difference(box(0, 0, across, deep))


def wall_gap(size: Sequence[float], thickness: float, wall: str, along: float, width: float) -> Area:
    """Return the part of a wall that an opening takes up on the plan. [m]

    Parameters
    ----------
    size : sequence of float
        Of the room: across and deep. [m]
    thickness : float
        Of its walls. [m]
    wall : str
        'north', 'south', 'east' or 'west'.
    along, width : float
        From the wall's west or south end to the opening, and how wide that is. [m]
    """
    across, deep = size[0], size[1]
    end = along + width
    return {"west": box(-thickness, along, 0, end), "east": box(across, along, across + thickness, end),
            "south": box(along, -thickness, end, 0), "north": box(along, deep, end, deep + thickness)}[wall]


def footprints(vertices: Any, faces: Any, low: float, high: float) -> list[Area]:
    """Return what of a body stands between two heights, part by part, on the plan.

    Parameters
    ----------
    vertices : float array, shape (n, 3)
        [m]
    faces : int array, shape (m, 3)
        Faces that share a corner's place are one part, such as one leg of a table.
    low, high : float
        [m]

    Returns
    -------
    list of Polygon
        The convex hull of each part that is lower than `high` and higher than `low`. [m]
    """
    corners, triangles = np.asarray(vertices, float), np.asarray(faces, int)
    if not len(triangles):
        return []
    # Where normals or texture coordinates differ, one place has several points.
    corners, index = np.unique(np.round(corners, 5), axis=0, return_inverse=True)
    triangles = index.reshape(-1)[triangles]
    part = np.arange(len(corners))
    while True:
        least = part[triangles].min(axis=1)
        new = part.copy()
        for k in range(3):
            np.minimum.at(new, triangles[:, k], least)
        new = new[new]
        if np.array_equal(new, part):
            break
        part = new
    found = []
    for name in np.unique(part[triangles]):
        own = corners[part == name]
        if own[:, 2].min() < high and own[:, 2].max() > low:
            hull = shapely.MultiPoint(own[:, :2]).convex_hull
            if hull.area > 1e-6:
                found.append(hull)
    return found


def way_between(places: Sequence[Place], width: float) -> Area:
    """Return the floor that somebody takes who goes from place to place, or stands at one. [m]"""
    points = [tuple(map(float, each[:2])) for each in places]
    shape = LineString(points) if len(points) > 1 else shapely.Point(points[0])
    return shape.buffer(width / 2)


def seen_floor(position: Any, axes: Any, tan_half: Sequence[float], low: Place, high: Place,
               within: Area | None = None) -> Area:
    """Return the floor that a camera's picture takes in, nothing standing before it.

    Parameters
    ----------
    position : float array, shape (3,)
        Of the camera. [m]
    axes : float array, shape (3, 3)
        Columns: right, up, forward.
    tan_half : (float, float)
        Tangent of half the angle of view, across and up. [1]
    low, high : (float, float)
        Corners of the floor. [m]
    within : Polygon or None
        What of it can be looked at at all, such as the room that the camera is in.
    """
    found = box(*low, *high) if within is None else within
    at, turn = np.asarray(position, float), np.asarray(axes, float)
    across, up = tan_half
    # A point of the floor is in the picture where it is on the inner side of four planes.
    for side in ((1.0, 0.0, across), (-1.0, 0.0, across), (0.0, 1.0, up), (0.0, -1.0, up)):
        normal = turn @ np.array(side)
        found = found.intersection(_half(normal[:2], float(normal @ at), low, high))
    ahead = turn[:, 2]
    return found.intersection(_half(ahead[:2], float(ahead @ at), low, high))


def _half(normal: Any, least: float, low: Place, high: Place) -> Area:
    """Return the floor where the product with a level direction is at least so much."""
    size = float(np.hypot(*normal))
    far = 4 * math.dist(low, high) + 10
    middle = np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2])
    if size < 1e-9:
        return Polygon() if least > 0 else box(*(middle - far), *(middle + far))
    ahead = np.asarray(normal, float) / size
    aside = np.array([-ahead[1], ahead[0]])
    foot = middle + ahead * (least / size - middle @ ahead)
    corners = [foot + aside * far, foot - aside * far, foot - aside * far + ahead * 2 * far,
               foot + aside * far + ahead * 2 * far]
    return Polygon(corners)


def outline(low: Sequence[float], high: Sequence[float]) -> Area:
    """Return the rectangle between two corners. [m]"""
    return box(low[0], low[1], high[0], high[1])


def everything_but(area: Area, low: Place, high: Place) -> Area:
    """Return what of the rectangle between two corners is not in an area. [m]"""
    return box(*low, *high).difference(area)


def hull(corners: Any) -> Area:
    """Return the least convex area that points lie over, shape (n, 2) or more. [m]"""
    return shapely.MultiPoint(np.asarray(corners, float)[:, :2]).convex_hull


def has(area: Area, at: Place) -> bool:
    """Return whether a place is in an area."""
    return bool(shapely.contains_xy(area, at[0], at[1]))


def is_empty(area: Area) -> bool:
    """Return whether an area has nothing in it."""
    return bool(area.is_empty)
