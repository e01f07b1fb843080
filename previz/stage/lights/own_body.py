"""How much of a glowing body's light is lost in the lamp's own holder.

Lumens are stated for a lamp with its holder, wax or logs, so what these swallow is made up for.
"""

from __future__ import annotations

import numpy as np

from previz.stage.shapes import Triangles

RAYS = 8192

# The plastic number's five-dimensional kin: x^6 = x + 1.
_ROOT = 1.1347241384015194
_STEPS = _ROOT ** -np.arange(1.0, 6.0)


def share_lost(glowing: Triangles, holder: Triangles, albedo: float) -> float:
    """Return the share of a Lambertian body's light that its holder swallows.

    Parameters
    ----------
    glowing : (vertices, faces)
        Convex; all of it gives light.
    holder : (vertices, faces)
        Outside it.
    albedo : float
        What the holder sends on of the light on it. [1]

    Returns
    -------
    float
        From evenly spread rays, the same each time; good to about 0.2 % of the light. [1]

    Limits
    ------
    Light that the holder sends on is taken to get away.
    """
    u = np.mod(0.5 + np.arange(1, RAYS + 1)[:, None] * _STEPS, 1.0)
    vertices, faces = np.asarray(glowing[0], float), np.asarray(glowing[1])
    corners = vertices[faces]
    double = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(double, axis=1)
    face = np.searchsorted(np.cumsum(size) / size.sum(), u[:, 0])
    face = np.minimum(face, len(faces) - 1)
    root = np.sqrt(u[:, 1])[:, None]
    a, b, c = (corners[face, k] for k in range(3))
    start = a * (1 - root) + b * root * (1 - u[:, 2:3]) + c * root * u[:, 2:3]
    normal = double[face] / size[face][:, None]
    side = np.where(np.abs(normal[:, :1]) < 0.9, [[1.0, 0, 0]], [[0, 1.0, 0]])
    x = np.cross(side, normal)
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    y = np.cross(normal, x)
    radius, turn = np.sqrt(u[:, 3:4]), 2 * np.pi * u[:, 4:5]
    way = (x * radius * np.cos(turn) + y * radius * np.sin(turn)
           + normal * np.sqrt(1 - u[:, 3:4]))
    return float(np.mean(_hits(start, way, holder))) * (1 - albedo)


def _hits(start, way, body) -> np.ndarray:
    """Return whether each ray meets a body (Möller and Trumbore's test)."""
    hit = np.zeros(len(start), bool)
    vertices = np.asarray(body[0], float)
    for i, j, k in np.asarray(body[1]):
        one, two = vertices[j] - vertices[i], vertices[k] - vertices[i]
        across = np.cross(way, two)
        scale = across @ one
        safe = np.where(np.abs(scale) < 1e-12, 1.0, scale)
        offset = start - vertices[i]
        u = np.einsum("ij,ij->i", offset, across) / safe
        turned = np.cross(offset, one)
        v = np.einsum("ij,ij->i", way, turned) / safe
        t = turned @ two / safe
        hit |= (np.abs(scale) >= 1e-12) & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
    return hit
