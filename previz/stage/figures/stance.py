"""The poses of a stand-in figure: standing, seated, leaning, walking and lying.

Each pose is a set of joint angles; legs and arms that must touch something (floor, seat, thigh,
table) are solved for it. Everything here is at the person's unit scale, in body axes with the
floor at 0: x forwards, y to the figure's left, z up. [m]
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from previz.stage.figures.mesh import unit
from previz.stage.figures.pose import SIDES, Posed, pose, turn
from previz.stage.figures.reach import reach_arm, reach_leg


@dataclass(frozen=True)
class Surroundings:
    """What a pose rests on, at the person's unit scale.

    Parameters
    ----------
    sole : float
        Thickness of the shoe under the bare foot. [m]
    seat : float
        Height of the seat over the floor. [m]
    table : float
        Height of the table over the floor. [m]
    under : callable
        How far the thighs and the seat of the trousers reach down. [m]
    back : callable
        How far the head, and the rest, reach down, for a figure that lies. [m]
    """

    sole: float
    seat: float
    table: float
    under: Callable[[Posed], float]
    back: Callable[[Posed], tuple[float, float]]


@dataclass(frozen=True)
class Stance:
    """A pose, solved.

    Parameters
    ----------
    angles : dict of float
        Joint -> angle. [deg]
    posed : Posed
        The skeleton, in place over the floor.
    notes : tuple of str
        What could not be done as written, in words.
    """

    angles: dict[str, float]
    posed: Posed
    notes: tuple[str, ...] = ()


def settled(bones, angles, posed, notes=()):
    """Return the stance with all its angles, the pelvis where it is in `posed`."""
    return Stance(angles, placed(bones, angles, posed.at("pelvis")), notes)


def placed(bones, angles, pelvis):
    """Return the pose with the pelvis joint at a given place."""
    posed = pose(bones, angles)
    return posed.moved(np.asarray(pelvis) - posed.at("pelvis"))


def _hanging_arms(flexion, abduction=7.0, elbow=16.0):
    """Return relaxed arms at the sides; `flexion` is (left, right). [deg]"""
    angles = {}
    for side, forwards in zip(SIDES, flexion, strict=True):
        angles |= {
            f"{side} shoulder flexion": forwards,
            f"{side} shoulder abduction": abduction,
            f"{side} shoulder rotation": 18.0,
            f"{side} elbow flexion": elbow,
            f"{side} forearm pronation": 22.0,
            f"{side} wrist flexion": 4.0,
            f"{side} fingers curl": 26.0,
        }
    angles["right fingers curl"] = 31.0
    return angles


def standing(bones, around, extra):
    """Return the upright stance: weight a little more on the left leg, arms at the sides."""
    angles = {
        "pelvis bend": -1.2, "pelvis turn": 2.0, "trunk bend": 1.2, "trunk rotation": -2.0,
        "trunk flexion": 1.0, **_hanging_arms((1.0, 3.0)),
    } | extra
    ankle_z = {s: bones.at(f"{s} foot")[2] + around.sole for s in SIDES}
    posed = placed(bones, angles, (0.0, 0.0, bones.at("pelvis")[2]))
    hip = posed.at("left thigh")
    leg = bones.span("left thigh", "left shank") + bones.span("left shank", "left foot")
    left = np.array([hip[0] - 0.035, hip[1] - 0.012, ankle_z["left"]])
    reach = 0.9992 * leg
    height = ankle_z["left"] + np.sqrt(reach**2 - np.sum((left - hip)[:2] ** 2))
    posed = posed.moved(np.array([0.0, 0.0, height - hip[2]]))
    hip = posed.at("right thigh")
    right = np.array([hip[0] + 0.02, hip[1] - 0.01, ankle_z["right"]])
    angles |= reach_leg(posed, "left", left, rotation=-6.0, yaw=8.0, pitch=0.0)
    angles |= reach_leg(posed, "right", right, rotation=-9.0, yaw=12.0, pitch=0.0)
    middle = (left + right) / 2
    return settled(bones, angles, posed.moved(np.array([-middle[0] - 0.03, -middle[1], 0.0])))


def walking(bones, around, extra):
    """Return the middle of a stride: left heel down in front, right toes leaving the floor."""
    size = bones.span("left thigh", "left shank") + bones.span("left shank", "left foot")
    angles = {
        "pelvis turn": -5.0, "trunk rotation": 9.0, "trunk flexion": 3.0, "pelvis tilt": 3.0,
        "neck rotation": -4.0, **_hanging_arms((-19.0, 20.0), elbow=22.0),
        "right elbow flexion": 34.0,
    } | extra
    sole = around.sole
    left_ankle = _ankle_over_heel(bones, "left", sole, -16.0) + [0.36 * size, 0.0, 0.0]
    right_ankle = _ankle_over_ball(bones, "right", sole, 30.0) + [-0.33 * size, 0.0, 0.0]
    posed = placed(bones, angles, (0.0, 0.0, bones.at("pelvis")[2]))
    left_ankle[1], right_ankle[1] = 0.06, -0.06
    # The pelvis is as high as both legs allow.
    rises = []
    for side, ankle, bend in (("left", left_ankle, 0.995), ("right", right_ankle, 0.985)):
        gap = ankle - posed.at(f"{side} thigh")
        rises.append(gap[2] + np.sqrt((bend * size) ** 2 - gap[0] ** 2 - gap[1] ** 2))
    posed = posed.moved(np.array([0.0, 0.0, min(rises)]))
    angles |= reach_leg(posed, "left", left_ankle, rotation=-3.0, yaw=6.0, pitch=-16.0)
    angles |= reach_leg(posed, "right", right_ankle, rotation=0.0, yaw=7.0, pitch=30.0)
    angles["right toes flexion"] = -26.0
    return settled(bones, angles, posed)


def _ankle_over_heel(bones, side, sole, pitch):
    """Return the ankle of a foot that stands on its heel's edge, the heel at x = 0. [m]"""
    rise = np.array([0.05, 0.0, bones.at(f"{side} foot")[2] + sole])
    return turn("y", pitch) @ rise


