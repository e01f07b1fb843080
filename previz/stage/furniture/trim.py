"""Boards and mouldings of a room: along its walls, under its ceiling, round its openings; doors in them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from previz.stage.furniture.doors import architrave, door_leaf
from previz.stage.furniture.joinery import panelled
from previz.stage.furniture.solids import Solid, block, joined
from previz.stage.furniture.swept import loft, turned
from previz.stage.records import Mesh

BAY = 0.62
"""Width of a panel of panelling, about. [m]  Common practice, no source."""

ARCHITRAVE = (0.07, 0.018)
"""Width and depth of the moulding round an opening. [m]  Common practice, no source."""

SKIRTING = np.array([(0, 0), (0.018, 0), (0.018, 0.8), (0.013, 0.86), (0.011, 0.93), (0.005, 1.0), (0, 1.0)])
RAIL = np.array(
    [(0, 0), (0.008, 0), (0.012, 0.2), (0.026, 0.4), (0.03, 0.62), (0.026, 0.85), (0.01, 1.0), (0, 1.0)]
)
CORNICE = np.array(
    [(0, 0), (0.12, 0), (0.14, 0.1), (0.22, 0.14), (0.27, 0.4), (0.4, 0.62), (0.6, 0.74), (0.82, 0.79),
     (0.86, 0.88), (0.95, 0.9), (0.95, 1.0), (0, 1.0)]
)  # fmt: skip
"""Sections: out from the wall [m; of a cornice as a share of its height], and up as a share of the height."""

RAIL_HEIGHT = 0.06
BEAM = (0.16, 0.2)
"""Width and depth of a beam. [m]  Common practice, no source."""


class Wall:
    """A wall's inside face: its frame and the holes in it (u0, u1, v0, v1). [m]"""

    def __init__(self, frame, holes):
        self.origin, self.along, self.up, self.inward, self.width, self.height = frame
        self.holes = holes

    def placed(self, solid: Solid, u: float = 0.0, v: float = 0.0) -> Solid:
        """Return what is built with x along, y into the wall and z up, put on it at (u, v)."""
        axes = np.stack([self.along, -self.inward, self.up], axis=1)
        made = solid.placed(axes, self.origin + self.along * u + self.up * v)
        return made if np.linalg.det(axes) > 0 else made._replace(faces=made.faces[:, ::-1])

    def runs(self, low: float, high: float, clear: float = 0.0) -> list[tuple[float, float]]:
        """Return where along it nothing is cut out between two heights, so far from holes. [m]"""
        taken = sorted((u0 - clear, u1 + clear) for u0, u1, v0, v1 in self.holes if v0 < high and v1 > low)
        made, at = [], 0.0
        for u0, u1 in taken:
            if u0 > at + 0.01:
                made.append((at, u0))
            at = max(at, u1)
        return [*made, (at, self.width)] if self.width > at + 0.01 else made

    def moulding(self, section, low: float, high: float, clear: float = 0.0) -> Iterator[Solid]:
        """Yield a section along the wall, cut for its holes and mitred where it meets its neighbours. [m]"""
        for u0, u1 in self.runs(low, high, clear):
            start = np.array([(out if u0 == 0 else u0, -out, low + z * (high - low)) for out, z in section])
            end = np.array(
                [
                    (self.width - out if u1 == self.width else u1, -out, low + z * (high - low))
                    for out, z in section
                ]
            )
            yield self.placed(loft(np.array([start, end]), apex=len(section) - 1))


def trim_meshes(room, walls: dict[str, Wall], registry) -> list[Mesh]:
    """Return the meshes of a room's `trim`, those on a wall named after it; none without trim."""
    if room.trim is None:
        return []
    made = []
    boards, plaster = registry.of(room.trim.surface), registry.of(room.trim.ceiling)
    framed = ARCHITRAVE[0] if any(o.frame is not None for o in room.openings) else 0.0
    for name, wall in walls.items():
        made += _meshes(f"{name} wall", boards, list(_on_wall(room.trim, wall, framed)))
        made += _meshes(f"{name} wall", plaster, list(_cornice(room.trim, wall)))
    return made + _meshes("ceiling", plaster, list(_overhead(room)))


def _meshes(name: str, surface: str, solids: list[Solid]) -> list[Mesh]:
    if not solids:
        return []
    whole = joined(*solids)
    return [Mesh(name, surface, whole.vertices, whole.faces, whole.normals, whole.uv)]


