"""Points of a stand-in figure that lamps are aimed at, lenses focused on and meters held to."""

from __future__ import annotations

from functools import cache

import numpy as np

from previz.stage.figures.body import Body
from previz.stage.figures.data import body_data
from previz.stage.figures.dress import garments, suit
from previz.stage.figures.mesh import joined, smooth_normals, unit
from previz.stage.figures.pose import SIDES, dense_weights, skeleton
from previz.stage.figures.skin import bare, head_shape
from previz.stage.shapes import crossings

OFF = 2e-3
"""Distance of an anchor from the surface under it. [m]"""

_REACH = 0.045
"""Hair or cloth up to this far over the skin carries an anchor outwards with it. [m]"""

_FAR = {"hips": 0.30, "left knee": 0.16, "right knee": 0.16, "left foot": 0.08, "right foot": 0.08}
"""The same where skirts and coats hang off the body, and trousers over a shoe. [m]"""

UP = np.array([0.0, 0.0, 1.0])

_INSIDE = 12e-3
"""How far inside the marked point the search for what covers it starts. [m]"""

_HALF = (_INSIDE + max(_FAR.values())) / 2
"""Half of what is searched along a normal. [m]"""

_ROUNDING = 1e-5
"""More than single precision may be wrong by in the square of a distance. [m²]"""

_COLUMNS = 2048
"""Triangles that are looked at at once: few enough that BLAS leaves their product to one thread."""

_SMOOTHING = 9e-3
"""Radius over which the skin's direction is averaged. [m]"""

ANCHORS = (
    "eyes", "left eye", "right eye", "face", "forehead", "nose", "mouth", "chin", "under chin",
    "left cheek", "right cheek", "left ear", "right ear", "crown", "neck", "chest", "left hand",
    "right hand", "hands", "hips", "left knee", "right knee", "left foot", "right foot", "back",
)
"""Names of the anchors; left is the figure's own left."""


@cache
def _suit_marks():
    """Return vertices of the suit that stand for covered parts of the body."""
    data, wear = body_data(), suit()
    rest, frame = data.shapes[0][wear.rows], skeleton(data.people[0])
    normals = smooth_normals(rest, wear.quads)

    def nearest(point, facing):
        fit = np.linalg.norm(rest - point, axis=1) - 0.05 * (normals @ np.array(facing, float))
        return int(np.argmin(fit))

    arm, hip = frame.at("left upper arm"), frame.at("left thigh")
    marks = {
        "chest": nearest([0.14, 0.0, arm[2] - 0.12], (1, 0, 0)),
        "back": nearest([-0.09, 0.0, arm[2] - 0.10], (-1, 0, 0)),
        "hips": nearest([0.13, 0.0, hip[2] + 0.02], (1, 0, 0)),
    }
    for side in SIDES:
        marks[f"{side} knee"] = nearest(frame.at(f"{side} shank") + [0.07, 0.0, 0.01], (1, 0, 0))
    return marks


@cache
def _hand_marks():
    """Return the skin vertices over the middle of the back of each hand."""
    data, skin = body_data(), bare()
    frame = skeleton(data.people[0])
    rest = data.shapes[0][skin.hand_rows]
    normals = smooth_normals(rest, skin.hand_quads)
    marks = {}
    for side, sign in SIDES.items():
        middle = 0.45 * frame.at(f"{side} hand") + 0.55 * frame.at(f"{side} middle 1")
        # In the zero stance the back of the left hand faces +y.
        outward = sign * frame.zero[frame.index[f"{side} hand"]].T @ np.array([0.0, 1.0, 0.0])
        fit = np.linalg.norm(rest - middle - 0.02 * outward, axis=1) - 0.03 * (normals @ outward)
        marks[f"{side} hand"] = int(np.argmin(fit))
    return marks


def anchors(body: Body, surfaces):
    """Return the anchors of a figure: name -> (position [m], unit normal).

    `surfaces` are its parts, name -> vertices, triangles and normals, in the same axes as the body.
    """
    raw = _face(body) | _covered(body) | _hands(body)
    for side in SIDES:
        toes, turn = body.posed.at(f"{side} toes"), body.posed.turn_of(f"{side} toes")
        raw[f"{side} foot"] = (body.scale * (toes - 0.01 * turn[:, 2]), turn[:, 2])
    cover = _Cover(surfaces)
    point, normal = raw["hips"]
    if not cover.lies_over(point, unit(normal), _FAR["hips"]):
        # Under the lap of a skirt the way ahead runs along the thighs; the cloth is over them.
        raw["hips"] = (point, unit(normal) + UP)
    names = [name for name in ANCHORS if name != "hands"]
    points, normals = zip(*((raw[name][0], unit(raw[name][1])) for name in names), strict=True)
    reaches = [_FAR.get(name, _REACH) for name in names]
    found = dict(zip(names, zip(cover.outside(points, normals, reaches), normals, strict=True), strict=True))
    both = [found["left hand"], found["right hand"]]
    normal = unit(both[0][1] + both[1][1] + [0.0, 0.0, 1e-6])
    middle = (both[0][0] + both[1][0]) / 2
    found["hands"] = (cover.outside([middle - OFF * normal], [normal], [_REACH])[0], normal)
    return {name: found[name] for name in ANCHORS}


