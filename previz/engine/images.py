"""Lamps, sun and sky looked for in flat mirrors and panes: next-event estimation to mirror images.

What a lamp sends to a point by way of a flat mirror arrives as if from its mirror image. In place
of the lamp the point is mirrored: a place of the lamp is drawn as from there, the way is folded
back, and each leg of it is tested. Chains of two mirrors are folded twice. A path that meets the
same mirrors by chance remembers which they were, how far it came and how likely its direction was
before the first, so that both ways of finding the light are joined by the balance heuristic as
everywhere else.

What is looked at in which mirror is chosen by what comes from there, cell by cell of the grid of
`choice`: a measurement follows light from the lamps over points of every mirror into the set.
"""

from __future__ import annotations

from collections import namedtuple
from typing import NamedTuple

import numpy as np

from previz.engine import lighting
from previz.engine.choice import alias_tables
from previz.engine.device import Rectangle, on_device, read_four, read_row
from previz.engine.glass import SheetHit, straight_through
from previz.engine.haze import Haze
from previz.engine.jit import dr, mi
from previz.engine.mirrored_light import OFF, MirroredLight, around
from previz.engine.mirrors import FACES, PANES, SHEETS, flat_mirrors
from previz.engine.panes import sheet
from previz.engine.seen import SeenRectangle
from previz.engine.tables import NONE

MOST_CANDIDATES = 96
"""Pairs of a lamp and a chain of mirrors that are looked for."""

LEAST, FLOOR, MOST = 0.004, 0.02, 0.5
"""Least and most of the looks that go by way of mirrors: at least `FLOOR` where they give as large a
part of all light, down to `LEAST` where next to none."""

LEAST_OF_SKY = 0.01
"""Part of the sky's light under which what mirrors throw of it is not looked for: as the sky is half
of all directions, paths that they send out find it. [1]"""

AT_METERS = 0.25
"""Least share of a meter's first looks that go by way of mirrors."""

ABROAD = 0.4
"""Share of these looks that candidates divide by what they give in the whole set: a cell's own
measurement may have missed a small pool of light."""

DIRECT, LOST = 0, 0xFFFFFFFF
"""Trails of a path that met no mirror, and one that no image stands for."""


