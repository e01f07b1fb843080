"""What a blocking drawing says in numbers and in words; drawing and rows both take it from here."""

from __future__ import annotations

import numpy as np

from previz.deliver.blocking.views import View
from previz.stage.records import Camera, Stage

SCALES = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
"""Lengths that the scale may show. [m]"""

SCALE_SHARE = 0.16
"""Most of the drawing's width that the scale takes up. [1]"""


def field_of_view(camera: Camera) -> tuple[float, float]:
    """Return the angles that a camera sees across and upwards. [deg]"""
    across, upwards = (float(2 * np.degrees(np.arctan(t))) for t in camera.tan_half)
    return across, upwards


def lamp_heights(stage: Stage) -> dict[str, float]:
    """Return how high the middle of each lamp's face hangs. [m]"""
    return {emitter.name: float(np.asarray(emitter.vertices)[:, 2].mean()) for emitter in stage.emitters}


def hung_by(stage: Stage) -> dict[str, str]:
    """Return what lamps, boards and frames hang by; what stands is left out."""
    return {each.name: each.hung for each in (*stage.rig, *stage.grip) if each.hung}


def scale_length(pixels_per_metre: float, room: float) -> float:
    """Return the longest of `SCALES` that is drawn no wider than `room` pixels. [m]"""
    fitting = [length for length in SCALES if length * pixels_per_metre <= room]
    return fitting[-1] if fitting else SCALES[0]


def scale_of(view: View) -> float:
    """Return the length of the scale on a view from above. [m]"""
    return scale_length(view.pixels_per_metre, view.width * SCALE_SHARE)


def sky_mark(stage: Stage) -> tuple[str, np.ndarray, float] | None:
    """Return ('sun' or 'moon', level direction towards it, height in degrees), None without one."""
    if stage.sun is None:
        return None
    towards = np.asarray(stage.sun.towards, float)
    level = np.hypot(*towards[:2])
    direction = towards[:2] / level if level > 1e-6 else np.zeros(2)
    return stage.lamps[stage.sun.lamp].name, direction, float(np.degrees(np.arctan2(towards[2], level)))
