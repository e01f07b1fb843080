"""The lamp that gives the second shot of a cut the key of the first: its direction, level and colour.

The key is placed as the first shot's camera has it, seen from the second shot's face; what the second
shot's own key lamps gave is left out, and what its other lamps give is counted.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.errors import RequestError
from previz.exposure.camera import working_illuminance
from previz.exposure.comparing.match import balance_for
from previz.exposure.comparing.measures import KeySource
from previz.exposure.faces import CHEEKS, cheeks_of
from previz.exposure.metering import Measured, Mixed, from_working
from previz.physics.colourtemp import xy_from_cct_duv, xyz_from_xy
from previz.rendering.job import StageJob
from previz.rendering.request import Request
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.sight.face_view import head_of
from previz.stage.build import build_stage
from previz.stage.outdoors import SUN
from previz.stage.records import Camera
from previz.studies.match import Matched, Take
from previz.studies.measures import OptionMeters
from previz.studies.outside import (
    NEAREST,
    SMALL,
    AddedLamp,
    beam_over,
    colour_of,
    fitted,
    focused,
    free_name,
    place_along,
    soft,
)
from previz.studies.sun_lamp import without_sun

NAME = "matching key"
"""What it is called, as long as nothing else is."""

FAR = 10.0
"""How far it stands where the first shot's key does not say. [m]  Common practice, no source."""

GRAZING = 0.15
"""A lamp that a cheek's meter sees at less than this cosine is no key for it. [1]"""


def direction_for(key: KeySource, camera: Camera, nose: np.ndarray) -> np.ndarray:
    """Return the unit vector from a face towards where a key stands as a camera has it.

    `key` was measured by another camera on another face; its side and height are kept. The inverse of
    `comparing.views.bearing` about the line from the nose to the camera. [m]
    """
    back = np.asarray(camera.position, float) - nose
    level = np.array([0.0, 0.0, 1.0])
    front = back - level * (back @ level)
    front /= np.linalg.norm(front)
    side, height = np.radians(-key.side), np.radians(key.height)
    turned = np.cos(side) * front + np.sin(side) * np.cross(front, level)
    return np.asarray(np.cos(height) * turned + np.sin(height) * level)


