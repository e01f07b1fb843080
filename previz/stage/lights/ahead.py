"""What a meter reads in the middle of a lamp's beam, near enough that its face has a size.

An output written as lux at a distance is such a reading. Far away it is the intensity over the
square of the distance; near a large face, or a narrow beam, it is less.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from previz.physics.beam import AngularTable
from previz.stage.shapes import Triangles

PIECES = 20_000
"""About how many pieces a face is cut into."""


def face_ahead(face: Triangles, table: AngularTable | None, share: float = 1.0,
               focus: float = np.inf) -> Callable[[float], float]:
    """Return what a flat face gives a meter ahead of its middle that faces it.

    E(d) = (1 / A) times the integral over the face of I(theta, phi) cos(theta) / r².

    Parameters
    ----------
    face : (vertices, faces)
        In the plane z=0 about the origin, shining along +z. [m]
    table : AngularTable or None
        Intensity of one lumen; None for a Lambertian face. [cd/lm]
    share : float
        How much of the lamp's lumens leaves it. [1]
    focus : float
        Distance at which the table's picture is sharp; inf for a plain table. [m]

    Returns
    -------
    function
        Distance [m] -> illuminance of one lumen of the lamp. [lx/lm]

    Source
    ------
    Inverse square and cosine law for each piece; held to closed forms (Howell, configuration
    factors, class B; entry from memory) by the tests.
    """
    points, areas = _pieces(face)

    def at(distance: float) -> float:
        towards = np.column_stack([-points, np.full(len(points), distance)])
        squared = np.sum(towards**2, axis=1)
        cosine = distance / np.sqrt(squared)
        if table is None:
            intensity = cosine / np.pi
        else:
            intensity = _intensity(table, points, towards, distance, focus)
        return share * float(np.average(intensity * cosine / squared, weights=areas))

    return at


def tube_ahead(length: float) -> Callable[[float], float]:
    """Return what a thin Lambertian tube gives a meter before its middle that faces it.

    E(d) = I' / d (a + sin a cos a), I' = 1 / (pi² l) for each lumen, a = atan(l / 2 d).

    Parameters
    ----------
    length : float
        l. [m]

    Returns
    -------
    function
        Distance from its axis [m] -> illuminance of one lumen. [lx/lm]

    Source
    ------
    The line source of illumination texts.
    """
    def at(distance: float) -> float:
        half = np.arctan2(length / 2, distance)
        return float((half + np.sin(half) * np.cos(half)) / (np.pi**2 * length * distance))

    return at


def _pieces(face: Triangles) -> tuple[np.ndarray, np.ndarray]:
    """Return the middles (n, 2) [m] of small triangles of a face, and their areas [m²]."""
    corners = face[0][face[1]][..., :2]
    cuts = max(1, round(np.sqrt(PIECES / len(corners))))
    i, j = np.meshgrid(np.arange(cuts), np.arange(cuts), indexing="ij")
    upright, upside = i + j < cuts, i + j < cuts - 1
    steps = np.concatenate([np.stack([i[upright], j[upright]], 1) + 1 / 3,
                            np.stack([i[upside], j[upside]], 1) + 2 / 3]) / cuts
    edges = corners[:, 1:] - corners[:, :1]
    points = corners[:, :1] + np.einsum("sk,fkc->fsc", steps, edges)
    areas = np.abs(edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]) / 2
    return points.reshape(-1, 2), np.repeat(areas / cuts**2, cuts**2)


def _intensity(table: AngularTable, points, towards, distance: float, focus: float):
    """Return the intensity of a face at each of its points towards the meter. [cd/lm]"""
    aimed, stretch = towards / np.linalg.norm(towards, axis=1)[:, None], 1.0
    if np.isfinite(focus):
        # As the engine does it: the table is read where the ray meets the plane of focus,
        # and the map between the two directions keeps the flux.
        along = aimed[:, 2]
        moved = np.column_stack([points, np.zeros(len(points))]) / focus + aimed / along[:, None]
        moved /= np.linalg.norm(moved, axis=1)[:, None]
        aimed, stretch = moved, (moved[:, 2] / along) ** 3
    theta = np.degrees(np.arccos(np.clip(aimed[:, 2], -1, 1)))
    return stretch * table.intensity(theta, np.degrees(np.arctan2(aimed[:, 1], aimed[:, 0])))
