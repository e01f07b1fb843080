"""Why things are darker when wet: the albedo of a rough surface under a film of water."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.optics import polarised_reflectance

WATER_INDEX = 1.333
"""Refractive index of water. [1]"""

STONE_INDEX = 1.5
"""Refractive index that ground, stone and cloth are taken to have.  As Lekner and Dorf take it. [1]"""


@functools.cache
def diffuse_reflectance(index: float) -> float:
    """Return what a flat face mirrors of light that comes evenly from half of space. [1]"""
    if index == 1:
        return 0.0
    node, weight = np.polynomial.legendre.leggauss(200)
    angle = (node + 1) * np.pi / 4
    mean = np.mean(polarised_reflectance(np.cos(angle), index), axis=0)
    return float(np.sum(weight * mean * np.sin(2 * angle)) * np.pi / 4)


def kept_inside(index: float = WATER_INDEX) -> float:
    """Return p, what a flat face of water sends back of light that comes to it evenly from within.

    p = 1 - (1 - R) / n², as as much light goes out as would come in by the same directions.
    """
    return 1 - (1 - diffuse_reflectance(index)) / index**2


def wet_albedo(dry: ArrayLike) -> FloatArray:
    """Return the diffuse albedo of a surface under water, without what the water itself mirrors.

    With the dry albedo 1 - a: under water the surface takes a' = a ((1 - a) r + a),
    r = (1 - R(ns / nw)) / (1 - R(ns)), as less is mirrored at its own grains; of what it sends back p comes
    down again: (1 - a')(1 - p) / (1 - p (1 - a')). Light that gets into the water counts as one.

    Parameters
    ----------
    dry : float array, shape (...)
        0 to 1. [1]

    Returns
    -------
    float array, shape (...)
        [1]

    Raises
    ------
    ValueError
        It lies outside 0 to 1.

    Source
    ------
    Lekner and Dorf 1988, "Why some things are darker when wet", Applied Optics 27, 1278 (from memory), after
    Angstrom 1925.
    """
    albedo = np.asarray(dry, float)
    if np.any(albedo < 0) or np.any(albedo > 1):
        raise ValueError("an albedo lies from 0 to 1")
    taken = 1 - albedo
    ratio = (1 - diffuse_reflectance(STONE_INDEX / WATER_INDEX)) / (1 - diffuse_reflectance(STONE_INDEX))
    left = 1 - taken * ((1 - taken) * ratio + taken)
    back = kept_inside()
    return left * (1 - back) / (1 - back * left)
