"""Things laid on a garment: plackets, pockets, seams, buttons, belts.

Each point is pinned to a triangle of the cloth at rest, and follows it with its folds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from previz.stage.figures.mesh import grid_quads, smooth_normals, triangles, unit
from previz.stage.figures.wardrobe.cloth import Draped, Rest, rest_of, weave
from previz.stage.figures.wardrobe.cutting import Sheet


@dataclass(frozen=True)
class Pins:
    """Points on the cloth: three vertices each, and their shares."""

    rows: np.ndarray
    shares: np.ndarray

    def at(self, values):
        """Return values of the cloth, shape (fine, k), at the points."""
        return np.einsum("nk,nkd->nd", self.shares, values[self.rows])


ROUND, NECK = 0.16, 0.075
"""Radii that bearings round trunk and neck are laid out flat with. [m]"""

_RING = 0.018
"""Length that a ring of the suit counts at the neck. [m]"""


def chart(rest: Rest, which: str):
    """Return two coordinates over part of the trunk, the vertices that it has, and after what it repeats. [m]

    'front' and 'back' are y and z; 'round' is the arc from the front, to the left, and z; 'neck' the arc
    round the neck and rings of the suit from its opening, downwards.
    """
    net, points = weave(), rest.points
    body = (net.arm < 0.75) & (points[:, 2] > 0.3 * rest.height)
    if which == "round":
        flat = np.stack([rest.bearing * ROUND, points[:, 2]], axis=1)
        return flat, body & (net.leg < 0.7), 2 * np.pi * ROUND
    if which == "neck":
        close = (net.ring < 11) & body
        about = points[(net.ring > 2) & (net.ring < 4)].mean(axis=0)
        bearing = np.arctan2(points[:, 1], points[:, 0] - about[0])
        return np.stack([bearing * NECK, -_RING * net.ring], axis=1), close, 2 * np.pi * NECK
    sign = 1.0 if which == "front" else -1.0
    return points[:, 1:], body & (sign * rest.normals[:, 0] > -0.1), None


def neck_spots(bearing, ring):
    """Return places of the chart 'neck' for bearings [rad] and rings of the suit."""
    bearing, ring = np.broadcast_arrays(np.asarray(bearing, float), np.asarray(ring, float))
    turned = (bearing + np.pi) % (2 * np.pi) - np.pi
    return np.stack([turned * NECK, -_RING * ring], axis=-1)


_GROUP = 16
"""Quads of the cloth that one of the suit's has become, one after another."""


def pin(rest: Rest, which: str, wanted) -> Pins:
    """Return points of the cloth at coordinates of a chart, shape (n, 2). [m]"""
    wanted = np.asarray(wanted, float).reshape(-1, 2)
    corners, middle, period = _laid_out(rest, which)
    if period is not None:
        wanted = np.stack([(wanted[:, 0] + period / 2) % period - period / 2, wanted[:, 1]], axis=1)

    def gap(middles):
        aside = wanted[:, None, 0] - middles[..., 0]
        if period is not None:
            aside = aside - period * np.round(aside / period)
        return aside**2 + (wanted[:, None, 1] - middles[..., 1]) ** 2

    # The nearest of the suit's quads first, then the nearest of the finer ones in them.
    groups = middle.reshape(-1, _GROUP, 2)
    known = np.isfinite(groups[..., 0])
    several = np.flatnonzero(known.any(axis=1))
    low, high = wanted.min(axis=0) - 0.05, wanted.max(axis=0) + 0.05
    centre = np.where(known[..., None], groups, 0).sum(axis=1)[several] / known.sum(axis=1)[several, None]
    close = (centre[:, 1] > low[1]) & (centre[:, 1] < high[1])
    several, centre = several[close], centre[close]
    if not len(several):
        raise ValueError(f"nothing of the cloth lies at {wanted[0]}")
    few = np.argpartition(gap(centre[None]), min(4, len(several) - 1), axis=1)[:, :5]
    quads = (several[few][..., None] * _GROUP + np.arange(_GROUP)).reshape(len(wanted), -1)
    far = gap(np.where(np.isfinite(middle[quads]), middle[quads], 99.0))
    nearest = np.argpartition(far, 5, axis=1)[:, :5]
    quads = np.take_along_axis(quads, nearest, axis=1)
    return _held(rest, quads, corners, wanted, period)


@lru_cache(24)
def _laid_out_of(person, which):
    rest = rest_of(person)
    flat, chosen, period = chart(rest, which)
    quads = weave().quads
    corners = flat[quads]
    if period is not None:
        # Corners lie on the same side as the first.
        corners[..., 0] -= period * np.round((corners[..., 0] - corners[:, :1, 0]) / period)
    middle = corners.mean(axis=1)
    middle[~chosen[quads].all(axis=1)] = np.nan
    return corners, middle, period


