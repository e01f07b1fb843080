"""Build what ends the view outdoors: bands of trees, roofs, hills, works, walls, fences.

All are drawn by their names, stand on the ground outside, and are few triangles: at most `MOST` in all.
"""

from __future__ import annotations

import dataclasses
import zlib

import numpy as np

from previz.physics.spectra import WAVELENGTHS_NM
from previz.scene.skyline import USUAL_BANDS
from previz.scene.surface import Surface as Written
from previz.stage import shapes, trees
from previz.stage.outdoors import compass
from previz.stage.records import Mesh
from previz.stage.shapes import Triangles
from previz.stage.surfaces import SurfaceRegistry
from previz.stage.yard.solids import creased

MOST = 30_000
"""Triangles that all bands have together, about."""

ONE_BAND = 15_000
"""Triangles that one band has, about."""

GROUND = -0.02
"""Height of the ground outside, as `room.ground_mesh` has it. [m]"""

PATTERNED = 100.0
"""Distance up to which bands show the patterns of their surfaces. [m]"""

PALING = 5000.0
"""Distance over which surfaces pale to 1/e, where nothing else is written. [m]  About a clear day's air near
the ground; a choice of surface, as no light is scattered before them.  Common practice, no source."""

WEATHERED = 0.7
"""Of what walls and roofs sent on when they were clean; a third of their colour is gone too. [1]  Common
practice, no source."""

PALE = 0.30 * (WAVELENGTHS_NM / 550.0) ** -0.7
"""Reflectance that far things tend to: as bright as the low sky is to ground in shade. [1]  Common practice,
no source."""


def build_skyline(scene, registry: SurfaceRegistry) -> list[Mesh]:
    """Return the meshes of all bands of a scene, each named after its band."""
    bands = scene.surroundings
    if not bands:
        return []
    north = 0.0 if scene.daylight is None else scene.daylight.north
    middle = np.zeros(2) if scene.room is None else np.array(scene.room.size[:2]) / 2
    shares = {band.name: 4 if band.kind == "trees" else 1 for band in bands}
    unit = MOST / sum(shares.values())
    return [
        mesh
        for band in bands
        for mesh in _Band(
            band, middle, north, registry, min(ONE_BAND, int(unit * shares[band.name]))
        ).meshes()
    ]


