"""Light in a picture that no lamp of the scene gives: where it lies, from which side, and from where.

A small lamp is tried at each of many places, I · cos / r² off a surface of a known albedo, all other levels,
the exposure and the contrast following as they would: what such a lamp gives and others can stand for is not
told from them. Shadows are left out of it, so a place is a first guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.levels.picture_regions import Cells
from previz.physics.arrays import FloatArray

LEAST = 0.25
"""Less light is not seen to be missing. [stops]"""

LEAST_AREA = 0.002
"""Of the picture that it must take. [1]"""

LEAST_SURE = 6.0
"""Standard errors that its light must be; many places are tried, and one of them fits noise best. [1]"""

LEAST_OWN = 0.15
"""Part of its light, squared, that the lamps of the scene cannot stand for. [1]"""

LEAST_EXPLAINED = 0.12
"""Part of what is left over that a lamp must explain before it is spoken of. [1]"""

STEPS = 13
"""Places that are tried along each side of the room. [1]"""

_AROUND = 1.0
"""How far beyond what is seen places are tried. [m]"""

_MOST_STOPS = 3.0


@dataclass(frozen=True, eq=False)
class Surfaces:
    """What the regions of a picture show.

    Parameters
    ----------
    position, normal : float array, shape (region, 3)
        Means in the world [m]; the normal is a unit vector, zero where nothing is seen.
    albedo : float array, shape (region,)
        Reflectance, seen by the observer. [1]
    """

    position: FloatArray
    normal: FloatArray
    albedo: FloatArray


@dataclass(frozen=True, eq=False)
class Missing:
    """Light that no lamp gives, as that of one small lamp.

    Parameters
    ----------
    regions : bool array, shape (region,)
        The largest part where it would be seen.
    area : float
        Of the picture. [1]
    stops : float
        Mean light that is missing there. [stops]
    centre : float array, shape (3,)
        Of what it falls on. [m]
    place : float array, shape (3,)
        Where an added lamp would explain most. [m]
    intensity : float
        Of that lamp, by the levels as they were found. [cd]
    explained : float
        Part of all that is left over, squared, that it explains. [1]
    spread : float
        How far places lie apart that explain nearly as much: root mean square from the best, half the
        step between places at least. [m]
    """

    regions: np.ndarray
    area: float
    stops: float
    centre: FloatArray
    place: FloatArray
    intensity: float
    explained: float
    spread: float


def brightest_part(cells: Cells, stops: FloatArray, least: float = LEAST) -> np.ndarray | None:
    """Return the regions of the largest excess that hangs together, by area and stops; None for none.

    Parameters
    ----------
    cells : Cells
    stops : float array, shape (region,)
        Excess; nan where nothing is known. [stops]
    least : float
        From which excess on a region counts. [stops]
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    bright = np.nan_to_num(stops, nan=0.0) > least
    if not bright.any():
        return None
    number = cells.number
    pairs = np.concatenate([
        np.stack([one.ravel(), two.ravel()], axis=1)
        for one, two in ((number[:, :-1], number[:, 1:]), (number[:-1], number[1:]))])
    pairs = pairs[(pairs >= 0).all(axis=1)]
    pairs = pairs[bright[pairs].all(axis=1)]
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), (cells.count, cells.count))
    parts, part = connected_components(graph, directed=False)
    weight = np.bincount(part, np.where(bright, cells.pixels * np.nan_to_num(stops), 0.0), parts)
    chosen = (part == int(np.argmax(weight))) & bright
    return np.asarray(chosen) if cells.pixels[chosen].sum() >= LEAST_AREA * number.size else None


