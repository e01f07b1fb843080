"""Patterns and reliefs of a stage's surfaces as flat arrays that the kernel reads.

No Mitsuba here: numpy in, numpy out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.tables import NONE
from previz.physics.bands import band_means
from previz.stage.records import Stage, Surface

MOST_SIDE = 0xFFFF
"""Most rows, and columns, of a tile."""


@dataclass(frozen=True)
class Tiles:
    """Tiles that repeat over the uv of surfaces; a row a surface, and one for the black face of a lamp.

    A surface's pattern and its relief lie together, texel by texel, where in every stage's surface they are
    of one size; then a place is worked out once for both.

    Parameters
    ----------
    tile_at, relief_at : uint32 array, shape (surfaces, 4)
        First texel of a tile, `NONE` for none; its rows, and its columns in the lower half; the bits of how
        many tiles go on a step of u, and of v. The second is for reliefs that lie apart.
    apart : bool
        Whether they do.
    per_texture : float32 array, shape (surfaces, 4)
        Textures on a step of u and v, and zeros. [1/m] or [1]
    texels : float32 array, shape (texels, 4 · `stride`)
        As in `stage.records.Pattern`; then both slopes, and those at the next texel to the right.
    stride : int
        Fours of a texel: 1 where no relief lies there.
    slopes : float32 array, shape (texels, 4)
        Of reliefs that lie apart.
    second : float32 array, shape (surfaces, bands)
        What a pattern shows beside the surface's own reflectance.
    clips : bool
        Whether a pattern may make a reflectance higher than a surface can have.
    """

    tile_at: np.ndarray
    relief_at: np.ndarray
    apart: bool
    per_texture: np.ndarray
    texels: np.ndarray
    stride: int
    slopes: np.ndarray
    second: np.ndarray
    clips: bool


class _Kept:
    """Texels of tiles laid one after the other; what surfaces share lies there once."""

    def __init__(self, surfaces: int, width: int):
        self.at = np.tile(np.array([NONE, 1 << 16 | 1, 0, 0], np.uint32), (surfaces, 1))
        self.width, self.texels, self.count = width, list[np.ndarray](), 0
        self.known: dict[tuple, int] = {}

    def lay(self, row: int, size, whose: tuple, texels) -> None:
        """Lay a tile for a surface: what it is made of, and what makes texels of that."""
        if whose not in self.known:
            made = texels()
            if max(made.shape[:2]) > MOST_SIDE:
                raise ValueError(f"a tile of {made.shape[1]} x {made.shape[0]} texels is too large")
            self.known[whose] = self.count, made.shape[0] << 16 | made.shape[1]
            self.texels.append(made.reshape(-1, self.width))
            self.count += len(self.texels[-1])
        self.at[row, :2] = self.known[whose]
        self.at[row, 2:] = (1 / np.asarray(size, np.float32)).view(np.uint32)

    def joined(self) -> np.ndarray:
        return np.concatenate(self.texels) if self.texels else np.zeros((1, self.width), np.float32)


def flatten_tiles(stage: Stage, bands: int) -> Tiles:
    """Lay out the patterns and reliefs of a stage."""
    surfaces = list(stage.surfaces.values())
    count = len(surfaces) + 1
    apart = any(not _alike(each) for each in surfaces)
    together = not apart and any(each.relief is not None for each in surfaces)
    kept, reliefs = _Kept(count, 8 if together else 4), _Kept(count, 4)
    per_texture = np.tile(np.array([1, 1, 0, 0], np.float32), (count, 1))
    second, clips = np.zeros((count, bands), np.float32), False
    for i, surface in enumerate(surfaces):
        pattern, relief = surface.pattern, surface.relief
        if surface.texture_size is not None:
            per_texture[i, :2] = 1 / np.asarray(surface.texture_size, float)
        if pattern is not None:
            second[i] = band_means(pattern.second, bands)
            clips |= _may_clip(surface, second[i])
        if relief is not None and apart:
            reliefs.lay(i, relief.size, (id(relief.slopes),), lambda slopes=relief.slopes: _slopes(slopes))
        own = pattern or (relief if together else None)
        if own is not None:
            parts = (None if pattern is None else pattern.tile,
                     relief.slopes if together and relief is not None else None)
            kept.lay(i, own.size, tuple(map(id, parts)), lambda parts=parts: _texels(*parts, together))
    return Tiles(kept.at, reliefs.at, apart, per_texture, kept.joined(), 2 if together else 1,
                 reliefs.joined(), second, clips)


def _alike(surface: Surface) -> bool:
    pattern, relief = surface.pattern, surface.relief
    return pattern is None or relief is None or (
        tuple(pattern.size) == tuple(relief.size) and pattern.tile.shape[:2] == relief.slopes.shape[:2])


def _may_clip(surface: Surface, second: np.ndarray) -> bool:
    if surface.texture is not None:
        return True
    most = max(float(np.max(surface.reflectance)), float(second.max()))
    return most * float(np.max(surface.pattern.tile[..., 1])) > 1 - float(np.max(surface.transmission))


def _slopes(slopes: np.ndarray) -> np.ndarray:
    slopes = np.asarray(slopes, np.float32)
    return np.concatenate([slopes, np.roll(slopes, -1, axis=1)], axis=2)


def _texels(tile: np.ndarray | None, slopes: np.ndarray | None, together: bool) -> np.ndarray:
    """Return what lies at each texel; without a pattern it changes nothing, without a relief it is level."""
    rows, columns = np.shape(slopes if tile is None else tile)[:2]
    made = np.zeros((rows, columns, 8 if together else 4), np.float32)
    made[..., 1:4] = 1
    if tile is not None:
        made[..., :4] = np.maximum(tile, 0)
        np.minimum(made[..., 0], 1, out=made[..., 0])
    if slopes is not None:
        made[..., 4:] = _slopes(slopes)
    return made
