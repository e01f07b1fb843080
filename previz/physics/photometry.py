"""Closed forms of photometry: what simple sources do to simple receivers.

A source of even luminance L lights a small receiver with E = pi L F, F being the configuration
factor: the share of what the receiver could see at most.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.spectra import K_M, observer


def disc_factor(radius: float, distance: float, offset: ArrayLike = 0.0) -> FloatArray:
    """Return the configuration factor of a disc seen from a plane parallel to it.

    With H = d/l, r = R/l, Z = 1 + H² + r²: F = (1 - (Z - 2r²) / sqrt(Z² - 4r²)) / 2.

    Parameters
    ----------
    radius, distance : float
        R of the disc and d between the planes. [m]
    offset : float array, shape (...)
        l, how far the receiver lies off the disc's axis. [m]

    Returns
    -------
    float array, shape (...)
        F; R² / (R² + d²) on the axis. [1]

    Source
    ------
    J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors, class B.
    """
    # The same form times l², which stays finite on the axis.
    square = np.asarray(offset, dtype=float) ** 2
    z = square + distance**2 + radius**2
    return (1 - (z - 2 * radius**2) / np.sqrt(z * z - 4 * radius**2 * square)) / 2


def corner_factor(width: ArrayLike, height: ArrayLike, distance: float) -> FloatArray:
    """Return the configuration factor of a rectangle from the normal through its corner.

    F = (A / sqrt(1+A²) atan(B / sqrt(1+A²)) + B / sqrt(1+B²) atan(A / sqrt(1+B²))) / 2pi.

    Parameters
    ----------
    width, height : float array, shape (...)
        Sides; the receiver is parallel. [m]
    distance : float
        Along the normal. [m]

    Returns
    -------
    float array, shape (...)
        F; odd in each side, so that rectangles can be added and taken away. [1]

    Source
    ------
    J. R. Howell, as above, class B.
    """
    a = np.asarray(width, dtype=float) / distance
    b = np.asarray(height, dtype=float) / distance
    wide, high = np.sqrt(1 + a * a), np.sqrt(1 + b * b)
    return (a / wide * np.arctan(b / wide) + b / high * np.arctan(a / high)) / (2 * np.pi)


def rectangle_factor(width: float, height: float, distance: float,
                     offset: tuple[float, float] = (0.0, 0.0)) -> float:
    """Return the configuration factor of a rectangle from anywhere on a parallel plane.

    Parameters
    ----------
    width, height, distance : float
        [m]
    offset : (float, float)
        Where the receiver lies, from the middle of the rectangle. [m]

    Returns
    -------
    float
        F, from four corner rectangles. [1]
    """
    right, left = width / 2 - offset[0], -width / 2 - offset[0]
    top, bottom = height / 2 - offset[1], -height / 2 - offset[1]
    return float(
        corner_factor(right, top, distance)
        - corner_factor(left, top, distance)
        - corner_factor(right, bottom, distance)
        + corner_factor(left, bottom, distance)
    )


def point_error(factor_of_distance: float, area: float, distance: float) -> float:
    """Return by how much a diffuse source differs from a point of the same candelas.

    Parameters
    ----------
    factor_of_distance : float
        Its configuration factor at that distance. [1]
    area : float
        Its area, seen square. [m²]
    distance : float
        [m]

    Returns
    -------
    float
        Real illuminance over that of the point, less one; negative near a flat source. [1]
    """
    return float(np.pi * factor_of_distance * distance**2 / area - 1)


def mean_reflectance(areas: FloatArray, reflectances: FloatArray) -> float:
    """Return the area mean of reflectances.

    Parameters
    ----------
    areas, reflectances : float array, shape (n,)
        [m²] and [1].

    Returns
    -------
    float
        [1]
    """
    return float(np.average(reflectances, weights=areas))


def facing_squares_factor(side: float = 1.0, gap: float = 1.0) -> float:
    """Return the share of a square's light that falls on an equal square right across.

    Parameters
    ----------
    side, gap : float
        [m]

    Returns
    -------
    float
        F12; 0.199825 for two faces of a cube. [1]

    Source
    ------
    J. R. Howell, as above, C-11.
    """
    x = side / gap
    rim = np.sqrt(1 + x * x)
    logs = np.log((1 + x * x) / np.sqrt(1 + 2 * x * x))
    angles = 2 * x * (rim * np.arctan(x / rim) - np.arctan(x))
    return float(2 / (np.pi * x * x) * (logs + angles))


def corner_rectangles_factor(common: float, first: float, second: float) -> float:
    """Return the share of a rectangle's light that falls on one at a right angle along an edge.

    With w = first / common and h = second / common.

    Parameters
    ----------
    common : float
        Length of the shared edge. [m]
    first, second : float
        Other side of the sending and of the receiving rectangle. [m]

    Returns
    -------
    float
        F12; 0.200044 for two faces of a cube. [1]

    Source
    ------
    J. R. Howell, as above, C-14.
    """
    w, h = first / common, second / common
    w2, h2 = w * w, h * h
    both = 1 + w2 + h2
    diagonal = np.sqrt(w2 + h2)
    angles = w * np.arctan(1 / w) + h * np.arctan(1 / h) - diagonal * np.arctan(1 / diagonal)
    logs = (
        np.log((1 + w2) * (1 + h2) / both)
        + w2 * np.log(w2 * both / ((1 + w2) * (w2 + h2)))
        + h2 * np.log(h2 * both / ((1 + h2) * (w2 + h2)))
    )
    return float((angles + logs / 4) / (np.pi * w))


def efficacy_of_radiation(spectrum: ArrayLike) -> float:
    """Return the lumens of each watt of light from 380 to 780 nm.

    Parameters
    ----------
    spectrum : float array, shape (81,)
        Spectral power. [any]

    Returns
    -------
    float
        683.002 · integral of S V / integral of S, by trapezia. [lm/W]
    """
    power = np.array(spectrum, dtype=float)
    # Trapezia end at 380 and 780 nm; the plain sum would count 5 nm more of the invisible power.
    power[..., [0, -1]] /= 2
    return float(K_M * np.sum(power * observer()[1]) / np.sum(power))
