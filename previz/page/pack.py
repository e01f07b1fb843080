"""Numbers for the page: lamps as half-float pictures, and how tungsten changes as it fades."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.page.clean import read_clean
from previz.physics.light import lamp_band_xyz
from previz.stage.lamps import DARKEST_FILAMENT, lamp_light

LARGEST_HALF = 65504.0
"""Largest half float.  Source: IEEE 754-2008, binary16."""

FADE_STOPS = tuple(-0.5 * step for step in range(20))
"""Levels at which a fading tungsten lamp's colour is sent; between them the page interpolates."""

_SAMPLED = 4096
"""About how many pixels a fade is fitted over."""


def lamp_bands(frames, folder, number: int) -> tuple[np.ndarray, float]:
    """Return a lamp's bands over a scale: cleaned where that is done, else as rendered."""
    kept = read_clean(folder, frames, number)
    if kept is not None:
        return kept
    return np.asarray(frames.slices[number], dtype=np.float32), 1.0


def full(lamp):
    """Return a lamp switched on at full level."""
    return replace(lamp, level=1.0, on=True)


def lamp_picture(bands: np.ndarray, scale: float, lamp, gain: float) -> np.ndarray:
    """Return what one lamp adds to the picture at full level.

    Parameters
    ----------
    bands, scale
        From `lamp_bands`.
    lamp : LampLight
        Its colour and gels count, its level does not.
    gain : float
        Signal of 1 cd/m². [m²/cd]

    Returns
    -------
    float32 array, shape (row, column, 3)
        X, Y, Z as signal: Y of 0.18 is mid grey. [1]
    """
    weights = lamp_band_xyz(full(lamp), len(bands)) * (gain * scale)
    flat = np.asarray(bands).reshape(len(bands), -1)
    made = np.empty((flat.shape[1], 3), np.float32)
    # In blocks, so that widening half floats does not take memory for the whole picture.
    for start in range(0, len(made), 65536):
        block = slice(start, start + 65536)
        made[block] = flat[:, block].astype(np.float32).T @ weights.astype(np.float32)
    return made.reshape(*bands.shape[1:], 3)


def to_half(values: np.ndarray) -> bytes:
    """Return numbers as little-endian half floats, held at the largest."""
    held = np.clip(values, -LARGEST_HALF, LARGEST_HALF)
    return np.ascontiguousarray(held, dtype="<f2").tobytes()


def fade_tables(bands: np.ndarray, light) -> list[list[float]]:
    """Return how a tungsten lamp's picture changes in colour as it is dimmed.

    For each of `FADE_STOPS` the 3x3 matrix that takes X, Y, Z of the lamp at full level to those
    at that level, for the same lumens, with the least relative error over the lamp's own picture.

    Parameters
    ----------
    bands : float array, shape (band, row, column)
        From `lamp_bands`.
    light : scene.light.Light or None
        None for sun and sky.

    Returns
    -------
    list of 9 floats each, row by row; empty for a lamp that keeps its colour
    """
    if light is None or light.spectrum != "tungsten":
        return []
    flat = np.asarray(bands).reshape(len(bands), -1)
    flat = flat[:, :: max(1, flat.shape[1] // _SAMPLED)].astype(np.float64)
    flat = flat[:, flat.sum(axis=0) > 0]
    if not flat.size:
        flat = np.ones((len(bands), 1))
    flat /= flat.sum(axis=0)

    def seen(level):
        lamp = replace(lamp_light(replace(light, dimmer=level), 1.0), level=1.0, on=True)
        return flat.T @ lamp_band_xyz(lamp, len(bands))

    full = seen(1.0)
    return [_matrix(full, seen(max(2.0**stops, DARKEST_FILAMENT))) for stops in FADE_STOPS]


def _matrix(before: np.ndarray, after: np.ndarray) -> list[float]:
    """Return the matrix that takes rows of one to rows of the other, as closely as one can."""
    # A picture of greys alone leaves the matrix open; a little of the change of white, spread
    # over all colours, closes it.
    white = np.diag(after.sum(axis=0) / before.sum(axis=0))
    weight = 1e-3 * np.sqrt(np.mean(before**2))
    rows = np.concatenate([before, weight * np.eye(3)])
    target = np.concatenate([after, weight * white])
    solved = np.linalg.lstsq(rows, target, rcond=None)[0].T
    return [float(each) for each in solved.ravel()]