def _laid_out(rest, which):
    """Return the quads of the cloth in a chart: corners, middles (nan outside the chart), and its period."""
    return _laid_out_of(rest.person, which)


def _held(rest, quads, corners, wanted, period):
    """Return the triangle that holds each point, or the one that is nearest, and the shares in it."""
    n, few = quads.shape
    both = np.array([[0, 1, 2], [0, 2, 3]])
    places = corners[quads]
    if period is not None:
        places[..., 0] -= period * np.round((places[..., :1, 0] - wanted[:, None, None, 0]) / period)
    a, b, c = (places[:, :, both[:, k]].reshape(n, 2 * few, 2) for k in range(3))
    spot = wanted[:, None, :]
    area = _cross(b - a, c - a)
    area = np.where(np.abs(area) > 1e-12, area, 1e-12)
    shares = (
        np.stack([_cross(b - spot, c - spot), _cross(c - spot, a - spot), _cross(a - spot, b - spot)], axis=2)
        / area[:, :, None]
    )
    best = shares.min(axis=2).argmax(axis=1)
    line = np.arange(n)
    found = np.clip(shares[line, best], -0.5, 2.0)
    rows = weave().quads[quads[line, best // 2]][line[:, None], both[best % 2]]
    return Pins(rows, found / np.maximum(found.sum(axis=1, keepdims=True), 0.2))


def together(*several: Pins) -> Pins:
    """Return the pins of several, one after another."""
    return Pins(np.concatenate([pins.rows for pins in several]), np.concatenate([p.shares for p in several]))


def _cross(one, two):
    return one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0]


@dataclass(frozen=True)
class Laid:
    """A patch with edges of some thickness, laid on the cloth.

    Parameters
    ----------
    pins : Pins
        Of a grid of points, line by line.
    lines, across : int
        Size of the grid.
    lift : float array, shape (lines * across,)
        Over the garment that it lies on. [m]
    uv : float array, shape (lines * across, 2)
        [m]
    stuff : str
    closed : bool
        Whether the last line joins the first.
    thick : float
        How far its rims go down. [m]
    """

    pins: Pins
    lines: int
    across: int
    lift: np.ndarray
    uv: np.ndarray
    stuff: str = "cloth"
    closed: bool = False
    thick: float = 2.5e-3


def patch(rest, which, corners, lift, size=(6, 6), *, stuff="cloth", thick=2.5e-3, bow=0.0):
    """Return a four-sided patch: corners clockwise from the upper left as seen by who looks at it. [m]

    `lift` is its height [m]; `bow` how far its lower edge is rounded down in the middle. [m]
    """
    a, b, c, d = (np.asarray(corner, float) for corner in corners)
    s, t = np.meshgrid(np.linspace(0, 1, size[0]), np.linspace(0, 1, size[1]), indexing="ij")
    s, t = s[..., None], t[..., None]
    flat = (1 - s) * ((1 - t) * a + t * b) + s * ((1 - t) * d + t * c)
    flat = flat + s * np.array([0.0, -bow]) * (4 * t * (1 - t))
    flat = flat.reshape(-1, 2)
    pins = pin(rest, which, flat)
    return Laid(pins, *size, np.full(len(flat), lift), flat, stuff, thick=thick)


def strip(rest, which, line, width, lift, *, stuff="cloth", thick=2e-3, across=4, closed=False):
    """Return a band along a line of chart points, shape (n, 2). [m]"""
    line = np.asarray(line, float)
    along = np.gradient(line, axis=0)
    aside = unit(np.stack([-along[:, 1], along[:, 0]], axis=1))
    width = np.broadcast_to(np.asarray(width, float), len(line))
    steps = np.linspace(-0.5, 0.5, across)
    flat = line[:, None] + aside[:, None] * (steps[:, None] * width[:, None, None])
    pins = pin(rest, which, flat.reshape(-1, 2))
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    uv = np.stack(
        [
            np.broadcast_to(steps * width.mean(), (len(line), across)),
            np.broadcast_to(run[:, None], (len(line), across)),
        ],
        axis=2,
    ).reshape(-1, 2)
    lifted = np.broadcast_to(np.asarray(lift, float), len(line))
    return Laid(pins, len(line), across, np.repeat(lifted, across), uv, stuff, closed, thick)


def laid_sheet(laid: Laid, drawn: Draped, lift, shift, inner=()) -> Sheet:
    """Return a patch in the pose, over a garment whose height and sag are given over the cloth. [m]"""
    points = laid.pins.at(drawn.points) + laid.pins.at(shift)
    normals = unit(laid.pins.at(drawn.normals))
    ground = laid.pins.at(lift[:, None])[:, 0]
    points = points + normals * ground[:, None]
    for rings in inner:
        points = rings.outside(points, laid.pins.at(drawn.rest.trunk_height[:, None])[:, 0], 2.5e-3)
    points = points + normals * laid.lift[:, None]
    return grid_sheet(
        points.reshape(laid.lines, laid.across, 3),
        normals.reshape(laid.lines, laid.across, 3),
        laid.uv.reshape(laid.lines, laid.across, 2),
        laid.thick,
        laid.stuff,
        laid.closed,
    )


def grid_sheet(points, outward, uv, thick, stuff, closed=False) -> Sheet:
    """Return a grid of points as a sheet whose rims turn down by its thickness. [m]"""
    lines, across = points.shape[:2]
    size = np.linalg.norm(points[0, -1] - points[0, 0]) + 1e-9
    inset = min(0.5 * thick / size, 0.2)

    def skirted(grid, down):
        """Add two rows on either side: the rounded edge, and under it."""
        first, last = grid[:, :1], grid[:, -1:]
        rows = [
            first + down[:, :1] * thick,
            first + 0.3 * thick * down[:, :1],
            grid,
            last + 0.3 * thick * down[:, -1:],
            last + down[:, -1:] * thick,
        ]
        rows[1] = rows[1] - inset * (grid[:, 1:2] - first)
        rows[3] = rows[3] - inset * (grid[:, -2:-1] - last)
        return np.concatenate(rows, axis=1)

    flat = np.zeros_like(uv[:, :, :1])
    whole = skirted(points, -outward)
    texture = skirted(np.concatenate([uv, flat], axis=2), np.zeros((*uv.shape[:2], 3)))
    if not closed:
        down = skirted(-outward, np.zeros_like(outward))
        turned = np.swapaxes(whole, 0, 1)
        whole = np.swapaxes(skirted(turned, np.swapaxes(down, 0, 1)), 0, 1)
        texture = np.swapaxes(
            skirted(np.swapaxes(texture, 0, 1), np.zeros_like(np.swapaxes(down, 0, 1))), 0, 1
        )
    shape = whole.shape[:2]
    faces = triangles(grid_quads(*shape, closed=closed))
    whole, texture = whole.reshape(-1, 3), texture.reshape(-1, 3)[:, :2]
    normals = smooth_normals(whole, faces)
    lost = np.linalg.norm(normals, axis=1) < 0.5
    normals[lost] = unit(outward.reshape(-1, 3).mean(axis=0) + 1e-9)
    middle = (shape[0] // 2) * shape[1] + shape[1] // 2
    if normals[middle] @ outward[lines // 2, across // 2] < 0:
        faces, normals = faces[:, ::-1], -normals
    return Sheet(whole, faces, normals, texture, stuff)


def discs(centres, normals, ups, radius, height, stuff) -> Sheet:
    """Return buttons: round, with a raised rim and two holes' dimple, shape (n, 3) centres. [m]"""
    angle = np.linspace(0, 2 * np.pi, 17)[:-1]
    # Radius over the button's, height over its own: under it, edge, rim, hollow, middle.
    profile = ((0.9, -0.5), (1.0, 0.4), (0.93, 1.0), (0.75, 0.95), (0.62, 0.6), (0.3, 0.6), (0.12, 0.35))
    side = np.cross(ups, normals)
    ray = np.cos(angle)[:, None] * side[:, None] + np.sin(angle)[:, None] * ups[:, None]
    rings = np.stack(
        [centres[:, None] + radius * r * ray + height * h * normals[:, None] for r, h in profile], axis=1
    )
    n, k, m = rings.shape[:3]
    tip = centres[:, None] + 0.3 * height * normals[:, None]
    points = np.concatenate([rings.reshape(n, -1, 3), tip], axis=1)
    index = np.arange(k * m).reshape(k, m)
    here, after = index[:-1], index[1:]
    quads = np.stack([here, np.roll(here, -1, axis=1), np.roll(after, -1, axis=1), after], axis=2).reshape(
        -1, 4
    )
    last = index[-1]
    faces = np.concatenate([triangles(quads), np.stack([last, np.roll(last, -1), np.full(m, k * m)], axis=1)])
    faces = (faces[None] + (np.arange(n) * (k * m + 1))[:, None, None]).reshape(-1, 3)
    points = points.reshape(-1, 3)
    shading = smooth_normals(points, faces)
    if len(points) and shading[(k - 2) * m] @ normals[0] < 0:
        faces, shading = faces[:, ::-1], -shading
    return Sheet(points, faces, shading, points[:, :2] * 0 + 0.0, stuff)
