"""Light samples via flat mirrors and panes: next-event estimation to the images of lamps.

In place of the lamp the point is mirrored: a place of the lamp is drawn as from there, the line to
it is folded back, and each leg of it is tested. Chains of two mirrors are folded twice.
"""

from __future__ import annotations

from typing import NamedTuple

from previz.engine import lighting
from previz.engine.device import Rectangle, either, read_four, read_row, times
from previz.engine.glass import SheetHit, straight_through
from previz.engine.haze import Haze
from previz.engine.jit import dr, mi
from previz.engine.mirrored_light import OFF
from previz.engine.panes import sheet
from previz.engine.seen import SeenRectangle
from previz.engine.tables import NONE


class Plane(NamedTuple):
    """A mirror's plane, for each lane; nothing is mirrored by a normal of 0."""

    normal: mi.Vector3f
    offset: mi.Float

    def point(self, point):
        """Return a point's mirror image."""
        return mi.Point3f(point - self.normal * (2 * (dr.dot(self.normal, point) - self.offset)))

    def direction(self, direction):
        """Return a direction's mirror image."""
        return direction - self.normal * (2 * dr.dot(self.normal, direction))


class ImageSample:
    """One light sample from a point: straight to a lamp, or via mirrors where `mirrored`.

    The `number` chooses whether, and what.

    Attributes
    ----------
    mirrored : Bool
    number : Float
        What is left of the number where not mirrored, as even as it was.
    probability : Float
        That a sample from here goes via mirrors, to this lamp and by these; 0 where it does not.
    """

    def __init__(self, images, point, site, number, active):
        self.images = images
        share = site.share
        self.mirrored = active & (number < share)
        self.number = dr.clip((number - share) / dr.maximum(1 - share, 1e-6), 0, 1 - 2**-24)
        self._draw(site.place, number / dr.maximum(share, 1e-6))
        self.probability *= share
        self.point = point
        self.seen_from = self.unfold(point)

    def _draw(self, place, number):
        """Choose lamp and mirrors. Few samples go via mirrors, and the others skip this."""
        images = self.images

        def drawn(active, place, number):
            lamp, first, second, probability = images.draw(place, number, active)
            twice = active & (second != NONE)
            first, second = dr.select(active, first, 0), dr.select(twice, second, 0)
            one = read_four(images.planes, first, active)
            two = read_four(images.planes, second, twice) if images.has_pairs else mi.Vector4f(0)
            return (mi.UInt(lamp), mi.UInt(first), mi.UInt(second), mi.Float(probability), twice,
                    mi.Vector4f(one), mi.Vector4f(two))

        def none(active, place, number):
            return (mi.UInt(0), mi.UInt(0), mi.UInt(0), mi.Float(0), mi.Bool(False),
                    mi.Vector4f(0), mi.Vector4f(0))

        self.lamp, self.first, self.second, self.probability, self.twice, one, two = dr.if_stmt(
            (self.mirrored, mi.UInt(place), mi.Float(number)), self.mirrored, drawn, none)
        self.planes = [Plane(mi.Vector3f(each[0], each[1], each[2]), each[3])
                       for each in ((one, two) if images.has_pairs else (one,))]

    def unfold(self, point):
        """Return where the lamp sees a point: the point's image where mirrored."""
        for plane in self.planes:
            point = plane.point(point)
        return point

    def arriving(self, direction):
        """Return the direction at the point of a folded line that ends at the lamp."""
        for plane in reversed(self.planes):
            direction = plane.direction(direction)
        return direction

    def aim_at_sky(self, lamp, point, drawn):
        """Return a sample's (direction, value, pdf) with those of the sky aimed at the mirror.

        Few samples are, and the rectangle's solid angle is long to work out.
        """
        images, buffers = self.images, self.images.buffers
        here = self.mirrored & (lamp == buffers.sky_lamp)

        def aimed(here, direction, value, pdf, seen, point, first):
            shape = SeenRectangle(Rectangle(images.bounds, dr.select(here, first, 0)), seen)
            aim = dr.normalize(shape.aim(point))
            # The direction that ends at the sky: what arrives along `aim`, folded by both mirrors.
            last = mi.Vector3f(aim)
            for plane in self.planes:
                last = plane.direction(last)
            pdf = shape.pdf(aim)
            value = dr.select(pdf > 0, lighting.sky_radiance(buffers, last, here), 0)
            return mi.Vector3f(last), mi.Float(value), mi.Float(dr.maximum(pdf, 1e-9))

        direction, value, pdf = drawn
        return dr.if_stmt(
            (here, mi.Vector3f(direction), mi.Float(value), mi.Float(pdf),
             mi.Point3f(self.point), mi.Point2f(point), mi.UInt(self.first)), here, aimed,
            lambda here, direction, value, pdf, *_: (direction, value, pdf))

    def travel(self, origin, direction, length, useful):
        """Follow a sample's legs from the point to the last mirror.

        The origin is off the point's surface; direction and length are from its image to the lamp.

        Returns
        -------
        useful, start, factors, kept, depth : Bool, Point3f, list, Float, Float
            Whether all mirrors are there and nothing hides them; where the last leg starts;
            what mirrors and the legs to them leave of each band, or of all in one number; the
            mirrors' reflectance, as `extend`ed paths count it; optical depth of the haze on the
            legs. Where no mirror is sampled, `origin`, 1 and 0.
        """
        images, mirrored = self.images, useful & self.mirrored

        def follow(active, origin, direction, length):
            middle = self.planes[1].direction(direction) if images.has_pairs else direction
            first = self.planes[0].direction(middle)
            factors = [mi.Float(1)] * images.factors
            ok, start, factors, kept, depth, gone = self._leg(
                self.first, self.planes[0], origin, first, length, factors, active)
            if images.has_pairs:
                again = ok & self.twice
                ok2, start2, factors2, kept2, depth2, _ = self._leg(
                    self.second, self.planes[1], start, middle, length - gone, factors, again)
                ok &= ~self.twice | ok2
                start = dr.select(again, start2, start)
                factors = either(again, factors2, factors)
                kept = dr.select(again, kept * kept2, kept)
                depth = dr.select(again, depth + depth2, depth)
            return ok, start, [mi.Float(f) for f in factors], kept, depth

        def straight(active, origin, direction, length):
            return (mi.Bool(False), mi.Point3f(origin), [mi.Float(1) for _ in range(images.factors)],
                    mi.Float(1), mi.Float(0))

        ok, start, factors, kept, depth = dr.if_stmt(
            (mirrored, mi.Point3f(origin), mi.Vector3f(direction), mi.Float(length)), mirrored, follow,
            straight)
        return useful & (~mirrored | ok), start, factors, kept, depth

    def _leg(self, mirror, plane, origin, direction, longest, factors, active):
        """Follow one leg to a mirror.

        Returns (there, next start, factors, reflectance, depth of haze, length).
        """
        images, buffers = self.images, self.images.buffers
        normal, offset = plane
        slant = dr.dot(normal, direction)
        away = (offset - dr.dot(normal, origin)) / dr.select(dr.abs(slant) < 1e-7, 1e-7, slant)
        ok = active & (away > 1e-5) & (away < longest)
        at = mi.Point3f(origin + direction * away)
        size = OFF * (1 + dr.max(dr.abs(at)))
        ray = mi.Ray3f(origin, direction)
        ray.maxt = away * (1 + 1e-4) + 2 * size
        found = buffers.scene.ray_intersect_preliminary(ray, coherent=False, active=ok)
        met = ok & found.is_valid()
        there, kept = mi.Bool(False), mi.Float(0)
        if images.has_faces:
            face = dr.select(met, found.prim_index, 0)
            on = met & (dr.gather(mi.UInt, images.of_face, face, met) == mirror)
            surface = read_four(buffers.corners, face, on, mi.Vector4u)[3]
            gloss, _, f0, _ = read_four(buffers.shine, surface, on)
            fifth = mirror_fifth(dr.abs(slant))
            kept = dr.select(on, gloss * (f0 * (1 - fifth) + fifth), kept)
            if buffers.has_coloured_gloss:
                tints = read_row(buffers.specular, surface, buffers.bands, on)
                factors = either(on, [f * gloss * (t * (1 - fifth) + fifth)
                                      for f, t in zip(factors, tints, strict=True)], factors)
            else:
                factors = either(on, times(factors, [kept]), factors)
            at = dr.select(on, origin + direction * found.t, at)
            there |= on
        clear = ok & (~met | (found.t > away * (1 - 1e-4)))
        if images.has_panes:
            for index, own in enumerate(images.of_pane):
                if own == NONE:
                    continue
                shape = Rectangle(buffers.pane_data, index)
                _, cosine, inside = shape.cross(origin, direction)
                on = clear & (mirror == own) & inside
                share = sheet(shape, cosine)[0]
                kept = dr.select(on, share, kept)
                factors = either(on, times(factors, [share]), factors)
                there |= on
        if images.has_sheets:
            on, kept, factors = self._by_sheet(mirror, at, direction, size, clear, kept, factors)
            there |= on
        ok &= there
        # Short of the mirror itself: thin glass is met to within rounding.
        before = dr.maximum(away * (1 - 1e-5) - (2 * size if images.has_sheets else 0), 0)
        if buffers.panes or buffers.has_sheets:
            factors = straight_through(buffers, factors, origin, direction, before, ok)
        depth = mi.Float(0)
        if buffers.has_haze:
            depth = Haze(buffers).along(origin, direction, before)
        # The next leg starts on the side that this one came from.
        start = at - normal * dr.select(slant > 0, size, -size)
        return ok, mi.Point3f(start), factors, mi.Float(kept), mi.Float(depth), away

    def _by_sheet(self, mirror, at, direction, size, clear, kept, factors):
        """Return (where thin glass is the mirror, reflectance, factors) after it."""
        images, buffers = self.images, self.images.buffers
        # Tested from just before it, as other thin glass may lie between.
        near = mi.Ray3f(at - direction * (2 * size), direction)
        near.maxt = 4 * size
        glass = SheetHit(buffers, near, clear)
        on = glass.counts & (dr.gather(mi.UInt, images.of_sheet, glass.face, glass.counts) == mirror)
        back = glass.shares(buffers)[0]
        kept = dr.select(on, sum(back) / len(back), kept)
        return on, kept, either(on, times(factors, back), factors)


def mirror_fifth(cosine):
    """Return Schlick's fifth power at a mirror, as `Vertex` has it there."""
    return (1 - dr.maximum(cosine, 1e-4)) ** 5
