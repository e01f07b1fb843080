"""The scalp of a stand-in figure: its skull as a star-shaped surface, and its hairline."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import unit
from previz.stage.figures.people import PEOPLE
from previz.stage.figures.skin import bare, head_shape

_AZIMUTHS, _ELEVATIONS = 96, 64

_FEW = 48
"""Directions that are worked out at once, so that their tables stay in the processor's cache."""

# Height of the hairline over the eyes, over the height of the crown over them, against the bearing
# from straight ahead: forehead, temple, sideburn, over the ear, behind it, nape.
# Common practice, no source: a hairline is drawn a third of the face above the brows.
_BEARING = (0.0, 22.0, 38.0, 50.0, 58.0, 66.0, 77.0, 80.5, 86.0, 100.0, 106.0, 114.0, 140.0, 180.0)
_LINE = {
    "male": (0.60, 0.61, 0.57, 0.36, 0.16, -0.02, -0.16, -0.02, 0.15, 0.12, -0.14, -0.34, -0.50,
             -0.52),
    "female": (0.56, 0.56, 0.50, 0.32, 0.20, 0.10, 0.00, 0.05, 0.14, 0.12, -0.14, -0.36, -0.52,
               -0.55),
}
_RECEDE = (0.02, 0.16, 0.20, 0.12, 0.04, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def direction(azimuth, elevation):
    """Return unit vectors: azimuth from straight ahead to the left, elevation up. [rad]"""
    flat = np.cos(elevation)
    parts = [flat * np.cos(azimuth), flat * np.sin(azimuth), np.sin(elevation) + 0 * azimuth]
    return np.stack(parts, axis=-1)


@dataclass(frozen=True)
class Scalp:
    """A resting head seen from a point inside it.

    Parameters
    ----------
    centre : float array, shape (3,)
        [m]
    radius : float array, shape (azimuths, elevations)
        Skull without the ears. [m]
    ears : float array, shape (azimuths, elevations)
        The same with the ears. [m]
    inside : float array, shape (azimuths, elevations)
        Distance from the hairline, negative on the bare side. [m]
    eye_height, height : float
        Height of the eyes, and of the crown over them. [m]
    limit : float array
        Height of the hairline at each of `_BEARING`. [m]
    """

    centre: np.ndarray
    radius: np.ndarray
    ears: np.ndarray
    inside: np.ndarray
    eye_height: float
    height: float
    limit: np.ndarray

    def _read(self, table, outward):
        azimuth = np.arctan2(outward[..., 1], outward[..., 0])
        return self._read_at(table, azimuth, np.arcsin(np.clip(outward[..., 2], -1, 1)))

    def _read_at(self, table, azimuth, elevation):
        column = (azimuth / (2 * np.pi) % 1.0) * _AZIMUTHS
        row = (elevation / np.pi + 0.5) * (_ELEVATIONS - 1)
        c0 = np.floor(column).astype(int) % _AZIMUTHS
        r0 = np.minimum(np.floor(row).astype(int), _ELEVATIONS - 2)
        c1, fc, fr = (c0 + 1) % _AZIMUTHS, column - np.floor(column), row - r0
        low = table[c0, r0] * (1 - fc) + table[c1, r0] * fc
        high = table[c0, r0 + 1] * (1 - fc) + table[c1, r0 + 1] * fc
        return low * (1 - fr) + high * fr

    def height_at(self, azimuth, elevation):
        """Return the height of the skin at an azimuth and an elevation. [rad], [m]"""
        return self.centre[2] + np.sin(elevation) * self._read_at(self.radius, azimuth, elevation)

    def reach(self, outward, *, ears=False):
        """Return the distance of the skin from the centre along unit vectors. [m]"""
        return self._read(self.ears if ears else self.radius, outward)

    def from_line(self, outward):
        """Return the distance from the hairline along unit vectors, negative outside it. [m]"""
        return self._read(self.inside, outward)

    def at(self, outward, height=0.0, *, ears=False):
        """Return points over the skin along unit vectors. [m]"""
        far = self.reach(outward, ears=ears) + height
        return self.centre + outward * far[..., None]

    def over_line(self, outward):
        """Return how far the skin along unit vectors lies above the hairline. [m]"""
        bearing = np.abs(np.degrees(np.arctan2(outward[..., 1], outward[..., 0])))
        limit = np.interp(bearing, _BEARING, self.limit)
        return self.centre[2] + outward[..., 2] * self.reach(outward) - limit


@cache
def scalp(person):
    """Return the scalp of one person."""
    data, shape = body_data(), head_shape(person)
    eyes = data.eyes[data.people.index(person)]
    eye = eyes[:, :3].mean(axis=0)
    height = shape.crown[0, 2] - eye[2]
    centre = np.array([eye[0] - 0.66 * height, 0.0, eye[2] + 0.10 * height])
    # Cage vertices alone are close enough for a skull, and a quarter as many.
    coarse = np.arange(len(shape.points)) < len(bare().head_rows)
    ear = bare().finer.apply(data.ears[bare().head_rows]) > 0.03
    azimuth = 2 * np.pi * np.arange(_AZIMUTHS) / _AZIMUTHS
    elevation = np.linspace(-np.pi / 2, np.pi / 2, _ELEVATIONS)
    outwards = direction(*np.meshgrid(azimuth, elevation, indexing="ij"))
    bare_skull, with_ears = _stars(shape, centre, outwards, coarse, ear)
    sex, recede = PEOPLE[person].sex, PEOPLE[person].recede
    limit = eye[2] + height * (np.array(_LINE[sex]) + recede * np.array(_RECEDE))
    found = Scalp(centre, bare_skull, with_ears, np.zeros_like(bare_skull), eye[2], height, limit)
    bearing = np.linspace(-np.pi, np.pi, 361)[:-1]
    least = np.interp(np.abs(np.degrees(bearing)), _BEARING, limit)
    tries = np.linspace(-1.3, 1.5, 300)
    pick = np.argmax(found.height_at(bearing[:, None], tries) >= least[:, None], axis=1)
    line = found.at(direction(bearing, tries[pick]))
    skin = found.at(outwards).reshape(-1, 3)
    away = np.concatenate([_nearest(skin[at : at + _FEW], line)
                           for at in range(0, len(skin), _FEW)]).reshape(bare_skull.shape)
    return replace(found, inside=away * np.sign(found.over_line(outwards)))


def _nearest(points, others):
    """Return the distance of each point from the nearest of others. [m]"""
    # |a - b|² by products, which is quicker than the differences themselves.
    gap = np.sum(points**2, axis=1)[:, None] + np.sum(others**2, axis=1) - 2 * points @ others.T
    return np.sqrt(np.maximum(gap.min(axis=1), 0))


def _stars(shape, centre, outwards, kept, ear):
    """Return the radius of the head along each direction, without and with the ears. [m]

    A blend of the vertices near each direction, by the inverse square of 1 - cos of the angle.
    """
    away = shape.points - centre
    far = np.linalg.norm(away, axis=1)
    kept = kept & (np.einsum("ij,ij->i", shape.normals, away) > 0.25 * far)
    points, far = unit(away[kept]), far[kept]
    skull = (~ear[kept]).astype(float)
    columns = np.stack([skull, skull * far, np.ones_like(far), far], axis=1)
    flat = outwards.reshape(-1, 3)
    sums = np.concatenate([_shares(flat[at : at + _FEW], points) @ columns
                           for at in range(0, len(flat), _FEW)]).reshape(*outwards.shape[:-1], 4)
    bare_skull = sums[..., 1] / sums[..., 0]
    return bare_skull, np.maximum(bare_skull, sums[..., 3] / sums[..., 2])


def _shares(outwards, points):
    """Return 1 / (1 - cos)² between each direction and each vertex."""
    share = outwards @ points.T
    np.subtract(1.0002, share, out=share)
    np.multiply(share, share, out=share)
    return np.reciprocal(share, out=share)
