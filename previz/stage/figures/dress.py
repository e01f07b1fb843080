"""Clothes of a stand-in figure: a jumper and trousers that hang from the body's own suit.

The suit is a body-tight mesh of regular rings that comes with the body data. It is let out,
stretched over hollows as cloth would be, given folds and hems, and split at the waist.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.folds import fold_height
from previz.stage.figures.mesh import (
    Subdivision,
    compact,
    edges_of,
    smooth_normals,
    subdivision,
    sum_at,
    triangles,
    unit,
    used_rows,
)
from previz.stage.figures.pose import SIDES, bones_with, dense_weights, share_of, skeleton

COLLAR_RING = 3
"""Ring of the suit, counted down from its neck opening, where the collar lies."""

WAIST, HEM = 0.565, 0.505
"""Heights of waistband and hem, over the height of the body at rest."""


@dataclass(frozen=True)
class Suit:
    """The topology of the clothes, the same for everyone.

    Parameters
    ----------
    rows : int array
        Vertices of the body data that make up the suit.
    quads : int array, shape (n, 4)
        Quads over those rows.
    ring : int array
        Steps from the neck opening.
    weights : float array, shape (rows, bones)
    jumper_weights : float array, shape (rows, bones)
        The same, but the skirt of the jumper follows the thighs less.
    edges : int array, shape (e, 2)
    upper, lower : int array
        Quads of the jumper and of the trousers.
    hem : int array
        Vertices of the jumper's lower rim.
    """

    rows: np.ndarray
    quads: np.ndarray
    ring: np.ndarray
    weights: np.ndarray
    jumper_weights: np.ndarray
    edges: np.ndarray
    upper: np.ndarray
    lower: np.ndarray
    hem: np.ndarray


@cache
def suit():
    """Return the topology of the clothes."""
    data = body_data()
    rows, quads = compact(data.quads["tights"])
    edges, _, faces_at = edges_of(quads)
    rest = data.shapes[0][rows]
    rim = used_rows(edges[faces_at[:, 1] < 0])
    ring = _steps_from(rim[rest[rim, 2] > 1.3], edges, len(rows))
    weights = dense_weights()[rows]
    arm, foot = share_of(weights, "arm", "hand", "thumb"), share_of(weights, "foot", "toes")
    is_arm = arm[quads].mean(axis=1) > 0.5
    middle = rest[quads, 2].mean(axis=1) / np.ptp(data.shapes[0][:, 2])
    upper = (ring[quads].min(axis=1) >= COLLAR_RING) & (is_arm | (middle > HEM))
    lower = (middle < WAIST) & ~is_arm & (foot[quads].mean(axis=1) < 0.45)
    some, _, faces_of_edge = edges_of(quads[upper])
    rim = used_rows(some[faces_of_edge[:, 1] < 0])
    hem = rim[(arm[rim] < 0.3) & (ring[rim] > COLLAR_RING + 6)]
    looser = np.array(weights)
    thigh = bones_with("thigh")
    looser[:, thigh] *= 0.6
    looser[:, data.bones.index("pelvis")] += 0.4 * weights[:, thigh].sum(axis=1)
    return Suit(rows, quads, ring, weights, looser, edges, quads[upper], quads[lower], hem)


def _steps_from(start, edges, count):
    steps = np.full(count, 10_000)
    steps[start] = 0
    while True:
        best = steps.copy()
        np.minimum.at(best, edges[:, 0], steps[edges[:, 1]] + 1)
        np.minimum.at(best, edges[:, 1], steps[edges[:, 0]] + 1)
        if np.array_equal(best, steps):
            return steps
        steps = best


def smoothed(points, edges, rounds):
    """Return points drawn towards their neighbours' mean."""
    count = len(points)
    degree = np.bincount(edges.ravel(), minlength=count)[:, None]
    ends = np.concatenate([edges, edges[:, ::-1]])
    for _ in range(rounds):
        mean = sum_at(ends[:, 0], points[ends[:, 1]], count) / np.maximum(degree, 1)
        points = 0.5 * (points + mean)
    return points


