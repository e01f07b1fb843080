"""One leg of all paths: what they meet, the light that they hit there, and where they go on."""

from __future__ import annotations

from functools import reduce

from previz.engine import lighting
from previz.engine.device import either, put, read_four, times
from previz.engine.glass import Boundary, clear_things, crossing_of
from previz.engine.haze import Haze
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

LEAST_SENT, LEAST_CHANCE = 0.05, 0.02
"""What a path's first point sends on counts as so much at least, for Russian roulette; and the least chance
to go on. [1]"""


class Step:
    """One leg of every path: meet a surface, add its light, choose where to go on."""

    def __init__(self, transport, lane, path, tally):
        self.buffers, self.start, self.limits = (transport.buffers, transport.start,
                                                 transport.limits)
        self.max_depth = transport.max_depth
        self.lane, self.path, self.tally = lane, path, tally
        self.rng = lane.generator(path.random)

    def number(self):
        """Return the next random number of each path."""
        return self.rng.next_float32()

    def _point(self):
        return mi.Point2f(self.number(), self.number())

    def _numbers_for_direction(self):
        """Return two numbers and a point that the next direction is drawn by; where it is a path's
        first, evenly over the samples.
        """
        path = self.path
        numbers = Spread(self.lane.key, self.buffers.lamp_count + 1, path.sample, FOR_DIRECTION)
        even = [numbers.next_float32() for _ in FOR_DIRECTION]
        choice, lobe, x, y = (dr.select(path.depth == 0, each, self.number()) for each in even)
        return choice, lobe, mi.Point2f(x, y)

    def record(self):
        """Return a path's depth of haze, its scatterings and its veil, as they are now."""
        path = self.path
        return mi.Float(path.haze_depth), mi.UInt(path.scatterings), mi.Bool(path.veil)

    def add(self, lamp, values, weight, bounced, active, further=0.0, record=None):
        """Add a path's light to the slice of its lamp; `further` is a last leg's depth of haze.

        What the haze has to do with it is as it is now without an earlier `record`.
        """
        depth, scatterings, veil = record or self.record()
        self.tally.add(self.lane.thread, lamp, values, weight, bounced, active, depth + further, scatterings,
                       veil)

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
        point, side, normal, level = hit.point, hit.side, hit.normal, hit.level
        arrived = travel & ~mirrored
        surface = hit.surface
        if air is not None:
            air.settle(mirrored, crossing.away if clear_things(buffers) else None)
            arrived &= ~air.scatters
            point = dr.select(air.scatters, air.point, point)
            side, normal, level = (dr.select(air.scatters, -path.direction, each)
                                   for each in (side, normal, level))
            surface = dr.select(air.scatters, buffers.black, surface)
        if air is None:
            self._add_hit_light(hit, arrived, path.throughput)
        else:
            self._add_hit_light(hit, travel, *air.unscattered(hit.distance, travel))
        valid = hit.valid & arrived
        if air is not None:
            valid |= air.scatters
        if at_start is not None:
            place, facing = self.start.receptor(self.lane.whole)
            point = dr.select(at_start, place, point)
            side, normal, level = (dr.select(at_start, facing, each) for each in (side, normal, level))
            surface = dr.select(at_start, buffers.black, surface)
            valid |= at_start
        view = dr.select(valid, -path.direction, normal)
        if at_start is not None:
            view = dr.select(at_start, normal, view)
        entry = None
        if buffers.has_subsurface and at_start is None:
            reach = read_four(buffers.body, hit.surface, arrived)[3]
            entry = Entry(buffers, hit, reach, arrived & (path.pdf < 0), self._point())
        vertex = Vertex(buffers, surface, normal, side, view, hit.uv, valid, hit.rounded & arrived, level,
                        hit.tangents, hit.tile)
        vertex.entry = entry
        if buffers.has_bodies:
            vertex.boundary = Boundary(buffers, hit, path.direction, self.number(),
                                       hit.valid & arrived)
            path.throughput = vertex.boundary.absorb(path.throughput)
        guides = lighting.Guides(buffers, point) if buffers.guides else None
        self.special = Special(self, at_start, air, vertex)
        trail = None if buffers.images is None else Trail(path, buffers.images, hit, vertex)
        sample = LightSample(self, vertex, guides, point, valid if air is None else valid | air.by_air)
        sample.weigh()
        self._go_on(vertex, guides, point, valid, trail)
        if clear_things(buffers):
            self._mirror(crossing, mirrored, passed, trail)
        path.random = self.rng.state
        # Last, when nothing of the surface has to be kept meanwhile: on a GPU that took a third of the time.
        sample.add()

    def _add_hit_light(self, hit, active, throughput, record=None):
        """Add the light of an emitter, the sun or the sky that this ray hit."""
        buffers = self.buffers
        lit, away = mi.Bool(False), mi.Bool(False)
        if buffers.emitters:
            lit = active & hit.valid & (hit.emitter != NONE) & (hit.cos_emit > 1e-6)
        if buffers.sun_lamp >= 0 or buffers.sky_lamp >= 0:
            away = active & ~hit.valid

        def add(lit, away):
            self._add_sky_or_emitter(hit, lit, away, throughput, record)
            if buffers.sun_lamp >= 0:
                value, light_pdf = lighting.sun_radiance(buffers, self.path.direction, away)
                self._add_met(mi.UInt(buffers.sun_lamp), throughput, value, light_pdf, away, record)
            return lit

        # A branch, as few rays meet light.
        dr.if_stmt((lit, away), lit | away, add, lambda lit, away: lit)

    def _add_sky_or_emitter(self, hit, lit, away, throughput, record):
        """Add the light of an emitter where `lit`, and of the sky where `away`: of one lamp a lane."""
        path, buffers = self.path, self.buffers
        lamp, shown, value, light_pdf = mi.UInt(0), throughput, mi.Float(0), mi.Float(0)
        if buffers.emitters:
            emitter = lighting.Emitter(buffers, hit.emitter, lit)
            lamp = emitter.lamp
            value = emitter.radiance(hit.point, -path.direction, hit.cos_emit, lit)
            far = hit.distance if path.unfolded is None else path.unfolded + hit.distance
            light_pdf = emitter.pdf(hit.area, dr.square(far), hit.cos_emit)
            if path.reach is not None:
                size = lighting.read_emitter(buffers, "beam", hit.emitter, lit).x
                light_pdf *= Haze.denser(path.reach, far, size)
            shown = lighting.pictured(buffers, shown, hit.emitter, hit.point, lit)
        if buffers.sky_lamp >= 0:
            sky = lighting.sky_radiance(buffers, path.direction, away)
            lamp, value, light_pdf = (dr.select(away, a, b) for a, b in (
                (mi.UInt(buffers.sky_lamp), lamp), (sky, value), (path.sky_pdf, light_pdf)))
        if buffers.emitters or buffers.sky_lamp >= 0:
            self._add_met(lamp, shown, value, light_pdf, lit | away, record)

    def _add_met(self, lamp, values, value, light_pdf, active, record):
        """Add a lamp's light that this ray met, weighed by MIS."""
        weight = value * self._mis_weight(light_pdf, lamp)
        self.add(lamp, values, weight, self.path.depth > 1, active, record=record)

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
        openings, brightness = mi.Float(0), mi.Float(1)
        if guides is not None:
            aimed, openings, brightness = guides.pdfs(direction)
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
        keep = self._chance(vertex, largest, brightness, active, mirror)
        alive &= self.number() < keep
        path.throughput = [b / keep for b in throughput]
        put(path, active, origin=special.leave(point, vertex, direction), direction=direction)
        path.pdf = dr.select(mirror, -1, pdf)
        if special.counted is not None:
            path.reach = dr.select(special.air.scatters, special.air.haze.reach_of_light(point), 0)
            if trail is None:
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

    def _chance(self, vertex, largest, brightness, active, mirror):
        """Return the chance to go on of paths that carry so much: by Russian roulette, what light they are
        expected to bring, relative to what their first point sends on.
        """
        path, limits = self.path, self.limits
        sent = self.special.sent_on(dr.clip(vertex.albedo, LEAST_SENT, 1))
        path.sent = dr.select(active & (path.depth == 0), sent, path.sent)
        # Near a bright guide is a lamp, which what goes on from there may run into.
        expected = largest * dr.select(mirror, 1, brightness) * path.brightness / path.sent
        path.brightness = dr.select(active & ~mirror, brightness, path.brightness)
        if limits.roulette_depth >= limits.max_depth:
            return mi.Float(1)
        # What a mirror shows may be a lamp itself, which nothing foretells.
        early = dr.select(mirror, 1, dr.clip(expected, LEAST_CHANCE, 1))
        late = dr.clip(expected, LEAST_CHANCE, 0.97)
        return dr.select(path.depth + 1 >= limits.roulette_depth, late, early)

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
