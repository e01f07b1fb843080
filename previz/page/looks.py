"""A look: what was changed of an option's lamps and cameras, and the scene with those changes.

Only what changes no ray is in a look (a stop changes the depth of field, so it asks for frames of
its own in time). A look is laid over the scene's own records, so that a saved look, read again,
is the same scene and so the same picture.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from previz.errors import DataError
from previz.physics.exposure import CameraSettings, shutter_time
from previz.physics.lamps import WARMEST_K
from previz.physics.light import LampLight
from previz.scene import gel as gels
from previz.scene.camera import Camera
from previz.scene.fields import table
from previz.scene.gel import Gel
from previz.scene.light import Light
from previz.stage.lamps import lamp_light
from previz.stage.outdoors import MOON, SKY, SUN, build_daylight
from previz.stage.views import lens_radius

NEXT_TO_NOTHING = 1e-4
"""What a sky or sun that is switched off still gives. To take it out would be another scene, with
frames of its own; this much is far under the darkest code value. [lx]"""

MOST_DAYLIGHT = 16.0
"""Most that sky and sun may be raised to, over what the scene says. [1]"""

MOST_GELS = 3
"""Sheets in front of one lamp."""

CAMERA_FIELDS = ("stop", "iso", "shutter", "nd", "white_balance", "green")
"""What a look may set on a camera, named as in the scene file."""

_DIGITS = 6


@dataclass(frozen=True)
class LampChange:
    """What is changed of one lamp; None leaves it as the option has it.

    Parameters
    ----------
    level : float or None
        Dimmer as a share of the light; of what the scene says for sky and sun. [1]
    on : bool or None
    cct : float or None
        [K]
    duv : float or None
        [1]
    gel : tuple of Gel or int, or None
        A number stands for that sheet of the option's own.
    """

    level: float | None = None
    on: bool | None = None
    cct: float | None = None
    duv: float | None = None
    gel: tuple[Gel | int, ...] | None = None


@dataclass(frozen=True)
class Look:
    """Changes to lamps and cameras, by name.

    Parameters
    ----------
    lamps : dict of str to LampChange
    cameras : dict of str to dict
        Fields of `CAMERA_FIELDS` in the scene's own units.
    """

    lamps: Mapping[str, LampChange] = field(default_factory=dict)
    cameras: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def read_look(text: str) -> Look:
    """Return the look that a page sent.

    Parameters
    ----------
    text : str
        JSON: `{"lamps": {name: {level, on, cct, duv, gel}}, "cameras": {name: {stop, ...}}}`.
        A gel is a list of trade names, or `{sheet: n}` for the n-th sheet that the scene has there.

    Raises
    ------
    DataError
        It is not such a thing, or a number is outside what the scene format allows.
    """
    lamps, cameras = _told(text)
    return Look({name: _lamp(name, _group(each, name)) for name, each in lamps.items()},
                {name: _camera(name, _group(each, name)) for name, each in cameras.items()})


def flat(option: str, text: str) -> dict[str, dict]:
    """Return a look that a page sent as the page keeps its changes, one value a lamp or camera."""
    lamps, cameras = _told(text)
    return {f"{option}|{what}|{name}": each for what, told in (("lamp", lamps), ("camera", cameras))
            for name, each in told.items()}


def _told(text: str) -> tuple[dict, dict]:
    try:
        told = _group(json.loads(text or "{}"), "look")
    except (ValueError, RecursionError):
        raise _refused("the look is not JSON") from None
    return _group(told.get("lamps", {}), "lamps"), _group(told.get("cameras", {}), "cameras")


def _refused(message: str) -> DataError:
    return DataError(message, "Reload the page.")


def _group(value, what: str) -> dict:
    if not isinstance(value, dict):
        raise _refused(f"'{what}' of the look is not a group of values")
    return value


def _lamp(name: str, told: dict) -> LampChange:
    unknown = set(told) - {each.name for each in dataclasses.fields(LampChange)}
    if unknown:
        raise _refused(f"a lamp has no '{min(unknown)}'")
    entries = table(Light)
    made = {}
    if "level" in told:
        most = MOST_DAYLIGHT if name in (SUN, SKY, MOON) else 1.0
        made["level"] = _number(told["level"], f"level of {name}", 0.0, most)
    if "on" in told:
        if not isinstance(told["on"], bool):
            raise _refused(f"'on' of {name} is yes or no")
        made["on"] = told["on"]
    if "cct" in told:
        made["cct"] = _number(told["cct"], f"colour temperature of {name}",
                              max(WARMEST_K, entries["cct"].minimum), entries["cct"].maximum)
    if "duv" in told:
        made["duv"] = _number(told["duv"], f"tint of {name}", entries["duv"].minimum,
                              entries["duv"].maximum)
    if "gel" in told:
        if not isinstance(told["gel"], list) or len(told["gel"]) > MOST_GELS:
            raise _refused(f"the gels of {name} are a list of at most {MOST_GELS}")
        made["gel"] = tuple(_gel(name, each) for each in told["gel"])
    return LampChange(**made)


def _gel(name: str, told) -> Gel | int:
    if isinstance(told, str):
        nominal = gels.nominal(told)
        if nominal is None:
            raise _refused(f"there is no gel '{told}' for {name}")
        return Gel(name=told, **nominal)
    sheet = _group(told, f"gel of {name}").get("sheet")
    if isinstance(sheet, bool) or not isinstance(sheet, int) or sheet < 0:
        raise _refused(f"a gel of {name} is a trade name, or a sheet of the scene by its number")
    return sheet


def _camera(name: str, told: dict) -> dict[str, float]:
    entries, made = table(Camera), {}
    for key, value in told.items():
        if key not in CAMERA_FIELDS:
            raise _refused(f"a camera has no '{key}' on the page")
        made[key] = _within(value, entries[key], f"{key} of camera {name}")
    return made


def _within(value, entry, what: str) -> float:
    """Return a number that keeps to the limits of the scene format's own table."""
    low = entry.above if entry.minimum is None else entry.minimum
    number = _number(value, what, low, entry.maximum)
    if entry.minimum is None and number <= low:
        raise _refused(f"{what} must be more than {low:g}")
    return number


