"""Patterns and reliefs of a stage's surfaces as flat arrays that the kernel reads.

No Mitsuba here: numpy in, numpy out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.tables import NONE
from previz.physics.bands import band_means
from previz.stage.records import Stage


@dataclass(frozen=True)
class Tiles:
    """Tiles that repeat over the uv of surfaces; a row a surface, and one for the black face of a lamp.

    Parameters
    ----------
    pattern_at, relief_at : uint32 array, shape (surfaces, 4)
        Where its tile starts in the texels, `NONE` for none; its rows and columns; 0.
    per_tile : float32 array, shape (surfaces, 4)
        Tiles over a step of u and v, of the pattern and of the relief. [1/m] or [1]
    patterns : float32 array, shape (texels, 4)
        As in `stage.records.Pattern`.
    slopes : float32 array, shape (texels, 4)
        Both slopes at a texel, and at the next to its right.
    second : float32 array, shape (surfaces, bands)
        What a pattern shows beside the surface's own reflectance.
    """

    pattern_at: np.ndarray
    relief_at: np.ndarray
    per_tile: np.ndarray
    patterns: np.ndarray
    slopes: np.ndarray
    second: np.ndarray


def flatten_tiles(stage: Stage, bands: int) -> Tiles:
    """Lay out the patterns and reliefs of a stage; a tile that surfaces share lies there once."""
    count = len(stage.surfaces) + 1
    at = np.tile(np.array([NONE, 1, 1, 0], np.uint32), (2, count, 1))
    per_tile, second = np.ones((count, 4), np.float32), np.zeros((count, bands), np.float32)
    kept: tuple[list, list] = [], []
    known: dict[int, tuple] = {}
    for i, surface in enumerate(stage.surfaces.values()):
        pattern, relief = surface.pattern, surface.relief
        if pattern is not None:
            second[i] = band_means(pattern.second, bands)
            at[0, i, :3] = _keep(kept[0], known, pattern.tile, lambda tile: tile)
            per_tile[i, :2] = 1 / np.asarray(pattern.size, float)
        if relief is not None:
            at[1, i, :3] = _keep(kept[1], known, relief.slopes,
                                 lambda tile: np.concatenate([tile, np.roll(tile, -1, axis=1)], axis=2))
            per_tile[i, 2:] = 1 / np.asarray(relief.size, float)
    return Tiles(*at, per_tile, *(_joined(each) for each in kept), second)


def _keep(kept: list, known: dict[int, tuple], tile: np.ndarray, laid) -> tuple[int, int, int]:
    """Add a tile to those kept, as it is to be laid; return where it starts, its rows and columns."""
    if id(tile) not in known:
        texels = np.asarray(laid(np.asarray(tile, np.float32)), np.float32).reshape(-1, 4)
        known[id(tile)] = sum(map(len, kept)), *np.shape(tile)[:2]
        kept.append(texels)
    return known[id(tile)]


def _joined(kept: list) -> np.ndarray:
    return np.concatenate(kept) if kept else np.zeros((1, 4), np.float32)
