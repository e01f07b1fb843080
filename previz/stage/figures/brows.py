"""Brows and lashes of a stand-in figure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.eyes import clear_lids
from previz.stage.figures.mesh import edges_of, joined, unit
from previz.stage.figures.skin import surface_at
from previz.stage.figures.strands import ribbons, scatter, strand_places


@dataclass(frozen=True)
class Brow:
    """The shape of a person's eyebrows.

    Parameters
    ----------
    height : float
        Middle of the brow over the middle of the eye, near the nose. [m]
    arch : float
        Rise of its highest part over that. [m]
    thickness : float
        At its thickest. [m]
    hairs : int
        In each brow.
    """

    height: float
    arch: float
    thickness: float
    hairs: int = 330


def brows(eyes, shape, brow):
    """Return both eyebrows on the resting head: vertices, triangles, normals, texture corners.

    `eyes` are the centres and radii of the eyeballs, shape (2, 4) [m], `shape` the `HeadShape`.
    """
    parts, places, count, knots = [], [], round(brow.hairs * _FINE), 4
    for number, centre in enumerate(eyes):
        sign, salt = (1 if number == 0 else -1), 11 + number
        place = scatter(count, salt) ** 0.85
        # Towards its edges a brow thins out; the lower edge is the firmer one.
        across = scatter(count, salt + 20) + scatter(count, salt + 30) - 1.25
        across = across + 0.5 * scatter(count, salt + 50)
        across = np.where(across < 0, 0.9, 1.15) * across
        wide = abs(centre[1])
        thick = 0.66 * brow.thickness * np.clip(1.15 - 0.90 * place, 0.16, 1)
        thick *= np.clip(0.55 + 4 * place, 0, 1)
        arch = brow.arch * np.sin(np.pi * np.clip(0.02 + 0.80 * place, 0, 1)) ** 1.2
        drop = 0.0065 * np.clip(place - 0.62, 0, 1) ** 1.3 / 0.38**1.3
        y0 = wide * (0.40 + 1.30 * place)
        z0 = centre[2] + brow.height + arch - drop + thick * across
        # Hairs stand up near the nose, lie outwards towards the temple, and meet along the middle.
        bearing = 66 - 84 * place**0.5 - 26 * across + 30 * (scatter(count, salt + 40) - 0.5)
        bearing = np.radians(bearing)[:, None]
        length = (0.0046 + 0.0040 * scatter(count, salt + 60)) * (1 - 0.35 * place)
        length = (length * np.clip(0.5 + 5 * place, 0, 1))[:, None]
        # The skin is looked up under both ends alone; between them a hair is over it anyway.
        y1 = y0[:, None] + length * (np.cos(bearing) + 0.16)
        z1 = z0[:, None] + length * (np.sin(bearing) - 0.22)
        points, normals = surface_at(shape, sign * np.column_stack([y0, y1]), np.column_stack([z0, z1]))
        (root, tip), (out, out_there) = (each.reshape(count, 2, 1, 3).swapaxes(0, 1)
                                         for each in (points, normals))
        step = np.linspace(0, 1, knots)
        part = step[None, :, None]
        points, normals = root + (tip - root) * part, unit(out + (out_there - out) * part)
        points[..., 2] += length * 0.22 * step * (1 - step)
        # They leave the skin by half a millimetre, some by twice that, and come back to it.
        over = (0.5 + 0.9 * scatter(count, salt + 70) ** 2)[:, None] * 6.5e-4
        lift = -1.0e-4 * (step == 0) + over * np.sin(np.pi * 0.80 * step)
        paths = points + normals * lift[..., None]
        width = (0.38e-4 + 0.42e-4 * scatter(count, salt + 80)) * (1 - 0.25 * place)
        roll = 1.6 * (scatter(count, salt + 100) - 0.5)
        parts.append(ribbons(paths, normals, width, roll=roll, tip=0.15))
        places.append(strand_places(count, knots, salt + 110))
    return *joined(parts), np.concatenate(places)


_FINE = 1.9
"""Strands over the hairs that a `Brow` counts, each the finer for it. [1]"""


@cache
def _lash_grids():
    """Return the upper and lower lashes of both eyes as grids of vertices, shape (columns, 5) each."""
    quads = body_data().quads["lashes"]
    edges, _, faces_at = edges_of(quads)
    rim = edges[faces_at[:, 1] < 0].tolist()
    return tuple(_grid(strip, quads, [edge for edge in rim if edge[0] in strip])
                 for strip in _connected(quads))


def _connected(quads):
    """Return the vertex sets of the connected pieces of a mesh."""
    pieces = []
    for quad in quads.tolist():
        touching = [piece for piece in pieces if piece & set(quad)]
        merged = set(quad).union(*touching)
        pieces = [piece for piece in pieces if not piece & set(quad)] + [merged]
    return pieces


def _grid(strip, quads, rim):
    """Return the vertices of one strip of quads as a grid, its short side along axis 1."""
    inside = [quad for quad in quads.tolist() if quad[0] in strip]
    uses = np.bincount(np.ravel(inside))
    neighbours = {}
    for one, two in rim:
        neighbours.setdefault(one, []).append(two)
        neighbours.setdefault(two, []).append(one)
    corner = next(vertex for vertex in neighbours if uses[vertex] == 1)

    def walk(start, second, done):
        line = [start, second]
        while not done(line[-1]):
            line.append(next(v for v in neighbours[line[-1]] if v != line[-2]))
        return line

    sides = [walk(corner, step, lambda v: uses[v] == 1) for step in neighbours[corner]]
    row = max(sides, key=len)
    grid = [row]
    taken = set(row)
    neighbours = {}
    for quad in inside:
        for here, after in zip(quad, quad[1:] + quad[:1], strict=True):
            neighbours.setdefault(here, set()).add(after)
            neighbours.setdefault(after, set()).add(here)
    while len(taken) < len(strip):
        row = [next(iter(neighbours[v] - taken - set(grid[-1]))) for v in grid[-1]]
        grid.append(row)
        taken |= set(row)
    return np.array(grid).T


def lashes(points, eyes):
    """Return the lashes of both eyes, which are in place, as strands.

    `points` are the body data in the pose, shape (vertices, 3). [m]
    """
    parts = []
    for number, grid in enumerate(_lash_grids()):
        card = points[grid]
        ball = min(eyes, key=lambda eye: np.linalg.norm(eye.centre - card.mean(axis=(0, 1))))
        ends = np.linalg.norm(card - ball.centre, axis=2).mean(axis=0)
        card = card if ends[0] < ends[-1] else card[:, ::-1]
        upper = card[:, -1, 2].mean() > card[:, 0, 2].mean()
        count = 160 if upper else 84
        # Neighbours stand together in tufts.
        tuft = np.floor(np.arange(count) / 3.5)
        own = (np.arange(count) + 0.7 * scatter(count, 300 + number) + 0.15 * tuft) / (count * 1.05)
        place = (0.02 + 0.96 * own) * (len(card) - 1)
        low = np.minimum(place.astype(int), len(card) - 2)
        part = (place - low)[:, None, None]
        shown = card[low] * (1 - part) + card[low + 1] * part
        # The first step of the card runs under the lid's edge, the second out from it.
        root, ahead = shown[:, 1], unit(shown[:, 2] - shown[:, 1])
        # The longest stand over the outer half of the upper lid.
        long = (7.2e-3 if upper else 4.2e-3) * (0.72 + 0.45 * scatter(count, 320 + number))
        long = long * (0.62 + 0.38 * np.sin(np.pi * np.clip(own, 0.02, 0.98)) ** 0.6)
        along = unit(card[-1, 0] - card[0, 0])
        lean = 0.75 * (scatter(int(tuft[-1]) + 1, 340 + number)[tuft.astype(int)] - 0.5)
        lean = lean * 0.6 + 0.25 * (scatter(count, 345 + number) - 0.5)
        # They leave the lid forwards and curve away from the eye's opening.
        forwards = unit(root - ball.centre)
        upwards = unit(np.cross(np.broadcast_to(along, forwards.shape), forwards))
        upwards = upwards * np.sign(np.sum(upwards * ahead, axis=1, keepdims=True))
        step = np.linspace(0, 1, 5)[None, :, None]
        start = unit(ahead + (0.10 if upper else 0.30) * forwards + 0.6 * lean[:, None] * along)
        curl = 0.42 * upwards if upper else 0.18 * (upwards + forwards)
        paths = root[:, None] + long[:, None, None] * (start[:, None] * step + curl[:, None] * step**2)
        flat = paths.reshape(-1, 3)
        paths = clear_lids(flat, unit(flat - ball.centre), eyes, 0.4e-3).reshape(paths.shape)
        across = np.broadcast_to(upwards[:, None], paths.shape)
        width = (0.62e-4 if upper else 0.50e-4) * (0.8 + 0.4 * scatter(count, 350 + number))
        roll = 2.4 * (scatter(count, 360 + number) - 0.5)
        parts.append(ribbons(paths, across, width, roll=roll, tip=0.12))
    return joined(parts)