def _number(value, what: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise _refused(f"{what} lies from {low:g} to {high:g}, not {value!r}"[:200])
    return round(float(value), _DIGITS)


def changed_scene(scene, stage, look: Look):
    """Return the scene with a look laid over it, and checked for what a scene file cannot hold.

    Parameters
    ----------
    scene : scene.scene.Scene
        An option.
    stage : Stage
        Of that option; says what sky and sun give.
    look : Look
        The changes.

    Raises
    ------
    DataError
        The look names a lamp or camera that is not there.
    """
    lamps = {lamp.name for lamp in stage.lamps}
    cameras = {camera.name for camera in scene.cameras}
    for what, named, known in (("lamp", look.lamps, lamps), ("camera", look.cameras, cameras)):
        unknown = sorted(set(named) - known)
        if unknown:
            raise DataError(f"the option has no {what} '{unknown[0]}'",
                            f"It has: {', '.join(sorted(known)) or 'none'}.")
    return dataclasses.replace(
        scene,
        lights=tuple(changed_light(each, look.lamps.get(each.name)) for each in scene.lights),
        daylight=_changed_daylight(scene.daylight, stage, look),
        cameras=tuple(dataclasses.replace(each, **look.cameras.get(each.name, {}))
                      for each in scene.cameras),
    )


def changed_light(light, change: LampChange | None):
    """Return one lamp of the scene with what a look changes of it."""
    if change is None:
        return light
    sheets = change.gel
    if sheets is not None:
        missing = [each for each in sheets if isinstance(each, int) and each >= len(light.gel)]
        if missing:
            raise _refused(f"{light.name} has no sheet {missing[0]} of its own")
        sheets = tuple(light.gel[each] if isinstance(each, int) else each for each in sheets)
    if change.cct is not None and light.cct is None:
        raise DataError(f"{light.name} has a measured spectrum and no colour to set",
                        "Gel it instead.")
    values = {"dimmer": change.level, "on": change.on, "cct": change.cct, "duv": change.duv,
              "gel": sheets}
    return dataclasses.replace(light, **{k: v for k, v in values.items() if v is not None})


def _changed_daylight(daylight, stage, look: Look):
    output = {lamp.name: lamp.output for lamp in stage.lamps}
    sky, sun, moon = (look.lamps.get(name) for name in (SKY, SUN, MOON))
    for name, change in ((SKY, sky), (SUN, sun), (MOON, moon)):
        if change is not None and (change.gel is not None or change.duv is not None):
            raise DataError(f"the {name} takes no gel and no tint", "Gel a lamp instead.")
    if sky is not None:
        daylight = dataclasses.replace(
            daylight, illuminance=_lux(output[SKY], daylight.illuminance, sky),
            sky_cct=daylight.sky_cct if sky.cct is None else sky.cct)
    for name, change in ((SUN, sun), (MOON, moon)):
        if change is None:
            continue
        shining = getattr(daylight, name)
        shining = dataclasses.replace(
            shining, illuminance=_lux(output[name], shining.illuminance, change),
            cct=shining.cct if change.cct is None else change.cct)
        daylight = dataclasses.replace(daylight, **{name: shining})
    return daylight


def _lux(output: float, written: float | None, change: LampChange) -> float | None:
    if change.on is False:
        return NEXT_TO_NOTHING
    if change.level is None:
        return written
    return max(round(output * change.level, _DIGITS), NEXT_TO_NOTHING)


def lamp_lights(scene, stage) -> list[LampLight]:
    """Return the light of every lamp of a changed scene, in the stage's order.

    Parameters
    ----------
    scene : scene.scene.Scene
        From `changed_scene`.
    stage : Stage
        Of the option, which knows each lamp's lumens.
    """
    lamps = [_lit(light, staged) for light, staged in zip(scene.lights, stage.lamps, strict=False)]
    return lamps + build_daylight(scene.daylight, len(lamps))[0]


def _lit(light, staged: LampLight) -> LampLight:
    try:
        return lamp_light(light, staged.output)
    except ValueError as error:
        raise DataError(str(error), "Choose another colour or gel.") from error


def lamp_of(scene, stage, name: str) -> LampLight:
    """Return the light of one lamp of a changed scene; see `lamp_lights`."""
    for light, staged in zip(scene.lights, stage.lamps, strict=False):
        if light.name == name:
            return _lit(light, staged)
    for lamp in build_daylight(scene.daylight, 0)[0]:
        if lamp.name == name:
            return lamp
    raise DataError(f"the option has no lamp '{name}'", "Reload the page.")


def staged_camera(camera, written):
    """Return the stage's camera with the settings of a changed scene's.

    Parameters
    ----------
    camera : stage.records.Camera
        As the option was staged.
    written : scene.camera.Camera
        The same camera in the changed scene.
    """
    return dataclasses.replace(
        camera, stop=written.stop, lens_radius=lens_radius(written, camera.focus), iso=written.iso,
        shutter_s=float(shutter_time(written.shutter, written.fps)), nd_density=written.nd,
        white_balance=written.white_balance, tint=written.green)


def settings_of(camera) -> CameraSettings:
    """Return a staged camera's exposure settings."""
    return CameraSettings(**{each.name: getattr(camera, each.name)
                             for each in dataclasses.fields(CameraSettings)})