def _ankle_over_ball(bones, side, sole, pitch):
    """Return the ankle of a foot that stands on its ball, the ball at x = 0. [m]"""
    ball = bones.at(f"{side} toes")
    back = bones.at(f"{side} foot") - ball
    back = np.array([-np.hypot(back[0], back[1]), 0.0, back[2]])
    return turn("y", pitch) @ back + [0.0, 0.0, ball[2] + sole]


def _sit(bones, around, angles, hip_back):
    """Return the seated legs: hips over the seat, thighs on it, feet flat on the floor."""
    thigh = bones.span("left thigh", "left shank")
    shank = bones.span("left shank", "left foot")
    ankle_z = bones.at("left foot")[2] + around.sole
    hip_z = around.seat + 0.085
    notes = ()
    for _ in range(3):
        posed = placed(bones, angles, (0.0, 0.0, hip_z))
        hips = (posed.at("left thigh") + posed.at("right thigh")) / 2
        posed = posed.moved(np.array([-hip_back, 0.0, hip_z]) - hips)
        solved, notes = dict(angles), ()
        for side, sign in SIDES.items():
            hip = posed.at(f"{side} thigh")
            lean = np.radians(6.0 if side == "left" else -3.0)
            slope = (hip_z - ankle_z - shank * np.cos(lean)) / thigh
            hang = slope > np.sin(np.radians(28.0))
            if hang:
                notes = ("the seat is too high for the feet to reach the floor",)
            # A seat too low for upright shins pushes the feet forwards.
            slope = np.clip(slope, -np.sin(np.radians(32.0)), np.sin(np.radians(28.0)))
            knee = hip + thigh * np.array([np.sqrt(1 - slope**2), 0.0, -slope])
            if not hang:
                rise = np.clip((knee[2] - ankle_z) / shank, 0.3, 1.0)
                lean = np.copysign(np.arccos(rise), lean)
                lean = abs(lean) if slope < -0.5 else lean
            ankle = knee + shank * np.array([np.sin(lean), sign * 0.03, -np.cos(lean)])
            ankle[2] = ankle[2] if hang else ankle_z
            solved |= reach_leg(posed, side, ankle, rotation=-3.0, yaw=9.0, pitch=18.0 if hang else 0.0)
        seated = placed(bones, solved, posed.at("pelvis"))
        step = around.seat - around.under(seated)
        if abs(step) < 2e-4:
            break
        hip_z += step
    return solved, seated, notes


def seated(bones, around, extra):
    """Return a figure that sits upright with its hands on its thighs."""
    angles = {
        "pelvis tilt": -11.0, "trunk flexion": 15.0, "trunk rotation": 1.5, "neck flexion": -4.0,
    } | extra
    solved, posed, notes = _sit(bones, around, angles, 0.07)
    for side, sign in SIDES.items():
        hip, knee = posed.at(f"{side} thigh"), posed.at(f"{side} shank")
        along = unit(knee - hip)
        share = 0.52 if side == "left" else 0.47
        rise = unit(np.cross(along, [0.0, 1.0, 0.0]))
        rise = rise if rise[2] > 0 else -rise
        wrist = hip + share * (knee - hip) + 0.102 * rise + [0.0, sign * 0.012, 0.0]
        fingers = unit(along + [0.0, -sign * 0.28, 0.0] - 0.10 * rise)
        solved |= reach_arm(posed, side, wrist, (12.0, 12.0, 8.0, 62.0), fingers=fingers,
                            palm=-rise + [0.0, -sign * 0.15, 0.0])
        solved[f"{side} fingers curl"] = 17.0 if side == "left" else 22.0
    return settled(bones, solved, posed, notes)


