"""Joints and anchors of the stand-in figures."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from previz.scene.joints import JOINT_RANGES
from previz.stage.figures.anchors import ANCHORS
from previz.stage.figures.body import settle
from previz.stage.figures.build import PEOPLE, STANCES, STYLES, FigureSpec, build_figure
from previz.stage.figures.pose import (
    ball_angles,
    ball_turn,
    hand_angles,
    hand_turn,
    pose,
    skeleton,
)

UP = np.array([0.0, 0.0, 1.0])


@lru_cache(maxsize=16)
def figure(person, pose_name="standing", **more):
    return build_figure(FigureSpec(person, pose=pose_name, **more))


@pytest.mark.parametrize("person", PEOPLE)
@pytest.mark.parametrize("pose_name", STANCES)
def test_poses_keep_to_the_joints_ranges(person, pose_name):
    """Every angle of every pose, also on low and high seats, lies in the range of its joint."""
    for seat in (0.33, 0.45, 0.60):
        body = settle(person, 1.70, pose_name, seat, seat + 0.28, None, {}, 0.0, 0.0)
        for name, angle in body.angles.items():
            low, high = JOINT_RANGES[name]
            assert low <= angle <= high, f"{name} {angle:.0f} deg on a seat of {seat}"


def test_joint_ranges_hold_the_clinical_ones():
    """Ranges are at least those of clinical goniometry, within 15 degrees of them."""
    # From memory, active motion as goniometry handbooks print it, in degrees.
    clinical = {
        "left shoulder flexion": 180, "left shoulder abduction": 180, "left elbow flexion": 150,
        "left wrist flexion": 80, "left hip flexion": 120, "left hip abduction": 45,
        "left knee flexion": 135, "left ankle flexion": 20, "neck rotation": 80,
    }
    for name, angle in clinical.items():
        assert angle <= JOINT_RANGES[name][1] <= angle + 15


def test_zero_stance_is_upright():
    """With all angles 0, arms and legs hang straight down and the toes point ahead."""
    posed = pose(skeleton("person two"), {})
    for side in ("left", "right"):
        for start, end in (
            ("upper arm", "forearm"), ("forearm", "hand"), ("thigh", "shank"), ("shank", "foot"),
        ):
            bone = posed.at(f"{side} {end}") - posed.at(f"{side} {start}")
            np.testing.assert_allclose(bone / np.linalg.norm(bone), -UP, atol=1e-9)
        foot = posed.at(f"{side} toes") - posed.at(f"{side} foot")
        assert foot[0] > 0 and abs(foot[1]) < 1e-9


@pytest.mark.parametrize(
    ("joint", "bone", "end", "direction"),
    [
        # What each word means: flexion brings the limb forwards, abduction away from the body.
        ("left elbow flexion", "left forearm", "left hand", (1, 0, 0)),
        ("right elbow flexion", "right forearm", "right hand", (1, 0, 0)),
        ("left shoulder flexion", "left upper arm", "left forearm", (1, 0, 0)),
        ("left shoulder abduction", "left upper arm", "left forearm", (0, 1, 0)),
        ("right shoulder abduction", "right upper arm", "right forearm", (0, -1, 0)),
        ("left hip flexion", "left thigh", "left shank", (1, 0, 0)),
        ("right hip abduction", "right thigh", "right shank", (0, -1, 0)),
        ("left knee flexion", "left shank", "left foot", (-1, 0, 0)),
    ],
)
def test_a_right_angle_goes_where_its_name_says(joint, bone, end, direction):
    """Ninety degrees of a joint brings the bone beyond it level, in the named direction."""
    if JOINT_RANGES[joint][1] < 90:
        joint_angle, expected = 30.0, np.sin(np.radians(30.0))
    else:
        joint_angle, expected = 90.0, 1.0
    posed = pose(skeleton("person one"), {joint: joint_angle})
    limb = posed.at(end) - posed.at(bone)
    assert limb / np.linalg.norm(limb) @ np.array(direction) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_angles_of_a_turn_are_those_it_was_made_of(sign):
    """Splitting a ball joint or a hand gives back the angles it was put together from."""
    for angles in ((20.0, -35.0, 50.0), (-70.0, 10.0, -5.0), (85.0, 40.0, 30.0)):
        assert ball_angles(ball_turn(*angles, sign), sign) == pytest.approx(angles, abs=1e-9)
    for angles in ((60.0, -20.0, 15.0), (-80.0, 45.0, -18.0)):
        assert hand_angles(hand_turn(*angles, sign), sign) == pytest.approx(angles, abs=1e-9)


def test_head_turn_and_tilt():
    """The head turns to the figure's left and the chin rises, by the requested angle."""
    def ahead(turn_deg, tilt_deg):
        body = settle(
            "person one", 1.75, "standing", 0.45, 0.75, None, {}, turn_deg, tilt_deg
        )
        return body.posed.turn_of("head")[:, 0]

    straight, turned, raised = ahead(0.0, 0.0), ahead(35.0, 0.0), ahead(0.0, 17.0)
    yaw = np.degrees(np.arctan2(turned[1], turned[0]) - np.arctan2(straight[1], straight[0]))
    # The turn is shared over a neck that leans by a few degrees, so it is exact to about 1 degree.
    assert yaw == pytest.approx(35.0, abs=1.5)
    rise = np.degrees(np.arcsin(raised[2]) - np.arcsin(straight[2]))
    assert rise == pytest.approx(17.0, abs=1.5)


