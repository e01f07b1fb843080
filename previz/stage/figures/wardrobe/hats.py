"""Hats: a flat cap, a plain peaked cap, a knitted hat; made round the measured head and its hair."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import grid_quads, smooth_normals, smooth_step, triangles
from previz.stage.figures.skin import head_shape
from previz.stage.figures.wardrobe.cutting import Sheet

_AROUND = 96

RAISED = {"flat cap": (0.050, 0.018), "peaked cap": (0.052, 0.030), "wool hat": (0.046, 0.004)}
"""Height of a hat's rim over the eyes, in front and behind. Common practice, no source. [m]"""

_HAIR = 7e-3
"""Thickness of hair that a hat presses down. Common practice, no source. [m]"""


@dataclass(frozen=True)
class _Block:
    """What a hat is made round: the head at its rim.

    Parameters
    ----------
    centre : float array, shape (3,)
    turn : float array, shape (3, 3)
        Columns: forwards, to the left, and up, of the rim's plane.
    radius : float array, shape (around,)
        Of the head and its hair at the rim, from the front to the left and round. [m]
    crown : float
        Height of the crown over the rim's plane. [m]
    """

    centre: np.ndarray
    turn: np.ndarray
    radius: np.ndarray
    crown: float

    def place(self, radius, height):
        """Return points at radii and heights over the rim, shape (rows, around) each. [m]"""
        angle = np.linspace(0, 2 * np.pi, _AROUND + 1)
        flat = np.stack([radius * np.cos(angle), radius * np.sin(angle), height + 0 * radius], axis=-1)
        return self.centre + flat @ self.turn.T


@lru_cache(12)
def _block(person, kind):
    """Return the block of a person's hat."""
    data, head = body_data(), head_shape(person)
    eyes = data.eyes[data.people.index(person)][:, :3].mean(axis=0)
    front, back = RAISED[kind]
    skull = head.points[head.points[:, 2] > eyes[2]]
    depth = skull[:, 0].max() - skull[:, 0].min()
    up = np.array([-(front - back) / depth, 0.0, 1.0])
    up /= np.linalg.norm(up)
    ahead = np.cross([0.0, 1.0, 0.0], up)
    turn = np.stack([ahead, [0.0, 1.0, 0.0], up], axis=1)
    middle = (skull[:, 0].max() + skull[:, 0].min()) / 2
    centre = np.array([middle, eyes[1], eyes[2] + (front + back) / 2])
    local = (head.points - centre) @ turn
    near = local[np.abs(local[:, 2]) < 0.012]
    angle, radius = np.arctan2(near[:, 1], near[:, 0]), np.hypot(near[:, 0], near[:, 1])
    looks = np.linspace(0, 2 * np.pi, _AROUND + 1)
    gap = np.abs((angle - looks[:, None] + np.pi) % (2 * np.pi) - np.pi)
    # Ears stand out of the rim; the skull is the inner of what is close.
    reach = np.where(gap < 0.10, radius, 0).max(axis=1)
    smooth = np.convolve(np.pad(reach[:-1], 6, mode="wrap"), np.ones(13) / 13, "valid")
    reach = np.maximum(smooth, reach[:-1] - 2e-3)
    reach = np.append(reach, reach[0])
    return _Block(
        centre,
        turn,
        reach + _HAIR * (0.35 + 0.65 * (1 - np.cos(looks)) / 2),
        float(local[:, 2].max()) + _HAIR,
    )


def under_hat(person, kind, points):
    """Return which points at rest on a head a hat covers, shape (n,)."""
    block = _block(person, kind)
    return ((points - block.centre) @ block.turn)[:, 2] > 2e-3


