"""Whose face a camera is on: each face is measured from its own camera."""

from __future__ import annotations

import numpy as np

from previz.frames import Frames
from previz.sight.face_view import faces_of
from previz.stage.records import Camera, Stage

LEAST_FRONTAL = 0.15
"""Cosine below which a face is turned away from a camera: it is seen from behind an ear. [1]"""

REACH = 2
"""How far round a place names are read. [px]"""


def projected(camera: Camera, point: np.ndarray) -> tuple[float, float, float]:
    """Return where a point [m] lies in a camera's frame.

    Returns
    -------
    x, y : float
        From the middle of the frame, 1 at its right and its upper edge; nan behind the camera. [1]
    depth : float
        Along the lens axis. [m]
    """
    right, up, ahead = (np.asarray(point, float) - camera.position) @ camera.world_from_camera
    if ahead <= 0:
        return float("nan"), float("nan"), float(ahead)
    x, y = right / (ahead * camera.tan_half[0]), up / (ahead * camera.tan_half[1])
    return float(x), float(y), float(ahead)


def seen_at(frames: Frames, x: float, y: float) -> set[str]:
    """Return the names of what is seen within `REACH` of a place, which is as from `projected`."""
    rows, columns = frames.shape
    column, row = int((x + 1) / 2 * columns), int((1 - y) / 2 * rows)
    if not (0 <= column < columns and 0 <= row < rows):
        return set()
    index = np.asarray(frames.names_index)[max(0, row - REACH):row + REACH + 1,
                                           max(0, column - REACH):column + REACH + 1]
    return {frames.names[i] for i in np.unique(index) if i >= 0}


def subject_of(stage: Stage, camera: Camera, frames: Frames) -> str | None:
    """Return the figure whose face a camera is on.

    Of the faces that are in the frame, turned to the camera and not hidden, the largest and
    most frontal one; where there is none, the nearest face to the middle of the frame.
    """
    best, chosen = -np.inf, None
    for name in faces_of(stage):
        place = np.asarray(stage.places[f"{name}.face"], float)
        ahead = next(p.normal for p in stage.probes if p.name.startswith(f"{name}: face"))
        x, y, depth = projected(camera, place)
        towards = camera.position - place
        frontal = float(ahead @ towards / np.linalg.norm(towards))
        inside = abs(x) < 1 and abs(y) < 1
        if inside and frontal > LEAST_FRONTAL and name in seen_at(frames, x, y):
            score = frontal / depth**2
        else:
            away = np.hypot(x, y)
            score = -1 - (away if np.isfinite(away) else 1e6)
        if score > best:
            best, chosen = score, name
    return chosen
