"""One leg of all paths: what they meet, the light that they hit there, and where they go on."""

from __future__ import annotations

from functools import reduce

from previz.engine import lighting
from previz.engine.device import either, put, times
from previz.engine.glass import Boundary, clear_things, crossing_of
from previz.engine.hit import Hit
from previz.engine.images import DIRECT, Site
from previz.engine.jit import dr, mi
from previz.engine.next_event import LightSample
from previz.engine.shading import Vertex
from previz.engine.special import HazeLeg, Special
from previz.engine.spread import FOR_DIRECTION, Spread
from previz.engine.subsurface import Entry
from previz.engine.tables import NONE
from previz.engine.trail import Trail

KEPT = 6.0
"""Chance to go on, where Russian roulette may end a path, over the light that is left of it: at that
alone, in a pale room, the few that go on far bring most of the error. [1]"""


class Step:
    """One leg of every path: meet a surface, add its light, choose where to go on."""

    def __init__(self, transport, path, tally):
        self.buffers, self.start, self.limits = (transport.buffers, transport.start,
                                                 transport.limits)
        self.max_depth = transport.max_depth
        self.path, self.tally = path, tally

    def number(self):
        """Return the next random number of each path."""
        return self.path.rng.next_float32()

    def _point(self):
        return mi.Point2f(self.number(), self.number())

    def _numbers_for_direction(self):
        """Return two numbers and a point that the next direction is drawn by; where it is a path's
        first, evenly over the samples.
        """
        path = self.path
        numbers = Spread(path.key, self.buffers.lamp_count + 1, path.sample, FOR_DIRECTION)
        even = [numbers.next_float32() for _ in FOR_DIRECTION]
        choice, lobe, x, y = (dr.select(path.depth == 0, each, self.number()) for each in even)
        return choice, lobe, mi.Point2f(x, y)

    def add(self, lamp, values, weight, bounced, active, further=0.0):
        """Add a path's light to the slice of its lamp; `further` is a last leg's depth of haze."""
        path = self.path
        self.tally.add(path.thread, lamp, values, weight, bounced, active,
                       path.haze_depth + further, path.scatterings, path.veil)

    def advance(self):
        """Take the path one surface, or one scattering in the haze, further."""
        path = self.path
        buffers = self.buffers
        at_start = (path.depth == 0) if self.start.has_receptor else None
        travel = mi.Bool(True) if at_start is None else ~at_start
        ray = mi.Ray3f(path.origin, path.direction)
        hit = Hit(buffers, ray, travel)
        air = HazeLeg(self, hit, travel) if buffers.has_haze else None
        leg = hit.distance if air is None else air.distance
        mirrored = mi.Bool(False)
        if clear_things(buffers):
            crossing = crossing_of(buffers, ray, leg, travel)
            mirrored = crossing.reflects(self.number())
            path.throughput = crossing.attenuate(path.throughput, mirrored)
        passed = path.throughput
        point, side, normal = hit.point, hit.side, hit.normal
        arrived = travel & ~mirrored
        surface = hit.surface
        if air is not None:
            air.settle(mirrored, crossing.away if clear_things(buffers) else None)
            arrived &= ~air.scatters
            point = dr.select(air.scatters, air.point, point)
            side, normal = (dr.select(air.scatters, -path.direction, each) for each in (side, normal))
            surface = dr.select(air.scatters, buffers.black, surface)
        self._add_hit_light(hit, arrived)
        valid = hit.valid & arrived
        if air is not None:
            valid |= air.scatters
        if at_start is not None:
            place, facing = self.start.receptor(path.whole)
            point = dr.select(at_start, place, point)
            side, normal = (dr.select(at_start, facing, each) for each in (side, normal))
            surface = dr.select(at_start, buffers.black, surface)
            valid |= at_start
        view = dr.select(valid, -path.direction, normal)
        if at_start is not None:
            view = dr.select(at_start, normal, view)
        vertex = Vertex(buffers, surface, normal, side, view, hit.uv, valid, hit.rounded & arrived)
        if buffers.has_subsurface and at_start is None:
            vertex.entry = Entry(buffers, hit, arrived & (path.pdf < 0), self._point())
        if buffers.has_bodies:
            vertex.boundary = Boundary(buffers, hit, path.direction, self.number(),
                                       hit.valid & arrived)
            path.throughput = vertex.boundary.absorb(path.throughput)
        guides = lighting.Guides(buffers, point) if buffers.guides else None
        self.special = Special(self, at_start, air, vertex)
        trail = None if buffers.images is None else Trail(path, buffers.images, hit, vertex)
        LightSample(self, vertex, guides, point, valid).add()
        self._go_on(vertex, guides, point, valid, trail)
        if clear_things(buffers):
            self._mirror(crossing, mirrored, passed, trail)

    def _add_hit_light(self, hit, active):
        """Add the light of an emitter, the sun or the sky that this ray hit."""
        path = self.path
        buffers = self.buffers
        bounced = path.depth > 1
        if buffers.emitters:
            lit = active & hit.valid & (hit.emitter != NONE) & (hit.cos_emit > 1e-6)
            value = lighting.emitted(buffers, hit.emitter, hit.point, -path.direction,
                                     hit.cos_emit, lit)
            lamp = lighting.read_emitter(buffers, "owner", hit.emitter, lit, mi.Vector4u).x
            far = hit.distance if path.unfolded is None else path.unfolded + hit.distance
            light_pdf = lighting.emitter_pdf(buffers, hit.emitter, hit.area, dr.square(far),
                                             hit.cos_emit, lit)
            weight = self._mis_weight(light_pdf, lamp)
            shown = lighting.pictured(buffers, path.throughput, hit.emitter, hit.point, lit)
            self.add(lamp, shown, value * weight, bounced, lit)
        away = active & ~hit.valid
        if buffers.sun_lamp >= 0:
            value, light_pdf = lighting.sun_radiance(buffers, path.direction, away)
            weight = self._mis_weight(light_pdf, buffers.sun_lamp)
            self.add(mi.UInt(buffers.sun_lamp), path.throughput, value * weight, bounced, away)
        if buffers.sky_lamp >= 0:
            value = lighting.sky_radiance(buffers, path.direction, away)
            weight = self._mis_weight(path.sky_pdf, buffers.sky_lamp)
            self.add(mi.UInt(buffers.sky_lamp), path.throughput, value * weight, bounced, away)

    def _mis_weight(self, light_pdf, lamp):
        """Return the MIS weight of a lamp that this ray hit, by the balance heuristic.

        `light_pdf` is that of drawing the same direction once light sampling has chosen the lamp.
        """
        path, images = self.path, self.buffers.images
        if images is None:
            light_pdf = light_pdf * self.buffers.choice.probability(path.cell, mi.UInt(lamp))
            return dr.select(path.pdf < 0, 1, path.pdf / (path.pdf + light_pdf))
        light_pdf = light_pdf * images.probability(
            Site(path.cell, path.place, path.share), lamp, path.trail)
        weight = dr.select(path.pdf < 0, 1, path.pdf / (path.pdf + light_pdf))
        return dr.select(path.counted & (path.trail == DIRECT), 0, weight)

    @staticmethod
    def mix(vertex, guides, own, aimed):
        """Return the pdf of a direction drawn from the lobes or aimed at the guides."""
        return dr.select(vertex.only_mirror, own, dr.lerp(own, aimed, guides.share))

    def _go_on(self, vertex, guides, point, active, trail):
        """Choose the next direction from the BSDF or the guides, and end paths by Russian roulette."""
        path = self.path
        buffers, special = self.buffers, self.special
        choice, lobe, where = self._numbers_for_direction()
        direction = special.sample(vertex.sample(lobe, where), where)
        if guides is not None:
            aim = (choice < guides.share) & ~vertex.only_mirror
            direction = dr.select(aim, guides.sample(choice / guides.share, where), direction)
        values, pdf = special.evaluate(*vertex.evaluate(direction), direction)
        openings = mi.Float(0)
        if guides is not None:
            aimed, openings = guides.pdfs(direction)
            pdf = self.mix(vertex, guides, pdf, aimed)
        pdf *= 1 - vertex.p_mirror
        factors = [v / dr.maximum(pdf, 1e-12) for v in values]
        mirror = mi.Bool(False)
        if buffers.has_mirror:
            mirror = active & (self.number() < vertex.p_mirror)
            direction = dr.select(mirror, vertex.mirror_direction(), direction)
            factors = either(mirror, vertex.mirror_weight(), factors)
        alive = active & (mirror | (pdf > 1e-9)) & ~special.dark
        throughput = times(path.throughput, factors)
        largest = reduce(dr.maximum, throughput, mi.Float(0))
        alive &= largest > 0
        keep = dr.clip(KEPT * largest, 0.02, 0.97)
        keep = dr.select(path.depth + 1 >= self.limits.roulette_depth, keep, 1)
        alive &= self.number() < keep
        path.throughput = [b / keep for b in throughput]
        put(path, active, origin=special.leave(point, vertex, direction), direction=direction)
        path.pdf = dr.select(mirror, -1, pdf)
        if special.counted is not None and trail is None:
            # What this direction runs into has been counted: a pdf of 0 gives it no weight.
            path.pdf = dr.select(special.counted, 0, path.pdf)
        if buffers.sky_lamp >= 0:
            dome = dr.select(direction.z > 0, dr.inv_two_pi, 0)
            path.sky_pdf = dome if guides is None else guides.sky_pdf(direction, openings)
        if trail is not None:
            trail.begin(active, special.counted)
            if buffers.images.has_faces:
                trail.follow(mirror, *trail.at_surface)
        path.depth = dr.select(active, path.depth + 1, path.depth)
        path.fresh = ~alive | (path.depth >= self.max_depth)

    def _mirror(self, crossing, mirrored, passed, trail):
        """Send the paths that a pane or sheet mirrored on from there, with what had come that far."""
        path = self.path
        origin, direction = crossing.mirrored()
        put(path, mirrored, origin=origin, direction=direction, pdf=-1)
        path.throughput = either(mirrored, passed, path.throughput)
        if trail is not None:
            trail.follow(mirrored, *trail.at_pane(crossing))
        path.depth = dr.select(mirrored, path.depth + 1, path.depth)
        path.fresh &= ~mirrored | (path.depth >= self.max_depth)