def _on_wall(trim, wall: Wall, framed: float) -> Iterator[Solid]:
    top = wall.height
    foot = min(trim.skirting or 0.0, top)
    if foot:
        yield from wall.moulding(SKIRTING, 0.0, foot, framed)
    if trim.panelling:
        reach = min(trim.panelling, top)
        for u0, u1 in wall.runs(0.0, reach, framed):
            count = max(1, round((u1 - u0) / BAY))
            bay = panelled((u1 - u0) / count, max(reach - 0.7 * foot, 0.02), 0.014, 0.085)
            yield from (
                wall.placed(bay.moved(0, -0.014, 0), u0 + k * (u1 - u0) / count, 0.7 * foot)
                for k in range(count)
            )
        yield from wall.moulding(RAIL * [1.2, 1.0], max(reach - 0.01, 0.0), min(reach + 0.03, top), framed)
    for height in (trim.dado, trim.picture_rail):
        if height and height < top:
            yield from wall.moulding(RAIL, max(height - RAIL_HEIGHT, 0.0), height, framed)


def _cornice(trim, wall: Wall) -> Iterator[Solid]:
    tall = min(trim.cornice or 0.0, wall.height / 2, wall.width / 3)
    if tall:
        yield from wall.moulding(CORNICE * [tall, 1.0], wall.height - tall, wall.height)


def _overhead(room) -> Iterator[Solid]:
    if not room.ceiling:
        return
    w, d, h = room.size
    if room.trim.rose:
        r = min(room.trim.rose, w, d) / 2
        shape = np.array(
            [
                (0, 0.09),
                (0.16, 0.09),
                (0.19, 0.06),
                (0.3, 0.05),
                (0.42, 0.062),
                (0.5, 0.04),
                (0.7, 0.034),
                (0.78, 0.048),
                (0.86, 0.046),
                (0.9, 0.024),
                (0.97, 0.016),
                (1.0, 0.0),
                (0, 0.0),
            ]
        )
        rose = turned(shape * [r, -r], 64).moved(w / 2, d / 2, h)
        yield rose if _outward(rose) else rose._replace(faces=rose.faces[:, ::-1], normals=-rose.normals)
    count = int(room.trim.beams)
    long, short = (0, 1) if w >= d else (1, 0)
    for k in range(count):
        middle = room.size[long] * (k + 0.5) / count
        low, high = np.zeros(3), np.array([0.0, 0.0, h])
        low[long], high[long] = middle - BEAM[0] / 2, middle + BEAM[0] / 2
        high[short] = room.size[short]
        low[2] = h - min(BEAM[1], h / 4)
        yield block(low, high, 0.012)


def _outward(solid: Solid) -> bool:
    a, b, c = (solid.vertices[solid.faces[:, k]] - solid.vertices.mean(axis=0) for k in range(3))
    return float(np.einsum("ij,ij->i", np.cross(a, b), c).sum()) > 0


def opening_meshes(opening, wall: Wall, thickness: float, registry) -> list[Mesh]:
    """Return the frame and the door of an opening, if it has them. [m]"""
    made = []
    if opening.frame is not None:
        made += _meshes(opening.name, registry.of(opening.frame), list(_frame(opening, wall, thickness)))
    if opening.door is not None:
        width, height = opening.size
        gap = min(0.004, 0.1 * width)
        for surface, solid in zip(
            (opening.door.surface, opening.door.handles),
            door_leaf(width - 2 * gap, height - 2 * gap),
            strict=True,
        ):
            swung = solid.turned(2, -opening.door.open)
            made += _meshes(
                opening.name,
                registry.of(surface),
                [wall.placed(swung, opening.along + gap, opening.sill + gap)],
            )
    return made


def _frame(opening, wall: Wall, thickness: float) -> Iterator[Solid]:
    width, height = opening.size
    wide, deep = ARCHITRAVE
    window = opening.sill > 0 and opening.wall != "ceiling"
    yield wall.placed(
        architrave(width, height, wide, deep, sill=opening.wall == "ceiling"), opening.along, opening.sill
    )
    if window:
        board = 0.028
        yield wall.placed(
            block((-wide - 0.02, -0.05, -board), (width + wide + 0.02, 0.0, 0.0), 0.006, 0),
            opening.along,
            opening.sill,
        )
        yield wall.placed(
            block((0.001, 0.0, -0.004), (width - 0.001, thickness / 2, 0.008), 0.002, 0),
            opening.along,
            opening.sill,
        )
    if opening.door is None and opening.glass != "none":
        # Before the pane, which is just outside the glazing bars.
        bar = min(0.05, width / 5, height / 5)
        front, back = thickness / 2 - 0.03, thickness / 2 + opening.bar / 2 - 0.001
        front = min(front, back - 0.002)
        for low, high in (
            ((0, 0), (bar, height)),
            ((width - bar, 0), (width, height)),
            ((bar, 0), (width - bar, bar)),
            ((bar, height - bar), (width - bar, height)),
        ):
            yield wall.placed(
                block((low[0], front, low[1]), (high[0], back, high[1]), 0.004), opening.along, opening.sill
            )
