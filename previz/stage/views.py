"""Turn the scene's cameras and meters into the stage's."""

from __future__ import annotations

import zlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.physics import lens
from previz.physics.exposure import f_number, shutter_time
from previz.physics.stops import PLAIN, MapSettings, Zone
from previz.physics.taking import Iris, Optics
from previz.scene.camera import NEAREST_FOCALS
from previz.stage import shapes
from previz.stage.heads import Head
from previz.stage.outdoors import sky_direction
from previz.stage.records import Camera, Patch, Probe
from previz.stage.show_files import shown_through

if TYPE_CHECKING:
    from previz.scene.camera import Camera as Written
    from previz.scene.camera import SpotPatch
    from previz.scene.stop_map import StopMap

NEAREST_FOCUS = 0.05
"""A lens is never focused nearer than this. [m]"""


def camera_axes(position, target, roll_deg: float) -> np.ndarray:
    """Return world-from-camera axes (columns right, up, forward)."""
    # Aimed axes point left; a camera that leans clockwise carries its right side down.
    return shapes.aimed(np.subtract(target, position), np.radians(roll_deg)) * [-1, 1, 1]


def frame_tangents(sensor, focal: float, aspect: float, squeeze: float) -> tuple[float, float]:
    """Return tan of half the angles of view of the delivered frame, across and up.

    `focal` is the distance before the sensor that the angle goes by; see `lens.view_distance`.

    The largest frame of the delivered aspect that fits on the sensor is taken from its middle.
    """
    width, height = sensor[0] * squeeze, sensor[1]
    if width / height > aspect:
        width = height * aspect
    else:
        height = width / aspect
    return width / (2 * focal), height / (2 * focal)


def lens_radius(camera: Written, focus: float) -> float:
    """Return the radius of the pupil that pictures are taken through at a distance of focus. [m]"""
    number = f_number(camera.stop, camera.lens_transmission)
    return lens.drawn_pupil(camera.lens, f_number=number, focus=focus,
                            breathing=camera.breathing) / 2


def latitude_of(camera: Written) -> dict[str, float | None]:
    """Return what a camera holds over and under grey, as the stage's record has it. [stops]"""
    held = camera.latitude
    return {"over": None, "under": None} if held is None else {"over": held.over, "under": held.under}


def map_of(made: StopMap | None) -> MapSettings:
    """Return what exposure maps show."""
    if made is None:
        return PLAIN
    zones = sorted((Zone(each.name, *each.stops) for each in made.zones), key=lambda zone: zone.low)
    return MapSettings(made.steps == "half", made.clip, made.crush, tuple(zones))


def build_camera(camera: Written, aim: np.ndarray, focus: np.ndarray | float) -> Camera:
    """Return the stage's camera.

    `aim` is the point in the middle of the picture, shape (3,) [m]; `focus` the point in focus, or its
    distance along the axis [m].
    """
    position = np.asarray(camera.at, float)
    axes = camera_axes(position, aim, camera.roll)
    distance = focus if np.isscalar(focus) else float((focus - position) @ axes[:, 2])
    near = max(float(distance), NEAREST_FOCUS, NEAREST_FOCALS * camera.lens)
    seen = lens.view_distance(camera.lens, near, breathing=camera.breathing)
    return Camera(
        name=camera.name, world_from_camera=axes, position=position,
        tan_half=frame_tangents(camera.sensor, seen, camera.aspect, camera.squeeze),
        aspect=camera.aspect, lens_radius=lens_radius(camera, near),
        focus=near, stop=camera.stop, iso=camera.iso,
        shutter_s=float(shutter_time(camera.shutter, camera.fps)), nd_density=camera.nd,
        white_balance=camera.white_balance, tint=camera.green, focal=camera.lens,
        sensor=tuple(camera.sensor), **latitude_of(camera), show=shown_through(camera),
        **taking_of(camera, seen))


def taking_of(camera: Written, seen: float) -> dict[str, Any]:
    """Return the pupil's shape and the optics of a camera, as the stage's record has them.

    `seen` is the distance before the sensor that the angle of view goes by. [m]
    """
    made = camera.optics
    if made is None:
        return {"iris": None, "optics": None}
    iris = None if made.blades is None else Iris(round(made.blades), made.blade_turn)
    amounts = {name: getattr(made, name) for name in ("bloom", "veiling_glare", "vignette", "grain")}
    if not any(amounts.values()):
        return {"iris": iris, "optics": None}
    tangents = frame_tangents(camera.sensor, seen, camera.aspect, camera.squeeze)
    frame = 2 * seen * tangents[0] / camera.squeeze, 2 * seen * tangents[1]
    # The same camera has the same grain each time, and another another.
    return {"iris": iris, "optics": Optics(tangents, frame, zlib.crc32(camera.name.encode()), **amounts,
                                           grain_size=made.grain_size)}


