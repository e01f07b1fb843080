"""A picture held against its model: how much noise there is, and what it does to levels taken off again."""

from __future__ import annotations

import numpy as np

from previz.levels.picture_model import (
    CLIPPED,
    CRUSHED,
    FLOOR,
    GREY,
    LEFT_OUT,
    PLAIN,
    Model,
    Regions,
    curve,
    luminances,
)
from previz.physics.arrays import FloatArray

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

_EVENLY = 0.831
"""Scale of Student's t of four degrees of freedom that fits a normal distribution best. [1]"""

_MOST_NOISE = 0.5
"""Part of what the equations know of anything that may be taken off as noise. [1]"""


def spread_of(rest: FloatArray, fixed: FloatArray, noise: FloatArray,
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


class Problem:
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
            spread = [spread_of(*(each[self.whole, k] for each in (rest, fixed, noise, steep)))
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
        whole = np.maximum(lit.sum(axis=0), FLOOR * np.abs(lit.sum(axis=0)).max(axis=1, keepdims=True))
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
