"""Joints of a stand-in figure: how angles move the skeleton and the skin.

All angles are 0 in the upright stance with straight legs and arms that hang with the palms
towards the thighs. Body axes: x forwards, y to the figure's left, z up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import unit

_SPINE = ("spine 1", "spine 2", "spine 3", "spine 4", "spine 5")
_NECK = ("neck 1", "neck 2", "neck 3", "head")
_NECK_TURN = (0.12, 0.16, 0.22, 0.50)
_NECK_NOD = (0.20, 0.22, 0.22, 0.36)
FINGERS = ("index", "middle", "ring", "little")

_ROWS = 96
"""Rows of a table that are multiplied at once: few enough that BLAS leaves them to one thread."""

SIDES = {"left": 1.0, "right": -1.0}
"""The figure's own left and right, and on which side of y they are."""


# Single turns are made by the thousand, and numpy takes ten times as long as plain numbers for them.
def turn(axis, degrees):
    """Return the rotation matrix about one body axis ('x', 'y' or 'z'), right-handed."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if axis == "x":
        return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    if axis == "y":
        return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def turn_about(axis, degrees):
    """Return the rotation matrix about any axis (Rodrigues' formula)."""
    x, y, z = map(float, axis)
    length = math.sqrt(x * x + y * y + z * z)
    if length > 0:
        x, y, z = x / length, y / length, z / length
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    k = 1 - c
    xy, yz, zx = k * x * y, k * y * z, k * z * x
    return np.array([
        [1 - k * (y * y + z * z), xy - s * z, zx + s * y],
        [xy + s * z, 1 - k * (z * z + x * x), yz - s * x],
        [zx - s * y, yz + s * x, 1 - k * (x * x + y * y)],
    ])


def frame(down, side):
    """Return the right-handed frame (columns) of a bone that points `down` with `side` near y."""
    z = -unit(down)
    y = unit(side - (side @ z) * z)
    return np.stack([np.cross(y, z), y, z], axis=1)


def swing_and_twist(rotation, axis):
    """Return the angle of a rotation about an axis. [deg]"""
    trace = np.trace(rotation)
    curl = np.array([
        rotation[2, 1] - rotation[1, 2],
        rotation[0, 2] - rotation[2, 0],
        rotation[1, 0] - rotation[0, 1],
    ])
    return float(np.degrees(2 * np.arctan2(curl @ axis, 1 + trace)))


@dataclass(frozen=True)
class Skeleton:
    """The joints of one person in the rest position, at unit scale.

    Parameters
    ----------
    joints : float array, shape (bones, 3)
        Root of each bone. [m]
    zero : float array, shape (bones, 3, 3)
        Turn of each bone from the rest position to the stance with all angles 0.
    index : dict of int
        Bone name -> row.
    curl_axis : dict of float array
        Finger -> axis that curls it, in the zero stance.
    """

    joints: np.ndarray
    zero: np.ndarray
    index: dict[str, int]
    curl_axis: dict[str, np.ndarray]

    def at(self, name):
        """Return the rest position of a joint. [m]"""
        return self.joints[self.index[name]]

    def span(self, one, other):
        """Return the distance between two joints. [m]"""
        return float(np.linalg.norm(self.at(one) - self.at(other)))


@cache
def skeleton(person):
    """Return the skeleton of one of the six people."""
    data = body_data()
    joints = data.joints[data.people.index(person)]
    index = {name: row for row, name in enumerate(data.bones)}
    zero = np.tile(np.eye(3), (len(data.bones), 1, 1))
    curl_axis = {}
    for side, sign in SIDES.items():
        def at(name, side=side):
            return joints[index[f"{side} {name}"]]

        def put(names, rotation, side=side):
            for name in names:
                zero[index[f"{side} {name}"]] = rotation

        upper, fore = at("forearm") - at("upper arm"), at("hand") - at("forearm")
        hinge = unit(np.cross(fore, upper))
        put(["upper arm", "upper arm low"], frame(upper, hinge).T)
        put(["forearm", "forearm low"], frame(fore, hinge).T)
        knuckles = at("middle 1") - at("hand")
        # The thumb's side of a hanging hand is in front, so y goes through the palm.
        hand = frame(knuckles, np.cross(knuckles, at("little 1") - at("index 1"))).T
        hand_names = ["hand", *(f"{f} {k}" for f in ("thumb", *FINGERS) for k in (1, 2, 3))]
        put(hand_names, hand)
        for finger in ("thumb", *FINGERS):
            along = hand @ unit(at(f"{finger} 3") - at(f"{finger} 1"))
            curl_axis[f"{side} {finger}"] = unit(np.cross(along, [0.0, -sign, 0.0]))
        leg, shank = at("shank") - at("thigh"), at("foot") - at("shank")
        lateral = np.array([0.0, 1.0, 0.0])
        put(["thigh", "thigh low"], frame(leg, lateral).T)
        put(["shank", "shank low"], frame(shank, lateral).T)
        point = at("toes") - at("foot")
        yaw = np.degrees(np.arctan2(point[1], point[0]))
        put(["foot", "toes"], turn("z", -yaw))
    return Skeleton(joints=joints, zero=zero, index=index, curl_axis=curl_axis)


def ball_turn(flexion, side_angle, rotation, sign):
    """Return a shoulder or hip turn; `sign` is 1 on the left and -1 on the right. [deg]"""
    return turn("y", -flexion) @ turn("x", sign * side_angle) @ turn("z", -sign * rotation)


def ball_angles(rotation, sign):
    """Return flexion, side angle and rotation of a shoulder or hip turn. [deg]"""
    side_angle = np.arcsin(np.clip(-rotation[1, 2], -1, 1))
    flexion = -np.arctan2(rotation[0, 2], rotation[2, 2])
    inward = -sign * np.arctan2(rotation[1, 0], rotation[1, 1])
    return tuple(np.degrees([flexion, sign * side_angle, inward]))


def hand_turn(pronation, flexion, deviation, sign):
    """Return the turn of a hand against its forearm. [deg]"""
    return turn("z", -sign * pronation) @ turn("x", -sign * flexion) @ turn("y", -deviation)


def hand_angles(rotation, sign):
    """Return pronation, wrist flexion and deviation of a hand against its forearm. [deg]"""
    flexion = np.arcsin(np.clip(rotation[2, 1], -1, 1))
    pronation = np.arctan2(-rotation[0, 1], rotation[1, 1])
    deviation = -np.arctan2(-rotation[2, 0], rotation[2, 2])
    return tuple(np.degrees([-sign * pronation, -sign * flexion, deviation]))


def _turns(angles, bones):
    """Return the turn of each bone against the one above it, in the zero stance's axes."""
    turns = {name: np.eye(3) for name in bones.index}

    def get(name):
        return angles.get(name, 0.0)

    turns["pelvis"] = (turn("z", get("pelvis turn")) @ turn("y", get("pelvis tilt"))
                       @ turn("x", -get("pelvis bend")))
    for name in _SPINE:
        turns[name] = (turn("y", get("trunk flexion") / 5) @ turn("x", -get("trunk bend") / 5)
                       @ turn("z", get("trunk rotation") / 5))
    for name, of_turn, of_nod in zip(_NECK, _NECK_TURN, _NECK_NOD, strict=True):
        turns[name] = (turn("z", of_turn * get("neck rotation")) @ turn("y", of_nod * get("neck flexion"))
                       @ turn("x", -of_nod * get("neck bend")))
    for side, sign in SIDES.items():
        def part(name, side=side):
            return get(f"{side} {name}")

        turns[f"{side} upper arm"] = ball_turn(
            part("shoulder flexion"), part("shoulder abduction"), part("shoulder rotation"), sign)
        turns[f"{side} forearm"] = turn("y", -part("elbow flexion"))
        turns[f"{side} hand"] = hand_turn(
            part("forearm pronation"), part("wrist flexion"), part("wrist deviation"), sign)
        _curl(turns, bones, side, part("fingers curl"))
        turns[f"{side} thigh"] = ball_turn(
            part("hip flexion"), part("hip abduction"), part("hip rotation"), sign)
        turns[f"{side} shank"] = turn("y", part("knee flexion"))
        turns[f"{side} foot"] = ball_turn(
            part("ankle flexion"), -part("ankle inversion"), part("ankle rotation"), sign)
        turns[f"{side} toes"] = turn("y", part("toes flexion"))
    return turns


# Each finger a little more curled than the one before it, as a hand at rest is.
_CURL = {"index": 0.72, "middle": 0.92, "ring": 1.08, "little": 1.18}


def _curl(turns, bones, side, degrees):
    for finger, share in _CURL.items():
        axis = bones.curl_axis[f"{side} {finger}"]
        for joint, part in ((1, 0.75), (2, 1.0), (3, 0.55)):
            turns[f"{side} {finger} {joint}"] = turn_about(axis, share * part * degrees)
    axis = bones.curl_axis[f"{side} thumb"]
    for joint, part in ((2, 0.25), (3, 0.45)):
        turns[f"{side} thumb {joint}"] = turn_about(axis, part * degrees)


@dataclass(frozen=True)
class Posed:
    """A skeleton in a pose: where each bone went, in body axes.

    Parameters
    ----------
    turns : float array, shape (bones, 3, 3)
        Turn of each bone from the rest position.
    joints : float array, shape (bones, 3)
        Root of each bone. [m]
    """

    bones: Skeleton
    turns: np.ndarray
    joints: np.ndarray

    def at(self, name):
        """Return where a joint went. [m]"""
        return self.joints[self.bones.index[name]]

    def turn_of(self, name):
        """Return the turn of a bone from the rest position."""
        return self.turns[self.bones.index[name]]

    def carry(self, name, points):
        """Return where points that are fixed to a bone went; rest positions in. [m]"""
        return (points - self.bones.at(name)) @ self.turn_of(name).T + self.at(name)

    def moved(self, step):
        """Return the same pose moved as a whole. [m]"""
        return Posed(self.bones, self.turns, self.joints + step)

    def skin(self, points, weights):
        """Return where points at rest, shape (n, 3), went by linear blending. [m]

        `weights` are the shares of each bone, shape (n, bones); rows sum to 1.
        """
        offset = self.joints - np.einsum("bij,bj->bi", self.turns, self.bones.joints)
        blended = _product(weights, np.concatenate([self.turns.reshape(-1, 9), offset], axis=1))
        spin = blended[:, :9].reshape(-1, 3, 3)
        return np.einsum("nij,nj->ni", spin, points) + blended[:, 9:]


def _product(rows, table):
    """Return the product of two tables, some rows at a time.

    So small ones are left to one thread, on any machine alike; of several threads each would wait
    for the others for longer than it multiplies.
    """
    found = np.empty((len(rows), table.shape[1]))
    for start in range(0, len(rows), _ROWS):
        block = slice(start, start + _ROWS)
        np.matmul(rows[block], table, out=found[block])
    return found


def pose(bones, angles):
    """Return the skeleton with the given joint angles, the pelvis left where it rests. [deg]

    Joints are those of `scene.joints.JOINT_RANGES`; missing ones are at 0.
    """
    data = body_data()
    local = _turns(angles, bones)
    stance = np.empty_like(bones.zero)
    turns = np.empty_like(bones.zero)
    joints = np.array(bones.joints)
    for row, (name, parent) in enumerate(zip(data.bones, data.parents, strict=True)):
        above = np.eye(3) if parent < 0 else stance[parent]
        stance[row] = above @ local[name]
        turns[row] = stance[row] @ bones.zero[row]
        if parent >= 0:
            joints[row] = joints[parent] + turns[parent] @ (bones.joints[row] - bones.joints[parent])
    posed = Posed(bones, turns, joints)
    for side in SIDES:
        _share_twist(posed, f"{side} upper arm", f"{side} upper arm low", f"{side} shoulder")
        _share_twist(posed, f"{side} forearm low", f"{side} hand", f"{side} forearm")
    return posed


def _share_twist(posed, middle, end, start):
    """Give the middle bone half the twist between two bones, so that the skin does not wring."""
    along = unit(posed.at(end) - posed.at(middle))
    first, last = posed.turn_of(start), posed.turn_of(end)
    twist = swing_and_twist(last @ first.T, along)
    half, base = (twist / 2, first) if middle.endswith("low") else (-twist / 2, last)
    posed.turns[posed.bones.index[middle]] = turn_about(along, half) @ base


def bones_with(*words):
    """Return the rows of the bones whose names hold any of some words."""
    return [row for row, name in enumerate(body_data().bones) if any(word in name for word in words)]


def share_of(weights, *words):
    """Return how much the bones whose names hold any of some words move each vertex. [1]"""
    return weights[:, bones_with(*words)].sum(axis=1)


@cache
def dense_weights():
    """Return the skinning weights as a full table, shape (vertices, bones)."""
    data = body_data()
    table = np.zeros((len(data.weights), len(data.bones)))
    np.put_along_axis(table, data.weight_bones, data.weights, axis=1)
    table.setflags(write=False)
    return table
