"""Glass of meshes, inside the kernel: thin sheets, and bodies that bend light.

A sheet is triangles in a scene of their own. As a pane's, its light is not bent: a shadow ray loses
what the sheets that it crosses keep, and on a path's own leg each of them in turn may mirror it, with
a probability. A mesh that has both faces of a sheet counts where a ray enters it.

A body is a boundary in the main scene that mirrors or refracts, as Fresnel's equations have it,
and a path that leaves it has lost what the glass swallowed. Light cannot be sampled through
it, so only paths that are followed through meet what lies behind.
"""

from __future__ import annotations

from dataclasses import dataclass

from previz.engine.device import either, first_three, put, read_four, read_row, times
from previz.engine.hit import smooth_normal
from previz.engine.jit import dr, mi
from previz.engine.panes import MOST_MIRRORED, PaneCrossing, fresnel
from previz.engine.panes import straight_through as through_panes

STEP = 1e-5
"""How far behind a sheet the next is tested for, relative to one metre plus its position. [1]"""

BODY_OFFSET = 1e-5
"""Distance that a ray starts off a body's boundary, relative to one metre plus its position: less
than the gap that bodies have to what they stand on. [1]"""

MOST_SHEETS = 64
"""Sheets after which a leg is taken to have crossed all."""

_NO_FACE = 0xFFFFFFFF


def clear_things(buffers) -> bool:
    """Return whether a stage has anything that light goes straight through: panes or sheets."""
    return bool(buffers.panes) or buffers.has_sheets


def crossing_of(buffers, ray, distance, active):
    """Return what a leg crosses of panes and sheets before it meets a surface."""
    kind = SheetCrossing if buffers.has_sheets else PaneCrossing
    return kind(buffers, ray, distance, active)


def straight_through(buffers, values, origin, direction, distance, active):
    """Return the bands after what panes and sheets between a point and a light keep back."""
    if buffers.panes:
        values = through_panes(buffers, values, origin, direction, distance, active)
    if buffers.has_sheets:
        values = times(values, _walk(buffers, origin, direction, distance, active).left)
    return values


class SheetHit:
    """The sheet that a ray meets first."""

    def __init__(self, buffers, ray, active):
        found = buffers.sheet_scene.ray_intersect_preliminary(ray, coherent=False, active=active)
        self.valid = active & found.is_valid()
        self.distance = dr.select(self.valid, found.t, 0)
        self.face = dr.select(self.valid, found.prim_index, 0)
        corners = read_four(buffers.sheet_corners, self.face, self.valid, mi.Vector4u)
        self.sheet = corners[3]
        p0, p1, p2 = (first_three(read_four(buffers.sheet_vertices, corners[i], self.valid),
                                  mi.Point3f) for i in range(3))
        double = dr.cross(p1 - p0, p2 - p0)
        self.outside = double * dr.rsqrt(dr.maximum(dr.squared_norm(double), 1e-30))
        self.normal = mi.Vector3f(self.outside)
        if buffers.has_smooth_sheets:
            b1, b2 = (dr.select(self.valid, each, 0) for each in (found.prim_uv.x, found.prim_uv.y))
            n0, n1, n2 = (first_three(read_four(buffers.sheet_normals, corners[i], self.valid))
                          for i in range(3))
            smooth, squared = smooth_normal(n0 * (1 - b1 - b2) + n1 * b1 + n2 * b2, self.outside)
            use = (squared > 0.01) & (dr.dot(smooth, ray.d) * dr.dot(self.outside, ray.d) > 0)
            self.normal = dr.select(use, smooth, self.normal)
        self.ior, closed, *_ = read_four(buffers.sheet_data, self.sheet, self.valid)
        self.counts = self.valid & ((closed < 0.5) | (dr.dot(self.outside, ray.d) < 0))
        self.cosine = dr.clip(dr.abs(dr.dot(self.normal, ray.d)), 1e-3, 1)

    def shares(self, buffers):
        """Return (mirrored, let through) of the whole sheet: lists of one, or over the bands.

        For each polarisation and an internal transmission t along the slanted path,
        T = (1-R)² t / (1 - R² t²) and the light mirrored is R (1 + t T).
        """
        surfaces = fresnel(self.cosine, self.ior)
        if not buffers.has_sheet_tint:
            through = sum(0.5 * (1 - r) / (1 + r) for r in surfaces)
            return [1 - through], [through]
        depth = dr.rsqrt(1 - (1 - dr.square(self.cosine)) / dr.square(self.ior))
        mirrored, through = [], []
        for density in read_row(buffers.sheet_density, self.sheet, buffers.bands, self.valid):
            t = dr.exp(-density * depth)
            passed, back = mi.Float(0), mi.Float(0)
            for r in surfaces:
                one = dr.square(1 - r) * t / (1 - dr.square(r * t))
                passed += 0.5 * one
                back += 0.5 * r * (1 + t * one)
            through.append(passed)
            mirrored.append(back)
        return mirrored, through


