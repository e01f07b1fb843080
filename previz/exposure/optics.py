"""A picture as the lens and the sensor take it: vignette, bloom, veiling glare and grain, put on its light.

They are put on where a picture is shown, before what the camera holds and its show file; readings, false
colour and EXR files are without them. All are told in angles or in lengths on the sensor, so that a picture
has them alike at every size. In this order:

- Vignette: cos^k of the angle to the axis, the shape of a lens's natural falloff (which has k = 4), with k
  such that the corner loses what is written.
- Bloom: a share of the light goes into a halo in the shape of the CIE's glare spread function without its age
  and eye colour, 10/θ³ + 5/θ² for θ in degrees from 0.1 to 30 (CIE 135/1-1999, Vos; from memory). That is
  measured of the eye; lenses scatter by a power law too, so the shape is taken, and the amount is written.
  The light's sum stays: what would leave the picture comes back in as from a mirror along its edge.
- Veiling glare: the index of ISO 9358 (from memory), the light in a small black spot over that of an even
  field about it, which is spread evenly here.
- Grain: in stops, alike in all channels, over patches of the grain's size; over larger areas it falls with
  the root of the area, as photographic grain does (Selwyn; from memory).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.exposure import CameraSettings
from previz.physics.taking import Optics

CORE_DEG, REACH_DEG = 0.1, 30.0
"""Angles from which on the halo's shape holds, and up to which there is any. [deg]"""

HALO_WIDTH = 640
"""Columns that a halo is worked out in at most, as it has no fine detail. [px]"""

KEPT = 4
"""Halos and grains that are kept; a grain takes about 10 MB."""


