"""The lamp that stands in for the sun of a scene: in its direction, as strong on the face."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.errors import RequestError
from previz.exposure.metering import Measured, Mixed
from previz.physics.colourtemp import cct_duv, xy_of
from previz.physics.rays import rectangle_reach
from previz.rendering.request import Request
from previz.scene.daylight import Sun as ScenicSun
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.outdoors import SUN
from previz.stage.records import Guide, Stage, Sun
from previz.studies.outside import (
    AddedLamp,
    beam_over,
    fitted,
    focused,
    free_name,
    in_lumens,
    place_along,
)

NAME = "lamp for sun"
"""What it is called, as long as nothing else is."""

STRAIGHT = 0.5
"""From this share of the sun's light on, that comes straight, the sun is on the face itself. [1]"""


def sun_opening(stage: Stage, towards: np.ndarray, at: np.ndarray) -> Guide | None:
    """Return the opening that the sun comes in by: between a point and the sun, else the most open to it."""
    best, found = 0.0, None
    for guide in (each for each in stage.guides if each.opening):
        facing = float(abs(np.cross(guide.half_u, guide.half_v) @ towards))
        _, through = rectangle_reach(at, towards[None], guide.centre, guide.half_u, guide.half_v)
        weight = 4 * facing * (1e3 if through[0] else 1.0)
        # The sun comes in only where it stands outside the opening.
        outward = (guide.centre - at) @ towards > 0
        if outward and weight > best:
            best, found = weight, guide
    return found


def without_sun(scene: Scene) -> Scene:
    """Return a scene whose sun is hidden, under the same sky, its level to four figures."""
    daylight = scene.daylight
    if daylight is None:
        return scene
    sun = replace(daylight.sun or ScenicSun(), illuminance=0.0)
    # As many figures as a file should have; the sky is known to fewer.
    level = None if daylight.illuminance is None else float(f"{daylight.illuminance:.4g}")
    return replace(scene, daylight=replace(daylight, sun=sun, illuminance=level))


def lamp_for_sun(scene: Scene, stage: Stage, sun: Sun, request: Request, *, label: str, throw: float,
                 figure: str = "", meter: str = "", light: Mixed | None = None) -> AddedLamp:
    """Return the lamp that stands in for a scene's sun.

    Where the sun is on the face it stands on the line from the face to the sun, `throw` outside the
    opening that the line leaves by, and gives the face what the sun does. Elsewhere it stands so far before
    the middle of the opening that most of the sun comes in by, and gives the opening what the sun does.

    Parameters
    ----------
    scene : Scene
        With the sun.
    stage : Stage
        Of that scene.
    sun : Sun
        Of that stage.
    request : Request
        How precisely it is metered.
    label : str
        What the sun is called: 'the sun of 16:30'.
    throw : float
        [m]
    figure, meter : str
        Whose face, and the meter at its lit side; '' for none.
    light : Mixed or None
        What that meter reads.

    Raises
    ------
    RequestError
        The sun comes through no opening, or something stands in the lamp's way.
    """
    towards, lamp = np.asarray(sun.towards, float), stage.lamps[sun.lamp]
    cct, duv = cct_duv(xy_of(lamp.spectrum))
    dark = without_sun(scene)
    whole = light.light((SUN,)) if light is not None else Measured(0.0, 0.0)
    straight = light.light((SUN,), 0).value if light is not None else 0.0
    name = free_name(scene, NAME)
    if figure and whole.value > 0 and straight >= STRAIGHT * whole.value:
        face = np.asarray(stage.places[f"{figure}.face"], float)
        at, opening = place_along(scene, stage, face, towards, throw, inside=throw)
        distance = float(np.linalg.norm(at - face))
        # Aimed at the middle of the opening it takes the narrowest beam that fills it.
        aim, aimed = ((Target(f"{figure}.face"), face) if opening is None
                      else (Target(opening.name), np.asarray(opening.centre, float)))
        made = focused(name, at, aim, intensity=lamp.output * distance**2,
                       beam=beam_over(at, aimed, opening), cct=cct, duv=duv)
        made, fit = fitted(dark, made, meter=meter, wanted=whole, straight=straight, request=request)
        wanted: Measured | None = whole
        given: Measured | None = fit
    else:
        at = stage.places[f"{figure}.face"] if figure else stage.cameras[0].position
        opening = sun_opening(stage, towards, np.asarray(at, float))
        if opening is None:
            raise RequestError(f"There is no lamp for {label}: it is not on the face and comes through no "
                               "opening.", "Choose another time.")
        at, distance = opening.centre + towards * throw, throw
        made = in_lumens(focused(name, at, Target(opening.name), intensity=lamp.output * throw**2,
                                 beam=beam_over(at, opening.centre, opening), cct=cct, duv=duv))
        wanted = given = None
    after = replace(dark, lights=(*dark.lights, made))
    return AddedLamp(after, made, label, "" if opening is None else opening.name,
                     throw if opening is not None else distance, distance, meter if given is not None else "",
                     wanted, given, build_stage(after).reminders)