def leaning(bones, around, extra):
    """Return a figure that sits at a table with its forearms on it."""
    upper = bones.span("left upper arm", "left forearm")
    elbow_z, wrist_z = around.table + 0.047, around.table + 0.040
    lean = 22.0
    for _ in range(4):
        angles = {
            "pelvis tilt": 0.25 * lean, "trunk flexion": 0.95 * lean, "neck flexion": -0.75 * lean,
        } | extra
        solved, posed, notes = _sit(bones, around, angles, 0.05)
        drop = posed.at("left upper arm")[2] - elbow_z - upper * np.cos(np.radians(38.0))
        # A forward lean lowers the shoulders by about 0.35 mm for each degree and mm of back.
        lean = float(np.clip(lean + np.degrees(drop / 0.30), 4.0, 48.0))
        if abs(drop) < 0.004:
            break
    for side, sign in SIDES.items():
        shoulder = posed.at(f"{side} upper arm")
        drop = np.clip(shoulder[2] - elbow_z, 0.3 * upper, 0.98 * upper)
        out = np.sqrt(upper**2 - drop**2)
        elbow = shoulder + [0.90 * out, sign * 0.43 * out, -drop]
        inward = np.radians(46.0 if side == "left" else 40.0)
        fore = bones.span(f"{side} forearm", f"{side} hand")
        wrist = elbow + fore * np.array([np.cos(inward), -sign * np.sin(inward), 0.0])
        wrist[2] = wrist_z
        fingers = np.array([np.cos(inward + 0.25), -sign * np.sin(inward + 0.25), -0.12])
        solved |= reach_arm(posed, side, wrist, (40.0, 22.0, 35.0, 70.0), elbow_height=elbow_z,
                            fingers=fingers, palm=np.array([0.0, -sign * 0.22, -1.0]))
        solved[f"{side} fingers curl"] = 24.0 if side == "left" else 18.0
    return settled(bones, solved, posed, notes)


def lying(bones, around, extra):
    """Return a figure flat on its back, feet towards where it faces."""
    angles = {
        "pelvis tilt": -90.0, "trunk flexion": -5.5, **_hanging_arms((-9.0, -9.0), 15.0, 14.0),
    }
    for side in SIDES:
        angles |= {
            f"{side} shoulder rotation": 8.0, f"{side} forearm pronation": 48.0,
            f"{side} hip abduction": 3.0, f"{side} hip rotation": -13.0,
            f"{side} knee flexion": 4.0, f"{side} hip flexion": 2.0,
            f"{side} ankle flexion": -24.0,
        }
    angles |= extra
    for _ in range(5):
        posed = placed(bones, angles, (0.0, 0.0, 0.2))
        head, rest = around.back(posed)
        # Nod until the head rests with the back, and let hands and heels down to the ground.
        nod = angles.get("neck flexion", 0.0) - np.degrees((head - rest) / 0.20)
        angles["neck flexion"] = float(np.clip(nod, -13.0, 40.0))
        ground = min(head, rest)
        for side in SIDES:
            drop = posed.at(f"{side} hand")[2] - ground - 0.035
            angles[f"{side} shoulder flexion"] -= float(np.degrees(drop / 0.55))
            drop = posed.at(f"{side} foot")[2] - ground - 0.066
            angles[f"{side} hip flexion"] -= float(np.degrees(drop / 0.90))
    posed = placed(bones, angles, (0.0, 0.0, 0.2))
    hips = (posed.at("left thigh") + posed.at("right thigh")) / 2
    ground = min(around.back(posed))
    return settled(bones, angles, posed.moved(np.array([-hips[0], -hips[1], -ground])))


STANCES = {each.__name__: each for each in (standing, seated, leaning, walking, lying)}


def look_at(stance, eyes, target, fixed):
    """Return 'neck rotation' and 'neck flexion' with which the eyes need not turn far to see a point. [deg]

    Parameters
    ----------
    stance : Stance
        With the neck as the pose has it.
    eyes : float array, shape (2, 3)
        Rest positions of the eyeballs. [m]
    target : float array, shape (3,)
        Body axes. [m]
    fixed : set of str
        Joints whose angle is set and stays.
    """
    bones, angles, pelvis = stance.posed.bones, dict(stance.angles), stance.posed.at("pelvis")
    for _ in range(6):
        posed = placed(bones, angles, pelvis)
        middle = posed.carry("head", eyes).mean(axis=0)
        x, y, z = posed.turn_of("head").T @ (target - middle)
        yaw, up = np.degrees([np.arctan2(y, x), np.arctan2(z, np.hypot(x, y))])
        more_yaw = np.sign(yaw) * max(abs(yaw) - EASY_YAW, 0.0)
        more_up = max(up - EASY_UP, 0.0) + min(up + EASY_DOWN, 0.0)
        more_yaw = 0.0 if "neck rotation" in fixed else more_yaw
        more_up = 0.0 if "neck flexion" in fixed else more_up
        if max(abs(more_yaw), abs(more_up)) < 0.2:
            break
        turned = angles.get("neck rotation", 0.0) + more_yaw
        nodded = angles.get("neck flexion", 0.0) - more_up
        angles["neck rotation"] = float(np.clip(turned, -75.0, 75.0))
        angles["neck flexion"] = float(np.clip(nodded, -40.0, 45.0))
    return {name: angles.get(name, 0.0) for name in ("neck rotation", "neck flexion")}


EASY_YAW, EASY_UP, EASY_DOWN = 14.0, 8.0, 16.0
"""How far the eyes turn before the head follows. Common practice, no source. [deg]"""
