"""What the page shows of a scene: its options, lamps and cameras, as written."""

from __future__ import annotations

import dataclasses

from previz import __version__
from previz.deliver.reminders import phrases
from previz.errors import DataError
from previz.frames.layouts import marked
from previz.page.desk import Desk
from previz.page.tables import page_tables
from previz.page.zones import map_settings, map_values
from previz.physics.daylight import SKY_CCT
from previz.physics.exposure import CameraSettings, shutter_time, signal_per_luminance
from previz.physics.lamps import WARMEST_K
from previz.physics.stops import MapSettings
from previz.scene.camera import Camera
from previz.scene.fields import INVALID, table
from previz.scene.gel import NAMES
from previz.scene.light import LIGHTS, SPECTRA, Light, Panel
from previz.stage.outdoors import SKY, resolved, shining
from previz.stage.records import Stage
from previz.stage.tints import colour_range, greenest, has_tint
from previz.stage.views import latitude_of
from previz.studies.changes import CAMERA_FIELDS, MOST_DAYLIGHT, MOST_GELS
from previz.units import show

DIGITS = 6
"""Of numbers that the page shows and sends back."""

USUAL_CAMERA = {"lens": 0.035, "stop": 2.8, "iso": 800.0}
"""What a camera that says nothing of it is shown with."""


def scene_values(desk: Desk, shown: str = "") -> dict:
    """Return everything of the scene that the page lays out, in plain values.

    `shown` is what its exposure maps show otherwise than the scene has it; see `zones.map_settings`.
    """
    return {
        "title": desk.file.title or desk.path.stem,
        "file": desk.path.name,
        "version": __version__,
        "edition": desk.edition,
        "look_mark": marked("previz_look"),
        "options": [option_values(desk, name, shown=shown) for name in desk.options],
        "rows": _new_rows(desk),
        "gels": list(NAMES),
        "most_gels": MOST_GELS,
        "limits": _limits(),
        "tables": page_tables(),
    }


def _limits() -> dict:
    """Return [least, greatest] of every number that the page may set."""
    lamp, camera = table(Light), table(Camera)
    limits = {"duv": [lamp["duv"].minimum, lamp["duv"].maximum],
              "cct": [max(WARMEST_K, lamp["cct"].minimum), lamp["cct"].maximum]}
    for name in CAMERA_FIELDS:
        low = camera[name].above if camera[name].minimum is None else camera[name].minimum
        limits[name] = [low, camera[name].maximum]
    return limits


def _new_rows(desk: Desk) -> dict:
    """Return what a lamp of each kind and a camera are where a scene says no more of them than it must.

    The page lays the fields of what is put in over these. How green light can be takes a while to find, and
    is there for what makes the light of the scene's own lamps; of others it is asked for when it is needed.
    """
    def needed(cls: type) -> dict:
        return {**{name: INVALID for name, entry in table(cls).items() if entry.required}, "name": ""}

    known = {light.spectrum for option in desk.options for light in desk.scene(option).lights
             if isinstance(light.spectrum, str)}
    kinds = {kind: cls(**needed(cls)) for kind, cls in LIGHTS.items()}
    spectra = {each: dataclasses.replace(kinds["panel"], spectrum=each) for each in SPECTRA}
    return {"lamps": {kind: _lamp(light, False) for kind, light in kinds.items()},
            "made": {kind: light.spectrum for kind, light in kinds.items()},
            # What of a lamp's row goes by what makes its light.
            "spectra": {name: {key: value for key, value in _lamp(light, name in known).items()
                               if key in ("fades_warm", "ccts", "duv", "greenest")}
                        for name, light in spectra.items()},
            "camera": _camera(Camera(**{**needed(Camera), **USUAL_CAMERA}), map_settings(None, ""))}


def greenest_values(spectrum: str) -> dict:
    """Return how green a lamp can be by what makes its light, one of `SPECTRA`; see `tints.greenest`."""
    if spectrum not in SPECTRA:
        raise DataError(f"no lamp's light is made by '{spectrum[:80]}'", "Reload the page.")
    needed = {name: INVALID for name, entry in table(Panel).items() if entry.required}
    return {"greenest": _lamp(Panel(**needed, spectrum=spectrum))["greenest"]}


