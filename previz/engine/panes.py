"""Clear panes, inside the kernel: a little is mirrored, the rest goes straight on.

A pane is a rectangle outside the ray tracer's own scene. As light is not bent by it, a shadow ray
simply loses what the panes between keep, so that a window does not stand between a lamp and
what it lights. On a path's own leg one of the panes crossed may mirror it, with a probability.
"""

from __future__ import annotations

import math

from previz.engine.device import Rectangle, put
from previz.engine.jit import dr, mi
from previz.engine.tables import NONE

MOST_MIRRORED = 0.5
"""Upper bound of the probability that a leg is mirrored by a pane."""


CLEAR_TINT = 0.9995
"""A sheet that lets more than this through within itself counts as clear. [1]"""


def fresnel(cosine, ior):
    """Return the reflectance of one dielectric surface for both polarisations."""
    sine2 = (1 - dr.square(cosine)) / dr.square(ior)
    inner = dr.safe_sqrt(1 - sine2)
    s = (cosine - ior * inner) / (cosine + ior * inner)
    p = (ior * cosine - inner) / (ior * cosine + inner)
    return dr.square(s), dr.square(p)


def sheet(shape, cosine):
    """Return (mirrored, let through) of a whole pane, all inter-reflections counted.

    Each polarisation goes through by itself: at a slant the glass sorts them, and their mean
    would be let through too little the second time.
    """
    total = mi.Float(0)
    for surface in fresnel(dr.clip(cosine, 1e-3, 1), shape.extra):
        through = (1 - surface) / (1 + surface)
        # Two sheets one behind the other: the series between them sums to t / (2 - t).
        total += 0.5 * dr.select(shape.extra2 > 1.5, through / (2 - through), through)
    return 1 - total, total


def _stain(buffers, index, shape, cosine, on_way, values):
    """Return the bands after what a pane's tint keeps back beyond what clear glass does.

    Each sheet counts, deeper on a slanted path, with the light thrown to and fro between all faces:
    T = (1-R)² t / (1 - R² t²) a sheet, T² / (1 - B²) for two whose backs mirror B.
    """
    tints = buffers.pane_tint[index]
    if min(tints) > CLEAR_TINT:
        return values
    slant = dr.clip(cosine, 1e-3, 1)
    inner = dr.safe_sqrt(1 - (1 - dr.square(slant)) / dr.square(shape.extra))
    depth = 1 / dr.maximum(inner, 1e-3)
    clear = 1 / dr.maximum(sheet(shape, cosine)[1], 1e-6)
    surfaces = fresnel(slant, shape.extra)
    stained = []
    for value, tint in zip(values, tints, strict=True):
        t = dr.exp(depth * math.log(max(tint, 1e-6)))
        left = mi.Float(0)
        for surface in surfaces:
            through = dr.square(1 - surface) * t / (1 - dr.square(surface * t))
            back = surface * (1 + t * through)
            double = dr.square(through) / (1 - dr.square(back))
            left += 0.5 * dr.select(shape.extra2 > 1.5, double, through)
        stained.append(value * dr.select(on_way, left * clear, 1))
    return stained


def straight_through(buffers, values, origin, direction, distance, active):
    """Return the bands after what the panes between a point and a light keep back."""
    left = mi.Float(1)
    for index in range(buffers.panes):
        shape = Rectangle(buffers.pane_data, index)
        away, cosine, inside = shape.cross(origin, direction)
        on_way = active & inside & (away < distance)
        left = dr.select(on_way, left * sheet(shape, cosine)[1], left)
        if buffers.has_tint:
            values = _stain(buffers, index, shape, cosine, on_way, values)
    return [v * left for v in values]


class PaneCrossing:
    """The panes that one leg crosses before it meets a surface."""

    def __init__(self, buffers, ray, distance, active):
        self.buffers, self.ray = buffers, ray
        self.crossed, total = [], mi.Float(0)
        for index in range(buffers.panes):
            shape = Rectangle(buffers.pane_data, index)
            away, cosine, inside = shape.cross(ray.o, ray.d)
            on_way = active & inside & (away < distance)
            mirrored, through = sheet(shape, cosine)
            mirrored = dr.select(on_way, mirrored, 0)
            self.crossed.append((shape, away, on_way, mirrored, through, cosine))
            total += mirrored
        self.total = total
        self.probability = dr.minimum(total, MOST_MIRRORED)

    def reflects(self, u):
        """Return whether the leg is mirrored, and settle by which pane and with what reflectance."""
        mirrored = u < self.probability
        left = u / dr.maximum(self.probability, 1e-9) * self.total
        self.away, self.normal = mi.Float(0), mi.Vector3f(0, 0, 1)
        self.which, self.share = dr.opaque(mi.UInt, NONE), mi.Float(0)
        found = mi.Bool(False)
        for index, (shape, away, _, share, _, _) in enumerate(self.crossed):
            take = mirrored & ~found & (left < share)
            found |= take
            left -= share
            put(self, take, away=away, normal=shape.normal, which=index, share=share)
        return mirrored & found

    def attenuate(self, throughput, mirrored):
        """Return the throughput after the panes that were passed."""
        left = mi.Float(1)
        for index, (shape, away, on_way, _, through, cosine) in enumerate(self.crossed):
            passed = on_way & (~mirrored | (away < self.away * (1 - 1e-5)))
            left = dr.select(passed, left * through, left)
            if self.buffers.has_tint:
                throughput = _stain(self.buffers, index, shape, cosine, passed, throughput)
        scale = left * dr.select(mirrored, self.total / dr.maximum(self.probability, 1e-9),
                                 1 / (1 - self.probability))
        return [b * scale for b in throughput]

    def mirrored(self):
        """Return (origin, direction) after the mirror."""
        direction = self.ray.d - 2 * dr.dot(self.ray.d, self.normal) * self.normal
        at = self.ray.o + self.ray.d * self.away
        side = dr.select(dr.dot(direction, self.normal) > 0, self.normal, -self.normal)
        return at + side * 1e-4, direction
