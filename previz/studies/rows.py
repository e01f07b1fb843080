"""Rows that several studies have alike: a camera's settings, a face, all that is measured of a shot."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from previz.deliver.wording import NO_LIGHT
from previz.exposure.faces import CHEEKS, FaceLight, cheeks_of
from previz.exposure.metering import Measured, from_working
from previz.exposure.trust import SURE
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.studies.result import Row, row

ON_FEW = "on few paths"
"""Note of a reading that is not to be trusted as far as its error says."""

NO_FILL = "no fill"
"""Note of a ratio to nothing."""


def measured_row(quantity: str, light: Measured, note: str = "", **of: str) -> Row:
    """Return a reading as a row, with the standard error that its paths leave it."""
    return row(quantity, light.value, light.paths, note=note, **of)


def camera_rows(settings: CameraSettings, **of: str) -> list[Row]:
    """Return how a camera is set."""
    return [row("camera_stop", settings.stop, **of), row("camera_iso", settings.iso, **of),
            row("camera_shutter", settings.shutter_s, **of), row("camera_nd", settings.nd_density, **of),
            row("camera_balance", settings.white_balance, **of), row("camera_tint", settings.tint, **of)]


def face_rows(face: FaceLight, settings: CameraSettings, short: Iterable[Short] = (),
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
    note = NO_FILL if np.isinf(face.lit_to_shadow.value) else ""
    rows += [measured_row("lit_to_shadow", face.lit_to_shadow, note, **of),
             measured_row("key_to_fill", face.key_to_fill, note, **of),
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


def caution_rows(cautions: Iterable[str], **of: str) -> list[Row]:
    """Return what to be careful about."""
    return [row("caution", line, **of) for line in cautions]
