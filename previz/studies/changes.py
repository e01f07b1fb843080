"""Changes of an option's lamps and cameras that cost no rendering, and the scene with them.

Only what changes no ray is among them (a stop changes the depth of field, so the page renders
frames of its own for it in time). They are laid over the scene's own records, so that changes that
are saved as an option and read again are the same scene, and so the same picture.
"""

from __future__ import annotations

import dataclasses
import numbers
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from previz.errors import RequestError
from previz.physics.exposure import shutter_time
from previz.physics.lamps import WARMEST_K
from previz.physics.light import LampLight
from previz.scene import gel as gels
from previz.scene.camera import Camera
from previz.scene.daylight import Daylight
from previz.scene.fields import Field, table
from previz.scene.gel import Gel
from previz.scene.light import Light
from previz.stage.lamps import lamp_light
from previz.stage.outdoors import MOON, SKY, SUN, build_daylight
from previz.stage.views import lens_radius

if TYPE_CHECKING:
    from previz.scene.scene import Scene
    from previz.stage.records import Camera as StageCamera
    from previz.stage.records import Stage

NEXT_TO_NOTHING = 1e-4
"""What a sky or sun that is switched off still gives. To take it out would be another scene, with
frames of its own; this much is far under the darkest code value. [lx]"""

MOST_DAYLIGHT = 16.0
"""Most that sky and sun may be raised to, over what the scene says. [1]"""

MOST_GELS = 3
"""Sheets in front of one lamp."""

CAMERA_FIELDS = ("stop", "iso", "shutter", "nd", "white_balance", "green")
"""What may be changed of a camera, named as in the scene file."""

_DIGITS = 6


@dataclass(frozen=True)
class LampChange:
    """What is changed of one lamp; None leaves it as the option has it.

    Parameters
    ----------
    dimmer : float or None
        As a share of the light; of what the scene says for sky and sun. [1]
    cct : float or None
        [K]
    duv : float or None
        [1]
    gel : tuple of Gel or int, or None
        A number stands for that sheet of the option's own.
    """

    dimmer: float | None = None
    on: bool | None = None
    cct: float | None = None
    duv: float | None = None
    gel: tuple[Gel | int, ...] | None = None


@dataclass(frozen=True)
class Changes:
    """Changes to lamps and cameras, by name.

    Parameters
    ----------
    cameras : dict of str to dict
        Fields of `CAMERA_FIELDS` in the scene's own units.
    """

    lamps: Mapping[str, LampChange] = field(default_factory=dict)
    cameras: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def text(self) -> str:
        """Return the changes in words: 'changed: key at 40 %, stop 4'; '' for none."""
        parts = [each for name, change in self.lamps.items() for each in _lamp_texts(name, change)]
        parts += [f"{name.replace('_', ' ')} {value:g}"
                  for settings in self.cameras.values() for name, value in settings.items()]
        return f"changed: {', '.join(parts)}" if parts else ""


def _lamp_texts(name: str, change: LampChange) -> list[str]:
    texts = []
    if change.on is not None:
        texts.append(f"{name} {'on' if change.on else 'off'}")
    if change.dimmer is not None:
        texts.append(f"{name} at {100 * change.dimmer:g} %")
    if change.cct is not None:
        texts.append(f"{name} {change.cct:g} K")
    if change.duv is not None:
        texts.append(f"{name} Duv {change.duv:+g}")
    if change.gel is not None:
        sheets = " + ".join(each.name if isinstance(each, Gel) and each.name else "gel"
                            for each in change.gel)
        texts.append(f"{name} {sheets or 'without gel'}")
    return texts


def changes_from(lamps: Mapping[str, Mapping[str, Any]],
                 cameras: Mapping[str, Mapping[str, Any]]) -> Changes:
    """Return changes, each value checked against what the scene format allows.

    Parameters
    ----------
    lamps : mapping of str to mapping
        Fields of `LampChange` by lamp. A gel is a list of trade names, of `Gel`, or of
        `{"sheet": n}` for the n-th sheet that the scene has there.
    cameras : mapping of str to mapping
        Fields of `CAMERA_FIELDS` by camera, in the units used inside.

    Raises
    ------
    RequestError
        There is no such field, or a value is outside what the scene format allows.
    """
    return Changes({name: _lamp(name, each) for name, each in lamps.items()},
                   {name: _camera(name, each) for name, each in cameras.items()})


