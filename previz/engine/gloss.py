"""How much of the light a glossy surface mirrors, for every angle: tables that keep the energy.

A microfacet gloss mirrors more at grazing angles and loses a little between its facets. The
diffuse part under it may only get what the gloss left. Both need the gloss's directional albedo,
here split so that one table serves every reflectance at normal incidence F0:

    E(mu; F0) = F0 · A(mu) + B(mu)        (Schlick's Fresnel, GGX, Smith height-correlated)
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from previz.stage.records import SMOOTH

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


WIDTHS = 17
"""Roughnesses between which the tables of a surface whose roughness varies are read."""

TURNS = 7
"""Bearings between which those of a gloss of two widths are, equally spaced in the cosine to the wider one's;
between them its albedo is as good as straight."""

TURN_SAMPLES = 2048
"""Samples for each angle and bearing."""


def width_at(step: np.ndarray) -> np.ndarray:
    """Return the roughness of a step, 0 to `WIDTHS` - 1: their roots are equally spaced."""
    low = SMOOTH**0.5
    return (low + (1 - low) * np.asarray(step) / (WIDTHS - 1)) ** 2


@lru_cache(maxsize=64)
def across_tables(along: float, across: float) -> tuple[np.ndarray, np.ndarray]:
    """Return A and B of a gloss that is of two widths, against the bearing too.

    Parameters
    ----------
    along, across : float
        GGX alpha along u and square to it. [1]

    Returns
    -------
    a, b : float array, shape (TURNS, ANGLES)
        The last row for light that comes along the wider of the two. [1]

    Source
    ------
    GGX of two widths and its visible normals: Heitz, "Sampling the GGX distribution of visible normals",
    JCGT 7(4), 2018 (from memory).
    """
    mu = np.maximum(np.linspace(0, 1, ANGLES), 1e-3)
    index = np.arange(TURN_SAMPLES)
    u1, u2 = (index + 0.5) / TURN_SAMPLES, (index * GOLDEN) % 1
    widths = np.array([along, across, 1.0])
    parts = []
    for wide in np.linspace(0, 1, TURNS):
        turned = (wide, np.sqrt(1 - wide**2))
        level = np.sqrt(1 - mu**2)
        x, y = turned if along > across else turned[::-1]
        view = np.stack([level * x, level * y, mu], axis=1)
        half = _two_width_normals(view, widths, u1, u2)
        cos_half = np.einsum("asi,ai->as", half, view)
        out = 2 * cos_half[..., None] * half - view[:, None]

        def hidden(w):
            flat = (w[..., 0] * along) ** 2 + (w[..., 1] * across) ** 2
            return 0.5 * (np.sqrt(1 + flat / np.clip(w[..., 2], 1e-6, 1) ** 2) - 1)

        own = 1 + hidden(view)[:, None]
        weight = np.where(out[..., 2] > 0, own / (own + hidden(out)), 0.0)
        fifth = (1 - np.clip(cos_half, 0, 1)) ** 5
        parts.append([(weight * (1 - fifth)).mean(axis=1), (weight * fifth).mean(axis=1)])
    a, b = np.swapaxes(np.array(parts), 0, 1)
    for table in (a, b):
        table.setflags(write=False)
    return a, b


def _two_width_normals(view: np.ndarray, widths: np.ndarray, u1, u2) -> np.ndarray:
    """Return visible normals of directions (angles, 3), drawn by lattices. Shape (angles, samples, 3)"""
    stretched = view * widths
    stretched /= np.linalg.norm(stretched, axis=1, keepdims=True)
    first = np.stack([-stretched[:, 1], stretched[:, 0], 0 * stretched[:, 0]], axis=1)
    length = np.linalg.norm(first, axis=1, keepdims=True)
    first = np.where(length > 1e-6, first / np.maximum(length, 1e-6), [1.0, 0.0, 0.0])
    second = np.cross(stretched, first)
    radius, phi = np.sqrt(u1), 2 * np.pi * u2
    t1 = radius * np.cos(phi)
    blend = 0.5 * (1 + stretched[:, 2:])
    t2 = (1 - blend) * np.sqrt(np.maximum(0, 1 - t1**2)) + blend * radius * np.sin(phi)
    t3 = np.sqrt(np.maximum(0, 1 - t1**2 - t2**2))
    half = (t1[None, :, None] * first[:, None] + t2[..., None] * second[:, None]
            + t3[..., None] * stretched[:, None])
    half = half * widths
    half[..., 2] = np.maximum(half[..., 2], 1e-9)
    return half / np.linalg.norm(half, axis=2, keepdims=True)


LEAST_FUZZ = 0.05
"""Spread of fibres under which they stand no straighter. [1]"""

FUZZ_STEPS = 160
"""Steps of the integrals over a hemisphere, each way."""


@lru_cache(maxsize=64)
def fuzz_table(spread: float) -> tuple[np.ndarray, float]:
    """Return (directional albedo of upright fibres that mirror all light, what it was scaled by).

    The lobe, with the cosine to the light, is D cos l / (4 (cos v + cos l - cos v cos l)), where
    D = (2 + 1/s) sin^(1/s) / (2 pi) of the half vector's angle. It is scaled down where its albedo would be
    above one anywhere.

    Parameters
    ----------
    spread : float
        `s`; see `Surface.fuzz`. [1]

    Returns
    -------
    albedo : float array, shape (ANGLES,)
        Against the cosine, 0 to 1. [1]
    scale : float
        [1]

    Source
    ------
    Estevez and Kulla, "Production friendly microfacet sheen BRDF", 2017, for the distribution; Neubelt and
    Pettineo, "Crafting a next-gen material pipeline", 2013, for what stands in for its shadowing, which makes
    light that would be lost between fibres go on (both from memory).
    """
    power = 1 / max(spread, LEAST_FUZZ)
    middle = (np.arange(FUZZ_STEPS) + 0.5) / FUZZ_STEPS
    # Even in the angle, not in its cosine: the lobe stands along the horizon.
    tilt, turn = np.meshgrid(middle * np.pi / 2, middle * np.pi, indexing="ij")
    cos_light, sin_light = np.cos(tilt), np.sin(tilt)
    albedo = np.empty(ANGLES)
    for i, cos_view in enumerate(np.maximum(np.linspace(0, 1, ANGLES), 1e-4)):
        sin_view = np.sqrt(1 - cos_view**2)
        between = cos_light * cos_view + sin_light * sin_view * np.cos(turn)
        cos_half = (cos_light + cos_view) / np.sqrt(np.maximum(2 + 2 * between, 1e-12))
        sine = np.sqrt(np.clip(1 - cos_half**2, 0, 1))
        d = (2 + power) * sine**power / (2 * np.pi)
        lobe = d * cos_light / (4 * (cos_view + cos_light - cos_view * cos_light))
        albedo[i] = 2 * np.mean(lobe * sin_light) * np.pi * np.pi / 2
    scale = 1 / max(1.0, float(albedo.max()))
    albedo *= scale
    albedo.setflags(write=False)
    return albedo, scale


def under_terms(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return (t0, t1, t2), so that t0 + t1 F0 + t2 F0² is the mean of a gloss's albedo with its facets' loss
    put back, weighed by the cosine. Shape (3,)
    """
    lost = 1 / np.maximum(a + b, 1e-3) - 1
    return np.array([hemisphere_mean(each) for each in (b, a + b * lost, a * lost)])


def turn_mean(tables: np.ndarray) -> np.ndarray:
    """Return the mean over all bearings of a table of shape (TURNS, ANGLES). Shape (ANGLES,)"""
    bearings = np.sin((np.arange(90) + 0.5) * np.pi / 180)
    step = bearings * (TURNS - 1)
    low = np.minimum(step.astype(int), TURNS - 2)
    part = (step - low)[:, None]
    return ((1 - part) * tables[low] + part * tables[low + 1]).mean(axis=0)