def head(body: Body):
    """Return the anchors of the head as they lie on the skin, hair or not, as `anchors` has them."""
    return {name: (point + OFF * unit(normal), unit(normal))
            for name, (point, normal) in _face(body).items()}


def _face(body):
    """Return the anchors of the head before they are lifted off what covers them."""
    data, shape, scale = body_data(), head_shape(body.person), body.scale
    place = {row: number for number, row in enumerate(bare().head_rows.tolist())}
    head = body.posed.turn_of("head")
    raw = {}
    for name, row in data.landmarks.items():
        # Fine vertices begin with the cage's own, in order.
        here = shape.points[place[row]]
        close = shape.normals[_square(shape.points - here) < _SMOOTHING**2]
        normal = unit(close[close @ shape.normals[place[row]] > 0.2].mean(axis=0))
        bone = "neck 1" if name == "neck" else "head"
        raw[name] = (scale * body.posed.carry(bone, here), body.posed.turn_of(bone) @ normal)
    pupils = np.array([eye.pupil for eye in body.eyes])
    raw["eyes"] = (pupils.mean(axis=0), head[:, 0])
    for side, eye in zip(SIDES, body.eyes, strict=True):
        raw[f"{side} eye"] = (eye.pupil, head[:, 0])
    raw["face"] = (raw["nose"][0], head[:, 0])
    return raw


def _covered(body):
    """Return the anchors that lie under clothes, on the suit's own surface."""
    wear = suit()
    cloth = body.scale * body.posed.skin(garments(body.person), wear.weights)
    return _smoothed(_suit_marks(), cloth, wear.quads, 0.05)


def _hands(body):
    """Return the anchors on the backs of the hands."""
    data, skin = body_data(), bare()
    rest = data.shapes[data.people.index(body.person)][skin.hand_rows]
    points = body.scale * body.posed.skin(rest, dense_weights()[skin.hand_rows])
    return _smoothed(_hand_marks(), points, skin.hand_quads, 0.02)


def _smoothed(marks, points, quads, radius):
    """Return marked vertices, each with the mean normal of those about it that face as it does."""
    normals = smooth_normals(points, quads)
    raw = {}
    for name, row in marks.items():
        close = np.linalg.norm(points - points[row], axis=1) < radius
        close &= normals @ normals[row] > 0.3
        raw[name] = (points[row], normals[close].mean(axis=0))
    return raw


class _Cover:
    """The triangles of a figure, by which points are set out of them."""

    def __init__(self, surfaces):
        self.points, self.faces, _ = joined(list(surfaces.values()))
        # No part of a triangle is farther from its first corner than the longer of two edges.
        rough = self.points.astype(np.float32)
        first, second, third = rough.take(self.faces, axis=0).transpose(1, 0, 2)
        size = np.sqrt(np.maximum(_square(second - first), _square(third - first)))
        self.table = np.stack([*(-2 * first.T), _square(first) - size * (size + 2 * _HALF)])

    def _near(self, middles):
        """Return the rows of the triangles that may come within `_HALF` of each of some points."""
        middles = np.asarray(middles)
        # |a - b|² < (half + size)² by one product of tables, which is quicker than differences.
        rough = np.concatenate([middles, np.ones((len(middles), 1))], axis=1).astype(np.float32)
        limits = (_HALF**2 - _square(middles) + _ROUNDING)[:, None].astype(np.float32)
        close = np.empty((len(middles), self.table.shape[1]), bool)
        for start in range(0, close.shape[1], _COLUMNS):
            block = slice(start, start + _COLUMNS)
            np.less(rough @ self.table[:, block], limits, out=close[:, block])
        return [np.flatnonzero(row) for row in close]

    def lies_over(self, point, normal, reach):
        """Return whether anything covers a point along a normal within reach. [m]"""
        start = point - _INSIDE * normal
        rows, = self._near([start + _HALF * normal])
        return bool(_farthest(self.points[self.faces[rows]], start, normal, reach))

    def outside(self, points, normals, reaches):
        """Return points just outside everything that covers `points` along `normals` within reach. [m]"""
        starts = [point - _INSIDE * normal for point, normal in zip(points, normals, strict=True)]
        near = self._near([start + _HALF * normal for start, normal in zip(starts, normals, strict=True)])
        found = []
        for start, direction, rows, reach in zip(starts, normals, near, reaches, strict=True):
            far = _farthest(self.points[self.faces[rows]], start, direction, reach)
            found.append(start + ((far or _INSIDE) + OFF) * direction)
        return found


def _square(vectors):
    return np.einsum("ij,ij->i", vectors, vectors)


def _farthest(corners, start, direction, reach):
    """Return the distance to the last triangle a ray meets within reach, 0 for none. [m]"""
    # A little past the edges, since marks on the middle line lie exactly on edges.
    distance = crossings(corners, start, direction, edge=1e-6, least=1e-16)
    met = distance[(distance > 0) & (distance < reach + _INSIDE)]
    return float(met.max()) if met.size else 0.0
