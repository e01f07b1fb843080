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


@lru_cache(maxsize=1)
def _processor() -> PyOpenColorIO.CPUProcessor:
    config = PyOpenColorIO.Config.CreateFromBuiltinConfig(CONFIG)
    transform = PyOpenColorIO.DisplayViewTransform(src=SOURCE, display=DISPLAY, view=VIEW)
    return config.getProcessor(transform).getDefaultCPUProcessor()


def show(acescg: ArrayLike) -> np.ndarray:
    """Return the picture as a screen shows it.

    Parameters
    ----------
    acescg : float array, shape (3, row, column)
        Scene-linear, 0.18 for mid grey. [1]

    Returns
    -------
    float32 array, shape (row, column, 3)
        sRGB code values, 0 to 1. [1]

    Source
    ------
    ACES 2.0 output transform, SDR 100 cd/m² limited to Rec. 709, as OpenColorIO builds it in.
    """
    packed = np.ascontiguousarray(np.moveaxis(np.asarray(acescg), 0, -1), dtype=np.float32)
    if packed is acescg or np.shares_memory(packed, acescg):
        packed = packed.copy()
    _processor().applyRGB(packed)
    return np.clip(packed, 0.0, 1.0)


def show_8bit(acescg: ArrayLike) -> np.ndarray:
    """Return the picture as 8-bit sRGB.

    Parameters
    ----------
    acescg : float array, shape (3, row, column)
        Scene-linear, 0.18 for mid grey. [1]

    Returns
    -------
    uint8 array, shape (row, column, 3)
        sRGB.
    """
    return np.round(show(acescg) * 255.0).astype(np.uint8)
