"""Beam profiles of lens lamps, and what a honeycomb grid does to a beam."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.beam import AngularTable

# Where 3u² - 2u³ reaches 0.9 (the root in closed form): the smooth edge is then down to the tenth
# that ends the field.
_EDGE_AT_FIELD = 0.5 - float(np.sin(np.arcsin(1 - 2 * 0.9) / 3))
_SHARPEST_EDGE = 0.01
_EDGE_STEPS, _GRID_STEPS = 120, 240


def hard_edged(field_deg: float, edge: float = 0.1) -> AngularTable:
    """Return the beam of a projecting lamp: an even field that ends in an edge.

    Intensity is level, then falls along 1 - (3u² - 2u³). The tenth of the peak lies on the field
    angle whatever the edge.

    Parameters
    ----------
    field_deg : float
        Field angle, full, above 0 and below 120. [deg]
    edge : float
        Width of the fall as a share of half the field, 0 (as sharp as a lens makes it, taken as
        1 %) to 1. [1]

    Returns
    -------
    AngularTable
        One lumen.

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    if not 0 < field_deg < 120:
        raise ValueError(f"a field angle lies between 0 and 120 deg, got {field_deg!r}")
    if not 0 <= edge <= 1:
        raise ValueError(f"edge lies from 0 to 1, got {edge!r}")
    half = field_deg / 2
    width = half * max(edge, _SHARPEST_EDGE)
    start = half - _EDGE_AT_FIELD * width
    u = np.linspace(0.0, 1.0, _EDGE_STEPS + 1)
    flat = np.linspace(0.0, start, 16, endpoint=False)
    theta = np.concatenate([flat, start + u * width])
    values = np.concatenate([np.ones_like(flat), 1.0 - u * u * (3.0 - 2.0 * u)])
    return AngularTable(theta, np.zeros(1), values[:, None]).normalised()


def soft_edged(beam_deg: float, field_deg: float, steps: int = 360) -> AngularTable:
    """Return the beam of a lamp with a single soft lens: round on top, long in the tail.

    I = I0 exp(-ln 2 · (2 theta / beam)^p), with p solved so that a tenth is left at the field
    angle: p = ln(ln 10 / ln 2) / ln(field / beam).

    Parameters
    ----------
    beam_deg : float
        Beam angle, full. [deg]
    field_deg : float
        Field angle, full, above the beam angle and below 180. [deg]
    steps : int
        Intervals of theta.

    Returns
    -------
    AngularTable
        One lumen; stops at 90° or where 1e-6 of the peak is left.

    Raises
    ------
    ValueError
        The angles are out of range or not one inside the other.
    """
    if not 0 < beam_deg < field_deg < 180:
        raise ValueError(
            "angles must be 0 < beam < field < 180 deg, "
            f"got beam {beam_deg!r} and field {field_deg!r}"
        )
    power = np.log(np.log(10.0) / np.log(2.0)) / np.log(field_deg / beam_deg)
    # The exponent at which 1e-6 is left, as a share of the one at the beam angle.
    last = min(90.0, beam_deg / 2 * (np.log(1e6) / np.log(2.0)) ** (1.0 / power))
    theta = np.linspace(0.0, last, steps + 1)
    values = np.exp(-np.log(2.0) * (2 * theta / beam_deg) ** power)
    return AngularTable(theta, np.zeros(1), values[:, None]).normalised()


def flooding_angles(flood: float) -> tuple[float, float]:
    """Return beam and field angle of a lamp with a movable lens between spot and flood.

    Parameters
    ----------
    flood : float
        0 full spot to 1 full flood. [1]

    Returns
    -------
    (float, float)
        Beam and field angle, full. [deg]

    Raises
    ------
    ValueError
        `flood` is outside 0 to 1.

    Source
    ------
    Common practice, no source: spot 10°/20°, flood 50°/65°, geometric in between.
    """
    return _flooded(flood, (10.0, 20.0), (50.0, 65.0))


def open_face_angles(flood: float) -> tuple[float, float]:
    """Return beam and field angle of a lamp without a lens, as `flooding_angles`.

    Source
    ------
    Common practice, no source: spot 25°/50°, flood 70°/100°, geometric in between.
    """
    return _flooded(flood, (25.0, 50.0), (70.0, 100.0))


def _flooded(flood: float, at_spot: tuple[float, float],
             at_flood: tuple[float, float]) -> tuple[float, float]:
    if not 0 <= flood <= 1:
        raise ValueError(f"flood lies from 0 (spot) to 1 (flood), got {flood!r}")
    beam, field = (spot * (wide / spot) ** flood for spot, wide in zip(at_spot, at_flood, strict=True))
    return float(beam), float(field)


def honeycomb_transmission(theta_deg: ArrayLike, cutoff_deg: float) -> FloatArray:
    """Return what passes a black honeycomb of round cells.

    The lit share of a cell is the overlap of its two round ends:
    T = (2/pi)(acos(u) - u sqrt(1 - u²)), u = tan(theta) / tan(cutoff).

    Parameters
    ----------
    theta_deg : float array, shape (...)
        Angle from the axis of the cells. [deg]
    cutoff_deg : float
        Angle at which no light passes: atan(cell width / cell length). [deg]

    Returns
    -------
    float array, shape (...)
        T, without the cells' wall thickness. [1]

    Raises
    ------
    ValueError
        The cutoff is not between 0 and 90°.
    """
    if not 0 < cutoff_deg < 90:
        raise ValueError(f"a grid's cutoff lies between 0 and 90 deg, got {cutoff_deg!r}")
    theta = np.asarray(theta_deg, dtype=float)
    forward = np.abs(theta) < 90
    tangent = np.tan(np.radians(np.where(forward, theta, 0.0)))
    u = np.where(forward, np.abs(tangent) / np.tan(np.radians(cutoff_deg)), 1.0)
    u = np.clip(u, 0.0, 1.0)
    return 2 / np.pi * (np.arccos(u) - u * np.sqrt(1 - u * u))


def through_honeycomb(table: AngularTable, cutoff_deg: float) -> tuple[AngularTable, float]:
    """Return a beam after a honeycomb grid, and the share of its lumens that is left.

    Parameters
    ----------
    table : AngularTable
        The beam before the grid.
    cutoff_deg : float
        Angle at which no light passes. [deg]

    Returns
    -------
    (AngularTable, float)
        The new beam at one lumen, and passed lumens over lumens before. [1]

    Raises
    ------
    ValueError
        The cutoff is not between 0 and 90°, or nothing passes.
    """
    last = min(cutoff_deg, table.theta_deg[-1])
    theta = np.linspace(0.0, last, _GRID_STEPS + 1)
    before = table.intensity(theta[:, None], table.phi_deg[None, :])
    cut = AngularTable(
        theta, table.phi_deg, before * honeycomb_transmission(theta, cutoff_deg)[:, None]
    )
    return cut.normalised(), cut.flux() / table.flux()
