"""What lamps and cameras throw and see, from above: the level directions that bound it."""

from __future__ import annotations

import numpy as np

from previz.physics.beam import BEAM_LEVEL, AngularTable, lambertian_front
from previz.stage.records import Camera, Emitter

STEEP = 0.93
"""How far up or down something may point, as a sine, and still bound anything from above. [1]"""

RIM = 24
"""Directions round a beam in which its edge is sought."""


def level_edges(ahead: np.ndarray, rim: np.ndarray) -> np.ndarray | None:
    """Return the two level directions, of unit length, that bound directions round one ahead.

    Parameters
    ----------
    ahead : float array, shape (3,)
        Of unit length.
    rim : float array, shape (n, 3)

    Returns
    -------
    float array, shape (2, 2), or None
        To the right first; None where they go all round, as straight down.
    """
    level = np.concatenate([ahead[None], rim])[:, :2]
    first = float(np.hypot(*level[0]))
    if abs(ahead[2]) > STEEP or np.any(level @ level[0] <= 0.05 * first):
        return None
    forward = level[0] / first
    side = np.array([forward[1], -forward[0]])
    slopes = (level @ side) / (level @ forward)
    edges = np.array([forward + slopes.max() * side, forward + slopes.min() * side])
    return np.asarray(edges / np.linalg.norm(edges, axis=1, keepdims=True))


def camera_edges(camera: Camera) -> np.ndarray | None:
    """Return the level directions that bound what a camera sees, as `level_edges` has them."""
    right, up, ahead = np.asarray(camera.world_from_camera, float).T
    across, high = camera.tan_half
    rim = [ahead + a * across * right + b * high * up for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b]
    return level_edges(ahead, np.array(rim))


def beam_edges(emitter: Emitter) -> np.ndarray | None:
    """Return the level directions that bound a lamp's beam, to half of its peak."""
    axes = np.asarray(emitter.world_from_light, float)
    table = lambertian_front() if emitter.table is None else emitter.table
    rim = []
    for phi in np.arange(RIM) * 2 * np.pi / RIM:
        theta = np.radians(half_peak(table, float(np.degrees(phi))))
        rim.append(axes @ [np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)])
    return level_edges(axes[:, 2], np.array(rim))


def half_peak(table: AngularTable, phi_deg: float) -> float:
    """Return the outermost angle from the axis at which a beam has half of its peak, 0 for nowhere. [deg]"""
    profile = np.asarray(table.intensity(table.theta_deg, phi_deg))
    limit = BEAM_LEVEL * table.peak
    above = np.nonzero(profile >= limit)[0]
    if not len(above):
        return 0.0
    last = int(above[-1])
    if last == len(profile) - 1:
        return float(table.theta_deg[-1])
    share = (profile[last] - limit) / (profile[last] - profile[last + 1])
    return float(table.theta_deg[last] + share * (table.theta_deg[last + 1] - table.theta_deg[last]))
