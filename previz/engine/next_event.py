"""Next-event estimation: from each point of a path one lamp is sampled, straight or via mirrors.

The sample is joined with what paths run into by MIS: both are weighed by the balance heuristic.
On a leg through haze that is the air's, the lamp is sampled from a place drawn where it lights the
leg (`special.HazeLeg.lit`), the path goes on from another. What it runs into from there is weighed
by what is known of the place alone: the densities of directions, and about how much denser than
scatterings such places lie near the lamp. So the two weights of any place and direction sum to 1,
whichever way it was drawn.
"""

from __future__ import annotations

from functools import reduce

from previz.engine import lighting
from previz.engine.choice import EVEN
from previz.engine.device import by_turns, either, times
from previz.engine.glass import clear_things, straight_through
from previz.engine.haze import Haze
from previz.engine.hit import clear, offset_point
from previz.engine.image_sample import ImageSample
from previz.engine.images import AT_METERS, Site
from previz.engine.jit import dr, mi
from previz.engine.spread import FOR_LAMPS, Spread


class LightSample:
    """One light sample from the point that each path has reached; `add` adds its light."""

    def __init__(self, step, vertex, guides, point, active):
        self.step, self.path, self.buffers = step, step.path, step.buffers
        self.special, self.start = step.special, step.start
        self.vertex, self.guides, self.point, self.active = vertex, guides, point, active
        self.image = self.place = self.in_air = None
        self._draw()

    def _draw(self) -> None:
        """Draw a lamp and a point of it; a path's first point takes the lamps in turn."""
        path, buffers, point, active = self.path, self.buffers, self.point, self.active
        air, number = self.special.air, self.step.number()
        _, lamp = by_turns(self.step.lane.turn + path.sample, buffers.lamp_count)
        visit, _ = by_turns(path.sample, buffers.lamp_count)
        numbers = Spread(self.step.lane.key, lamp + 1, visit, FOR_LAMPS)
        even = [numbers.next_float32() for _ in FOR_LAMPS]
        if buffers.choice.useful or buffers.images is not None:
            cell = buffers.choice.cell(point)
        image = None
        if buffers.images is not None:
            number = dr.select(path.depth == 0, even[3], number)
            image = self.image = self._image(cell, number)
            number = image.number
        if buffers.choice.useful:
            at_first = path.depth == 0
            path.cell = dr.select(at_first, EVEN, cell)
            drawn = buffers.choice.draw(cell, number)
            if air is not None:
                drawn = dr.select(air.by_air, buffers.choice.draw_for_air(cell, number), drawn)
            lamp = dr.select(at_first, lamp, drawn)
        seen_from, spread = point, path.depth == 0
        if image is not None:
            lamp = dr.select(image.mirrored, image.lamp, lamp)
            seen_from, spread = image.seen_from, spread & ~image.mirrored
        u, where = self._numbers(even, spread)
        if air is not None:
            self._light_leg(lamp, u)
            seen_from = dr.select(self.in_air, self.place.point, seen_from)
        direction, distance, value, pdf = lighting.sample_light(
            buffers, self.guides, seen_from, lamp, u, where, active)
        chosen = buffers.choice.probability(path.cell, lamp)
        if air is not None:
            for_air = buffers.choice.probability_for_air(path.cell, lamp)
            chosen = dr.select(air.by_air & (path.depth > 0), for_air, chosen)
            self.chosen, self.distance = chosen, distance
        if image is None:
            arriving = direction
            pdf *= chosen
        else:
            if buffers.sky_lamp in buffers.images.lamps:
                direction, value, pdf = image.aim_at_sky(lamp, where, (direction, value, pdf))
            arriving = image.arriving(direction)
            pdf *= dr.select(image.mirrored, image.probability, (1 - path.share) * chosen)
        self.lamp, self.direction, self.arriving = lamp, direction, arriving
        self.value, self.pdf, self.lit = value, pdf, seen_from + direction * distance

    def _light_leg(self, lamp, u) -> None:
        """Draw the place where the lamp lights a leg that is the air's, and take the guides as from there."""
        air, image = self.special.air, self.image
        self.place = air.lit(lamp, u, self.step.number())
        self.in_air = mi.Bool(air.by_air)
        if image is not None:
            self.in_air &= ~image.mirrored & ~air.from_camera
        if self.guides is not None:
            self.guides = lighting.Guides(self.buffers, dr.select(self.in_air, self.place.point, self.point))

    def _weigh_in_air(self, useful, path_pdf):
        """Return (whether a sample counts, pdf that its light is weighed by) on legs that are the air's."""
        air, image, buffers = self.special.air, self.image, self.buffers
        # Mirrors are sampled from where the path scatters.
        useful &= ~air.by_air | self.in_air if image is None else (
            ~air.by_air | self.in_air | (image.mirrored & air.scatters))
        closer = mi.Float(1)
        if buffers.emitters:
            closer = Haze.denser(air.haze.reach_of_light(self.place.point), self.distance, self.place.size)
            closer = dr.select(lighting.emitters_of(buffers, self.lamp)[1] > 0, closer, 1)
        # What is run into is weighed by the lamp's chance in the cell that it was drawn from.
        cell = buffers.choice.cell(self.place.point)
        there = buffers.choice.probability(cell, self.lamp)
        if image is not None:
            there *= 1 - dr.gather(mi.Float, buffers.images.sampled, cell)
            there /= 1 - self.path.share
        own = path_pdf * self.chosen / (there * closer)
        # On the camera's leg nothing is left to what is run into.
        return useful, dr.select(self.in_air, dr.select(air.from_camera, 0, own), path_pdf)

    def _numbers(self, even, spread):
        """Return (number, point) that a point of a lamp is drawn by; where `spread`, evenly over
        the samples.
        """
        u, x, y = (dr.select(spread, each, self.step.number()) for each in even[:3])
        return u, mi.Point2f(x, y)

    def _image(self, cell, number):
        """Return the `ImageSample` of this point, and keep where it is from."""
        path, images = self.path, self.buffers.images
        share = dr.gather(mi.Float, images.sampled, cell)
        if self.start.has_receptor:
            share = dr.select(path.depth == 0, dr.maximum(share, AT_METERS), share)
        if self.special.air is not None:
            # All direct light of the camera's leg is counted elsewhere.
            share = dr.select(self.special.counted, 1, share)
        path.place, path.share = cell, share
        return ImageSample(images, self.point, Site(path.cell, cell, share), number, self.active)

    def weigh(self) -> None:
        """Work out what the lamp adds if it is seen, from what is known of the surface."""
        path, special, vertex = self.path, self.special, self.vertex
        image, arriving = self.image, self.arriving
        values, path_pdf = vertex.evaluate(arriving)
        values, path_pdf = special.evaluate(values, path_pdf, arriving)
        if self.guides is not None:
            path_pdf = self.step.mix(vertex, self.guides, path_pdf, self.guides.pdfs(arriving)[0])
        self.path_pdf = path_pdf * (1 - vertex.p_mirror)
        sent = self.active & (self.value > 0) & (self.pdf > 0) & ~special.dark
        self.useful = sent & (reduce(dr.maximum, values, mi.Float(0)) > 0)
        point, throughput, self.record = self.point, path.throughput, self.step.record()
        if special.air is not None:
            self.useful, self.path_pdf = self._weigh_in_air(self.useful, self.path_pdf)
            place = self.place
            point = dr.select(self.in_air, place.point, point)
            throughput = either(self.in_air, place.carried, throughput)
            self.record = [dr.select(self.in_air, there, here) for there, here in zip(
                place.record, self.record, strict=True)]
        self.origin = special.leave(point, vertex, arriving)
        self.bounced = path.depth > 0
        self.carried, self.seeped = times(throughput, values), None
        if vertex.entry is not None:
            self.entered, self.carried, self.seeped = self._seep(
                values, self.carried, throughput, sent if image is None else sent & ~image.mirrored)

    def add(self) -> None:
        """Test whether the lamp is seen from the point, and add its light if so.

        The path may have gone on meanwhile.
        """
        buffers, image, lit = self.buffers, self.image, self.lit
        useful, origin, carried, path_pdf = self.useful, self.origin, self.carried, self.path_pdf
        further, bounced = 0.0, self.bounced
        if image is not None:
            bounced |= image.mirrored
            towards = lit - image.unfold(origin)
            length = dr.norm(towards)
            useful, origin, factors, kept, further = image.travel(origin, towards / length, length, useful)
            carried = times(carried, factors)
            path_pdf *= kept
        # Aimed anew from the moved origin: along the old direction a ray runs into a lamp that is near.
        towards = lit - origin
        length = dr.norm(towards)
        towards /= length
        useful = clear(buffers, origin, towards, length, useful)
        if self.seeped is not None:
            entered = self._enters()
            carried = [dr.select(useful, c, 0) + dr.select(entered, s, 0)
                       for c, s in zip(carried, self.seeped, strict=True)]
            useful |= entered
        weight = self.value / (self.pdf + path_pdf)
        carried = lighting.sampled_picture(buffers, carried, self.lamp, lit, useful)
        if buffers.has_sky_colour:
            of_sky = useful & (self.lamp == buffers.sky_lamp)
            carried = lighting.sky_coloured(buffers, carried, self.direction, of_sky)
        if clear_things(buffers):
            carried = straight_through(buffers, carried, origin, towards, length, useful)
        if buffers.has_haze:
            further += Haze(buffers).along(origin, towards, length)
            weight *= dr.exp(-further)
        self.step.add(self.lamp, carried, weight, bounced, useful, further, self.record)

    def _seep(self, values, carried, throughput, sent):
        """Return (where light can have entered the skin nearby, what is carried without it, that light).

        Both points sample the same place `lit` of the lamp, whose direction from both is taken
        to be the same: they are millimetres from each other.
        """
        direction, vertex, image = self.direction, self.vertex, self.image

        def seep(active, carried, none):
            here, there, shares = vertex.seeped(direction)
            if image is not None:
                here = dr.select(image.mirrored, 0, here)
            left = [v - s * here for v, s in zip(values, shares, strict=True)]
            place = vertex.entry.place
            return (sent & (there > 0), mi.Point3f(offset_point(place.point, place, direction)),
                    times(throughput, left),
                    times(throughput, [s * there for s in shares]))

        # A branch, as most paths are not on skin.
        active = self.active & vertex.entry.active
        nothing = [mi.Float(0) for _ in carried]
        entered, self.entry, carried, seeped = dr.if_stmt(
            (active, carried, nothing), active, seep,
            lambda active, carried, none: (mi.Bool(False), mi.Point3f(0), carried, none))
        return entered, carried, seeped

    def _enters(self):
        """Return where the lamp is seen from the skin nearby."""
        def seen(sampled, origin, lit):
            towards = lit - origin
            length = dr.norm(towards)
            return clear(self.buffers, origin, towards / length, length, sampled)

        return dr.if_stmt((self.entered, mi.Point3f(self.entry), mi.Point3f(self.lit)), self.entered, seen,
                          lambda *_: mi.Bool(False))
