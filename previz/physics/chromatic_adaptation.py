"""From one white to another, and between the colour spaces pictures are kept in."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.colourtemp import xyz_from_xy

BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""Cone responses of the Bradford transform.  Source: ICC.1, Annex E."""

CAT02 = np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]])
"""Cone responses of CAT02.  Source: CIE 159:2004."""

METHODS = {"bradford": BRADFORD, "cat02": CAT02}

D65_XY = np.array([0.3127, 0.3290])
"""White of Rec. 709 and sRGB.  Source: ITU-R BT.709-6."""

ACES_XY = np.array([0.32168, 0.33767])
"""White of the ACES spaces (close to, but not, D60).  Source: TB-2018-001."""

REC709_XY = np.array([[0.640, 0.330], [0.300, 0.600], [0.150, 0.060]])
"""Red, green and blue of Rec. 709.  Source: ITU-R BT.709-6."""

AP1_XY = np.array([[0.713, 0.293], [0.165, 0.830], [0.128, 0.044]])
"""Red, green and blue of ACEScg.  Source: S-2014-004."""

for _constant in (BRADFORD, CAT02, D65_XY, ACES_XY, REC709_XY, AP1_XY):
    _constant.setflags(write=False)


def adaptation_matrix(from_xy: ArrayLike, to_xy: ArrayLike, method: str = "bradford") -> FloatArray:
    """Return the matrix that makes one white appear as another.

    M = A^-1 · diag(A w_to / A w_from) · A, full adaptation.

    Parameters
    ----------
    from_xy, to_xy : float array, shape (2,)
        Chromaticity of the white that is, and of the white that shall be. [1]
    method : str
        'bradford' or 'cat02'.

    Returns
    -------
    float array, shape (3, 3)
        Applies to XYZ columns: adapted = M @ xyz. [1]

    Raises
    ------
    ValueError
        The method is unknown.

    Source
    ------
    ICC.1, Annex E (Bradford); CIE 159:2004 (CAT02).
    """
    if method not in METHODS:
        raise ValueError(f"adaptation is one of {sorted(METHODS)}, got '{method}'")
    cones = METHODS[method]
    gain = (cones @ xyz_from_xy(to_xy)) / (cones @ xyz_from_xy(from_xy))
    return np.linalg.solve(cones, gain[:, None] * cones)


def xyz_from_rgb(primaries_xy: ArrayLike, white_xy: ArrayLike) -> FloatArray:
    """Return the matrix from linear RGB to XYZ.

    Parameters
    ----------
    primaries_xy : float array, shape (3, 2)
        Chromaticities of red, green and blue. [1]
    white_xy : float array, shape (2,)
        Chromaticity of RGB (1, 1, 1), whose Y is 1. [1]

    Returns
    -------
    float array, shape (3, 3)
        Columns are the XYZ of red, green and blue. [1]

    Source
    ------
    SMPTE RP 177, normalised primary matrix (from memory).
    """
    primaries = xyz_from_xy(primaries_xy).T
    return np.asarray(primaries * np.linalg.solve(primaries, xyz_from_xy(white_xy)), dtype=float)


def acescg_from_xyz() -> FloatArray:
    """Return the matrix from XYZ to ACEScg, whites untouched.

    Returns
    -------
    float array, shape (3, 3)
        The white of ACES goes to (1, 1, 1). [1]
    """
    return np.asarray(np.linalg.inv(xyz_from_rgb(AP1_XY, ACES_XY)), dtype=float)


def acescg_from_rec709() -> FloatArray:
    """Return the matrix from linear Rec. 709 to ACEScg, white to white by Bradford.

    Returns
    -------
    float array, shape (3, 3)
        (1, 1, 1) goes to (1, 1, 1). [1]
    """
    return acescg_from_xyz() @ adaptation_matrix(D65_XY, ACES_XY) @ xyz_from_rgb(REC709_XY, D65_XY)


REC709_FROM_XYZ = np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY))
"""From XYZ to linear Rec. 709 (and sRGB), whites untouched: D65 goes to (1, 1, 1)."""

REC709_FROM_XYZ.setflags(write=False)
