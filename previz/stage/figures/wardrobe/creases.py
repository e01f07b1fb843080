"""Folds of clothes in a pose: where a joint bends, cloth is pushed together inside it.

Inside a bent elbow, behind a bent knee and in a bent hip folds lie across the limb, fan out from the
outer side and grow with the bend; outside the cloth is taut. From the armpits folds are drawn down to
the waist, over a waist and a shoe cloth piles up, and all of it waves a little. The ridges are narrow
and the valleys wide, as of cloth that is pushed together. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.figures.mesh import smooth_step, unit
from previz.stage.figures.pose import SIDES, skeleton
from previz.stage.figures.wardrobe.cloth import ARM, LEG, Draped, weave

_SWELLS = (
    # Wave vector in 1/m, phase, and height in mm: what even taut cloth does.
    ((9.0, 21.0, 34.0), 0.3, 2.0),
    ((-14.0, 35.0, 24.0), 1.9, 1.6),
    ((31.0, -17.0, 52.0), 4.1, 1.1),
    ((58.0, 44.0, -37.0), 2.2, 0.5),
)


@dataclass(frozen=True)
class Habit:
    """How a garment creases.

    Parameters
    ----------
    salt : float
        Sets its folds apart from another's.
    length : float
        Distance of folds over that of a shirt's. [1]
    sleeve, leg, waist, pits : float
        Shares of the folds of its parts. [1]
    waistline : float
        Height over the body's that cloth piles up over. [1]
    """

    salt: float = 0.0
    length: float = 1.0
    sleeve: float = 1.0
    leg: float = 1.0
    waist: float = 1.0
    pits: float = 1.0
    waistline: float = 0.6


def _ridge(turns, sharp=1.6):
    """Return ridges over wide valleys, one each turn of 2 pi, with a mean near 0."""
    return np.exp(sharp * (np.cos(turns) - 1)) - 0.33


def _bump(value, middle, width):
    return np.exp(-(((value - middle) / width) ** 2))


def creases(drawn: Draped, habit: Habit):
    """Return the height of a soft cloth's folds in the pose, shape (fine,). [m]"""
    rest, net = drawn.rest, weave()
    points = rest.points
    height = np.zeros(len(points))
    for wave, phase, size in _SWELLS:
        turn = points @ (np.array(wave) / habit.length) + phase + habit.salt
        height += size * np.sin(turn + 1.3 * np.sin(7 * points[:, 2] + phase + habit.salt))
    for side in SIDES:
        here = (net.left > 0.5) == (side == "left")
        if habit.sleeve:
            rows = np.flatnonzero(here & (net.arm > 0.05))
            height[rows] += habit.sleeve * net.arm[rows] * _arm(drawn, side, rows, habit)
        if habit.leg:
            rows = np.flatnonzero(here & (net.leg > 0.05))
            height[rows] += habit.leg * _leg(drawn, side, rows, habit)
    rows = np.flatnonzero((net.arm < 0.95) & (net.leg < 0.6))
    height[rows] += (1 - net.arm[rows]) * _trunk(drawn, rows, habit)
    return 1e-3 * height


def _inner(person, side, words):
    """Return the bearing of the inside of a joint round its limb. [rad]"""
    frame = skeleton(person)
    a, b, c = (frame.at(f"{side} {name}") for name in words)
    axis = unit(b - a)
    ahead = unit(np.array([1.0, 0.0, 0.0]) - axis[0] * axis)
    inside = (a + c) / 2 - b
    if words is LEG:
        inside = np.array([-1.0, 0.0, 0.0])
    angle = np.arctan2(inside @ np.cross(axis, ahead), inside @ ahead)
    return -angle if side == "right" else angle


def _bent(along, bearing, joint, inner, bend, habit, length, salt):
    """Return the folds that a bent joint makes. [mm]"""
    inside = (1 + np.cos(bearing - inner)) / 2
    # Folds run together on the outer side of the joint.
    fan = (along - joint) / (0.45 + 0.55 * inside)
    wave = length * habit.length
    turns = 2 * np.pi * fan / wave + 0.9 * np.sin(bearing - inner + salt) + 0.6 * np.sin(2.3 * bearing + salt)
    turns = turns + 0.5 * np.sin(29 * along + 1.7 * bearing + salt)
    much = np.clip(bend / 1.6, 0, 1.2)
    height = (3.2 + 11.0 * much) * inside ** (0.6 + 0.5 * much) * np.exp(-(((along - joint) / 0.085) ** 2))
    return height * _ridge(turns) - 1.5 * much * (1 - inside) * _bump(along, joint, 0.06)


