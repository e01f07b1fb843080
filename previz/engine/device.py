"""Numbers on the device, and rectangles read from them inside the kernel."""

from __future__ import annotations

import drjit as dr
import mitsuba as mi
import numpy as np

from previz.engine.tables import roomy


def on_device(kind, values):
    """Return numbers as a Dr.Jit array of one kind.

    On the processor Dr.Jit reads numpy's own memory, and compiles whether it happens to be
    aligned into the kernel. Aligned copies give the same scene the same kernel each time, so that
    it is compiled once and then comes from the cache. What is read in whole vectors is read past
    the end, by Dr.Jit as by Embree, so as many bytes behind it belong to the copy too.
    """
    return kind(roomy(np.ravel(values).astype(
        {mi.Float: np.float32, mi.UInt: np.uint32}.get(kind, np.int32))))


STRIDE = 22
"""Floats that one rectangle takes in `pane_data` and `guide_data`."""


class Rectangle:
    """One rectangle read from a buffer inside the kernel."""

    def __init__(self, data, index: int):
        at = index * STRIDE

        def vector(k):
            return mi.Vector3f(*(dr.gather(mi.Float, data, mi.UInt(at + k + i)) for i in range(3)))

        self.centre, self.half_u, self.half_v = mi.Point3f(vector(0)), vector(3), vector(6)
        self.normal, self.dual_u, self.dual_v = vector(9), vector(12), vector(15)
        self.area, self.extra, self.extra2 = (
            dr.gather(mi.Float, data, mi.UInt(at + 18 + i)) for i in range(3))

    def cross(self, origin, direction):
        """Return (distance, cosine, inside) of a ray with the rectangle; distance may be < 0."""
        cosine = dr.dot(direction, self.normal)
        safe = dr.select(dr.abs(cosine) < 1e-7, 1e-7, cosine)
        distance = dr.dot(self.centre - origin, self.normal) / safe
        offset = origin + direction * distance - self.centre
        inside = (dr.abs(dr.dot(offset, self.dual_u)) <= 1) & (
            dr.abs(dr.dot(offset, self.dual_v)) <= 1) & (distance > 1e-5)
        return distance, dr.abs(cosine), inside
