"""Hair of a stand-in figure: thousands of strands in locks, and a thin shell that blocks light under them.

Strands start in the skin, fewer and fewer towards the hairline, so that hair does not end in an
edge; the shell lies deep under them and ends before they do. Everything is laid on the resting head
and moves with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from previz.stage.figures.combed import bun, crop, short, tied
from previz.stage.figures.data import body_data
from previz.stage.figures.hanging import bob, curls, long
from previz.stage.figures.mesh import grid_quads, smooth_normals, smooth_step, sound, triangles, unit
from previz.stage.figures.scalp import direction, scalp
from previz.stage.figures.skin import bare, head_shape

DOWN = (0.0, 0.0, -1.0)
"""Where things fall, of a head held upright."""

_MADE = {"short": short, "crop": crop, "curls": curls, "bob": bob, "long": long, "tied": tied, "bun": bun}

STYLES = ("none", *_MADE)

_STEPS = 4
"""Where long hair falls is rounded to so many steps of 1, so that heads share what is made."""

UNDER_A_HAT = 3e-3
"""Thickness of hair that a hat presses down. Common practice, no source. [m]"""


@dataclass(frozen=True)
class Hair:
    """The hair on a resting head.

    Parameters
    ----------
    shell : (vertices, triangles, normals), or None
        What light does not pass, deep under the strands; None where the scalp shows between them.
    strands : (vertices, triangles, normals)
    places : float array, shape (vertices of the strands, 2)
        Texture corners: along the strand from root to tip, and which strand. [1]
    cover : (vertices, triangles, normals)
        A surface that most of the strands lie under, which is not seen: where hair ends for what is
        put on it.
    """

    shell: tuple | None
    strands: tuple
    places: np.ndarray
    cover: tuple


def falling(turn):
    """Return where things fall as a head sees it that is turned, rounded for `hair`."""
    down = unit(np.round(_STEPS * (turn.T @ np.array(DOWN))) / _STEPS)
    # A head nods and leans by 25 deg without its hair leaving it.
    return DOWN if down[2] < -0.9 else tuple(float(x) for x in down)


@lru_cache(24)
def hair(person, style, down=DOWN, under=None):
    """Return the hair on the resting head, None for 'none'.

    Parameters
    ----------
    person, style : str
        One of `PEOPLE` and of `STYLES`.
    down : (float, float, float)
        Where long hair falls, in the axes of the head; see `falling`.
    under : float or None
        Height over the eyes of the rim of a hat: what is above it is pressed to `UNDER_A_HAT`,
        which a hat that stands off the head by more covers. [m]
    """
    if style == "none":
        return None
    made = _MADE[style](person, down) if style in ("long", "bob", "tied") else _MADE[style](person)
    shell, strands, places = made
    if under is not None:
        strands = _pressed(person, strands, under)
        shell = None if shell is None else _pressed(person, shell, under)
    cover = _cover(scalp(person), strands[0])
    for array in (*(shell or ()), *strands, places, *cover):
        array.setflags(write=False)
    return Hair(shell, strands, places, cover)


_AROUND, _UPWARDS = 40, 24
"""Places of the cover: about 15 mm apart, so that each has dozens of strands."""


def _cover(skull, points):
    """Return a surface over the points of strands, as high as their mean and a standard deviation."""
    gap = points - skull.centre
    distance = np.linalg.norm(gap, axis=1)
    out = gap / distance[:, None]
    height = distance - skull.reach(out, ears=True)
    # The poles of its grid are the face and the back of the head, so that the crown has even places.
    around = np.arctan2(out[:, 2], out[:, 1]) / (2 * np.pi) % 1 * _AROUND
    up = (np.arcsin(np.clip(out[:, 0], -1, 1)) / np.pi + 0.5) * (_UPWARDS - 1)
    column, row = np.round(around).astype(int) % _AROUND, np.round(up).astype(int)
    cell, count = column * _UPWARDS + row, _AROUND * _UPWARDS
    number, total, square = (np.bincount(cell, weight, count) for weight in (None, height, height**2))
    mean = total / np.maximum(number, 1)
    top = mean + np.sqrt(np.maximum(square / np.maximum(number, 1) - mean**2, 0))
    out = direction(*np.meshgrid(2 * np.pi * np.arange(_AROUND) / _AROUND,
                                 np.linspace(-np.pi / 2, np.pi / 2, _UPWARDS), indexing="ij"))
    points = skull.at(out[..., [2, 0, 1]], top.reshape(_AROUND, _UPWARDS), ears=True).reshape(-1, 3)
    quads = grid_quads(_AROUND, _UPWARDS, closed=True)
    quads = quads[(number[quads] >= 8).all(axis=1)]
    normals = smooth_normals(points, quads)
    used, faces = sound(points, triangles(quads))
    return points[used], faces, normals[used]


def _pressed(person, part, under):
    """Return a part of the hair that lies close to the skull above the rim of a hat."""
    skull = scalp(person)
    points, faces, normals = part
    gap = points - skull.centre
    distance = np.linalg.norm(gap, axis=1)
    reach = skull.reach(gap / distance[:, None])
    height = distance - reach
    above = smooth_step(points[:, 2] - skull.eye_height, under - 0.012, under + 0.004)
    # What was highest stays highest, so that nothing falls into one plane.
    low = UNDER_A_HAT * (1 - np.exp(-np.maximum(height, 0) / UNDER_A_HAT)) + np.minimum(height, 0)
    wanted = reach + height + above * (np.minimum(low, height) - height)
    return skull.centre + gap * (wanted / distance)[:, None], faces, normals


@cache
def under_hair(person):
    """Return which quads of the finer head may have hair: those inside the hairline and just outside it."""
    inside = np.where(_ear(), -1.0, from_hairline(person))
    return (inside[bare().finer.quads] > -6e-3).all(axis=1)


@cache
def from_hairline(person):
    """Return the distance of each vertex of the finer head from the hairline, negative outside. [m]"""
    shape, skull = head_shape(person), scalp(person)
    return skull.from_line(unit(shape.points - skull.centre))


SCALP_REACH = (-12e-3, 36e-3)
"""Distances from the hairline at v = 0 and 1 of the scalp's texture corners. [m]"""


def scalp_places(from_line):
    """Return texture corners of a scalp by the distance from the hairline, shape (n, 2). [m]"""
    v = (from_line - SCALP_REACH[0]) / (SCALP_REACH[1] - SCALP_REACH[0])
    return np.stack([np.full_like(v, 0.5), np.clip(v, 0.01, 0.99)], axis=-1)


@cache
def _ear():
    return bare().finer.apply(body_data().ears[bare().head_rows]) >= 0.03
