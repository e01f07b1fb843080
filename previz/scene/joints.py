"""Joints of a figure: their names, how far each turns, the short names that crews use, and their reading.

All angles are 0 in the upright stance with straight legs and arms that hang with the palms
towards the thighs.
"""

from __future__ import annotations

from typing import Any

from previz.scene.fields import INVALID, Field
from previz.scene.nodes import Map, Node
from previz.scene.values import Reading, parsed, text_of
from previz.scene.words import did_you_mean
from previz.units import quote

_SIDED_RANGES = {
    "shoulder flexion": (-60.0, 180.0),
    "shoulder abduction": (-45.0, 180.0),
    "shoulder rotation": (-90.0, 90.0),
    "elbow flexion": (0.0, 150.0),
    "forearm pronation": (-90.0, 90.0),
    "wrist flexion": (-70.0, 80.0),
    "wrist deviation": (-20.0, 30.0),
    "fingers curl": (0.0, 90.0),
    "hip flexion": (-30.0, 125.0),
    "hip abduction": (-30.0, 45.0),
    "hip rotation": (-45.0, 45.0),
    "knee flexion": (0.0, 145.0),
    "ankle flexion": (-50.0, 25.0),
    "ankle inversion": (-20.0, 35.0),
    "ankle rotation": (-25.0, 25.0),
    "toes flexion": (-70.0, 40.0),
}

JOINT_RANGES = {
    "pelvis tilt": (-120.0, 40.0),
    "pelvis bend": (-15.0, 15.0),
    "pelvis turn": (-20.0, 20.0),
    "trunk flexion": (-30.0, 85.0),
    "trunk bend": (-35.0, 35.0),
    "trunk rotation": (-45.0, 45.0),
    "neck flexion": (-45.0, 50.0),
    "neck bend": (-45.0, 45.0),
    "neck rotation": (-80.0, 80.0),
    **{f"left {name}": limits for name, limits in _SIDED_RANGES.items()},
    **{f"right {name}": limits for name, limits in _SIDED_RANGES.items()},
}
"""Joint -> least and greatest angle. [deg]

Flexion is forwards or towards the palm, of a knee backwards, of an ankle toes up; abduction is
away from the body; shoulder, hip and ankle rotation is inwards; pronation turns the palm back;
bend is to the figure's left, trunk and neck rotation and pelvis turn likewise; pelvis tilt is
forwards (negative leans back, down to lying).

Source: from memory, the ranges of active motion that clinical goniometry prints (about 180° of
shoulder flexion, 150° elbow, 80° wrist, 120° hip, 135° knee, 20° / 50° ankle), a little widened
where a figure needs it; the pelvis and toes are common practice, no source.
"""

JOINT_WORDS = (
    f"{', '.join(name for name in JOINT_RANGES if name[:5] not in ('left ', 'right'))}; and, each "
    f"with left or right before it, {', '.join(_SIDED_RANGES)}"
)
"""Every joint, for messages."""

_SHORT = {"elbow": "elbow flexion", "knee": "knee flexion", "fingers": "fingers curl"}

SHORT_JOINTS = {
    f"{side} {name}": f"{side} {full}" for side in ("left", "right") for name, full in _SHORT.items()
}
"""Joints that turn about one axis alone, and may be written without it."""

PATTERN = (
    f"^({'|'.join(name for name in JOINT_RANGES if name[:5] not in ('left ', 'right'))}|"
    f"(left|right) ({'|'.join((*_SIDED_RANGES, *_SHORT))}))$"
)
"""Every name of a joint as a regular expression."""


def full_name(joint: str) -> str | None:
    """Return a joint of `JOINT_RANGES` by its name or its short name, None for no joint."""
    name = SHORT_JOINTS.get(joint, joint)
    return name if name in JOINT_RANGES else None


def read_joints(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    """Return the angles of joints as (name in full, angle [deg]) pairs, or INVALID; a `values.Reader`."""
    if not isinstance(node, Map):
        message = f"{subject} is not a group of joints"
        return reading.refuse(node.place, message, f"Write for example {quote(entry.example)}.")
    found, sound = {}, True
    for key, value in node.pairs():
        name = full_name(key.text)
        if name is None:
            known = (*JOINT_RANGES, *SHORT_JOINTS)
            advice = f"{did_you_mean(key.text, known)}Its joints are: {JOINT_WORDS}."
            reading.refuse(key.place, f"{subject} has no joint {quote(key.text)}", advice)
            sound = False
            continue
        if name in found:
            message = f"{subject} has {quote(name)} twice"
            reading.refuse(key.place, message, "Keep one of the two.")
            sound = False
        low, high = JOINT_RANGES[name]
        angle = Field("quantity", "", dimension="angle", minimum=low, maximum=high,
                      example="40 deg")
        where = f"{quote(key.text)} in {subject}"
        text = text_of(reading, value, where, "Write for example '40 deg'.")
        found[name] = (text if text is INVALID
                       else parsed(reading, value.place, text, angle, where))
        sound &= found[name] is not INVALID
    return tuple(found.items()) if sound else INVALID
