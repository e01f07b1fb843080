"""Strands of a stand-in figure: narrow ribbons for hair, brows and lashes.

Ribbons are what an edge light catches; a smooth cap alone reads as a helmet.
"""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import cross, smooth_step, triangles, unit

TONES = 64
"""Rows of tones that strands are shared out among."""


def scatter(count, salt):
    """Return `count` pseudorandom numbers in 0..1 that never change.

    An integer hash (the finaliser of the splitmix64 generator), so that a figure is the same on
    every machine and with every version of numpy.
    """
    with np.errstate(over="ignore"):
        seed = np.uint64(salt) * np.uint64(0x9E3779B97F4A7C15)
        x = np.arange(1, count + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15) + seed
        x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        x = x ^ (x >> np.uint64(31))
    return (x >> np.uint64(11)).astype(float) / float(1 << 53)


def wave(place, salt, period=None):
    """Return smooth noise of a running number, about -1 to 1, one bump for each unit.

    `salt` picks the noise; `period` is the number of units after which it repeats, if it does.
    """
    low = np.floor(place).astype(int)
    size = (int(period) if period else int(low.max() - low.min()) + 3)
    knots = 2 * scatter(size, salt) - 1
    base = 0 if period else low.min()
    t = smooth_step(place - low, 0, 1)
    one, two = (low - base) % size, (low - base + 1) % size
    return knots[one] * (1 - t) + knots[two] * t


def ribbons(paths, outward, half_width, *, roll, tip=0.25, root=1.0, rounding=0.8, tilt=0.0):
    """Return narrow strips along paths: vertices, triangles, normals.

    Parameters
    ----------
    paths : float array, shape (strands, points, 3)
        [m]
    outward : float array, shape (strands, points, 3)
        Where the flat of each strip faces.
    half_width : float array, shape (strands,)
        [m]
    roll : float array, shape (strands,)
        Turn of the flat about the strand. [rad]
    tip, root : float
        Width of the end, and of the start, over the greatest.
    rounding : float
        Lean of the normals at both edges, away from each other, as of a round hair. [rad]
    tilt : float
        Lean of all normals towards the root. [rad]
    """
    count, points = paths.shape[:2]
    along = tangents(paths)
    flat = unit(outward - np.einsum("...i,...i", outward, along)[..., None] * along)
    across = cross(along, flat)
    c, s = np.cos(roll)[:, None, None], np.sin(roll)[:, None, None]
    side, normal = c * across + s * flat, c * flat - s * across
    share = np.linspace(0, 1, points)
    taper = (1 - (1 - tip) * share**2) * np.minimum(root + (1 - root) * 4 * share, 1)
    off = side * (taper[None, :, None] * half_width[:, None, None])
    vertices = np.stack([paths - off, paths + off], axis=2).reshape(-1, 3)
    normal = np.cos(rounding) * unit(normal - np.tan(tilt) * along)
    lean = np.sin(rounding) * side
    normals = unit(np.stack([normal - lean, normal + lean], axis=2)).reshape(-1, 3)
    start = 2 * (np.arange(count)[:, None] * points + np.arange(points - 1)).ravel()
    return vertices, triangles(start[:, None] + [0, 1, 3, 2]), normals


def tangents(paths):
    """Return unit vectors along paths, shape as theirs: (strands, points, 3)."""
    steps = np.diff(paths, axis=1)
    both = np.empty_like(paths)
    both[:, 0], both[:, -1] = steps[:, 0], steps[:, -1]
    both[:, 1:-1] = steps[:, 1:] + steps[:, :-1]
    return unit(both)


def strand_places(count, points, salt):
    """Return texture corners of ribbons, shape (2 strands points, 2).

    u runs from 0 at the root to 1 at the tip; v lies in one of `TONES` rows, within which it grows across.
    """
    row = np.floor(scatter(count, salt) * TONES)
    u = np.broadcast_to(np.linspace(0.01, 0.99, points)[None, :, None], (count, points, 2))
    v = (row[:, None, None] + np.array([0.3, 0.7])) / TONES
    return np.stack([u, np.broadcast_to(v, u.shape)], axis=-1).reshape(-1, 2)
