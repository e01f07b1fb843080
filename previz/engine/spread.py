"""Numbers that fill the unit interval evenly, for the choices that matter most.

A pixel's samples visit its own area, the pupil, the first sample of each lamp, and directions in which
paths go on from their first point. Chosen freely they clump; a Kronecker sequence from a random
start, x_k = frac(start + k · step), fills the interval evenly for any number of samples. Each number
taken alone is even and random, so nothing is biased; passes start anew, so their spread still gives
the variance.

Source: additive recurrences with irrational steps, Niederreiter, "Random Number Generation and
Quasi-Monte Carlo Methods", 1992 (from memory).
"""

from __future__ import annotations

from previz.engine.jit import mi

_PLASTIC = 1.2207440846057596
"""The root of x⁴ = x + 1; its powers are steps that go well together in three dimensions."""

STEPS = tuple(int(step % 1 * 2**32) for step in (
    1 / _PLASTIC, 1 / _PLASTIC**2, 1 / _PLASTIC**3, 7**0.5, 11**0.5, 13**0.5, 17**0.5, 19**0.5))
"""Steps in 1/2³²: three and one for a sample of a lamp and how it gets there, four for a pixel's ray,
one for whether that scatters. For a direction too: how it is drawn, by which lobe, and a point."""

FOR_LAMPS, FOR_RAY, FOR_HAZE, FOR_DIRECTION = (0, 1, 2, 3), (3, 4, 5, 6), (7,), (0, 3, 1, 2)


class Spread:
    """A source of evenly spread numbers, in place of a random generator.

    The thread's `key` is its start of every sequence, `slot` the number of what the sequence is for
    among those of one thread, `index` how many of its numbers have been taken (UInt), and
    `dimensions` say which of `STEPS` come one after the other.
    """

    def __init__(self, key, slot, index, dimensions):
        self.key, self.slot, self.index = key, mi.UInt(slot), index
        self.left, self.starts = list(dimensions), []

    def next_float32(self):
        """Return the next number, in [0, 1)."""
        dimension = self.left.pop(0)
        if not self.starts:
            # Two at a time: to scramble takes longest.
            self.starts = list(mi.sample_tea_32(self.key, self.slot * len(STEPS) + dimension))
        start = self.starts.pop(0)
        whole = start + self.index * mi.UInt(STEPS[dimension])
        # The upper 24 bits are all that a single-precision number holds.
        return mi.Float(whole >> 8) * (1 / 2**24)
