"""What a face shows, in face units; how brows go along with their skin.

The shares were set by eye. Common practice, no source.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.skin import bare, head_shape

EXPRESSIONS = {
    "neutral": {},
    "slight smile": {"smile": 0.28, "squint": 0.10, "dimple": 0.15},
    "smile": {"smile": 0.60, "squint": 0.25, "dimple": 0.25},
    "laughing": {"smile": 0.75, "squint": 0.50, "cheek squint": 0.25, "upper lip up": 0.55, "jaw open": 0.22,
                 "brow outer up": 0.12},
    "frown": {"brow down": 0.85, "squint": 0.20, "mouth frown": 0.40, "mouth press": 0.30,
              "nose sneer": 0.10},
    "surprise": {"brow inner up": 0.70, "brow outer up": 0.80, "wide": 0.75, "jaw open": 0.28},
    "tired": {"blink": 0.16, "brow inner up": 0.22, "eye bag": 0.45, "lid fold": 0.35, "mouth frown": 0.15},
    "speaking": {"jaw open": 0.13, "lower lip down": 0.22, "upper lip up": 0.24, "mouth stretch": 0.12,
                 "brow inner up": 0.18},
}
"""Expression -> face unit -> share, 0 to 1."""

TEETH_FROM = {"jaw open": 0.02, "smile": 0.3, "upper lip up": 0.05, "lower lip down": 0.05}
"""Share of a unit from which teeth can be seen between the lips. [1]"""

_NEAR = 6


def shares(spec):
    """Return the face units of a figure's expression, with what its numbers add, each at most 1."""
    found = dict(EXPRESSIONS[spec.expression])
    for name, more in (("smile", spec.smile), ("blink", spec.blink), ("jaw open", spec.jaw_open)):
        found[name] = min(found.get(name, 0.0) + more, 1.0)
    return found


def shows_teeth(units):
    """Return whether the lips part enough for the teeth to be seen."""
    return any(units.get(name, 0.0) > least for name, least in TEETH_FROM.items())


def with_face(person, points, face):
    """Return points that lie on the resting face, moved as the skin under them is. [m]

    Parameters
    ----------
    person : str
    points : float array, shape (n, 3)
        Close to the front of the face.
    face : float array, shape (vertices, 3)
        Rest position of every vertex, after expression and age.
    """
    rest = body_data().shapes[body_data().people.index(person)]
    rows, weight = _under(person, np.ascontiguousarray(points, float).tobytes())
    moved = (face - rest)[rows]
    return points + np.einsum("nk,nkc->nc", weight, moved) if np.any(moved) else points


@lru_cache(12)
def _under(person, points):
    """Return the skin vertices nearest to points of a resting face, shape (n, 6), and their shares."""
    points = np.frombuffer(points).reshape(-1, 3)
    rows = bare().head_rows[_outward(person)]
    rest = body_data().shapes[body_data().people.index(person)][rows]
    found, weights = np.empty((len(points), _NEAR), int), np.empty((len(points), _NEAR))
    # Each half of the face by itself, in small numbers: a quarter of the time.
    for half in (points[:, 1] > 0, points[:, 1] <= 0):
        own = points[half].astype(np.float32)
        if not len(own):
            continue
        low, high = own.min(axis=0) - 0.012, own.max(axis=0) + 0.012
        near = np.flatnonzero(((rest > low) & (rest < high)).all(axis=1))
        middle = own.mean(axis=0)
        there, own = (rest[near] - middle).astype(np.float32), own - middle
        gap = np.sum(there**2, axis=1) - 2 * own @ there.T + np.sum(own**2, axis=1)[:, None]
        closest = np.argpartition(gap, _NEAR, axis=1)[:, :_NEAR]
        weight = 1 / (np.maximum(np.take_along_axis(gap, closest, axis=1), 0) + 1e-6)
        found[half], weights[half] = rows[near[closest]], weight / weight.sum(axis=1, keepdims=True)
    return found, weights


@cache
def _outward(person):
    """Return which coarse vertices of the head face forwards, not into socket or mouth."""
    shape = head_shape(person)
    return shape.normals[: len(bare().head_rows), 0] > 0.05