class Images:
    """Which images of lamps a stage has, and how likely each is looked for, on the device.

    Parameters
    ----------
    buffers : upload.Buffers
    choice : LampChoice
        Measured.
    mirrors : mirrors.Mirrors
    outputs : sequence of float
        Of the lamps at full.

    Attributes
    ----------
    count : int
        Candidates; 0 where no mirror sends any lamp's light on.
    """

    def __init__(self, buffers, choice, mirrors, outputs):
        self.buffers, self.choice, self.mirrors = buffers, choice, len(mirrors)
        self.planes = on_device(mi.Float, np.column_stack(
            [mirrors.normal, np.einsum("mi,mi->m", mirrors.normal, mirrors.point)]))
        self.bounds = on_device(mi.Float, [
            buffers.rectangle(c, u, v, (0.0, 0.0, 0.0)) for c, u, v in
            zip(mirrors.centre, mirrors.half_u, mirrors.half_v, strict=True)])
        self.of_face = on_device(mi.UInt, mirrors.of_face)
        self.of_pane = [int(m) for m in mirrors.of_pane]
        self.of_sheet = on_device(mi.UInt, mirrors.of_sheet) if len(mirrors.of_sheet) else None
        self.has_faces, self.has_panes, self.has_sheets = (
            bool(np.any(mirrors.kind == kind)) for kind in (FACES, PANES, SHEETS))
        # Bands that mirrors or what lies between them tell apart; without, one factor does for all.
        coloured = (self.has_faces and buffers.has_coloured_gloss or buffers.has_tint
                    or buffers.has_sheets and buffers.has_sheet_tint)
        self.factors = buffers.bands if coloured else 1
        self._choose(*MirroredLight(buffers, choice, mirrors).run(), np.asarray(outputs, float))

    def _choose(self, found, fallen, outputs):
        """Lay out candidates and their chances in each cell; light as `MirroredLight` has it."""
        keys = sorted(found, key=lambda key: -float(found[key].sum()) * outputs[key[0]])
        keys = [key for key in keys if found[key].sum() * outputs[key[0]] > 0
                and not self._left_to_chance(key[0], fallen[key])][:MOST_CANDIDATES]
        self.count = len(keys)
        if not keys:
            return
        size = self.mirrors + 1
        trails = [first + 1 + size * (second + 1) for _, first, second in keys]
        self.candidates = on_device(mi.UInt, [
            (lamp, first, NONE if second < 0 else second, 0) for lamp, first, second in keys])
        self.has_pairs = any(second >= 0 for _, _, second in keys)
        self.lamps = {lamp for lamp, _, _ in keys}
        number = np.full((size * size, self.buffers.lamps), NONE, np.int64)
        for index, ((lamp, _, _), trail) in enumerate(zip(keys, trails, strict=True)):
            number[trail, lamp] = index
        self.number = on_device(mi.UInt, number)
        everywhere, light = (np.stack([around(part[key]) * outputs[key[0]] for key in keys], axis=1)
                             for part in (found, fallen))
        # Through the air goes much that falls on nothing there, which counts only where haze is lit.
        on_surfaces = self.choice.known & (not self.buffers.has_haze)
        light = np.where(on_surfaces[:, None], light, everywhere)
        total = light.sum(axis=1)
        self.looks = on_device(mi.Float, self._share(total, self.choice.given @ outputs))
        # The root lets the weak be looked for more than they give: one look at them weighs much.
        whole = np.sqrt(everywhere.sum(axis=0))
        whole /= whole.sum()
        parts = np.where(total[:, None] > 0, light / np.maximum(total, 1e-30)[:, None], whole)
        parts = ABROAD * whole + (1 - ABROAD) * parts
        self.shares = on_device(mi.Float, parts)
        self.drawn = on_device(mi.Float, np.stack(alias_tables(parts), axis=2))

    def _left_to_chance(self, lamp, fallen):
        """Return whether a lamp is wide, and gives next to nothing by way of these mirrors."""
        if lamp != self.buffers.sky_lamp or self.buffers.has_haze:
            return False
        known = self.choice.known
        return fallen[known].sum() < LEAST_OF_SKY * self.choice.given[known, lamp].sum()

    def _share(self, mirrored, direct):
        """Return the share of the looks from each cell that go by way of mirrors."""
        known = self.choice.known
        usual = direct[known].mean() if known.any() else 0.0
        floor = FLOOR
        if usual > 0:
            floor = float(np.clip(mirrored[known].mean() / usual, LEAST, FLOOR))
        direct = np.where(known, direct + 0.01 * usual, usual)
        part = np.where(mirrored > 0, mirrored / np.maximum(mirrored + direct, 1e-30), 0)
        return np.clip(floor + part, floor, MOST)

    def chance(self, looked, lamp, trail):
        """Return the chance that a look goes to a lamp by a path's trail.

        Parameters
        ----------
        looked : Looked
        lamp : UInt or int
            A number where it is the same for all lanes.
        trail : UInt
        """
        cell, place, share = looked
        direct = dr.select(trail == DIRECT, (1 - share) * self.choice.chance(cell, mi.UInt(lamp)), 0)
        if isinstance(lamp, int) and lamp not in self.lamps:
            return direct

        def mirrored(known, place, share, lamp, trail):
            number = dr.gather(mi.UInt, self.number, trail * self.buffers.lamps + lamp, known)
            known &= number != NONE
            own = dr.gather(mi.Float, self.shares, place * self.count + number, known)
            return dr.select(known, share * own, 0)

        known = (trail != DIRECT) & (trail != LOST)
        images = dr.if_stmt((known, mi.UInt(place), mi.Float(share), mi.UInt(lamp), mi.UInt(trail)),
                            known, mirrored, lambda *_: mi.Float(0))
        return direct + images

    def draw(self, cell, number, active):
        """Return (lamp, first mirror, second mirror or `NONE`, chance) that a number stands for."""
        scaled = number * self.count
        which = dr.minimum(mi.UInt(scaled), self.count - 1)
        likely, other = dr.gather(mi.Vector2f, self.drawn, cell * self.count + which, active)
        which = dr.select(scaled - mi.Float(which) < likely, which, mi.UInt(other))
        lamp, first, second, _ = read_four(self.candidates, which, active, mi.Vector4u)
        return lamp, first, second, dr.gather(mi.Float, self.shares, cell * self.count + which, active)

    def extend(self, trail, mirror):
        """Return the trail after one more mirror (`NONE`: a mirror that is none of these)."""
        size = self.mirrors + 1
        one = mirror + 1
        if not self.has_pairs:
            return dr.select((mirror == NONE) | (trail != DIRECT), LOST, one)
        longer = dr.select(trail == DIRECT, one, trail + size * one)
        return dr.select((mirror == NONE) | (trail >= size), LOST, longer)

    def sky_density(self, mirror, point, direction, active):
        """Return the chance per solid angle that a look for the sky in a mirror takes a direction."""
        shape = Rectangle(self.bounds, dr.select(active, mirror, 0))
        return SeenRectangle(shape, point).density(direction)


