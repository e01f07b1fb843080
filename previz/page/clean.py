"""Frames cleaned lamp by lamp, for mixing under the hand.

A still is mixed first and denoised once. A dimmer that follows the hand cannot wait for that, so
here every band of every lamp is denoised on its own, once, with the same albedo and normals. What
is mixed from these is a sum of clean pictures: linear in levels, exact in colours, and close to
the still, which takes its place as soon as the hand rests. Never metered.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from previz.exposure.denoise import denoise
from previz.frames.archives import read_archive, write_archive
from previz.rendering.cache.owned import mark
from previz.rendering.cache.store import mark_used

QUALITY = "balanced"
"""Of the denoiser: half the time of its best, and hardly different from it in one lamp's slice."""

_TOGETHER = 3
"""Bands that are cleaned in one go, as the three channels of a picture."""


def _file(folder: Path, lamp: int) -> Path:
    return folder / f"clean-{lamp:03d}.npz"


def _own(path: Path) -> str:
    """Return what the file is: of which frames, and which lamp's."""
    return f"{path.parent.name}/{path.name}"


def clean_bands(frames, lamp: int) -> tuple[np.ndarray, float]:
    """Return one lamp's slices, by its number, without their noise.

    Returns
    -------
    bands : float16 array, shape (band, row, column)
        Slices over `scale`.
    scale : float
        The mean of the slices as rendered; 1 for a lamp whose light does not get here.
        [as the slices]
    """
    raw = np.asarray(frames.slices[lamp], dtype=np.float32)
    scale = float(raw.mean(dtype=np.float64)) or 1.0
    bands = np.zeros(raw.shape, np.float16)
    if raw.any():
        count = len(raw)
        step = -(-count // _TOGETHER)
        for first in range(step):
            # Far bands go together, as in a colour picture: each says where the edges are.
            picked = [min(first + step * each, count - 1) for each in range(_TOGETHER)]
            cleaned = denoise(raw[picked] / scale, frames, quality=QUALITY).picture
            bands[picked] = np.clip(cleaned, 0.0, 65504.0)
    return bands, scale


def write_clean(folder: Path, frames, lamp: int) -> None:
    """Clean one lamp and keep the result in a folder for these frames alone, unless it is there."""
    path = _file(folder, lamp)
    if read_clean(folder, frames, lamp) is not None:
        return
    bands, scale = clean_bands(frames, lamp)
    mark(folder)
    write_archive(path, "previz_clean", {"bands": bands, "scale": np.array(scale)}, of=_own(path))


def read_clean(folder: Path, frames, lamp: int) -> tuple[np.ndarray, float] | None:
    """Return what `write_clean` kept, None where it is missing or torn."""
    path = _file(folder, lamp)
    read = read_archive(path, "previz_clean", of=_own(path))
    try:
        bands, scale = (None, None) if read is None else (read[0]["bands"], float(read[0]["scale"]))
    except (KeyError, TypeError, ValueError):
        return None
    good = bands is not None and bands.dtype == np.float16 and bands.shape == tuple(frames.slices.shape[1:])
    return (bands, scale) if good else None


def mark_clean_used(folder: Path) -> None:
    """Say that what was cleaned of some frames was used now, so that it is kept longer than the rest."""
    mark_used(_file(folder, 0))


def is_clean(folder: Path, lamps: int) -> list[bool]:
    """Return for each lamp whether it has been cleaned."""
    return [_file(folder, lamp).is_file() for lamp in range(lamps)]
