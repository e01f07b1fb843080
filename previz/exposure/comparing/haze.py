"""What haze does to a picture: the face against what is behind it, and the veil over the blacks.

All is measured on pictures as rendered, never denoised; only where the blacks are is found in the
clean picture of the thinnest haze, as noise must not choose them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.exposure import CameraSettings, signal_per_luminance, stops_from_grey

BLACK_SHARE = 0.1
"""Share of the picture, the darkest, whose blacks are measured. [1]"""

RING = (1.35, 3.0)
"""What is behind a face is taken between these distances from its middle. [face radii]"""

LEAST_PIXELS = 12
"""A region of fewer pixels says nothing."""


@dataclass(frozen=True)
class Regions:
    """Where a picture is measured.

    Parameters
    ----------
    face, behind : bool array, shape (row, column), or None
        The face and what stands behind it; None where no face is seen.
    blacks : bool array, shape (row, column)
        The darkest part.
    """

    face: np.ndarray | None
    behind: np.ndarray | None
    blacks: np.ndarray


@dataclass(frozen=True)
class Rung:
    """One density of a ladder, measured.

    Parameters
    ----------
    face, behind : float or None
        Exposed level, against mid grey. [stops]
    contrast : float or None
        From what is behind the face up to the face. [stops]
    contrast_error : float or None
        How far noise may have moved it. [stops]
    blacks : float
        Level of the darkest part, against mid grey. [stops]
    veil : float
        The part of that which the air sends, against mid grey; -inf for none. [stops]
    face_error, behind_error, blacks_error : float or None
        How far noise may have moved those levels; None for no such region. [stops]
    """

    face: float | None
    behind: float | None
    contrast: float | None
    contrast_error: float | None
    blacks: float
    veil: float
    face_error: float | None = None
    behind_error: float | None = None
    blacks_error: float | None = None


def face_regions(names_index: ArrayLike, figure: int, depth: ArrayLike, middle: tuple[float, float],
                 radius: float,
                 excluded: Iterable[int] = ()) -> tuple[np.ndarray | None, np.ndarray | None]:
    """Return the pixels of a face and of what is behind it.

    Parameters
    ----------
    names_index : int array, shape (row, column)
        What each pixel shows.
    figure : int
        The figure's own number.
    depth : float array, shape (row, column)
        Distance from the camera; inf where nothing was met. [m]
    middle : (float, float)
        Column and row of the face's middle. [px]
    radius : float
        Of the head. [px]
    excluded : collection of int
        Numbers of what is no background: lamps that are seen, boards, other people.

    Returns
    -------
    face, behind : bool array or None
        None where there are too few pixels; without a face, nothing is behind it.
    """
    row, column = np.indices(np.shape(names_index))
    away = np.hypot(column + 0.5 - middle[0], row + 0.5 - middle[1]) / max(radius, 1e-6)
    own = np.asarray(names_index) == figure
    face = own & (away <= 1)
    if np.count_nonzero(face) < LEAST_PIXELS:
        return None, None
    far = np.asarray(depth) > np.median(np.asarray(depth)[face])
    behind = ~own & ~np.isin(names_index, list(excluded)) & far
    behind &= (away >= RING[0]) & (away <= RING[1])
    return face, behind if np.count_nonzero(behind) >= LEAST_PIXELS else None


def darkest(luminance: ArrayLike) -> np.ndarray:
    """Return the darkest pixels of a picture. Shape (row, column), bool"""
    values = np.asarray(luminance, float)
    return values <= np.quantile(values, BLACK_SHARE)


def _stops(luminance: float, settings: CameraSettings) -> float:
    """Return an exposed level against mid grey. [stops]"""
    return float(stops_from_grey(max(luminance, 0.0) * signal_per_luminance(settings)))


def measured(xyz: np.ndarray, air: np.ndarray, error: np.ndarray, regions: Regions,
             settings: CameraSettings) -> Rung:
    """Measure one picture.

    Parameters
    ----------
    xyz, air : float array, shape (3, row, column)
        All light, and the part of it that the air sends. [cd/m²]
    error : float array, shape (row, column)
        Standard error of the luminance. [cd/m²]
    regions : Regions
        Where.
    settings : CameraSettings
        How the camera is set.
    """
    levels, errors = [], []
    for region in (regions.face, regions.behind, regions.blacks):
        if region is None:
            levels.append(None)
            errors.append(None)
            continue
        mean = float(xyz[1][region].mean())
        levels.append(_stops(mean, settings))
        noise = np.sqrt(np.sum(error[region].astype(float) ** 2)) / np.count_nonzero(region)
        errors.append(float(noise / mean / np.log(2)) if mean > 0 else np.inf)
    face, behind, blacks = levels
    both = None not in (face, behind) and bool(np.all(np.isfinite([face, behind])))
    return Rung(face, behind, face - behind if both else None,
                float(np.hypot(*errors[:2])) if both else None, blacks,
                _stops(float(air[1][regions.blacks].mean()), settings), *errors)
