"""What a picture is made of: lamps' light over regions, a camera's gains and a curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.physics.arrays import FloatArray

GREY = 0.18
"""Signal that the curve leaves where it is. [1]"""

KNOTS = (-8.0, -5.0, -3.0, -1.0, 1.0, 2.5, 4.5, 7.0)
"""Where the curve's slope is free, from grey. [stops]"""

PLAIN, CLIPPED, CRUSHED, LEFT_OUT = 0, 1, 2, 3
"""What is known of a region in a channel: its value; that it is at least, or at most that; nothing."""

LOWEST, HIGHEST = -14.0, 9.0
"""Levels that are tried, from full. [stops]"""

_LEVEL_PULL, _COLOUR_PULL, _GAIN_PULL = 8.0, 250.0, 6.0
"""Standard deviations of what draws to where the scene has it: it decides only where the picture does not.
[stops, mired, stops]"""

FLOOR = 2.0**-12
"""Part of a region's light under which a channel is not told from none. [1]"""


@dataclass(frozen=True, eq=False)
class LampTable:
    """What one lamp gives.

    Parameters
    ----------
    name : str
    xyz : float array, shape (colour, region, 3)
        At full level, at each colour. [cd/m²]
    mired : tuple of float
        Of the colours, evenly spaced and rising; one for a lamp whose colour stays. [mired]
    level : float
        That the scene has. [stops from full]
    colour : float
        That the scene has. [mired]
    """

    name: str
    xyz: FloatArray
    mired: tuple[float, ...]
    level: float
    colour: float

    @property
    def free(self) -> bool:
        """Whether its colour may change."""
        return len(self.mired) > 1

    def at(self, mired: float) -> tuple[FloatArray, FloatArray]:
        """Return X, Y, Z at a colour, and their change by mired; each of shape (region, 3).

        Cubic between the knots, its slopes those of the neighbours.
        """
        if not self.free:
            return self.xyz[0], np.zeros_like(self.xyz[0])
        knots, count = np.asarray(self.mired), len(self.mired)
        step = float(knots[1] - knots[0])
        place = min(max((mired - knots[0]) / step, 0.0), count - 1.0)
        k = min(int(place), count - 2)
        t = place - k
        y0, y1 = self.xyz[k], self.xyz[k + 1]
        d0 = (y1 - self.xyz[k - 1]) / 2 if k > 0 else y1 - y0
        d1 = (self.xyz[k + 2] - y0) / 2 if k + 2 < count else y1 - y0
        value = (y0 * (1 + 2 * t) * (1 - t) ** 2 + d0 * t * (1 - t) ** 2 + y1 * t**2 * (3 - 2 * t)
                 + d1 * t**2 * (t - 1))
        slope = (y0 * 6 * t * (t - 1) + d0 * (1 - 4 * t + 3 * t**2) + y1 * 6 * t * (1 - t)
                 + d1 * t * (3 * t - 2))
        return value, slope / step


@dataclass(frozen=True, eq=False)
class Regions:
    """A picture in regions, by channel.

    Parameters
    ----------
    value : float array, shape (region, 3)
        Mean linear light of its pixels, before the curve is undone. [1]
    state : int array, shape (region, 3)
        `PLAIN`, `CLIPPED`, `CRUSHED` or `LEFT_OUT`.
    error : float array, shape (region, 3)
        Standard error of the value as it is displayed: steps of its code, structure. [stops]
    noise : float array, shape (lamp, region)
        Standard error of what each lamp gives at full level, over the luminance. [cd/m²]
    block : int array, shape (region,)
        Part of the picture that it lies in: what is wrong in a part is wrong in all of it alike.
    weight : float array, shape (region,)
        Pixels. [1]
    """

    value: FloatArray
    state: np.ndarray
    error: FloatArray
    noise: FloatArray
    block: np.ndarray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class PictureFit:
    """What fits a picture best.

    Parameters
    ----------
    levels : float array, shape (lamp,)
        [stops from full]
    colours : float array, shape (lamp,)
        [mired]
    gains : float array, shape (3,)
        Of the cones, white as 1. [stops, of 1/(cd/m²)]
    slopes : float array, shape (knot,)
        Logarithm of the curve's slope at `KNOTS`.
    covariance : float array, shape (parameter, parameter)
        Of levels, colours, gains and slopes, in that order.
    residual : float array, shape (region, 3)
        Picture over fit, in scene light; nan where it says nothing. [stops]
    expected : float array, shape (region,)
        Standard error that is expected of what it has alike. [stops]
    share : float array, shape (lamp, region)
        Of the region's luminance. [1]
    luminance : float array, shape (region,)
        Of the scene that was found. [cd/m²]
    scatter : float
        Robust standard deviation of what is not explained, before the curve. [stops]
    unlikely : float array, shape (region,)
        Of what is left before the curve, the more so the larger; nan where not all channels are known. Its
        mean over regions that are known to both compares two fits. [1]
    noise : float
        Part of the expected variance, in the middle, that is noise of the lamps' own light. [1]
    """

    levels: FloatArray
    colours: FloatArray
    gains: FloatArray
    slopes: FloatArray
    covariance: FloatArray
    residual: FloatArray
    expected: FloatArray
    share: FloatArray
    luminance: FloatArray
    scatter: float
    unlikely: FloatArray
    noise: float


