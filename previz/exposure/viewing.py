"""A camera's picture as a screen shows it: within its latitude, through its show file or the plain view.

    ACEScg, exposed and balanced, 18 % grey at 0.18
      -> lens and sensor (`optics.taken`)
      -> latitude (`latitude.held`)
      -> the encoding that the file takes -> the file -> what it gives:
           code values of an sRGB screen, shown as they are
           code values of a BT.1886 screen, made those of an sRGB one that looks alike
           encoded light, made ACEScg again -> the view of `display`
      without a file -> the view of `display`

A colour decision's numbers work as ASC CDL 1.2 has them, but that nothing is cut off below 0 and above 1:
ACEScct holds light beyond both.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import PyOpenColorIO
from numpy.typing import ArrayLike

from previz.errors import DataError
from previz.exposure import display
from previz.exposure.display import SOURCE, nearly, processor_of, show_8bit, show_near, view_transform
from previz.exposure.grading import CDL_ENDINGS
from previz.exposure.latitude import held, told_apart
from previz.exposure.optics import taken
from previz.physics.exposure import CameraSettings
from previz.physics.viewing import ShowFile

SPACES = {"acescct": "ACEScct", "acescg": "ACEScg", "aces2065-1": "ACES2065-1",
          "linear bt.709": "Linear Rec.709 (sRGB)"}
"""Encodings by their names in scene files, and in the colour configuration. Sources: S-2016-001,
S-2014-004, ST 2065-1, ITU-R BT.709."""

CAMERA_709 = "bt.709"
"""The encoding that has no name there: the camera's curve of BT.709 on its primaries."""

SRGB, BT1886 = "srgb", "bt.1886"
"""Screens by their names in scene files."""

KEPT = 8
"""Files whose transforms are kept ready; a large one takes some megabytes."""


def _encoded(name: str) -> list[PyOpenColorIO.Transform]:
    """Return what takes ACEScg to an encoding."""
    if name != CAMERA_709:
        return [PyOpenColorIO.ColorSpaceTransform(src=SOURCE, dst=SPACES[name])]
    # ITU-R BT.709-6, 1.2: V = 1.099 L^0.45 - 0.099, and 4.5 L near black. The library has it from V to L.
    curve = PyOpenColorIO.ExponentWithLinearTransform(
        gamma=[1 / 0.45, 1 / 0.45, 1 / 0.45, 1.0], offset=[0.099, 0.099, 0.099, 0.0],
        direction=PyOpenColorIO.TRANSFORM_DIR_INVERSE)
    return [*_encoded("linear bt.709"), curve]


def _inverse(transforms: list[PyOpenColorIO.Transform]) -> PyOpenColorIO.Transform:
    group = PyOpenColorIO.GroupTransform(transforms)
    group.setDirection(PyOpenColorIO.TRANSFORM_DIR_INVERSE)
    return group


def show_transform(show: ShowFile, path: Path) -> PyOpenColorIO.GroupTransform:
    """Return the way from ACEScg to the code values of an sRGB screen through a file that lies at `path`."""
    group = PyOpenColorIO.GroupTransform(_encoded(show.takes))
    group.appendTransform(PyOpenColorIO.FileTransform(
        src=str(path), cccId=show.decision, interpolation=PyOpenColorIO.INTERP_TETRAHEDRAL))
    if show.gives == BT1886:
        # Both have the primaries of BT.709, so only the curve is another. BT.1886 with black at 0.
        group.appendTransform(PyOpenColorIO.ColorSpaceTransform(
            src="Gamma 2.4 Encoded Rec.709", dst="sRGB Encoded Rec.709 (sRGB)"))
    elif show.gives != SRGB:
        group.appendTransform(_inverse(_encoded(show.gives)))
        group.appendTransform(view_transform())
    return group


def processor_through(show: ShowFile) -> PyOpenColorIO.Processor:
    """Return what puts a show file on pictures.

    Raises
    ------
    DataError
        The file cannot be used.
    """
    with show.on_disk() as path:
        try:
            return processor_of(show_transform(show, path))
        except PyOpenColorIO.Exception as error:
            # A file of a scene is tried before anything is rendered: this one has come another way.
            raise DataError(f"the file '{show.name}' cannot be put on a picture",
                            "Export it again, as .cube, .clf or ASC CDL.") from error