def _shell(block, radius, height, stuff):
    """Return rings as a sheet; `radius` and `height` have a row a ring, from the rim upwards. [m]"""
    radius, height = np.broadcast_arrays(radius, height)
    points = block.place(radius, height)
    faces = triangles(grid_quads(*radius.shape))
    flat = points.reshape(-1, 3)
    normals = smooth_normals(flat, faces)
    # The last column is the first again.
    table = normals.reshape(*radius.shape, 3)
    seam = table[:, 0] + table[:, -1]
    seam /= np.linalg.norm(seam, axis=1, keepdims=True)
    table[:, 0] = table[:, -1] = seam
    run = np.concatenate([[0], np.cumsum(np.hypot(np.diff(radius[:, 0]), np.diff(height[:, 0])))])
    angle = np.linspace(0, 2 * np.pi, _AROUND + 1)
    uv = np.stack([0 * run[:, None] + angle * 0.09, run[:, None] + 0 * angle], axis=2).reshape(-1, 2)
    middle = len(flat) // 3
    outward = flat[middle] - block.centre
    if normals[middle] @ outward < 0:
        faces, table = faces[:, ::-1], -table
    return Sheet(flat, faces, table.reshape(-1, 3), uv, stuff)


def _peak(block, reach, drop, stuff, wide=0.98, thick=3.5e-3, lift=4e-3):
    """Return a stiff peak in front: upper side, edge and underside."""
    angle = np.linspace(-wide, wide, 41)
    share = np.linspace(0, 1, 10)[:, None]
    rim = np.interp(angle % (2 * np.pi), np.linspace(0, 2 * np.pi, _AROUND + 1), block.radius)
    shape = np.sqrt(np.clip(1 - (angle / wide) ** 2, 0, 1)) ** 1.1
    out = rim - 4e-3 + (reach * shape + 4e-3) * share
    fall = lift - drop * share**1.3 * shape - 0.012 * (angle / wide) ** 2 * (1 - 0.4 * share)

    def side(radius, height):
        flat = np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=-1)
        return block.centre + flat @ block.turn.T

    rows = [
        *side(out, fall),
        *side(out[-1:] + 1.2e-3, fall[-1:] - 0.5 * thick),
        *side(out, fall - thick)[::-1],
    ]
    grid = np.stack(rows)
    faces = triangles(grid_quads(*grid.shape[:2]))
    flat = grid.reshape(-1, 3)
    normals = smooth_normals(flat, faces)
    if normals[5 * 41 + 20] @ block.turn[:, 2] < 0:
        faces, normals = faces[:, ::-1], -normals
    uv = np.stack(np.broadcast_arrays(angle * 0.1, np.arange(len(grid))[:, None] * 5e-3), axis=2).reshape(
        -1, 2
    )
    return Sheet(flat, faces, normals, uv, stuff)


def hat(person, kind) -> list[Sheet]:
    """Return a hat on a person's head at rest."""
    return {"flat cap": _flat_cap, "peaked cap": _peaked_cap, "wool hat": _wool_hat}[kind](
        _block(person, kind)
    )


def _flat_cap(block):
    """Return a cap whose crown lies low and forward on a short peak."""
    angle = np.linspace(0, 2 * np.pi, _AROUND + 1)
    front = np.clip(np.cos(angle), 0, 1) ** 1.5
    r, top = block.radius, block.crown + 4e-3
    crease = 1.2e-3 * np.sin(11 * angle) + 1.0e-3 * np.sin(7 * angle + 1)
    rows = []
    for share in np.linspace(0, 1, 26):
        # Up the band, out over it, and over the dome to the middle.
        round_turn = np.sin(np.pi / 2 * np.clip(share / 0.28, 0, 1))
        bulge = (5e-3 + 9e-3 * (1 - front) + 26e-3 * front) * smooth_step(share, 0.04, 0.3)
        inward = np.cos(np.pi / 2 * np.clip((share - 0.28) / 0.72, 0, 1)) ** 0.62
        height = top * (
            0.36 * round_turn * (1 - 0.62 * front)
            + 0.64 * np.sin(np.pi / 2 * np.clip((share - 0.22) / 0.78, 0, 1)) ** 1.15 * (1 - 0.10 * front)
        )
        height = height + 0.24 * top * front * smooth_step(share, 0.45, 1.0)
        rows.append(((r + 2e-3 + bulge + crease * np.sin(np.pi * share)) * inward, height))
    radius, height = (np.stack(each) for each in zip(*rows, strict=True))
    height[-1] = height[-1].mean()
    inner = _shell(block, np.stack([r + 1e-3, r - 2e-3]), np.array([[0.0], [0.012]]), "cloth")
    return [_shell(block, radius, height, "cloth"), inner, _peak(block, 0.046, 0.016, "cloth", thick=4.5e-3)]


