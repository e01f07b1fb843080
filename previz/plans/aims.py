"""What lamps and cameras are aimed at, as a crew says it."""

from __future__ import annotations

import numpy as np

from previz.plans.lines import LampLine, Point


def aimed_at(target: str) -> str:
    """Return a target of a scene file in words: "clerk's right ear" for 'clerk.right ear'."""
    name, _, part = target.partition(".")
    return f"{name.strip()}'s {part.strip()}" if part and not target.startswith("[") else target


def aim_point(lamp: LampLine) -> Point | None:
    """Return the point that a lamp is aimed at where that is written in numbers, else None. [m]"""
    if not lamp.aim.startswith("[") or lamp.tilt is None or lamp.throw is None:
        return None
    pan, tilt = np.radians(lamp.pan or 0.0), np.radians(lamp.tilt)
    level = lamp.throw * np.cos(tilt)
    x, y, z = np.array(lamp.at) + (level * np.sin(pan), level * np.cos(pan), lamp.throw * np.sin(tilt))
    return float(x), float(y), float(z)