Looked = namedtuple("Looked", "cell place share")
Looked.__doc__ = """Where a look is from: the cell of its `LampChoice` (`EVEN` at a path's start), the cell
itself, and the share of the looks from there that go by way of mirrors."""


class Plane(NamedTuple):
    """A mirror's plane, for each lane; nothing is mirrored by a normal of 0."""

    normal: mi.Vector3f
    offset: mi.Float

    def point(self, point):
        """Return a point's mirror image."""
        return mi.Point3f(point - self.normal * (2 * (dr.dot(self.normal, point) - self.offset)))

    def way(self, way):
        """Return a direction's mirror image."""
        return way - self.normal * (2 * dr.dot(self.normal, way))


class Look:
    """One look from a point: straight at a lamp, or by way of mirrors where `mirrored`.

    Parameters
    ----------
    images : Images
    point : Point3f
    looked : Looked
    number : Float
        Chooses whether, and what.
    active : Bool

    Attributes
    ----------
    mirrored : Bool
    number : Float
        What is left of the number where not mirrored, as even as it was.
    chance : Float
        That a look from here goes by way of mirrors, to this lamp and by these; 0 where it does not.
    """

    def __init__(self, images, point, looked, number, active):
        self.images = images
        share = looked.share
        self.mirrored = active & (number < share)
        self.number = dr.clip((number - share) / dr.maximum(1 - share, 1e-6), 0, 1 - 2**-24)
        self._draw(looked.place, number / dr.maximum(share, 1e-6))
        self.chance *= share
        self.point = point
        self.seen_from = self.unfold(point)

    def _draw(self, place, number):
        """Choose lamp and mirrors. Few looks go by way of mirrors, and the others skip this."""
        images = self.images

        def drawn(active, place, number):
            lamp, first, second, chance = images.draw(place, number, active)
            twice = active & (second != NONE)
            first, second = dr.select(active, first, 0), dr.select(twice, second, 0)
            one = read_four(images.planes, first, active)
            two = read_four(images.planes, second, twice) if images.has_pairs else mi.Vector4f(0)
            return (mi.UInt(lamp), mi.UInt(first), mi.UInt(second), mi.Float(chance), twice,
                    mi.Vector4f(one), mi.Vector4f(two))

        def none(active, place, number):
            return (mi.UInt(0), mi.UInt(0), mi.UInt(0), mi.Float(0), mi.Bool(False),
                    mi.Vector4f(0), mi.Vector4f(0))

        self.lamp, self.first, self.second, self.chance, self.twice, one, two = dr.if_stmt(
            (self.mirrored, mi.UInt(place), mi.Float(number)), self.mirrored, drawn, none)
        self.planes = [Plane(mi.Vector3f(each[0], each[1], each[2]), each[3])
                       for each in ((one, two) if images.has_pairs else (one,))]

    def unfold(self, point):
        """Return where the lamp sees a point: the point's image where mirrored."""
        for plane in self.planes:
            point = plane.point(point)
        return point

    def arriving(self, way):
        """Return the direction at the point of a way that ends at the lamp."""
        for plane in reversed(self.planes):
            way = plane.way(way)
        return way

    def aim_at_sky(self, lamp, point, drawn):
        """Return a look's (direction, value, density) with looks for the sky aimed at the mirror.

        Few looks are, and the rectangle's solid angle is long to work out.
        """
        images, buffers = self.images, self.images.buffers
        here = self.mirrored & (lamp == buffers.sky_lamp)

        def aimed(here, direction, value, density, seen, point, first):
            shape = SeenRectangle(Rectangle(images.bounds, dr.select(here, first, 0)), seen)
            aim = dr.normalize(shape.aim(point))
            # The way that ends at the sky: what arrives along `aim`, folded by both mirrors.
            last = mi.Vector3f(aim)
            for plane in self.planes:
                last = plane.way(last)
            chance = shape.density(aim)
            value = dr.select(chance > 0, lighting.sky_radiance(buffers, last, here), 0)
            return mi.Vector3f(last), mi.Float(value), mi.Float(dr.maximum(chance, 1e-9))

        direction, value, density = drawn
        return dr.if_stmt(
            (here, mi.Vector3f(direction), mi.Float(value), mi.Float(density),
             mi.Point3f(self.point), mi.Point2f(point), mi.UInt(self.first)), here, aimed,
            lambda here, direction, value, density, *_: (direction, value, density))

    def travel(self, origin, way, length, useful):
        """Follow a look's legs from the point to the last mirror.

        Parameters
        ----------
        origin : Point3f
            Off the point's surface.
        way, length : Vector3f, Float
            From the image of `origin` to the lamp.
        useful : Bool

        Returns
        -------
        useful, start, factors, kept, depth : Bool, Point3f, list, Float, Float
            Whether all mirrors are there and the way to them is free; where the last leg starts;
            what mirrors and the ways to them leave of each band, or of all in one number; the
            mirrors' reflectance, as `extend`ed paths count it; optical depth of the haze on the
            way. Where no mirror is looked in, `origin`, 1 and 0.
        """
        images, mirrored = self.images, useful & self.mirrored

        def follow(active, origin, way, length):
            middle = self.planes[1].way(way) if images.has_pairs else way
            first = self.planes[0].way(middle)
            factors = [mi.Float(1)] * images.factors
            ok, start, factors, kept, depth, gone = self._leg(
                self.first, self.planes[0], origin, first, length, factors, active)
            if images.has_pairs:
                again = ok & self.twice
                ok2, start2, factors2, kept2, depth2, _ = self._leg(
                    self.second, self.planes[1], start, middle, length - gone, factors, again)
                ok &= ~self.twice | ok2
                start = dr.select(again, start2, start)
                factors = [dr.select(again, f2, f) for f2, f in zip(factors2, factors, strict=True)]
                kept = dr.select(again, kept * kept2, kept)
                depth = dr.select(again, depth + depth2, depth)
            return ok, start, [mi.Float(f) for f in factors], kept, depth

        def straight(active, origin, way, length):
            return (mi.Bool(False), mi.Point3f(origin), [mi.Float(1) for _ in range(images.factors)],
                    mi.Float(1), mi.Float(0))

        ok, start, factors, kept, depth = dr.if_stmt(
            (mirrored, mi.Point3f(origin), mi.Vector3f(way), mi.Float(length)), mirrored, follow,
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
                factors = [dr.select(on, f * gloss * (t * (1 - fifth) + fifth), f)
                           for f, t in zip(factors, tints, strict=True)]
            else:
                factors = [dr.select(on, f * kept, f) for f in factors]
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
                factors = [dr.select(on, f * share, f) for f in factors]
                there |= on
        if images.has_sheets:
            # Looked for from just before it, as other thin glass may lie on the way.
            near = mi.Ray3f(at - direction * (2 * size), direction)
            near.maxt = 4 * size
            glass = SheetHit(buffers, near, clear)
            on = glass.counts & (dr.gather(mi.UInt, images.of_sheet, glass.face, glass.counts)
                                 == mirror)
            back = glass.shares(buffers)[0]
            kept = dr.select(on, sum(back) / len(back), kept)
            each = back if len(back) > 1 else back * len(factors)
            factors = [dr.select(on, f * b, f) for f, b in zip(factors, each, strict=True)]
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


def mirror_fifth(cosine):
    """Return Schlick's fifth power at a mirror, as `Vertex` has it there."""
    return (1 - dr.maximum(cosine, 1e-4)) ** 5


def images_of(buffers, stage, choice):
    """Return the stage's `Images`, or None where no mirror sends any lamp's light on."""
    mirrors = flat_mirrors(stage, buffers.geometry, buffers.sheets)
    if not len(mirrors) or not buffers.lamps:
        return None
    images = Images(buffers, choice, mirrors, [lamp.output for lamp in stage.lamps])
    return images if images.count else None
