"""What a kind of pattern draws, and the table of kinds."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.stage.patterns.noise import Noise, Size, lot

Part = np.ndarray | float


@dataclass(frozen=True)
class Drawn:
    """One tile as it is drawn, before it is held to what a surface reflects.

    Parameters
    ----------
    size : (float, float)
        Width and height. [m]
    height : float array, shape (rows, columns)
        Of the surface over its mean plane; the top row lies at the greatest v. [m]
    tone, gloss, roughness : float array of that shape, or float
        What reflectance, gloss and roughness are multiplied by. [1]
    share : float array of that shape, or float
        Of what shows beside the surface's own reflectance. [1]
    """

    size: Size
    height: np.ndarray
    tone: Part = 1.0
    share: Part = 0.0
    gloss: Part = 1.0
    roughness: Part = 1.0


class Canvas:
    """The places of a tile.

    Parameters
    ----------
    size : (float, float)
        [m]
    columns, rows : int
    seed : int
    """

    def __init__(self, size: Size, columns: int, rows: int, seed: int = 1):
        self.size, self.rows, self.columns, self.seed = size, rows, columns, seed
        self.step = size[0] / columns, size[1] / rows
        self.u = (np.arange(columns) + 0.5)[None] * self.step[0]
        self.v = (rows - 0.5 - np.arange(rows))[:, None] * self.step[1]

    @functools.cached_property
    def noise(self) -> Noise:
        """Noise over the tile."""
        return Noise(self.rows, self.columns, self.size, self.seed)

    def lot(self, number: int, *places) -> np.ndarray:
        """Return a number of [0, 1) for whole numbers of a place; `number` tells lots of one place apart."""
        return lot(self.seed * 1009 + number, *places)

    def inside(self, depth: np.ndarray) -> np.ndarray:
        """Return how much of a texel lies on the inner side of an edge that is so deep outside. [m] -> [1]"""
        return np.clip(0.5 + depth / max(self.step), 0, 1)


BUILDERS: dict[str, Callable[[float], Drawn]] = {}
"""Word of a pattern -> function of its size [m] that draws it."""


def draws(word: str) -> Callable[[Callable[..., Drawn]], Callable[[float], Drawn]]:
    """Return a decorator that makes a function the one that draws a pattern; its tiles are kept."""

    def keep(function: Callable[..., Drawn]) -> Callable[[float], Drawn]:
        kept: Any = functools.lru_cache(maxsize=16)(function)
        BUILDERS[word] = kept
        return kept

    return keep


def slopes_of(height: np.ndarray, size: Size) -> np.ndarray:
    """Return rise over length towards greater u and v, shape (rows, columns, 2), by periodic differences. [1]"""
    rows, columns = height.shape
    across = (np.roll(height, -1, 1) - np.roll(height, 1, 1)) * (columns / (2 * size[0]))
    upward = (np.roll(height, 1, 0) - np.roll(height, -1, 0)) * (rows / (2 * size[1]))
    return np.stack([across, upward], axis=-1)
