"""Which lamps are dead and which readings wrong: every answer fitted, the most probable first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.levels.outputs import COUNTS, DEAD, SLIPS, STOP, WALLS_SPREAD, WRONG, WRONG_OVER, Plan

_STEPS, _BEAM, _DEPTH = 60, 4, 6


@dataclass(frozen=True, eq=False)
class Fit:
    """The answer to which lamps are dead and which readings wrong; `x` has the walls last, if they move."""

    dead: frozenset[int]
    wrong: frozenset[int]
    x: np.ndarray
    covariance: np.ndarray
    evidence: float


class Problem:
    """Readings and plan as numbers; parameters are ln factors of lamps, then of the walls."""

    def __init__(self, plan: Plan, read: np.ndarray, error: np.ndarray, floor: np.ndarray,
                 spread: np.ndarray):
        count = plan.light.shape[1]
        if not read.shape == error.shape == floor.shape == (count,):
            raise ValueError(f"the plan has {count} readings, got {read.shape}, {error.shape}, {floor.shape}")
        if np.any(error <= 0) or np.any(floor <= 0) or np.any(spread <= 0):
            raise ValueError("errors, floors and spreads must be above 0")
        if np.any(read < 0) or not np.all(np.isfinite(read)):
            raise ValueError("readings must be finite and 0 or more")
        self.plan, self.read, self.error, self.scale = plan, read, error, floor / error
        self.shown = np.arcsinh(read / self.scale)
        self.moving = len(plan.walls) > 1
        self.spread = np.append(spread, WALLS_SPREAD) if self.moving else spread
        self.curves, self.lit = plan.curves(), np.all(plan.light > 0, axis=0)
        self.lamps, self.readings = len(plan.lamps), count
        self.ends = np.log(plan.walls[[0, -1]])

    def counting(self) -> np.ndarray:
        """Return which lamps have a share of any reading that counts. Shape (lamp,)"""
        light = self.plan.now
        whole = light.sum(axis=1, keepdims=True)
        return np.any(light > COUNTS * np.where(whole > 0, whole, np.inf), axis=0)

    def light(self, x: np.ndarray, alive: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return what is read by several answers, and its slopes.

        Parameters
        ----------
        x : float array, shape (answer, parameter)
        alive : float array, shape (answer, lamp)
            0 for a dead one.

        Returns
        -------
        float arrays, shapes (answer, reading) and (answer, reading, parameter)
            [lx or cd/m²]
        """
        # Beyond the walls that were tried a polynomial says nothing; it goes on a little way.
        low, high = self.ends[0] - 0.1, self.ends[1] + 0.1
        z = np.clip(x[:, -1], low, high) if self.moving else np.zeros(len(x))
        powers = z[:, None] ** np.arange(len(self.curves))
        given = np.where(self.lit, np.exp(np.tensordot(powers, self.curves, 1)), 0.0)
        given = given * (alive * np.exp(np.clip(x[:, : self.lamps], -30, 30)))[:, None]
        if not self.moving:
            return given.sum(axis=2), given
        steps = np.arange(1, len(self.curves))
        bend = np.tensordot(steps * z[:, None] ** (steps - 1), self.curves[1:], 1)
        return given.sum(axis=2), np.concatenate([given, np.sum(given * bend, axis=2)[..., None]], axis=2)

    def predicted(self, x: np.ndarray, dead: frozenset[int]) -> tuple[np.ndarray, np.ndarray]:
        """Return `light` of one answer. Shapes (reading,), (reading, parameter)"""
        alive = np.ones((1, self.lamps))
        alive[0, list(dead)] = 0.0
        light, slopes = self.light(x[None], alive)
        return light[0], slopes[0]

    def fits(self, tried: Sequence[tuple[frozenset[int], frozenset[int], np.ndarray]]) -> list[Fit]:
        """Return the nearest factors for some dead lamps and wrong readings, each from a start.

        Gauss-Newton, damped; all of them at once.
        """
        alive, good = np.ones((len(tried), self.lamps)), np.ones((len(tried), self.readings))
        for i, (dead, wrong, _) in enumerate(tried):
            alive[i, list(dead)] = good[i, list(wrong)] = 0.0
        free = np.ones((len(tried), len(self.spread)))
        free[:, : self.lamps] = alive
        weight, prior = good / self.error**2, 1 / self.spread**2
        x = np.stack([start for *_, start in tried]) * free

        def cost(at: np.ndarray) -> np.ndarray:
            miss = self.shown - np.arcsinh(self.light(at, alive)[0] / self.scale)
            return np.sum(weight * miss**2, axis=1) + np.sum(prior * at**2, axis=1)

        def linear(at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            light, slopes = self.light(at, alive)
            slopes = slopes / np.sqrt(light**2 + self.scale**2)[..., None]
            weighed = slopes * weight[..., None]
            pull = np.einsum("aij,ai->aj", weighed, self.shown - np.arcsinh(light / self.scale)) - prior * at
            return pull, np.swapaxes(weighed, 1, 2) @ slopes + np.diag(prior)

        now = cost(x)
        for _ in range(_STEPS):
            pull, curvature = linear(x)
            step = np.linalg.solve(curvature, pull[..., None])[..., 0] * free
            step *= np.minimum(1.0, 2.0 / np.maximum(np.max(np.abs(step), axis=1), 1e-12))[:, None]
            share = np.ones(len(x))
            for _ in range(14):
                after = cost(x + share[:, None] * step)
                worse = after > now + 1e-12
                if not worse.any():
                    break
                share = np.where(worse, share / 2, share)
            share = np.where(worse, 0.0, share)
            x, before = x + share[:, None] * step, now
            now = np.where(worse, now, after)
            if np.all(before - now < 1e-9 * (1 + now)):
                break
        covariance = np.linalg.inv(linear(x)[1])
        return [Fit(dead, wrong, x[i], covariance[i],
                     self._evidence(dead, wrong, x[i], covariance[i], float(now[i])))
                for i, (dead, wrong, _) in enumerate(tried)]

    def _evidence(self, dead: frozenset[int], wrong: frozenset[int], x: np.ndarray, covariance: np.ndarray,
                  cost: float) -> float:
        """Return the logarithm of how probable an answer makes the readings, less what is alike for all."""
        good = [i for i in range(self.readings) if i not in wrong]
        # A dead lamp's own factor is as it was before: its part cancels.
        found = -0.5 * cost - float(np.sum(np.log(self.error[good] * np.sqrt(2 * np.pi))))
        found += 0.5 * float(np.linalg.slogdet(covariance)[1]) - float(np.sum(np.log(self.spread)))
        found += len(dead) * float(np.log(DEAD)) + (self.lamps - len(dead)) * float(np.log(1 - DEAD))
        found += len(good) * float(np.log(1 - WRONG))
        if wrong:
            light, spread = self.expected(x, dead, covariance)
            for i in sorted(wrong):
                found += float(np.log(WRONG / WRONG_OVER + sum(
                    often * self.density(i, light[i] * factor, spread[i]) for _, factor, often in SLIPS)))
        return found

    def expected(self, x: np.ndarray, dead: frozenset[int],
                 covariance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return what would be read, and the spread of a reading about it on the even scale."""
        light, slopes = self.predicted(x, dead)
        slopes = slopes / np.sqrt(light**2 + self.scale**2)[:, None]
        return light, np.sqrt(self.error**2 + np.einsum("ij,jk,ik->i", slopes, covariance, slopes))

    def density(self, i: int, light: float, spread: float) -> float:
        """Return how probable reading i is of a light [lx or cd/m²] whose logarithm spreads so much [1]."""
        miss = (self.shown[i] - np.arcsinh(light / self.scale[i])) / spread
        return float(np.exp(-0.5 * miss**2) / (spread * np.sqrt(2 * np.pi)))


def searched(problem: Problem, mortal: np.ndarray) -> list[Fit]:
    """Return answers to which lamps are dead and which readings wrong, the most probable first.

    From the plainest on, the best few are each carried one lamp or one reading further, until none
    of them gets better by it.
    """
    none: frozenset[int] = frozenset()
    first, = problem.fits([(none, none, np.zeros(len(problem.spread)))])
    seen = {(none, none): first}
    beam, best = [first], first.evidence
    most_wrong = max(1, problem.readings // 3)
    for _ in range(_DEPTH):
        tried = {(dead, wrong): parent.x for parent in beam
                 for dead, wrong in _further(parent, mortal, problem.readings, most_wrong)
                 if (dead, wrong) not in seen}
        made = problem.fits([(*which, start) for which, start in tried.items()]) if tried else []
        seen.update(((each.dead, each.wrong), each) for each in made)
        beam = sorted(made, key=lambda each: -each.evidence)[:_BEAM]
        if not beam or beam[0].evidence < best:
            break
        best = beam[0].evidence
    return sorted(seen.values(), key=lambda each: -each.evidence)


def _further(parent: Fit, mortal: np.ndarray, readings: int,
             most_wrong: int) -> list[tuple[frozenset[int], frozenset[int]]]:
    # A lamp that is dead is drawn down in any fit that takes it for alive.
    low = [j for j in np.flatnonzero(mortal) if j not in parent.dead and parent.x[j] < -0.5 * STOP]
    made = [(parent.dead | {int(j)}, parent.wrong) for j in low]
    if len(parent.wrong) < most_wrong:
        made += [(parent.dead, parent.wrong | {i}) for i in range(readings) if i not in parent.wrong]
    return made
