"""Points of paths that are no surface: scatterings in the haze, and the receptors of meters."""

from __future__ import annotations

from typing import NamedTuple

from previz.engine.airlight import share_of_paths
from previz.engine.glass import clear_things, straight_through
from previz.engine.haze import Haze, sample_leg
from previz.engine.hit import offset_point
from previz.engine.jit import dr, mi
from previz.engine.spread import FOR_HAZE, Spread

FORCED, TIMES = 0.5, 2.5
"""On its first two legs a path scatters with this probability even where the haze would have it
scatter less often, but so many times as often at most: thin haze takes no paths from the surfaces."""

FORCED_LEGS = 2
"""Legs of a path that this holds for; a receptor counts as one."""


class HazeLeg:
    """One leg through the haze: whether the path scatters there, and where.

    What a lamp sends to the leg and the air turns along it is not taken from where the path
    scatters, but from a place drawn where the lamp's light is: see `lit`. On the leg from the
    camera most of that is left to `airlight`.

    Attributes
    ----------
    by_air : Bool
        Legs that were given to the air, and not to what they meet.
    scatters : Bool
        Those of them whose path goes on from the air: no pane mirrored it first.
    """

    def __init__(self, step, hit, travel):
        self.path, self.buffers = step.path, step.buffers
        self.haze = Haze(self.buffers)
        path = self.path
        self.near, self.far = self.haze.interval(path.origin, path.direction, hit.distance)
        # Copies of what is added to in place.
        self.before = (path.throughput, mi.Float(path.haze_depth), path.scatterings, mi.Bool(path.veil))
        self.total = self.haze.depth(path.origin, path.direction, self.near, self.far)
        self.from_camera = (travel & (path.depth == 0) if not step.start.has_receptor
                            else mi.Bool(False))
        self.through = dr.exp(-self.total)
        natural = 1 - self.through
        more = dr.maximum(natural, dr.minimum(FORCED, TIMES * natural))
        self.chance = dr.select(path.depth < FORCED_LEGS, more, natural)
        number = step.number()
        if not step.start.has_receptor:
            even = Spread(step.lane.key, 0, path.sample, FOR_HAZE).next_float32()
            number = dr.select(path.depth == 0, even, number)
        self.by_air = travel & (number < self.chance)
        gain = dr.select(self.by_air, natural / self.chance, self.through / (1 - self.chance))
        reached = -dr.log(dr.maximum(1 - number * dr.select(self.by_air, gain, 1), 1e-12))
        path.throughput = [dr.select(travel, b * gain, b) for b in path.throughput]
        self.scatters = mi.Bool(self.by_air)
        at = self.haze.reach(path.origin, path.direction, self.near, reached)
        self.distance = dr.select(self.scatters, dr.clip(at, self.near, self.far), hit.distance)
        self.depth = dr.select(travel, dr.minimum(reached, self.total), 0)
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

    def unscattered(self, distance, travel):
        """Return (throughput, record of haze) of what the whole leg lets through, up to so far [m].

        Of lamps that are met all is known, whether the path scatters, or a pane mirrors it, or not.
        """
        throughput, depth, scatterings, veil = self.before
        carried = [b * self.through for b in throughput]
        if clear_things(self.buffers):
            carried = straight_through(self.buffers, carried, self.path.origin, self.path.direction,
                                       dr.minimum(distance, 1e4), travel)
        return carried, (depth + self.total, scatterings, veil)

    def lit(self, lamp, u, number):
        """Return the `LitPlace` of a lamp on this leg, drawn by a number; `u` is as in `sample_leg`."""
        path, haze, buffers = self.path, self.haze, self.buffers
        distance, pdf, size = sample_leg(buffers, haze, lamp, u, number, path.origin, path.direction,
                                         self.near, self.far)
        point = path.origin + path.direction * distance
        depth = haze.depth(path.origin, path.direction, self.near, distance)
        scale = haze.sigma(point) * dr.exp(-depth) / (pdf * self.chance)
        scale *= dr.select(self.from_camera, share_of_paths(buffers), 1)
        throughput, before, scatterings, veil = self.before
        carried = [b * a * scale for b, a in zip(throughput, buffers.haze_albedo, strict=True)]
        if clear_things(buffers):
            carried = straight_through(buffers, carried, path.origin, path.direction, distance,
                                       self.by_air)
        return LitPlace(point, size, carried, (before + depth, scatterings + 1, veil | self.from_camera))


class LitPlace(NamedTuple):
    """A place on a leg where a lamp lights the air; what a path carries there, and its record of haze.

    The lamp has about a radius of `size`. [m]
    """

    point: mi.Point3f
    size: mi.Float
    carried: list
    record: tuple


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
            self.dark &= ~air.by_air
            self.counted = air.by_air & air.from_camera
            self.incoming = mi.Vector3f(step.path.direction)

    def evaluate(self, values, pdf, direction):
        """Return (values over bands, pdf) with those of special points put in."""
        if self.air is not None:
            phase = self.air.haze.phase(dr.dot(self.incoming, direction))
            values = [dr.select(self.air.by_air, phase, v) for v in values]
            pdf = dr.select(self.air.by_air, phase, pdf)
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
        return moved if self.air is None else dr.select(self.air.by_air, point, moved)
