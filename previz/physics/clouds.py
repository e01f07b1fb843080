"""Clouds over a place: how much of each direction they cover, and how brightly they are lit.

A cloud is a field of heights over a level base: its ragged top stands over the base as high as noise with
a power-law spectrum says, and lines of sight are followed through it in a few layers. Shapes are invented;
how much is covered, and that the dome gives what it gives without them, is held exactly elsewhere.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.physics.arrays import FloatArray

Single = NDArray[Any]
"""Single precision: there are millions of lines times layers."""

SIDE = 1024
"""Samples along a side of a tile of noise."""

COARSE, FINE = 36.0, 5.6
"""Sides of the tiles of large and of small shapes, in heights of the base. [1]"""

LAYERS = 8
"""Steps of a line of sight through a cloud."""

SUN_GAP_DEG = 8.0
"""A sun that shines is seen past the clouds, which thin out within about so much of it. [deg]"""

THIN = 0.05
"""Height of the top over the base under which a cloud is a sheet, lit all through. [1]"""

FAR = 0.045
"""Sine that is added to that of the altitude, so that the horizon's clouds are some 20 heights off. [1]
About the curve of the earth under clouds at 1.5 km.  Common practice, no source."""


@dataclass(frozen=True)
class CloudKind:
    """What one kind of cloud is like.  All figures: common practice, no source.

    Parameters
    ----------
    cover : float
        Usual share of the sky. [1]
    stretch : (float, float)
        Size of its shapes along and across the wind, over a base's height. [1]
    detail : float
        Weight of small shapes. [1]
    top : float
        Height of the highest over their base, over the base's own. [1]
    soft : float
        Noise over which an edge thickens. [1]
    dense : float
        Most that a layer of it covers. [1]
    thick : float
        How fast it darkens with its height over the base. [1]
    bright, dark : float
        Luminance of what the sun lights, and of a base in shade, over the clear sky's mean. [1]
    """

    cover: float
    stretch: tuple[float, float]
    detail: float
    top: float
    soft: float
    dense: float
    thick: float
    bright: float
    dark: float


KINDS = {
    "fair": CloudKind(0.35, (1.15, 1.0), 0.42, 0.60, 0.30, 0.60, 1.3, 2.6, 0.70),
    "high": CloudKind(0.40, (3.0, 0.6), 0.60, 0.02, 1.40, 0.14, 0.5, 1.9, 1.5),
    "broken": CloudKind(0.70, (2.0, 1.4), 0.45, 0.35, 0.50, 0.50, 0.9, 1.9, 0.50),
    "storm": CloudKind(0.94, (2.8, 1.8), 0.60, 0.60, 0.90, 0.65, 0.75, 1.35, 0.22),
}


@functools.lru_cache(maxsize=8)
def _tile(seed: int, slope: float, lowest: int, highest: int) -> Single:
    """Return a tile of noise that repeats: mean 0, deviation 1, amplitude falling as frequency^-slope."""
    count = np.fft.fftfreq(SIDE, 1 / SIDE)
    size = np.hypot(count[:, None], count[None, : SIDE // 2 + 1])
    keep = (size >= lowest) & (size <= highest)
    rng = np.random.default_rng([seed, lowest])
    height = np.where(keep, np.maximum(size, 1) ** -(slope + 1.0), 0)
    turn = np.exp(2j * np.pi * rng.random(size.shape))
    found = np.fft.irfft2(height * turn, (SIDE, SIDE))
    found = (found / found.std()).astype(np.float32)
    found.setflags(write=False)
    return found


def _read(tile: Single, x: Single, y: Single, side: float) -> Single:
    scale = np.float32(SIDE / side)
    row, column = (y * scale).astype(np.int32), (x * scale).astype(np.int32)
    row &= SIDE - 1
    column &= SIDE - 1
    row *= SIDE
    row += column
    return tile.ravel().take(row)


class _Field:
    """Heights of one kind of cloud, by place over the ground in heights of its base."""

    def __init__(self, kind: CloudKind, seed: int):
        self.kind = kind
        self.large, self.small = _tile(seed, 1.25, 9, 120), _tile(seed + 7919, 0.9, 3, 300)
        turn = np.random.default_rng([seed, 3]).random() * 2 * np.pi
        self.cos, self.sin = np.float32(np.cos(turn)), np.float32(np.sin(turn))

    def at(self, x: Single, y: Single) -> Single:
        u = (x * self.cos + y * self.sin) / np.float32(self.kind.stretch[0])
        v = (y * self.cos - x * self.sin) / np.float32(self.kind.stretch[1])
        # Small shapes ride on the flanks of the large ones, as billows: round outside, creased between.
        large = _read(self.large, u, v, COARSE)
        return large + np.float32(self.kind.detail) * (
            np.float32(1.1) - np.float32(1.4) * np.abs(_read(self.small, u, v, FINE))
        )


def _uneven(shape: tuple[int, ...]) -> Single:
    """Return where lines of sight begin in a layer, 0 to 1, unlike neighbours: steps would show. float32"""
    row, column = (np.arange(n, dtype=np.float32) for n in shape)
    return (row[:, None] * np.float32(0.7548777) + column * np.float32(0.5698403)) % np.float32(1)


def _softened(values: Single) -> None:
    """Mix each cell with its neighbours, in place; azimuths close."""
    values += np.float32(0.5) * (np.roll(values, 1, axis=1) + np.roll(values, -1, axis=1))
    values *= np.float32(0.5)
    values[1:-1] = 0.5 * values[1:-1] + np.float32(0.25) * (values[:-2] + values[2:])


def _through(
    field: _Field,
    least: float | Single,
    line: tuple[Single, Single, Single],
    towards: tuple[float, float, float],
) -> tuple[Single, Single]:
    """Return (share covered, share of that in sunlight) of lines of sight through the layer, float32.

    `least` is what the field has to stand over, one number or one a line. A line is the level parts of its
    direction and the upright one; `towards` is the sun, a unit vector.
    """
    kind, (x, y, sine) = field.kind, line
    reach = 1 / (sine + np.float32(FAR))
    left, lit = np.ones_like(sine), np.zeros_like(sine)
    slant = 1 / max(float(towards[2]), 0.12)
    start = _uneven(sine.shape)
    for layer in range(LAYERS):
        rise = (layer + start) / np.float32(LAYERS)
        away = reach * (1 + np.float32(kind.top) * rise)
        height = field.at(x * away, y * away) - least
        # So high a cloud is where the field stands over the threshold: its sides fall off towards the top.
        body = np.clip((height - np.float32(1.5) * rise) / np.float32(kind.soft), 0, 1)
        covers = body * body * (3 - 2 * body) * np.float32(kind.dense)
        if kind.top > THIN:
            step = 0.16 * slant * (1 + kind.top)
            shade = field.at(
                x * away + np.float32(towards[0] * step), y * away + np.float32(towards[1] * step)
            )
            hidden = np.clip(shade - least - np.float32(1.5) * rise - np.float32(0.25), 0, 2)
            sunlit = np.exp(
                -np.float32(1.5) * hidden - np.float32(kind.thick) * (1 - rise) * np.clip(height, 0, 3)
            )
        else:
            sunlit = np.ones_like(covers)
        lit += left * covers * sunlit
        left *= 1 - covers
    covered = 1 - left
    return covered, lit / np.maximum(covered, 1e-3)


@functools.lru_cache(maxsize=8)
def cloud_layer(
    kind: str, cover: float, seed: int, cells: tuple[int, int], towards: tuple[float, float, float], gap: bool
) -> tuple[FloatArray, FloatArray]:
    """Return what clouds cover of each direction, and how much of what is seen of them is sunlit.

    Parameters
    ----------
    kind : str
        A key of `KINDS`.
    cover : float
        Share of the solid angle over the horizon that they cover, within some hundredths. [1]
    seed : int
        Which clouds.
    cells : (int, int)
        Rows from straight up to the horizon, and columns counter-clockwise from +x.
    towards : (float, float, float)
        Unit vector to the sun, or to what stands for it.
    gap : bool
        Whether the sun is to be seen past them.

    Returns
    -------
    float array, shape (rows, columns), twice
        Read-only. [1]
    """
    field = _Field(KINDS[kind], seed)
    if cover <= 0:
        return _kept(np.zeros(cells)), _kept(np.zeros(cells))
    zenith = (np.arange(cells[0]) + 0.5) * np.pi / 2 / cells[0]
    azimuth = (np.arange(cells[1]) + 0.5) * 2 * np.pi / cells[1]

    def place(rows: FloatArray, columns: FloatArray) -> tuple[Single, Single, Single]:
        sine, level = (f(rows)[:, None].astype(np.float32) for f in (np.cos, np.sin))
        x, y = level * np.cos(columns).astype(np.float32), level * np.sin(columns).astype(np.float32)
        return x, y, np.broadcast_to(sine, x.shape)

    rows = np.arccos(1 - (np.arange(24) + 0.5) / 24)
    some = place(rows, np.linspace(0, 2 * np.pi, 96, endpoint=False))
    low, high = -5.0, 5.0
    for _ in range(9):
        middle = (low + high) / 2
        found = float(_through(field, middle, some, towards)[0].mean())
        low, high = (middle, high) if found > cover else (low, middle)
    whole = place(zenith, azimuth)
    x, y, sine = whole
    least: float | Single = (low + high) / 2
    if gap:
        near = x * np.float32(towards[0]) + y * np.float32(towards[1]) + sine * np.float32(towards[2])
        away2 = 2 * (1 - np.minimum(near, 1)) / np.float32(np.radians(SUN_GAP_DEG) ** 2)
        least = least + np.float32(4) * np.exp(-away2)
    covered, lit = _through(field, least, whole, towards)
    for each in (covered, lit) if KINDS[kind].top > THIN else ():
        _softened(each)
    return _kept(covered.astype(float)), _kept(lit.astype(float))


def _kept(values: Single) -> FloatArray:
    values.setflags(write=False)
    return values
