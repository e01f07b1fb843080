"""Garments cut out of the cloth along lines where a field is 0, with rims that are turned in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.mesh import compact, smooth_normals, sum_at, triangles, unit, used_rows
from previz.stage.figures.wardrobe.cloth import Draped, Rest, weave

TURNED = 12e-3
"""Depth of a hem that is turned in. [m]"""


@dataclass(frozen=True)
class Cut:
    """A piece of the finer cloth, cut along the line where a field is 0.

    Parameters
    ----------
    first, second : int array, shape (vertices,)
        Vertices of the cloth that one of the piece lies between; the same twice for a kept one.
    place : float array, shape (vertices, 1)
        From the first to the second. [1]
    faces : int array, shape (faces, 3)
    rim : int array, shape (edges, 2)
        Of the cut, directed as in the faces.
    """

    first: np.ndarray
    second: np.ndarray
    place: np.ndarray
    faces: np.ndarray
    rim: np.ndarray

    def apply(self, values):
        """Return values of the cloth, shape (fine, ...), at the piece's vertices."""
        place = self.place if values.ndim > 1 else self.place[:, 0]
        one = values.take(self.first, axis=0)
        return one + (values.take(self.second, axis=0) - one) * place


@cache
def _triangles():
    return triangles(weave().quads)


def cut(keep):
    """Return the piece of the cloth where a field, shape (fine,), is over 0."""
    faces = _triangles()
    inside = keep > 0
    count = inside[faces].sum(axis=1)
    whole, mixed = faces[count == 3], faces[(count > 0) & (count < 3)]
    ins = inside[mixed]
    # Turned so that the corner that is alone comes first.
    alone = np.where(ins.sum(axis=1) == 1, ins.argmax(axis=1), (~ins).argmax(axis=1))
    mixed = np.take_along_axis(mixed, (alone[:, None] + np.arange(3)) % 3, axis=1)
    single = inside[mixed[:, 0]]
    a, b, c = mixed.T
    size = len(keep)
    key = np.stack([np.minimum(a, b) * size + np.maximum(a, b), np.minimum(a, c) * size + np.maximum(a, c)])
    edges, back = np.unique(key, return_inverse=True)
    ab, ac = size + back.reshape(2, -1)
    made = np.concatenate(
        [
            whole,
            np.stack([a, ab, ac], axis=1)[single],
            np.stack([ab, b, c], axis=1)[~single],
            np.stack([ab, c, ac], axis=1)[~single],
        ]
    )
    rim = np.concatenate([np.stack([ab, ac], axis=1)[single], np.stack([ac, ab], axis=1)[~single]])
    low, high = edges // size, edges % size
    place = keep[low] / (keep[low] - keep[high])
    rows, made = compact(made)
    number = np.full(size + len(edges), -1)
    number[rows] = np.arange(len(rows))
    first = np.concatenate([np.arange(size), low])[rows]
    second = np.concatenate([np.arange(size), high])[rows]
    place = np.concatenate([np.zeros(size), np.clip(place, 0.03, 0.97)])[rows]
    return Cut(first, second, place[:, None], made, number[rim])


@dataclass(frozen=True)
class Sheet:
    """One built piece: vertices, triangles, normals, uv [m], and what it is made of.

    Parameters
    ----------
    points, faces, normals : arrays
        [m]
    uv : float array, shape (vertices, 2)
        u across the grain, v along it. [m]
    stuff : str
        Key of a surface of the garment: 'cloth', 'band', 'buttons' and so on.
    """

    points: np.ndarray
    faces: np.ndarray
    normals: np.ndarray
    uv: np.ndarray
    stuff: str = "cloth"


@dataclass(frozen=True)
class Panel:
    """A piece of a garment that follows the body's suit.

    Parameters
    ----------
    keep : float array, shape (fine,)
        Over 0 inside; about the distance to the rim. [m]
    extra : float
        How far it lies over the garment's own height. [m]
    thick : float
        Of the rims. [m]
    stuff : str
        As in `Sheet`.
    """

    keep: np.ndarray
    extra: float = 0.0
    thick: float = 2.4e-3
    stuff: str = "cloth"


def hemmed(points, faces, rim, thick, depth=TURNED):
    """Return an open mesh whose rims are rounded and turned in, and the rows that the new ones copy."""
    if not len(rim):
        return points, faces, np.arange(len(points))
    normals = smooth_normals(points, faces)
    rows = used_rows(rim)
    place = np.full(len(points), -1)
    place[rows] = np.arange(len(rows))
    # The direction into the cloth from its rim: across the rim's direction, in the cloth's plane.
    along = points[rim[:, 1]] - points[rim[:, 0]]
    inward = np.cross(normals[rim[:, 0]], unit(along))
    inner = unit(sum_at(rim.T.ravel(), np.concatenate([inward, inward]), len(points))[rows])
    n, at, out = len(rows), points[rows], normals[rows]
    rings = (
        at - out * (0.35 * thick) - inner * (0.35 * thick),
        at - out * thick - inner * (0.2 * thick),
        at - out * (1.3 * thick) + inner * depth,
    )
    a, b = place[rim[:, 0]], place[rim[:, 1]]
    lines = [rim, *(np.stack([a, b], axis=1) + len(points) + n * k for k in range(3))]
    turned = [
        np.stack([one[:, 1], one[:, 0], two[:, 0], two[:, 1]], axis=1)
        for one, two in zip(lines, lines[1:], strict=False)
    ]
    everything = np.concatenate([points, *rings])
    return (
        everything,
        np.concatenate([faces, triangles(np.concatenate(turned))]),
        np.concatenate([np.arange(len(points)), rows, rows, rows]),
    )


