"""What a fit to a picture says of each lamp: how far from the scene, how sure, and what cannot be told.

A picture has no scale: a brighter scene is a wider stop. So levels count from an anchor, a lamp that is
named or the mean over the lamps that are told, which then stands as the scene has it; and so do colours,
unless a lamp of a colour of its own holds them within `HELD`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.levels.picture_model import KNOTS, LampTable, PictureFit
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import BRADFORD
from previz.physics.colourtemp import cct_duv, xy_from_xyz

TOLD, OFF, WEAK, ALIKE, UNSURE = "told", "off", "weak", "alike", "unsure"
"""What is known of a lamp: its level; that it is off, or nearly; that it gives too little anywhere; that it
looks like another; that the picture says little of it for no one reason."""

LEAST_SHARE = 0.03
"""A lamp that gives less than this part of the light in every region is not told. [1]"""

MOST_ERROR = 0.5
"""Standard error from which on a level is not told. [stops]"""

LIKENESS = -0.6
"""Correlation of two lamps' levels from which on one stands for the other. [1]"""

SURE_LEVEL = 0.05
"""Standard error up to which a level counts to the mean that levels are against. [stops]"""

SURE_KELVIN = 50.0
"""Standard error up to which a colour is told to 100 K. [K]"""

HELD = 12.0
"""Standard error of all colours' common shift up to which they are told as they are. [mired]"""

SURE_COLOUR = 25.0
"""Standard error from which on a colour is not told. [mired]"""

LEAST_LEVEL_ERROR, LEAST_COLOUR_ERROR = 0.01, 1.0
"""Standard errors that no answer goes under: a denoiser, colours between those that are computed.
[stops, mired]  Common practice, no source."""

COMMON_ERROR = 0.005
"""Part of the light that a picture is off over a whole thing, by its denoiser, its size and its bits: regions
do not average it, and a lamp that gives little of the light has much of it. Faint lamps of stills that were
read at another size or noise than theirs were off by about that. [1]"""

LEAST_AREA = 0.01
"""A share counts that a lamp has in so much of the picture or more, so that its own face does not. [1]"""


@dataclass(frozen=True)
class LampFound:
    """What a picture says of one lamp.

    Parameters
    ----------
    name : str
    state : str
        `TOLD`, `OFF`, `WEAK`, `ALIKE` or `UNSURE`.
    like : str
        The lamp that it is mistaken for, '' for none.
    change : float
        Level against the scene's own, counted from the anchor. [stops]
    level : float
        The same as a share of full; may be over 1. [1]
    error : float
        Standard error of `change`. [stops]
    share : float
        Greatest part of the light of a region that it gives. [1]
    most_share : float
        What that could be at most, two standard errors up. [1]
    cct : float
        Colour before gels. [K]
    shift : float or None
        Of its colour against the scene's, plus for warmer; None where its colour stays. [mired]
    shift_error : float or None
        Standard error. [mired]
    """

    name: str
    state: str
    like: str
    change: float
    level: float
    error: float
    share: float
    most_share: float
    cct: float
    shift: float | None = None
    shift_error: float | None = None

    @property
    def cct_error(self) -> float | None:
        """Standard error of the colour temperature. [K]"""
        return None if self.shift_error is None else self.shift_error * self.cct**2 / 1e6


@dataclass(frozen=True)
class Answer:
    """What a picture says of a scene.

    Parameters
    ----------
    lamps : tuple of LampFound
        In the order of the tables.
    anchor : str
        Lamp that the levels count from; '' for the mean over some.
    mean_of : tuple of str
        Those, or that lamp alone.
    gauge : float
        What was taken off all levels for that, and given to the exposure. [stops]
    colours_held : bool
        Whether colours are told as they are; else against each other.
    colour_gauge : float
        What was taken off all colours. [mired]
    exposure : float
        Against the camera as it is set, plus for a brighter picture. [stops]
    exposure_error : float
        [stops]
    balance : float
        White that the picture was balanced to. [K]
    balance_error : float
        Standard error; with colours against each other it counts from the same anchor. [mired]
    tint : float
        Duv of that white. [1]
    contrast : float
        Slope of the curve at grey: 1 keeps the contrast of the scene. [1]
    """

    lamps: tuple[LampFound, ...]
    anchor: str
    mean_of: tuple[str, ...]
    gauge: float
    colours_held: bool
    colour_gauge: float
    exposure: float
    exposure_error: float
    balance: float
    balance_error: float
    tint: float
    contrast: float


