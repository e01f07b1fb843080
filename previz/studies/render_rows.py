"""The numbers of a render's sheet, map and index as rows: of an option, and of a picture of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from previz.deliver.rig_sheet import meaning
from previz.exposure.comparing.coverage import Sighting
from previz.exposure.faces import faces_in
from previz.exposure.falsecolour import GREY, bt709_percent
from previz.exposure.meter_report import CameraNote
from previz.physics.exposure import MID_GREY
from previz.stage.records import Grip, Rig
from previz.studies.light_rows import figure_rows, place_rows, places_of
from previz.studies.result import Row, row
from previz.studies.rows import camera_rows, caution_rows, short_rows

if TYPE_CHECKING:
    from previz.studies.render import Shot

_EDGES = ("frame_left", "frame_top", "frame_right", "frame_bottom")


def option_rows(shots: Sequence[Shot]) -> Iterator[Row]:
    """Yield what all shots of one option share: lamps, grip, cautions, meters and faces."""
    shot, of = shots[0], {"option": shots[0].option}
    for lamp in shot.stage.lamps:
        at = {"lamp": lamp.name, **of}
        yield row("lamp_flux" if lamp.unit == "lm" else "lamp_illuminance", lamp.output, **at)
        yield row("lamp_level", lamp.level, **at)
        yield row("lamp_on", bool(lamp.on), **at)
    for grip in shot.stage.grip:
        yield row("grip", grip.what, thing=grip.name, **of)
        for quantity, side in zip(("grip_width", "grip_height"), grip.size, strict=True):
            yield row(quantity, side, thing=grip.name, **of)
    hanging: tuple[Rig | Grip, ...] = (*shot.stage.rig, *shot.stage.grip)
    for each in hanging:
        if each.hung:
            yield row("hung", each.hung, thing=each.name, **of)
    yield from caution_rows(shot.stage.reminders, **of)
    cameras = [CameraNote(each.camera.name, each.settings) for each in shots]
    for place in places_of(shot.meters, cameras):
        yield from place_rows(place, shot.short, **of)
    yield from short_rows(shot.short, **of)
    for face in faces_in(shot.meters):
        yield from figure_rows(face, cameras, shot.short, **of)


def shot_rows(shot: Shot) -> Iterator[Row]:
    """Yield what one picture has of its own: settings, map and what of the rig is in it."""
    of = {"option": shot.option, "camera": shot.camera.name}
    yield from camera_rows(shot.settings, **of)
    height, width = shot.frames.shape
    for quantity, value in (("picture_width", width), ("picture_height", height),
                            ("samples", shot.frames.samples), ("seed", shot.frames.seed)):
        yield row(quantity, value, **of)
    for band, share in shot.chart.parts():
        at = {"band": band.label, **of}
        yield row("band_share", share, **at)
        if band.mark == GREY:
            continue
        yield row("band_middle", band.centre, **at)
        yield row("video_level", bt709_percent(MID_GREY * 2.0**band.centre), **at)
    for each in shot.rig:
        yield from _rig_rows(each.sighting, **of)


def _rig_rows(seen: Sighting, **of: str) -> Iterator[Row]:
    at = {"thing": seen.name, "within": seen.within, **of}
    yield row("frame_share", seen.share, note=", ".join(filter(None, (
        seen.role, seen.where, seen.side, seen.by, meaning(seen)))), **at)
    if seen.lift is not None:
        yield row("reflection_lift", seen.lift, **at)
    for quantity, edge in zip(_EDGES, seen.box, strict=True):
        yield row(quantity, edge, **at)
