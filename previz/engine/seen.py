"""Rectangles and balls as seen from one point: directions drawn evenly over the solid angle they fill.

Points drawn evenly over a rectangle's area crowd towards its far parts where it is near, and most of them
then lie at a glancing angle: from a curtain just inside a window, nearly all. Far off, where the
solid angle's own arithmetic runs out of digits, the two are alike and the area serves.

Source: Urena, Fajardo and King, "An area-preserving parametrization for spherical rectangles",
Eurographics Symposium on Rendering 2013 (from memory).
"""

from __future__ import annotations

from previz.engine.jit import dr, mi

NEAR = 0.3
"""Area over squared distance above which the solid angle is sampled. [1]"""

LEAST_ANGLE = 5e-3
"""Solid angle under which single precision leaves too little of it. [sr]"""


class SeenBall:
    """How to aim at a ball, of which a shape has centre and radius, and how likely each direction is."""

    def __init__(self, shape, point):
        self.shape, self.offset = shape, shape.centre - point
        self.squared = dr.squared_norm(self.offset)
        sine = dr.square(shape.extra) / dr.maximum(self.squared, 1e-9)
        self.within = sine >= 1
        # From within, the cone is the whole sphere.
        self.cosine = dr.select(self.within, -1, dr.safe_sqrt(1 - sine))

    def about(self):
        """Return about the solid angle, kept finite within. [sr]"""
        square = dr.square(self.shape.extra)
        return square * dr.pi / (self.squared + square)

    def aim(self, point):
        """Return a direction from the point towards a drawn place of the ball."""
        frame = mi.Frame3f(self.offset / dr.maximum(dr.norm(self.offset), 1e-9))
        return frame.to_world(mi.warp.square_to_uniform_cone(point, self.cosine))

    def pdf(self, direction):
        """Return the pdf per solid angle of a direction from the point."""
        inside = self.within | (dr.dot(dr.normalize(self.offset), direction) >= self.cosine)
        return dr.select(inside, dr.inv_two_pi / dr.maximum(1 - self.cosine, 1e-7), 0)


class SeenRectangle:
    """How to aim at a rectangle from a point, and how likely each direction is then.

    Where `near`, directions are even over the solid angle `angle` [sr], which is good there alone;
    elsewhere points are even over the area.
    """

    def __init__(self, shape, point):
        self.shape, self.point = shape, point
        offset = shape.centre - point
        long_u, long_v = dr.norm(shape.half_u), dr.norm(shape.half_v)
        self.unit_u, self.unit_v = shape.half_u / long_u, shape.half_v / long_v
        away = dr.dot(offset, shape.normal)
        # Its plane is put at negative z, whichever side the point is on.
        self.unit_z = dr.select(away > 0, -shape.normal, shape.normal)
        self.z = -dr.abs(away)
        middle_u, middle_v = dr.dot(offset, self.unit_u), dr.dot(offset, self.unit_v)
        self.x0, self.x1 = middle_u - long_u, middle_u + long_u
        self.y0, self.y1 = middle_v - long_v, middle_v + long_v
        self._measure()
        self.near = ((shape.area > NEAR * dr.squared_norm(offset)) & (self.angle > LEAST_ANGLE)
                     & (self.z < -1e-4 * (long_u + long_v)))

    def about(self):
        """Return about the solid angle, kept finite at the surface. [sr]"""
        shape, offset = self.shape, self.shape.centre - self.point
        squared = dr.squared_norm(offset)
        slant = dr.abs(dr.dot(offset, shape.normal)) * dr.rsqrt(dr.maximum(squared, 1e-9))
        return shape.area * dr.maximum(slant, 0.05) / (squared + shape.area * dr.inv_pi)

    def _measure(self):
        """Set the solid angle from the angles between the planes through point and edges."""
        z2 = dr.square(self.z)
        x0, x1, y0, y1 = self.x0, self.x1, self.y0, self.y1
        # Normals of the planes through the lower, right, upper and left edge.
        low, high, left, right = (dr.rsqrt(z2 + dr.square(edge)) for edge in (y0, y1, x0, x1))
        self.b0, self.b1 = -y0 * low, y1 * high
        self.n1z, self.n3z = x1 * right, -x0 * left
        g0 = dr.safe_acos(-self.b0 * self.n1z)
        g1 = dr.safe_acos(-self.n1z * self.b1)
        g2 = dr.safe_acos(-self.b1 * self.n3z)
        g3 = dr.safe_acos(-self.n3z * self.b0)
        self.k = dr.two_pi - g2 - g3
        self.angle = g0 + g1 - self.k

    def aim(self, point):
        """Return a vector from the point towards a drawn place of the rectangle, of any length."""
        shape = self.shape
        spread = (shape.centre + shape.half_u * (2 * point.x - 1)
                  + shape.half_v * (2 * point.y - 1)) - self.point
        turn = point.x * self.angle + self.k
        sine, cosine = dr.sincos(turn)
        sine = dr.select(dr.abs(sine) < 1e-7, 1e-7, sine)
        f = (cosine * self.b0 - self.b1) / sine
        c = dr.rsqrt(dr.square(f) + dr.square(self.b0))
        c = dr.clip(dr.select(f > 0, c, -c), -1, 1)
        x = dr.clip(-c * self.z * dr.rsqrt(dr.maximum(1 - dr.square(c), 1e-7)), self.x0, self.x1)
        away2 = dr.square(x) + dr.square(self.z)
        low = self.y0 * dr.rsqrt(away2 + dr.square(self.y0))
        high = self.y1 * dr.rsqrt(away2 + dr.square(self.y1))
        part = dr.lerp(low, high, point.y)
        y = dr.clip(part * dr.sqrt(away2) * dr.rsqrt(dr.maximum(1 - dr.square(part), 1e-7)),
                    self.y0, self.y1)
        even = self.unit_u * x + self.unit_v * y + self.unit_z * self.z
        return mi.Vector3f(dr.select(self.near, even, spread))

    def pdf(self, direction):
        """Return the pdf per solid angle of a direction from the point."""
        distance, cosine, inside = self.shape.cross(self.point, direction)
        area = dr.square(distance) / dr.maximum(self.shape.area * cosine, 1e-9)
        even = 1 / dr.maximum(self.angle, LEAST_ANGLE)
        return dr.select(inside, dr.select(self.near, even, area), 0)
