"""Geometry the parts of a figure share: quads, subdivision, normals, rings, ray hits.

Subdivision of a fixed topology is a linear map of the vertices, so it is worked out once per
topology and then applied to every figure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.shapes import crosses

SLIVER = 4e-12
"""Twice the area below which a triangle is dropped. [m²]"""


@dataclass(frozen=True)
class Subdivision:
    """One Catmull-Clark step for one topology.

    Parameters
    ----------
    quads : int array, shape (4 quads, 4)
        The finer quads.
    starts, columns : int array
        Row starts and columns of the sparse map from coarse to fine vertices.
    shares : float array
        Weight of each entry; each row sums to 1.

    Source
    ------
    Catmull and Clark 1978, "Recursively generated B-spline surfaces on arbitrary topological
    meshes"; boundary edges follow the cubic B-spline.
    """

    quads: np.ndarray
    starts: np.ndarray
    columns: np.ndarray
    shares: np.ndarray

    def apply(self, values):
        """Return the values at the fine vertices, shape (fine, ...)."""
        flat = values.reshape(len(values), -1)
        weighted = flat[self.columns] * self.shares[:, None]
        return np.add.reduceat(weighted, self.starts, axis=0).reshape(-1, *values.shape[1:])


def edges_of(faces):
    """Return unique edges (e, 2), the edge of each side (f, k), and the faces at each edge.

    The faces at each edge come as (e, 2) with -1 where a boundary has no second face.
    """
    sides = faces.shape[1]
    pairs = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    ordered = np.sort(pairs, axis=1)
    key = ordered[:, 0].astype(np.int64) * (int(faces.max()) + 1) + ordered[:, 1]
    _, first, inverse = np.unique(key, return_index=True, return_inverse=True)
    inverse = inverse.ravel()
    owner = np.repeat(np.arange(len(faces)), sides)
    two = np.full((len(first), 2), -1)
    order = np.argsort(inverse, kind="stable")
    start = np.searchsorted(inverse[order], np.arange(len(first)))
    two[:, 0] = owner[order[start]]
    has_two = np.bincount(inverse, minlength=len(first)) > 1
    two[has_two, 1] = owner[order[start[has_two] + 1]]
    return ordered[first], inverse.reshape(len(faces), sides), two


def subdivision(quads, count):
    """Return one Catmull-Clark step for quads over `count` vertices.

    The fine vertices are the old ones, then one an edge, then one a quad. Vertices without a quad
    stay where they are.
    """
    edges, edge_of_side, faces_at = edges_of(quads)
    inner = faces_at[:, 1] >= 0
    rows, columns, shares = [], [], []

    def add(row, column, share):
        row, column, share = np.broadcast_arrays(row, column, share)
        rows.append(row.ravel())
        columns.append(column.ravel())
        shares.append(share.ravel())

    edge_row = count + np.arange(len(edges))
    face_row = count + len(edges) + np.arange(len(quads))
    add(face_row[:, None], quads, 0.25)
    add(edge_row[~inner, None], edges[~inner], 0.5)
    add(edge_row[inner, None], edges[inner], 0.25)
    for side in (0, 1):
        add(edge_row[inner, None], quads[faces_at[inner, side]], 1 / 16)
    _add_old_vertices(add, quads, edges, inner, count)
    row = np.concatenate(rows)
    # Small numbers are sorted several times as fast.
    order = np.argsort(row.astype(np.min_scalar_type(face_row[-1])), kind="stable")
    fine = np.stack([quads, edge_row[edge_of_side], np.broadcast_to(face_row[:, None], quads.shape),
                     edge_row[np.roll(edge_of_side, 1, axis=1)]], axis=2).reshape(-1, 4)
    return Subdivision(
        quads=fine,
        starts=np.concatenate([[0], np.cumsum(np.bincount(row))[:-1]]),
        columns=np.concatenate(columns)[order],
        shares=np.concatenate(shares)[order],
    )


def _add_old_vertices(add, quads, edges, inner, count):
    """Add the rows of the old vertices to a Catmull-Clark map."""
    on_rim = np.zeros(count, bool)
    on_rim[edges[~inner].ravel()] = True
    valence = np.bincount(quads.ravel(), minlength=count)
    lone = valence == 0
    free = ~on_rim & ~lone
    everything = np.arange(count)
    add(everything[lone], everything[lone], 1.0)
    add(everything[on_rim], everything[on_rim], 0.75)
    rim = edges[~inner]
    add(rim, rim[:, ::-1], 0.125)
    n = valence[free]
    add(everything[free], everything[free], (n - 3) / n)
    pull = np.zeros(count)
    pull[free] = 1.0 / n**2
    # Face points enter with 1/n of their mean, edge middles with 2/n of theirs.
    corner = np.repeat(quads[:, :, None], 4, axis=2)
    kept = free[corner]
    add(corner[kept], np.repeat(quads[:, None, :], 4, axis=1)[kept], 0.25 * pull[corner[kept]])
    for end in (0, 1):
        here = edges[free[edges[:, end]]]
        add(here[:, end, None], here, pull[here[:, end]][:, None])


def triangles(quads):
    """Return the quads as triangles, shape (2 quads, 3)."""
    return quads[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)


def grid_quads(lines, points, *, closed=False):
    """Return the quads between neighbouring lines of points; `closed` joins the last to the first."""
    first = np.arange(lines if closed else lines - 1)[:, None]
    here, after = (line * points + np.arange(points - 1) for line in (first, (first + 1) % lines))
    return np.stack([here, here + 1, after + 1, after], axis=2).reshape(-1, 4)


def joined(parts):
    """Return several (vertices, triangles, normals) as one; what follows in a part is left out."""
    points, faces, normals = zip(*(part[:3] for part in parts), strict=True)
    starts = np.cumsum([0, *map(len, points[:-1])])
    faces = [own + start for own, start in zip(faces, starts, strict=True)]
    return np.concatenate(points), np.concatenate(faces), np.concatenate(normals)


def smooth_step(value, low, high):
    """Return 0 below low, 1 above high and a smooth rise between."""
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return t * t * (3 - 2 * t)


def cross(one, two):
    """Return the cross products of vectors along the last axis, several times as fast as numpy's."""
    (a, b, c), (d, e, f) = np.moveaxis(one, -1, 0), np.moveaxis(two, -1, 0)
    return np.stack([b * f - c * e, c * d - a * f, a * e - b * d], axis=-1)


