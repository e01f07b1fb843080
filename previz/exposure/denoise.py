"""Cleaning the noise of one mixed picture, for the eye.

Never for measuring: a denoiser moves light about. Meters are probes of the engine, and spot
readings use the picture as it was rendered.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module

import numpy as np
from numpy.typing import ArrayLike

from previz.frames.abreast import abreast
from previz.frames.records import Frames

QUALITIES = ("fast", "balanced", "high")

NOT_INSTALLED = (
    "The picture was left as rendered: the denoiser is not installed here. "
    "Install the package mitsuba-oidn, or render more samples."
)
BROKEN = (
    "The picture was left as rendered: the denoiser is here but cannot be loaded ({}). "
    "Install the package mitsuba-oidn again, or render more samples."
)


@dataclass(frozen=True, eq=False)
class Cleaned:
    """A picture after denoising, or as it was if that could not be done.

    Parameters
    ----------
    picture : float32 array, shape (3, row, column)
        [as given]
    applied : bool
        True if it was denoised.
    note : str
        Why not, in words for the user; empty if it was.
    """

    picture: np.ndarray
    applied: bool
    note: str


def denoise(picture: ArrayLike, frames: Frames, *, quality: str = "high") -> Cleaned:
    """Denoise a picture with the albedo and the normals of its frames.

    Negative parts (colours outside ACEScg) come back as 0.

    Parameters
    ----------
    picture : float array, shape (3, row, column)
        Scene-linear RGB, mixed from the frames. [1]
    frames : Frames
    quality : str
        'fast', 'balanced' or 'high'.

    Returns
    -------
    Cleaned
        With `applied` False where the denoiser is missing or fails.

    Raises
    ------
    ValueError
        The quality is unknown or the picture is not of these frames.
    """
    if quality not in QUALITIES:
        raise ValueError(f"quality must be one of {QUALITIES}, got '{quality}'")
    values = np.asarray(picture, dtype=np.float32)
    if values.shape != (3, *frames.shape):
        raise ValueError(f"the picture must be (3, {frames.shape}), got {values.shape}")
    if not values.any():
        # The filter would leave traces of light in what has none.
        return Cleaned(values, True, "")
    try:
        oidn = import_module("mitsuba_oidn")
    except ImportError as error:
        missing = error.name == "mitsuba_oidn"
        return Cleaned(values, False, NOT_INSTALLED if missing else BROKEN.format(error))
    try:
        clean = oidn.denoise(
            *abreast(lambda planes: _packed(*planes), [
                (values, 0.0, np.inf), (frames.albedo, 0.0, 1.0), (frames.normal, -1.0, 1.0)]),
            hdr=True,
            clean_aux=False,
            quality=getattr(oidn.Quality, quality.capitalize()),
        )
    except (RuntimeError, oidn.Error) as error:
        return Cleaned(values, False, f"The picture was left as rendered: {error}.")
    return Cleaned(np.ascontiguousarray(np.moveaxis(np.asarray(clean), -1, 0)), True, "")


def _packed(planes: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return planes pixel by pixel, held between two ends."""
    packed = np.array(np.moveaxis(planes, 0, -1), dtype=np.float32, order="C")
    return np.clip(packed, low, high, out=packed)
