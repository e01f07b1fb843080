"""The skin of a stand-in figure that its clothes leave bare: head and neck, and the hands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.dress import COLLAR_RING, suit
from previz.stage.figures.mesh import Subdivision, compact, smooth_normals, smooth_step, subdivision, unit
from previz.stage.figures.pose import FINGERS, SIDES, dense_weights, share_of


@dataclass(frozen=True)
class Bare:
    """The topology of the bare skin, the same for everyone.

    Parameters
    ----------
    head_rows : int array
        Skin vertices of head and neck.
    finer : Subdivision
        One step over them; faces are small where it matters.
    hand_rows : int array
        Skin vertices of the hands.
    hand_quads : int array, shape (n, 4)
    lip : bool array, shape (fine quads,)
        Quads of the red of the lips.
    head, hands : Cut
        Fine quads of the head, and quads of the hands, cut open where their texture is.
    """

    head_rows: np.ndarray
    finer: Subdivision
    hand_rows: np.ndarray
    hand_quads: np.ndarray
    lip: np.ndarray
    head: Cut
    hands: Cut


@dataclass(frozen=True)
class Cut:
    """Quads whose vertices have one texture corner each.

    Parameters
    ----------
    rows : int array, shape (vertices,)
        The vertex of the closed surface that each is.
    quads : int array, shape (n, 4)
    uv : float array, shape (vertices, 2)
        v upwards. [1]
    """

    rows: np.ndarray
    quads: np.ndarray
    uv: np.ndarray


@cache
def bare():
    """Return which skin shows, and its subdivision."""
    data, wear = body_data(), suit()
    rest, quads = data.shapes[0], data.quads["skin"]
    weights = dense_weights()[: len(data.lips)]
    collar = rest[wear.rows[wear.ring == COLLAR_RING]]
    middle = collar.mean(axis=0)
    up = np.linalg.svd(collar - middle)[2][2]
    up = up * np.sign(up[2])
    skin = rest[: len(data.lips)]
    over = (skin - middle) @ up
    aside = np.linalg.norm((skin - middle) - over[:, None] * up, axis=1)
    width = np.linalg.norm(collar - middle, axis=1).max()
    shown = (over > 0) | ((over > -0.045) & (aside < width + 0.035))
    shown &= (share_of(weights, "arm", "hand") < 0.3) & (skin[:, 2] > 0.7 * skin[:, 2].max())
    head = shown[quads].all(axis=1)
    head_rows, head_quads = compact(quads[head])
    finer = subdivision(head_quads, len(head_rows))
    lips = finer.apply(data.lips[head_rows])
    on_hand = _hand_vertices(skin, weights)[quads].any(axis=1)
    hand_rows, hand_quads = compact(quads[on_hand])
    return Bare(
        head_rows=head_rows,
        finer=finer,
        hand_rows=hand_rows,
        hand_quads=hand_quads,
        lip=lips[finer.quads].mean(axis=1) > 0.5,
        head=cut_open(finer.quads, finer_corners(data.uv[head])),
        hands=cut_open(hand_quads, data.uv[on_hand]),
    )


def finer_corners(uv):
    """Return the texture corners of the quads of one subdivision step, shape (4 quads, 4, 2)."""
    after = (uv + np.roll(uv, -1, axis=1)) / 2
    middle = np.broadcast_to(uv.mean(axis=1, keepdims=True), uv.shape)
    return np.stack([uv, after, middle, np.roll(after, 1, axis=1)], axis=2).reshape(-1, 4, 2)


def cut_open(quads, uv):
    """Return quads with vertices of their own wherever texture corners differ."""
    flat, corners = quads.ravel(), uv.reshape(-1, 2)
    count = flat.max() + 1
    own = np.zeros((count, 2))
    own[flat] = corners
    apart = np.flatnonzero(np.abs(corners - own[flat]).max(axis=1) > 1e-6)
    keys = np.column_stack([flat[apart], np.round(corners[apart] * 2**18)]).astype(np.int64)
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    cut = flat.copy()
    cut[apart] = count + inverse.ravel()
    rows = np.concatenate([np.arange(count), flat[apart[first]]])
    return Cut(rows, cut.reshape(-1, 4), np.concatenate([own, corners[apart[first]]]))


def _hand_vertices(skin, weights):
    """Return which skin vertices belong to the hands and the wrists inside the cuffs."""
    data = body_data()
    shown = share_of(weights, "hand", "thumb", *FINGERS) > 0.5
    for side in SIDES:
        elbow, wrist = (data.joints[0][data.bones.index(f"{side} {name}")] for name in ("forearm", "hand"))
        column = data.bones.index(f"{side} forearm low")
        along = (skin - elbow) @ (wrist - elbow) / np.sum((wrist - elbow) ** 2)
        shown |= (weights[:, column] > 0.3) & (along > 0.82)
    return shown


@dataclass(frozen=True)
class HeadShape:
    """The head of one person in the rest position, at unit scale.

    Parameters
    ----------
    points, normals : float array, shape (fine, 3)
        [m]
    crown : float array, shape (k, 3)
        Points near the top of the skull. [m]
    """

    points: np.ndarray
    normals: np.ndarray
    crown: np.ndarray


@cache
def head_shape(person):
    """Return the resting head of one person."""
    data, skin = body_data(), bare()
    rest = data.shapes[data.people.index(person)]
    points = skin.finer.apply(rest[skin.head_rows])
    normals = smooth_normals(points, skin.finer.quads)
    order = np.argsort(-points[:, 2])
    return HeadShape(points=points, normals=normals, crown=points[order[:400]])


def face_shape(person, expression, older=0.0):
    """Return the rest position of every vertex with shares, 0 to 1, of face units applied. [m]

    `older` is how much farther the head has come than the person's own, from a young adult's (0) to a
    very old one's (1).
    """
    data = body_data()
    number = data.people.index(person)
    points = np.array(data.shapes[number])
    # The units are drawn for the unshaped head, so they stretch with the distance of the eyes.
    eyes = data.eyes[number]
    size = (eyes[0, 1] - eyes[1, 1]) / 0.0615
    for name, share in expression.items():
        if share:
            rows, steps = data.units[name]
            points[rows] += share * size * steps
    if older:
        points[data.age_rows] += older * _ageing(person)
    return points


def _ageing(person):
    """Return how the head of a person moves from a young adult's to a very old one's, (age rows, 3). [m]

    Under the hair it stays, since hair is made for the head as it is.
    """
    data = body_data()
    number = data.people.index(person)
    rest, eyes = data.shapes[number][data.age_rows], data.eyes[number, :, :3].mean(axis=0)
    face = smooth_step(rest[:, 0] - eyes[0], -0.115, -0.06)
    face *= 1 - smooth_step(rest[:, 2] - eyes[2], 0.035, 0.07)
    return face[:, None] * data.ages[number]


def surface_at(shape, y, z):
    """Return points and normals of the front of a head over given y and z. [m]

    A blend of the nearest vertices that face forwards, each followed along its tangent plane.
    """
    y, z = np.ravel(y), np.ravel(z)
    points, normals = shape.points, shape.normals
    middle = (len(points) - 1) // 2
    near = (normals[:, 0] > 0.1) & (points[:, 0] > np.partition(points[:, 0], middle)[middle])
    for axis, sought in ((1, y), (2, z)):
        near &= (points[:, axis] > sought.min() - 8e-3) & (points[:, axis] < sought.max() + 8e-3)
    points, normals = points[near], normals[near]
    gap = (points[:, 1] - y[:, None]) ** 2 + (points[:, 2] - z[:, None]) ** 2
    nearest = np.argpartition(gap, 6, axis=1)[:, :6]
    weight = 1 / (np.take_along_axis(gap, nearest, axis=1) + 2.5e-7)
    weight /= weight.sum(axis=1, keepdims=True)
    n = normals[nearest]
    lean = (y[:, None] - points[nearest, 1]) * n[:, :, 1]
    lean += (z[:, None] - points[nearest, 2]) * n[:, :, 2]
    x = points[nearest, 0] - lean / np.maximum(n[:, :, 0], 0.3)
    blended = unit(np.sum(n * weight[:, :, None], axis=1))
    return np.stack([np.sum(x * weight, axis=1), y, z], axis=1), blended
