"""Joints of a figure as they are written: names to angles, each held to what a body can do."""

from __future__ import annotations

from typing import Any

from previz.scene.fields import INVALID, Field
from previz.scene.joints import JOINT_RANGES, JOINT_WORDS, SHORT_JOINTS, full_name
from previz.scene.nodes import Map, Node
from previz.scene.values import Reading, parsed, text_of
from previz.scene.words import did_you_mean
from previz.units import quote


def read_joints(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    """Return the angles of joints as (name in full, angle [deg]) pairs, or INVALID.

    Parameters
    ----------
    reading, node, entry, subject
        As the readers take them.
    """
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
