"""A reference still: opened, laid over a camera's frame, made linear by how it may have been displayed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from previz.errors import DataError
from previz.exposure.viewing import can_be_undone, held_apart, light_behind
from previz.levels.picture_align import resized, warped
from previz.levels.picture_model import GREY, curve, uncurved
from previz.levels.picture_model import KNOTS as CURVE_KNOTS
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import (
    ACES_XY,
    BRADFORD,
    D65_XY,
    REC709_XY,
    acescg_from_xyz,
    xyz_from_rgb,
)
from previz.physics.colourtemp import xyz_from_xy
from previz.physics.exposure import CameraSettings
from previz.physics.uplift import linear_from_srgb
from previz.stage.picture_files import decode
from previz.stage.plain_files import FileError, read_plain

MOST_BYTES = 256 * 2**20
"""Of a picture's file. [bytes]"""

FINEST = 1536
"""Width that a larger picture is brought to before anything is computed of it. [px]"""

PREVIZ, CAMERA = "previz", "srgb"
LOOKS = (PREVIZ, CAMERA)
"""How a picture may have been made: by this program's view transform, or by a camera and a grade as sRGB."""

OWN_BEND, CAMERA_BEND = 0.05, 0.5
"""How far slopes of the curve may well be from what they are drawn to, as logarithms: a still of this program
has no curve of its own, unless it was graded a little; a camera's picture may have any.
Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Look:
    """What a picture's codes are taken for.

    Parameters
    ----------
    name : str
        One of `LOOKS`.
    codes : float array, shape (row, column, 3)
        As displayed; 1 where the camera that made it clips, 0 where all is black to it. [1]
    linear : float array, shape (row, column, 3)
        Light in its primaries. [1]
    step : float array, shape (row, column, 3)
        Light that a step of the 8-bit code makes. [1]
    joint : bool
        Whether a channel's light follows from all three codes.
    from_cones : float array, shape (3, 3)
        See `picture_fit.fit_picture`.
    slopes : float array
        That its curve is drawn to.
    bend : float
        How far from there they may well be. [1]
    """

    name: str
    codes: FloatArray
    linear: FloatArray
    step: FloatArray
    joint: bool
    from_cones: FloatArray
    slopes: FloatArray
    bend: float


def opened(path: Path | str) -> FloatArray:
    """Return a picture's codes, upright. Shape (row, column, 3) [1]

    Raises
    ------
    DataError
        It is missing, is no PNG or JPEG, damaged, or so small or even that it shows nothing.
    """
    try:
        image = decode(read_plain(path, MOST_BYTES), upright=True)
    except FileError as error:
        raise DataError(f"the picture '{path}' cannot be used: {error.message}", error.advice) from None
    pixels = np.asarray(image)
    if pixels.shape[2] == 4:
        if (pixels[..., 3] < 250).mean() > 0.5:
            raise DataError(f"the picture '{path}' is mostly transparent", "Export it without transparency.")
        pixels = pixels[..., :3]
    rows, columns = pixels.shape[:2]
    if rows < 32 or columns < 32:
        raise DataError(f"the picture '{path}' is {columns} x {rows} pixels, too small to read light from",
                        "Give one of 320 pixels or wider.")
    if int(pixels.max()) - int(pixels.min()) < 8:
        raise DataError(f"the picture '{path}' is one even tone, which no lamp can be read from",
                        "Check that it is the picture that you meant.")
    scale = FINEST / columns
    codes = pixels if scale >= 1 else resized(pixels, (max(1, round(rows * scale)), FINEST))
    return np.asarray(codes, float) / 255


def laid_over(codes: FloatArray, shape: tuple[int, int], frame_from_picture: FloatArray | None) -> FloatArray:
    """Return a picture's codes at the pixels of a frame; nan where the picture does not reach.

    `frame_from_picture` is of `picture_align.fitted`; None where both show the same.
    """
    if frame_from_picture is None:
        return resized(codes, shape)
    return warped(codes, shape, frame_from_picture)


def looks(codes: FloatArray, which: str, settings: CameraSettings) -> list[Look]:
    """Return what codes may stand for, as `Look`s: one that is named, or all for 'auto'.

    `settings` are of the camera that a still of this program is by. Where its show file cannot be undone,
    that look is not among them.
    """
    made = []
    safe = np.nan_to_num(codes, nan=0.5)
    up, down = np.minimum(safe + 0.5 / 255, 1), np.maximum(safe - 0.5 / 255, 0)
    if which in ("auto", CAMERA):
        white = xyz_from_xy(D65_XY)
        primaries = np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY))
        made.append(Look(CAMERA, codes, linear_from_srgb(safe), linear_from_srgb(up) - linear_from_srgb(down),
                         False,
                         np.asarray(primaries @ np.linalg.inv(BRADFORD) @ np.diag(BRADFORD @ white), float),
                         _camera_slopes(), CAMERA_BEND))
    if which in ("auto", PREVIZ) and can_be_undone(settings):
        white = xyz_from_xy(ACES_XY)
        linear = light_behind(safe, settings)
        step = np.asarray(np.abs(light_behind(up, settings) - light_behind(down, settings)), float)
        below, above = held_apart(linear, settings)
        marked = np.where(above, np.where(below, codes, 1.0), 0.0)
        made.append(Look(PREVIZ, np.where(np.isfinite(codes), marked, codes), linear, step, True,
                         acescg_from_xyz() @ np.linalg.inv(BRADFORD) @ np.diag(BRADFORD @ white),
                         np.zeros(len(CURVE_KNOTS)), OWN_BEND))
    return made


def straightened(look: Look, slopes: FloatArray) -> Look:
    """Return a look with a curve undone pixel by pixel, as a curve of means is no mean of it."""
    stops = np.log2(np.maximum(look.linear, 1e-6) / GREY)
    straight = uncurved(stops, slopes)
    steep = np.maximum(curve(straight, slopes)[1], 1e-3)
    linear = GREY * 2.0**straight
    step = look.step / np.maximum(look.linear, 1e-6) * linear / steep
    return replace(look, linear=linear, step=step, slopes=look.slopes - slopes)


def _camera_slopes() -> FloatArray:
    """Return the usual shape of a camera's curve over sRGB: straight in the middle, a shoulder above.

    Invented: a slope of 1.1 at grey that falls to a tenth four stops over it.
    """
    return np.asarray(np.interp(CURVE_KNOTS, (-8.0, -3.0, 0.0, 1.0, 4.5, 7.0),
                                (0.0, 0.0, 0.1, -0.1, -2.3, -3.0)), float)
