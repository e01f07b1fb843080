"""Brows and lashes of a stand-in figure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.eyes import clear_lids
from previz.stage.figures.mesh import edges_of, joined, unit
from previz.stage.figures.skin import surface_at
from previz.stage.figures.strands import ribbons, scatter


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
    """Return both eyebrows as strands on the resting head.

    `eyes` are the centres and radii of the eyeballs, shape (2, 4) [m], `shape` the `HeadShape`.
    """
    parts, count = [], brow.hairs
    for number, centre in enumerate(eyes):
        sign, salt = (1 if number == 0 else -1), 11 + number
        place = scatter(count, salt) ** 0.9
        across = scatter(count, salt + 20) + scatter(count, salt + 30) - 1.0
        wide = abs(centre[1])
        thick = 0.62 * brow.thickness * np.clip(1.15 - 0.85 * place, 0.2, 1)
        thick *= np.clip(0.45 + 4 * place, 0, 1)
        arch = brow.arch * np.sin(np.pi * np.clip(0.02 + 0.80 * place, 0, 1)) ** 1.2
        drop = 0.0065 * np.clip(place - 0.62, 0, 1) ** 1.3 / 0.38**1.3
        y0 = wide * (0.42 + 1.28 * place)
        z0 = centre[2] + brow.height + arch - drop + thick * across
        # Hairs stand up near the nose and lie outwards towards the temple.
        bearing = 62 - 85 * place**0.55 - 24 * across + 22 * (scatter(count, salt + 40) - 0.5)
        bearing = np.radians(bearing)[:, None]
        length = (0.0052 + 0.0035 * scatter(count, salt + 60))[:, None]
        step = np.linspace(0, 1, 3)
        y = y0[:, None] + length * step * np.cos(bearing)
        z = z0[:, None] + length * (step * np.sin(bearing) - 0.18 * step**2)
        points, normals = surface_at(shape, sign * y, z)
        lift = np.tile(1.0e-4 + 5.5e-4 * np.sin(np.pi * 0.8 * step), count)
        paths = (points + normals * lift[:, None]).reshape(count, 3, 3)
        width = 0.65e-4 + 0.55e-4 * scatter(count, salt + 80)
        roll = 0.9 * (scatter(count, salt + 100) - 0.5)
        parts.append(ribbons(paths, normals.reshape(count, 3, 3), width, roll=roll, tip=0.25))
    return joined(parts)


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
        count = 110 if upper else 56
        place = (np.arange(count) + 0.8 * scatter(count, 300 + number)) / (count + 1)
        place = (0.03 + 0.94 * place) * (len(card) - 1)
        low = place.astype(int)
        part = (place - low)[:, None, None]
        paths = card[low] * (1 - part) + card[np.minimum(low + 1, len(card) - 1)] * part
        # Neighbours lean together in small tufts and differ in length.
        reach = (0.7 if upper else 0.45) + 0.38 * scatter(count, 320 + number)
        lean = 0.9e-3 * (scatter(count, 340 + number) - 0.5)
        step = np.linspace(0, 1, paths.shape[1])[None, :, None]
        root = paths[:, :1]
        paths = root + (paths - root) * reach[:, None, None]
        along = unit(card[-1, 0] - card[0, 0])
        paths = paths + step * lean[:, None, None] * along
        flat = paths.reshape(-1, 3)
        paths = clear_lids(flat, unit(flat - ball.centre), eyes, 0.5e-3).reshape(paths.shape)
        across = np.broadcast_to(unit(paths[:, -1:] - ball.centre), paths.shape)
        width = np.full(count, 1.05e-4 if upper else 0.6e-4)
        roll = 1.2 * (scatter(count, 360 + number) - 0.5)
        parts.append(ribbons(paths, across, width, roll=roll, tip=0.12))
    return joined(parts)
