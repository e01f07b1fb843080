"""What lamps really give, found from what meters read: outputs, walls, and readings that cannot be so.

Light adds up: a reading is the sum of what the lamps that were on give there by the plan, each times an
unknown factor. The factors are taken as near 1, by a stop or so; a lamp may be dead, and a reading wrong.
Which lamps and which readings is decided by how probable each answer makes the readings.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from previz.levels.output_fit import Fit, Problem, searched
from previz.levels.outputs import (
    SLIPS,
    SPREAD,
    STOP,
    WALLS_SPREAD,
    WRONG,
    WRONG_OVER,
    Calibration,
    Doubt,
    Guess,
    Plan,
)

TOLD = 0.5
"""A factor is told by the readings where its error is under so much of what it was before. [1]"""

ALIKE = 0.85
"""Two lamps cannot be told apart from such a correlation on. [1]"""

UNSURE = 0.15
"""And where the error of either is over so much. [stops]"""

ODDS = 20.0
"""Another answer is told where the best is not so many times as probable. [1]"""

LIKELY = 0.2
"""A cause is named where it is so many times as probable as none, a second one as the first. [1]"""


def calibrate(plan: Plan, read: np.ndarray, error: np.ndarray, floor: np.ndarray, *,
              spread: float | np.ndarray = SPREAD, may_be_dead: Sequence[bool] = ()) -> Calibration:
    """Return what readings say of outputs, and of the walls where the plan has several.

    Minimises sum ((asinh(E / c) - asinh(R / c)) / e)² + sum (x / s)², with R the sum of the lamps' light
    times exp(x), e the relative error of a reading and c = floor / e. For E over c, asinh(E / c) is ln E
    and a constant; towards 0 it is even, so that a reading of 0 is one like any other.

    Parameters
    ----------
    plan : Plan
    read : float array, shape (reading,)
        [lx or cd/m²]
    error : float array, shape (reading,)
        Relative standard error, of the meter and of the plan's light together. [1]
    floor : float array, shape (reading,)
        Error of a reading of nothing. [lx or cd/m²]
    spread : float, or float array of shape (lamp,)
        See `SPREAD`. [stops]
    may_be_dead : sequence of bool
        By lamp; all without. Sky and sun are not.

    Raises
    ------
    ValueError
        Shapes do not fit, or an error is not above 0.

    Source
    ------
    Error of a meter as a share and a floor, and its even scale: Rocke and Durbin 2001, Durbin et al. 2002
    (from memory). Answers weighed by Laplace's integral: Kass and Raftery 1995 (from memory).
    """
    problem = Problem(plan, np.asarray(read, float), np.asarray(error, float), np.asarray(floor, float),
                       np.broadcast_to(np.asarray(spread, float), (len(plan.lamps),)) * STOP)
    mortal = np.ones(len(plan.lamps), bool) if not len(may_be_dead) else np.asarray(may_be_dead, bool)
    fits = searched(problem, mortal & problem.counting())
    return _answer(problem, fits)


def most_telling(found: Calibration, light: np.ndarray, error: float) -> tuple[int, float]:
    """Return which of several readings not yet taken tells most, and how much.

    Parameters
    ----------
    light : float array, shape (candidate, lamp)
        What each lamp would give there by the plan, 0 for those that are off. [lx or cd/m²]
    error : float
        Relative standard error of a reading. [1]

    Returns
    -------
    int
        -1 without any.
    float
        By how much the lamps' squared errors fall in all. [stops²]
    """
    gain = gains(found.covariance, np.asarray(light, float) * found.factors, error)
    if not len(gain):
        return -1, 0.0
    best = int(np.argmax(gain))
    return best, float(gain[best])


def gains(covariance: np.ndarray, light: np.ndarray, error: float | np.ndarray) -> np.ndarray:
    """Return by how much readings, each by itself, make the lamps' squared errors fall in all.

    Of a reading whose logarithm goes by the lamps' shares s: |C s|² / (e² + s' C s).

    Parameters
    ----------
    covariance : float array, shape (lamp, lamp)
        C. [stops²]
    light : float array, shape (reading, lamp)
        What each lamp gives there, 0 for those that are off. [lx or cd/m²]
    error : float, or float array of shape (reading,)
        e: relative standard error of a reading. [1]

    Returns
    -------
    float array, shape (reading,)
        [stops²]
    """
    slopes = _shares(light)
    carried = slopes @ covariance
    size = np.broadcast_to(np.asarray(error, float) / STOP, (len(slopes),))
    return np.asarray(np.sum(carried**2, axis=1) / (size**2 + np.sum(carried * slopes, axis=1)))


def after(covariance: np.ndarray, light: np.ndarray, error: float) -> np.ndarray:
    """Return the lamps' covariance after one more reading: C - C s s' C / (e² + s' C s), see `gains`.

    Parameters
    ----------
    covariance : float array, shape (lamp, lamp)
        [stops²]
    light : float array, shape (lamp,)
        [lx or cd/m²]
    error : float
        [1]

    Returns
    -------
    float array, shape (lamp, lamp)
        [stops²]
    """
    slope = _shares(np.asarray(light, float)[None])[0]
    carried = covariance @ slope
    return np.asarray(covariance - np.outer(carried, carried) / ((error / STOP) ** 2 + carried @ slope))


def _shares(light: np.ndarray) -> np.ndarray:
    light = np.asarray(light, float)
    whole = light.sum(axis=1, keepdims=True)
    return np.divide(light, whole, out=np.zeros_like(light), where=whole > 0)


def _answer(problem: Problem, fits: list[Fit]) -> Calibration:
    best, lamps = fits[0], problem.lamps
    dead = np.array([j in best.dead for j in range(lamps)])
    covariance = best.covariance[:lamps, :lamps] / STOP**2
    covariance = np.where(dead[:, None] | dead, 0.0, covariance)
    errors = np.sqrt(np.diag(covariance))
    told = dead | (errors < TOLD * problem.spread[:lamps] / STOP)
    light, spread = problem.expected(best.x, best.dead, best.covariance)
    own = np.sqrt(np.maximum(spread**2 - problem.error**2, 0.0))
    walls, walls_told = (1.0, 0.0), False
    if problem.moving:
        z, size = float(best.x[-1]), float(np.sqrt(best.covariance[-1, -1]))
        walls = (float(np.exp(z)), float(np.exp(z) * size))
        walls_told = size < TOLD * WALLS_SPREAD and bool(problem.ends[0] < z < problem.ends[1])
    return Calibration(
        problem.plan.lamps, np.where(dead, -np.inf, best.x[:lamps] / STOP), errors, told,
        _most(problem, best), covariance, walls, walls_told, light,
        own * np.sqrt(light**2 + problem.scale**2), _left_out(problem, best),
        tuple(_doubt(problem, best, i, errors) for i in sorted(best.wrong)), _guesses(problem, fits),
        *_chances(problem, fits),
        _alike(covariance, problem.spread[:lamps] / STOP))


def _most(problem: Problem, best: Fit) -> np.ndarray:
    """Return what dead lamps give at most over their plan. Shape (lamp,) [1]"""
    most = np.full(problem.lamps, np.inf)
    light, spread = problem.expected(best.x, best.dead, best.covariance)
    good = [i for i in range(problem.readings) if i not in best.wrong]
    for j in best.dead:
        # One unit of it would change each reading by so many of its standard errors.
        by = problem.plan.now[:, j] / (spread * np.sqrt(light**2 + problem.scale**2))
        most[j] = 2 / max(float(np.linalg.norm(by[good])), 1e-12)
    return most


def _left_out(problem: Problem, best: Fit) -> np.ndarray:
    """Return how far each reading lies off what the others say, in standard errors. Shape (reading,)"""
    light, slopes = problem.predicted(best.x, best.dead)
    slopes = slopes / np.sqrt(light**2 + problem.scale**2)[:, None]
    miss = problem.shown - np.arcsinh(light / problem.scale)
    lever = np.einsum("ij,jk,ik->i", slopes, best.covariance, slopes) / problem.error**2
    out = np.isin(np.arange(problem.readings), list(best.wrong))
    # A reading that took part left out: r / (e sqrt(1 - h)); one that did not: r / (e sqrt(1 + h)).
    return miss / (problem.error * np.sqrt(np.where(out, 1 + lever, np.maximum(1 - lever, 1e-9))))


def _doubt(problem: Problem, best: Fit, i: int, errors: np.ndarray) -> Doubt:
    light, spread = problem.expected(best.x, best.dead, best.covariance)
    chances = sorted(((often * problem.density(i, light[i] * factor, spread[i]), cause)
                      for cause, factor, often in SLIPS), reverse=True)
    # A foot-candle is near enough to ten lux that a reading may leave it open.
    likely = [cause for chance, cause in chances[:2]
              if chance > LIKELY * max(WRONG / WRONG_OVER, chances[0][0])]
    _, slopes = problem.predicted(best.x, best.dead)
    sure = float(slopes[i, : problem.lamps][errors < UNSURE].sum())
    below = problem.read[i] < sure * (1 - 3 * problem.error[i]) - 3 * problem.error[i] * problem.scale[i]
    size = float(np.sqrt(max(spread[i] ** 2 - problem.error[i] ** 2, 0.0)))
    return Doubt(i, float(light[i]), size * float(np.hypot(light[i], problem.scale[i])),
                 ", or ".join(likely), bool(below))


def _guesses(problem: Problem, fits: list[Fit]) -> tuple[Guess, ...]:
    best, found = fits[0], list[Guess]()
    for each in fits[1:]:
        odds = float(np.exp(min(best.evidence - each.evidence, 700.0)))
        if odds < ODDS:
            causes = [_doubt(problem, each, i, np.full(problem.lamps, np.inf)).cause
                      for i in sorted(each.wrong - best.wrong)]
            found.append(Guess(tuple(sorted(each.dead)), tuple(sorted(each.wrong)), odds,
                               next(filter(None, causes), "")))
    return tuple(found[:2])


def _chances(problem: Problem, fits: list[Fit]) -> tuple[np.ndarray, np.ndarray]:
    """Return how probable it is that each lamp is dead, and each reading wrong. Shapes (lamp,), (reading,)"""
    weights = np.exp(np.array([max(each.evidence - fits[0].evidence, -700.0) for each in fits]))
    weights /= weights.sum()
    return (np.array([sum(w for w, each in zip(weights, fits, strict=True) if j in each.dead)
                      for j in range(problem.lamps)]),
            np.array([sum(w for w, each in zip(weights, fits, strict=True) if i in each.wrong)
                      for i in range(problem.readings)]))


def _alike(covariance: np.ndarray, spread: np.ndarray) -> tuple[tuple[int, int, float], ...]:
    """Return pairs of lamps that only their sum is known of."""
    errors, found = np.sqrt(np.diag(covariance)), []
    for i in range(len(errors)):
        for j in range(i + 1, len(errors)):
            both = errors[i] * errors[j]
            if both <= 0 or max(errors[i], errors[j]) < UNSURE:
                continue
            correlation = covariance[i, j] / both
            if correlation < -ALIKE:
                found.append((i, j, float(np.sqrt(max(covariance[i, i] + covariance[j, j]
                                                      + 2 * covariance[i, j], 0.0)))))
    return tuple(found)
