"""The two sides of a face as a picture has them: measured on the picture, not by meters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.comparing.haze import face_regions
from previz.frames import Frames
from previz.levels.picture_model import GREY, PictureFit, uncurved
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import (
    BRADFORD,
    D65_XY,
    REC709_XY,
    acescg_from_rec709,
    xyz_from_rgb,
)
from previz.physics.colourtemp import cct_duv, xy_from_xyz, xyz_from_xy
from previz.sight.subjects import projected
from previz.stage.heads import FACE_RADIUS
from previz.stage.records import Camera, Stage
from previz.studies.read.picture import Look

LEAST_PIXELS = 12
"""Of a side of a face. [1]"""

TURNED = 0.3
"""Cosine to the face's own left or right from which on skin belongs to a side. [1]"""

WHITE_MIRED = 1e6 / 6504
"""Of D65, which a balanced picture shows white. [mired]"""


@dataclass(frozen=True)
class SideLight:
    """The light on both sides of a face, by the picture.

    Parameters
    ----------
    figure : str
    lit : float
        Light of the brighter side, an 18 % card in it against grey. [stops]
    ratio : float
        Brighter against darker side. [1]
    warmer : float or None
        Colour of the brighter side against the balance, plus for warmer; None for no such colour. [mired]
    """

    figure: str
    lit: float
    ratio: float
    warmer: float | None


def of_picture(linear: FloatArray) -> FloatArray:
    """Return linear Rec. 709 of a developed picture (ACEScg). Shape (3, row, column)"""
    return np.tensordot(np.linalg.inv(acescg_from_rec709()), np.asarray(linear, float), 1)


def of_look(look: Look, fit: PictureFit, seen: np.ndarray) -> FloatArray:
    """Return linear Rec. 709 of a reference, its curve undone; nan where it does not reach or has clipped."""
    stops = uncurved(np.log2(np.maximum(look.linear, 1e-5) / GREY), fit.slopes)
    light = GREY * 2.0**stops
    to_709 = np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY)) @ np.linalg.inv(BRADFORD) @ np.diag(
        BRADFORD @ xyz_from_xy(D65_XY))
    made = np.tensordot(to_709 @ np.linalg.inv(look.from_cones), np.moveaxis(light, -1, 0), 1)
    return np.where(seen, made, np.nan)


def side_light(stage: Stage, camera: Camera, frames: Frames, figure: str,
               rec709: FloatArray) -> SideLight | None:
    """Return the light on both sides of a figure's face, off skin whose colour is divided out.

    None where there is no face, or it is too small or turned away.
    """
    if not figure or figure not in frames.names or f"{figure}.face" not in stage.places:
        return None
    x, y, depth = projected(camera, stage.places[f"{figure}.face"])
    if not np.isfinite(x):
        return None
    rows, columns = frames.shape
    radius = FACE_RADIUS / (depth * camera.tan_half[0]) * columns / 2
    face, _ = face_regions(frames.names_index, frames.names.index(figure), frames.depth,
                           ((x + 1) / 2 * columns, (1 - y) / 2 * rows), radius)
    if face is None:
        return None
    head = stage.head(figure)
    across = np.tensordot(head.left, np.asarray(frames.normal, float), 1)
    skin = face & (frames.albedo.min(axis=0) > 0.02) & np.isfinite(rec709).all(axis=0)
    sides = [skin & (across > TURNED), skin & (across < -TURNED)]
    if min(np.count_nonzero(side) for side in sides) < LEAST_PIXELS:
        return None
    albedo, to_xyz = np.asarray(frames.albedo, float), xyz_from_rgb(REC709_XY, D65_XY)
    # Means are divided, not pixels: an edge that is off by one has another albedo.
    means = [to_xyz @ (rec709[:, side].mean(axis=1) / albedo[:, side].mean(axis=1)) for side in sides]
    one, two = sorted(means, key=lambda each: -each[1])
    if not (one[1] > 0 and two[1] > 0):
        return None
    try:
        warmer = 1e6 / float(cct_duv(xy_from_xyz(one))[0]) - WHITE_MIRED
    except ValueError:
        warmer = None
    return SideLight(figure, float(np.log2(one[1])), float(one[1] / two[1]), warmer)
