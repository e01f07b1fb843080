"""How much of the light a glossy surface mirrors, for every angle: tables that keep the energy.

A microfacet gloss mirrors more at grazing angles and loses a little between its facets. The
diffuse part under it may only get what the gloss left. Both need the gloss's directional albedo,
here split so that one table serves every reflectance at normal incidence F0:

    E(mu; F0) = F0 · A(mu) + B(mu)        (Schlick's Fresnel, GGX, Smith height-correlated)
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

ANGLES = 64
"""Entries of the tables, equally spaced in the cosine from 0 to 1."""

SAMPLES = 4096
"""Samples for each angle."""

TOGETHER = 8
"""Angles that are worked out at once; with all of them it takes 2.4 times as long, which goes into memory."""

GOLDEN = (5**0.5 - 1) / 2
"""Step of the lattice's second number. [1]"""


def visible_normal_weights(cos_in: np.ndarray, roughness: float, samples: int):
    """Return G2/G1 and the half-vector cosine for stratified visible-normal samples.

    Parameters
    ----------
    cos_in : float array, shape (angles,)
        Cosine of the incident direction. [1]
    roughness : float
        GGX alpha. [1]
    samples : int
        Number of samples for each angle.

    Returns
    -------
    weight, cos_half : float array, shape (angles, samples)
        Both [1]; weight is 0 where the mirrored direction goes below the surface.

    Source
    ------
    Heitz, "Sampling the GGX distribution of visible normals", JCGT 7(4), 2018 (from memory).
    """
    # A lattice: how many samples are lost below the surface turns on the first number alone, which
    # takes `samples` values here, where a square grid would give it only their root.
    index = np.arange(samples)
    u1, u2 = (index[None] + 0.5) / samples, (index[None] * GOLDEN) % 1
    mu = cos_in[:, None]
    # Stretch the view vector, sample the projected disc, unstretch.
    stretched = np.stack([roughness * np.sqrt(1 - mu**2), 0 * mu, mu])
    stretched = stretched / np.linalg.norm(stretched, axis=0)
    radius, phi = np.sqrt(u1), 2 * np.pi * u2
    t1, t2 = radius * np.cos(phi), radius * np.sin(phi)
    blend = 0.5 * (1 + stretched[2])
    t2 = (1 - blend) * np.sqrt(np.maximum(0, 1 - t1**2)) + blend * t2
    t3 = np.sqrt(np.maximum(0, 1 - t1**2 - t2**2))
    # The basis: e1 = y axis, e2 = stretched × e1.
    x = -stretched[2] * t2 + stretched[0] * t3
    y = t1 + 0 * mu
    z = stretched[0] * t2 + stretched[2] * t3
    half = np.stack([roughness * x, roughness * y, np.maximum(1e-9, z)])
    half = half / np.linalg.norm(half, axis=0)
    cos_half = half[0] * np.sqrt(1 - mu**2) + half[2] * mu
    cos_out = 2 * cos_half * half[2] - mu

    def lam(c):
        return 0.5 * (np.sqrt(1 + roughness**2 * (1 / np.clip(c, 1e-6, 1) ** 2 - 1)) - 1)

    weight = np.where(cos_out > 0, (1 + lam(mu)) / (1 + lam(mu) + lam(cos_out)), 0.0)
    return weight, np.clip(cos_half, 0, 1)


@lru_cache(maxsize=256)
def albedo_tables(roughness: float) -> tuple[np.ndarray, np.ndarray]:
    """Return A and B of the directional albedo E = F0·A + B, which are kept and not to be changed.

    Parameters
    ----------
    roughness : float
        GGX alpha; 0 gives a perfect mirror. [1]

    Returns
    -------
    a, b : float array, shape (ANGLES,)
        Against the cosine of the incident angle, 0 to 1. [1]

    Source
    ------
    Schlick, "An inexpensive BRDF model for physically-based rendering", 1994; the split into A
    and B is the one in common use for tabulated gloss (from memory).
    """
    mu = np.linspace(0, 1, ANGLES)
    if roughness <= 0:
        fifth = (1 - mu) ** 5
        a, b = 1 - fifth, fifth
    else:
        parts = []
        for cosines in np.split(np.maximum(mu, 1e-3), ANGLES // TOGETHER):
            weight, cos_half = visible_normal_weights(cosines, roughness, SAMPLES)
            fifth = (1 - cos_half) ** 5
            parts.append([(weight * (1 - fifth)).mean(axis=1), (weight * fifth).mean(axis=1)])
        a, b = np.concatenate(parts, axis=1)
    for table in (a, b):
        table.setflags(write=False)
    return a, b


def hemisphere_mean(table: np.ndarray) -> float:
    """Return the cosine-weighted mean of a directional albedo, 2 ∫ E(mu) mu dmu. [1]"""
    mu = np.linspace(0, 1, len(table))
    return float(np.trapezoid(2 * table * mu, mu))
