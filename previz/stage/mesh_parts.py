"""Parts of a mesh: faces that hang together, whether they are closed, and which way they look."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage import shapes

THINNEST, FLATTEST = 1 / 20, 0.75
"""A closed part is a pane where its mean thickness is less than this part of its width, and its
faces' normals lie so much along one line (1 all, 1/3 those of a ball). [1]"""

SMALL = 1.4
"""Length of open edges over the root of the area under which a part was meant to be closed; a square sheet
has 4, a tumbler 1.6, a box of 12 triangles without one of them just under this. [1]"""

HOLLOW = 1e-6
"""Volume over area to 3/2 of a part that is no body, but a skin drawn from both sides. [1]"""


@dataclass(frozen=True, eq=False)
class Part:
    """Faces that hang together; `volume` in m³, `area` in m², `torn` the length of its open edges in m.

    Solids that touch along an edge, and a skin drawn from both sides, are closed too: each edge joins
    faces in pairs.
    """

    faces: np.ndarray
    closed: bool
    wound: bool
    volume: float
    area: float
    low: np.ndarray
    high: np.ndarray
    along: float
    torn: float

    @property
    def thickness(self) -> float:
        """Mean thickness, of a closed part. [m]"""
        return 2 * abs(self.volume) / max(self.area, 1e-12)

    def is_torn(self) -> bool:
        """Whether it would be closed but for small holes, or edges that join three faces."""
        return 0 < self.torn < SMALL * np.sqrt(self.area)

    def is_pane(self) -> bool:
        """Whether a closed part is a pane with both of its faces."""
        return self.thickness < THINNEST * np.sqrt(self.area / 2) and self.along >= FLATTEST


def inside_out(parts: list[Part]) -> list[Part]:
    """Return the closed parts that look in all over, other than the cavities of others."""
    bodies = [part for part in parts if part.closed and part.volume > 0]
    low = np.array([part.low for part in bodies]).reshape(-1, 3)
    high = np.array([part.high for part in bodies]).reshape(-1, 3)
    return [part for part in parts
            if part.closed and part.wound and part.volume < -HOLLOW * part.area**1.5
            and not ((low <= part.low) & (part.high <= high)).all(axis=1).any()]


def parts_of(vertices, faces) -> list[Part]:
    """Return the parts of a mesh, in the order of their first points."""
    if not len(faces):
        return []
    joined, count = _joined(vertices, faces)
    _, label = np.unique(_labels(joined, count), return_inverse=True)
    label = label.reshape(-1)
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.diff(label[order], prepend=-1))
    corners = vertices[faces]
    closed, wound, torn = _edges(joined, corners, label, len(starts))
    area, volume, along = _extents(corners, label, len(starts))
    low = np.minimum.reduceat(corners.min(axis=1)[order], starts)
    high = np.maximum.reduceat(corners.max(axis=1)[order], starts)
    return [Part(own, bool(closed[k]), bool(wound[k]), float(volume[k]), float(area[k]), low[k], high[k],
                 float(along[k]), float(torn[k])) for k, own in enumerate(np.split(order, starts[1:]))]


def sound_faces(vertices, faces) -> np.ndarray:
    """Return the faces that have an area, each once; a face and its reverse are two."""
    joined, _ = _joined(vertices, faces)
    first = np.argmin(joined, axis=1)
    turned = joined[np.arange(len(joined))[:, None], (first[:, None] + [0, 1, 2]) % 3]
    _, kept = np.unique(turned, axis=0, return_index=True)
    flat = (turned[:, 0] == turned[:, 1]) | (turned[:, 1] == turned[:, 2]) | (turned[:, 2] == turned[:, 0])
    keep = np.zeros(len(faces), bool)
    keep[kept] = True
    return faces[keep & ~flat]


def outward(vertices, faces) -> tuple[np.ndarray, int]:
    """Return (faces, how many were turned): those of closed parts that look in all over look out."""
    turned, faces = inside_out(parts_of(vertices, faces)), np.array(faces)
    for part in turned:
        faces[part.faces] = faces[part.faces][:, ::-1]
    return faces, sum(len(part.faces) for part in turned)


def _joined(vertices, faces) -> tuple[np.ndarray, int]:
    """Return faces by numbers of places, and how many places there are.

    Files split a corner where normals or texture coordinates differ; its place is one.
    """
    extent = max(float(np.ptp(vertices, axis=0).max()), 1e-9)
    places, index = np.unique(np.rint(vertices / (1e-6 * extent)), axis=0, return_inverse=True)
    return index.reshape(-1)[faces], len(places)


def _labels(faces, count: int) -> np.ndarray:
    """Return a number for each face, the same for faces that share a corner."""
    label = np.arange(count)
    while True:
        least = label[faces].min(axis=1)
        new = label.copy()
        for k in range(3):
            np.minimum.at(new, faces[:, k], least)
        new = new[new]
        if np.array_equal(new, label):
            return label[faces[:, 0]]
        label = new


def _edges(joined, corners, label, count: int):
    """Return (whether closed, whether wound one way, length of open edges [m]) of each part."""
    around = [0, 1, 1, 2, 2, 0]
    edges, of = joined[:, around].reshape(-1, 2), np.repeat(label, 3)
    apart = edges[:, 0] != edges[:, 1]
    edges, of, ends = edges[apart], of[apart], corners[:, around].reshape(-1, 2, 3)[apart]
    _, first, edge, times = np.unique(np.sort(edges, axis=1), axis=0, return_index=True, return_inverse=True,
                                      return_counts=True)
    # Each pair of faces that an edge joins goes along it once either way.
    balance = np.bincount(edge.reshape(-1), np.where(edges[:, 0] > edges[:, 1], -1, 1), len(times))
    owner, odd = of[first], times % 2 == 1
    length = np.linalg.norm(ends[first, 1] - ends[first, 0], axis=1)
    return (np.bincount(owner, odd, count) == 0, np.bincount(owner, balance != 0, count) == 0,
            np.bincount(owner, odd * length, count))


def _extents(corners, label, count: int):
    """Return (area [m²], volume [m³], how much the faces' normals lie along one line) of each part."""
    cross = shapes.crosses(corners)
    area = np.linalg.norm(cross, axis=1) / 2
    normals = cross / np.maximum(2 * area[:, None], 1e-20)
    whole = np.bincount(label, area, count)

    def sums(values):
        """Return the sums over each part of values for each face."""
        return np.stack([np.bincount(label, column, count) for column in values.T], axis=1)

    middle = sums(corners.mean(axis=1)) / np.bincount(label, minlength=count)[:, None]
    volume = np.bincount(label, np.einsum("ij,ij->i", corners[:, 0] - middle[label], cross), count) / 6
    spread = sums((area[:, None, None] * normals[:, :, None] * normals[:, None, :]).reshape(-1, 9))
    spread = spread.reshape(-1, 3, 3) / np.maximum(whole, 1e-20)[:, None, None]
    return whole, volume, np.linalg.eigvalsh(spread)[:, -1]