def lamp_to_match(matched: Matched, takes: tuple[Take, Take], request: Request, *,
                  throw: float | None = None) -> AddedLamp:
    """Return the lamp that gives the second shot the first shot's key.

    Parameters
    ----------
    matched : Matched
        The two shots, measured.
    takes : (Take, Take)
        What they were taken of.
    request : Request
        Of the meters.
    throw : float, optional
        From the lamp to the opening that it shines through, or to the face; by default as far as the
        first shot's key is from its face, where that is a lamp. [m]

    Raises
    ------
    RequestError
        One of the shots has no face or the first no key; the key comes from behind the second's face; the
        second has too much light without its key; or the lamp has no room.
    """
    one, two = (shot.side for shot in matched.shots)
    if one.measures.face is None or two.measures.face is None or one.measures.key is None:
        raise RequestError("A key can be matched only where both shots have a face, and the first a key "
                           "on it.", "Choose shots with a face, or name it with --on.")
    scene, figure = takes[1].scene, two.measures.face.figure
    stage = build_stage(scene)
    camera = next(each for each in stage.cameras if each.name == two.measures.camera)
    head = head_of(stage, figure)
    towards = direction_for(one.measures.key, camera, head.nose)
    facing = {side: float(normal @ towards) for side, (_, normal) in head.cheeks.items()}
    side = max(facing, key=lambda each: facing[each])
    if facing[side] < GRAZING:
        raise RequestError(f"The key of {one.name} would come from behind the face in {two.name}.",
                           f"Turn the face of '{figure}' towards it first, or cut on another camera.")
    if takes[1].cache is not None:
        request = replace(request, cache=takes[1].cache)
    job = StageJob(stage, request.meter_order())
    light = OptionMeters(job, request.precision).cheeks(figure)[CHEEKS.index(side)]
    job.close()
    off = () if two.measures.key is None else two.measures.key.lamps
    bare, left = _without(scene, off)
    wanted = _missing(matched, light, tuple(name for name in off if name not in left))
    face = np.asarray(stage.places[f"{figure}.face"], float)
    inside = throw or _reach(takes[0].scene, one.measures.face.figure, one.measures.key) or FAR
    at, opening = place_along(scene, stage, face, towards, throw or FAR, inside)
    distance = float(np.linalg.norm(at - face))
    cct, duv = colour_of(wanted)
    level = float(wanted[1])
    width = 2 * distance * np.tan(np.radians(one.measures.key.across) / 2)
    name, intensity = free_name(scene, NAME), level * distance**2 / facing[side]
    aim = Target(f"{figure}.face")
    if width < SMALL:
        aimed, filled = face, None
        if opening is not None and one.measures.key.thing == SUN:
            # The sun lights all that the opening lets it, not the face alone.
            aim, aimed, filled = Target(opening.name), np.asarray(opening.centre, float), opening
        made = focused(name, at, aim, intensity=intensity, beam=beam_over(at, aimed, filled), cct=cct,
                       duv=duv)
    else:
        made = soft(name, at, aim, intensity=intensity, width=width, cct=cct, duv=duv)
    meter = cheeks_of(figure)[CHEEKS.index(side)]
    target = Measured(level, light.light().error)
    # A wide source is not seen whole by the cheek; half of its light is sure to come straight.
    made, given = fitted(bare, made, meter=meter, wanted=target, straight=level / 2, request=request)
    after = replace(bare, lights=(*bare.lights, made))
    return AddedLamp(after, made, f"the key of {one.name}", "" if opening is None else opening.name,
                     distance if opening is None else float(throw or FAR), distance, meter, target, given,
                     build_stage(after).reminders)


def _without(scene: Scene, names: tuple[str, ...]) -> tuple[Scene, tuple[str, ...]]:
    """Return a scene without the light of some lamps, and those of them that stay lit: sky and moon."""
    own = {each.name for each in scene.lights}
    lights = tuple(replace(each, on=False) if each.name in names else each for each in scene.lights)
    bare = replace(scene, lights=lights)
    if SUN in names:
        bare = without_sun(bare)
    return bare, tuple(name for name in names if name not in own and name != SUN)


def _missing(matched: Matched, light: Mixed, off: tuple[str, ...]) -> np.ndarray:
    """Return X, Y, Z that a lit side lacks of the level and colour of the first shot's. [lx]"""
    one, two = (shot.side for shot in matched.shots)
    first, settings = one.measures.face, two.measures.settings
    assert first is not None
    stops = from_working(first.lit, one.measures.settings).value
    level = working_illuminance(settings) * 2.0**stops
    rest = [k for k, name in enumerate(light.lamps) if name not in off]
    others = light.xyz.mean(axis=0)[rest].sum(axis=(0, 1))
    if not level > others[1]:
        raise RequestError(
            f"Without its key the face in {two.name} already has {others[1]:.4g} lx, and the level of "
            f"{one.name} is {level:.4g} lx at its settings.",
            "Take the other lamps down, or stop down, first.")
    off_balance = first.mired_off(one.measures.settings.white_balance)
    cct = None if off_balance is None else balance_for(settings.white_balance, -off_balance)
    if cct is None:
        xyz = light.xyz.mean(axis=0).sum(axis=(0, 1))
        return np.asarray(xyz * (level - others[1]) / xyz[1])
    whole = xyz_from_xy(xy_from_cct_duv(cct, first.duv or 0.0)) * level
    return np.asarray(whole - others)


def _reach(scene: Scene, figure: str, key: KeySource) -> float | None:
    """Return how far the first shot's key is from its face, None where that is no lamp of the scene. [m]"""
    if key.thing not in {each.name for each in scene.lights}:
        return None
    places = build_stage(scene).places
    return max(NEAREST, float(np.linalg.norm(places[key.thing] - places[f"{figure}.face"])))
