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

import drjit as dr
import mitsuba as mi
import numpy as np

from previz.engine import lighting
from previz.engine.choice import CELLS, alias_tables
from previz.engine.device import Rectangle, on_device, read_four, read_row
from previz.engine.glass import SheetHit, straight_through
from previz.engine.haze import Haze
from previz.engine.mirrors import FACES, PANES, POINTS, SHEETS, flat_mirrors
from previz.engine.panes import sheet
from previz.engine.seen import SeenRectangle
from previz.engine.tables import NONE

MOST_CANDIDATES = 96
"""Pairs of a lamp and a chain of mirrors that are looked for."""

FLOOR, MOST = 0.02, 0.5
"""Least and most of the looks that go by way of mirrors, where a stage has any."""

AT_METERS = 0.25
"""Least share of a meter's first looks that go by way of mirrors."""

ABROAD = 0.4
"""Share of these looks that candidates divide by what they give in the whole set: a cell's own
measurement may have missed a small pool of light."""

STEPS = 48
"""Places along a mirrored ray where its light is counted."""

FAR = 60.0
"""Farthest that it is followed. [m]"""

DIRECT, LOST = 0, 0xFFFFFFFF
"""Trails of a path that met no mirror, and one that no image stands for."""

_OFF = 1e-4


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
        found = _Measurement(buffers, choice, mirrors).run()
        self._choose(found, choice, np.asarray(outputs, float))

    def _choose(self, found, choice, outputs):
        """Lay out candidates and their chances in each cell."""
        keys = sorted(found, key=lambda key: -float(found[key].sum()) * outputs[key[0]])
        keys = [key for key in keys if found[key].sum() * outputs[key[0]] > 0][:MOST_CANDIDATES]
        self.count = len(keys)
        if not keys:
            return
        size = self.mirrors + 1
        trails = [first + 1 + size * (second + 1) for _, first, second in keys]
        self.candidates = on_device(mi.UInt, [
            (lamp, first, NONE if second < 0 else second, trail)
            for (lamp, first, second), trail in zip(keys, trails, strict=True)])
        self.has_pairs = any(second >= 0 for _, _, second in keys)
        number = np.full((size * size, self.buffers.lamps), NONE, np.int64)
        for index, ((lamp, _, _), trail) in enumerate(zip(keys, trails, strict=True)):
            number[trail, lamp] = index
        self.number = on_device(mi.UInt, number)
        light = np.stack([_around(found[key]) * outputs[key[0]] for key in keys], axis=1)
        total = light.sum(axis=1)
        direct = choice.given @ outputs
        usual = direct[choice.known].mean() if choice.known.any() else 0.0
        direct = np.where(choice.known, direct + 0.01 * usual, usual)
        share = np.where(total > 0, total / np.maximum(total + direct, 1e-30), 0)
        self.looks = on_device(mi.Float, np.clip(FLOOR + share, FLOOR, MOST))
        # The root lets the weak be looked for more than they give: one look at them weighs much.
        whole = np.sqrt(light.sum(axis=0))
        whole /= whole.sum()
        parts = np.where(total[:, None] > 0, light / np.maximum(total, 1e-30)[:, None], whole)
        parts = ABROAD * whole + (1 - ABROAD) * parts
        self.shares = on_device(mi.Float, parts)
        self.drawn = on_device(mi.Float, np.stack(alias_tables(parts), axis=2))

    def chance(self, looked, lamp, trail):
        """Return the chance that a look goes to a lamp by a path's trail; `looked` is a `Looked`."""
        cell, place, share = looked
        direct = (1 - share) * self.choice.chance(cell, lamp)

        def mirrored(known, place, share, lamp, trail):
            number = dr.gather(mi.UInt, self.number, trail * self.buffers.lamps + lamp, known)
            known &= number != NONE
            own = dr.gather(mi.Float, self.shares, place * self.count + number, known)
            return dr.select(known, share * own, 0)

        known = (trail != DIRECT) & (trail != LOST)
        images = dr.if_stmt((known, mi.UInt(place), mi.Float(share), mi.UInt(lamp), mi.UInt(trail)),
                            known, mirrored, lambda *_: mi.Float(0))
        return dr.select(trail == DIRECT, direct, images)

    def draw(self, cell, number, active):
        """Return (lamp, first mirror, second mirror or `NONE`, trail) that a number stands for."""
        scaled = number * self.count
        which = dr.minimum(mi.UInt(scaled), self.count - 1)
        likely, other = dr.gather(mi.Vector2f, self.drawn, cell * self.count + which, active)
        which = dr.select(scaled - mi.Float(which) < likely, which, mi.UInt(other))
        return read_four(self.candidates, which, active, mi.Vector4u)

    def extend(self, trail, mirror):
        """Return the trail after one more mirror (`NONE`: a mirror that is none of these)."""
        size = self.mirrors + 1
        one = mirror + 1
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
    which, number : Float
        Choose whether, and what.
    active : Bool
    """

    def __init__(self, images, point, looked, which, number, active):
        self.images = images
        self.mirrored = active & (which < looked.share)
        self._draw(looked.place, number)
        self.point = point
        self.seen_from = self.unfold(point)

    def _draw(self, place, number):
        """Choose lamp and mirrors. Few looks go by way of mirrors, and the others skip this."""
        images = self.images

        def drawn(active, place, number):
            lamp, first, second, trail = images.draw(place, number, active)
            twice = active & (second != NONE)
            first, second = dr.select(active, first, 0), dr.select(twice, second, 0)
            one = read_four(images.planes, first, active)
            two = read_four(images.planes, second, twice) if images.has_pairs else mi.Vector4f(0)
            return (mi.UInt(lamp), mi.UInt(first), mi.UInt(second), mi.UInt(trail), twice,
                    mi.Vector4f(one), mi.Vector4f(two))

        def none(active, place, number):
            return (mi.UInt(0), mi.UInt(0), mi.UInt(0), mi.UInt(DIRECT), mi.Bool(False),
                    mi.Vector4f(0), mi.Vector4f(0))

        self.lamp, self.first, self.second, self.trail, self.twice, one, two = dr.if_stmt(
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

    def aim_at_sky(self, buffers, lamp, point, drawn):
        """Return a look's (direction, value, density) with looks for the sky aimed at the mirror."""
        direction, value, density = drawn
        here = self.mirrored & (lamp == buffers.sky_lamp)
        shape = SeenRectangle(Rectangle(self.images.bounds, self.first), self.point)
        aim = dr.normalize(shape.aim(point))
        # The way that ends at the sky: what arrives along `aim`, folded by both mirrors.
        last = aim
        for plane in self.planes:
            last = plane.way(last)
        chance = shape.density(aim)
        value = dr.select(here, lighting.sky_radiance(buffers, last, here), value)
        return (dr.select(here, last, direction), dr.select(here & (chance <= 0), 0, value),
                dr.select(here, dr.maximum(chance, 1e-9), density))

    def travel(self, origin, way, length, carried, useful):
        """Follow a look's legs from the point to the last mirror.

        Parameters
        ----------
        origin : Point3f
            Off the point's surface.
        way, length : Vector3f, Float
            From the image of `origin` to the lamp.
        carried : list of Float
            Over bands.
        useful : Bool

        Returns
        -------
        useful, start, carried, kept, depth : Bool, Point3f, list, Float, Float
            Whether all mirrors are there and the way to them is free; where the last leg starts;
            the bands after the mirrors; the mirrors' reflectance, as `extend`ed paths count it;
            optical depth of the haze on the way.
        """
        images, mirrored = self.images, useful & self.mirrored

        def follow(active, origin, way, length, carried):
            middle = self.planes[1].way(way) if images.has_pairs else way
            first = self.planes[0].way(middle)
            ok, start, carried, kept, depth, gone = self._leg(
                self.first, self.planes[0], origin, first, length, carried, active)
            if images.has_pairs:
                again = ok & self.twice
                ok2, start2, carried2, kept2, depth2, _ = self._leg(
                    self.second, self.planes[1], start, middle, length - gone, carried, again)
                ok &= ~self.twice | ok2
                start = dr.select(again, start2, start)
                carried = [dr.select(again, c2, c) for c2, c in zip(carried2, carried, strict=True)]
                kept = dr.select(again, kept * kept2, kept)
                depth = dr.select(again, depth + depth2, depth)
            return ok, start, carried, kept, depth

        def straight(active, origin, way, length, carried):
            return mi.Bool(False), mi.Point3f(origin), list(carried), mi.Float(1), mi.Float(0)

        ok, start, folded, kept, depth = dr.if_stmt(
            (mirrored, mi.Point3f(origin), mi.Vector3f(way), mi.Float(length),
             [mi.Float(c) for c in carried]), mirrored, follow, straight)
        carried = [dr.select(mirrored, f, c) for f, c in zip(folded, carried, strict=True)]
        return (useful & (~mirrored | ok), dr.select(mirrored, start, origin), carried,
                dr.select(mirrored, kept, 1), dr.select(mirrored, depth, 0))

    def _leg(self, mirror, plane, origin, direction, longest, carried, active):
        """Follow one leg to a mirror.

        Returns (there, next start, bands, reflectance, depth of haze, length).
        """
        images, buffers = self.images, self.images.buffers
        normal, offset = plane
        slant = dr.dot(normal, direction)
        away = (offset - dr.dot(normal, origin)) / dr.select(dr.abs(slant) < 1e-7, 1e-7, slant)
        ok = active & (away > 1e-5) & (away < longest)
        at = mi.Point3f(origin + direction * away)
        size = _OFF * (1 + dr.max(dr.abs(at)))
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
                carried = [dr.select(on, c * gloss * (t * (1 - fifth) + fifth), c)
                           for c, t in zip(carried, tints, strict=True)]
            else:
                carried = [dr.select(on, c * kept, c) for c in carried]
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
                carried = [dr.select(on, c * share, c) for c in carried]
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
            each = back if len(back) > 1 else back * len(carried)
            carried = [dr.select(on, c * b, c) for c, b in zip(carried, each, strict=True)]
            there |= on
        ok &= there
        # Short of the mirror itself: thin glass is met to within rounding.
        before = dr.maximum(away * (1 - 1e-5) - (2 * size if images.has_sheets else 0), 0)
        if buffers.panes or buffers.has_sheets:
            carried = straight_through(buffers, carried, origin, direction, before, ok)
        depth = mi.Float(0)
        if buffers.has_haze:
            depth = Haze(buffers).along(origin, direction, before)
        # The next leg starts on the side that this one came from.
        start = at - normal * dr.select(slant > 0, size, -size)
        return ok, mi.Point3f(start), carried, mi.Float(kept), mi.Float(depth), away


