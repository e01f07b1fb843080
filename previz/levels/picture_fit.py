"""Levels and colours of lamps from a picture: what each of them gives in each region is known.

A picture's light in region r and channel i is

    v = curve(P · diag(gains) · B · sum over lamps of 2^level · XYZ(lamp at its colour, r))

with B the cones of the Bradford transform, gains the exposure and the white balance, P from cones to the
picture's primaries, and a curve that rises smoothly: the logarithm of its slope runs straight from knot to
knot. All is fitted together, in stops: levels [stops from full], colours [mired], gains [stops], slopes.

A common factor on all levels is the same picture as a wider stop, and a common shift of all colours nearly
the same as another balance. So levels are told against each other, and so are colours where nothing else
holds them; see `picture_answer`.
"""

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

_FLOOR = 2.0**-12
"""Part of a region's light under which a channel is not told from none. [1]"""

_ROUNDS = 6
"""How often noise is weighed anew."""

_APART = np.array([[1, 1, 1], [1, 0, -1], [1, -2, 1]]) / np.sqrt([[3.0], [2.0], [6.0]])
"""From channels to what they have alike and two differences: noise of the light is alike in all of them, so
that colours are known better than levels."""

SOFT = 2.0
"""Expected errors from which on a region counts less the further it is off (soft l1). [1]"""

_ELSE = 0.01
"""Spread of what is not noise where too few regions tell it. [stops]"""

_TIMES = np.array([0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0])
_EVEN = np.geomspace(0.0005, 1.0, 23)
"""Of the lamps' own noise, for that of the picture, and of all else: what is tried. [1, stops]"""

_FARTHEST, _GIVEN = 1.0, 0.03
"""Stops that a level may go by what is taken off as noise; of a lamp that gives this part somewhere."""

_EVENLY = 0.831
"""Scale of Student's t of four degrees of freedom that fits a normal distribution best. [1]"""

_MOST_NOISE = 0.5
"""Part of what the equations know of anything that may be taken off as noise. [1]"""


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


def _spread(rest: FloatArray, fixed: FloatArray, noise: FloatArray,
            steep: FloatArray) -> tuple[float, float]:
    """Return how many times the noise there is, and what else, as they make what is left likeliest.

    In [1] and [stops].

    Parameters
    ----------
    rest : float array, shape (region,)
        What is left. [stops]
    fixed, noise : float array, shape (region,)
        Variance that is known, and that of the lamps' light as the curve passes it on. [stops²]
    steep : float array, shape (region,)
        The curve's slope. [1]
    """
    times, even = (each.ravel()[:, None] for each in np.meshgrid(_TIMES, _EVEN))
    square = fixed + times**2 * noise + (even * steep) ** 2
    # What stands far out, as a thing that is not in the scene, hardly counts: Student's t of four degrees of
    # freedom, whose scale for what is spread evenly is `_EVENLY` of the standard deviation.
    loss = 2.5 * np.log1p(rest**2 / (4 * _EVENLY**2 * square))
    best = int(np.argmin((loss + 0.5 * np.log(square)).sum(axis=1)))
    return float(times[best, 0]), float(even[best, 0])


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
        least = _FLOOR * np.maximum(whole.max(axis=1, keepdims=True), 1e-30)
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


