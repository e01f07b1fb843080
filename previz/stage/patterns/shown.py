"""A surface with its pattern: the drawn tile, held to the surface's reflectance, and its relief."""

from __future__ import annotations

import dataclasses
import functools
from dataclasses import dataclass

import numpy as np

from previz.physics.spectra import observer
from previz.scene.patterns import PATTERNS
from previz.stage.patterns import BUILDERS, wear
from previz.stage.patterns.drawn import Drawn, slopes_of
from previz.stage.patterns.held import FINE, SLOPE_GRID, STEEPEST, gridded, held
from previz.stage.records import Pattern, Relief, Surface

MOST = 0.98
"""Most that any place of a pattern sends on, reflected and transmitted. [1]"""

BRUSHED = (0.55, 1.5)
"""Roughness along and across brushing, over that of the metal (common practice, no source). [1]"""

KEPT = 48
"""How many tiles are kept, of a few megabytes each at most."""


@dataclass(frozen=True)
class Shown:
    """Which pattern a surface shows.

    Parameters
    ----------
    word : str
        A key of `scene.patterns.PATTERNS`.
    size : float
        [m]
    relief : float
        Strength of its relief. [1]
    worn : float
        Share of the surface that is worn. [1]
    """

    word: str
    size: float
    relief: float = 1.0
    worn: float = 0.0

    @property
    def along(self) -> bool:
        """Whether it runs along the longest side of a thing."""
        return PATTERNS[self.word].along


@functools.lru_cache(KEPT)
def drawn(word: str, size: float, worn: float) -> Drawn:
    """Return the tile of a pattern as it is drawn, worn or not."""
    if not worn:
        return BUILDERS[word](size)
    if word == "worn paint":
        return wear.worn(wear.bare(size), worn, size)
    made = BUILDERS[word](size)
    return wear.worn(made, worn) if PATTERNS[word].wears == "off" else wear.scuffed(made, worn)


def _sealed(array: np.ndarray) -> np.ndarray:
    array.setflags(write=False)
    return array


@functools.lru_cache(KEPT)
def _relief(word: str, size: float, worn: float, strength: float) -> Relief | None:
    """Return the relief of a pattern; None where it has none that could be seen."""
    made = drawn(word, size, worn)
    slopes = np.clip(slopes_of(made.height, made.size) * strength, -STEEPEST, STEEPEST)
    slopes = gridded(slopes, slopes.shape, SLOPE_GRID)
    return Relief(_sealed(slopes.astype(np.float32)), made.size) if np.any(slopes) else None


@functools.lru_cache(KEPT)
def _tile(word: str, size: float, worn: float, ratio: float, peaks: tuple[float, float]) -> np.ndarray:
    """Return a pattern's tile of shape (rows, columns, 4); see `records.Pattern` and `held.held`."""
    made = drawn(word, size, worn)
    shape = made.height.shape
    share = gridded(np.clip(made.share, 0, 1), shape)
    tone = gridded(np.maximum(made.tone, 0.02), shape)
    share, tone = held(share, tone, ratio, peaks)
    gloss = gridded(np.clip(made.gloss, 0, 1), shape)
    roughness = gridded(np.clip(made.roughness, 0.2, 10), shape)
    return _sealed(np.stack([share, tone, gloss, roughness], axis=-1).astype(np.float32))


@functools.lru_cache(KEPT)
def _pattern(shown: tuple[str, float, float], ratio: float, peaks: tuple[float, float], second: bytes) -> Pattern:
    curve = _sealed(np.frombuffer(second, float))
    return Pattern(_tile(*shown, ratio, peaks), drawn(*shown).size, curve)


def _luminance(curve: np.ndarray) -> float:
    bright = observer()[1]
    return float(curve @ bright / bright.sum())


def with_pattern(surface: Surface, shown: Shown, second: np.ndarray | None = None) -> Surface:
    """Return a surface with a pattern and its relief.

    Over whole tiles it sends back as much light (of equal energy) as without.

    Parameters
    ----------
    surface : Surface
        A metal keeps its reflectance where nothing else shows.
    shown : Shown
    second : float array, shape (81,), or None
        Albedo of what the pattern shows beside the surface's own. [1]
    """
    key = shown.word, shown.size, shown.worn
    made = drawn(*key)
    own = _luminance(surface.reflectance)
    other = np.zeros_like(surface.reflectance)
    if second is not None and np.any(made.share):
        other = np.asarray(second, float)
    elif np.any(made.share):
        other = surface.reflectance
    ratio = _luminance(other) / own if own > 0 and np.any(other) else 1.0
    room = np.maximum(MOST - surface.transmission, 1e-3)
    peaks = tuple(float(np.max(each / room)) for each in (surface.reflectance, other))
    if max(peaks) * np.max(made.tone) * max(1.0, 1.0 / min(ratio, 1.0)) < 0.9:
        peaks = 0.0, 0.0  # No place comes near the most: the tile is the same for all such surfaces.
    pattern = _pattern(key, round(ratio * FINE) / FINE, peaks, other.tobytes())
    if shown.word == "brushed":
        along, across = (min(max(surface.roughness * each, 0.03), 1.0) for each in BRUSHED)
        surface = dataclasses.replace(surface, roughness=along, across=across)
    return dataclasses.replace(surface, pattern=pattern, relief=_relief(*key, shown.relief))
