"""What stands in a beam and cuts it by angle: shutters and iris at a gate, and square cells.

A projecting lamp throws a picture of its gate: what is cut there is cut from the beam, and the
rest keeps its intensity. The result is a table over both angles, and the share of the lumens left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.beam import AngularTable

PHI_STEPS = 720
"""Steps round the beam of a table with straight edges."""

THETA_STEPS = 400
"""Steps from the axis of a table with straight edges."""

CELL_THETA_STEPS = 240
"""Steps from the axis of a beam through cells."""

SHARPEST = 0.01
"""Width of the sharpest edge, as a share of half the field. [1]  As in `profiles.hard_edged`."""


@dataclass(frozen=True)
class Shutters:
    """How far four blades reach into the field, as shares of its diameter, in the pool of light.

    Parameters
    ----------
    top, bottom, left, right : float
        0 out of the field, 0.5 to its middle; left and right as seen from behind the lamp. [1]
    """

    top: float = 0.0
    bottom: float = 0.0
    left: float = 0.0
    right: float = 0.0


def framed(table: AngularTable, field_deg: float, edge: float, *, iris: float = 1.0,
           shutters: Shutters | None = None) -> tuple[AngularTable, float]:
    """Return a round beam cut at its gate, and the share of its lumens that is left.

    On the gate, x and y are tangents of angles over the tangent of half the field. Each edge
    falls along 1 - (3u² - 2u³) over the same width as the field's own.

    Parameters
    ----------
    table : AngularTable
        The beam, round.
    field_deg : float
        Its field angle, full. [deg]
    edge : float
        Width of an edge over half the field, 0 (taken as 1 %) to 1. [1]
    iris : float
        Opening of the iris over the field, above 0 to 1. [1]
    shutters : Shutters, optional
        None for none.

    Returns
    -------
    (AngularTable, float)
        One lumen; lumens passed over lumens before. [1]

    Raises
    ------
    ValueError
        Nothing is left.
    """
    last = float(table.theta_deg[-1])
    theta = np.union1d(np.linspace(0.0, last, THETA_STEPS + 1), table.theta_deg)
    straight = shutters is not None and shutters != Shutters()
    phi = np.linspace(0.0, 360.0, PHI_STEPS + 1) if straight else np.zeros(1)
    gate = np.tan(np.radians(theta)) / np.tan(np.radians(field_deg / 2))
    width = max(edge, SHARPEST)
    values = table.intensity(theta)[:, None] * np.ones(phi.size)
    if iris < 1:
        values = values * _passed((iris - gate) / width)[:, None]
    if straight and shutters is not None:
        # Seen from behind, the lamp's x points left and its y up.
        x = gate[:, None] * np.cos(np.radians(phi))
        y = gate[:, None] * np.sin(np.radians(phi))
        for share, side in ((shutters.top, y), (shutters.bottom, -y), (shutters.left, x),
                           (shutters.right, -x)):
            if share > 0:
                values = values * _passed((1 - 2 * share - side) / width)
    cut = AngularTable(theta, phi, values)
    left = cut.flux() / table.flux()
    if not left > 1e-6:
        raise ValueError("the iris and the shutters let nothing through")
    return cut.normalised(), left


def _passed(inside: FloatArray) -> FloatArray:
    """Return what an edge lets through, half at the edge itself; `inside` in edge widths."""
    u = np.clip(inside + 0.5, 0.0, 1.0)
    return u * u * (3 - 2 * u)


def cell_transmission(theta_deg: ArrayLike, phi_deg: ArrayLike, ratio: float) -> FloatArray:
    """Return what passes a grid of square black cells.

    The lit share of a cell is the overlap of its two square ends:
    T = max(0, 1 - r |tan theta cos phi|) · max(0, 1 - r |tan theta sin phi|), r = depth / width.

    Parameters
    ----------
    theta_deg, phi_deg : float array, shape (...)
        Direction, from the cells' axis and from the line of one of their walls. [deg]
    ratio : float
        Depth of a cell over its width. [1]

    Returns
    -------
    float array, shape (...)
        T; thin walls that send nothing on. [1]
    """
    theta, phi = np.broadcast_arrays(np.asarray(theta_deg, float), np.asarray(phi_deg, float))
    ahead = np.abs(theta) < 90
    tangent = np.tan(np.radians(np.where(ahead, theta, 0.0)))
    across = np.abs(tangent * np.cos(np.radians(phi)))
    along = np.abs(tangent * np.sin(np.radians(phi)))
    passed = np.clip(1 - ratio * across, 0, 1) * np.clip(1 - ratio * along, 0, 1)
    return np.where(ahead, passed, 0.0)


def cell_cutoffs(width: float, depth: float) -> tuple[float, float]:
    """Return the angles beyond which square cells pass nothing: across a wall, and corner-wise.

    atan(width / depth) and atan(√2 width / depth), from the axis. [deg]
    """
    return (float(np.degrees(np.arctan2(width, depth))),
            float(np.degrees(np.arctan2(np.sqrt(2) * width, depth))))


def through_cells(table: AngularTable, width: float, depth: float) -> tuple[AngularTable, float]:
    """Return a beam after a grid of square cells, and the share of its lumens that is left.

    Parameters
    ----------
    table : AngularTable
        The beam before the grid.
    width, depth : float
        Of a cell. [m]

    Returns
    -------
    (AngularTable, float)
        One lumen; lumens passed over lumens before. [1]

    Raises
    ------
    ValueError
        Nothing passes.
    """
    last = min(cell_cutoffs(width, depth)[1], float(table.theta_deg[-1]))
    theta = np.linspace(0.0, last, CELL_THETA_STEPS + 1)
    phi = np.linspace(0.0, 360.0, PHI_STEPS // 2 + 1)
    before = table.intensity(theta[:, None], phi[None, :])
    cut = AngularTable(theta, phi,
                       before * cell_transmission(theta[:, None], phi[None, :], depth / width))
    return cut.normalised(), cut.flux() / table.flux()
