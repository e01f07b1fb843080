"""What lamps give in each part of a set via its flat mirrors: light followed from the lamps.

From points of every mirror each lamp is sampled once, and what the mirror sends on is followed to
where it ends, via a second mirror too.
"""

from __future__ import annotations

import numpy as np

from previz.engine.choice import CELLS, around, light_samples
from previz.engine.device import on_device, vectors
from previz.engine.jit import dr, mi
from previz.engine.mirrors import FACES, POINTS
from previz.engine.tables import NONE
from previz.physics.rays import rectangle_reach
from previz.physics.triangles import doubled_normals

STEPS = 48
"""Places along a mirrored ray where its light is counted."""

FAR = 60.0
"""Farthest that it is followed. [m]"""

LEAST_AREA = 0.25
"""Area of surfaces that a cell counts as having at least, over that of its side. [1]"""

LEAST_SLANT = 0.1
"""Cosine to which a surface counts as turned at most. [1]"""

OFF = 1e-4
"""How far off a mirror a leg begins, over its place's largest coordinate and one. [1]"""


class MirroredLight:
    """What each lamp gives in each cell via each mirror, and via two."""

    def __init__(self, buffers, choice, mirrors):
        self.buffers, self.choice, self.mirrors = buffers, choice, mirrors
        self.random = np.random.default_rng(13)
        self.found: dict = {}
        self.fallen: dict = {}
        self.area = _areas(choice.drawn_on, self._cells)
        self.volume = float(np.prod(1 / np.asarray(choice.scale)))

    def run(self) -> tuple[dict, dict]:
        """Return what each lamp gives in each cell: in the air, and on the surfaces that it falls on.

        Returns
        -------
        dict, dict
            (lamp, first mirror, second or -1) -> mean over each cell, shape (cell,). Per unit
            lamp, from all sides, as `LampChoice.given`. [1/m²] or [1]
        """
        lamps = self.buffers.lamps
        own = np.repeat(np.arange(len(self.mirrors)), POINTS * lamps)
        lamp = np.tile(np.arange(lamps), len(self.mirrors) * POINTS)
        points = np.repeat(self.mirrors.points.reshape(-1, 3), lamps, axis=0)
        towards, flux = self._arrivals(points, lamp, own)
        keep = flux > 0
        own, lamp, points, towards, flux = (x[keep] for x in (own, lamp, points, towards, flux))
        start, towards, flux = self._mirrored(points, towards, flux, own)
        away, face = self._meet(start, towards)
        self._count(zip(lamp, own, np.full(len(own), -1), strict=True), start, towards, away, face, flux)
        for first in range(len(self.mirrors)):
            on, at = self._reach(first, start, towards, away, face)
            on &= own != first
            if not on.any():
                continue
            s, w, f = self._mirrored(at[on], -towards[on], flux[on], np.full(on.sum(), first))
            far, met = self._meet(s, w)
            keys = zip(lamp[on], np.full(on.sum(), first), own[on], strict=True)
            self._count(keys, s, w, far, met, f)
        return self.found, self.fallen

    def _arrivals(self, points, lamp, own):
        """Return (direction to the lamp, flux that arrives for each point). [lm per lumen]"""
        direction, given = light_samples(self.buffers, vectors(points, mi.Point3f),
                                         on_device(mi.UInt, lamp), 0x2545F491)
        towards, given = np.array(direction).T.reshape(-1, 3), np.array(given, float)
        slant = np.abs(np.einsum("ni,ni->n", towards, self.mirrors.normal[own]))
        return towards, given * slant * (self.mirrors.area / POINTS)[own]

    def _mirrored(self, points, back, flux, own):
        """Return (start, direction, flux) of what a mirror sends on of light from a direction."""
        normal = self.mirrors.normal[own]
        slant = np.einsum("ni,ni->n", back, normal)
        towards = 2 * slant[:, None] * normal - back
        fifth = (1 - np.clip(np.abs(slant), 0, 1)) ** 5
        strength = self.mirrors.strength[own]
        size = OFF * (1 + np.abs(points).max(axis=1, keepdims=True))
        start = points + normal * np.where(slant > 0, 1, -1)[:, None] * size
        return start, towards, flux * (strength * (1 - fifth) + fifth)

    def _meet(self, start, towards):
        """Return (distance, face) of what rays meet first; `FAR` where nothing near."""
        if not len(start):
            return np.zeros(0), np.zeros(0, np.uint32)
        hit = self.buffers.scene.ray_intersect_preliminary(
            mi.Ray3f(vectors(start, mi.Point3f), vectors(towards)), coherent=False)
        valid = hit.is_valid()
        away = np.array(dr.select(valid, hit.t, FAR), float)
        return np.minimum(away, FAR), np.array(dr.select(valid, hit.prim_index, NONE))

    def _reach(self, mirror, start, towards, away, face):
        """Return (which rays meet a mirror before anything else, where)."""
        if self.mirrors.kind[mirror] == FACES:
            known = face != NONE
            on = np.zeros(len(face), bool)
            on[known] = self.mirrors.of_face[face[known]] == mirror
            return on, start + towards * away[:, None]
        shape = (each[mirror] for each in (self.mirrors.centre, self.mirrors.half_u, self.mirrors.half_v))
        cross, inside = rectangle_reach(start, towards, *shape)
        on = inside & (cross > 1e-3) & (cross < away)
        return on, start + towards * np.where(on, cross, 0)[:, None]

    def _count(self, keys, start, towards, away, face, flux):
        """Add rays' light to the cells that they cross, and to what they end at.

        In the air by the length of the ray in each cell; on surfaces by what falls on them, seen
        square on, over all area in the cell.
        """
        steps = (np.arange(STEPS) + self.random.random((len(start), 1))) / STEPS
        cell, within = self._cells(start[:, None] + towards[:, None] * (steps * away[:, None])[..., None])
        along = np.where(within, (flux * away / STEPS / self.volume)[:, None], 0)
        end, within = self._cells(start + towards * away[:, None])
        on = within & (face != NONE)
        slant = np.abs(np.einsum("ni,ni->n", towards, self._normals(np.where(on, face, 0))))
        area = np.maximum(self.area[end], LEAST_AREA * self.volume ** (2 / 3))
        ends = np.where(on, flux / np.maximum(slant, LEAST_SLANT) / area, 0)
        keys = list(keys)
        number = {key: k for k, key in enumerate(dict.fromkeys(keys))}
        which = np.array([number[key] for key in keys], int)
        cells = int(np.prod(CELLS))
        for key, k in number.items():
            key, mine = tuple(int(x) for x in key), which == k
            self.found[key] = np.bincount(cell[mine].ravel(), along[mine].ravel(), cells)
            self.fallen[key] = np.bincount(end[mine], ends[mine], cells)

    def _normals(self, faces):
        """Return the unit normals of some faces."""
        geometry = self.buffers.geometry
        double = doubled_normals(geometry.positions[geometry.faces[faces]].astype(float))
        return double / np.maximum(np.linalg.norm(double, axis=1), 1e-20)[:, None]

    def _cells(self, points):
        """Return (the cell of each point, whether it lies in any)."""
        at = np.floor((points - self.choice.low) * np.asarray(self.choice.scale)).astype(int)
        within = np.all((at >= 0) & (at < CELLS), axis=-1)
        at = np.where(within[..., None], at, 0)
        return (at[..., 2] * CELLS[1] + at[..., 1]) * CELLS[0] + at[..., 0], within


def _areas(drawn, cells_of):
    """Return the area of surfaces in each cell, by what was drawn on them. [m²]"""
    if drawn.in_cells is not None:
        return drawn.in_cells
    count = len(drawn.points)
    cells = int(np.prod(CELLS))
    # Each point stands for its part of its face; a small face without one stands at its middle.
    cell, within = cells_of(drawn.middles)
    drawn_on, rest = (np.bincount(cell[part][within[part]], drawn.areas[part][within[part]], cells)
                      for part in (np.s_[:count], np.s_[count:]))
    drawn.in_cells = drawn_on + rest
    return drawn.in_cells


def spread_out(light):
    """Return what is in each cell with a little of what is around it, and of all."""
    grid = light.reshape(CELLS[::-1])
    return (grid + around(grid) / 10).ravel() + 1e-4 * light.mean()