def taken(acescg: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return a picture as a camera's lens and sensor take it; without any such optics the picture itself.

    Parameters
    ----------
    acescg : float array, shape (3, row, column)
        Scene-linear, of the whole frame; 0.18 for mid grey. [1]
    settings : CameraSettings
    """
    optics = settings.optics
    if optics is None:
        return np.asarray(acescg)
    picture = np.asarray(acescg, np.float32)
    if optics.vignette:
        picture = picture * falloff(optics, *picture.shape[1:])
    if optics.bloom:
        picture = bloomed(picture, optics)
    if optics.veiling_glare:
        share = np.float32(optics.veiling_glare)
        picture = (1 - share) * picture + share * picture.mean(axis=(1, 2), keepdims=True, dtype=float)
    if optics.grain:
        picture = picture * np.exp2(np.float32(optics.grain) * grain(
            optics.seed, optics.frame, optics.grain_size, *picture.shape[1:]))
    return picture.astype(np.float32)


def _tangents(optics: Optics, rows: int, columns: int) -> tuple[np.ndarray, np.ndarray]:
    """Return tangents of pixels' angles from the axis: across, shape (columns,); up, shape (rows, 1)."""
    across = ((np.arange(columns) + 0.5) / columns * 2 - 1) * optics.tan_half[0]
    upwards = ((np.arange(rows) + 0.5) / rows * 2 - 1) * optics.tan_half[1]
    return across, upwards[:, None]


def falloff(optics: Optics, rows: int, columns: int) -> np.ndarray:
    """Return what of the light a vignette leaves each pixel, float32 of shape (rows, columns). [1]"""
    across, upwards = _tangents(optics, rows, columns)
    # cos² = 1 / (1 + tan²); the corner is that of the frame, half a pixel beyond the last one's middle.
    corner = np.log1p(optics.tan_half[0] ** 2 + optics.tan_half[1] ** 2)
    return np.exp2(-optics.vignette * np.log1p(across**2 + upwards**2) / corner).astype(np.float32)


def bloomed(picture: np.ndarray, optics: Optics) -> np.ndarray:
    """Return a picture, shape (3, row, column), a share of whose light is in its halo."""
    _, rows, columns = picture.shape
    step = -(-columns // HALO_WIDTH)
    padded = np.pad(picture, ((0, 0), (0, -rows % step), (0, -columns % step)), mode="edge")
    high, wide = padded.shape[1] // step, padded.shape[2] // step
    small = padded.reshape(3, high, step, wide, step).mean(axis=(2, 4), dtype=np.float32)
    mirrored = np.concatenate([small, small[:, ::-1]], axis=1)
    mirrored = np.concatenate([mirrored, mirrored[:, :, ::-1]], axis=2)
    across, upwards = (2 * tangent * step / side
                       for tangent, side in zip(optics.tan_half, (columns, rows), strict=True))
    spectrum = np.fft.rfft2(mirrored) * _halo(high, wide, across, upwards)
    halo = np.fft.irfft2(spectrum, s=mirrored.shape[1:])[:, :high, :wide].astype(np.float32)
    wide_halo = _finer(_finer(halo, step, rows, 1), step, columns, 2)
    # As much as was taken, to the last digits that the coarser picture leaves open.
    sums = picture.sum(axis=(1, 2), dtype=float), wide_halo.sum(axis=(1, 2), dtype=float)
    gain = np.where(sums[1] != 0, sums[0] / np.where(sums[1] != 0, sums[1], 1), 1)
    share = np.float32(optics.bloom)
    return (1 - share) * picture + share * wide_halo * gain[:, None, None].astype(np.float32)


@lru_cache(KEPT)
def _halo(rows: int, columns: int, across: float, upwards: float) -> np.ndarray:
    """Return the transform of a halo over twice the rows and columns, of pixels so far apart in tangent."""
    y, x = (np.minimum(np.arange(2 * side), 2 * side - np.arange(2 * side)) for side in (rows, columns))
    # The pixel that the light is meant for has its own share of the core: by points all over it.
    total = np.zeros((2 * rows, 2 * columns))
    offsets = (np.arange(4) + 0.5) / 4 - 0.5
    for dy in offsets:
        for dx in offsets:
            theta = np.degrees(np.arctan(np.hypot((x + dx) * across, ((y + dy) * upwards)[:, None])))
            held = np.maximum(theta, CORE_DEG)
            total += np.where(theta < REACH_DEG, 10 / held**3 + 5 / held**2, 0)
    return np.fft.rfft2(total / total.sum()).real


def _finer(values: np.ndarray, step: int, count: int, axis: int) -> np.ndarray:
    """Return block means drawn out to pixels along an axis, straight between the blocks' middles."""
    if step == 1:
        return np.take(values, np.arange(count), axis=axis)
    at = np.clip((np.arange(count) + 0.5) / step - 0.5, 0, values.shape[axis] - 1)
    low = np.minimum(at.astype(int), max(values.shape[axis] - 2, 0))
    shape = [1] * values.ndim
    shape[axis] = count
    part = (at - low).astype(np.float32).reshape(shape)
    after = np.minimum(low + 1, values.shape[axis] - 1)
    return np.take(values, low, axis=axis) * (1 - part) + np.take(values, after, axis=axis) * part


@lru_cache(KEPT)
def grain(seed: int, frame: tuple[float, float], size: float, rows: int, columns: int) -> np.ndarray:
    """Return a frame's grain, mean 0 and of deviation 1 over squares of its size; shape (rows, columns).

    Its field lies on the sensor: a pixel has the mean of it over its own area, at whatever size.
    """
    wide, high = (max(2, int(np.ceil(side / size)) + 2) for side in frame)
    cells = np.random.default_rng(seed).standard_normal((high, wide), np.float32)
    strips = [_means(cells[:, at:at + STRIP], frame[1] / size, rows) for at in range(0, wide, STRIP)]
    field = _means(np.concatenate(strips, axis=1).T, frame[0] / size, columns).T
    made = np.ascontiguousarray(field / TENT_DEVIATION, np.float32)
    made.setflags(write=False)
    return made


STRIP = 1024
"""Columns of a grain's field that are added up at once."""

TENT_DEVIATION = 11 / 20
"""Deviation of the mean over a cell's square of values of deviation 1 with straight lines between them: each
way the integral over the square of a quadratic B-spline is 11/20, and so is the variance. [1]"""

ASIDE = 0.75
"""Where in the field a frame begins: there parts of a cell's size deviate as on average. [cells]"""


def _means(values: np.ndarray, cells: float, count: int) -> np.ndarray:
    """Return means over `count` equal parts of so many cells, along the first axis, from `ASIDE` on."""
    whole = np.concatenate([np.zeros((1, values.shape[1])),
                            np.cumsum((values[1:] + values[:-1]) / 2, axis=0, dtype=float)])
    ends = np.linspace(ASIDE, ASIDE + cells, count + 1)
    low = np.minimum(ends.astype(int), len(values) - 2)
    part = (ends - low)[:, None]
    reached = whole[low] + values[low] * part + (values[low + 1] - values[low]) * part**2 / 2
    return (np.diff(reached, axis=0) * (count / cells)).astype(np.float32)