class _Band:
    """One band: its arc, its numbers, and what its kind makes of them."""

    def __init__(self, band, middle, north, registry, budget):
        height, depth, surface = USUAL_BANDS[band.kind]
        self.band, self.middle, self.registry, self.budget = band, middle, registry, budget
        self.height = band.height or height
        self.depth = band.depth or depth
        self.rng = trees.drawn_by(band.name, band.kind)
        self.seed = zlib.crc32(band.name.encode())
        # Courses of what stands far off are smaller than a pixel.
        self.plain = band.distance > PATTERNED or band.kind in ("trees", "hedge", "hills")
        self.main = registry.of(band.surface or Written(name=surface), plain=self.plain)
        sweep = (band.end - band.start) % 360 or 360.0
        self.closed = sweep == 360
        # From left to right, clockwise, as bearings go.
        self.first, self.sweep = np.radians(compass(band.start, north)), np.radians(sweep)
        self.length = self.sweep * band.distance

    def meshes(self) -> list[Mesh]:
        """Return its meshes."""
        return [mesh for mesh in getattr(self, f"_{self.band.kind}")() if len(mesh.faces)]

    def at(self, share, beyond=0.0, z=0.0) -> np.ndarray:
        """Return points at shares of the arc, so far beyond its near side and so high. Shape (..., 3) [m]"""
        share = np.asarray(share, float)
        turn = self.first - share * self.sweep
        away = self.band.distance + np.asarray(beyond, float)
        return np.stack(
            np.broadcast_arrays(
                self.middle[0] + away * np.cos(turn),
                self.middle[1] + away * np.sin(turn),
                GROUND + np.asarray(z, float),
            ),
            axis=-1,
        )

    def paled(self, surface: str, beyond: float = 0.0) -> str:
        """Return a surface as it is to look so far away."""
        share = self.band.pale
        if share is None:
            share = 1 - np.exp(-(self.band.distance + beyond) / PALING)
        share = round(float(share), 2)
        if not share:
            return surface
        own = self.registry.surfaces[surface]
        return self.registry.add(
            dataclasses.replace(
                own,
                name=f"{surface}, {share:.0%} paled",
                gloss=own.gloss * (1 - share),
                reflectance=own.reflectance * (1 - share) + share * PALE,
                transmission=own.transmission * (1 - share),
            )
        )

    def library(self, name: str) -> str:
        """Return a surface of the library, with its pattern where the band is near."""
        return self.registry.of(Written(name=name), plain=self.plain)

    def mesh(self, surface: str, body: Triangles, normals=None, beyond: float = 0.0) -> Mesh:
        """Return triangles as a mesh of the band."""
        vertices, faces = body
        return Mesh(
            self.band.name,
            self.paled(surface, beyond),
            np.maximum(vertices, [-np.inf, -np.inf, GROUND]),
            faces,
            normals,
            role="outside",
        )

    def _open(self, share) -> np.ndarray:
        """Return where the band is not left open, at shares of its arc."""
        wave = self._wave(share, 6.0 / max(self.length / max(self.height * 12, 1), 1), 11)
        return (
            wave
            > np.quantile(
                self._wave(np.linspace(0, 1, 400), 6.0 / max(self.length / max(self.height * 12, 1), 1), 11),
                self.band.gaps,
            )
            if self.band.gaps
            else wave > -np.inf
        )

    def _wave(self, share, size: float, salt: int, octaves: int = 4) -> np.ndarray:
        """Return smooth noise along the arc, about -1 to 1; `size` is the share that a wave takes."""
        rng = np.random.default_rng([self.seed, salt])
        found = np.zeros(np.shape(share))
        for octave in range(octaves):
            # Whole waves close where the band goes all round.
            count = max(round(2**octave / max(size, 1e-3)), 1)
            for k in (count, count + 1):
                found += 0.5 * 0.55**octave * np.sin(2 * np.pi * (k * np.asarray(share) + rng.random()))
        return found

    def _columns(self, least: float, most: int) -> np.ndarray:
        """Return shares of the arc at even steps of `least` metres or more, at most so many."""
        return np.linspace(0, 1, int(np.clip(self.length / least, 8, most)) + 1)

    def _ribbon(self, shares, rows) -> Triangles:
        """Return a strip through rows of (how far beyond, how high) at shares of the arc."""
        points = np.stack([self.at(shares, *row) for row in rows])
        across, along = points.shape[:2]
        k = np.arange(across * along).reshape(across, along)
        a, b, c, d = (each.ravel() for each in (k[:-1, :-1], k[:-1, 1:], k[1:, 1:], k[1:, :-1]))
        open_ = np.tile(self._open((shares[1:] + shares[:-1]) / 2), across - 1)
        # From left to right and from below upwards, outside towards the set.
        faces = np.concatenate([np.stack([a, b, c], 1)[open_], np.stack([a, c, d], 1)[open_]])
        return points.reshape(-1, 3), faces

    # Kinds.

    def _trees(self) -> list[Mesh]:
        layers = 3 if self.depth > 0.8 * self.height else 2
        spacing = 0.62 * self.height
        count = int(np.clip(self.length / spacing, 1, 400))
        detail = int(0.85 * self.budget / (layers * count))
        if detail < 36:
            return self._wood(layers)
        kinds = [
            trees.far_tree(trees.drawn_by(self.band.name, str(k)), min(detail, 620), self.band.bare)
            for k in range(5)
        ]
        built = []
        bark = self.registry.library("bark")
        for layer in range(layers):
            beyond = self.depth * layer / max(layers - 1, 1)
            share = (
                np.arange(count) + 0.5 + 0.7 * (self.rng.random(count) - 0.5) + 0.4 * (layer % 2)
            ) / count
            keep = self._open(share) & (share < 1)
            size = self.height * (0.62 + 0.38 * self.rng.random(count))
            which, turn = self.rng.integers(0, len(kinds), count), self.rng.random(count) * 2 * np.pi
            places = self.at(share, beyond + self.depth * 0.2 * self.rng.random(count) / layers)
            parts: list[list[Triangles]] = [[], [], []]
            for k in np.flatnonzero(keep):
                axes = shapes.turned(turn[k]) * size[k] * np.array([1, 1, 1.0])
                for group, body in zip(parts, kinds[which[k]], strict=True):
                    group.append(shapes.place(body, axes, places[k]))
            wood, crowns, edges = (shapes.join(*each) if each else None for each in parts)
            if wood is None:
                continue
            built.append(self.mesh(bark, wood, beyond=beyond))
            built.append(
                self.mesh(bark if self.band.bare else self.main, crowns, _smooth(*crowns), beyond=beyond)
            )
            if len(edges[1]):
                built.append(self.mesh(self.main, edges, beyond=beyond))
        return built + self._under()

    def _under(self) -> list[Mesh]:
        """Return what grows under trees: it ends the ground before them."""
        shares = self._columns(self.height / 8, 500)
        top = self.height * (0.10 + 0.05 * self._wave(shares, 0.02, 5) + 0.03 * self.rng.random(len(shares)))
        body = self._ribbon(
            shares,
            [
                (-0.02 * self.height, 0),
                (0.05 * self.height, 0.7 * top),
                (0.2 * self.height, top),
                (0.4 * self.height, 0),
            ],
        )
        return [self.mesh(self.main, body, _smooth(*body))]

    def _wood(self, layers: int) -> list[Mesh]:
        """Return the edge of a wood that is too far, or too long, for single trees."""
        built = []
        for layer in range(layers):
            beyond = self.depth * layer / max(layers - 1, 1)
            shares = self._columns(self.height / 7, self.budget // (6 * layers))
            size = 0.5 * self.height / max(self.length, 1)
            crown = np.abs(self._wave(shares, 2.2 * size, 20 + layer, 3))
            top = (
                self.height
                * (0.72 + 0.28 * crown + 0.05 * self.rng.normal(size=len(shares)))
                * (0.9 + 0.1 * layer)
            )
            bulge = self.height * 0.25 * self._wave(shares, 1.5 * size, 40 + layer, 3)
            body = self._ribbon(
                shares,
                [
                    (beyond, 0),
                    (beyond - 0.1 * self.height - bulge, 0.35 * top),
                    (beyond - bulge, 0.75 * top),
                    (beyond + 0.25 * self.height, top),
                ],
            )
            built.append(self.mesh(self.main, body, _smooth(*body), beyond=beyond))
        return built

    def _hills(self) -> list[Mesh]:
        built = []
        for layer in range(3):
            beyond = self.depth * layer / 3
            shares = self._columns(self.length / 500, min(self.budget // 24, 500))
            size = 4 * self.height / max(self.length, 1)
            top = self.height * (0.35 + 0.3 * layer / 2 + 0.32 * self._wave(shares, 2 * size, 60 + layer, 5))
            top = np.maximum(top, 0.04 * self.height)
            body = self._ribbon(
                shares,
                [
                    (beyond, 0),
                    (beyond + self.depth / 6, 0.55 * top),
                    (beyond + self.depth / 3, top),
                    (beyond + 0.4 * self.depth, 0.9 * top),
                ],
            )
            built.append(self.mesh(self.main, body, _smooth(*body), beyond=beyond + self.depth / 6))
        return built

    def _verge(self) -> list[Mesh]:
        shares = self._columns(3 * self.height, self.budget // 8)
        rough = 1 + 0.3 * self.rng.normal(size=(2, len(shares))).clip(-2, 2)
        body = self._ribbon(
            shares,
            [
                (0, 0),
                (0.3 * self.depth, 0.55 * self.height * rough[0]),
                (0.7 * self.depth, 0.75 * self.height * rough[1]),
                (self.depth, 0),
            ],
        )
        return [self.mesh(self.main, *creased(*body, 60.0))]

    def _hedge(self) -> list[Mesh]:
        shares = self._columns(0.45 * self.height, self.budget // 14)
        count = len(shares)
        rough = 0.06 * self.height * self.rng.normal(size=(5, count)).clip(-2, 2)
        d, h = self.depth, self.height
        body = self._ribbon(
            shares,
            [
                (0, 0),
                (-0.05 * d + rough[0], 0.5 * h),
                (0.05 * d + rough[1], 0.9 * h + rough[2]),
                (0.6 * d, h + rough[3]),
                (d, 0.6 * h),
                (d, 0),
            ],
        )
        many = min(self.budget // 4, 12 * count)
        at = self.at(
            self.rng.random(many), -0.04 * d + 0.3 * d * self.rng.random(many), h * self.rng.random(many)
        )
        keep = self._open(
            (self.first - np.arctan2(at[:, 1] - self.middle[1], at[:, 0] - self.middle[0]))
            % (2 * np.pi)
            / self.sweep
        )
        return [
            self.mesh(self.main, *creased(*body, 60.0)),
            self.mesh(self.main, trees.sprays(at[keep], 0.09 * h**0.5, self.rng)),
        ]

    def _posts(self, spacing: float, most: int):
        """Return (share of each post, whether the field after it is there) along the arc."""
        shares = self._columns(spacing, most)
        return shares, self._open((shares[1:] + shares[:-1]) / 2)

    def _along(self, one, two, low, high, near, far) -> Triangles:
        """Return an upright box from share to share of the arc. [m]"""
        corners = np.array([self.at(s, b, z) for z in (low, high) for b in (near, far) for s in (one, two)])
        # In the order of `shapes.box`, whose y grows away from the set here: its x runs to the right.
        return corners, shapes.box((0, 0, 0), (1, 1, 1))[1]

    def _wall(self) -> list[Mesh]:
        shares, open_ = self._posts(4.0, self.budget // 40)
        coping = self.library("concrete")
        body, caps = [], []
        step = 0.006
        for k in np.flatnonzero(open_):
            body.append(self._along(shares[k], shares[k + 1], 0, self.height - 0.08, 0, self.depth))
            caps.append(
                self._along(
                    shares[k], shares[k + 1], self.height - 0.08, self.height, -0.04, self.depth + 0.04
                )
            )
            pier = min(0.25 / max(self.length, 1), step)
            body.append(self._along(shares[k] - pier, shares[k] + pier, 0, self.height - 0.08, -0.06, 0))
        return (
            [self.mesh(self.main, shapes.join(*body)), self.mesh(coping, shapes.join(*caps))] if body else []
        )

    def _fence(self) -> list[Mesh]:
        posts, open_ = self._posts(2.4, self.budget // 60)
        half = 0.05 / max(self.length, 1)
        pickets = max(
            min(int((posts[1] - posts[0]) * self.length / 0.16), self.budget // (14 * max(open_.sum(), 1))), 0
        )
        body = []
        for k in np.flatnonzero(open_):
            one, two = posts[k], posts[k + 1]
            body.append(self._along(one - half, one + half, 0, 1.04 * self.height, 0.03, 0.12))
            body += [
                self._along(one, two, z * self.height - 0.04, z * self.height + 0.04, 0.0, 0.03)
                for z in (0.3, 0.8)
            ]
            for j in range(pickets):
                at = one + (two - one) * (j + 0.5) / pickets
                wide = 0.35 * (two - one) / pickets
                lean = self.height * (0.97 + 0.03 * self.rng.random())
                body.append(self._along(at - wide, at + wide, 0.05, lean, -0.02, 0.0))
        return [self.mesh(self.main, shapes.join(*body))] if body else []

    def _placed(self, share, beyond):
        """Return axes and foot of a building: its x to the right, its y away from the set."""
        turn = self.first - share * self.sweep
        away = np.array([np.cos(turn), np.sin(turn), 0])
        right = np.array([np.sin(turn), -np.cos(turn), 0])
        return np.stack([right, away, [0, 0, 1.0]], axis=1), self.at(share, beyond)

    def _buildings(self, make, wide: float, rows: int, most: int) -> list[Mesh]:
        """Return buildings in rows; `make(rng, high)` gives {surface: triangles} of one on the origin."""
        found: dict[tuple[str, int], list[Triangles]] = {}
        for row in range(rows):
            beyond = self.depth * row
            count = int(
                np.clip(
                    self.length * (self.band.distance + beyond) / self.band.distance / wide, 1, most // rows
                )
            )
            shares = (np.arange(count) + 0.5 + 0.12 * (self.rng.random(count) - 0.5)) / count
            for share in shares[self._open(shares)]:
                axes, foot = self._placed(share, beyond + 0.15 * self.depth * self.rng.random())
                for surface, body in make(self.rng, self.height * (0.85 + 0.15 * self.rng.random())).items():
                    found.setdefault((surface, row), []).append(shapes.place(body, axes, foot))
        return [
            self.mesh(surface, shapes.join(*bodies), beyond=self.depth * row)
            for (surface, row), bodies in found.items()
        ]

    def _roofs(self) -> list[Mesh]:
        surfaces = {
            key: self._weathered(key) for key in ("brick", "yellow brick", "white paint", "grey plaster")
        }
        roof = self.main if self.band.surface is not None else self._weathered("terracotta tile")
        surfaces |= {key: self.registry.library(key) for key in ("black tile", "roof slate")}
        return self._buildings(lambda rng, high: _house(rng, high, roof, surfaces), 9.0, 2, self.budget // 60)

    def _weathered(self, name: str) -> str:
        """Return a surface of the library as years and soot leave it."""
        own = self.registry.surfaces[self.library(name)]
        return self.registry.add(
            dataclasses.replace(
                own,
                name=f"{name}, weathered",
                reflectance=WEATHERED * (0.7 * own.reflectance + 0.3 * np.mean(own.reflectance)),
            )
        )

    def _works(self) -> list[Mesh]:
        surfaces = {key: self.registry.library(key) for key in ("concrete", "roof slate", "galvanised steel")}
        return self._buildings(
            lambda rng, high: _works(rng, high, self.main, surfaces), 34.0, 1, self.budget // 330
        )


def _smooth(vertices, faces) -> np.ndarray:
    """Return corners' normals, weighed by area; of a corner that no face has, straight up. Shape (n, 3)"""
    normals = np.zeros_like(vertices)
    cross = shapes.crosses(vertices[faces])
    for k in range(3):
        np.add.at(normals, faces[:, k], cross)
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.where(length > 1e-12, normals / np.maximum(length, 1e-12), [0.0, 0, 1])


def gable(
    wide: float, deep: float, eaves: float, ridge: float, over: float = 0.3
) -> tuple[Triangles, Triangles]:
    """Return (walls with their gables, roof) of a house on z = 0 about the origin, its ridge along x. [m]"""
    w, d = wide / 2, deep / 2
    corners = np.array(
        [(x, y, z) for z in (0, eaves) for x, y in ((-w, -d), (w, -d), (w, d), (-w, d))]
        + [(-w, 0, ridge), (w, 0, ridge)],
        float,
    )
    walls = np.array(
        [
            [0, 1, 5],
            [0, 5, 4],
            [1, 2, 6],
            [1, 6, 5],
            [2, 3, 7],
            [2, 7, 6],
            [3, 0, 4],
            [3, 4, 7],
            [4, 8, 7],
            [5, 6, 9],
        ]
    )
    slope = (ridge - eaves) / d
    low, thick = eaves - over * slope, 0.12
    rim = [
        (x, y, z + up)
        for up in (0.02, thick)
        for x in (-w - over, w + over)
        for y, z in ((-d - over, low), (0, ridge), (d + over, low))
    ]
    top = np.array(rim, float)
    roof = np.array(
        [
            [6, 9, 10],
            [6, 10, 7],
            [7, 10, 11],
            [7, 11, 8],
            [0, 1, 4],
            [0, 4, 3],
            [1, 2, 5],
            [1, 5, 4],
            [0, 3, 9],
            [0, 9, 6],
            [2, 8, 11],
            [2, 11, 5],
            [0, 6, 7],
            [0, 7, 1],
            [1, 7, 8],
            [1, 8, 2],
            [3, 4, 10],
            [3, 10, 9],
            [4, 5, 11],
            [4, 11, 10],
        ]
    )
    return (corners, walls), (top, roof)


def _house(rng, high, roof: str, surfaces) -> dict[str, Triangles]:
    wide, deep = 6.5 + 2.3 * rng.random(), 8.0 + 2 * rng.random()
    eaves = high * (0.52 + 0.12 * rng.random())
    wall = list(surfaces.values())[int(rng.choice(4, p=(0.45, 0.2, 0.15, 0.2)))]
    across = rng.random() < 0.3
    walls, top = gable(*((deep, wide) if across else (wide, deep)), eaves, high * 0.93)
    if across:
        quarter = shapes.turned(np.pi / 2)
        walls, top = (shapes.place(each, quarter, (0, 0, 0)) for each in (walls, top))
    x = wide * (0.3 if rng.random() < 0.5 else -0.3)
    stack = shapes.box((x - 0.45, -0.3, high * 0.6), (x + 0.45, 0.3, high * 1.04))
    pots = [
        shapes.moved(shapes.frustum(0.13, 0.1, 0.5, sides=6), (x + s, 0, high * 1.04)) for s in (-0.22, 0.22)
    ]
    glass, frames = [], []
    front = -(wide if across else deep) / 2 if not across else -deep / 2
    for level in range(2):
        z = eaves * (0.18 + 0.47 * level)
        for side in (-0.26, 0.26):
            middle = (side * wide, front, z + 0.17 * eaves)
            frames.append(shapes.rectangle(np.add(middle, (0, -0.03, 0)), (0.62, 0, 0), (0, 0, 0.16 * eaves)))
            glass.append(shapes.rectangle(np.add(middle, (0, -0.06, 0)), (0.5, 0, 0), (0, 0, 0.13 * eaves)))
    own = [roof, surfaces["roof slate"]][int(rng.random() < 0.3)]
    found: dict[str, list] = {}
    for name, body in (
        (wall, walls),
        (own, top),
        (surfaces["brick"], shapes.join(stack, *pots)),
        (surfaces["white paint"], shapes.join(*frames)),
        (surfaces["black tile"], shapes.join(*glass)),
    ):
        found.setdefault(name, []).append(body)
    return {name: shapes.join(*bodies) for name, bodies in found.items()}


def _works(rng, high, wall: str, surfaces) -> dict[str, Triangles]:
    """A shed with a saw-tooth roof, and beside it a chimney, or silos."""
    walls, roofs, metal = [], [], []
    wide, deep, eaves = 24.0, 18.0, 0.55 * high
    walls.append(shapes.box((-wide / 2, -deep / 2, 0), (wide / 2, deep / 2, eaves)))
    teeth = 4
    for k in range(teeth):
        x0, x1 = -wide / 2 + wide * k / teeth, -wide / 2 + wide * (k + 1) / teeth
        d = deep / 2
        corners = np.array(
            [
                (x0, -d, eaves),
                (x1, -d, eaves),
                (x0, d, eaves),
                (x1, d, eaves),
                (x1, -d, 0.78 * high),
                (x1, d, 0.78 * high),
            ]
        )
        roofs.append((corners, np.array([[0, 4, 5], [0, 5, 2], [1, 3, 5], [1, 5, 4], [0, 1, 4], [2, 5, 3]])))
    windows = [
        shapes.rectangle(
            (-wide / 2 + wide * (k + 0.5) / 6, -deep / 2 - 0.05, 0.55 * eaves),
            (1.3, 0, 0),
            (0, 0, 0.28 * eaves),
        )
        for k in range(6)
    ]
    if rng.random() < 0.55:
        walls.append(shapes.moved(shapes.frustum(1.5, 0.95, 2.4 * high, sides=14), (wide / 2 + 3.5, 2, 0)))
        walls.append(
            shapes.moved(shapes.frustum(1.15, 1.15, 0.7, sides=14), (wide / 2 + 3.5, 2, 2.4 * high - 0.7))
        )
    else:
        for k in range(3):
            foot = (wide / 2 + 2.6, -3.5 + 5 * k, 0)
            metal.append(shapes.moved(shapes.frustum(2.2, 2.2, 1.25 * high, sides=14), foot))
            metal.append(
                shapes.moved(
                    shapes.frustum(2.3, 0.4, 0.14 * high, sides=14), np.add(foot, (0, 0, 1.25 * high))
                )
            )
    found = {wall: shapes.join(*walls), surfaces["roof slate"]: shapes.join(*roofs, *windows)}
    return found | ({surfaces["galvanised steel"]: shapes.join(*metal)} if metal else {})
