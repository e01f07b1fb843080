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


def within(part: Part, parts) -> bool:
    """Return whether a part that faces inwards is the cavity of another."""
    return any(other is not part and other.closed and other.volume > 0
               and np.all(other.low <= part.low) and np.all(part.high <= other.high)
               for other in parts)


def parts_of(vertices, faces) -> list[Part]:
    """Return the parts of a mesh, in the order of their first points."""
    joined, count = _joined(vertices, faces)
    label = _labels(joined, count)
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.diff(label[order], prepend=-1))
    return [_part(vertices, faces, joined, own) for own in np.split(order, starts[1:])] if len(faces) else []


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
    parts, faces, turned = parts_of(vertices, faces), np.array(faces), 0
    for part in parts:
        if part.closed and part.wound and part.volume < -HOLLOW * part.area**1.5 and not within(part, parts):
            faces[part.faces] = faces[part.faces][:, ::-1]
            turned += len(part.faces)
    return faces, turned


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


def _part(vertices, faces, joined, own) -> Part:
    corners = vertices[faces[own]]
    around = [0, 1, 1, 2, 2, 0]
    edges = joined[own][:, around].reshape(-1, 2)
    apart = edges[:, 0] != edges[:, 1]
    edges, ends = edges[apart], corners[:, around].reshape(-1, 2, 3)[apart]
    back = edges[:, 0] > edges[:, 1]
    _, first, of, times = np.unique(np.sort(edges, axis=1), axis=0, return_index=True, return_inverse=True,
                                    return_counts=True)
    # Each pair of faces that an edge joins goes along it once either way.
    balance = np.bincount(of.reshape(-1), np.where(back, -1, 1), len(times))
    open_ends = ends[first[times % 2 == 1]]
    torn = float(np.linalg.norm(open_ends[:, 1] - open_ends[:, 0], axis=1).sum())
    middle = corners.mean(axis=(0, 1))
    cross = shapes.crosses(corners)
    area = np.linalg.norm(cross, axis=1) / 2
    normals = cross / np.maximum(2 * area[:, None], 1e-20)
    spread = np.einsum("n,ni,nj->ij", area, normals, normals) / max(area.sum(), 1e-20)
    volume = float(np.einsum("ij,ij->", corners[:, 0] - middle, cross) / 6)
    return Part(own, bool(np.all(times % 2 == 0)), bool(np.all(balance == 0)), volume,
                 float(area.sum()), corners.min(axis=(0, 1)), corners.max(axis=(0, 1)),
                 float(np.linalg.eigvalsh(spread)[-1]), torn)