def _peaked_cap(block):
    """Return a plain cap with an upright band, a crown that stands out over it, and a shiny peak."""
    angle = np.linspace(0, 2 * np.pi, _AROUND + 1)
    front = (1 + np.cos(angle)) / 2
    r, top = block.radius, max(block.crown + 6e-3, 0.085)
    profile = (
        (0.0, 0.0),
        (1e-3, 0.018),
        (1e-3, 0.036),
        (2.4e-3, 0.0375),
        (7e-3, 0.041),
        (15e-3, 0.052),
        (20e-3, 0.062),
        (21.5e-3, 0.067),
        (20e-3, 0.071),
    )
    radius = [r + 2e-3 + out + 5e-3 * front * (high > 0.04) for out, high in profile]
    height = [high * (1 + 0.28 * front * (high > 0.04)) for _, high in profile]
    edge, level = radius[-1], height[-1]
    for share in np.linspace(0.1, 1, 9):
        radius.append(edge * (1 - share))
        height.append(level + (top - level) * smooth_step(share, 0, 1) * (0.75 + 0.25 * share))
    radius, height = np.stack(radius), np.stack([np.broadcast_to(each, r.shape) for each in height])
    height[-1] = height[-1].mean()
    inner = _shell(block, np.stack([r + 1e-3, r - 2e-3]), np.array([[0.0], [0.012]]), "cloth")
    return [
        _shell(block, radius, height, "cloth"),
        inner,
        _shell(
            block,
            r + 4.2e-3 + np.array([[-2e-3], [0], [0.6e-3], [0], [-2e-3]]),
            0.006 + np.array([[0.0], [0.0], [0.005], [0.010], [0.010]]) + 0 * r,
            "leather",
        ),
        _peak(block, 0.052, 0.030, "leather", wide=1.05, thick=3e-3),
    ]


def _wool_hat(block):
    """Return a knitted hat, close to the head, with its rim turned up."""
    angle = np.linspace(0, 2 * np.pi, _AROUND + 1)
    r, top = block.radius, block.crown + 0.016
    share = np.linspace(0, 1, 24)[:, None]
    slack = 1.4e-3 * np.sin(9 * angle + 5 * share) + 1.0e-3 * np.sin(5 * angle - 7 * share)
    radius = (r + 4e-3 + slack * np.sin(np.pi * share)) * np.cos(np.pi / 2 * share) ** 0.62
    height = top * np.sin(np.pi / 2 * share) ** 0.95 + 0 * angle
    turned = np.array([0.0, 0.05, 0.5, 0.95, 1.0, 0.97])[:, None]
    out = np.array([4.5e-3, 8e-3, 9.5e-3, 9e-3, 7e-3, 3e-3])[:, None]
    rim = r + out + 0.6e-3 * np.sin(48 * angle) * np.sin(np.pi * turned)
    rim = rim * np.cos(np.pi / 2 * 0.42 * turned) ** 0.62
    return [
        _shell(block, radius, height, "cloth"),
        _shell(block, rim, -2e-3 + 0.052 * turned + 0 * angle, "cloth"),
        _shell(block, np.stack([r + 5e-3, r]), np.array([[-1e-3], [0.010]]), "cloth"),
    ]