@dataclass
class _Walk:
    """Where a ray has come among the sheets, and what is left of its light."""

    going: mi.Bool
    at: mi.Float
    last: mi.UInt
    count: mi.UInt
    left: list
    number: mi.Float
    mirrored: mi.Bool
    away: mi.Float
    normal: mi.Vector3f
    outside: mi.Vector3f
    face: mi.UInt
    share: mi.Float


def _walk(buffers, origin, direction, distance, active, number=None):
    """Follow a ray through the sheets up to a distance.

    The `number` decides at each sheet whether it mirrors the ray, which then ends there; without
    one the ray goes on through all of them. At 1 none mirrors, but each is weighed as if it might
    have. In the walk, `left` is a list of one, or over the bands where sheets are tinted, and
    `number` is as good as new.
    """
    width = buffers.bands if buffers.has_sheet_tint else 1
    walk = _Walk(going=mi.Bool(active), at=mi.Float(0), last=mi.UInt(_NO_FACE), count=mi.UInt(0),
                 left=[mi.Float(1) for _ in range(width)],
                 number=mi.Float(1 if number is None else number), mirrored=mi.Bool(False),
                 away=mi.Float(0), normal=mi.Vector3f(0, 0, 1), outside=mi.Vector3f(0, 0, 1),
                 face=mi.UInt(_NO_FACE), share=mi.Float(0))

    def further(walk, origin, direction, distance):
        return walk.going

    def body(walk, origin, direction, distance):
        ray = mi.Ray3f(origin + direction * walk.at, direction)
        ray.maxt = distance - walk.at
        hit = SheetHit(buffers, ray, walk.going & (ray.maxt > 0))
        # A line crosses a face once; a second time it is rounding that lets it.
        counts = hit.counts & (hit.face != walk.last)
        back, through = hit.shares(buffers)
        mirror, mean = mi.Bool(False), sum(back) / len(back)
        if number is not None:
            probability = dr.minimum(mean, MOST_MIRRORED)
            mirror = counts & (walk.number < probability)
            left = dr.select(mirror, walk.number / dr.maximum(probability, 1e-9),
                             (walk.number - probability) / (1 - probability))
            walk.number = dr.select(counts, left, walk.number)
            through = either(mirror, [b / dr.maximum(probability, 1e-9) for b in back],
                             [t / (1 - probability) for t in through])
        walk.left = either(counts, times(walk.left, through), walk.left)
        reached = walk.at + hit.distance
        walk.mirrored |= mirror
        put(walk, mirror, away=reached, normal=hit.normal, outside=hit.outside, face=hit.face, share=mean)
        place = origin + direction * reached
        put(walk, hit.valid, at=reached + STEP * (1 + dr.max(dr.abs(place))), last=hit.face)
        walk.count += 1
        walk.going = hit.valid & ~mirror & (walk.count < MOST_SHEETS)
        return walk, origin, direction, distance

    return dr.while_loop(
        state=(walk, mi.Point3f(origin), mi.Vector3f(direction), mi.Float(distance)),
        cond=further, body=body, label="sheets")[0]