class _Problem:
    """Weighted residuals of a model against a picture, the pulls beneath them.

    Noise in what a lamp is known to give answers to no light in the picture and so would draw its level
    down, a faint lamp's most (errors in variables). Its size is known, so what it adds to the derivative of
    the cost (`pushed`, by region) and to the normal equations (`excess`) is taken off again.

    Source: corrected scores: Nakamura, Biometrika 77 (1990), from memory.
    """

    def __init__(self, model: Model, regions: Regions, cleaned: bool = False):
        self.model, self.regions, self.cleaned = model, regions, cleaned
        self.seen = np.log2(np.maximum(regions.value, 1e-6) / GREY)
        self.used = regions.state != LEFT_OUT
        self.whole = (regions.state == PLAIN).all(axis=1)
        # Of what channels have alike and their two differences; where one is beyond, of each channel.
        self.error = np.hypot(regions.error, 0.03)
        self.error[self.whole] = np.sqrt((self.error[self.whole] ** 2).mean(axis=1, keepdims=True))
        self.pushed, self.excess = self._none()
        self.unknown = np.zeros_like(self.excess)
        self.weighed, self.noise = model.own, 0.0
        self._last: tuple[bytes, FloatArray, FloatArray] | None = None

    def weigh(self, found: FloatArray) -> None:
        """Take in the noise of the lamps' light, as the curve passes it on, and how far the rest spreads."""
        _, _, _, slopes = self.model.parts(found)
        before, _, _ = self.model.stops(found, derivative=False)
        steep = curve(before, slopes)[1]
        fixed = self.regions.error**2 + 0.001**2
        # Regions that are whole have one error of each kind, which channels share.
        for each in (fixed, steep):
            each[self.whole] = np.sqrt((each[self.whole] ** 2).mean(axis=1, keepdims=True))
        self.error = np.ones_like(fixed)
        self._last = None
        rest, slope = self._made(found)
        # A lamp's noise is alike in all channels of its own colour: less of it is in what they have apart.
        noise = ((slope[:self.model.count] * self._relative(found)[..., None] / np.log(2)) ** 2).sum(axis=0)
        spread = [(1.0, _ELSE)] * 3
        if self.whole.sum() > 3 * len(found) / 2:
            spread = [_spread(*(each[self.whole, k] for each in (rest, fixed, noise, steep)))
                      for k in range(3)]
        times, even = np.array(spread).T
        square = np.where(self.whole[:, None], (times**2 * noise) + (even * steep) ** 2,
                          times[0] ** 2 * noise + (even[0] * steep) ** 2 / 3)
        self.error, self._last = np.sqrt(fixed + square), None
        self.noise = float(np.median((noise[:, 0] / (fixed + square)[:, 0])[self.used[:, 0]]))
        self._take_off(found)

    def _relative(self, found: FloatArray) -> FloatArray:
        """Return the noise of each lamp's light over that light. Shape (lamp, region) [1]"""
        given = luminances(self.model, found)
        return np.asarray(2.0 ** found[:self.model.count, None] * self.regions.noise
                          / np.maximum(given, 1e-30), float)

    def _none(self) -> tuple[FloatArray, FloatArray]:
        count = len(self.model.own)
        return np.zeros((count, len(self.regions.value))), np.zeros((count, count))

    def _take_off(self, found: FloatArray) -> None:
        """Find what the noise of the lamps' light adds to the derivative of the cost and to the equations.

        A lamp that has x more than it seems changes what is left by its slope, S x, and each slope by G x:
        its own up, and all as there is more light. Their products do not vanish in the mean.
        """
        off, slope = self._made(found)
        weight = np.where(self.used, 1 / np.sqrt(1 + (off / SOFT) ** 2), 0.0)
        n, free = self.model.count, self.model.free
        lit = self.model.light(found)[0]
        whole = np.maximum(lit.sum(axis=0), _FLOOR * np.abs(lit.sum(axis=0)).max(axis=1, keepdims=True))
        share = lit / np.maximum(whole, 1e-30)
        m = n + len(free)
        own = np.zeros((m, n))
        own[np.arange(n), np.arange(n)] = own[n + np.arange(len(free)), free] = 1.0
        relative = self._relative(found)
        plain = self._apart(-self._plain[:m, None] * share[None]) / self.error
        moved = (own[:, :, None, None] * slope[:m, None] - plain) * relative[None, :, :, None]
        pushed, excess = self._none()
        pushed[:m] = np.einsum("rk,pqrk,qrk->pr", weight, moved,
                               slope[:n] * relative[:, :, None]) / np.log(2)
        flat = (moved * np.sqrt(weight)).reshape(m, -1)
        excess[:m, :m] = flat @ flat.T
        # Where it is nearly all that there is, half is left.
        normal = np.einsum("prk,qrk->pq", weight * slope[:m], slope[:m]) + np.diag(self.model.pull[:m]**-2.0)
        size, turn = np.linalg.eigh(normal)
        root, back = turn * np.sqrt(size) @ turn.T, turn / np.sqrt(size) @ turn.T
        part, axes = np.linalg.eigh(back @ excess[:m, :m] @ back)
        kept = root @ (axes * np.minimum(1, _MOST_NOISE / np.maximum(part, 1e-12))) @ axes.T @ back
        pushed[:m] = kept @ pushed[:m]
        excess[:m, :m] = root @ (axes * np.minimum(part, _MOST_NOISE)) @ axes.T @ root
        rounds = np.minimum(part, _MOST_NOISE)
        # What is taken off is known to a third; each round on cleaned light leaves a part as large as itself.
        left = rounds**3 if self.cleaned else -np.log2(1 - rounds) / 3
        # Half of the round before, as one may undo the other.
        if not self.cleaned:
            self.pushed = (self.pushed + pushed) / 2 if self.pushed.any() else pushed
        self.excess, self.weighed = excess, found.copy()
        # What is mostly noise may be a stop off, for the lamp that it is most of.
        ways = back @ axes
        ways = ways / np.maximum(np.abs(ways[:n]).max(axis=0), 1e-12)
        ways = ways * np.where(part < _MOST_NOISE, left, 1.0)
        self.unknown = self._none()[1]
        self.unknown[:m, :m] = ways @ ways.T

    def _apart(self, values: FloatArray) -> FloatArray:
        """Return numbers of channels, of shape (..., region, 3), as those of kinds where it is whole."""
        values[..., self.whole, :] = values[..., self.whole, :] @ _APART.T
        return values

    def _made(self, found: FloatArray) -> tuple[FloatArray, FloatArray]:
        key = found.tobytes()
        if self._last is None or self._last[0] != key:
            _, after, made = self.model.stops(found)
            state = self.regions.state
            off, slope = self.seen - after, -made
            quiet = ~self.used | ((state == CLIPPED) & (off < 0)) | ((state == CRUSHED) & (off > 0))
            off, slope = np.where(quiet, 0.0, off), np.where(quiet, 0.0, slope)
            self._plain = -slope
            off, slope = self._apart(off) / self.error, self._apart(slope.copy()) / self.error
            self._last = (key, off, slope)
        return self._last[1], self._last[2]

    def residuals(self, found: FloatArray) -> FloatArray:
        """Return what is off over its expected error, then the pulls. [1]"""
        return np.concatenate([self._made(found)[0][self.used],
                               (found - self.model.own) / self.model.pull])

    def normal(self, found: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Return the robust cost, its derivative, and the matrix of the weighted normal equations."""
        off, slope = self._made(found)
        off, slope = off[self.used], slope[:, self.used]
        root = np.sqrt(1 + (off / SOFT) ** 2)
        pull = (found - self.model.own) / self.model.pull
        cost = float(SOFT**2 * (root - 1).sum() + 0.5 * (pull**2).sum())
        weighed, noise = slope / root, self.pushed.sum(axis=1)
        pushed = np.einsum("pr,r->p", weighed, off) + pull / self.model.pull
        bread = np.einsum("pr,qr->pq", weighed, slope) + np.diag(self.model.pull**-2.0)
        return cost - float(noise @ (found - self.weighed)), pushed - noise, bread

    def jacobian(self, found: FloatArray) -> FloatArray:
        """Return the derivative of `residuals`."""
        slope = self._made(found)[1][:, self.used].T
        return np.concatenate([slope, np.diag(1 / self.model.pull)])


def luminances(model: Model, found: FloatArray) -> FloatArray:
    """Return what each lamp gives to each region as it is set. Shape (lamp, region) [cd/m²]"""
    levels, colours, _, _ = model.parts(found)
    return np.stack([2.0**level * table.at(colour)[0][:, 1]
                     for level, colour, table in zip(levels, colours, model.lamps, strict=True)])


def fit_picture(lamps: Sequence[LampTable], regions: Regions, *, from_cones: FloatArray,
                cones_from_xyz: FloatArray, gains: FloatArray, slopes: FloatArray,
                slope_pull: float = 1.0, begin: PictureFit | None = None) -> PictureFit:
    """Return the levels, colours, gains and curve that explain a picture best.

    Several beginnings are tried: the scene as it is, lamps that each give alike, and levels that bring the
    luminance nearest without any curve. Robust least squares (soft l1) with bounds; errors are those of least
    squares plus those between parts of the picture, so that what is wrong in a part alike counts as one.

    Parameters
    ----------
    lamps : sequence of LampTable
        At least one.
    regions : Regions
    from_cones : float array, shape (3, 3)
        To the picture's primaries, white (1, 1, 1) to white.
    cones_from_xyz : float array, shape (3, 3)
    gains : float array, shape (3,)
        As the camera is set. [stops]
    slopes : float array, shape (knot,)
        That the curve is drawn to.
    slope_pull : float
        How far from there slopes may well be: a standard deviation of their logarithms. [1]
    begin : PictureFit, optional
        Of lamps whose mix, cleaned, the picture was brought to, so that their noise is not in it: where to go
        on from, its curve apart.

    Raises
    ------
    ValueError
        The picture has no region that says anything, or no lamp.

    Source
    ------
    Sandwich of clusters: Liang and Zeger, Biometrika 73 (1986); its rests made good for leverage to first
    order: Bell and McCaffrey, Survey Methodology 28 (2002); from memory.
    """
    if not lamps or not (regions.state == PLAIN).any():
        raise ValueError("there is nothing to fit: no lamp, or no region that is neither clipped nor crushed")
    model = Model(lamps, from_cones, cones_from_xyz, np.asarray(gains, float), np.asarray(slopes, float),
                  slope_pull)
    problem = _Problem(model, regions, begin is not None)
    if begin is None:
        tried = [_solved(problem, start, 20, 1e-3) for start in _starts(model, problem)]
        best = min(tried, key=lambda each: each[1])[0]
    else:
        best = np.concatenate([begin.levels, begin.colours[model.free], begin.gains, np.zeros(len(slopes))])
    plain = best
    for number in range(_ROUNDS):
        problem.weigh(best)
        if number == 0:
            problem.pushed = np.zeros_like(problem.pushed)
        best, _ = _solved(problem, best, 60, 1e-6)
        plain = best if number == 0 else plain
    far = _moved(model, plain, best)
    if far.max(initial=0.0) > _FARTHEST:
        # So much noise that what is taken off runs away: it stays, and what it may be is said.
        best, problem.cleaned = plain, True
        problem.pushed, _ = problem._none()
        problem.weigh(best)
        best, _ = _solved(problem, best, 60, 1e-6)
        problem.unknown[np.arange(model.count), np.arange(model.count)] += np.minimum(far, _FARTHEST) ** 2
    return _answer(model, problem, best)


def _moved(model: Model, one: FloatArray, other: FloatArray) -> FloatArray:
    """Return how far levels lie apart, against each other, of lamps that give enough to one. [stops]"""
    light = luminances(model, one)
    given = (light / np.maximum(light.sum(axis=0), 1e-30)).max(axis=1) > _GIVEN
    apart = (other - one)[:model.count]
    return np.where(given, np.abs(apart - np.median(apart)), 0.0)


def _starts(model: Model, problem: _Problem) -> list[FloatArray]:
    from scipy.optimize import nnls

    own = model.own.copy()
    plain = (problem.regions.state == PLAIN).all(axis=1)
    plain = plain if plain.sum() > model.count else (problem.regions.state == PLAIN).any(axis=1)
    seen = np.median(problem.regions.value, axis=1)
    at_full = own.copy()
    at_full[:model.count] = 0.0
    each = luminances(model, at_full)
    means = each.mean(axis=1)
    alike = own.copy()
    alike[:model.count] = np.where(means > 0, -np.log2(np.maximum(means, 1e-12)), 0.0)
    alike[:model.count] += np.mean(own[:model.count] - alike[:model.count])
    scaled = each[:, plain] / np.maximum(seen[plain], 1e-6)
    size = np.maximum(np.linalg.norm(scaled, axis=1), 1e-30)
    amounts = nnls((scaled / size[:, None]).T, np.ones(int(plain.sum())))[0] / size
    nearest = own.copy()
    if (amounts > 0).any():
        lowest = amounts[amounts > 0].min() / 16
        nearest[:model.count] = np.log2(np.maximum(amounts, lowest))
    starts = []
    for start in (own, alike, nearest):
        # Each begins at the exposure that puts its middle where the picture has it.
        _, after, _ = model.stops(start, derivative=False)
        gain = model.count + len(model.free)
        moved = start.copy()
        moved[gain:gain + 3] += np.median((problem.seen - after)[plain])
        starts.append(np.clip(moved, model.low + 1e-6, model.high - 1e-6))
    return starts


def _solved(problem: _Problem, start: FloatArray, most: int, close: float) -> tuple[FloatArray, float]:
    """Return the nearest bottom of the robust cost, and the cost, in damped steps of Gauss and Newton.

    What is at its bound and pushed outwards stays there. It is all on one core: the sums are so small that
    waking others for them, as the library's own solvers do, takes ten times as long on a busy machine.

    Source: soft l1 and its weights as in `scipy.optimize.least_squares`; damping after Marquardt (1963),
    from memory.
    """
    low, high = problem.model.low, problem.model.high
    found, damping = np.clip(start, low, high), 1e-2
    cost, pushed, bread = problem.normal(found)
    for _ in range(most):
        held = ((found <= low) & (pushed > 0)) | ((found >= high) & (pushed < 0))
        free = np.flatnonzero(~held)
        inner = bread[np.ix_(free, free)]
        step = np.zeros(len(found))
        step[free] = -np.linalg.solve(inner + damping * np.diag(np.diag(inner)), pushed[free])
        tried = np.clip(found + step, low, high)
        new, new_pushed, new_bread = problem.normal(tried)
        if new >= cost:
            damping *= 6
            if damping > 1e8:
                break
            continue
        done = cost - new <= close * cost
        found, cost, pushed, bread, damping = tried, new, new_pushed, new_bread, max(damping / 6, 1e-9)
        if done:
            break
    return found, cost


def _answer(model: Model, problem: _Problem, found: FloatArray) -> PictureFit:
    levels, colours, gains, slopes = model.parts(found)
    before, after, _ = model.stops(found, derivative=False)
    off = problem.residuals(found)[:int(problem.used.sum())]
    active = off != 0
    scale = max(1.0, 1.4826 * float(np.median(np.abs(off[active])))) if active.any() else 1.0
    light = luminances(model, found)
    whole = light.sum(axis=0)
    steep = curve(before, slopes)[1]
    told = (problem.regions.state == PLAIN) & (steep > 0.05)
    residual = np.where(told, uncurved(problem.seen, slopes) - before, np.nan)
    alike = problem.error[:, 0] / np.where(problem.whole, np.sqrt(3), 1.0)
    expected = alike / np.maximum(steep.mean(axis=1), 0.05)
    scatter = 1.4826 * float(np.nanmedian(np.abs(residual))) if told.any() else 0.0
    each = np.zeros(problem.used.shape)
    each[problem.used] = off
    # How far off over the expected errors, and how large those are, in scene light.
    loss = SOFT**2 * (np.sqrt(1 + (each / SOFT) ** 2) - 1) + np.log(problem.error / np.maximum(steep, 1e-3))
    unlikely = np.where(problem.whole, loss.sum(axis=1), np.nan)
    return PictureFit(levels.copy(), colours, gains.copy(), slopes.copy(),
                      _covariance(model, problem, found, scale), residual, expected,
                      light / np.maximum(whole, 1e-30), whole, scatter, unlikely, problem.noise)


def _covariance(model: Model, problem: _Problem, found: FloatArray, scale: float) -> FloatArray:
    """Return the covariance of all parameters: of what is expected, or of what parts of the picture show.

    The first takes regions as independent, the second parts; of each parameter the larger variance counts.
    """
    count = int(problem.used.sum())
    off, slope = problem.residuals(found)[:count], problem.jacobian(found)[:count]
    # Weights of soft l1: the derivative of the loss.
    weight = 1 / np.sqrt(1 + (off / SOFT) ** 2)
    normal = slope.T @ (weight[:, None] * slope)
    net = normal - problem.excess + np.diag(model.pull**-2.0)
    bread = np.linalg.inv(net)
    regions = np.broadcast_to(np.arange(len(problem.used))[:, None], problem.used.shape)[problem.used]
    blocks = problem.regions.block
    names, numbers = np.unique(blocks, return_inverse=True)
    pushes = np.zeros((len(names), len(found)))
    np.add.at(pushes, numbers[regions], (weight * off)[:, None] * slope)
    np.add.at(pushes, numbers, -problem.pushed.T)
    groups = len(names)
    shown = np.zeros_like(bread)
    for group in range(groups):
        own = numbers[regions] == group
        part = slope[own].T @ (weight[own, None] * slope[own])
        # A part's own rest is less than what was wrong, as it draws the fit to itself.
        moved = np.linalg.solve(net - part / 2, pushes[group])
        shown += np.outer(moved, moved)
    shown *= groups / max(groups - 1, 1)
    expected = scale**2 * bread @ (normal + np.diag(model.pull**-2.0)) @ bread
    both = expected + shown
    larger = np.sqrt(np.maximum(np.diag(expected), np.diag(shown)) / np.maximum(np.diag(both), 1e-300))
    return np.asarray(larger[:, None] * both * larger + problem.unknown, float)