@cache
def garments(person):
    """Return the cloth of the whole suit in the rest position, shape (rows, 3). [m]"""
    data, wear = body_data(), suit()
    body = data.shapes[data.people.index(person)][wear.rows]
    normals = smooth_normals(body, wear.quads)
    arm = share_of(wear.weights, "arm", "hand", "thumb")
    leg = share_of(wear.weights, "thigh", "shank", "foot", "toes")
    # Close at the neck, easier further down.
    ease = np.clip((wear.ring - COLLAR_RING + 1) / 6, 0.1, 1)
    cloth = body + normals * (ease * (7e-3 + 3e-3 * (1 - arm)))[:, None]
    cloth = _over_hollows(cloth, arm, leg, wear)
    frame = skeleton(person)
    for side, sign in SIDES.items():
        here = np.where(sign * body[:, 1] > 0, 1.0, 0.0)
        for share, joints, radii in (
            (arm, ("upper arm", "forearm", "hand"), (0.062, 0.054, 0.040)),
            (leg, ("thigh", "shank", "foot"), (0.098, 0.078, 0.066)),
        ):
            cloth = _tube(cloth, here * share, [frame.at(f"{side} {name}") for name in joints], radii)
    cloth = smoothed(cloth, wear.edges, 5)
    cloth[wear.hem, 2] = cloth[wear.hem, 2].mean()
    # Whatever the smoothing drew inwards goes back outside the body.
    clear = np.einsum("ij,ij->i", cloth - body, normals)
    return cloth + normals * np.maximum(np.minimum(5.5e-3, 1e-3 + 9e-3 * ease) - clear, 0)[:, None]


def _over_hollows(cloth, arm, leg, wear):
    """Stretch the cloth of the trunk over hollows and let it hang from the chest."""
    share = np.clip(1 - 1.6 * arm, 0, 1) * np.clip(1.4 - 1.6 * leg, 0, 1)
    share = share * np.clip((wear.ring - COLLAR_RING - 2) / 4, 0, 1)
    trunk = np.flatnonzero((share > 0.05) & (wear.ring < 60))
    points = cloth[trunk]
    levels = np.linspace(points[:, 2].min(), points[:, 2].max(), 44)
    spread = levels[1] - levels[0]
    near = np.exp(-(((points[:, 2] - levels[:, None]) / spread) ** 2))
    front = (near * points[:, 0] > -1) * np.where(near > 0.2, points[:, 0], -9)
    back = np.where(near > 0.2, points[:, 0], 9)
    middle = (front.max(axis=1) + back.min(axis=1)) / 2
    centre = np.interp(points[:, 2], levels, middle)
    angle = np.arctan2(points[:, 1], points[:, 0] - centre)
    radius = np.hypot(points[:, 1], points[:, 0] - centre)
    bearing = np.linspace(-np.pi, np.pi, 49)[:-1]
    gap = np.abs((angle - bearing[:, None] + np.pi) % (2 * np.pi) - np.pi)
    close = np.exp(-((gap / 0.14) ** 2))
    # Sums that numpy makes itself: those of a matrix product differ with the threads of its library.
    shares = near[:, None] * close
    total = shares.sum(axis=2)
    table = (shares * radius).sum(axis=2) / np.maximum(total, 1e-9)
    table = np.where(total > 1e-6, table, np.nan)
    for row in range(len(table)):
        known = np.isfinite(table[row])
        if known.sum() < 3:
            table[row] = 0.0
            continue
        table[row] = np.interp(bearing, bearing[known], table[row][known], period=2 * np.pi)
    loose = table + 0.85 * (_hulls(table, bearing) - table)
    for row in range(len(levels) - 2, -1, -1):
        loose[row] = np.maximum(loose[row], loose[row + 1] - 0.30 * spread)
    more = loose - table
    row = np.clip((points[:, 2] - levels[0]) / spread, 0, len(levels) - 1.001)
    column = (angle + np.pi) / (2 * np.pi) * 48
    r0, c0 = row.astype(int), column.astype(int) % 48
    r1, c1 = np.minimum(r0 + 1, len(levels) - 1), (c0 + 1) % 48
    fr, fc = row - r0, column - np.floor(column)
    out = (1 - fr) * ((1 - fc) * more[r0, c0] + fc * more[r0, c1])
    out = out + fr * ((1 - fc) * more[r1, c0] + fc * more[r1, c1])
    result = np.array(cloth)
    ray = np.stack([points[:, 0] - centre, points[:, 1]], axis=1) / radius[:, None]
    result[trunk, :2] += ray * (share[trunk] * np.clip(out, 0, 0.12))[:, None]
    return result


def _hulls(table, bearing):
    """Return the radius of the convex hull of each row of radii about the axis."""
    lean = np.cos(bearing[:, None] - bearing)
    support = np.max(table[:, :, None] * lean, axis=1)
    with np.errstate(divide="ignore"):
        reach = np.where(lean > 0.05, 1 / lean, np.inf)
    return np.min(support[:, None, :] * reach, axis=2)


