"""Points of paths that are no surface: scatterings in the haze, and the receptors of meters."""

from __future__ import annotations

from previz.engine.haze import Haze
from previz.engine.hit import offset_point
from previz.engine.jit import dr, mi


class HazeLeg:
    """One leg through the haze: whether the path scatters there, and where.

    Light that scatters once on the leg from the camera is left to `airlight`.
    """

    def __init__(self, step, hit, travel):
        self.path, self.buffers = step.path, step.buffers
        self.haze = Haze(self.buffers)
        path = self.path
        near, far = self.haze.interval(path.origin, path.direction, hit.distance)
        total = self.haze.depth(path.origin, path.direction, near, far)
        self.from_camera = (travel & (path.depth == 0) if not step.start.has_receptor
                            else mi.Bool(False))
        reached = -dr.log(dr.maximum(1 - step.number(), 1e-12))
        self.scatters = travel & (reached < total)
        at = self.haze.reach(path.origin, path.direction, near, reached)
        self.distance = dr.select(self.scatters, dr.clip(at, near, far), hit.distance)
        self.depth = dr.select(travel, dr.minimum(reached, total), 0)
        self.point = path.origin + path.direction * dr.select(self.scatters, self.distance, 0)

    def settle(self, mirrored, away):
        """Drop the scattering of paths that a pane mirrored first, so far away; colour others."""
        self.scatters &= ~mirrored
        path = self.path
        depth = self.depth
        if away is not None:
            depth = dr.select(mirrored, self.haze.along(path.origin, path.direction, away), depth)
        path.haze_depth += depth
        path.scatterings = dr.select(self.scatters, path.scatterings + 1, path.scatterings)
        path.veil |= self.scatters & self.from_camera
        path.throughput = [dr.select(self.scatters, b * a, b)
                           for b, a in zip(path.throughput, self.buffers.haze_albedo, strict=True)]


class Special:
    """Points of a path that are no surface: the receptor of a meter, a scattering in the haze.

    Attributes
    ----------
    dark : Bool
        Surfaces that send nothing on.
    counted : Bool or None
        Scatterings whose light from lamps has been counted on the camera's leg.
    """

    def __init__(self, step, at_start, air, vertex):
        self.start, self.whole = step.start, step.lane.whole
        self.at_start, self.air, self.normal = at_start, air, vertex.normal
        self.dark, self.counted = vertex.black, None
        if at_start is not None:
            self.dark &= ~at_start
        if air is not None:
            self.dark &= ~air.scatters
            self.counted = air.scatters & air.from_camera
            self.incoming = mi.Vector3f(step.path.direction)

    def evaluate(self, values, pdf, direction):
        """Return (values over bands, pdf) with those of special points put in."""
        if self.air is not None:
            phase = self.air.haze.phase(dr.dot(self.incoming, direction))
            values = [dr.select(self.air.scatters, phase, v) for v in values]
            pdf = dr.select(self.air.scatters, phase, pdf)
        if self.at_start is not None:
            received, own = self.start.response(self.whole, self.normal, direction)
            values = [dr.select(self.at_start, received, v) for v in values]
            pdf = dr.select(self.at_start, own, pdf)
        return values, pdf

    def sample(self, direction, point):
        """Return the direction drawn, with those of special points put in."""
        if self.air is not None:
            direction = dr.select(self.air.scatters,
                                  self.air.haze.turn(self.incoming, point), direction)
        if self.at_start is not None:
            direction = dr.select(
                self.at_start, self.start.sample(self.whole, self.normal, point), direction)
        return direction

    def sent_on(self, by_surface):
        """Return how much of all light points send on: special ones all."""
        if self.air is not None:
            by_surface = dr.select(self.air.scatters, 1, by_surface)
        if self.at_start is not None:
            by_surface = dr.select(self.at_start, 1, by_surface)
        return by_surface

    def leave(self, point, vertex, direction):
        """Return where a ray starts: off its surface, or from the very point in the air."""
        moved = offset_point(point, vertex, direction)
        if vertex.boundary is not None:
            moved = vertex.boundary.leave(point, moved)
        return moved if self.air is None else dr.select(self.air.scatters, point, moved)
