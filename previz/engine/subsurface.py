"""Light under the skin: where light that leaves a point of it had come in.

Light enters skin, wanders a little and leaves nearby; red light goes farthest, which softens the
edge of a shadow and reddens it. What leaves a point is the albedo times the light that arrives
round about, weighed by a profile of the distance that sums to one in every band: an even light
gives exactly what matt skin gives, and no light is made.

A part of the profile, in each band its own, is so narrow that light leaves where it came in. For
the rest one point is drawn from the profile of red light, and projected along the normal; other
bands take a smaller part of what arrives there. Both points sample the same place of a lamp, so
where both are lit alike, no noise comes of it. Only light that a lamp sends straight to what the
camera sees, itself or in a mirror, is treated so; bounced light takes skin as matt, and so does
the part of a broad lamp's light that paths run into.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.hit import Hit
from previz.engine.jit import dr, mi
from previz.physics.bands import band_means
from previz.physics.skin import SEEP_VARIANCE, seep_shares

NARROW = 0.1
"""Variance of a Gaussian up to which light leaves where it came in: 0.3 mm. [mm²]"""

FARTHEST = 9.0
"""Distance beyond which light leaves where it came in: over three times the widest. [mm]"""


class Profile:
    """The wide part of the profile, as plain numbers.

    Attributes
    ----------
    variances, probabilities : list of float
        Of each Gaussian that is not narrow [mm²]; how often a distance is drawn from it.
    shares : list of list of float
        Gaussian, band -> share of all light that leaves.
    """

    def __init__(self, bands):
        wide = SEEP_VARIANCE > NARROW
        shares = seep_shares()[wide]
        farthest = shares[:, np.argmax(shares.sum(axis=0))]
        self.variances = SEEP_VARIANCE[wide].tolist()
        self.probabilities = (farthest / farthest.sum()).tolist()
        self.shares = band_means(shares, bands).tolist()

    def draw(self, number):
        """Return the square of a distance, drawn by one number from 0 to 1. [mm²]"""
        square, passed = mi.Float(0), 0.0
        for variance, probability in zip(self.variances, self.probabilities, strict=True):
            part = (number - passed) / probability
            drawn = -2 * variance * dr.log(dr.clip(1 - part, 1e-7, 1))
            square = dr.select(part >= 0, drawn, square)
            passed += probability
        return square

    def parts(self, square):
        """Return for each band how much of its light came in at a distance so drawn.

        Its own profile over the one that is drawn from. As red light goes farthest, none is above
        one, and what is left of each band leaves where it came in.
        """
        heights = [dr.exp(-0.5 * square / v) / v for v in self.variances]
        drawn = sum(c * h for c, h in zip(self.probabilities, heights, strict=True))
        return [sum(s * h for s, h in zip(own, heights, strict=True)) / dr.maximum(drawn, 1e-20)
                for own in zip(*self.shares, strict=True)]


class Entry:
    """Where light came in, for paths that have hit skin.

    Light reaches so far under their surface [mm], and `where`, a Point2f, picks the distance and the
    bearing. A point was found where `active`; elsewhere light comes in where it leaves. The points are
    a `place`, and `parts` how much of each band's light came in there.
    """

    def __init__(self, buffers, hit, reach, active, where):
        def level_of(normal):
            return mi.Vector3f(normal) if buffers.has_relief else None

        def found(skin, point, normal, size, number, turn):
            square = buffers.seep.draw(number)
            near = skin & (square < FARTHEST**2)
            away, half = dr.sqrt(square), dr.safe_sqrt(FARTHEST**2 - square)
            sine, cosine = dr.sincos(dr.two_pi * turn)
            frame = mi.Frame3f(normal)
            over = away * (cosine * frame.s + sine * frame.t) + half * normal
            ray = mi.Ray3f(point + size * over, -normal)
            ray.maxt = 2 * half * size
            there = Hit(buffers, ray, near)
            also = dr.gather(mi.Float, buffers.body, there.surface * 4 + 3, there.valid) > 0
            return (there.valid & also, mi.Point3f(there.point), mi.Vector3f(there.normal),
                    mi.Vector3f(there.side), mi.Bool(there.rounded), level_of(there.level),
                    *buffers.seep.parts(square))

        def none(skin, point, normal, size, number, turn):
            flat = mi.Vector3f(normal)
            return (mi.Bool(False), mi.Point3f(point), flat, mi.Vector3f(flat), mi.Bool(False),
                    level_of(flat), *(mi.Float(0) for _ in range(buffers.bands)))

        # A branch, as most paths are not on skin and are then spared all of it.
        skin, size = active & (reach > 0), 1e-3 * reach
        self.active, point, normal, side, rounded, level, *self.parts = dr.if_stmt(
            (skin, mi.Point3f(hit.point), mi.Vector3f(hit.level), size, where.x, where.y), skin,
            found, none)
        self.place = Place(point, normal, side, rounded, normal if level is None else level)


@dataclass(frozen=True, eq=False)
class Place:
    """A point of a surface: where it is, its normal, its face's, whether that is rounded, and its level."""

    point: mi.Point3f
    normal: mi.Vector3f
    side: mi.Vector3f
    rounded: mi.Bool
    level: mi.Vector3f