def _tube(cloth, share, joints, radii):
    """Let a sleeve or trouser leg out to at least a straight tube round its joints."""
    best = np.full(len(cloth), np.inf)
    axis_point, least = np.array(cloth), np.zeros(len(cloth))
    for number in (0, 1):
        start, end = joints[number], joints[number + 1]
        along = end - start
        low, high = (0.0 if number else -0.3), (1.0 if number == 0 else 1.4)
        place = np.clip((cloth - start) @ along / (along @ along), low, high)
        foot = start + place[:, None] * along
        distance = np.linalg.norm(cloth - foot, axis=1)
        closer = distance < best
        best = np.where(closer, distance, best)
        axis_point = np.where(closer[:, None], foot, axis_point)
        radius = radii[number] + np.clip(place, 0, 1.2) * (radii[number + 1] - radii[number])
        least = np.where(closer, radius, least)
    ray = (cloth - axis_point) / np.maximum(best, 1e-6)[:, None]
    more = np.maximum(least - best, 0)
    return cloth + ray * (np.clip(2 * share - 0.6, 0, 1) * more)[:, None]


@dataclass(frozen=True)
class _Cut:
    """The topology of one garment.

    Parameters
    ----------
    rows : int array
        Rows of the suit.
    finer : Subdivision
    band, loose : float array, shape (fine,)
        1 in the bands at the rims; 0 at the neck rising to 1 away from it.
    rim : int array, shape (r, 2)
        Directed edges of the open rims of the finer mesh.
    """

    rows: np.ndarray
    finer: Subdivision
    band: np.ndarray
    loose: np.ndarray
    rim: np.ndarray


@cache
def _cut(part):
    """Return the topology of the jumper ('upper') or the trousers ('lower')."""
    rows, quads = compact(getattr(suit(), part))
    edges, _, faces_at = edges_of(quads)
    steps = _steps_from(used_rows(edges[faces_at[:, 1] < 0]), edges, len(rows))
    finer = subdivision(quads, len(rows))
    edges, edge_of_side, faces_at = edges_of(finer.quads)
    sides = np.stack([finer.quads, np.roll(finer.quads, -1, axis=1)], axis=2)
    return _Cut(
        rows=rows,
        finer=finer,
        band=finer.apply((steps < 2).astype(float)),
        loose=finer.apply(np.clip((suit().ring[rows] - COLLAR_RING) / 5, 0.0, 1.0)),
        rim=sides[faces_at[edge_of_side, 1] < 0],
    )


@cache
def _folds(person, part):
    """Return how far folds lift the finer cloth of one garment, at unit scale. [m]"""
    cut, cloth = _cut(part), garments(person)
    height = fold_height(part, cut.finer.apply(cloth[cut.rows]), skeleton(person),
                         cloth[suit().hem, 2].mean())
    return height * (1 - 0.6 * cut.band)


def cloth_part(part, posed_suit, person, scale):
    """Return a person's 'upper' or 'lower' garment: vertices, triangles, normals. [m]

    `posed_suit` is the suit's cloth in the pose, shape (rows, 3) [m], `scale` that of `Body`.
    """
    cut = _cut(part)
    points = cut.finer.apply(posed_suit[cut.rows])
    lift = scale * _folds(person, part)
    # The jumper lies over the trousers and ends in thicker knitted bands.
    lift = lift + (4.5e-3 * cut.loose + 2.2e-3 * cut.band**2 if part == "upper" else 0.0)
    points = points + smooth_normals(points, cut.finer.quads) * lift[:, None]
    return _hemmed(points, cut.finer.quads, cut.rim)


def _hemmed(points, quads, rim):
    """Return an open mesh whose rims are turned in, so that the cloth has a thickness."""
    normals = smooth_normals(points, quads)
    rows = used_rows(rim)
    place = np.full(len(points), -1)
    place[rows] = np.arange(len(rows))
    # The direction into the cloth from its rim: across the rim's direction, in the cloth's plane.
    along = points[rim[:, 1]] - points[rim[:, 0]]
    inward = np.cross(normals[rim[:, 0]], unit(along))
    inner = sum_at(rim.T.ravel(), np.concatenate([inward, inward]), len(points))
    inner = unit(inner[rows])
    count, n = len(points), len(rows)
    lip = points[rows] - normals[rows] * 2.2e-3 - inner * 0.6e-3
    under = points[rows] - normals[rows] * 3.4e-3 + inner * 14e-3
    a, b = place[rim[:, 0]], place[rim[:, 1]]
    turned = np.concatenate([
        np.stack([rim[:, 1], rim[:, 0], count + a, count + b], axis=1),
        np.stack([count + b, count + a, count + n + a, count + n + b], axis=1),
    ])
    everything = np.concatenate([points, lip, under])
    faces = triangles(np.concatenate([quads, turned]))
    return everything, faces, smooth_normals(everything, faces)