class SheetCrossing:
    """The sheets, and the panes, that one leg crosses before it meets a surface.

    Used as `PaneCrossing` is. Each sheet in turn may mirror the leg; panes then take
    what is left of it. Where a pane mirrors it, only sheets before that pane have been crossed.
    What mirrored it lies `away` [m] and has a reflectance of `share`, mean over the bands; `face` is
    the sheets' face that did, 0xFFFFFFFF where none did.
    """

    def __init__(self, buffers, ray, distance, active):
        self.buffers, self.ray, self.distance, self.active = buffers, ray, distance, active

    def _walk(self, distance, active, number):
        return _walk(self.buffers, self.ray.o, self.ray.d, distance, active, number)

    def reflects(self, u):
        """Return whether the leg is mirrored, and settle by what."""
        walk = self.walk = self._walk(self.distance, self.active, u)
        mirrored, self.left = walk.mirrored, walk.left
        self.away, self.face, self.share = walk.away, walk.face, walk.share
        self.by_pane = mi.Bool(False)
        if self.buffers.panes:
            reach = dr.select(mirrored, walk.away, self.distance)
            self.panes = PaneCrossing(self.buffers, self.ray, reach, self.active)
            self.by_pane = self.panes.reflects(walk.number)
            before = self._walk(self.panes.away, self.active & self.by_pane, mi.Float(1)).left
            self.left = either(self.by_pane, before, self.left)
            put(self, self.by_pane, away=self.panes.away, face=_NO_FACE, share=self.panes.share)
            mirrored |= self.by_pane
        return mirrored

    def attenuate(self, throughput, mirrored):
        """Return the throughput after what was passed."""
        throughput = times(throughput, self.left)
        return self.panes.attenuate(throughput, self.by_pane) if self.buffers.panes else throughput

    def mirrored(self):
        """Return (origin, direction) after the mirror."""
        before, walk = self.ray.d, self.walk

        def turned(normal):
            return before - 2 * dr.dot(before, normal) * normal

        direction = turned(walk.normal)
        # A smooth normal may send it through the face; the face's own cannot.
        same = dr.dot(direction, walk.outside) * dr.dot(before, walk.outside) < 0
        direction = dr.select(same, direction, turned(walk.outside))
        at = self.ray.o + before * self.away
        side = dr.select(dr.dot(direction, walk.outside) > 0, walk.outside, -walk.outside)
        origin = at + side * 1e-4
        if self.buffers.panes:
            start, bounced = self.panes.mirrored()
            origin = dr.select(self.by_pane, start, origin)
            direction = dr.select(self.by_pane, bounced, direction)
        return origin, direction


class Boundary:
    """Where paths meet the boundary of a glass body, and where each goes on.

    They come along a direction, and the `number` chooses between mirroring and refracting, by
    Fresnel's reflectance. Then `active` has those that are at such a boundary, and `direction`
    where these go on.
    """

    def __init__(self, buffers, hit, direction, number, active):
        self.buffers, self.hit = buffers, hit
        ior = dr.gather(mi.Float, buffers.body_ior, hit.surface, active)
        self.active = active & (ior > 0)
        ior = dr.maximum(ior, 1)
        self.inside = self.active & (dr.dot(direction, hit.outside) > 0)
        ratio = dr.select(self.inside, ior, 1 / ior)
        self.direction, crosses = self._turned(direction, hit.normal, ratio, number)
        if buffers.has_smooth or buffers.has_relief:
            flat, _ = self._turned(direction, hit.side, ratio, number)
            good = (dr.dot(self.direction, hit.side) < 0) == crosses
            self.direction = dr.select(good, self.direction, flat)

    @staticmethod
    def _turned(direction, normal, ratio, number):
        """Return (direction, whether it is the refracted one) at a normal on the near side."""
        cosine = dr.clip(-dr.dot(direction, normal), 1e-4, 1)
        left = 1 - dr.square(ratio) * (1 - dr.square(cosine))
        inner = dr.safe_sqrt(left)
        s = (ratio * cosine - inner) / (ratio * cosine + inner)
        p = (cosine - ratio * inner) / (cosine + ratio * inner)
        mirrored = dr.select(left > 0, 0.5 * (dr.square(s) + dr.square(p)), 1)
        bent = ratio * direction + (ratio * cosine - inner) * normal
        crosses = number >= mirrored
        back = direction + 2 * cosine * normal
        return dr.normalize(dr.select(crosses, bent, back)), crosses

    def absorb(self, throughput):
        """Return the throughput after what the glass swallowed on the leg that ends here."""
        if not self.buffers.has_body_tint:
            return throughput
        densities = read_row(self.buffers.body_absorption, self.hit.surface, self.buffers.bands,
                             self.inside)
        depth = dr.select(self.inside, self.hit.distance, 0)
        return times(throughput, [dr.exp(-d * depth) for d in densities])

    def leave(self, point, moved):
        """Return where the next ray starts: nearer to the boundary than off other surfaces."""
        size = BODY_OFFSET * (1 + dr.max(dr.abs(point)))
        over = dr.dot(self.hit.side, self.direction) >= 0
        return dr.select(self.active, point + self.hit.side * dr.select(over, size, -size), moved)
