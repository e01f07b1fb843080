"""Folds in the clothes of a stand-in figure: where cloth is gathered, it lies in ridges.

Cloth is loose in some places and taut in others: it gathers inside the elbow and over the cuff,
behind the knee and over the shoe, above the hem of a jumper, and is drawn from the armpits down to
the waist. The ridges are narrow and the valleys between them wide, as of cloth that is pushed
together. Laid on the clothes at rest, and carried by the pose. Common practice, no source.
"""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import unit

_SWELLS = (
    # Wave vector in 1/m, phase, and height in mm: what even taut cloth does.
    ((9.0, 21.0, 38.0), 0.3, 1.5),
    ((-14.0, 35.0, 24.0), 1.9, 1.3),
    ((31.0, -17.0, 52.0), 4.1, 1.0),
)

_MIDDLE = 1e-6
"""A vertex this far to the left is on the middle line, which rounding puts on either side of 0. [m]"""


def fold_height(part, rest, skeleton, hem):
    """Return how far cloth at rest is lifted by its folds, negative in the valleys, shape (n,). [m]

    Parameters
    ----------
    part : str
        'upper' or 'lower'.
    rest : float array, shape (n, 3)
        The cloth at rest. [m]
    skeleton : Skeleton
        Of the same person.
    hem : float
        Height of the jumper's lower rim. [m]
    """
    height = sum(size * np.sin(rest @ np.array(wave) + phase + 1.3 * np.sin(7 * rest[:, 2] + phase))
                 for wave, phase, size in _SWELLS)
    if part == "upper":
        height = height + _trunk(rest, skeleton, hem)
    else:
        height = 0.5 * height
    limb, gathers, length, first = {
        # Joints; (place along them, width, height in mm); distance of ridges; where folds begin.
        "upper": (("upper arm", "forearm", "hand"), ((1, 0.0, 0.075, 9.0), (2, -0.06, 0.05, 6.0)),
                  0.058, 0.10),
        "lower": (("thigh", "shank", "foot"), ((1, -0.01, 0.09, 7.5), (2, -0.06, 0.07, 8.5)),
                  0.085, 0.24),
    }[part]
    for side, salt in (("left", 0.0), ("right", 2.4)):
        height = height + _limb(rest, [skeleton.at(f"{side} {name}") for name in limb], gathers,
                                length, first, salt)
    return 1e-3 * height


def _ridge(turns):
    """Return ridges, 0.75 high over valleys of -0.25, one each turn of 2 pi."""
    return np.exp(1.4 * (np.cos(turns) - 1)) - 0.25


def _bump(value, middle, width):
    return np.exp(-(((value - middle) / width) ** 2))


def _limb(rest, joints, gathers, length, first, salt):
    """Return the folds of one sleeve or trouser leg. [mm]"""
    along, away, bearing = tube_places(rest, joints)
    place = [0.0, np.linalg.norm(joints[1] - joints[0])]
    place.append(place[1] + np.linalg.norm(joints[2] - joints[1]))
    # Ridges run askew round the limb and end on its other side, where the next ones begin.
    turns = 2 * np.pi * along / length + 1.5 * np.sin(bearing + salt) + salt
    turns = turns + 0.9 * np.sin(2 * bearing + 31 * along + salt)
    strength = 1.5 + 0 * along
    for joint, step, width, most in gathers:
        strength = strength + most * _bump(along, place[joint] + step, width)
    strength = strength * (0.7 + 0.3 * np.cos(bearing + 14 * along + salt))
    inside = np.clip((along - first) / 0.08, 0, 1) * (away < 0.16)
    return strength * inside * _ridge(turns)


def tube_places(points, joints):
    """Return the distance along two bones [m], the distance from them [m], the bearing round them."""
    best = np.full(len(points), np.inf)
    along, bearing = np.zeros(len(points)), np.zeros(len(points))
    start = 0.0
    for number in (0, 1):
        bone = joints[number + 1] - joints[number]
        length = np.linalg.norm(bone)
        axis = bone / length
        reach = (points - joints[number]) @ axis
        held = np.clip(reach, -0.1 if number == 0 else 0, length if number == 0 else 1.3 * length)
        off = points - joints[number] - held[:, None] * axis
        distance = np.linalg.norm(off, axis=1)
        ahead = unit(np.array([1.0, 0.0, 0.0]) - axis[0] * axis)
        closer = distance < best
        best = np.where(closer, distance, best)
        along = np.where(closer, start + held, along)
        turn = np.arctan2(off @ np.cross(axis, ahead), off @ ahead)
        bearing = np.where(closer, turn, bearing)
        start += length
    return along, best, bearing


def _trunk(rest, skeleton, hem):
    """Return the folds of the body of the jumper. [mm]"""
    x, y, z = rest.T
    shoulder = np.abs(skeleton.at("left upper arm"))
    inside = np.clip((shoulder[1] + 0.01 - np.abs(y)) / 0.05, 0, 1)
    side = np.clip(np.abs(y) / shoulder[1], 0, 1)
    # Pushed together over the hem, most at the sides; ridges sag towards the middle.
    sag = z + 0.10 * side + 0.012 * np.sin(17 * y + 1.0) + 0.010 * np.sin(23 * y + 9 * x)
    over_hem = _ridge(2 * np.pi * sag / 0.08 + np.where(x > 0, 0.0, 2.0))
    gathered = 9.0 * _bump(z, hem + 0.085, 0.06) * (0.45 + 0.55 * side)
    # Drawn from the armpits down and inwards.
    pit = np.abs(y) - (shoulder[1] - 0.03)
    low = shoulder[2] - 0.10 - z
    fan = np.arctan2(-pit + 0.02, low + 0.12)
    drawn = _ridge(2 * np.pi * fan / 0.55 + np.where(y > _MIDDLE, 0.6, 2.2))
    spread = np.exp(-((pit / 0.13) ** 2) - ((low - 0.05) / 0.11) ** 2)
    return inside * (gathered * over_hem + 9.0 * spread * drawn)
