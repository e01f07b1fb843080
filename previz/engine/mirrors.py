"""Which flat mirrors a stage has: plane parts of meshes that mirror, clear panes and thin glass.

A lamp seen in a flat mirror stands, for everything that the mirror lights, at its mirror image, so
it can be sampled there (see `images`). No Mitsuba here: numpy in, numpy out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.glass_tables import SheetTables
from previz.engine.gloss_rows import mirrors_evenly
from previz.engine.tables import NONE, Geometry
from previz.physics.triangles import areas, doubled_normals, drawn_points
from previz.stage.records import Mesh, Stage, Surface

FACES, PANES, SHEETS = range(3)
"""What a mirror is made of: faces of the main scene, panes, or faces of thin glass."""

MOST_MIRRORS = 16
"""Mirrors that lamps are sampled via; of more, the weakest are left to paths."""

LEAST_STRENGTH = 0.01
"""Area times reflectance under which a flat part is too weak a mirror to sample. [m²]"""

FLAT_SHARE = 0.97
"""Share of a mesh's area in such parts from which it counts as flat: a sheet has edges. [1]"""

ALONG, ACROSS = 1e-3, 5e-4
"""How far normals and planes of one mirror may differ. [1], [m]"""

POINTS = 1024
"""Points of each mirror from which is found what it lights."""


@dataclass(frozen=True, eq=False)
class Mirrors:
    """Flat mirrors, a row each.

    Parameters
    ----------
    normal, point : float array, shape (mirror, 3)
        Of the plane. [1], [m]
    half_u, half_v, centre : float array, shape (mirror, 3)
        A rectangle in the plane that holds all of the mirror. [m]
    strength : float array, shape (mirror,)
        Reflectance at square incidence. [1]
    points : float array, shape (mirror, POINTS, 3)
        Drawn evenly over the mirror. [m]
    area : float array, shape (mirror,)
        [m²]
    of_face : uint32 array, shape (faces,)
        Mirror that a face belongs to, or `NONE`.
    of_pane : uint32 array, shape (panes,)
        Mirror that a pane belongs to, or `NONE`.
    of_sheet : uint32 array, shape (faces of thin glass,)
        Mirror that a face of `glass_tables.SheetTables` belongs to, or `NONE`.
    kind : int array, shape (mirror,)
        `FACES`, `PANES` or `SHEETS`.
    """

    normal: np.ndarray
    point: np.ndarray
    centre: np.ndarray
    half_u: np.ndarray
    half_v: np.ndarray
    strength: np.ndarray
    points: np.ndarray
    area: np.ndarray
    of_face: np.ndarray
    of_pane: np.ndarray
    of_sheet: np.ndarray
    kind: np.ndarray

    def __len__(self):
        return len(self.area)


def flat_mirrors(stage: Stage, geometry: Geometry, sheets: SheetTables | None = None) -> Mirrors:
    """Return the flat mirrors of a stage, the strongest first.

    Faces that share a surface and a plane are one mirror, and so are panes of one plane. A face
    whose corners' normals lean is part of a curved mirror, and none of these.
    """
    found = [*_face_groups(stage, geometry), *_pane_groups(stage), *_sheet_groups(sheets)]
    found.sort(key=lambda group: -group.area * group.strength)
    found = found[:MOST_MIRRORS]
    of_face = np.full(len(geometry.faces), NONE, np.uint32)
    of_pane = np.full(len(stage.panes), NONE, np.uint32)
    of_sheet = np.full(0 if sheets is None else len(sheets.faces), NONE, np.uint32)
    for index, group in enumerate(found):
        (of_face, of_pane, of_sheet)[group.kind][group.members] = index
    random = np.random.default_rng(5)

    def stack(values):
        return np.array(list(values), float).reshape(-1, 3)

    bounds = [group.rectangle() for group in found]
    return Mirrors(
        stack(g.normal for g in found), stack(g.corners[0, 0] for g in found),
        *(stack(b[k] for b in bounds) for k in range(3)),
        np.array([g.strength for g in found]),
        np.array([g.draw(random) for g in found]).reshape(-1, POINTS, 3),
        np.array([g.area for g in found]), of_face, of_pane, of_sheet,
        np.array([g.kind for g in found], int))


def is_flat(surface: Surface, mesh: Mesh) -> bool:
    """Return whether nearly all of a mesh that mirrors is flat parts that lamps are sampled via."""
    if not mirrors_evenly(surface):
        return False
    corners = np.asarray(mesh.vertices, float)[np.asarray(mesh.faces)]
    smooth = (np.zeros_like(corners) if mesh.normals is None
              else np.asarray(mesh.normals, float)[np.asarray(mesh.faces)])
    strength = surface.gloss * float(np.mean(surface.specular))
    groups = list(_flat_groups(np.arange(len(corners)), corners, smooth, strength, FACES))
    return sum(group.area for group in groups) >= FLAT_SHARE * areas(corners).sum()


