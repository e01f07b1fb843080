"""Turn the scene's cameras and meters into the stage's."""

from __future__ import annotations

import numpy as np

from previz.physics.exposure import f_number, shutter_time
from previz.stage.records import Camera, Probe

NEAREST_FOCUS = 0.05
"""A lens is never focused nearer than this. [m]"""


def camera_axes(position, target, roll_deg: float) -> np.ndarray:
    """Return world-from-camera axes (columns right, up, forward)."""
    forward = np.asarray(target, float) - np.asarray(position, float)
    forward = forward / np.linalg.norm(forward)
    up = np.array([0.0, 0, 1]) if abs(forward[2]) < 0.9999 else np.array([0.0, 1, 0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    # A camera that leans clockwise carries its right side down.
    return np.stack([right * c - up * s, up * c + right * s, forward], axis=1)


def frame_tangents(sensor, focal: float, aspect: float, squeeze: float) -> tuple[float, float]:
    """Return tan of half the angles of view of the delivered frame, across and up.

    The largest frame of the delivered aspect that fits on the sensor is taken from its middle.
    """
    width, height = sensor[0] * squeeze, sensor[1]
    if width / height > aspect:
        width = height * aspect
    else:
        height = width / aspect
    return width / (2 * focal), height / (2 * focal)


def lower_camera(camera, aim: np.ndarray, focus: np.ndarray | float) -> Camera:
    """Return the stage's camera.

    Parameters
    ----------
    camera : scene.camera.Camera
    aim : float array, shape (3,)
        The point in the middle of the picture. [m]
    focus : float array, shape (3,), or float
        The point in focus, or the distance along the axis. [m]
    """
    position = np.asarray(camera.at, float)
    axes = camera_axes(position, aim, camera.roll)
    distance = focus if np.isscalar(focus) else float((focus - position) @ axes[:, 2])
    number = f_number(camera.stop, camera.lens_transmission)
    return Camera(
        name=camera.name, world_from_camera=axes, position=position,
        tan_half=frame_tangents(camera.sensor, camera.lens, camera.aspect, camera.squeeze),
        aspect=camera.aspect, lens_radius=camera.lens / (2 * number),
        focus=max(float(distance), NEAREST_FOCUS), stop=camera.stop, iso=camera.iso,
        shutter_s=float(shutter_time(camera.shutter, camera.fps)), nd_density=camera.nd,
        white_balance=camera.white_balance, tint=camera.tint, focal=camera.lens,
        sensor=tuple(camera.sensor))


def face_probes(name: str, anchors, forward) -> list[Probe]:
    """Return the meters of a face: each cheek, the forehead, under the chin, and a dome in front.

    A cheek is metered as a plane turned 45 degrees from where the face points, so that each side
    of the face has one reading (common practice, no source).
    """
    forward = np.asarray(forward, float)
    up = np.array([0.0, 0, 1]) - forward * forward[2]
    up /= np.linalg.norm(up)
    left = np.cross(up, forward)
    sides = {"left cheek": forward + left, "right cheek": forward - left,
             "forehead": forward + 0.5 * up, "under chin": 0.3 * forward - up}
    probes = []
    for part, normal in sides.items():
        probes.append(Probe(f"{name}: {part}", np.asarray(anchors[part][0]) + normal * 0.004,
                            normal / np.linalg.norm(normal)))
    probes.append(Probe(f"{name}: face, dome", np.asarray(anchors["face"][0]) + forward * 0.03,
                        forward, dome=True))
    return probes
