"""What the page's exposure map shows: as the scene has it, or as it is set on the page."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np

from previz.errors import DataError
from previz.exposure.falsecolour import Band, limits_of, stop_bands
from previz.physics.exposure import CameraSettings
from previz.physics.stops import MapSettings
from previz.scene.stop_map import FURTHEST, NEAREST, STEPS, StopMap, Zone, faults
from previz.stage.views import map_of

ADVICE = "Set it again on the page."


def map_settings(written: StopMap | None, text: str) -> MapSettings:
    """Return what a map shows.

    Parameters
    ----------
    written : StopMap or None
        The scene's own.
    text : str
        What the page has otherwise, JSON: any of `steps`, `clip`, `crush`, and `zones` as
        `[{name, low, high}]`; '' for nothing.

    Raises
    ------
    DataError
        It is none of that.
    """
    try:
        given = json.loads(text) if text else {}
    except ValueError:
        given = None
    if not isinstance(given, dict) or not given.keys() <= {"steps", "clip", "crush", "zones"}:
        raise DataError("that is nothing that a map shows", ADVICE)
    fields: dict[str, Any] = {}
    if given.get("steps") is not None:
        if given["steps"] not in STEPS:
            raise DataError("a map's steps are whole or half stops", ADVICE)
        fields["steps"] = given["steps"]
    for end, sign in (("clip", 1), ("crush", -1)):
        if given.get(end) is not None:
            fields[end] = _number(given[end])
            if not NEAREST <= sign * fields[end] <= FURTHEST:
                raise DataError(f"'{end}' lies from {sign * NEAREST:g} to {sign * FURTHEST:g} stops", ADVICE)
    if given.get("zones") is not None:
        fields["zones"] = _zones(given["zones"])
    return map_of(dataclasses.replace(written or StopMap(), **fields))


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= FURTHEST:
        raise DataError(f"stops of a map are numbers from -{FURTHEST:g} to {FURTHEST:g}", ADVICE)
    return float(value)


def _zones(listed: Any) -> tuple[Zone, ...]:
    if not isinstance(listed, list) or not all(
            isinstance(each, dict) and isinstance(each.get("name"), str) for each in listed):
        raise DataError("zones are a list, each with a name", ADVICE)
    zones = tuple(Zone(name=each["name"], stops=(_number(each.get("low")), _number(each.get("high"))))
                  for each in listed)
    for zone in zones:
        if zone.stops[0] > zone.stops[1]:
            raise DataError(f"{zone.label} runs from the greater to the less", ADVICE)
    for _, message, advice in faults(StopMap(zones=zones)):
        raise DataError(message, advice)
    return zones


def map_values(made: MapSettings, camera: CameraSettings) -> dict[str, Any]:
    """Return a map's settings and bands in plain values, for a camera; where it has no zones, of both steps.

    `both` has the bands of whole and of half stops, for a page that has no program to ask.
    """
    crush, clip = limits_of(made, camera)
    plain = dataclasses.replace(made, zones=())
    return {
        "steps": STEPS[made.halves], "clip": round(clip, 3), "crush": round(crush, 3),
        "zones": [{"name": each.name, "low": each.low, "high": each.high} for each in made.zones],
        "bands": band_values(stop_bands(made, camera)),
        "both": {name: band_values(stop_bands(dataclasses.replace(plain, halves=bool(number)), camera))
                 for number, name in enumerate(STEPS)},
    }


def band_values(bands: tuple[Band, ...]) -> list[dict[str, Any]]:
    """Return bands in plain values, dark to light; an end at infinity is None."""
    return [{"label": band.label, "low": _finite(band.low), "high": _finite(band.high),
             "colour": list(band.colour), "mark": band.mark} for band in bands]


def _finite(edge: float) -> float | None:
    return float(edge) if np.isfinite(edge) else None
