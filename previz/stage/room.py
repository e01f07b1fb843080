"""Build a room: walls with thickness and openings, glazing, and the ground outside."""

from __future__ import annotations

from functools import partial

import numpy as np

from previz.stage import dressing, laying, shapes
from previz.stage.lamps import filtered
from previz.stage.records import Guide, Mesh, Pane
from previz.stage.surfaces import SurfaceRegistry, hue_of

GROUND = 3000.0
"""Half the size of the ground outside. [m]"""

FILM_IOR = 1.5
"""Index of a gel's film. [1]  From memory."""

FILM_CLEAREST = 2 * FILM_IOR / (1 + FILM_IOR**2)
"""What a clear film lets through, hit square: both its faces mirror. [1]"""

GLASS_IOR = 1.52
"""Index of window glass.  Source: as used for the pane values in handbooks (from memory)."""

WALLS = ("north", "south", "east", "west")


class RoomBuilder:
    """Turns a scene's room into meshes, panes and guides.

    Parameters
    ----------
    room : scene.room.Room
    registry : SurfaceRegistry
        Takes its surfaces.
    """

    def __init__(self, room, registry: SurfaceRegistry):
        self.room, self.registry, self.surface = room, registry, partial(registry.of, of_room=True)
        self.w, self.d, self.h = room.size
        self.t = room.wall_thickness

    def wall_frame(self, wall: str):
        """Return (origin, along, up, inward, width, height) of a wall's inside face."""
        w, d, h = self.w, self.d, self.h
        x, y, z = np.eye(3)
        zero = np.zeros(3)
        return {
            "west": (zero, y, z, x, d, h),
            "east": (w * x, y, z, -x, d, h),
            "south": (zero, x, z, y, w, h),
            "north": (d * y, x, z, -y, w, h),
            "ceiling": (h * z, x, y, -z, w, d),
        }[wall]

    def _holes(self, wall: str):
        return [(o.along, o.along + o.size[0], o.sill, o.sill + o.size[1])
                for o in self.room.openings if o.wall == wall]

    def meshes(self) -> list[Mesh]:
        """Return walls, floor, ceiling and reveals; each is named after itself."""
        surfaces = self.room.surfaces
        built = []
        for wall in WALLS:
            record = getattr(surfaces, wall) or surfaces.walls
            built.append(Mesh(f"{wall} wall", self.surface(record), *self._slab(wall)))
        if self.room.ceiling:
            built.append(Mesh("ceiling", self.surface(surfaces.ceiling), *self._slab("ceiling")))
        floor = shapes.box((-self.t, -self.t, -self.t), (self.w + self.t, self.d + self.t, 0))
        built.append(Mesh("floor", self.surface(surfaces.floor), *floor))
        built = [laying.laid_room(mesh, self.registry.surfaces[mesh.surface], self.room.size) for mesh in built]
        for opening in self.room.openings:
            bars = self._bars(opening)
            if bars:
                record = getattr(surfaces, opening.wall, None) or surfaces.walls
                built.append(Mesh(opening.name, self.registry.of(record, plain=True), *shapes.join(*bars)))
            built += self._dressing(opening)
        return built

    def _dressing(self, opening) -> list[Mesh]:
        """Return what hangs in an opening."""
        if opening.curtain is None and opening.blind is None:
            return []
        _, along, up, inward, width, height = self.wall_frame(opening.wall)
        reach = (opening.along, width - opening.along - opening.size[0], opening.sill,
                 height - opening.sill - opening.size[1])
        frame = dressing.Frame(self._hole(opening, 0.0)[0], along, up, inward, opening.size,
                               tuple(max(each - 0.005, 0.0) for each in reach))
        built = []
        if opening.blind is not None:
            built.append(dressing.blind_mesh(
                opening.name, opening.blind, frame, self.registry.of(opening.blind.surface),
                self.t / 2 - opening.bar / 2))
        if opening.curtain is not None:
            net = self.registry.add(dressing.net_surface(opening.name, opening.curtain))
            built += dressing.curtain_meshes(opening.name, opening.curtain, frame, net,
                                             self.registry.library("white paint"))
        return built

    def _slab(self, wall: str) -> shapes.Triangles:
        """Return one wall: inside and outside faces with their holes, and the reveals."""
        origin, along, up, inward, width, height = self.wall_frame(wall)
        holes, t = self._holes(wall), self.t
        out = -inward * t
        parts = []

        def face(u0, u1, v0, v1, shift, normal):
            centre = origin + along * (u0 + u1) / 2 + up * (v0 + v1) / 2 + shift
            parts.append(_facing(centre, along * (u1 - u0) / 2, up * (v1 - v0) / 2, normal))

        for cell in shapes.wall_cells(width, height, holes):
            face(*cell, 0, inward)
            face(*cell, out, -inward)
        # The outside overlaps the neighbours' thickness, so that no light gets in at corners.
        for strip in ((-t, 0, -t, height + t), (width, width + t, -t, height + t),
                      (0, width, -t, 0), (0, width, height, height + t)):
            face(*strip, out, -inward)
        for u0, u1, v0, v1 in holes:
            for at_u, normal in ((u0, along), (u1, -along)):
                centre = origin + along * at_u + up * (v0 + v1) / 2 + out / 2
                parts.append(_facing(centre, out / 2, up * (v1 - v0) / 2, normal))
            for at_v, normal in ((v0, up), (v1, -up)):
                if at_v == 0 and wall != "ceiling":
                    continue  # the floor itself goes through under a door
                centre = origin + along * (u0 + u1) / 2 + up * at_v + out / 2
                parts.append(_facing(centre, out / 2, along * (u1 - u0) / 2, normal))
        return shapes.join(*parts)

    def _hole(self, opening, shift):
        """Return (centre, half along, half up) of an opening, moved out by `shift`. [m]"""
        origin, along, up, inward, _, _ = self.wall_frame(opening.wall)
        width, height = opening.size
        centre = origin + along * (opening.along + width / 2) + up * (opening.sill + height / 2)
        return centre - inward * shift, along * width / 2, up * height / 2

    def _bars(self, opening) -> list[shapes.Triangles]:
        """Return the glazing bars of an opening, in the middle of the wall."""
        across, upwards = opening.panes
        _, along, up, *_ = self.wall_frame(opening.wall)
        axes = np.stack([along, up, np.cross(along, up)], axis=1)
        bar = opening.bar / 2
        w, h = opening.size
        bars = []
        for k in range(1, across):
            x = -w / 2 + w * k / across
            bars.append(shapes.box((x - bar, -h / 2, -bar), (x + bar, h / 2, bar)))
        for k in range(1, upwards):
            y = -h / 2 + h * k / upwards
            bars.append(shapes.box((-w / 2, y - bar, -bar * 0.98), (w / 2, y + bar, bar * 0.98)))
        return [shapes.place(each, axes, self._hole(opening, self.t / 2)[0]) for each in bars]

    def panes(self) -> list[Pane]:
        """Return the glass of the openings that have any, just outside their bars.

        A gel on the glass counts as a part of it; one across an open hole is a sheet of its own.
        """
        built = []
        for opening in self.room.openings:
            film = filtered(opening.gel)
            sheets = 2 if opening.glass == "double" else 1
            if opening.glass != "none":
                stain = np.clip(opening.tint * hue_of(opening.colour), 1e-4, 1.0)
                ior, tint = GLASS_IOR, stain * film ** (1 / sheets)
            elif opening.gel:
                ior, tint = FILM_IOR, np.minimum(film / FILM_CLEAREST, 1.0)
            else:
                continue
            hole = self._hole(opening, self.t / 2 + opening.bar / 2)
            built.append(Pane(opening.name, *hole, ior, sheets, tint))
        return built

    def guides(self) -> list[Guide]:
        """Return every opening as a guide, at the wall's inside face.

        What hangs in one is a guide of its own: the sky behind is not found by light sampling,
        and what the net or the slats send on is bright all over.
        """
        built = [Guide(o.name, *self._hole(o, 0.0), opening=True) for o in self.room.openings]
        for o in self.room.openings:
            for dressed, inside in ((o.blind, -dressing.CLEAR_OF_WALL),
                                    (o.curtain, 2 * dressing.CLEAR_OF_WALL)):
                if dressed is not None:
                    built.append(Guide(o.name, *self._hole(o, -inside)))
        return built

    def back_wall(self, position, forward):
        """Return (point on the walls, inward normal) that a line of sight ends on, or None.

        Parameters
        ----------
        position, forward : float array, shape (3,)
            The line; only one that starts inside the room ends on its walls.
        """
        inside = np.all(np.asarray(position) > 0) and np.all(
            np.asarray(position) < np.array(self.room.size))
        if not inside:
            return None
        best = None
        for wall in WALLS:
            origin, _, _, inward, _, _ = self.wall_frame(wall)
            speed = forward @ inward
            if speed >= -1e-9:
                continue
            distance = (position - origin) @ inward / -speed
            if best is None or distance < best[0]:
                best = (distance, inward)
        if best is None:
            return None
        point = position + forward * best[0]
        point[2] = np.clip(point[2], 0.05, self.h - 0.05)
        return point, best[1]


def _facing(centre, half_u, half_v, normal) -> shapes.Triangles:
    if np.cross(half_u, half_v) @ normal < 0:
        half_u = -half_u
    return shapes.rectangle(centre, half_u, half_v)


def ground_mesh(surface: str) -> Mesh:
    """Return the ground outside, just under the floor's level so that the two never fight."""
    square = shapes.rectangle((0, 0, -0.02), (GROUND, 0, 0), (0, GROUND, 0))
    return Mesh("ground", surface, *square, role="outside")
