"""Surfaces with water on them: darker where they are damp, a mirror where it stands.

What is level has puddles from some wetness on, in its hollows; what is upright only darkens, in patches.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from previz.physics.optics import normal_reflectance
from previz.physics.wetness import WATER_INDEX, wet_albedo
from previz.stage.patterns.noise import Noise
from previz.stage.records import Pattern, Relief, Surface

TILE = 9.0
"""Side of the tile that puddles repeat in. [m]"""

TEXELS = 896
"""Along a side of it."""

PUDDLES_FROM, MOST_PUDDLES = 0.4, 0.5
"""Wetness from which water stands, and the share of the ground that it then covers at 1. [1]"""

ROUGH = 0.3
"""Width of a wet surface's gloss, by which factors are counted; a film on grains, least wet. [1]"""

FILM = (0.36, 0.20)
"""Width of the shine of what is only wet, hardly wet and all wet. [1]  Common practice, no source."""

STANDING = 0.025
"""Width of the shine of standing water: nearly a mirror. [1]"""

FILM_SHARE = (0.25, 0.75)
"""Share of what is only wet that shines, hardly wet and all wet. [1]  Common practice, no source."""


def wetted(surface: Surface, wet: float, level: bool) -> Surface:
    """Return a surface that is so wet.

    Metals and glass keep what they mirror: water over them changes little.

    Parameters
    ----------
    surface : Surface
        With its pattern and relief, if it has any.
    wet : float
        0 dry; from 0.4 on water stands on what is level; 1 after rain. [1]
    level : bool
        Whether it is ground.
    """
    if not wet or surface.glass is not None or not np.any(surface.reflectance) or surface.texture is not None:
        return surface
    before = surface.pattern
    own = np.ones((1, 1, 4)) if before is None else np.asarray(before.tile, float)
    if before is None:
        own[..., 0] = 0
    size = (TILE, TILE) if before is None else tuple(max(round(TILE / s), 1) * s for s in before.size)
    counts = (1, 1) if before is None else tuple(max(round(TILE / s), 1) for s in before.size)
    ratio = 1.0
    if before is not None:
        ratio = float(np.mean(before.second) / max(np.mean(surface.reflectance), 1e-6))
    tone = own[..., 1] * (1 - own[..., 0] + own[..., 0] * ratio)
    damp, puddle = _water(round(wet, 3), level)
    rows, columns = damp.shape
    f0 = normal_reflectance(WATER_INDEX)
    dry_gloss = min(surface.gloss * float(np.mean(surface.specular)) / f0, 1.0)
    film_gloss, film_width = (one + (two - one) * wet for one, two in (FILM_SHARE, FILM))
    gloss = dry_gloss * (1 - damp) * _laid(own[..., 2], counts, rows, columns) + film_gloss * damp
    width = surface.roughness * (1 - damp) * _laid(own[..., 3], counts, rows, columns) + film_width * damp
    tile = np.stack(
        [
            damp,
            _laid(tone, counts, rows, columns),
            gloss * (1 - puddle) + puddle,
            (width * (1 - puddle) + STANDING * puddle) / ROUGH,
        ],
        axis=-1,
    ).astype(np.float32)
    tile.setflags(write=False)
    relief = surface.relief
    if relief is not None:
        repeats = tuple(max(round(TILE / s), 1) for s in relief.size)
        flat = (1 - puddle)[..., None] * np.stack(
            [_laid(np.asarray(relief.slopes, float)[..., k], repeats, rows, columns) for k in (0, 1)], axis=-1
        )
        relief = Relief(
            flat.astype(np.float32), tuple(n * s for n, s in zip(repeats, relief.size, strict=True))
        )
        if relief.size != size:
            # Puddles are where the pattern has them; a relief of another size would lie across them.
            relief = None
    return dataclasses.replace(
        surface,
        name=f"{surface.name}, {wet:.0%} wet",
        gloss=1.0,
        roughness=ROUGH,
        specular=f0 * np.ones(81),
        pattern=Pattern(tile, size, wet_albedo(np.clip(surface.reflectance, 0, 1))),
        relief=relief,
    )


@functools.lru_cache(maxsize=8)
def _water(wet: float, level: bool) -> tuple[np.ndarray, np.ndarray]:
    """Return (how damp it is, where water stands) over the tile, float32. [1]"""
    noise = Noise(TEXELS, TEXELS, (TILE, TILE), 77 if level else 78)
    hollow = noise.band(0.10, 5.0, slope=1.5)
    fine = Noise(TEXELS, TEXELS, (TILE, TILE), 79).band(0.03, 1.2, slope=0.9, up=1.0 if level else 0.3)
    puddle = np.zeros_like(hollow)
    share = MOST_PUDDLES * np.clip((wet - PUDDLES_FROM) / (1 - PUDDLES_FROM), 0, 1)
    if level and share > 0:
        # A shore is as wide as the ground is uneven.
        height = hollow + 0.10 * fine
        puddle = np.clip((height - np.quantile(height, 1 - share)) / 0.06 + 0.5, 0, 1)
    ground = 0.8 * hollow + 0.6 * fine
    spread = min(wet / 0.5, 1.0)
    damp = (
        np.ones_like(ground)
        if spread >= 1
        else np.clip((ground - np.quantile(ground, 1 - spread)) / 0.5 + 0.5, 0, 1)
    )
    return tuple(np.maximum(each, puddle).astype(np.float32) for each in (damp, puddle))


def _laid(values: np.ndarray, counts, rows: int, columns: int) -> np.ndarray:
    """Return a tile repeated so often across and up in another, each texel the mean of what it covers."""
    across, up = counts
    place = [(np.arange(n) + 0.5) * k / n % 1 for n, k in ((rows, up), (columns, across))]
    step = [
        max(int(each / n * k / 1), 1)
        for n, k, each in ((rows, up, values.shape[0]), (columns, across, values.shape[1]))
    ]
    for axis in (0, 1):
        if step[axis] > 1:
            total = np.concatenate(
                [
                    np.zeros_like(values.take([0], axis)),
                    np.cumsum(np.concatenate([values, values.take(range(step[axis]), axis)], axis), axis),
                ],
                axis,
            )
            count = values.shape[axis]
            values = (
                total.take(range(step[axis], step[axis] + count), axis) - total.take(range(count), axis)
            ) / step[axis]
    row, column = (np.minimum((p * n).astype(int), n - 1) for p, n in zip(place, values.shape, strict=True))
    return values[row][:, column]
