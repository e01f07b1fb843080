"""How large a source is from a face, by what of its picture is lit, and how soft its shadows are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

LIT_PART = 0.1
"""What is brighter than this share of a source's bright part counts to its size, as a beam's field
reaches to a tenth.  Source: ANSI E1.9 for the tenth (from memory); for sources common practice."""

BRIGHT_SHARE = 0.25
"""The bright part of a source is as bright as where so much of its light is brighter. [1]"""


@dataclass(frozen=True)
class Extent:
    """How large something appears from a point.

    Parameters
    ----------
    across, up : float
        Full angles. [deg]
    solid_angle : float
        Of the part that is lit. [sr]
    middle : (float, float)
        Tangents, to the right and up, of where its middle lies in the picture. [1]
    reach : float
        Tangent of half its larger side, about that middle. [1]
    """

    across: float
    up: float
    solid_angle: float
    middle: tuple[float, float] = (0.0, 0.0)
    reach: float = 0.0

    @property
    def round(self) -> float:
        """Full angle of a disc of the same solid angle: 2 acos(1 - Ω / 2 pi). [deg]"""
        return float(2 * np.degrees(np.arccos(1 - min(self.solid_angle, 2 * np.pi) / (2 * np.pi))))


def extent_of(luminance: np.ndarray, solid_angle: np.ndarray,
              tan_half: tuple[float, float]) -> Extent | None:
    """Return how large the lit part of a pinhole picture appears; None where nothing is lit.

    Parameters
    ----------
    luminance : float array, shape (row, column)
        Of the source alone; 0 elsewhere. [cd/m²]
    solid_angle : float array, shape (row, column)
        [sr]
    tan_half : (float, float)
        Of the picture. [1]
    """
    lit = luminance[luminance > 0]
    if not lit.size:
        return None
    # The bright part by its share of the light: a few stray pixels do not set it.
    order = np.sort(lit)[::-1]
    bright = order[np.searchsorted(np.cumsum(order), BRIGHT_SHARE * order.sum())]
    mask = _without_specks(luminance > LIT_PART * bright)
    if not mask.any():
        return None
    rows, columns = luminance.shape
    filled_columns, filled_rows = (np.flatnonzero(mask.any(axis=axis)) for axis in (0, 1))
    x = (np.array([filled_columns[0], filled_columns[-1] + 1]) * 2 / columns - 1) * tan_half[0]
    y = (1 - np.array([filled_rows[-1] + 1, filled_rows[0]]) * 2 / rows) * tan_half[1]
    across, up = (float(np.degrees(np.diff(np.arctan(each))[0])) for each in (x, y))
    # Pixels half filled at the rim count for what they are.
    omega = float(np.sum(np.minimum(luminance / bright, 1.0)[mask] * solid_angle[mask]))
    return Extent(across, up, omega, (float(x.mean()), float(y.mean())),
                  float(max(np.ptp(x), np.ptp(y)) / 2))


def _without_specks(mask: np.ndarray) -> np.ndarray:
    """Return a mask without pixels that most of their neighbours disagree with: noise."""
    wide = np.pad(mask.astype(int), 1)
    rows, columns = mask.shape
    around = sum(wide[i:i + rows, j:j + columns] for i in range(3) for j in range(3))
    return mask & (around >= 5)


def shadow_edge(angle_deg: ArrayLike, distance: ArrayLike) -> np.ndarray:
    """Return the width of a shadow's soft edge: 2 d tan(angle / 2).

    By similar triangles this is source width · (object to wall) / (source to object), with the
    angle that the source has as seen from the object.

    Parameters
    ----------
    angle_deg : float array, shape (...)
        Full angle of the source, across the edge. [deg]
    distance : float array, shape (...)
        From the edge that throws the shadow to where it falls. [m]

    Returns
    -------
    float array, shape (...)
        Square to the light. [m]

    Source
    ------
    Similar triangles; an evenly bright source.
    """
    return 2 * np.asarray(distance, dtype=float) * np.tan(np.radians(angle_deg) / 2)
