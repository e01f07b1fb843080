"""Light in a picture that no lamp of the scene gives: where it lies, from which side, and from where.

What is left over after a fit, in parts that hang together, is held against a small lamp at each of many
places: I · cos / r² off a surface of a known albedo. Shadows are left out of it, so a place is a first guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.levels.picture_regions import Cells
from previz.physics.arrays import FloatArray

LEAST = 0.25
"""A smaller excess is not seen. [stops]"""

LEAST_AREA = 0.002
"""Of the picture that an excess must take. [1]"""

STEPS = 15
"""Places that are tried along each side of the room. [1]"""

_AROUND = 1.0
"""How far beyond what is seen places are tried. [m]"""

_MOST_STOPS = 4.0


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
    """The largest part of a picture that is brighter than its lamps make it.

    Parameters
    ----------
    regions : bool array, shape (region,)
        Where it is.
    area : float
        Of the picture. [1]
    stops : float
        Mean excess there. [stops]
    centre : float array, shape (3,)
        Of what is lit. [m]
    place : float array, shape (3,)
        Where an added lamp would explain most. [m]
    intensity : float
        Of that lamp, by the levels as they were found. [cd]
    explained : float
        Part of the excess, squared, that it explains. [1]
    spread : float
        How far places lie apart that explain nearly as much: root mean square from the best. [m]
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
        Picture over fit; nan where nothing is known. [stops]
    least : float
        From which excess on a region counts. [stops]
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    bright = np.nan_to_num(stops, nan=0.0) > least
    number = cells.number
    pairs = np.concatenate([
        np.stack([one.ravel(), two.ravel()], axis=1)
        for one, two in ((number[:, :-1], number[:, 1:]), (number[:-1], number[1:]))])
    pairs = pairs[(pairs >= 0).all(axis=1)]
    pairs = pairs[bright[pairs].all(axis=1)]
    if not bright.any():
        return None
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), (cells.count, cells.count))
    parts, part = connected_components(graph, directed=False)
    weight = np.bincount(part, np.where(bright, cells.pixels * np.nan_to_num(stops), 0.0), parts)
    chosen = (part == int(np.argmax(weight))) & bright
    return chosen if cells.pixels[chosen].sum() >= LEAST_AREA * number.size else None


def missing_light(cells: Cells, surfaces: Surfaces, stops: FloatArray, luminance: FloatArray,
                  bounds: tuple[FloatArray, FloatArray], least: float = LEAST) -> Missing | None:
    """Return the largest excess of light in a picture, and the lamp that would explain most of it.

    Parameters
    ----------
    cells : Cells
    surfaces : Surfaces
        Of each region.
    stops : float array, shape (region,)
        Picture over fit; nan where nothing is known. [stops]
    luminance : float array, shape (region,)
        Of the fit. [cd/m²]
    bounds : (float array, float array)
        Lower and upper corner of where a lamp may be. [m]
    least : float
        See `brightest_part`.
    """
    part = brightest_part(cells, stops, least)
    if part is None:
        return None
    weight = np.where(part, cells.pixels, 0.0)
    centre = weight @ surfaces.position / weight.sum()
    known = np.isfinite(stops) & (np.abs(surfaces.normal).sum(axis=1) > 0) & (surfaces.albedo > 0.005)
    # What another part has too much is another lamp's matter; what has nothing over counts against a place.
    over = np.where(part, np.clip(np.nan_to_num(stops), 0, _MOST_STOPS),
                    np.clip(np.nan_to_num(stops), -LEAST, least))
    excess = luminance * (2.0**over - 1)
    scale = cells.pixels / np.maximum(luminance * 2.0 ** np.clip(over, 0, None), 1e-9) ** 2
    scale = np.where(known, scale, 0.0)
    places = _places(*bounds)
    best, powers, shares = _tried(places, surfaces, excess, scale)
    near = shares > shares[best] - 0.05
    spread = float(np.sqrt(np.mean(np.sum((places[near] - places[best]) ** 2, axis=1))))
    mean = float(weight @ np.nan_to_num(stops) / weight.sum())
    return Missing(part, float(weight.sum() / cells.number.size), mean, centre, places[best],
                   float(powers[best]), float(shares[best]), spread)


def _places(low: FloatArray, high: FloatArray) -> FloatArray:
    axes = [np.linspace(a, b, STEPS) for a, b in zip(low - _AROUND, high + _AROUND, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def _tried(places: FloatArray, surfaces: Surfaces, excess: FloatArray,
           scale: FloatArray) -> tuple[int, FloatArray, FloatArray]:
    """Return the best place's number, and of each place its intensity and what it explains."""
    towards = places[:, None, :] - surfaces.position
    squared = np.maximum(np.sum(towards**2, axis=-1), 0.01)
    cosine = np.clip(np.einsum("prk,rk->pr", towards, surfaces.normal), 0, None) / np.sqrt(squared)
    given = surfaces.albedo / np.pi * cosine / squared
    power = np.einsum("r,pr,pr->p", scale, given, given)
    product = np.einsum("r,pr,r->p", scale, given, excess)
    intensity = np.where(power > 0, np.maximum(product, 0) / np.maximum(power, 1e-300), 0.0)
    whole = max(float(scale @ excess**2), 1e-300)
    shares = intensity * np.maximum(product, 0) / whole
    return int(np.argmax(shares)), intensity, shares
