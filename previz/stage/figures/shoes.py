"""Shoes and boots of a stand-in figure: lofted over the measured foot, laced, with sole, welt and heel."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import grid_quads, joined, smooth_normals, sound, triangles
from previz.stage.figures.pose import dense_weights, share_of, skeleton

SOLE = 0.025
"""What a shoe adds to stature. Common practice, no source: 20 to 30 mm. [m]"""

_SECTIONS = 30
_ARC = 19


@cache
def _foot_profile(person, side):
    """Return sections along the bare foot: x, inner y, outer y, top z, about the ankle. [m]"""
    data, frame = body_data(), skeleton(person)
    weights = dense_weights()[: len(data.lips)]
    rows = np.flatnonzero(share_of(weights, f"{side} foot", f"{side} toes") > 0.6)
    points = data.shapes[data.people.index(person)][rows] - frame.at(f"{side} foot")
    points = points @ frame.zero[frame.index[f"{side} foot"]].T
    x = np.linspace(points[:, 0].min(), points[:, 0].max(), _SECTIONS)
    width = 1.3 * (x[1] - x[0])
    low, high, top = np.empty_like(x), np.empty_like(x), np.empty_like(x)
    for number, at in enumerate(x):
        near = np.abs(points[:, 0] - at) < width
        low[number], high[number] = points[near, 1].min(), points[near, 1].max()
        top[number] = points[near, 2].max()
    ends = np.ones(3) / 3
    smooth = [np.convolve(np.pad(line, 1, mode="edge"), ends, "valid") for line in (low, high, top)]
    return x, *smooth, -frame.at(f"{side} foot")[2]


def shoe(person, side, sole, posed):
    """Return one boot of a person in the pose, its sole so thick: vertices, triangles, normals. [m]

    All is at unit scale.
    """
    form = _form(person, side, True)
    strips = [form.upper(), *_sole(form, sole)]
    return joined([_placed(strip, person, side, posed) for strip in strips])


def footwear(person, side, sole, posed, high):
    """Return a boot, or a low shoe, in the pose by its stuffs, each as `shoe` returns; 'cloth' is leather.

    All is at unit scale. [m]
    """
    form = _form(person, side, high)
    made = {"cloth": [form.upper(), *form.seams()], "soles": _sole(form, sole), "laces": form.laces()}
    return {stuff: joined([_placed(strip, person, side, posed) for strip in strips])
            for stuff, strips in made.items()}


@dataclass(frozen=True)
class _Form:
    """Sections along a shoe, about the ankle: middle, half width, lower and upper edge. [m]"""

    at: np.ndarray
    middle: np.ndarray
    half: np.ndarray
    floor: np.ndarray
    spring: np.ndarray
    roof: np.ndarray
    share: np.ndarray
    shaft: np.ndarray

    def upper(self):
        """Return the leather as a grid of points (sections, arc, 3)."""
        return _upper(self.at, self.middle, self.half, self.floor + self.spring, self.roof)

    def _over(self, share, arc, lift):
        """Return points over the leather at shares of its length and of the arc across. [m]"""
        grid = self.upper()
        row, column = np.asarray(share) * (_SECTIONS - 1), np.asarray(arc) * (_ARC - 1)
        r, c = (np.clip(value.astype(int), 0, most - 2) for value, most in ((row, _SECTIONS), (column, _ARC)))
        fr, fc = (row - r)[..., None], (column - c)[..., None]
        point = (1 - fr) * ((1 - fc) * grid[r, c] + fc * grid[r, c + 1])
        point = point + fr * ((1 - fc) * grid[r + 1, c] + fc * grid[r + 1, c + 1])
        core = np.stack([point[..., 0], np.interp(point[..., 0], self.at, self.middle),
                         np.interp(point[..., 0], self.at, self.floor) + 0.02], axis=-1)
        away = point - core
        return point + away / np.maximum(np.linalg.norm(away, axis=-1, keepdims=True), 1e-6) * lift[..., None]

    def _band(self, share, arc, width, height):
        """Return a raised band along a line of (share, arc), `width` a share of length. [m]"""
        across = np.linspace(-0.5, 0.5, 5)
        lift = height * np.array([-0.6, 0.8, 1.0, 0.8, -0.6])
        return self._over(share[:, None] + across * width, arc[:, None] + 0 * across,
                          np.broadcast_to(lift, (len(share), 5)))[:, ::-1]

    def seams(self):
        """Return toe cap, facings and the top's rim as raised bands."""
        arc = np.linspace(0.02, 0.98, 30)
        bow = 0.775 - 0.012 * np.sin(np.pi * arc)
        return [self._band(bow, arc, 0.018, 1.5e-3),
                self._band(0.215 + 0.02 * np.sin(np.pi * arc), arc, 0.016, 1.2e-3)]

    def laces(self):
        """Return laces that cross the instep."""
        found = []
        start, end = (0.47, 0.665) if self.shaft.max() > 0.1 else (0.52, 0.665)
        for share in np.linspace(start, end, 5):
            arc = np.linspace(0.40, 0.60, 9)
            line = self._band(share + 0.012 * (arc - 0.5) * 5, arc, 0.017, 2.4e-3)
            found.append(line)
        return found