def test_a_joint_of_a_request_is_kept():
    """An angle given for a joint replaces the pose's own, and the figure stays on the floor."""
    built = figure_with({"right shoulder flexion": 80.0, "right elbow flexion": 40.0})
    assert built.joints["right shoulder flexion"] == 80.0
    raised = built.anchors["right hand"][0][2] - built.anchors["left hand"][0][2]
    # An arm of about 0.7 m raised to the level of the shoulder.
    assert raised > 0.4
    assert built.part("shoes").vertices[:, 2].min() == pytest.approx(0.0, abs=1e-9)


def figure_with(joints):
    return build_figure(FigureSpec("person three", joints=joints))


def triangles(built):
    """Return all corners of a figure, (face, 3, 3), and the middles of its faces."""
    corners = np.concatenate([part.vertices[part.faces] for part in built.parts])
    return corners, corners.mean(axis=1)


def covered(corners, middles, point, direction, reach):
    """Return whether a ray meets triangles within reach (Möller and Trumbore 1997)."""
    near = np.linalg.norm(middles - point, axis=1) < reach + 0.05
    one, two, three = (corners[near, k] for k in range(3))
    edge1, edge2 = two - one, three - one
    across = np.cross(direction, edge2)
    size = np.einsum("ij,ij->i", edge1, across)
    size = np.where(np.abs(size) < 1e-16, np.inf, size)
    gap = point - one
    turned = np.cross(gap, edge1)
    u = np.einsum("ij,ij->i", gap, across) / size
    v = turned @ direction / size
    distance = np.einsum("ij,ij->i", edge2, turned) / size
    # Marks on the middle line lie exactly on edges, so edges count as hit.
    inside = (u > -1e-6) & (v > -1e-6) & (u + v < 1 + 1e-6)
    return bool(np.any(inside & (distance > 1e-9) & (distance < reach)))