def unit(vectors):
    """Return vectors of length 1 along the last axis; zero vectors stay zero."""
    length = np.sqrt(np.einsum("...i,...i", vectors, vectors))[..., None]
    return vectors / np.where(length > 0, length, 1.0)


def sum_at(index, values, count):
    """Return the sum of (n, 3) values at each index, shape (count, 3)."""
    return np.stack([np.bincount(index, values[:, axis], minlength=count) for axis in range(3)], axis=1)


def smooth_normals(vertices, faces):
    """Return area-weighted unit vertex normals, shape (vertices, 3)."""
    first, second, third, *fourth = vertices.take(faces, axis=0).transpose(1, 0, 2)
    if fourth:
        square = np.cross(third - first, fourth[0] - second)
    else:
        square = np.cross(second - first, third - first)
    sides = faces.shape[1]
    return unit(sum_at(faces.ravel(), np.repeat(square, sides, axis=0), len(vertices)))


def sound(points, faces):
    """Return triangles that have an area, and only the vertices they use."""
    square = crosses(points[faces])
    used, kept = compact(faces[np.einsum("ij,ij->i", square, square) > SLIVER**2])
    return used, kept


def compact(faces):
    """Return the used vertex rows, and the faces renumbered to them."""
    found = np.bincount(faces.ravel()) > 0
    return np.flatnonzero(found), (np.cumsum(found) - 1)[faces]


def used_rows(faces):
    """Return the vertex rows that faces or edges use, in order."""
    return np.flatnonzero(np.bincount(faces.ravel()))