def answer(tables: Sequence[LampTable], fit: PictureFit, pixels: FloatArray, *, own_gain: float,
           anchor: str = "") -> Answer:
    """Return what a fit says of each lamp.

    Parameters
    ----------
    tables : sequence of LampTable
    fit : PictureFit
    pixels : float array, shape (region,)
        Of each region.
    own_gain : float
        Exposure as the camera is set, `physics.exposure.signal_per_luminance`. [stops of m²/cd]
    anchor : str
        Lamp that stays as the scene has it; '' for the mean of those that are told.
    """
    count = len(tables)
    own = np.array([each.level for each in tables])
    free = [n for n, each in enumerate(tables) if each.free]
    shares = np.array([greatest(each, pixels) for each in fit.share])
    changes = fit.levels - own
    covariance = fit.covariance[:count, :count]
    weights = _anchored(tables, covariance, shares, anchor)
    against = np.eye(count) - weights[None, :]
    relative = against @ covariance @ against.T
    common = COMMON_ERROR / (np.log(2) * np.maximum(shares, COMMON_ERROR))
    errors = np.sqrt(np.maximum(np.diag(relative), 0) + LEAST_LEVEL_ERROR**2 + common**2)
    errors[weights == 1] = 0.0
    gauge = float(weights @ changes)
    held, colour_gauge, mired_errors = _colours(tables, fit, free, weights, anchor)
    mired_errors = np.hypot(mired_errors, LEAST_COLOUR_ERROR)
    # In light a lamp's error does not grow as it is dimmed.
    most = shares * (1 + 2 * np.log(2) * errors)
    at_own = _own_shares(tables, fit, pixels, changes - gauge)
    found = []
    for n, table in enumerate(tables):
        state, like = _state(n, tables, shares[n], most[n], at_own[n], errors[n], relative)
        mired = fit.colours[n] - (0.0 if held or not table.free else colour_gauge)
        shift = mired - table.colour if table.free else None
        found.append(LampFound(table.name, state, like, float(changes[n] - gauge),
                               float(2.0 ** (fit.levels[n] - gauge)), float(errors[n]), float(shares[n]),
                               float(min(most[n], 1.0)), float(1e6 / mired),
                               None if shift is None else float(shift),
                               float(mired_errors[free.index(n)]) if table.free else None))
    exposure, balance, tint = _camera(fit.gains)
    first = count + len(free)
    push = np.zeros(len(fit.covariance))
    push[:count], push[first:first + 3] = weights, 1 / 3
    shifted = 1e6 / (1e6 / balance - (0.0 if held else colour_gauge))
    slope = np.interp(0.0, KNOTS, fit.slopes)
    mean_of = tuple(table.name for table, weight in zip(tables, weights, strict=True) if weight > 0)
    return Answer(tuple(found), anchor, mean_of, gauge, held, 0.0 if held else colour_gauge,
                  exposure + gauge - own_gain, float(np.sqrt(push @ fit.covariance @ push)), shifted,
                  _balance_error(fit, first, free, weights, held), tint, float(np.exp(slope)))


def _anchored(tables: Sequence[LampTable], covariance: FloatArray, shares: FloatArray,
              anchor: str) -> FloatArray:
    """Return the weights of the mean that levels count from: of those that are told, given the others."""
    if anchor:
        return np.array([float(each.name == anchor) for each in tables])
    chosen = np.asarray(shares >= (LEAST_SHARE if shares.max() >= LEAST_SHARE else shares.max()))
    for _ in range(len(tables)):
        weights = chosen / chosen.sum()
        against = np.eye(len(tables)) - weights[None, :]
        errors = np.sqrt(np.maximum(np.diag(against @ covariance @ against.T), 0))
        # Two that are told less surely are better to count from than one, which would have no error.
        if (errors * chosen).max() <= (SURE_LEVEL if chosen.sum() > 2 else MOST_ERROR) or chosen.sum() == 1:
            break
        # By its own variance: against a lamp that is not told, one that is looks no better.
        worst = int((np.diag(covariance) * chosen).argmax())
        chosen = chosen & (np.arange(len(tables)) != worst)
    return np.asarray(chosen / chosen.sum(), float)