def mirror_fifth(cosine):
    """Return Schlick's fifth power at a mirror, as `Vertex` has it there."""
    return (1 - dr.maximum(cosine, 1e-4)) ** 5


class _Measurement:
    """What each lamp gives in each cell by way of each mirror, and of two."""

    def __init__(self, buffers, choice, mirrors):
        self.buffers, self.choice, self.mirrors = buffers, choice, mirrors
        self.random = np.random.default_rng(13)
        self.volume = float(np.prod(1 / np.asarray(choice.scale)))

    def run(self) -> dict:
        """Return (lamp, first mirror, second or -1) -> mean over each cell. Shape (cell,)

        Per unit lamp, from all sides, as `LampChoice.given`. [1/m²] or [1]
        """
        lamps = self.buffers.lamps
        own = np.repeat(np.arange(len(self.mirrors)), POINTS * lamps)
        lamp = np.tile(np.arange(lamps), len(self.mirrors) * POINTS)
        points = np.repeat(self.mirrors.points.reshape(-1, 3), lamps, axis=0)
        way, flux = self._arrivals(points, lamp, own)
        keep = flux > 0
        own, lamp, points, way, flux = (x[keep] for x in (own, lamp, points, way, flux))
        start, way, flux = self._mirrored(points, way, flux, own)
        away, face = self._meet(start, way)
        found: dict = {}
        self._count(found, zip(lamp, own, np.full(len(own), -1), strict=True), start, way, away, flux)
        for first in range(len(self.mirrors)):
            on, at = self._reach(first, start, way, away, face)
            on &= own != first
            if not on.any():
                continue
            s, w, f = self._mirrored(at[on], -way[on], flux[on], np.full(on.sum(), first))
            far, _ = self._meet(s, w)
            keys = zip(lamp[on], np.full(on.sum(), first), own[on], strict=True)
            self._count(found, keys, s, w, far, f)
        return found

    def _arrivals(self, points, lamp, own):
        """Return (direction to the lamp, flux that arrives for each point). [lm per lumen]"""
        buffers = self.buffers
        thread = dr.arange(mi.UInt, len(points))
        v0, v1 = mi.sample_tea_32(mi.UInt(0x2545F491), thread)
        rng = mi.PCG32(initstate=mi.UInt64(v0), initseq=mi.UInt64(v1))
        u, where = rng.next_float32(), mi.Point2f(rng.next_float32(), rng.next_float32())
        point = mi.Point3f(*(on_device(mi.Float, points[:, k]) for k in range(3)))
        guides = lighting.Guides(buffers, point) if buffers.guides else None
        direction, distance, value, density = lighting.sample_light(
            buffers, guides, point, on_device(mi.UInt, lamp), u, where, mi.Bool(True))
        ray = mi.Ray3f(point + direction * 1e-3, direction)
        ray.maxt = (distance - 1e-3) * (1 - 1e-3)
        useful = (value > 0) & (density > 0)
        useful &= ~buffers.scene.ray_test(ray, coherent=False, active=useful)
        way = np.array(direction).T.reshape(-1, 3)
        given = np.array(dr.select(useful, value / density, 0), float)
        slant = np.abs(np.einsum("ni,ni->n", way, self.mirrors.normal[own]))
        return way, given * slant * (self.mirrors.area / POINTS)[own]

    def _mirrored(self, points, towards, flux, own):
        """Return (start, direction, flux) of what a mirror sends on of light from a direction."""
        normal = self.mirrors.normal[own]
        slant = np.einsum("ni,ni->n", towards, normal)
        way = 2 * slant[:, None] * normal - towards
        fifth = (1 - np.clip(np.abs(slant), 0, 1)) ** 5
        strength = self.mirrors.strength[own]
        size = _OFF * (1 + np.abs(points).max(axis=1, keepdims=True))
        start = points + normal * np.where(slant > 0, 1, -1)[:, None] * size
        return start, way, flux * (strength * (1 - fifth) + fifth)

    def _meet(self, start, way):
        """Return (distance, face) of what rays meet first; `FAR` where nothing near."""
        if not len(start):
            return np.zeros(0), np.zeros(0, np.uint32)
        ray = mi.Ray3f(mi.Point3f(*(on_device(mi.Float, start[:, k]) for k in range(3))),
                       mi.Vector3f(*(on_device(mi.Float, way[:, k]) for k in range(3))))
        hit = self.buffers.scene.ray_intersect_preliminary(ray, coherent=False)
        valid = hit.is_valid()
        away = np.array(dr.select(valid, hit.t, FAR), float)
        return np.minimum(away, FAR), np.array(dr.select(valid, hit.prim_index, NONE))

    def _reach(self, mirror, start, way, away, face):
        """Return (which rays meet a mirror before anything else, where)."""
        if self.mirrors.kind[mirror] == FACES:
            known = face != NONE
            on = np.zeros(len(face), bool)
            on[known] = self.mirrors.of_face[face[known]] == mirror
            return on, start + way * away[:, None]
        normal = self.mirrors.normal[mirror]
        slant = way @ normal
        slant = np.where(np.abs(slant) < 1e-7, 1e-7, slant)
        cross = (self.mirrors.point[mirror] - start) @ normal / slant
        at = start + way * cross[:, None]
        inside = np.zeros(len(at), bool)
        offset = at - self.mirrors.centre[mirror]
        u, v = self.mirrors.half_u[mirror], self.mirrors.half_v[mirror]
        inside = (np.abs(offset @ u) <= u @ u) & (np.abs(offset @ v) <= v @ v)
        return inside & (cross > 1e-3) & (cross < away), at

    def _count(self, found, keys, start, way, away, flux):
        """Add rays' light to the cells that they cross, by the length of way in each."""
        steps = (np.arange(STEPS) + self.random.random((len(start), 1))) / STEPS
        at = start[:, None] + way[:, None] * (steps * away[:, None])[..., None]
        along = np.floor((at - self.choice.low) * np.asarray(self.choice.scale)).astype(int)
        within = np.all((along >= 0) & (along < CELLS), axis=2)
        along = np.where(within[..., None], along, 0)
        cell = (along[..., 2] * CELLS[1] + along[..., 1]) * CELLS[0] + along[..., 0]
        weight = np.where(within, (flux * away / STEPS / self.volume)[:, None], 0)
        keys = list(keys)
        number = {key: k for k, key in enumerate(dict.fromkeys(keys))}
        which = np.array([number[key] for key in keys], int)
        cells = int(np.prod(CELLS))
        for key, k in number.items():
            mine = which == k
            found[tuple(int(x) for x in key)] = np.bincount(
                cell[mine].ravel(), weights=weight[mine].ravel(), minlength=cells)


def _around(light):
    """Return what is in each cell with a little of what is around it, and of all."""
    grid = light.reshape(CELLS[2], CELLS[1], CELLS[0])
    padded = np.pad(grid, 1)
    around = sum(padded[z:z + CELLS[2], y:y + CELLS[1], x:x + CELLS[0]]
                 for z in range(3) for y in range(3) for x in range(3))
    return (grid + around / 10).ravel() + 1e-4 * light.mean()


def images_of(buffers, stage, choice):
    """Return the stage's `Images`, or None where no mirror sends any lamp's light on."""
    mirrors = flat_mirrors(stage, buffers.geometry, buffers.sheets)
    if not len(mirrors) or not buffers.lamps:
        return None
    images = Images(buffers, choice, mirrors, [lamp.output for lamp in stage.lamps])
    return images if images.count else None
