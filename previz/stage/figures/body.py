"""A stand-in figure's skeleton and eyes, settled in their pose at true size."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np

from previz.scene.joints import JOINT_RANGES
from previz.stage.figures.data import body_data
from previz.stage.figures.dress import garments, suit
from previz.stage.figures.eyes import Eye, aim
from previz.stage.figures.grip import arm_of, with_grip
from previz.stage.figures.pose import SIDES, Posed, share_of, skeleton
from previz.stage.figures.shoes import SOLE, shoe
from previz.stage.figures.skin import head_shape
from previz.stage.figures.stance import STANCES, Surroundings, look_at, placed

_PRESS = 0.014
"""How far seat and ground press into cloth and flesh. Common practice, no source. [m]"""


@dataclass(frozen=True)
class Body:
    """A settled skeleton.

    Parameters
    ----------
    person, pose : str
    scale : float
        True size over the unit scale of the body data.
    posed : Posed
        At unit scale, in body axes over the floor.
    angles : dict of float
        [deg]
    eyes : tuple of Eye
        At true size.
    seat : float
        Height of the seat, at true size. [m]
    notes : tuple of str
    """

    person: str
    pose: str
    scale: float
    posed: Posed
    angles: dict[str, float]
    eyes: tuple[Eye, ...]
    seat: float
    notes: tuple[str, ...]

    def with_head(self, part):
        """Return a part that rests on the head, in the pose; what follows its normals stays."""
        points, faces, normals, *more = part
        turn = self.posed.turn_of("head")
        return self.scale * self.posed.carry("head", points), faces, normals @ turn.T, *more


@cache
def unit_stature(person):
    """Return the bare standing height of one person at unit scale. [m]"""
    stance = STANCES["standing"](skeleton(person), _surroundings(person, 0.0, 0.4, 0.7), {})
    return float(stance.posed.carry("head", head_shape(person).crown)[:, 2].max())


def _surroundings(person, sole, seat, table):
    """Return what a pose rests on, at unit scale."""
    data, wear, cloth = body_data(), suit(), garments(person)
    sat_on = np.flatnonzero(share_of(wear.weights, "thigh", "pelvis") > 0.6)
    trunk = np.flatnonzero(share_of(wear.weights, "spine", "pelvis", "shoulder", "clavicle") > 0.8)
    head = head_shape(person).points
    skull = head[head[:, 2] > data.eyes[data.people.index(person), 0, 2] - 0.02][::5]

    def under(posed):
        return posed.skin(cloth[sat_on], wear.weights[sat_on])[:, 2].min() + _PRESS

    def back(posed):
        # Hair under the head is pressed to about 6 mm.
        rest = posed.skin(cloth[trunk], wear.weights[trunk])[:, 2].min() + _PRESS
        return posed.carry("head", skull)[:, 2].min() - 0.006, rest

    return Surroundings(sole=sole, seat=seat, table=table, under=under, back=back)


# Whoever has eyes on somebody is settled several times, each time in the same stance.
@lru_cache(48)
def _stance(person, pose_name, sole, seat, table, joints):
    """Return the stance of a person, before the head turns; lengths at unit scale, joints as pairs."""
    around = _surroundings(person, sole, seat, table)
    return STANCES[pose_name](skeleton(person), around, dict(joints))


def settle(person, stature, pose_name, seat, table, target, joints, turn_deg, tilt_deg, grips=()):
    """Return a body in its pose.

    Parameters
    ----------
    person, pose_name : str
        Who, and one of `STANCES`.
    stature, seat, table : float
        [m]
    target : float array, shape (3,), or None
        What the eyes are on, in body axes over the floor. [m]
    joints : dict of float
        Angles that replace the pose's own. [deg]
    turn_deg, tilt_deg : float
        Of the head to the left and of the chin upwards, on top of the pose. [deg]
    grips : tuple of (side, grip)
        What hands do, of `scene.figure.GRIPS`.
    """
    for side, grip in grips:
        joints = arm_of(grip, side, pose_name) | joints
    data, bones = body_data(), skeleton(person)
    scale = stature / unit_stature(person)
    early = {name: value for name, value in joints.items() if name.startswith(("pelvis", "trunk"))}
    stance = _stance(person, pose_name, SOLE / scale, seat / scale, table / scale,
                     tuple(sorted(early.items())))
    angles = stance.angles | joints
    if "neck rotation" not in joints:
        angles["neck rotation"] = _held("neck rotation", angles, turn_deg)
    if "neck flexion" not in joints:
        angles["neck flexion"] = _held("neck flexion", angles, -tilt_deg)
    stance = replace(stance, angles=angles, posed=placed(bones, angles, stance.posed.at("pelvis")))
    eyes = data.eyes[data.people.index(person)]
    if target is not None:
        angles |= look_at(stance, eyes[:, :3], target / scale, set(joints))
    posed = placed(bones, angles, stance.posed.at("pelvis"))
    if pose_name in ("standing", "walking"):
        posed = posed.moved(np.array([0.0, 0.0, -_lowest(person, SOLE / scale, posed)]))
    for side, grip in grips:
        posed = with_grip(posed, person, side, grip)
    head, notes = posed.turn_of("head"), list(stance.notes)
    centres = scale * posed.carry("head", eyes[:, :3])
    ahead = centres.mean(axis=0) + 3.0 * head[:, 0]
    gaze_point = ahead if target is None else target
    pair = tuple(aim(centre, scale * radius, head, gaze_point)
                 for centre, radius in zip(centres, eyes[:, 3], strict=True))
    if not all(eye.reached for eye in pair):
        notes.append("the point looked at is out of reach of eyes and neck")
    return Body(person, pose_name, scale, posed, angles, pair, seat, tuple(notes))


def _held(name, angles, more):
    """Return a neck angle with more added, kept inside its range. [deg]"""
    return float(np.clip(angles.get(name, 0.0) + more, *JOINT_RANGES[name]))


def _lowest(person, sole, posed):
    """Return the height of the lower shoe. [m]"""
    return min(shoe(person, side, sole, posed)[0][:, 2].min() for side in SIDES)