@lru_cache(maxsize=KEPT)
def _through(show: ShowFile) -> PyOpenColorIO.CPUProcessor:
    return processor_through(show).getDefaultCPUProcessor()


def within(acescg: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return a picture, shape (3, row, column), as the camera holds it; see `latitude.held`."""
    return held(acescg, settings.over, settings.under)


def seen_8bit(acescg: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return a camera's picture as its screen shows it, 8-bit sRGB.

    Parameters
    ----------
    acescg : float array, shape (3, row, column)
        Scene-linear, exposed and balanced, of the whole frame; 0.18 for mid grey. [1]
    settings : CameraSettings
        Its optics, its latitude and its show file count.

    Returns
    -------
    uint8 array, shape (row, column, 3)

    Raises
    ------
    DataError
        The show file cannot be used.
    """
    picture = within(taken(acescg, settings), settings)
    return show_8bit(picture, None if settings.show is None else _through(settings.show))


@lru_cache(maxsize=KEPT)
def _nearly_through(show: ShowFile) -> PyOpenColorIO.CPUProcessor:
    return nearly(_through(show))


def seen_near(acescg: np.ndarray, settings: CameraSettings) -> np.ndarray:
    """Return a camera's picture nearly as its screen shows it, in a fraction of the time; see `show_near`.

    Parameters
    ----------
    acescg : float32 array, shape (pixel, 3)
        Scene-linear, exposed and balanced; 0.18 for mid grey. [1]

    Returns
    -------
    uint8 array, shape (pixel, 3)

    Raises
    ------
    DataError
        The show file cannot be used.
    """
    picture = np.asarray(within(acescg.T, settings), np.float32).T
    shown = show_near(picture, None if settings.show is None else _nearly_through(settings.show))
    return np.rint(shown * 255.0).astype(np.uint8)


@lru_cache(maxsize=KEPT)
def _undoing(show: ShowFile) -> PyOpenColorIO.CPUProcessor | None:
    if show.ending not in CDL_ENDINGS:
        return None
    with show.on_disk() as path:
        transform = show_transform(show, path)
        transform.setDirection(PyOpenColorIO.TRANSFORM_DIR_INVERSE)
        try:
            return processor_of(transform).getDefaultCPUProcessor()
        except PyOpenColorIO.Exception:
            return None


def can_be_undone(settings: CameraSettings) -> bool:
    """Return whether light can be told from a camera's picture as shown.

    A decision can be undone where it leaves all colours apart; a table in general cannot, as it may show many
    lights alike, and what it was made for says nothing of the way back.
    """
    return settings.show is None or _undoing(settings.show) is not None


def light_behind(shown: ArrayLike, settings: CameraSettings) -> np.ndarray:
    """Return scene-linear ACEScg that a camera's view takes to a picture, where nothing clips.

    Parameters
    ----------
    shown : float array, shape (row, column, 3)
        sRGB code values, 0 to 1. [1]
    settings : CameraSettings

    Returns
    -------
    float array, shape (row, column, 3)
        [1]

    Raises
    ------
    ValueError
        Its show file cannot be undone.
    """
    if settings.show is None:
        return display.light_behind(shown)
    undoing = _undoing(settings.show)
    if undoing is None:
        raise ValueError(f"'{settings.show.name}' cannot be undone")
    packed = np.array(shown, dtype=np.float32, order="C")
    undoing.applyRGB(packed)
    return packed.astype(float)


def held_apart(linear: ArrayLike, settings: CameraSettings) -> tuple[np.ndarray, np.ndarray]:
    """Return where a picture that was made linear is at neither end of the camera's latitude.

    `linear` is of shape (row, column, 3) [1]; the two, bool arrays of its shape, say of each channel that it
    is not clipped, and not in the dark.
    """
    return told_apart(linear, settings.over, settings.under)