def _lamp(name: str, values: Mapping[str, Any]) -> LampChange:
    known = [each.name for each in dataclasses.fields(LampChange)]
    unknown = sorted(set(values) - set(known))
    if unknown:
        raise RequestError(f"a lamp has no '{unknown[0]}' that costs no rendering",
                           f"There are: {', '.join(known)}.")
    entries = table(Light)
    made: dict[str, Any] = {}
    if "dimmer" in values:
        most = MOST_DAYLIGHT if name in (SUN, SKY, MOON) else 1.0
        made["dimmer"] = _number(values["dimmer"], f"level of {name}", 0.0, most)
    if "on" in values:
        if not isinstance(values["on"], bool):
            raise RequestError(f"'on' of {name} is yes or no")
        made["on"] = values["on"]
    if "cct" in values:
        low, high = _limits(entries["cct"])
        made["cct"] = _number(values["cct"], f"colour temperature of {name}", max(WARMEST_K, low), high)
    if "duv" in values:
        made["duv"] = _number(values["duv"], f"tint of {name}", *_limits(entries["duv"]))
    if "gel" in values:
        if not isinstance(values["gel"], list) or len(values["gel"]) > MOST_GELS:
            raise RequestError(f"the gels of {name} are a list of at most {MOST_GELS}")
        made["gel"] = tuple(_gel(name, each) for each in values["gel"])
    return LampChange(**made)


def _gel(name: str, sheet: Any) -> Gel | int:
    if isinstance(sheet, Gel):
        return sheet
    if isinstance(sheet, str):
        nominal = gels.nominal(sheet)
        if nominal is None:
            raise RequestError(f"there is no gel '{sheet}' for {name}",
                               f"There are: {', '.join(gels.NAMES)}.")
        figures: dict[str, Any] = dict(nominal)
        return Gel(name=sheet, **figures)
    number = sheet.get("sheet") if isinstance(sheet, Mapping) else None
    if isinstance(number, bool) or not isinstance(number, int) or number < 0:
        raise RequestError(f"a gel of {name} is a trade name, or a sheet of the scene by its number")
    return number


def _camera(name: str, values: Mapping[str, Any]) -> dict[str, float]:
    entries, made = table(Camera), dict[str, float]()
    for key, value in values.items():
        if key not in CAMERA_FIELDS:
            raise RequestError(f"a camera has no '{key}' that costs no rendering",
                               f"There are: {', '.join(CAMERA_FIELDS)}.")
        made[key] = _within(value, entries[key], f"{key} of camera {name}")
    return made


def _within(value: Any, entry: Field, what: str) -> float:
    """Return a number that keeps to the limits of the scene format's own table."""
    low, high = _limits(entry)
    number = _number(value, what, low, high)
    if entry.minimum is None and number <= low:
        raise RequestError(f"{what} must be more than {low:g}")
    return number


def _limits(entry: Field) -> tuple[float, float]:
    """Return the least, or what it has to be above, and the most of a number."""
    low = entry.above if entry.minimum is None else entry.minimum
    if low is None or entry.maximum is None:
        raise ValueError(f"'{entry.help}' has no limits")
    return low, entry.maximum


def _number(value: Any, what: str, low: float, high: float) -> float:
    real = isinstance(value, numbers.Real) and not isinstance(value, bool)
    # Not made a float first: a whole number may be too large for one.
    if not real or not low <= value <= high:
        raise RequestError(f"{what} lies from {low:g} to {high:g}, not {value!r}"[:200])
    return round(float(value), _DIGITS)


