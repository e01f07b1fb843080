"""Numbers on the device, and rectangles read from them inside the kernel."""

from __future__ import annotations

import numpy as np

from previz.engine.jit import dr, mi
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


def vectors(rows, kind=None):
    """Return the rows of a numpy array of shape (n, 3) as vectors, or points, on the device."""
    return (kind or mi.Vector3f)(*(on_device(mi.Float, rows[:, k]) for k in range(3)))


def generator(seed, thread):
    """Return a random generator for each thread."""
    v0, v1 = mi.sample_tea_32(seed, thread)
    return mi.PCG32(initstate=mi.UInt64(v0), initseq=mi.UInt64(v1))


def number(data, at):
    """Return a number of a flat table of floats."""
    return dr.gather(mi.Float, data, mi.UInt(at))


def vector(data, at, kind=None):
    """Return three numbers of a flat table that follow each other, as a vector or a point."""
    return (kind or mi.Vector3f)(*(number(data, at + k) for k in range(3)))


def read_four(data, at, active=True, kind=None):
    """Return the four numbers of a flat table that lie together at an index of fours, floats by default.

    On the processor one number for each lane is a load and a branch for each, and four at once
    cost hardly more: a kernel that reads all it can so takes two thirds of the time.
    """
    return dr.gather(kind or mi.Vector4f, data, at, active)


def by_turns(number, count):
    """Return (quotient, remainder) of whole numbers, exact below a million and never out of range. UInt

    By floats, as processors divide whole numbers of a vector one by one.
    """
    quotient = mi.UInt((mi.Float(number) + 0.5) / mi.Float(count))
    return quotient, dr.minimum(number - quotient * count, count - 1)


def first_three(four, kind=None):
    """Return the first three of four numbers as a vector, a point or a colour."""
    return (kind or mi.Vector3f)(four[0], four[1], four[2])


def read_row(data, row, width: int, active=True) -> list:
    """Return a row of a flat table with `width` numbers a row, a list of Float."""
    if width % 4:
        return [dr.gather(mi.Float, data, row * width + k, active) for k in range(width)]
    fours = width // 4
    return [number for k in range(fours) for number in read_four(data, row * fours + k, active)]


def write_row(data, row, values: list) -> None:
    """Write numbers to a row of a flat table that no other lane writes to."""
    width = len(values)
    if width % 4:
        for k, value in enumerate(values):
            dr.scatter(data, value, row * width + k, mode=dr.ReduceMode.NoConflicts)
        return
    fours = width // 4
    for k in range(fours):
        dr.scatter(data, mi.Vector4f(*values[4 * k:4 * k + 4]), row * fours + k,
                   mode=dr.ReduceMode.NoConflicts)


def add_to_row(sums, row, values: list, active) -> None:
    """Add numbers to a row of a flat table that no other lane writes to."""
    def add(value, index):
        dr.scatter_reduce(dr.ReduceOp.Add, sums, value, index, active,
                          mode=dr.ReduceMode.NoConflicts)

    width = len(values)
    if width % 4:
        for k, value in enumerate(values):
            add(value, row * width + k)
        return
    fours = width // 4
    for k in range(fours):
        add(mi.Vector4f(*values[4 * k:4 * k + 4]), row * fours + k)


def put(record, where, **values) -> None:
    """Set fields of a record in the lanes where a mask is true."""
    for name, value in values.items():
        setattr(record, name, dr.select(where, value, getattr(record, name)))


def either(where, values: list, others: list) -> list:
    """Return, band by band, the first values where a mask is true and the others elsewhere."""
    return [dr.select(where, a, b) for a, b in zip(values, others, strict=True)]


def times(values: list, factors: list) -> list:
    """Return the product of two lists over the bands; the second may hold one factor for all."""
    each = factors if len(factors) > 1 else factors * len(values)
    return [v * f for v, f in zip(values, each, strict=True)]


STRIDE = 22
"""Floats that one rectangle takes in `pane_data` and `guide_data`."""


class Rectangle:
    """One rectangle read from a buffer inside the kernel."""

    def __init__(self, data, index: int):
        at = index * STRIDE
        self.centre = vector(data, at, mi.Point3f)
        self.half_u, self.half_v, self.normal, self.dual_u, self.dual_v = (
            vector(data, at + k) for k in (3, 6, 9, 12, 15))
        self.area, self.extra, self.extra2, self.extra3 = (number(data, at + 18 + i) for i in range(4))

    def cross(self, origin, direction):
        """Return (distance, cosine, inside) of a ray with the rectangle; distance may be < 0."""
        cosine = dr.dot(direction, self.normal)
        safe = dr.select(dr.abs(cosine) < 1e-7, 1e-7, cosine)
        distance = dr.dot(self.centre - origin, self.normal) / safe
        offset = origin + direction * distance - self.centre
        inside = (dr.abs(dr.dot(offset, self.dual_u)) <= 1) & (
            dr.abs(dr.dot(offset, self.dual_v)) <= 1) & (distance > 1e-5)
        return distance, dr.abs(cosine), inside
