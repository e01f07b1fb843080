"""How a stand-in figure's leg or arm bends to bring a foot or a hand to a place.

Everything is at the person's unit scale, in body axes. [m]
"""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import unit
from previz.stage.figures.pose import SIDES, ball_angles, ball_turn, hand_angles, turn


def reach_leg(posed, side, ankle, *, rotation, yaw, pitch):
    """Return the leg's angles that bring the ankle to a point and the foot to a bearing.

    Parameters
    ----------
    posed : Posed
        With the pelvis in place.
    side : str
        One of `SIDES`.
    ankle : float array, shape (3,)
        Where the ankle joint goes; out of reach, the straight leg points at it. [m]
    rotation : float
        Inward turn of the hip, which sets where the knee points. [deg]
    yaw, pitch : float
        Outward turn of the toes, and how far they point down. [deg]
    """
    bones, sign = posed.bones, SIDES[side]
    thigh = bones.span(f"{side} thigh", f"{side} shank")
    shank = bones.span(f"{side} shank", f"{side} foot")
    pelvis = posed.turn_of("pelvis")
    goal = pelvis.T @ (ankle - posed.at(f"{side} thigh"))
    reach = np.clip(np.linalg.norm(goal), abs(thigh - shank) + 1e-4, thigh + shank - 1e-5)
    goal = unit(goal) * reach
    knee = np.arccos(np.clip((reach**2 - thigh**2 - shank**2) / (2 * thigh * shank), -1, 1))
    leg = turn("z", -sign * rotation) @ np.array([-shank * np.sin(knee), 0.0, -thigh - shank * np.cos(knee)])
    # Swing the bent leg sideways to the goal y, then forwards to the goal x and z.
    radius = np.hypot(leg[1], leg[2])
    roll = -np.arccos(np.clip(goal[1] / radius, -1, 1)) - np.arctan2(leg[2], leg[1])
    roll = (roll + np.pi) % (2 * np.pi) - np.pi
    leg = turn("x", np.degrees(roll)) @ leg
    nod = np.arctan2(goal[0], goal[2]) - np.arctan2(leg[0], leg[2])
    nod = (nod + np.pi) % (2 * np.pi) - np.pi
    flexion, abduction = -np.degrees(nod), sign * np.degrees(roll)
    shin = pelvis @ ball_turn(flexion, abduction, rotation, sign) @ turn("y", np.degrees(knee))
    foot = turn("z", sign * yaw) @ turn("y", pitch)
    up, tilt, inward = ball_angles(shin.T @ foot, sign)
    return {
        f"{side} hip flexion": flexion,
        f"{side} hip abduction": abduction,
        f"{side} hip rotation": rotation,
        f"{side} knee flexion": float(np.degrees(knee)),
        f"{side} ankle flexion": up,
        f"{side} ankle inversion": -tilt,
        f"{side} ankle rotation": inward,
    }


_ARM = ("shoulder flexion", "shoulder abduction", "shoulder rotation", "elbow flexion")


def reach_arm(posed, side, wrist, start, *, elbow_height=None, fingers, palm):
    """Return the arm's angles that bring the wrist to a point and the hand to a bearing.

    Damped least squares from the angles of a natural arm near the answer, so that the elbow
    stays where it would hang.

    Parameters
    ----------
    posed : Posed
        With the trunk in place.
    side : str
        One of `SIDES`.
    wrist : float array, shape (3,)
        Where the wrist joint goes. [m]
    start : (float, float, float, float)
        Shoulder flexion, abduction and rotation, and elbow flexion, to begin with. [deg]
    elbow_height : float or None
        Height of the elbow joint, where it rests on something. [m]
    fingers, palm : float array, shape (3,)
        Where the fingers point and the palm faces.
    """
    bones, sign = posed.bones, SIDES[side]
    upper = bones.span(f"{side} upper arm", f"{side} forearm")
    fore = bones.span(f"{side} forearm", f"{side} hand")
    base, origin = posed.turn_of(f"{side} shoulder"), posed.at(f"{side} upper arm")
    down = np.array([0.0, 0.0, -1.0])

    def miss(angles):
        swing = base @ ball_turn(*angles[:3], sign)
        elbow = origin + swing @ (upper * down)
        hand = elbow + swing @ turn("y", -angles[3]) @ (fore * down)
        held = 2e-4 * (angles - start)
        resting = [] if elbow_height is None else [elbow[2] - elbow_height]
        return np.concatenate([hand - wrist, resting, held])

    angles = np.array(start, float)
    start = np.array(start, float)
    for _ in range(25):
        now = miss(angles)
        slope = np.stack([(miss(angles + step) - now) / 0.5 for step in 0.5 * np.eye(4)], axis=1)
        change = np.linalg.lstsq(slope, -now, rcond=None)[0]
        angles = angles + np.clip(change, -15, 15)
        angles[3] = np.clip(angles[3], 2, 145)
        if np.abs(change).max() < 0.01:
            break
    arm = base @ ball_turn(*angles[:3], sign) @ turn("y", -angles[3])
    z = -unit(fingers)
    y = -sign * unit(palm - (palm @ z) * z)
    hand = np.stack([np.cross(y, z), y, z], axis=1)
    pronation, flexion, deviation = hand_angles(arm.T @ hand, sign)
    answer = {f"{side} {name}": float(value) for name, value in zip(_ARM, angles, strict=True)}
    return answer | {
        f"{side} forearm pronation": float(np.clip(pronation, -85, 85)),
        f"{side} wrist flexion": float(np.clip(flexion, -65, 75)),
        f"{side} wrist deviation": float(np.clip(deviation, -19, 29)),
    }
