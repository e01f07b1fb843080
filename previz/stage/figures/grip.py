"""What a hand does: at rest, or closed about a round thing of a given radius.

Everything is worked out in the hand's own frame, that of the zero stance: the fingers point down, the
thumb forwards, and the palm to the figure's middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import grid_quads, joined, smooth_normals, sound, triangles, unit
from previz.stage.figures.pose import FINGERS, SIDES, Posed, dense_weights, skeleton, turn, turn_about

FLESH_GIVES = 0.2e-3
"""How far flesh is pressed in where it holds something. Common practice, no source. [m]"""

_MOST = (88, 105, 72)
"""How far the joints of a finger bend when nothing is in their way. From memory, clinical
goniometry. [deg]"""

_LEAST = (-14, -16, -18)
"""How far they bend back. [deg]"""

_FREE = {
    "at rest": (24, 36, 18), "flat": (3, 6, 3), "book": (48, 14, 6), "paper": (52, 30, 14),
}
"""Bend of each joint of a middle finger that holds nothing round. Common practice, no source. [deg]"""

_SHARE = {"index": 0.78, "middle": 0.95, "ring": 1.06, "little": 1.12}
_SPREAD = {"index": 4.0, "middle": 0.5, "ring": -2.5, "little": -6.0}
"""Of a hand at ease: how much farther each finger bends, and its lean to the thumb's side. [1], [deg]"""

_THUMBS = {"at rest": (14, 4, 8, 14), "flat": (0, 0, 2, 4), "pointing": (30, 12, 26, 28),
           "fist": (30, 12, 26, 28), "book": (34, 6, 4, 6), "paper": (44, 18, 16, 14)}
"""Of the thumb: turn over the palm, bend of its first, second and last joint. [deg]"""


@dataclass(frozen=True)
class Held:
    """A round thing in a hand.

    Parameters
    ----------
    radius : float
        [m]
    along : float
        How far beyond the knuckles its axis lies, towards the fingertips. [m]
    """

    radius: float
    along: float


HELD = {"cup": Held(0.0395, 0.012), "rail": Held(0.019, 0.010), "lever": Held(0.013, 0.010)}
"""Grip -> what it closes about: a mug, a handrail of 38 mm, a lever of 26 mm. Common practice, no source."""

ARMS = {
    "cup": {"shoulder flexion": 6.0, "shoulder abduction": 6.0, "shoulder rotation": 18.0,
            "elbow flexion": 84.0, "forearm pronation": 0.0, "wrist flexion": 0.0, "wrist deviation": 0.0},
}
"""Grip -> angles of the arm that keep what it holds upright, unless the scene has its own. [deg]"""


def arm_of(grip, side, pose):
    """Return the angles with which an arm holds something; on a table the forearm only turns. [deg]"""
    names = ARMS.get(grip, {})
    if pose == "leaning":
        names = {name: value for name, value in names.items() if name.startswith(("forearm", "wrist"))}
    return {f"{side} {name}": value for name, value in names.items()}


@dataclass(frozen=True)
class _Hand:
    """A hand in its own frame, about its wrist.

    Parameters
    ----------
    joints : dict of float array, shape (4, 3)
        Finger -> its three joints and its tip. [m]
    flesh : dict of list of float array, shape (n, 3)
        Finger -> the skin that each of its bones carries. [m]
    palm : float array, shape (n, 3)
        Skin of the palm, and of the first bones of the fingers, bent back. [m]
    """

    joints: dict[str, np.ndarray]
    flesh: dict[str, list[np.ndarray]]
    palm: np.ndarray


@cache
def _hand(person, side):
    """Return the hand of one person."""
    bones, data = skeleton(person), body_data()
    zero = bones.zero[bones.index[f"{side} hand"]]
    skin = data.shapes[data.people.index(person)][: len(data.lips)]
    wrist = bones.at(f"{side} hand")
    points = (skin - wrist) @ zero.T
    weights = dense_weights()[: len(skin)]
    joints, flesh, palm = {}, {}, [points[weights[:, bones.index[f"{side} hand"]] > 0.5]]
    for finger in ("thumb", *FINGERS):
        at = np.array([zero @ (bones.at(f"{side} {finger} {k}") - wrist) for k in (1, 2, 3)])
        own = [points[weights[:, bones.index[f"{side} {finger} {k}"]] > 0.5] for k in (1, 2, 3)]
        along = (at[2] - at[1]) / np.linalg.norm(at[2] - at[1])
        joints[finger] = np.concatenate([at, [at[2] + np.max((own[2] - at[2]) @ along) * along]])
        # The web between the fingers goes with the palm.
        reach = (own[0] - at[0]) @ (at[1] - at[0]) / np.sum((at[1] - at[0]) ** 2)
        flesh[finger] = [own[0][reach > 0.45], *own[1:]]
        if finger != "thumb":
            back = turn_about(bones.curl_axis[f"{side} {finger}"], _LEAST[0])
            palm += [own[0][reach <= 0.45], at[0] + (flesh[finger][0] - at[0]) @ back.T]
    return _Hand(joints, flesh, np.concatenate(palm))