def _colours(tables: Sequence[LampTable], fit: PictureFit, free: Sequence[int], weights: FloatArray,
             anchor: str) -> tuple[bool, float, FloatArray]:
    """Return whether colours are held, what is taken off all of them if not [mired], and their errors."""
    if not free:
        return True, 0.0, np.zeros(0)
    count = len(tables)
    block = fit.covariance[count:count + len(free), count:count + len(free)]
    own = weights[list(free)]
    own = own / own.sum() if own.sum() > 0 else np.full(len(free), 1 / len(free))
    common = float(np.sqrt(max(own @ block @ own, 0.0)))
    # A lamp that is named for its level is the one whose colour is known, too.
    # The locus of black bodies is bent, which alone would hold them; but that is less than a camera's, or a
    # denoiser's, own way with colours, so that it takes a lamp whose colour is known.
    known = any(weights[n] > 0 for n in range(count) if n not in free)
    held = known and common <= HELD and not (anchor and any(tables[n].name == anchor for n in free))
    if held:
        return True, 0.0, np.sqrt(np.diag(block))
    against = np.eye(len(free)) - own[None, :]
    shift = float(own @ (fit.colours[list(free)] - np.array([tables[n].colour for n in free])))
    return False, shift, np.sqrt(np.maximum(np.diag(against @ block @ against.T), 0))


def unsure(found: Answer) -> bool:
    """Whether a lamp that gives enough is not told to a tenth of a stop and 100 K."""
    return any(each.share >= LEAST_SHARE and each.state != OFF and (
        each.error > SURE_LEVEL or (each.shift_error or 0) > 2 * LEAST_COLOUR_ERROR
        and (each.cct_error or 0) > SURE_KELVIN) for each in found.lamps)


def greatest(share: FloatArray, pixels: FloatArray) -> float:
    """Return the greatest share that is had in `LEAST_AREA` of the picture or more."""
    order = np.argsort(-share)
    area = np.cumsum(pixels[order])
    return float(share[order[min(int(np.searchsorted(area, LEAST_AREA * area[-1])), len(order) - 1)]])


def _own_shares(tables: Sequence[LampTable], fit: PictureFit, pixels: FloatArray,
                changes: FloatArray) -> FloatArray:
    """Return the share that each lamp would have at the scene's own level, at full where that is off."""
    made = []
    for n, table in enumerate(tables):
        back = -changes[n] + max(0.0, -3.0 - table.level)
        more = fit.share[n] * 2.0 ** np.clip(back, -20, 20)
        made.append(greatest(more / np.maximum(1 - fit.share[n] + more, 1e-12), pixels))
    return np.array(made)


def _state(n: int, tables: Sequence[LampTable], share: float, most: float, at_own: float, error: float,
           covariance: FloatArray) -> tuple[str, str]:
    """Return what is known of a lamp, and which lamp it is mistaken for."""
    if most < LEAST_SHARE:
        return (OFF, "") if at_own >= LEAST_SHARE else (WEAK, "")
    if share < LEAST_SHARE and error > 0.15:
        # It may be off, and may give a little.
        return (OFF if at_own >= 3 * LEAST_SHARE and share < LEAST_SHARE / 2 else WEAK), ""
    if error <= MOST_ERROR:
        return TOLD, ""
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-12))
    correlation = covariance[n] / (spread[n] * spread)
    correlation[n] = 0.0
    other = int(np.argmin(correlation))
    return (ALIKE, tables[other].name) if correlation[other] < LIKENESS else (UNSURE, "")


def _camera(gains: FloatArray) -> tuple[float, float, float]:
    """Return exposure [stops of m²/cd], balance [K] and its Duv of gains of the cones."""
    white = np.linalg.inv(BRADFORD) @ 2.0**-gains
    try:
        kelvin, duv = cct_duv(xy_from_xyz(white))
    except ValueError:
        kelvin, duv = float("nan"), float("nan")
    return float(-np.log2(max(white[1], 1e-30))), float(kelvin), float(duv)


def _balance_error(fit: PictureFit, first: int, free: Sequence[int], weights: FloatArray,
                   held: bool) -> float:
    """Return the standard error of the balance, given the colours that it counts from. [mired]"""
    push = np.zeros(len(fit.covariance))
    here = 1e6 / _camera(fit.gains)[1]
    for k in range(3):
        moved = fit.gains.copy()
        moved[k] += 1e-3
        push[first + k] = (1e6 / _camera(moved)[1] - here) / 1e-3
    if not held and free:
        own = weights[list(free)]
        own = own / own.sum() if own.sum() > 0 else np.full(len(free), 1 / len(free))
        push[first - len(free):first] -= own
    return float(np.sqrt(max(float(push @ fit.covariance @ push), 0.0)))