@cache
def _form(person, side, high):
    """Return the form of a boot, or of a low shoe."""
    x, low, top_high, top, ground = _foot_profile(person, side)
    length = x[-1] - x[0]
    share = np.linspace(0, 1, _SECTIONS)
    at = x[0] - 0.008 + share * (length + 0.021)
    # Both ends close in a rounded outline.
    ends = np.sqrt(np.clip(1 - ((share - 0.5) / 0.5) ** 8, 0, 1))
    toe = 1 - 0.30 * np.clip((share - 0.82) / 0.18, 0, 1) ** 2
    middle = (low + top_high) / 2
    half = (top_high - low) / 2 + 0.006
    half[share > 0.62] = np.maximum(half[share > 0.62], half[share > 0.62].mean())
    half = half * ends * toe
    spring = 0.006 * np.clip((share - 0.78) / 0.22, 0, 1) ** 2
    ankle = ground + (0.128 if high else 0.080) * (length / 0.26)
    shaft = 1 / (1 + np.exp((share - (0.46 if high else 0.50)) / 0.035))
    roof = np.maximum(top + 0.006, ground + 0.045 - 0.012 * share)
    roof = shaft * ankle + (1 - shaft) * np.minimum(roof, ankle)
    nose = np.sqrt(np.clip(1 - np.clip((share - 0.80) / 0.2, 0, 1) ** 2.4, 0, 1))
    floor = ground + np.zeros(_SECTIONS)
    heel = 0.5 + 0.5 * np.sqrt(np.clip(share / 0.10, 0, 1))
    roof = floor + (roof - floor) * (0.18 + 0.82 * nose) * heel
    return _Form(at, middle, half, floor, spring, roof, share, roof - floor)


def _upper(at, middle, half, floor, roof):
    """Return the leather as a grid of points (sections, arc, 3)."""
    angle = np.linspace(0, np.pi, _ARC)
    across = np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** 0.65
    rise = np.sin(angle) ** 0.75
    return np.stack([
        np.repeat(at[:, None], _ARC, axis=1),
        middle[:, None] + half[:, None] * across,
        floor[:, None] + (roof - floor)[:, None] * rise,
    ], axis=2)


def _sole(form, sole):
    """Return the welt, the sole's side and its underside as grids of points."""
    at, middle, half, floor = form.at, form.middle, form.half, form.floor
    share, spring = form.share, form.spring
    wide = half + 0.0035 * (half > 1e-6)
    arch = 0.010 * np.clip(1 - ((share - 0.40) / 0.10) ** 4, 0, 1)
    under = floor - sole + arch + spring

    def rim(width, height):
        left = np.stack([at, middle + width, height], axis=1)
        right = np.stack([at, middle - width, height], axis=1)
        return np.concatenate([left, right[::-1]])

    top = floor + spring
    welt = np.stack([rim(half * 0.9, top + 0.001), rim(wide, top)], axis=1)
    side = np.stack([rim(wide, top), rim(wide, under)], axis=1)
    across = np.linspace(1, -1, 5)
    bottom = np.stack([
        np.repeat(at[:, None], 5, axis=1),
        middle[:, None] + wide[:, None] * across,
        np.repeat(under[:, None], 5, axis=1),
    ], axis=2)[:, ::-1]
    return [welt, side, bottom]


def _placed(grid, person, side, posed):
    """Turn a grid into a mesh and carry it with the foot and, past the ball, with the toes."""
    frame = skeleton(person)
    back = frame.zero[frame.index[f"{side} foot"]]
    origin, ball = frame.at(f"{side} foot"), frame.at(f"{side} toes")
    bend_at = (back @ (ball - origin))[0]
    # Seen from outside these lines run in the opposite order.
    quads = grid_quads(*grid.shape[:2])[:, [0, 3, 2, 1]]
    local = grid.reshape(-1, 3)
    toes = np.clip((local[:, 0] - bend_at + 0.012) / 0.03, 0, 1)
    weights = np.zeros((len(local), len(frame.joints)))
    weights[:, frame.index[f"{side} foot"]] = 1 - toes
    weights[:, frame.index[f"{side} toes"]] = toes
    there = posed.skin(local @ back + origin, weights)
    used, tris = sound(there, triangles(quads))
    return there[used], tris, smooth_normals(there[used], tris)
