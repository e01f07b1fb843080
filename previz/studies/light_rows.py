"""Readings of meters, faces and spot meters as rows, lamp by lamp: of a render, and of `meter`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from previz.deliver.wording import NO_LIGHT
from previz.exposure.faces import FaceLight, KeyLamps, stops_of
from previz.exposure.meter_report import CameraNote, Place, Receptor, SpotReading, receptor
from previz.exposure.metering import LampPart, Measured, Mixed
from previz.exposure.trust import not_reached
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.stage.views import DOME
from previz.studies.result import Row, row
from previz.studies.rows import face_rows, measured_row

if TYPE_CHECKING:
    from previz.exposure.metering_colour import ColourReport

_OF_CAMERA = ("stops_from_working", "off_balance")
_UNSET = CameraSettings(stop=1.0, iso=100.0, shutter_s=1.0)


def places_of(meters: Mapping[str, Mixed], cameras: Sequence[CameraNote],
              colour: Callable[[Mixed], ColourReport | None] = lambda _: None) -> Iterator[Place]:
    """Yield the places that incident meters stand at, flat and dome side by side."""
    for name in dict.fromkeys(name.removesuffix(DOME) for name in meters):
        flat, dome = meters.get(name), meters.get(name + DOME)
        yield Place(name, None if flat is None else receptor(flat, cameras),
                    None if dome is None else receptor(dome, cameras, dome=True),
                    colour(meters[name + DOME] if flat is None else flat))


def place_rows(place: Place, short: Iterable[Short] = (), **of: str) -> Iterator[Row]:
    """Yield what the flat and the domed meter at a place read, lamp by lamp, and its colour.

    Notes say which of the meters are among `short`, those that did not reach their error.
    """
    notes = {each.name: not_reached(each) for each in short}
    for kind, reading in (("flat", place.flat), ("dome", place.dome)):
        if reading is not None:
            note = notes.get(place.name + (DOME if kind == "dome" else ""), "")
            yield from receptor_rows(reading, note, meter=place.name, receptor=kind, **of)
    colour = place.colour
    if colour is not None:
        at = {"meter": place.name, **of}
        yield measured_row("cct", colour.cct, **at)
        yield measured_row("duv", colour.duv, colour.tint, **at)
        for name in ("ra", "rf", "rg"):
            yield row(name, getattr(colour, name), **at)
        yield row("ssi", colour.ssi, note=f"against {colour.reference}", **at)


def receptor_rows(reading: Receptor, note: str = "", **at: str) -> Iterator[Row]:
    """Yield what one incident meter reads, all of it and lamp by lamp."""
    light = reading.light
    dark = "" if light.value > 0 else NO_LIGHT
    yield measured_row("illuminance", light, note or dark, **at)
    yield row("band_error", light.bands, **at)
    yield row("footcandles", reading.footcandles, **at)
    yield row("ev100", reading.ev100, note=dark, **at)
    for camera, stop in reading.stops:
        yield row("t_stop", stop, camera=camera, **at)
    for camera, stops in reading.working:
        yield measured_row("stops_from_working", stops, dark, camera=camera, **at)
    yield from _lamp_rows(reading.lamps, ("illuminance", "direct", "bounced", "band_error"), **at)


def _lamp_rows(parts: Sequence[LampPart], names: tuple[str, str, str, str], **at: str) -> Iterator[Row]:
    for part in parts:
        for name, light in zip(names, (part.total, part.direct, part.bounced), strict=False):
            yield measured_row(name, light, lamp=part.lamp, **at)
        yield row(names[3], part.total.bands, lamp=part.lamp, **at)
        yield row("share_of_light", part.share, lamp=part.lamp, **at)


def figure_rows(face: FaceLight, cameras: Sequence[CameraNote], short: Iterable[Short] = (),
                **of: str) -> Iterator[Row]:
    """Yield a face once, and how it lies to each camera's settings."""
    short = tuple(short)
    settings = cameras[0].settings if cameras else _UNSET
    for each in face_rows(face, settings, short, **of):
        if each["quantity"] not in _OF_CAMERA:
            yield each
    for name, ratio in (("lit_to_shadow", face.lit_to_shadow), ("key_to_fill", face.key_to_fill)):
        yield measured_row(f"{name}_stops", stops_of(ratio), figure=face.figure, **of)
    for camera in cameras:
        for each in face_rows(face, camera.settings, short, camera=camera.name, **of):
            if each["quantity"] in _OF_CAMERA:
                yield each


def _ratio_rows(name: str, ratio: Measured, **at: str) -> Iterator[Row]:
    yield measured_row(name, ratio, **at)
    yield measured_row(f"{name}_stops", stops_of(ratio), **at)


def key_lamp_rows(each: KeyLamps, **of: str) -> Iterator[Row]:
    """Yield what the key's lamps and all others give at the cheek that has more of the key."""
    at = {"figure": each.figure, **of}
    note = f"{' + '.join(each.lamps)}, at the {each.cheek} cheek"
    yield measured_row("key_lamps", each.key, note, **at)
    yield measured_row("other_lamps", each.others, **at)
    yield from _ratio_rows("key_lamps_to_others", each.key_to_others, **at)
    yield from _ratio_rows("all_to_others", each.all_to_others, **at)


def spot_rows(spot: SpotReading, **of: str) -> Iterator[Row]:
    """Yield what a camera's spot meter reads on a thing, all of it and lamp by lamp."""
    at, light = {"thing": spot.name, "camera": spot.camera, **of}, spot.luminance
    dark = "" if light.value > 0 else NO_LIGHT
    yield measured_row("luminance", light, dark, **at)
    yield row("luminance_band_error", light.bands, **at)
    yield row("footlamberts", spot.footlamberts, **at)
    yield row("ev100", spot.ev100, note=dark, **at)
    yield measured_row("stops_from_grey", spot.stops, dark, **at)
    yield row("video_level", spot.percent, **at)
    yield row("thing_share", spot.share, **at)
    yield from _lamp_rows(spot.lamps, ("luminance", "luminance_direct", "luminance_bounced",
                                       "luminance_band_error"), **at)