def curve(stops: FloatArray, slopes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where a curve takes stops from grey, and its slope there; beyond the knots it runs straight.

    The integral of exp(straight line) between two knots is exact, so that it rises everywhere.
    """
    knots = np.asarray(KNOTS)
    log_slope = np.interp(stops, knots, slopes)
    ends = np.diff(slopes)
    whole = np.diff(knots) * np.exp(slopes[:-1]) * _mean_exp(ends)
    before = np.concatenate([[0.0], np.cumsum(whole)])

    def run(x: FloatArray) -> FloatArray:
        k = np.clip(np.searchsorted(knots, x, side="right") - 1, 0, len(knots) - 2)
        inside = np.clip(x, knots[0], knots[-1])
        part = (inside - knots[k]) / (knots[k + 1] - knots[k])
        made = before[k] + (inside - knots[k]) * np.exp(slopes[k]) * _mean_exp(part * ends[k])
        return (made + np.minimum(x - knots[0], 0) * np.exp(slopes[0])
                + np.maximum(x - knots[-1], 0) * np.exp(slopes[-1]))

    return run(np.asarray(stops, float)) - run(np.zeros(1))[0], np.exp(log_slope)


def _mean_exp(x: FloatArray) -> FloatArray:
    """Return (exp(x) - 1) / x, 1 at 0."""
    near = np.abs(x) < 1e-5
    safe = np.where(near, 1.0, x)
    return np.where(near, 1 + x / 2, np.expm1(safe) / safe)


def uncurved(stops: FloatArray, slopes: FloatArray) -> FloatArray:
    """Return what a curve takes to these stops from grey: its inverse, by a table."""
    table = np.linspace(KNOTS[0] - 6, KNOTS[-1] + 4, 4001)
    made, _ = curve(table, slopes)
    return np.interp(stops, made, table)


class Model:
    """Parameters in, stops of each region and channel out, with all derivatives."""

    def __init__(self, lamps: Sequence[LampTable], from_cones: FloatArray, cones_from_xyz: FloatArray,
                 gains: FloatArray, slopes: FloatArray, slope_pull: float = 1.0):
        self.lamps, self.from_cones = list(lamps), np.asarray(from_cones, float)
        self.cones = [LampTable(each.name, each.xyz @ np.asarray(cones_from_xyz).T, each.mired, each.level,
                                each.colour) for each in lamps]
        self.free = [n for n, each in enumerate(lamps) if each.free]
        self.count = len(self.lamps)
        self.own = np.concatenate([[each.level for each in lamps], [lamps[n].colour for n in self.free],
                                   gains, slopes])
        pulls = [(_LEVEL_PULL, self.count), (_COLOUR_PULL, len(self.free)), (_GAIN_PULL, 3),
                 (slope_pull, len(slopes))]
        self.pull = np.concatenate([np.full(n, size) for size, n in pulls])
        low = [(LOWEST, self.count), *((lamps[n].mired[0], 1) for n in self.free), (-40.0, 3),
               (-3.5, len(slopes))]
        high = [(HIGHEST, self.count), *((lamps[n].mired[-1], 1) for n in self.free), (40.0, 3),
                (1.1, len(slopes))]
        self.low, self.high = (np.concatenate([np.full(n, value) for value, n in ends])
                               for ends in (low, high))

    def parts(self, found: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return levels, colours of all lamps, gains and slopes of a parameter vector."""
        first, second = self.count, self.count + len(self.free)
        colours = np.array([each.colour for each in self.lamps])
        colours[self.free] = found[first:second]
        return found[:first], colours, found[second:second + 3], found[second + 3:]

    def light(self, found: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the channels of each lamp as it is set, their change by mired, and of each cone.

        Shapes (lamp, region, 3), (lamp, region, 3) and (cone, region, 3).
        """
        levels, colours, gains, _ = self.parts(found)
        mixed = self.from_cones * 2.0**gains
        each = [table.at(colour) for table, colour in zip(self.cones, colours, strict=True)]
        value = np.stack([2.0**level * one for level, (one, _) in zip(levels, each, strict=True)])
        slope = np.stack([2.0**level * two for level, (_, two) in zip(levels, each, strict=True)])
        whole = value.sum(axis=0)
        cones = np.stack([whole[:, [c]] * mixed[:, c] for c in range(3)])
        return value @ mixed.T, slope @ mixed.T, cones

    def stops(self, found: FloatArray, derivative: bool = True) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return stops from grey before the curve, after it, and the derivative of the latter.

        Shapes (region, 3), (region, 3) and (parameter, region, 3).
        """
        slopes = self.parts(found)[3]
        lamps, bent, cones = self.light(found)
        whole = lamps.sum(axis=0)
        least = FLOOR * np.maximum(whole.max(axis=1, keepdims=True), 1e-30)
        # Under the floor a channel has a smooth end: light beyond the primaries.
        safe = 0.5 * (whole + np.sqrt(whole**2 + (2 * least) ** 2))
        before = np.log2(safe / GREY)
        after, steep = curve(before, slopes)
        if not derivative:
            return before, after, np.empty(0)
        inner = steep * (0.5 * (1 + whole / np.sqrt(whole**2 + (2 * least) ** 2))) / safe / np.log(2)
        made = np.empty((len(found), *whole.shape))
        n, m = self.count, self.count + len(self.free)
        made[:n] = lamps * np.log(2) * inner
        made[n:m] = bent[self.free] * inner
        made[m:m + 3] = cones * np.log(2) * inner
        for k in range(len(slopes)):
            moved = slopes.copy()
            moved[k] += 1e-5
            made[m + 3 + k] = (curve(before, moved)[0] - after) / 1e-5
        return before, after, made


def luminances(model: Model, found: FloatArray) -> FloatArray:
    """Return what each lamp gives to each region as it is set. Shape (lamp, region) [cd/m²]"""
    levels, colours, _, _ = model.parts(found)
    return np.stack([2.0**level * table.at(colour)[0][:, 1]
                     for level, colour, table in zip(levels, colours, model.lamps, strict=True)])