def missing_light(cells: Cells, surfaces: Surfaces, stops: FloatArray, error: FloatArray,
                  luminance: FloatArray, share: FloatArray, bounds: tuple[FloatArray, FloatArray],
                  floor: float = -np.inf) -> Missing | None:
    """Return the lamp whose light is missing most, None where none explains enough.

    Parameters
    ----------
    cells : Cells
    surfaces : Surfaces
        Of each region.
    stops : float array, shape (region,)
        Picture over fit; nan where nothing is known. [stops]
    error : float array, shape (region,)
        Standard error that is expected of it. [stops]
    luminance : float array, shape (region,)
        Of the fit. [cd/m²]
    share : float array, shape (lamp, region)
        Of that, by lamp. [1]
    bounds : (float array, float array)
        Lower and upper corner of where a lamp may be, and a little around. [m]
    floor : float
        No lamp is under it. [m]
    """
    known = (np.isfinite(stops) & (np.abs(surfaces.normal).sum(axis=1) > 0) & (surfaces.albedo > 0.005)
             & (luminance > 0))
    if known.sum() < len(share) + 8:
        return None
    rest = np.clip(stops[known], -_MOST_STOPS, _MOST_STOPS)
    level = np.log2(luminance[known])
    others = np.column_stack([share[:, known].T, np.ones(known.sum()), level, level**2])
    places = _places(*bounds, floor)
    given = _given(places, surfaces.position[known], surfaces.normal[known], surfaces.albedo[known])
    powers, explained, sure = _tried(given / luminance[known] / np.log(2), rest, others, error[known])
    best = int(np.argmax(explained))
    excess = np.full(cells.count, np.nan)
    excess[known] = np.log2(1 + powers[best] * given[best] / luminance[known])
    part = brightest_part(cells, excess)
    if part is None or explained[best] < LEAST_EXPLAINED or sure[best] < LEAST_SURE:
        return None
    weight = np.where(part, cells.pixels * np.nan_to_num(excess), 0.0)
    near = explained > 0.9 * explained[best]
    between = float(np.linalg.norm(bounds[1] - bounds[0] + 2 * _AROUND)) / (STEPS - 1)
    spread = max(float(np.sqrt(np.mean(np.sum((places[near] - places[best]) ** 2, axis=1)))), between / 2)
    area = cells.pixels[part].sum()
    return Missing(part, float(area / cells.number.size), float(weight.sum() / area),
                   weight @ surfaces.position / weight.sum(), places[best], float(powers[best]),
                   float(explained[best]), spread)


def _places(low: FloatArray, high: FloatArray, floor: float) -> FloatArray:
    least = np.maximum(low - _AROUND, [-np.inf, -np.inf, min(floor, float(high[2]))])
    axes = [np.linspace(a, b, STEPS) for a, b in zip(least, high + _AROUND, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def _given(places: FloatArray, position: FloatArray, normal: FloatArray, albedo: FloatArray) -> FloatArray:
    """Return the luminance that a candela at each place gives to each region. Shape (place, region) [1/m²]"""
    towards = places[:, None, :] - position
    # A lamp nearer than 0.3 m to a surface would be seen, and outshine everything there.
    squared = np.maximum(np.sum(towards**2, axis=-1), 0.09)
    cosine = np.clip(np.einsum("prk,rk->pr", towards, normal), 0, None) / np.sqrt(squared)
    return albedo / np.pi * cosine / squared


def _tried(columns: FloatArray, rest: FloatArray, others: FloatArray,
           error: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the amount of each column that fits the rest best, others following, and what it explains.

    And how surely, in standard errors.
    """
    spread = max(1.4826 * float(np.median(np.abs(rest))), 1e-3)
    # What stands far out counts less, as in the fit, but a lamp's own light stands far out, too. Regions are
    # even in the light that none explains, which is more than noise.
    weight = 1 / np.hypot(error, 0.5 * spread) / (1 + (rest / (4 * spread)) ** 2) ** 0.25
    basis, _ = np.linalg.qr(others * weight[:, None])
    left = rest * weight
    left = left - basis @ (basis.T @ left)
    moved = columns * weight
    whole_size = np.sum(moved**2, axis=1)
    moved = moved - (moved @ basis) @ basis.T
    size = np.sum(moved**2, axis=1)
    product = np.maximum(moved @ left, 0.0)
    # Where a lamp stands, what is like its light but without its noise would explain that noise.
    there = size > LEAST_OWN * np.maximum(whole_size, 1e-300)
    amount = np.where(there, product / np.maximum(size, 1e-300), 0.0)
    whole = max(float(left @ left), 1e-300)
    even = max(1.0, 1.4826 * float(np.median(np.abs(left))))
    return amount, amount * product / whole, amount * np.sqrt(size) / even
