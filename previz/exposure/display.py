"""From scene-linear ACEScg to the 8-bit picture of a screen, by the ACES 2 view transform."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import PyOpenColorIO
from numpy.typing import ArrayLike

CONFIG = "cg-config-v4.0.0_aces-v2.0_ocio-v2.5"
"""Built-in colour configuration. The full name is kept so that an update of the library does not
change pictures."""

SOURCE = "ACEScg"
DISPLAY = "sRGB - Display"
VIEW = "ACES 2.0 - SDR 100 nits (Rec.709)"
"""Names of the source, the screen and the rendering in that configuration."""


def processor_of(transform: PyOpenColorIO.Transform) -> PyOpenColorIO.Processor:
    """Return what puts a transform on pictures, in the colour configuration of `CONFIG`."""
    return PyOpenColorIO.Config.CreateFromBuiltinConfig(CONFIG).getProcessor(transform)


def view_transform() -> PyOpenColorIO.DisplayViewTransform:
    """Return the view transform of the stills."""
    return PyOpenColorIO.DisplayViewTransform(src=SOURCE, display=DISPLAY, view=VIEW)


@lru_cache(maxsize=1)
def _ungraded() -> PyOpenColorIO.CPUProcessor:
    return processor_of(view_transform()).getDefaultCPUProcessor()


def show(acescg: ArrayLike, processor: PyOpenColorIO.CPUProcessor | None = None) -> np.ndarray:
    """Return the picture as a screen shows it.

    Parameters
    ----------
    acescg : float array, shape (3, row, column)
        Scene-linear, 0.18 for mid grey. [1]
    processor : PyOpenColorIO.CPUProcessor, optional
        Of a grade; without it that of `view_transform`.

    Returns
    -------
    float32 array, shape (row, column, 3)
        sRGB code values, 0 to 1. [1]

    Source
    ------
    ACES 2.0 output transform, SDR 100 cd/m² limited to Rec. 709, as OpenColorIO builds it in.
    """
    packed = np.array(np.moveaxis(np.asarray(acescg), 0, -1), dtype=np.float32, order="C")
    (processor or _ungraded()).applyRGB(packed)
    return np.clip(packed, 0.0, 1.0)


def show_8bit(acescg: ArrayLike, processor: PyOpenColorIO.CPUProcessor | None = None) -> np.ndarray:
    """Return the picture as 8-bit sRGB, uint8 of shape (row, column, 3); see `show`."""
    return np.round(show(acescg, processor) * 255.0).astype(np.uint8)


@lru_cache(maxsize=1)
def _undone() -> PyOpenColorIO.CPUProcessor:
    transform = view_transform()
    transform.setDirection(PyOpenColorIO.TRANSFORM_DIR_INVERSE)
    return processor_of(transform).getDefaultCPUProcessor()


def light_behind(shown: ArrayLike) -> np.ndarray:
    """Return scene-linear ACEScg that `show` takes to a picture: its inverse, where nothing clips.

    Parameters
    ----------
    shown : float array, shape (row, column, 3)
        sRGB code values, 0 to 1. [1]

    Returns
    -------
    float array, shape (row, column, 3)
        Scene-linear ACEScg. [1]
    """
    packed = np.array(shown, dtype=np.float32, order="C")
    _undone().applyRGB(packed)
    return packed.astype(float)