def _arm(drawn, side, rows, habit):
    """Return the folds of one sleeve. [mm]"""
    rest = drawn.rest
    along, bearing = rest.along[rows], rest.round[rows]
    elbow, wrist = rest.ends["arm"]
    salt = habit.salt + (2.4 if side == "right" else 0.0)
    inner = _inner(drawn.person, side, ARM)
    folds = _bent(along, bearing, elbow, inner, drawn.bends[f"{side} elbow"], habit, 0.042, salt)
    # Askew folds between shoulder and elbow, and some that pile up over the cuff.
    askew = 2 * np.pi * along / (0.075 * habit.length) + 1.6 * np.sin(bearing + salt) + salt
    askew = askew + 0.9 * np.sin(2 * bearing + 31 * along + salt)
    strength = 2.2 + 5.0 * _bump(along, wrist - 0.085, 0.05) + 3.0 * _bump(along, elbow - 0.10, 0.07)
    strength = strength * (0.65 + 0.35 * np.cos(bearing + 14 * along + salt))
    return (folds + strength * _ridge(askew)) * smooth_step(along, 0.03, 0.12)


def _leg(drawn, side, rows, habit):
    """Return the folds of one trouser leg. [mm]"""
    rest = drawn.rest
    along, bearing = rest.along[rows], rest.round[rows]
    knee, ankle = rest.ends["leg"]
    salt = habit.salt + (1.7 if side == "right" else 0.0)
    inner = _inner(drawn.person, side, LEG)
    folds = _bent(along, bearing, knee, inner, drawn.bends[f"{side} knee"], habit, 0.055, salt)
    hip = drawn.bends[f"{side} hip"]
    folds = folds + 0.8 * _bent(along, bearing, 0.02, 0.0, hip, habit, 0.05, salt + 1)
    # From the crotch and over the knee cloth is drawn; over the shoe it breaks.
    drawn_in = 2 * np.pi * along / (0.11 * habit.length) + 1.8 * np.cos(bearing + salt) + salt
    strength = 2.0 + 7.5 * _bump(along, ankle - 0.065, 0.06) * (0.6 + 0.4 * np.cos(bearing))
    strength = strength + 3.0 * _bump(along, knee + 0.02, 0.10) + 3.2 * _bump(along, 0.10, 0.08)
    folds = folds + strength * _ridge(drawn_in + 0.8 * np.sin(2 * bearing + 19 * along))
    return folds * weave().leg[rows]


def _trunk(drawn, rows, habit):
    """Return the folds of what is worn over the trunk. [mm]"""
    rest = drawn.rest
    x, y, z = rest.points[rows].T
    shoulder = np.abs(skeleton(drawn.person).at("left upper arm"))
    side = np.clip(np.abs(y) / shoulder[1], 0, 1)
    line = habit.waistline * rest.height
    wave = 0.055 * habit.length
    # Sitting pushes the cloth over the lap together; standing lets it fall straight.
    sitting = max(drawn.bends["left hip"], drawn.bends["right hip"]) / 1.5
    sag = z + 0.07 * side + 0.014 * np.sin(17 * y + 1.0 + habit.salt) + 0.010 * np.sin(23 * y + 9 * x)
    over = _ridge(2 * np.pi * sag / wave + np.where(x > 0, 0.0, 2.0) + habit.salt)
    front = np.where(x > 0, 1.0, 0.35)
    piled = _bump(z, line + 0.07, 0.06) * (0.35 + 0.45 * side + 0.7 * front * min(sitting, 1.0))
    height = habit.waist * 9.0 * piled * over
    # Drawn from the armpits down and inwards.
    net_arm = 1 - 2.2 * np.abs(weave().arm[rows] - 0.1)
    pit = np.abs(y) - (shoulder[1] - 0.03)
    low = shoulder[2] - 0.10 - z
    fan = np.arctan2(-pit + 0.02, low + 0.12)
    lines = _ridge(2 * np.pi * fan / (0.5 * habit.length) + np.where(y > 1e-6, 0.6, 2.2) + habit.salt)
    spread = np.exp(-((pit / 0.11) ** 2) - ((low - 0.05) / 0.11) ** 2)
    return height + habit.pits * 6.0 * spread * lines * np.clip(net_arm, 0, 1)