@pytest.mark.parametrize(
    ("person", "pose_name"),
    [("person one", "standing"), ("person two", "standing"), ("person six", "standing"),
     ("person two", "seated"), ("person three", "leaning"), ("person four", "walking"),
     ("person five", "lying")],
)
def test_anchors_are_outside_and_face_outwards(person, pose_name):
    """Each anchor is 2 mm off a surface, nothing covers it, and its normal is of length 1."""
    built = figure(person, pose_name)
    assert tuple(built.anchors) == ANCHORS
    faces = triangles(built)
    bald = figure(person, pose_name, hair="none").anchors
    on_hair = {name for name in ANCHORS if np.linalg.norm(bald[name][0] - built.anchors[name][0]) > 1e-4}
    assert on_hair <= {"crown", "left ear", "right ear"}
    for name, (point, normal) in built.anchors.items():
        assert np.linalg.norm(normal) == pytest.approx(1.0, abs=1e-9)
        # 20 mm of free space: a meter's receptor put there sees out.
        assert not covered(*faces, point, normal, 0.02), name
        if name != "hands":
            # The surface it was lifted from lies straight behind it; of hair, whose strands have gaps,
            # strands lie behind it, and one of them as near as that surface, to its unevenness.
            behind = 0.0021 if name not in on_hair else 0.03
            assert covered(*faces, point, -normal, behind), name
            if name in on_hair:
                assert np.linalg.norm(built.part("strands").vertices - point, axis=1).min() < 8e-3, name


@pytest.mark.parametrize("style", STYLES)
def test_the_crown_anchor_lies_on_the_hair(style):
    """Hair carries the anchor of the crown outwards."""
    bald = figure("person six", hair="none").anchors["crown"][0]
    lifted = figure("person six", hair=style).anchors["crown"][0][2] - bald[2]
    # Hair over the crown is 0 to 30 mm deep.
    assert (lifted == 0) if style == "none" else (2e-3 < lifted < 0.03)


@pytest.mark.parametrize(
    ("person", "facing"), list(zip(PEOPLE, (0.0, 2.5, -1.0, 0.0, 4.0, 1.0), strict=True))
)
def test_anchors_are_where_their_names_say(person, facing):
    """Left is the figure's left, front is where it faces, and the order down the body holds."""
    anchors = figure(person, facing=facing).anchors
    ahead = np.array([np.cos(facing), np.sin(facing), 0.0])
    left = np.cross(UP, ahead)
    for name in ("eye", "cheek", "ear", "hand", "knee", "foot"):
        across_body = anchors[f"left {name}"][0] - anchors[f"right {name}"][0]
        assert across_body @ left > 0.04, name
    for name in ("eyes", "face", "forehead", "nose", "mouth", "chin", "chest", "hips"):
        assert anchors[name][1] @ ahead > 0.5, name
    assert anchors["back"][1] @ ahead < -0.5
    assert anchors["under chin"][1][2] < -0.3
    assert anchors["crown"][1][2] > 0.8
    for side, sign in (("left", 1), ("right", -1)):
        assert sign * anchors[f"{side} ear"][1] @ left > 0.4
        assert anchors[f"{side} foot"][1][2] > 0.8
    downwards = [
        "crown", "forehead", "eyes", "nose", "mouth", "chin", "under chin", "chest", "hips",
        "left knee", "left foot",
    ]
    heights = [anchors[name][0][2] for name in downwards]
    assert heights == sorted(heights, reverse=True)
    assert anchors["nose"][0] @ ahead > anchors["chin"][0] @ ahead


def test_eye_anchors_are_the_pupils():
    """The eyes anchor stands between the pupils; each eye's stands just before its cornea."""
    built = figure("person four")
    pupils = [eye.pupil for eye in built.eyes]
    middle = np.mean(pupils, axis=0)
    # It is lifted forwards off the bridge of the nose, and nowhere else.
    np.testing.assert_allclose(built.anchors["eyes"][0][1:], middle[1:], atol=3e-3)
    assert 0.0 < built.anchors["eyes"][0][0] - middle[0] < 0.04
    for side, eye in zip(("left", "right"), built.eyes, strict=True):
        # Lashes may carry it a few mm further out than the 2 mm off the cornea.
        gap = np.linalg.norm(built.anchors[f"{side} eye"][0] - eye.apex)
        assert 1.5e-3 < gap < 15e-3
