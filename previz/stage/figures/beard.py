"""Beards of a stand-in figure: stubble, short and full beards, and a moustache alone.

Hairs grow from the skin of the lower face itself, so they go where lips, cheeks and jaw go. The borders
are those of a beard that is kept: from the sideburn over the cheek to the corner of the mouth, and
above the throat; hairs thin out over `BORDER`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from previz.stage.figures.combed import locks
from previz.stage.figures.data import body_data
from previz.stage.figures.growing import ruffled
from previz.stage.figures.mesh import smooth_step, unit
from previz.stage.figures.skin import bare, head_shape
from previz.stage.figures.strands import scatter

BORDER = 9e-3
"""Width over which a beard thins out at its borders. Common practice, no source. [m]"""


@dataclass(frozen=True)
class _Kind:
    """Numbers of one kind of beard: hairs, points of each, and lengths on cheek and chin. [m]"""

    hairs: int
    points: int
    cheek: float
    chin: float
    lip: float
    half_width: float
    lean: float
    clump: float = 0.0
    whole: bool = True


_KINDS = {
    "stubble": _Kind(12_000, 2, 2.2e-3, 2.5e-3, 2.2e-3, 0.95e-4, 0.75),
    "short": _Kind(9000, 4, 7e-3, 11e-3, 8e-3, 1.0e-4, 0.55, 0.35),
    "full": _Kind(7500, 6, 17e-3, 42e-3, 13e-3, 1.4e-4, 0.42, 0.55),
    "moustache": _Kind(1700, 4, 0.0, 0.0, 12e-3, 1.1e-4, 0.55, 0.40, whole=False),
}
"""Lengths of hairs. Common practice, no source."""

BEARDS = ("none", *_KINDS)


@dataclass(frozen=True)
class Beard:
    """A beard on a resting head.

    Parameters
    ----------
    strands : (vertices, triangles, normals)
    places : float array, shape (vertices, 2)
        Texture corners as of `strands.strand_places`. [1]
    rows, shares : int and float arrays, shape (hairs, 4)
        Vertices of the finer head that each hair's root lies between, and how much it is of each.
    each : int
        Vertices of one hair.
    """

    strands: tuple
    places: np.ndarray
    rows: np.ndarray
    shares: np.ndarray
    each: int

    def moved(self, steps):
        """Return the strands where the vertices of the finer head have moved by some steps. [m]"""
        points, faces, normals = self.strands
        root = np.einsum("ij,ijk->ik", self.shares, steps[self.rows])
        return points + np.repeat(root, self.each, axis=0), faces, normals


@lru_cache(24)
def beard(person, style):
    """Return the beard on the resting head, None for 'none'.

    `person` is one of `PEOPLE`, `style` one of `BEARDS`.
    """
    if style == "none":
        return None
    kind, face = _KINDS[style], _LowerFace(person)
    rows, shares = face.roots(kind)
    points, normals = head_shape(person).points, head_shape(person).normals
    root = np.einsum("ij,ijk->ik", shares, points[rows])
    out = unit(np.einsum("ij,ijk->ik", shares, normals[rows]))
    lip, chin = face.lip_share(root), face.chin_share(root)
    long = np.where(lip > 0.5, kind.lip, kind.cheek + (kind.chin - kind.cheek) * chin)
    count = len(root)
    long = long * (0.65 + 0.5 * scatter(count, 611)) * (0.45 + 0.55 * face.density(root, kind))
    paths = _grown(root, out, face.lie(root, out, lip), long, kind)
    if kind.clump:
        paths = _in_locks(paths, kind.clump)
    width = kind.half_width * (0.7 + 0.6 * scatter(count, 614))
    outward = np.broadcast_to(out[:, None], paths.shape)
    strands, places = locks(paths, outward, width, 615, tip=0.25, root=1.0)
    for array in (*strands, places):
        array.setflags(write=False)
    return Beard(strands, places, rows, shares, 2 * kind.points)


def _grown(root, out, lie, long, kind):
    """Return hairs that leave the skin and bend to how they lie, and down. [m]"""
    step, count = np.linspace(0, 1, kind.points), len(root)
    here, paths = root - 0.4e-3 * out, []
    wild = np.stack([scatter(count, 621 + k) - 0.5 for k in range(3)], axis=-1)
    turn = 2 * np.pi * scatter(count, 625)
    for part in step:
        paths.append(here)
        bend = (1 - part) * kind.lean
        fall = np.array([0.0, 0.0, -0.9]) * (part * np.minimum(long / 0.02, 1))[:, None]
        # A long beard is a little wavy, each hair in its own way.
        wave = 0.35 * (np.sin(5 * part + turn) * np.minimum(long / 0.02, 1))[:, None] * np.cross(out, lie)
        ahead = unit((1 - bend) * lie + (bend + 0.12) * out + fall + 0.35 * wild + wave)
        here = here + ahead * (long / (kind.points - 1))[:, None]
    return np.stack(paths, axis=1)


def _in_locks(paths, clump, each=18):
    """Return hairs whose tips draw together in locks of about `each`."""
    first = np.arange(0, len(paths), each)
    # Roots run through the face row by row, so neighbours in order are neighbours on it.
    near = first[np.minimum(np.arange(len(paths)) // each, len(first) - 1)]
    step = np.linspace(0, 1, paths.shape[1])[None, :, None]
    aim = paths[near] + (paths[:, :1] - paths[near, :1]) * (1 - 0.7 * step)
    own = np.where(scatter(len(paths), 631) < 0.1, 0.2, 1.0)[:, None, None]
    return paths + clump * own * step * (aim - paths)


class _LowerFace:
    """Where a beard grows on one person's resting head; lengths go by that from the eyes to the chin."""

    def __init__(self, person):
        data, skin, shape = body_data(), bare(), head_shape(person)
        place = {row: number for number, row in enumerate(skin.head_rows.tolist())}
        mark = {name: shape.points[place[row]] for name, row in data.landmarks.items() if row in place}
        eyes = data.eyes[data.people.index(person)]
        lips = shape.points[np.unique(skin.finer.quads[skin.lip])]
        ears = shape.points[skin.finer.apply(data.ears[skin.head_rows]) > 0.3]
        self.shape, self.skin = shape, skin
        self.eye, self.chin, self.under = eyes[:, :3].mean(axis=0), mark["chin"], mark["under chin"]
        self.size = self.eye[2] - self.chin[2]
        self.nose, self.ear = mark["nose"], ears[:, 0].max()
        self.lip_top, self.lip_low, self.wide = lips[:, 2].max(), lips[:, 2].min(), lips[:, 1].max()
        self.corner = lips[np.argmax(lips[:, 1])]

    def _over_lip(self, points):
        """Return how far points lie inside the place of a moustache. [m]"""
        y, z = np.abs(points[:, 1]), points[:, 2]
        # Its lower edge follows the lip down to the corners of the mouth.
        drop = (self.lip_top - self.corner[2]) * np.clip(y / self.wide, 0, 1.3) ** 2
        top = self.nose[2] - 0.090 * self.size - 0.30 * np.maximum(y - 0.010, 0)
        side = 1.22 * self.wide - y
        return np.minimum.reduce([top - z, z - (self.lip_top - drop) + 1e-3, side,
                                  points[:, 0] - self.corner[0] + 0.008])

    def _on_jaw(self, points):
        """Return how far points lie inside the place of a beard. [m]"""
        x, z = points[:, 0], points[:, 2]
        ahead = np.clip((x - self.ear) / (self.corner[0] - self.ear), -0.3, 1.4)
        # From the sideburn it sags over the cheek to the corner of the mouth.
        high = self.eye[2] - self.size * np.interp(
            ahead, [-0.3, 0.0, 0.20, 0.5, 0.8, 1.0, 1.4], [0.05, 0.12, 0.38, 0.53, 0.62, 0.68, 0.84])
        throat = self.under[2] - 0.10 * self.size + 0.55 * np.maximum(self.under[0] - x, 0)
        return np.minimum.reduce([high - z, z - throat, 1.2 * (x - self.ear + 0.006)])

    def density(self, points, kind):
        """Return the share of roots that are there. [1]"""
        over = smooth_step(self._over_lip(points), -1e-3, 0.5 * BORDER)
        if not kind.whole:
            return over
        jaw = smooth_step(self._on_jaw(points), -0.15 * BORDER, BORDER)
        # The bare strips aside of the tuft under the lip.
        y, z = np.abs(points[:, 1]), points[:, 2]
        tuft = smooth_step(self.lip_low - z, 0.0, 0.09 * self.size)
        beside = smooth_step(y, 0.003, 0.010) * (1 - smooth_step(y, 0.7 * self.wide, self.wide))
        jaw = jaw * (1 - beside * (1 - tuft) * smooth_step(self.lip_low - z, -0.02, 0.0))
        return np.maximum(over, jaw * np.where(points[:, 0] > self.ear, 1.0, 0.8))

    def lip_share(self, points):
        return (self._over_lip(points) > -1e-3).astype(float)

    def chin_share(self, points):
        """Return 1 at the chin, down to 0 on the cheeks and the throat."""
        near = np.linalg.norm((points - self.chin) / [0.055, 0.045, 0.05], axis=1)
        return np.exp(-near**2)

    def roots(self, kind):
        """Return the vertices that each root lies between, and its share of each, shape (hairs, 4)."""
        points, quads = self.shape.points, self.skin.finer.quads[~self.skin.lip]
        middle = points[quads].mean(axis=1)
        below = middle[:, 2] < self.nose[2] + 0.35 * self.size
        near = np.flatnonzero(below & (middle[:, 0] > self.ear - 0.02))
        quads = quads[near]
        corners = points[quads]
        area = np.linalg.norm(np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]), axis=1)
        # The upper lip is the densest.
        weight = area * self.density(middle[near], kind) * (1 + 1.2 * self.lip_share(middle[near]))
        total = np.cumsum(weight)
        # Even steps through the summed area, so that hairs lie about evenly.
        place = (np.arange(kind.hairs) + scatter(kind.hairs, 601)) / kind.hairs * total[-1]
        quad = np.minimum(np.searchsorted(total, place), len(quads) - 1)
        u, v = scatter(kind.hairs, 602), scatter(kind.hairs, 603)
        shares = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=1)
        return quads[quad], shares

    def lie(self, points, out, lip):
        """Return how hairs lie: down the cheeks and forward to the chin, aside over the lip."""
        side = np.sign(points[:, 1]) * smooth_step(np.abs(points[:, 1]), 0.0, 0.006)
        zero = np.zeros_like(side)
        under = smooth_step(-out[:, 2], 0.3, 0.8)
        jaw = np.stack([0.30 + 0.5 * under, -0.12 * side, zero - 1.0 + 0.75 * under], axis=1)
        over = np.stack([zero, 1.1 * side, zero - 0.85], axis=1)
        going = np.where(lip[:, None] > 0.5, over, jaw) + ruffled(unit(points - self.eye), 0.12)
        return unit(going - np.sum(going * out, axis=1, keepdims=True) * out)
