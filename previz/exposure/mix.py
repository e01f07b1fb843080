"""Mixing: from slices per unit lamp to the light of the lamps as they are set now.

Light adds up. A dimmer, a gel or a lamp's colour is a weight on each band of its slice, so a
picture at any balance is one pass over the slices and no ray is traced again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from previz.frames.abreast import abreast, parts_of
from previz.frames.records import Frames
from previz.physics.light import LampLight, lamp_band_xyz

_COLUMNS = 8192
"""Pixels mixed at once: the result stays in cache, and the product is small enough to run on one
core, as waking the others for it takes longer than it saves where they have work already."""


def lamps_in_order(frames: Frames, lamps: Sequence[LampLight]) -> list[LampLight]:
    """Return lamps, one for each light of the frames, in the order of the slices.

    Raises
    ------
    ValueError
        A light has no lamp, a lamp has no slice, or a name occurs twice.
    """
    by_name = {lamp.name: lamp for lamp in lamps}
    if len(by_name) != len(lamps):
        raise ValueError(f"lamps must have different names, got {[lamp.name for lamp in lamps]}")
    missing = [name for name in frames.lights if name not in by_name]
    unknown = [name for name in by_name if name not in frames.lights]
    if missing or unknown:
        raise ValueError(f"lamps and frames must name the same lights; no lamp for {missing}, "
                         f"no slice for {unknown}")
    return [by_name[name] for name in frames.lights]


def mix_xyz(frames: Frames, lamps: Sequence[LampLight]) -> np.ndarray:
    """Return the scene's luminance and colour under the lamps as they are set.

    XYZ = sum over lamps and bands of slices · lamp_band_xyz. Lamps that give nothing are not read.

    Parameters
    ----------
    frames : Frames
        Slices in memory or on disk.
    lamps : sequence of LampLight
        One for each light of the frames, in any order.

    Returns
    -------
    float32 array, shape (3, row, column)
        X, Y, Z; Y is the luminance. [cd/m²]

    Raises
    ------
    ValueError
        Lamps and frames do not name the same lights.
    """
    return _sum(frames, enumerate(lamps_in_order(frames, lamps)))


def lamp_xyz(frames: Frames, lamp: LampLight) -> np.ndarray:
    """Return the part of `mix_xyz` that one lamp makes, of the same shape. [cd/m²]

    Raises
    ------
    ValueError
        The frames have no slice of that name.
    """
    if lamp.name not in frames.lights:
        raise ValueError(f"frames have no slice of '{lamp.name}'; they have {list(frames.lights)}")
    return _sum(frames, [(frames.lights.index(lamp.name), lamp)])


def _sum(frames: Frames, lamps: Iterable[tuple[int, LampLight]]) -> np.ndarray:
    """Return X, Y, Z of lamps, each with the number of its slice."""
    _, bands, rows, columns = frames.slices.shape
    total = np.zeros((3, rows * columns), dtype=np.float32)
    each = []
    for number, lamp in lamps:
        weights = lamp_band_xyz(lamp, bands)
        if np.any(weights):
            each.append((frames.slices[number].reshape(bands, -1), weights))

    def part(pixels: slice) -> None:
        for flat, weights in each:
            _add(total[:, pixels], flat[:, pixels], weights)

    # Cut where blocks end, so that the parts are the same blocks however many there are.
    abreast(part, parts_of(total.shape[1], _COLUMNS))
    return total.reshape(3, rows, columns)


def _add(total: np.ndarray, flat: np.ndarray, weights: np.ndarray) -> None:
    """Add one lamp's slice to flat XYZ, block by block so that each number is fetched once."""
    xyz_from_bands = np.ascontiguousarray(weights.T, dtype=np.float32)
    for start in range(0, flat.shape[1], _COLUMNS):
        block = slice(start, start + _COLUMNS)
        total[:, block] += xyz_from_bands @ flat[:, block]