@dataclass(frozen=True)
class CutPanel:
    """A panel with its topology and texture coordinates, of one person."""

    panel: Panel
    cut: Cut
    corner: np.ndarray
    uv_faces: np.ndarray
    uv: np.ndarray


def cut_panel(panel: Panel, rest: Rest) -> CutPanel:
    """Return a panel cut out at rest; `corner` says which vertex each split one is."""
    piece = cut(panel.keep)
    corner, faces, uv = _grain(piece, rest)
    return CutPanel(panel, piece, corner, faces, uv)


def _grain(piece, rest):
    """Return vertices split where the grain breaks off, the faces over them, and their uv. [m]"""
    net = weave()
    arm, leg = piece.apply(net.arm), piece.apply(net.leg)
    drop = piece.apply(rest.drop)
    faces = piece.faces
    part = np.where(arm[faces].mean(axis=1) > 0.5, 1, np.where(leg[faces].mean(axis=1) > 0.6, 2, 0))
    bearing = {0: piece.apply(rest.bearing), 1: piece.apply(rest.round), 2: piece.apply(rest.round)}
    # A bearing between two that lie on either side of the seam is neither's: the first's is taken.
    first = {0: rest.bearing, 1: rest.round, 2: rest.round}
    along = piece.apply(rest.along)
    girth = piece.apply(rest.girth)
    near = {
        1: _radius(along, piece.apply(rest.away), arm > 0.5),
        2: _radius(along, piece.apply(rest.away), leg > 0.6),
    }
    u, v = np.zeros((3, len(drop))), np.zeros((3, len(drop)))
    for kind in (0, 1, 2):
        far = np.abs(first[kind][piece.first] - first[kind][piece.second]) > 2.0
        bearing[kind] = np.where(far, first[kind][piece.first], bearing[kind])
    chosen = np.stack([bearing[0], bearing[1], bearing[2]])
    at = chosen[part[:, None], faces]
    wrapped = (np.ptp(at, axis=1) > np.pi)[:, None] & (at < 0)
    for kind in (0, 1, 2):
        u[kind] = chosen[kind]
        v[kind] = drop if kind == 0 else -along
    key = (faces * 3 + part[:, None]) * 2 + wrapped
    split, back = compact(key)
    corner, kind, turn = split // 6, split // 2 % 3, split % 2
    radius = np.stack([girth, near[1], near[2]])[kind, corner]
    uv = np.stack([(u[kind, corner] + 2 * np.pi * turn) * radius, v[kind, corner]], axis=1)
    return corner, back.reshape(faces.shape), uv


def _radius(along, away, chosen):
    """Return the mean distance from the bones at each place along them. [m]"""
    if not chosen.any():
        return np.full(len(along), 0.06)
    place = np.clip(np.round(along / 0.02).astype(int), 0, 59)
    count = np.bincount(place[chosen], minlength=60)
    total = np.bincount(place[chosen], away[chosen], 60)
    known = np.flatnonzero(count)
    return np.interp(along, 0.02 * known, total[known] / count[known])


def panel_sheet(made: CutPanel, drawn: Draped, lift, shift, inner=()) -> Sheet:
    """Return a panel in the pose.

    Parameters
    ----------
    lift : float array, shape (fine,)
        Height of the garment over the cloth, folds and all. [m]
    shift : float array, shape (fine, 3)
        How far it hangs down. [m]
    inner : sequence of Rings
        Skirts that it is worn over.
    """
    panel, piece = made.panel, made.cut
    lifted = piece.apply(lift) + panel.extra
    points = piece.apply(drawn.points) + unit(piece.apply(drawn.normals)) * lifted[:, None]
    points = points + piece.apply(shift)
    for rings in inner:
        points = rings.outside(points, piece.apply(drawn.rest.trunk_height), 2.5e-3 + panel.extra)
    whole, faces, copied = hemmed(points, piece.faces, piece.rim, panel.thick)
    normals = smooth_normals(whole, faces)
    # Rims take the texture of the rows that they were turned in from.
    extra = len(whole) - len(points)
    owner = np.full(len(points), -1)
    owner[made.corner] = np.arange(len(made.corner))
    rows = np.concatenate([made.corner, np.arange(len(points), len(whole))])
    shift_rows = np.concatenate([owner, len(made.corner) + np.arange(extra)])
    turned = shift_rows[faces[len(piece.faces) :]]
    uv = np.concatenate([made.uv, made.uv[owner[copied[len(points) :]]]])
    return Sheet(whole[rows], np.concatenate([made.uv_faces, turned]), normals[rows], uv, panel.stuff)
