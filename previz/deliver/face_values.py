"""Faces as plain values for files, and in the words that sheets share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from previz.deliver.wording import NO_LIGHT, lux_text, ratio_text, signed, stops_text
from previz.exposure.camera import stop_of
from previz.exposure.faces import KEY_TO_FILL, LIT_TO_SHADOW, FaceLight, KeyLamps, stops_of
from previz.exposure.metering import Measured, from_working
from previz.physics.exposure import CameraSettings

FACE_TERMS = (
    ("Lit side, shadow side", "flat meters on the brighter and on the darker cheek, turned 45° out "
     "of the face; stops are over (+) or under (\N{MINUS SIGN}) the stop that the camera is set to."),
    ("Ratio", f"{LIT_TO_SHADOW} is the two sides as metered; {KEY_TO_FILL} takes what the lit side "
     "has over the shadow side for the key. Both are in print: say which one you mean."),
)
"""What a face's numbers mean, for the foot of a sheet."""


EVEN = "even"
"""What stands for the key alone where both sides are as good as alike."""

LEAST_KEY = 0.05
"""A key alone of a smaller part of the fill is written as none. [1]"""


def plain(value: float) -> float | None:
    """Return a number as JSON has it; None where it is not finite."""
    return float(value) if np.isfinite(value) else None


def light_values(light: Measured, unit: str) -> dict:
    """Return a number with its error, the two parts of that, and its unit."""
    return {"value": plain(light.value), "error": plain(light.error),
            "standard_error": plain(light.paths), "band_error": plain(light.bands), "unit": unit}


def note_of(light: Measured) -> dict:
    """Return the words that go with a reading of nothing, whose stops are null."""
    return {} if light.value > 0 else {"note": NO_LIGHT}


def ratio_values(ratio: Measured) -> dict:
    """Return a ratio with its standard error, and in stops."""
    return {**light_values(ratio, "1"), "stops": plain(stops_of(ratio).value)}


def _side_values(cheek: str, light: Measured, cameras: Sequence[tuple[str, CameraSettings]]) -> dict:
    return {"cheek": cheek, "illuminance": light_values(light, "lx"), **note_of(light),
            "stops_from_working": {name: light_values(from_working(light, settings), "stops")
                                   for name, settings in cameras},
            "t_stop": {name: plain(stop_of(max(light.value, 0.0), settings))
                       for name, settings in cameras}}


def face_values(face: FaceLight, cameras: Sequence[tuple[str, CameraSettings]]) -> dict:
    """Return a face as plain JSON values, with the stops of some cameras by name.

    `lit_side`, `shadow_side` with lux, stops from the working stop and T-stop; `key_alone`; `ratio` in
    both definitions; `cct_k`, `duv` of the lit side. None is no finite number.
    """
    return {
        "lit_side": _side_values(face.lit_side, face.lit, cameras),
        "shadow_side": _side_values(face.shadow_side, face.shadow, cameras),
        "key_alone": light_values(face.key_alone, "lx"),
        "ratio": {"lit_to_shadow": ratio_values(face.lit_to_shadow),
                  "key_alone_to_fill": ratio_values(face.key_to_fill)},
        "cct_k": face.cct, "duv": face.duv,
    }


def key_lamps_values(each: KeyLamps) -> dict:
    """Return the key's lamps against all others as plain JSON values."""
    return {"figure": each.figure, "cheek": each.cheek, "lamps": list(each.lamps),
            "key": light_values(each.key, "lx"), "others": light_values(each.others, "lx"),
            "ratio": {"key_to_others": ratio_values(each.key_to_others),
                      "all_to_others": ratio_values(each.all_to_others)}}


def side_texts(light: Measured, settings: CameraSettings) -> tuple[str, str]:
    """Return one side of a face: its lux, and its stops from the working stop."""
    return lux_text(light.value), stops_text(from_working(light, settings).value)


def ratio_texts(face: FaceLight) -> tuple[str, str]:
    """Return both ratios, lit : shadow first; where both sides are as good as alike, 'even'."""
    alone = face.key_to_fill.value
    return (ratio_text(face.lit_to_shadow.value),
            EVEN if 0 <= alone < LEAST_KEY else ratio_text(alone))


def off_balance_text(face: FaceLight | None, settings: CameraSettings) -> str:
    """Return how far the light on a face is from the balance that is set, in mired: '+12'."""
    off = None if face is None else face.mired_off(settings.white_balance)
    return "–" if off is None else signed(off)


def face_line(face: FaceLight, settings: CameraSettings) -> str:
    """Return a face in one line: 'lit side +0.3, shadow side −1.7, lit : shadow 4.0 : 1'.

    Stops are from the working stop of the settings.
    """
    (_, lit), (_, shadow) = (side_texts(each, settings) for each in (face.lit, face.shadow))
    return f"lit side {lit}, shadow side {shadow}, {LIT_TO_SHADOW} {ratio_texts(face)[0]}"
