"""What a face sees: from where its light comes, how large the source appears, what an eye mirrors.

The engine renders small square pictures from a point before the face: five that together take in
all that lies ahead and to the sides, and one closer picture of whatever sends the key. Everything here
is arithmetic on those pictures, so a board that is lit only in its middle, or half hidden by a
flag, counts as what it is from the face and not as what it measures on the stand.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from previz.frames.records import Frames
from previz.physics.light import LampLight, lamps_band_xyz
from previz.physics.rays import pinhole_directions

Rename = Callable[[np.ndarray], Sequence[str]]
"""(directions) -> names for those that meet nothing; '' leaves `SKY`."""

SKY = "sky"
"""What a direction is called that meets nothing."""

STANDS_OUT = 20.0
"""A pixel is a lamp's if it is so much brighter by that lamp than those round it. [1]"""


@dataclass(frozen=True, eq=False)
class Panorama:
    """Light arriving at a point, direction by direction and lamp by lamp.

    Parameters
    ----------
    directions : float array, shape (pixel, 3)
        Unit vectors towards where it comes from.
    solid_angle : float array, shape (pixel,)
        [sr]
    luminance : float array, shape (lamp, pixel)
        [cd/m²]
    lamps : tuple of str
        Names of the rows.
    things : tuple of str
        Names that `thing` counts by; `SKY` is among them.
    thing : int array, shape (pixel,)
        What is met in that direction.
    pictures : tuple of (float array of shape (3, 3), (float, float), (int, int))
        Axes, tangents of half the angles, and rows and columns of the pictures that it was joined
        from, in the order of the pixels.
    """

    directions: np.ndarray
    solid_angle: np.ndarray
    luminance: np.ndarray
    lamps: tuple[str, ...]
    things: tuple[str, ...]
    thing: np.ndarray
    pictures: tuple[tuple[np.ndarray, tuple[float, float], tuple[int, int]], ...] = ()

    def pixels(self, directions: ArrayLike) -> np.ndarray:
        """Return the pixel that each direction falls in; -1 where no picture was taken.

        Parameters
        ----------
        directions : float array, shape (n, 3)
            Unit vectors, any.
        """
        found, first = np.full(len(np.asarray(directions)), -1), 0
        for axes, tan_half, (rows, columns) in self.pictures:
            right, up, ahead = (np.asarray(directions, float) @ axes).T
            with np.errstate(divide="ignore", invalid="ignore"):
                column = np.floor((right / ahead / tan_half[0] + 1) / 2 * columns)
                row = np.floor((1 - up / ahead / tan_half[1]) / 2 * rows)
                inside = (ahead > 0) & (column >= 0) & (column < columns)
                inside &= (row >= 0) & (row < rows)
            found[inside] = first + (row[inside] * columns + column[inside]).astype(int)
            first += rows * columns
        return found

    def rows(self, lamps: Collection[str] | None) -> list[int]:
        """Return the rows of some lamps, or of all for None."""
        return [i for i, name in enumerate(self.lamps) if lamps is None or name in lamps]

    def seen(self, lamps: Collection[str] | None = None) -> np.ndarray:
        """Return the luminance of every direction, by some lamps or all. Shape (pixel,) [cd/m²]"""
        return self.luminance[self.rows(lamps)].sum(axis=0)

    def illuminance(self, normal: ArrayLike, lamps: Collection[str] | None = None) -> float:
        """Return what a flat receptor here would read. [lx]"""
        return float(np.sum(self._falling(normal, lamps)))

    def _falling(self, normal: ArrayLike, lamps: Collection[str] | None) -> np.ndarray:
        cosine = np.maximum(self.directions @ np.asarray(normal, float), 0.0)
        return self.seen(lamps) * cosine * self.solid_angle

    def by_thing(self, normal: ArrayLike,
                 lamps: Collection[str] | None = None) -> dict[str, float]:
        """Return the illuminance on a flat receptor by what it comes from, the most first. [lx]"""
        sums = np.bincount(self.thing, self._falling(normal, lamps), len(self.things))
        order = np.argsort(-sums, kind="stable")
        return {self.things[i]: float(sums[i]) for i in order if sums[i] > 0}

    def flow(self, lamps: Collection[str] | None = None, thing: str | None = None) -> np.ndarray:
        """Return where light comes from as a whole: the sum of L · direction · solid angle. Shape (3,) [lx]

        Only that of some lamps, and only what comes from a thing, where they are named. Its length is the
        most a flat receptor can read if nothing comes from behind it.
        """
        weight = self.seen(lamps) * self.solid_angle
        if thing is not None:
            weight = np.where(self.thing == self.things.index(thing), weight, 0.0)
        return weight @ self.directions