DOME = ", dome"
"""What follows the name of a flat meter in the name of the domed one at the same place."""

DOME_OFF_SKIN = 0.03
"""How far before a face the middle of a domed receptor is held. [m]"""

FLAT_OFF_SKIN = 0.004
"""How far off the skin a flat receptor lies. [m]"""


def meter_probes(name: str, position, normal) -> list[Probe]:
    """Return a flat and a domed meter at one place.

    Parameters
    ----------
    name : str
        Name of the flat one; the other's ends in `DOME`.
    position, normal : float array, shape (3,)
        Where they are [m] and where they face, any length.
    """
    facing = np.asarray(normal, float) / np.linalg.norm(normal)
    at = np.asarray(position, float)
    return [Probe(name, at, facing), Probe(name + DOME, at, facing, dome=True)]


def face_probes(head: Head, anchors) -> list[Probe]:
    """Return the meters of a face: each cheek, the forehead, under the chin, and the face's front.

    Each place has a flat receptor on the skin and a domed one held just before it. A cheek is
    metered as a plane turned 45 degrees from where the face points, so that each side of the face
    has one reading (common practice, no source).

    `anchors` are those of its figure, name -> (position [m], normal).
    """
    forward, left, up = head.ahead, head.left, head.up
    facing = {"left cheek": forward + left, "right cheek": forward - left,
              "forehead": forward + 0.5 * up, "under chin": 0.3 * forward - up, "face": forward}
    probes = []
    for part, normal in facing.items():
        at, normal = np.asarray(anchors[part][0], float), normal / np.linalg.norm(normal)
        flat, dome = meter_probes(f"{head.figure}: {part}", at, normal)
        # The middle of the face is its nose: a flat receptor has no place there.
        if part != "face":
            probes.append(replace(flat, position=at + normal * FLAT_OFF_SKIN))
        probes.append(replace(dome, position=at + normal * DOME_OFF_SKIN))
    return probes


def mark_probes(head: Head) -> list[Probe]:
    """Return the flat and the domed meter at a mark, held before where the face is.

    They are there whether or not the figure is: an empty mark is metered as a stand-in's place is
    before the actor comes.
    """
    # 'porter at window', but 'porter by the door'.
    at = "" if head.mark.split()[0].lower() in _WHERE else "at "
    place = head.face + DOME_OFF_SKIN * head.ahead
    return meter_probes(f"{head.figure} {at}{head.mark}", place, head.ahead)


_WHERE = ("at", "by", "in", "on", "under", "near", "before", "behind", "beside", "below", "above",
          "outside", "inside", "with", "against", "between")


def patch_of(spot: SpotPatch, north_deg: float) -> Patch:
    """Return a spot of the scene as the place that it is metered at; north as in `compass`."""
    camera = "" if spot.camera is None else spot.camera.name
    if spot.azimuth is not None:
        return Patch(spot.name, camera, angle_deg=spot.angle,
                     towards=sky_direction(spot.azimuth, spot.altitude, north_deg))
    size = None if spot.width is None else (spot.width, spot.height)
    return Patch(spot.name, camera, (spot.across, spot.down), size, spot.angle)


def patch_view(camera: Camera, patch: Patch) -> tuple[Camera, tuple[float, float, float, float, bool]]:
    """Return the camera that is pointed at a patch, and where in its picture that is.

    Returns
    -------
    Camera
        As given, or turned to the sky with a picture as wide as the patch.
    (float, float, float, float, bool)
        Middle from the left and the top, half its extent across and up, all as shares of the picture;
        True for an ellipse. [1]

    Limits
    ------
    A round patch off the middle of a picture is as large on the film as one in the middle.
    """
    half = float(np.tan(np.radians(patch.angle_deg / 2)))
    if patch.towards is not None:
        axes = camera_axes(np.zeros(3), patch.towards, 0.0)
        turned = replace(camera, world_from_camera=axes, tan_half=(half, half), aspect=1.0)
        return turned, (0.5, 0.5, 0.5, 0.5, True)
    if patch.size is not None:
        return camera, (*patch.middle, patch.size[0] / 2, patch.size[1] / 2, False)
    return camera, (*patch.middle, half / (2 * camera.tan_half[0]), half / (2 * camera.tan_half[1]), True)
