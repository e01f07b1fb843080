"""The linear picture: one OpenEXR file with the whole frame, each lamp, and what the pixels see.

Parts, in this order:

- `beauty`: the mix, RGB half;
- `lamp.<name>`: what each lamp gives at its present level and colour, RGB half; they sum to
  `beauty`;
- `albedo`: RGB half; `normal`: X, Y, Z half, world; `depth`: Z float, metres along the view axis,
  infinite where nothing is seen; `objects`: id, unsigned, 0 for nothing; the names that the ids
  stand for are in the attribute `objectNames`, one a line.

All RGB is linear with ACEScg primaries. Two scales are offered:

- 'signal': exposed and white balanced as the camera is set, 0.18 is mid grey. `whiteLuminance`
  says how many cd/m² the signal 1.0 stands for.
- 'luminance': cd/m², neither exposed nor balanced, `whiteLuminance` 1. Y of a pixel is what a
  spot meter reads there.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import OpenEXR

from previz.deliver.atomic import DeliveryError, whole_file
from previz.exposure.camera import balance_white_xy, balanced_acescg_from_xyz
from previz.exposure.mix import lamp_xyz, lamps_in_order
from previz.physics.chromatic_adaptation import (
    ACES_XY,
    AP1_XY,
    acescg_from_rec709,
    acescg_from_xyz,
)
from previz.physics.exposure import signal_per_luminance

SCALES = ("signal", "luminance")

HALF_MAX = 65504.0
"""Largest finite half float; brighter pixels (a lamp's own face) are held here and counted."""

_UNITS = {
    "signal": "scene-linear signal, 0.18 = 18 % grey, white balanced",
    "luminance": "cd/m2, not exposed, not white balanced",
}


def write_exr(path, frames, lamps, settings, *, scale="signal", words=None):
    """Write the linear picture.

    Parameters
    ----------
    path : path-like
        A .exr; replaced in one step.
    frames : Frames
        The slices and planes.
    lamps : sequence of LampLight
        One for each light of the frames, as they are set.
    settings : CameraSettings
        The camera.
    scale : str
        'signal' or 'luminance'.
    words : dict of str to str, optional
        Further text for the header; keys become attributes with the prefix 'previz.'.

    Returns
    -------
    int
        How many values were too bright for a half float and are held at its largest.

    Raises
    ------
    ValueError
        The scale is unknown or the lamps are not those of the frames.

    Source
    ------
    OpenEXR standard optional attributes: chromaticities, whiteLuminance [cd/m² of RGB (1,1,1)],
    adoptedNeutral, expTime [s], aperture [f-number; the T-stop here], isoSpeed.
    """
    if scale not in SCALES:
        raise ValueError(f"scale must be one of {SCALES}, got '{scale}'")
    if scale == "signal":
        matrix = balanced_acescg_from_xyz(settings.white_balance, settings.tint)
        matrix = matrix * signal_per_luminance(settings)
    else:
        matrix = acescg_from_xyz()
    matrix = matrix.astype(np.float32)
    head = _head(frames, settings, scale, words or {})
    # The library drops a part that it cannot read, so a reader must know how many there were.
    head["previz.parts"] = 1 + len(frames.lights) + 4
    beauty = np.zeros((*frames.shape, 3), dtype=np.float32)
    held = 0
    lamp_parts = []
    for lamp in lamps_in_order(frames, lamps):
        rgb = np.einsum("ij,jrc->rci", matrix, lamp_xyz(frames, lamp), optimize=True)
        beauty += rgb
        half, over = _half(rgb)
        held += over
        details = {"previz.level": float(lamp.level), "previz.on": int(lamp.on)}
        lamp_parts.append(_part(head | details, {"RGB": half}, f"lamp.{lamp.name}"))
    half, over = _half(beauty)
    held += over
    head["previz.heldValues"] = held
    parts = [_part(head, {"RGB": half}, "beauty"), *lamp_parts, *_planes(head, frames)]
    with whole_file(path) as part:
        OpenEXR.File(parts).write(str(part))
    return held


def _half(rgb):
    over = np.abs(rgb) > HALF_MAX
    half = np.ascontiguousarray(np.clip(rgb, -HALF_MAX, HALF_MAX), dtype=np.float16)
    return half, int(np.count_nonzero(over))


def _head(frames, settings, scale, words):
    per_nit = signal_per_luminance(settings)
    neutral = (
        ACES_XY if scale == "signal" else balance_white_xy(settings.white_balance, settings.tint)
    )
    return {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "chromaticities": tuple(float(value) for value in (*AP1_XY.ravel(), *ACES_XY)),
        "whiteLuminance": float(1.0 / per_nit) if scale == "signal" else 1.0,
        "adoptedNeutral": np.asarray(neutral, dtype=np.float32),
        "expTime": float(settings.shutter_s),
        "aperture": float(settings.stop),
        "isoSpeed": float(settings.iso),
        "previz.unit": _UNITS[scale],
        "previz.ndDensity": float(settings.nd_density),
        "previz.whiteBalance": float(settings.white_balance),
        "previz.tint": float(settings.tint),
        "previz.transport": frames.transport_hash,
        "previz.samples": int(frames.samples),
        **{f"previz.{key}": str(text) for key, text in words.items()},
    }


def _part(head, channels, name):
    return OpenEXR.Part(dict(head), channels, name)


def _planes(head, frames):
    albedo = np.einsum("ij,jrc->rci", acescg_from_rec709(), np.asarray(frames.albedo, dtype=float))
    normal = np.asarray(frames.normal, dtype=np.float16)
    things = np.ascontiguousarray(np.asarray(frames.names_index) + 1, dtype=np.uint32)
    names = head | {"objectNames": "\n".join(frames.names)}
    return [
        _part(head, {"RGB": np.ascontiguousarray(albedo, dtype=np.float16)}, "albedo"),
        _part(
            head,
            {axis: np.ascontiguousarray(normal[number]) for number, axis in enumerate("XYZ")},
            "normal",
        ),
        _part(head, {"Z": np.ascontiguousarray(frames.depth, dtype=np.float32)}, "depth"),
        _part(names, {"id": things}, "objects"),
    ]


def read_exr(path):
    """Read a linear picture back.

    Parameters
    ----------
    path : path-like
        A .exr that `write_exr` wrote.

    Returns
    -------
    dict of str to (dict, dict)
        By part: its header, and its channels as arrays of shape (row, column) or, for RGB,
        (row, column, 3).

    Raises
    ------
    DeliveryError
        It is missing, torn, or not an OpenEXR file.
    """
    path = Path(path)
    try:
        with OpenEXR.File(str(path)) as file:
            parts = {
                part.name(): (
                    dict(part.header),
                    {key: np.array(channel.pixels) for key, channel in part.channels.items()},
                )
                for part in file.parts
            }
    except (OSError, RuntimeError, ValueError) as error:
        raise DeliveryError(
            f"{path} is no readable OpenEXR: {error}.", "Write it again."
        ) from error
    wanted = next(iter(parts.values()))[0].get("previz.parts") if parts else None
    if wanted != len(parts):
        reason = "previz did not write it" if wanted is None else "a part of it is torn"
        raise DeliveryError(f"{path} cannot be used: {reason}.", "Render again.")
    return parts