class _Group:
    """Triangles of one mirror: `corners` of shape (triangle, 3, 3)."""

    def __init__(self, members, corners, normal, strength, kind):
        self.members, self.corners, self.normal = members, corners, normal
        self.strength, self.kind = float(strength), kind
        self.areas = areas(corners)
        self.area = float(self.areas.sum())

    def draw(self, random):
        """Return points drawn evenly. Shape (POINTS, 3) [m]"""
        which = random.choice(len(self.areas), POINTS, p=self.areas / self.areas.sum())
        return drawn_points(self.corners[which], random)

    def rectangle(self):
        """Return (centre, half_u, half_v) of a rectangle in the plane that holds it. [m]

        Of those along one of the first triangle's edges the smallest is taken.
        """
        points = self.corners.reshape(-1, 3)
        best = None
        for k in range(3):
            along = self.corners[0, (k + 1) % 3] - self.corners[0, k]
            along = along - self.normal * (along @ self.normal)
            along /= np.linalg.norm(along)
            across = np.cross(self.normal, along)
            u, v = points @ along, points @ across
            half = np.ptp(u) / 2, np.ptp(v) / 2
            middle = (along * (u.min() + half[0]) + across * (v.min() + half[1])
                      + self.normal * float(points[0] @ self.normal))
            if best is None or half[0] * half[1] < best[0]:
                best = half[0] * half[1], (middle, along * half[0], across * half[1])
        return best[1]


def _face_groups(stage: Stage, geometry: Geometry):
    """Yield the plane parts of all surfaces that mirror."""
    surfaces = list(stage.surfaces.values())
    for index, surface in enumerate(surfaces):
        # A body of glass bends light that it does not mirror, and is no mirror here.
        if not mirrors_evenly(surface) or surface.glass is not None:
            continue
        faces = np.flatnonzero(geometry.face_surface == index)
        strength = surface.gloss * float(np.mean(surface.specular))
        corners = geometry.faces[faces]
        yield from _flat_groups(faces, geometry.positions[corners], geometry.normals[corners],
                                strength, FACES)


def _flat_groups(faces, corners, smooth, strength, kind):
    """Yield the plane parts of some faces that are large enough for a mirror.

    `corners` and `smooth` are of shape (face, 3, 3).
    """
    corners, smooth = corners.astype(float), smooth.astype(float)
    double = doubled_normals(corners)
    size = np.linalg.norm(double, axis=1)
    normals = double / np.maximum(size, 1e-20)[:, None]
    shaded = np.linalg.norm(smooth, axis=2) > 0.1
    leans = np.abs(np.einsum("fci,fi->fc", smooth, normals)) < 1 - ALONG
    flat = (size > 0) & ~np.any(shaded & leans, axis=1)
    number = np.flatnonzero(flat)
    for members in _planes(normals[flat], corners[flat], size[flat] / 2, LEAST_STRENGTH / strength):
        which = number[members]
        yield _Group(faces[which], corners[which], normals[which[0]], strength, kind)


def _planes(normals, corners, areas, least: float):
    """Yield numbers of the triangles of each plane that has an area of `least` or more. [m²]"""
    if areas.sum() < least:
        return
    offsets = np.einsum("fci,fi->f", corners, normals) / 3
    # Both sides of a sheet mirror, so a plane and its back are one.
    sign = np.sign(normals[np.arange(len(normals)), np.abs(normals).argmax(axis=1)])
    keys = np.round(np.column_stack([normals * sign[:, None] / ALONG,
                                     offsets * sign / ACROSS])).astype(np.int64)
    _, which = np.unique(keys, axis=0, return_inverse=True)
    which = which.ravel()
    for plane in np.flatnonzero(np.bincount(which, weights=areas) >= least):
        yield np.flatnonzero(which == plane)


def _pane_groups(stage: Stage):
    """Yield the panes of one plane together."""
    groups: dict[tuple, list[int]] = {}
    for index, pane in enumerate(stage.panes):
        normal = np.cross(pane.half_u, pane.half_v)
        normal = normal / max(np.linalg.norm(normal), 1e-12)
        normal = normal * np.sign(normal[np.abs(normal).argmax()])
        key = (*np.round(normal / ALONG), *np.round(np.dot(pane.centre, normal) / ACROSS).ravel(),
               pane.ior, pane.sheets)
        groups.setdefault(key, []).append(index)
    for members in groups.values():
        corners, strengths = [], []
        for index in members:
            pane = stage.panes[index]
            c, u, v = (np.asarray(x, float) for x in (pane.centre, pane.half_u, pane.half_v))
            corners += [[c - u - v, c + u - v, c + u + v], [c - u - v, c + u + v, c - u + v]]
            strengths.append(pane.sheets * _of_a_sheet(pane.ior))
        first = stage.panes[members[0]]
        normal = np.cross(first.half_u, first.half_v)
        group = _Group(np.array(members), np.array(corners), normal / np.linalg.norm(normal),
                       max(strengths), PANES)
        # A net is a pane of index 1, which mirrors nothing.
        if group.area * group.strength >= LEAST_STRENGTH:
            yield group


def _of_a_sheet(ior: float) -> float:
    """Return what both faces of a clear sheet mirror at square incidence."""
    once = ((ior - 1) / (ior + 1)) ** 2
    return 2 * once / (1 + once)


def _sheet_groups(sheets: SheetTables | None):
    """Yield the plane parts of thin glass of meshes."""
    if sheets is None:
        return
    for sheet in range(len(sheets.ior)):
        faces = np.flatnonzero(sheets.face_sheet == sheet)
        corners = sheets.faces[faces]
        yield from _flat_groups(faces, sheets.positions[corners], sheets.normals[corners],
                                _of_a_sheet(float(sheets.ior[sheet])), SHEETS)
