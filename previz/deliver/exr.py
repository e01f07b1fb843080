"""The linear picture: one OpenEXR file with the whole frame, each lamp, and what the pixels see.

Parts, in this order:

- `mix`: the whole picture, RGB half;
- `lamp.<name>`: what each lamp gives at its present level and colour, RGB half; they sum to
  `mix`;
- `albedo`: RGB half; `normal`: X, Y, Z half, world; `depth`: Z float, metres along the view axis,
  infinite where nothing is seen; `objects`: id, unsigned, 0 for nothing; the names that the ids
  stand for are in the attribute `objectNames`, one a line.

All RGB is linear with ACEScg primaries, exposed and white balanced as the camera is set: 0.18 is
mid grey. `whiteLuminance` says how many cd/m² the signal 1.0 stands for.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import OpenEXR

from previz.deliver.atomic import DeliveryError, whole_file
from previz.errors import DISK
from previz.exposure.camera import balanced_acescg_from_xyz
from previz.exposure.mix import lamp_xyz, lamps_in_order
from previz.frames import Frames
from previz.physics.chromatic_adaptation import ACES_XY, AP1_XY, acescg_from_rec709
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.physics.light import LampLight

HALF_MAX = 65504.0
"""Largest finite half float; brighter pixels (a lamp's own face) are held here and counted."""

UNIT = "scene-linear signal, 0.18 = 18 % grey, white balanced"


def write_exr(path: Path, frames: Frames, lamps: Sequence[LampLight], settings: CameraSettings) -> int:
    """Write the linear picture in one step, the lamps and the camera as they are set.

    Returns
    -------
    int
        How many values were too bright for a half float and are held at its largest.

    Raises
    ------
    ValueError
        The lamps are not those of the frames.

    Source
    ------
    OpenEXR standard optional attributes: chromaticities, whiteLuminance [cd/m² of RGB (1,1,1)],
    adoptedNeutral, expTime [s], aperture [f-number; the T-stop here], isoSpeed.
    """
    matrix = balanced_acescg_from_xyz(settings.white_balance, settings.tint)
    matrix = (matrix * signal_per_luminance(settings)).astype(np.float32)
    head = _head(frames, settings)
    # The library drops a part that it cannot read, so a reader must know how many there were.
    head["previz.parts"] = 1 + len(frames.lights) + 4
    mix = np.zeros((*frames.shape, 3), dtype=np.float32)
    held = 0
    lamp_parts = []
    for lamp in lamps_in_order(frames, lamps):
        rgb = np.einsum("ij,jrc->rci", matrix, lamp_xyz(frames, lamp), optimize=True)
        mix += rgb
        half, over = _half(rgb)
        held += over
        details = {"previz.level": float(lamp.level), "previz.on": int(lamp.on)}
        lamp_parts.append(_part(head | details, {"RGB": half}, f"lamp.{lamp.name}"))
    half, over = _half(mix)
    held += over
    head["previz.heldValues"] = held
    parts = [_part(head, {"RGB": half}, "mix"), *lamp_parts, *_planes(head, frames)]
    with whole_file(path) as part:
        try:
            OpenEXR.File(parts).write(str(part))
        except RuntimeError as error:
            raise _refused(error, path) from error
    return held


def _refused(error: RuntimeError, path: Path) -> Exception:
    """Return what the library says of a file that it cannot write as the disk would say it."""
    for number in DISK:
        if os.strerror(number) in str(error):
            return OSError(number, os.strerror(number), str(path))
    return DeliveryError(f"{path} cannot be written: {error}", "Leave it out with --no-exr.")


def _half(rgb: np.ndarray) -> tuple[np.ndarray, int]:
    over = np.abs(rgb) > HALF_MAX
    half = np.ascontiguousarray(np.clip(rgb, -HALF_MAX, HALF_MAX), dtype=np.float16)
    return half, int(np.count_nonzero(over))


def _head(frames: Frames, settings: CameraSettings) -> dict:
    return {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "chromaticities": tuple(float(value) for value in (*AP1_XY.ravel(), *ACES_XY)),
        "whiteLuminance": float(1.0 / signal_per_luminance(settings)),
        "adoptedNeutral": np.asarray(ACES_XY, dtype=np.float32),
        "expTime": float(settings.shutter_s),
        "aperture": float(settings.stop),
        "isoSpeed": float(settings.iso),
        "previz.unit": UNIT,
        "previz.ndDensity": float(settings.nd_density),
        "previz.whiteBalance": float(settings.white_balance),
        "previz.tint": float(settings.tint),
        "previz.transport": frames.transport_hash,
        "previz.samples": int(frames.samples),
    }


def _part(head: dict, channels: dict, name: str) -> OpenEXR.Part:
    return OpenEXR.Part(dict(head), channels, name)


def _planes(head: dict, frames: Frames) -> list[OpenEXR.Part]:
    albedo = np.einsum("ij,jrc->rci", acescg_from_rec709(), np.asarray(frames.albedo, dtype=float))
    normal = np.asarray(frames.normal, dtype=np.float16)
    things = np.ascontiguousarray(np.asarray(frames.names_index) + 1, dtype=np.uint32)
    names = head | {"objectNames": "\n".join(frames.names)}
    return [
        _part(head, {"RGB": np.ascontiguousarray(albedo, dtype=np.float16)}, "albedo"),
        _part(head, {axis: np.ascontiguousarray(each) for axis, each in zip("XYZ", normal, strict=True)},
              "normal"),
        _part(head, {"Z": np.ascontiguousarray(frames.depth, dtype=np.float32)}, "depth"),
        _part(names, {"id": things}, "objects"),
    ]
