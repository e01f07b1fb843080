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

import numpy as np

from previz.levels.picture_model import (
    PLAIN,
    LampTable,
    Model,
    PictureFit,
    Regions,
    curve,
    luminances,
    uncurved,
)
from previz.levels.picture_noise import SOFT, Problem
from previz.physics.arrays import FloatArray

_ROUNDS = 6
"""How often noise is weighed anew."""

_FARTHEST, _GIVEN = 1.0, 0.03
"""Stops that a level may go by what is taken off as noise; of a lamp that gives this part somewhere."""


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
    problem = Problem(model, regions, begin is not None)
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


def _starts(model: Model, problem: Problem) -> list[FloatArray]:
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


def _solved(problem: Problem, start: FloatArray, most: int, close: float) -> tuple[FloatArray, float]:
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


def _answer(model: Model, problem: Problem, found: FloatArray) -> PictureFit:
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


def _covariance(model: Model, problem: Problem, found: FloatArray, scale: float) -> FloatArray:
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