def changed_scene(scene: Scene, stage: Stage, changes: Changes) -> Scene:
    """Return an option with changes laid over it, and checked for what a scene file cannot hold.

    Its stage says what sky and sun give.

    Raises
    ------
    RequestError
        The changes name a lamp or camera that is not there.
    """
    lamps = {lamp.name for lamp in stage.lamps}
    cameras = {camera.name for camera in scene.cameras}
    for what, named, known in (("lamp", changes.lamps, lamps), ("camera", changes.cameras, cameras)):
        unknown = sorted(set(named) - known)
        if unknown:
            raise RequestError(f"the option has no {what} '{unknown[0]}'",
                               f"It has: {', '.join(sorted(known)) or 'none'}.")
    return dataclasses.replace(
        scene,
        lights=tuple(changed_light(each, changes.lamps.get(each.name)) for each in scene.lights),
        daylight=_changed_daylight(scene.daylight, stage, changes),
        cameras=tuple(_changed_camera(each, changes.cameras.get(each.name, {})) for each in scene.cameras),
    )


def _changed_camera(camera: Camera, values: Mapping[str, Any]) -> Camera:
    return dataclasses.replace(camera, **values)


def changed_light(light: Light, change: LampChange | None) -> Light:
    """Return one lamp of the scene with what is changed of it."""
    if change is None:
        return light
    sheets = change.gel
    if sheets is not None:
        missing = [each for each in sheets if isinstance(each, int) and each >= len(light.gel)]
        if missing:
            raise RequestError(f"{light.name} has no sheet {missing[0]} of its own")
        sheets = tuple(light.gel[each] if isinstance(each, int) else each for each in sheets)
    if change.cct is not None and light.cct is None:
        raise RequestError(f"{light.name} has a measured spectrum and no colour to set",
                           "Gel it instead.")
    values = {"dimmer": change.dimmer, "on": change.on, "cct": change.cct, "duv": change.duv,
              "gel": sheets}
    changes: dict[str, Any] = {k: v for k, v in values.items() if v is not None}
    return dataclasses.replace(light, **changes)


def _changed_daylight(daylight: Daylight | None, stage: Stage, changes: Changes) -> Daylight | None:
    if daylight is None:
        return None
    output = {lamp.name: lamp.output for lamp in stage.lamps}
    sky, sun, moon = (changes.lamps.get(name) for name in (SKY, SUN, MOON))
    for name, change in ((SKY, sky), (SUN, sun), (MOON, moon)):
        if change is not None and (change.gel is not None or change.duv is not None):
            raise RequestError(f"the {name} takes no gel and no tint", "Gel a lamp instead.")
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
        changed: dict[str, Any] = {name: shining}
        daylight = dataclasses.replace(daylight, **changed)
    return daylight


def _lux(output: float, written: float | None, change: LampChange) -> float | None:
    if change.on is False:
        return NEXT_TO_NOTHING
    if change.dimmer is None:
        return written
    return max(round(output * change.dimmer, _DIGITS), NEXT_TO_NOTHING)


def lamp_lights(scene: Scene, stage: Stage) -> list[LampLight]:
    """Return the light of every lamp of a changed scene, in the order of the option's stage."""
    lamps = [_lit(light, staged) for light, staged in zip(scene.lights, stage.lamps, strict=False)]
    return lamps + build_daylight(scene.daylight, len(lamps))[0]


def _lit(light: Light, staged: LampLight) -> LampLight:
    try:
        return lamp_light(light, staged.output)
    except ValueError as error:
        raise RequestError(str(error), "Choose another colour or gel.") from error


def lamp_of(scene: Scene, stage: Stage, name: str) -> LampLight:
    """Return the light of one lamp of a changed scene; see `lamp_lights`."""
    for light, staged in zip(scene.lights, stage.lamps, strict=False):
        if light.name == name:
            return _lit(light, staged)
    for lamp in build_daylight(scene.daylight, 0)[0]:
        if lamp.name == name:
            return lamp
    raise RequestError(f"the option has no lamp '{name}'",
                       f"It has: {', '.join(lamp.name for lamp in stage.lamps) or 'none'}.")


def staged_camera(stage: Stage, written: Camera) -> StageCamera:
    """Return a camera of a stage with the settings that a changed scene has for it."""
    camera = next(each for each in stage.cameras if each.name == written.name)
    return dataclasses.replace(
        camera, stop=written.stop, lens_radius=lens_radius(written, camera.focus), iso=written.iso,
        shutter_s=float(shutter_time(written.shutter, written.fps)), nd_density=written.nd,
        white_balance=written.white_balance, tint=written.green)
