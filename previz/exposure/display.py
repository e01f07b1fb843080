"""From scene-linear ACEScg to the 8-bit picture of a screen, by the ACES 2 view transform."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import PyOpenColorIO
from numpy.typing import ArrayLike

from previz.frames.abreast import abreast, row_parts

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
    return _shown(acescg, processor, np.float32, lambda codes: codes)


def show_8bit(acescg: ArrayLike, processor: PyOpenColorIO.CPUProcessor | None = None) -> np.ndarray:
    """Return the picture as 8-bit sRGB, uint8 of shape (row, column, 3); see `show`."""
    return _shown(acescg, processor, np.uint8, lambda codes: np.round(codes * np.float32(255.0)))


def _shown(acescg: ArrayLike, processor: PyOpenColorIO.CPUProcessor | None, kind: type,
           finish: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """Return the picture as `show` has it, finished and of another kind of numbers, rows side by side."""
    picture, through = np.asarray(acescg), processor or _ungraded()
    shown = np.empty((*picture.shape[1:], 3), kind)

    def part(rows: slice) -> None:
        packed = np.array(np.moveaxis(picture[:, rows], 0, -1), dtype=np.float32, order="C")
        through.applyRGB(packed)
        shown[rows] = finish(np.clip(packed, 0.0, 1.0, out=packed))

    abreast(part, row_parts(*picture.shape[1:]))
    return shown


_CUBE, _DARKEST, _LIGHTEST = 65, -9.0, 8.0
"""Points along a side of the view transform as a cube, and the stops from mid grey that they go over."""


@lru_cache(maxsize=1)
def _near() -> PyOpenColorIO.CPUProcessor:
    return nearly(_ungraded())


def nearly(exact: PyOpenColorIO.CPUProcessor) -> PyOpenColorIO.CPUProcessor:
    """Return what takes ACEScg to a screen as a cube over stops, which is quicker than the exact way."""
    stops = np.linspace(_DARKEST, _LIGHTEST, _CUBE)
    # Shifted, so that the cube begins at black.
    light = (0.18 * (2.0**stops - 2.0**_DARKEST)).astype(np.float32)
    points = np.stack(np.meshgrid(light, light, light, indexing="ij"), axis=-1).reshape(-1, 3).copy()
    exact.applyRGB(points)
    cube = PyOpenColorIO.Lut3DTransform(_CUBE)
    cube.setInterpolation(PyOpenColorIO.INTERP_TETRAHEDRAL)
    cube.setData(points.ravel())
    span = _LIGHTEST - _DARKEST
    shaper = PyOpenColorIO.LogAffineTransform(
        [1 / span] * 3, [-_DARKEST / span] * 3, [1 / 0.18] * 3, [2.0**_DARKEST] * 3)
    shaper.setBase(2.0)
    return processor_of(PyOpenColorIO.GroupTransform([shaper, cube])).getDefaultCPUProcessor()


def show_near(acescg: np.ndarray, near: PyOpenColorIO.CPUProcessor | None = None) -> np.ndarray:
    """Return the picture nearly as a screen shows it, in a fraction of the time: for what moves.

    As `show` to within 2 of 255 codes in 99 of 100 colours, most to a tenth of one; at the edges of the
    space, where hardly a surface lies, it may be 40.

    Parameters
    ----------
    acescg : float32 array, shape (pixel, 3)
        Scene-linear, 0.18 for mid grey. It is written over. [1]
    near : PyOpenColorIO.CPUProcessor, optional
        From `nearly`, of another way than `view_transform`.

    Returns
    -------
    float32 array, shape (pixel, 3)
        sRGB code values, 0 to 1. [1]
    """
    packed = np.ascontiguousarray(acescg, dtype=np.float32)
    np.maximum(packed, 0.0, out=packed)
    (near or _near()).applyRGB(packed)
    return np.clip(packed, 0.0, 1.0, out=packed)


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