def option_values(desk: Desk, name: str, moves: str = "", shown: str = "") -> dict:
    """Return one option as the page lays it out, as written or with things moved."""
    scene = desk.scene(name, moves)
    made = map_settings(scene.map, shown)
    return {
        "name": name,
        "lamps": [*(_lamp(light) for light in scene.lights), *_daylight(scene.daylight)],
        "cameras": [_camera(camera, made) for camera in desk.cameras(name, moves)],
        "faces": [figure.name for figure in scene.figures],
    }


def _lamp(light, tints: bool = True) -> dict:
    return {
        "name": light.name, "sort": "lamp", "kind": light.kind,
        "fades_warm": light.spectrum == "tungsten",
        "level": round(light.dimmer, DIGITS), "most": 1.0, "on": light.on,
        "cct": None if light.cct is None else round(light.cct, DIGITS),
        "ccts": list(colour_range(light)),
        "duv": round(light.duv, DIGITS) if has_tint(light) else None,
        "greenest": [list(row) for row in greenest(light)] if tints else None,
        "gel": [_gel(number, sheet) for number, sheet in enumerate(light.gel)],
        "in_shot": light.in_shot,
    }


def _gel(number: int, sheet):
    """Return a gel by its trade name where it has one, else by its number among the lamp's own."""
    if sheet.name in NAMES:
        return sheet.name
    figures = [f"{sheet.mired:+.0f} mired"] if sheet.mired else []
    figures += [f"{sheet.transmission:.0%}"] if sheet.transmission is not None else []
    figures += [f"green {sheet.green:+g}"] if sheet.green else []
    return {"sheet": number, "label": sheet.name or ", ".join(figures) or "sheet as written"}


def _daylight(daylight) -> list[dict]:
    """Return sun or moon, and sky, as lamps in the order of the stage; levels are of what is written."""
    listed = []
    if daylight is None:
        return listed
    base = {"fades_warm": False, "level": 1.0, "most": MOST_DAYLIGHT, "on": True,
            "duv": None, "gel": None, "in_shot": False}
    found = shining(resolved(daylight))
    if found is not None:
        name, text = found[0], getattr(daylight, found[0]).illuminance
        listed.append({**base, "name": name, "sort": name, "cct": found[1].cct,
                     "kind": name if text is None else f"{name}, {show(text, 'illuminance')}"})
    if daylight.sky != "none":
        lux = daylight.illuminance
        kind = f"{daylight.sky} sky" + ("" if lux is None else f", {show(lux, 'illuminance')}")
        listed.append({**base, "name": SKY, "sort": SKY, "kind": kind,
                     "cct": daylight.sky_cct or SKY_CCT[daylight.sky]})
    return listed


def _camera(camera: Camera, made: MapSettings) -> dict:
    return {
        "name": camera.name, "lens_mm": round(camera.lens * 1000, 3), "aspect": camera.aspect,
        "fps": camera.fps, "reference": reference_of(camera),
        "map": map_values(made, settings_as_written(camera)),
        **{field: round(getattr(camera, field), DIGITS) for field in CAMERA_FIELDS},
    }


def settings_as_written(camera: Camera) -> CameraSettings:
    """Return a camera's settings as written, its latitude with them."""
    return CameraSettings(camera.stop, camera.iso, float(shutter_time(camera.shutter, camera.fps)), camera.nd,
                          **latitude_of(camera))


def reference_of(camera) -> float:
    """Return the signal of 1 cd/m² with a camera as written, which lamps are packed by. [m²/cd]"""
    return signal_per_luminance(settings_as_written(camera))


def caution_values(stage: Stage) -> dict[str, list[str]]:
    """Return what a scene calls for: in short, the most urgent first, and the whole text of each."""
    return {"briefs": phrases(stage.reminders), "cautions": list(stage.cautions)}