@cache
def axis_of(person, side, grip):
    """Return a point of the axis of what a hand holds, about its wrist, and its direction; hand's frame. [m]

    It lies along the knuckles, as near to the palm as the palm lets it.
    """
    hand, held = _hand(person, side), HELD[grip]
    inwards = np.array([0.0, -SIDES[side], 0.0])
    along = hand.joints["index"][0] - hand.joints["little"][0]
    along = along * [1.0, 0.0, 1.0] / np.hypot(along[0], along[2])
    fingers = np.cross(along, inwards)
    fingers = fingers if fingers[2] < 0 else -fingers
    row = np.mean([hand.joints[finger][0] for finger in FINGERS], axis=0) + held.along * fingers
    offset = hand.palm - row
    aside = 1 - ((offset @ fingers) / held.radius) ** 2
    out = np.max((offset @ inwards + held.radius * np.sqrt(np.maximum(aside, 0)))[aside > 0])
    return row + (out - FLESH_GIVES) * inwards, along


def _away(points, axis):
    """Return the distance of points from an axis. [m]"""
    offset = points - axis[0]
    return np.linalg.norm(offset - (offset @ axis[1])[..., None] * axis[1], axis=-1)


@cache
def bends(person, side, grip):
    """Return the turn of each bone of the fingers against the one above it: bone -> matrix, zero stance."""
    bones, found = skeleton(person), {}
    for finger in FINGERS:
        axis = bones.curl_axis[f"{side} {finger}"]
        closed = grip in HELD
        angles = _closed(person, side, finger, grip) if closed else _free(person, side, finger, grip)
        lean = turn("y", _SPREAD[finger] * (0.35 if closed else 1.0 if grip in ("at rest", "flat") else 0.2))
        for k, angle in enumerate(angles):
            bend = turn_about(axis, angle)
            found[f"{side} {finger} {k + 1}"] = lean @ bend if k == 0 else bend
    found |= _thumb(person, side, grip)
    return found


def _free(person, side, finger, grip):
    """Return the bends of a finger of a hand that closes about nothing: open, or shut into the palm. [deg]"""
    if grip == "pointing" and finger == "index":
        return (4.0, 6.0, 4.0)
    if grip in ("pointing", "fist") or (grip == "paper" and finger in ("ring", "little")):
        return _shut(person, side, finger)
    share = _SHARE[finger] if grip == "at rest" else 1.0
    return tuple(share * angle for angle in _FREE[grip])


@cache
def _shut(person, side, finger):
    """Return the bends of a finger that is shut until its end lies on the palm. [deg]"""
    hand, curl = _hand(person, side), skeleton(person).curl_axis[f"{side} {finger}"]
    joints, inwards = hand.joints[finger], -SIDES[side]
    palm = hand.palm[hand.palm[:, 2] > joints[0][2] + 4e-3][:, [0, 2, 1]] * [1.0, 1.0, inwards]
    chosen = (0.0, 0.0, 0.0)
    for share in np.arange(0.30, 1.01, 0.04):
        angles = (80.0 * share, 98.0 * share, 52.0 * share)
        above, start = np.eye(3), joints[0]
        for k in (0, 1):
            above = above @ turn_about(curl, angles[k])
            start = start + above @ (joints[k + 1] - joints[k])
        end = start + (hand.flesh[finger][2] - joints[2]) @ (above @ turn_about(curl, angles[2])).T
        flat = end[::2, [0, 2, 1]] * [1.0, 1.0, inwards]
        gap = np.linalg.norm(flat[:, None, :2] - palm[None, :, :2], axis=2)
        level = np.where(gap < 6e-3, palm[:, 2], -np.inf).max(axis=1)
        if np.any(flat[:, 2] < level - FLESH_GIVES):
            break
        chosen = angles
    return chosen


def _closed(person, side, finger, grip):
    """Return the bends with which each bone of a finger in turn comes to lie on what is held. [deg]"""
    hand, axis = _hand(person, side), axis_of(person, side, grip)
    curl = skeleton(person).curl_axis[f"{side} {finger}"]
    joints, above = hand.joints[finger], np.eye(3)
    start, angles = joints[0], []
    least = HELD[grip].radius - FLESH_GIVES
    for k in range(3):
        flesh, chosen = hand.flesh[finger][k] - joints[k], _LEAST[k]
        for angle in np.arange(_LEAST[k], _MOST[k] + 0.5, 1.5):
            if _away(start + flesh @ (above @ turn_about(curl, angle)).T, axis).min() < least:
                break
            chosen = angle
        above = above @ turn_about(curl, chosen)
        start = start + above @ (joints[k + 1] - joints[k])
        angles.append(float(chosen))
    return tuple(angles)


