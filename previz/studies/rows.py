"""Rows that several studies have alike: a camera's settings, a face, all that is measured of a shot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from previz.deliver.compare_table import within_text
from previz.deliver.wording import NO_LIGHT
from previz.exposure.comparing.coverage import Coverage
from previz.exposure.comparing.eyes import EyeLight
from previz.exposure.comparing.faces import LampOnFace
from previz.exposure.comparing.measures import Area, KeySource, Load, ShotMeasures
from previz.exposure.faces import CHEEKS, FaceLight, cheeks_of
from previz.exposure.metering import Measured, from_working
from previz.exposure.trust import SURE
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.physics.safety import PLANNING_AID, Caution
from previz.studies.result import Row, row

ON_FEW = "on few paths"
"""Note of a reading that is not to be trusted as far as its error says."""

NO_FILL = "no fill"
"""Note of a ratio to nothing."""


def measured_row(quantity: str, light: Measured, note: str = "", /, **of: str) -> Row:
    """Return a reading as a row, with the standard error that its paths leave it."""
    return row(quantity, light.value, light.paths, note=note or note_of(light.value), **of)


def note_of(value: float) -> str:
    """Return why a ratio or a level is no number; '' where it is one."""
    if np.isfinite(value):
        return ""
    return NO_FILL if value > 0 else NO_LIGHT


def camera_rows(settings: CameraSettings, /, **of: str) -> list[Row]:
    """Return how a camera is set."""
    return [row("camera_stop", settings.stop, **of), row("camera_iso", settings.iso, **of),
            row("camera_shutter", settings.shutter_s, **of), row("camera_nd", settings.nd_density, **of),
            row("camera_balance", settings.white_balance, **of), row("camera_tint", settings.tint, **of)]


def face_rows(face: FaceLight, settings: CameraSettings, short: Iterable[Short] = (), /,
              **of: str) -> list[Row]:
    """Return both sides of a face, each from its own meter, their ratios and the lit side's colour.

    `settings` is of the camera whose stop is the working stop; `short` are meters that fell short.
    """
    of = {**of, "figure": face.figure}
    meters = dict(zip(CHEEKS, cheeks_of(face.figure), strict=True))
    few = {each.name for each in short if each.few}
    rows = [row("lit_cheek", face.lit_side, **of)]
    for quantity, light, side in (("lit_side", face.lit, face.lit_side),
                                  ("shadow_side", face.shadow, face.shadow_side)):
        at, note = {**of, "meter": meters[side]}, ON_FEW if meters[side] in few else ""
        note = note if light.value > 0 else NO_LIGHT
        rows += [measured_row(quantity, light, note, **at), row("band_error", light.bands, **at),
                 measured_row("stops_from_working", from_working(light, settings), note, **at)]
    rows += [measured_row("lit_to_shadow", face.lit_to_shadow, **of),
             measured_row("key_to_fill", face.key_to_fill, **of),
             measured_row("key_alone", face.key_alone, **of)]
    if face.cct is not None:
        rows += [row("face_cct", face.cct, **of), row("face_duv", face.duv, **of),
                 row("off_balance", face.mired_off(settings.white_balance), **of)]
    return rows


def short_rows(shorts: Iterable[Short], **of: str) -> list[Row]:
    """Return the meters that did not come to the requested error."""
    rows = []
    for each in shorts:
        at = {**of, "meter": each.name}
        rows.append(row("reached_error", each.error, note=ON_FEW if each.few else "", **at))
        if each.few:
            rows.append(row("trusted_within", SURE * each.error, **at))
    return rows


def _key_rows(key: KeySource, **of: str) -> list[Row]:
    return [row("key_source", key.thing, thing=key.thing, **of),
            *(row("key_lamp", lamp, lamp=lamp, **of) for lamp in key.lamps),
            row("key_share", key.share, **of), row("key_across", key.across, **of),
            row("key_up", key.up, **of), row("key_side", key.side, **of),
            row("key_height", key.height, **of), row("key_off_nose", key.off_nose, **of),
            row("nose_edge", key.edge, **of), row("nose_throw", key.throw, **of)]


def level_row(quantity: str, stops: float, /, **of: str) -> Row:
    """Return a level in stops; without light it is no number."""
    return row(quantity, stops, note=note_of(stops), **of)


def _area_rows(areas: dict[str, Area | None], **of: str) -> list[Row]:
    return [level_row(quantity, area.stops, thing=area.name, **of)
            for quantity, area in areas.items() if area is not None]


def _eye_rows(eye_lights: Sequence[EyeLight], **of: str) -> list[Row]:
    rows = [row("eye_lights", len(eye_lights), **of)]
    for each in eye_lights:
        at = {**of, "thing": each.thing}
        rows += [row("eye_light", each.stops, **at), row("eye_light_over_iris", each.over_iris, **at),
                 row("eye_light_width", each.width, **at), row("eye_light_clock", each.clock, **at)]
    return rows


def _load_rows(load: Load, **of: str) -> list[Row]:
    note = f"guessed from the lumens: {', '.join(load.guessed)}" if load.guessed else ""
    rows = [row("load", load.watts, note=note, **of), row("current", load.amperes, note=note, **of),
            row("mains", load.volts, **of)]
    if load.lux_per_watt is not None:
        rows.append(row("light_per_watt", load.lux_per_watt, note=note, **of))
    return rows


def shot_rows(measures: ShotMeasures, **of: str) -> list[Row]:
    """Return all that is measured of one option by one camera."""
    rows = camera_rows(measures.settings, **of)
    if measures.face is not None:
        rows += face_rows(measures.face, measures.settings, measures.short, **of)
    rows += short_rows(measures.short, **of)
    # What is seen by the camera of a face is of that face.
    on = {**of, "figure": measures.face.figure} if measures.face is not None else of
    if measures.key is not None:
        rows += _key_rows(measures.key, **on)
    rows += _area_rows({"background": measures.background, "hottest": measures.hottest,
                        "darkest": measures.darkest}, **of)
    if measures.spill is not None:
        rows.append(level_row("spill", measures.spill.stops, thing=measures.spill.name, **of))
        rows.append(row("spill_key_share", measures.spill.key_share, thing=measures.spill.name, **of))
    if measures.face is not None:
        rows += _eye_rows(measures.eye_lights, **on)
    if measures.load is not None:
        rows += _load_rows(measures.load, **of)
    return rows


def coverage_rows(coverage: Coverage, **of: str) -> list[Row]:
    """Return what of the rig stands in or near a frame, itself or mirrored."""
    rows = []
    for each in coverage.seen:
        seen = ", ".join(filter(None, (each.where, within_text(each) if each.within else "", each.side,
                                       "left in shot" if each.on_purpose else "")))
        rows.append(row("frame_share", each.share, note=seen, thing=each.name, **of))
        if each.lift is not None:
            rows.append(row("reflection_lift", each.lift, note=seen, thing=each.name, **of))
    return rows


def lamp_rows(effects: Iterable[LampOnFace], **of: str) -> list[Row]:
    """Return what each lamp does to a face."""
    rows = []
    for each in effects:
        at = {**of, "figure": each.figure, "lamp": each.lamp}
        note = note_of(each.effect)
        if np.isinf(each.without.value):
            note = f"{NO_FILL} without it"
        elif each.turned and not note:
            note = "the other side is the lit one without it"
        rows += [measured_row("lamp_on_lit_side", each.lit, **at),
                 measured_row("lamp_on_shadow_side", each.shadow, **at),
                 measured_row("ratio_without_lamp", each.without, **at),
                 row("contrast_by_lamp", each.effect, note=note, **at)]
    return rows


def caution_rows(cautions: Iterable[Caution], **of: str) -> list[Row]:
    """Return what to be careful about, in full and as paper has it, who decides first; notes are sources."""
    rows = [row("caution", PLANNING_AID, **of)]
    for each in cautions:
        rows += [row("caution", each.text, note=each.source, **of),
                 row("caution_brief", each.said, note=each.source, **of)]
    return rows
