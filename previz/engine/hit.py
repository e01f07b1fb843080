"""What a ray meets first, and where the next ray leaves it.

A mesh with smooth normals stands for a rounded surface. Hits on it are lifted there, and what is
over its horizon goes by its normal, so that no flat faces show along the edge of light.
"""

from __future__ import annotations

from previz.engine.device import first_three, read_four
from previz.engine.jit import dr, mi
from previz.engine.places import Tile, along_uv, leaning

RAY_OFFSET = 1e-4
"""Distance that a ray starts off its surface, relative to one metre plus its position. [1]"""

ROUND = 0.7
"""Cosine to a face's own normal that the normals of its corners need for the face to stand for a
rounded surface: 45 deg; an eight-sided tube has 22 deg, a box with smooth normals 55 deg. [1]"""

FLAT = 0.99999
"""Such a cosine from which on a face is flat: a quarter of a degree. [1]"""


class Hit:
    """The surface that a ray met first, panes left aside.

    `level` is its normal without relief. With uv that is read, `tangents` are as of `places.along_uv`, and
    `tile` where its pattern is read.
    """

    def __init__(self, buffers, ray, active):
        found = buffers.scene.ray_intersect_preliminary(ray, coherent=False, active=active)
        self.valid = active & found.is_valid()
        self.distance = dr.select(self.valid, found.t, dr.inf)
        # A lane that met nothing holds whatever lay in memory before.
        self.face = dr.select(self.valid, found.prim_index, 0)
        corners = read_four(buffers.corners, self.face, self.valid, mi.Vector4u)
        self.surface = corners[3]
        v0, v1, v2 = (read_four(buffers.vertices, corners[i], self.valid) for i in range(3))
        p0, p1, p2 = (first_three(v, mi.Point3f) for v in (v0, v1, v2))
        b1, b2 = (dr.select(self.valid, share, 0) for share in (found.prim_uv.x, found.prim_uv.y))
        b0 = 1 - b1 - b2
        self.point = p0 * b0 + p1 * b1 + p2 * b2
        double = dr.cross(p1 - p0, p2 - p0)
        length = dr.norm(double)
        self.area = 0.5 * length
        self.outside = double / dr.maximum(length, 1e-20)
        view = -ray.d
        facing = dr.dot(self.outside, view)
        self.cos_emit = facing
        self.side = dr.select(facing < 0, -self.outside, self.outside)
        self.normal = mi.Vector3f(self.side)
        self.rounded = mi.Bool(False)
        if buffers.has_smooth or buffers.has_uv:
            s0, s1, s2 = (read_four(buffers.smooth, corners[i], self.valid) for i in range(3))
        if buffers.has_smooth:
            n0, n1, n2 = (first_three(s) for s in (s0, s1, s2))
            lift = self._round(((p0, n0, b0), (p1, n1, b1), (p2, n2, b2)))
            if buffers.has_transmission:
                # Light that goes through leaves from the other side, which the lift is away from.
                through = read_four(buffers.body, self.surface, self.valid)[1]
                self.rounded &= through == 0
            if buffers.has_bodies:
                # Light goes through these too, and leaves from either side.
                self.rounded &= dr.gather(mi.Float, buffers.body_ior, self.surface, self.valid) == 0
            smooth, squared = smooth_normal(n0 * b0 + n1 * b1 + n2 * b2, self.side)
            # Near a silhouette a smooth normal may point away from the viewer; the face's own
            # normal cannot, and using it there avoids a black rim.
            use = (squared > 0.01) & (dr.dot(smooth, view) > 1e-3)
            self.normal = dr.select(use, smooth, self.normal)
            self.rounded &= use
            self.point += dr.select(self.rounded, lift, 0)
        self.uv = mi.Point2f(0)
        if buffers.has_uv:
            self.uv = mi.Point2f(v0.w * b0 + v1.w * b1 + v2.w * b2,
                                 s0.w * b0 + s1.w * b1 + s2.w * b2)
        self.level, self.tangents = mi.Vector3f(self.normal), None
        if buffers.has_relief or buffers.has_across:
            self.tangents = along_uv((p1 - p0, p2 - p0), (mi.Vector2f(v1.w - v0.w, s1.w - s0.w),
                                                          mi.Vector2f(v2.w - v0.w, s2.w - s0.w)))
        self.tile = None
        if buffers.has_pattern or buffers.has_relief:
            self.tile = Tile(buffers.tile_at, buffers.tile_stride, self.surface, self.uv, self.valid)
        if buffers.has_relief:
            self.normal = leaning(buffers, self.tile, self.surface, self.uv, self.tangents, self.level, view,
                                  facing < 0, self.valid)
        self.emitter = dr.gather(mi.UInt, buffers.face_emitter, self.face, self.valid)

    def _round(self, corners):
        """Return the vector from the hit to the rounded surface that its face stands for.

        The mean of the hit's projections on the planes through the corners square to their
        normals, each only where it lies below the plane. Rays that leave from there are not
        caught by the flat faces near the edge of light. Sets `rounded`.

        Source: Hanika, "Hacking the shadow terminator", in Ray Tracing Gems II, 2021, chapter 4.
        """
        lift, least = mi.Vector3f(0), mi.Float(1)
        for corner, normal, share in corners:
            normal = dr.select(dr.dot(normal, self.side) < 0, -normal, normal)
            least = dr.minimum(least, dr.dot(normal, self.side))
            lift += share * dr.maximum(dr.dot(corner - self.point, normal), 0) * normal
        self.rounded = self.valid & (least > ROUND) & (least < FLAT)
        return lift


def smooth_normal(mixed, side):
    """Return (unit normal on a side, its length squared before) of a mix of corners' normals."""
    squared = dr.squared_norm(mixed)
    smooth = mixed * dr.rsqrt(dr.maximum(squared, 1e-12))
    return dr.select(dr.dot(smooth, side) < 0, -smooth, smooth), squared


def names_of(buffers, hit):
    """Return the number of the name of what was met, -1 where nothing was. Int"""
    name = dr.gather(mi.UInt, buffers.face_name, hit.face, hit.valid)
    return dr.select(hit.valid, mi.Int(name), -1)


def clear(buffers, origin, direction, length, active):
    """Return where nothing stands on a line up to just before its end."""
    ray = mi.Ray3f(origin, direction)
    ray.maxt = length * (1 - 1e-3)
    return active & ~buffers.scene.ray_test(ray, coherent=False, active=active)


def offset_point(point, surface, direction):
    """Return the point moved off its surface, to the side that a direction leaves by.

    A flat face goes by itself. One that stands for a rounded surface goes by that surface's
    normal, or its faces would show along the edge of light. The surface is a Hit, Vertex or Place.
    """
    size = RAY_OFFSET * (1 + dr.max(dr.abs(point)))
    over = dr.dot(surface.side, direction) >= 0
    over |= surface.rounded & (dr.dot(surface.level, direction) > 0)
    return point + surface.side * dr.select(over, size, -size)