def _thumb(person, side, grip):
    """Return the turns of the thumb's bones."""
    curl, sign = skeleton(person).curl_axis[f"{side} thumb"], SIDES[side]

    def turns(over, first, second, last):
        return (turn("z", -sign * over) @ turn_about(curl, first), turn_about(curl, second),
                turn_about(curl, last))

    if grip in _THUMBS:
        best = turns(*_THUMBS[grip])
    else:
        hand, axis = _hand(person, side), axis_of(person, side, grip)
        joints, radius, fit = hand.joints["thumb"], HELD[grip].radius - FLESH_GIVES, np.inf
        first_flesh, second_flesh = (hand.flesh["thumb"][k][::2] - joints[k] for k in (1, 2))
        for over in range(0, 75, 9):
            for first in range(-24, 33, 8):
                for second in range(0, 50, 12):
                    tried = turns(over, first, second, 0.5 * second + 6)
                    one = joints[0] + tried[0] @ (joints[1] - joints[0])
                    two = one + tried[0] @ tried[1] @ (joints[2] - joints[1])
                    near = _away(one + first_flesh @ (tried[0] @ tried[1]).T, axis).min() - radius
                    tip = _away(two + second_flesh @ (tried[0] @ tried[1] @ tried[2]).T, axis).min() - radius
                    cost = max(tip, 0) + 0.3 * max(near, 0) + 20 * (max(-tip, 0) + max(-near, 0))
                    cost += 2e-5 * (abs(over - 25) + abs(first) + abs(second - 12))
                    if cost < fit:
                        fit, best = cost, tried
    return {f"{side} thumb {k + 1}": best[k] for k in range(3)}


def with_grip(posed: Posed, person, side, grip):
    """Return a pose with the fingers of one hand as a grip has them."""
    bones, turns, joints = posed.bones, np.array(posed.turns), np.array(posed.joints)
    hand = bones.index[f"{side} hand"]
    zero, palm = bones.zero[hand], posed.turns[hand]
    for finger in ("thumb", *FINGERS):
        above = palm @ zero.T
        parent = hand
        for k in (1, 2, 3):
            row = bones.index[f"{side} {finger} {k}"]
            joints[row] = joints[parent] + turns[parent] @ (bones.joints[row] - bones.joints[parent])
            above = above @ bends(person, side, grip)[f"{side} {finger} {k}"]
            turns[row] = above @ zero
            parent = row
    return Posed(bones, turns, joints)


def placed_axis(posed: Posed, person, side, grip):
    """Return a point of the axis of what a hand holds and its direction, in the pose. [m]"""
    point, along = axis_of(person, side, grip)
    stance = posed.turn_of(f"{side} hand") @ posed.bones.zero[posed.bones.index[f"{side} hand"]].T
    return posed.at(f"{side} hand") + stance @ point, stance @ along


MUG = (0.040, 0.095, 0.0035)
"""Radius, height and wall of a mug. Common practice, no source. [m]"""

_AROUND = 40


def mug(point, along, outwards):
    """Return a mug about an axis: vertices, triangles, normals. [m]

    Parameters
    ----------
    point, along : float array, shape (3,)
        Middle of the hand on the mug's axis, and the way to its rim.
    outwards : float array, shape (3,)
        Where its handle is.
    """
    radius, height, wall = MUG
    profile = np.array([
        [0.0, 0.0], [0.92 * radius, 0.0], [0.98 * radius, 0.002], [radius, 0.006], [radius, height - 0.002],
        [radius - 0.5 * wall, height], [radius - wall, height - 0.002], [radius - wall, 0.006],
        [radius - 2 * wall, wall], [0.0, wall],
    ])
    angle = 2 * np.pi * np.arange(_AROUND + 1) / _AROUND
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    body = np.concatenate([profile[:, None, :1] * ring[None], np.broadcast_to(
        profile[:, None, 1:] - 0.45 * height, (len(profile), len(angle), 1))], axis=2)
    across = np.linspace(-0.42 * np.pi, 0.42 * np.pi, 15)
    spine = np.stack([0.94 * radius + 0.030 * (np.cos(across) - np.cos(across[0])),
                      0 * across, 0.034 * np.sin(across) / np.sin(across[-1]) + 0.003], axis=1)
    slope = unit(np.gradient(spine, axis=0))
    side = np.array([0.0, 1.0, 0.0])
    turns = 2 * np.pi * np.arange(13) / 12
    grip = spine[:, None] + (0.0065 * np.cos(turns)[None, :, None] * side
                             + 0.0045 * np.sin(turns)[None, :, None] * np.cross(slope, side)[:, None])
    x = unit(outwards - (outwards @ along) * along)
    frame = np.stack([x, np.cross(along, x), along])
    return joined([_sheet(body, frame, point), _sheet(grip, frame, point)])


def _sheet(grid, frame, point):
    """Return a grid of points as triangles, placed."""
    points = grid.reshape(-1, 3) @ frame + point
    faces = triangles(grid_quads(*grid.shape[:2]))[:, ::-1]
    used, faces = sound(points, faces)
    return points[used], faces, smooth_normals(points[used], faces)