def pinhole_rays(rows: int, columns: int, axes: ArrayLike,
                 tan_half: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Return the directions and solid angles of a pinhole picture's pixels.

    Parameters
    ----------
    rows, columns : int
        [px]
    axes : float array, shape (3, 3)
        Columns: right, up, forward.
    tan_half : (float, float)
        Tangent of half the angle of view, across and up. [1]

    Returns
    -------
    directions : float array, shape (row, column, 3)
        Through the middles of the pixels.
    solid_angle : float array, shape (row, column)
        dΩ = dA cos³, exact for small pixels. [sr]
    """
    x = (np.arange(columns) + 0.5) * 2 / columns - 1
    y = 1 - (np.arange(rows) + 0.5) * 2 / rows
    directions = pinhole_directions(x, y, axes, tan_half)
    cosine = directions @ np.asarray(axes, float)[:, 2]
    return directions, 4 * tan_half[0] * tan_half[1] / (rows * columns) * cosine**3


def panorama(pictures: Sequence[tuple[Frames, ArrayLike, tuple[float, float]]],
             lamps: Sequence[LampLight], rename: Rename | None = None) -> Panorama:
    """Join pinhole pictures taken from one point.

    Parameters
    ----------
    pictures : sequence of (Frames, axes, tan_half)
        They must not overlap.
    lamps : sequence of LampLight
        As they are set.
    rename : function, optional
        See `Rename`: such as the opening that the sky is seen through.
    """
    frames = pictures[0][0]
    by_name = {lamp.name: lamp for lamp in lamps}
    bands = frames.slices.shape[1]
    weights = lamps_band_xyz([by_name[name] for name in frames.lights], bands)[:, :, 1]
    directions, solid_angle, luminance, thing = [], [], [], []
    for each, axes, tan_half in pictures:
        rays, omega = pinhole_rays(*each.shape, axes, tan_half)
        directions.append(rays.reshape(-1, 3))
        solid_angle.append(omega.ravel())
        slices = np.asarray(each.slices, dtype=float)
        luminance.append(np.einsum("lbrc,lb->lrc", slices, weights).reshape(len(weights), rays[..., 0].size))
        thing.append(np.asarray(each.names_index).ravel())
    rays = np.concatenate(directions)
    names = [*frames.names, SKY]
    index = np.concatenate(thing)
    index = np.where(index < 0, len(names) - 1, index)
    if rename is not None:
        index, names = _renamed(rays, index, names, rename)
    joined = tuple((np.asarray(axes, float), (tan[0], tan[1]), each.shape) for each, axes, tan in pictures)
    return Panorama(rays, np.concatenate(solid_angle), np.concatenate(luminance, axis=1),
                    frames.lights, tuple(names), index, joined)


def _renamed(rays: np.ndarray, index: np.ndarray, names: list[str],
             rename: Rename) -> tuple[np.ndarray, list[str]]:
    """Give directions that meet nothing the name of what they go through."""
    empty = np.flatnonzero(index == len(names) - 1)
    called = rename(rays[empty])
    index = index.copy()
    for name in dict.fromkeys(called):
        if name:
            if name not in names:
                names = [*names, name]
            index[empty[np.array([each == name for each in called])]] = names.index(name)
    return index, names


def named_sources(view: Panorama, cones: Iterable[tuple[str, np.ndarray, float]]) -> Panorama:
    """Return a panorama in which every pixel that a lamp's face fills in part has its name.

    A pixel is named after what its middle meets, and a lamp's face may be smaller than a pixel:
    its light would pass for that of the wall behind it.

    Parameters
    ----------
    view : Panorama
        As it was joined.
    cones : iterable of (str, float array of shape (3,), float)
        Lamp, direction, and half the angle [rad] of each thing that shines by itself.
    """
    names, thing = list(view.things), view.thing.copy()
    pixel = float(np.sqrt(view.solid_angle.max()))
    for lamp, direction, half in cones:
        light = view.seen((lamp,))
        angle = np.arccos(np.clip(view.directions @ np.asarray(direction, float), -1, 1))
        inside = angle < half + pixel
        ring = (angle >= half + pixel) & (angle < half + 5 * pixel)
        if not inside.any() or not ring.any():
            continue
        own = inside & (light > STANDS_OUT * max(np.median(light[ring]), 1e-9 * light.max()))
        if own.any():
            if lamp not in names:
                names.append(lamp)
            thing[own] = names.index(lamp)
    return replace(view, things=tuple(names), thing=thing)


def first_hit(triangles: np.ndarray, start: ArrayLike, direction: ArrayLike) -> float:
    """Return how far along a ray the first triangle is met; inf for none. [m]

    Parameters
    ----------
    triangles : float array, shape (n, 3, 3)
        Corners. [m]
    start, direction : float array, shape (3,)
        Where the ray begins [m], and its unit vector.

    Source
    ------
    Möller and Trumbore 1997, "Fast, minimum storage ray/triangle intersection".
    """
    corner = triangles[:, 0]
    edge_1, edge_2 = triangles[:, 1] - corner, triangles[:, 2] - corner
    along = np.asarray(direction, float)
    across = np.cross(along, edge_2)
    size = np.einsum("ij,ij->i", edge_1, across)
    size = np.where(np.abs(size) < 1e-16, np.nan, size)
    gap = np.asarray(start, float) - corner
    turned = np.cross(gap, edge_1)
    u = np.einsum("ij,ij->i", gap, across) / size
    v = turned @ along / size
    distance = np.einsum("ij,ij->i", edge_2, turned) / size
    with np.errstate(invalid="ignore"):
        hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (distance > 0)
    return float(distance[hit].min()) if hit.any() else float("inf")


def bearing(direction: ArrayLike, ahead: ArrayLike) -> tuple[float, float]:
    """Return how far a direction lies to the side and up, from where something points.

    Parameters
    ----------
    direction, ahead : float array, shape (3,)
        Any length; `ahead` need not be level.

    Returns
    -------
    side : float
        Turn about the upright, plus to the right of a viewer along `ahead`, -180 to 180.
        [deg]
    height : float
        Above the level plane. [deg]
    """
    level = np.array([0.0, 0.0, 1.0])
    front = np.asarray(ahead, float)
    front = front - level * (front @ level)
    front = front / np.linalg.norm(front)
    right = np.cross(front, level)
    unit = np.asarray(direction, float)
    unit = unit / np.linalg.norm(unit)
    side = np.degrees(np.arctan2(unit @ right, unit @ front))
    return float(side), float(np.degrees(np.arcsin(np.clip(unit @ level, -1, 1))))
