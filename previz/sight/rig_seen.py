"""What of the rig a camera gives away: seen itself, or mirrored in glass, mirrors and gloss.

Lines of sight are sent through a fine grid of the picture once (`rig_lines`); what they found is
kept, and follows dimmers and gels without being traced again.
"""

from __future__ import annotations

import base64
import contextlib
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from previz import __version__
from previz.engine.gather import luminous_weights
from previz.exposure.camera import settings_of
from previz.exposure.comparing.coverage import (
    FAINT,
    GLOSS,
    IN_FRAME,
    MIRROR,
    NOTICED,
    SHEEN,
    Sighting,
)
from previz.exposure.comparing.measures import stops_from
from previz.exposure.falsecolour import DEFAULT_CRUSH
from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.physics.exposure import signal_per_luminance, stops_from_grey
from previz.rendering.job import StageJob
from previz.sight.rig_bodies import CameraBody, Stand
from previz.sight.rig_lines import RigScan, Trace, rig_roles
from previz.stage.fingerprint import digest_of, frame_hash
from previz.stage.records import Camera, Stage

MOST_LIFT = 6.0
"""Most stops that a reflection is said to lift its place by. [stops]"""


@dataclass(frozen=True, eq=False)
class Spotted:
    """One thing in a picture, and where.

    Parameters
    ----------
    sighting : coverage.Sighting
        What is reported of it.
    mask : bool array, shape (row, column)
        The pixels of the grid that show it.
    """

    sighting: Sighting
    mask: np.ndarray


def rig_in(job: StageJob, camera: Camera, bodies: Sequence[Stand | CameraBody] = ()) -> tuple[Spotted, ...]:
    """Return what of the rig is in a camera's picture, under the lamps as set, and of bodies in no stage.

    What is seen itself comes first, and then the largest.
    """
    stage = job.stage
    traces = _cached(job, camera, bodies)
    roles = rig_roles(stage) | {body.name: body.role for body in bodies}
    kept = {rig.name for rig in stage.rig if rig.in_shot}
    found = [_spotted(trace, stage, camera, roles, kept, job.order.bands) for trace in traces]
    found.sort(key=lambda each: (bool(each.sighting.within), -each.sighting.share,
                                 each.sighting.name))
    return tuple(found)


def side_of(x: float, y: float) -> str:
    """Return where in a frame a place is, in words: 'upper left', 'right', 'middle'.

    Parameters
    ----------
    x, y : float
        From the middle of the frame, 1 at its right and its upper edge. [1]
    """
    third = 1 / 3
    across = "right" if x > third else "left" if x < -third else ""
    up = ("upper" if y > third else "lower" if y < -third else "")
    if up and across:
        return f"{up} {across}"
    return across or {"upper": "top", "lower": "bottom", "": "middle"}[up]


def side_of_pixels(mask: np.ndarray) -> str:
    """Return where in a frame the middle of some pixels is, in the words of `side_of`."""
    (rows, columns), (high, wide) = np.nonzero(mask), mask.shape
    return side_of((columns.mean() + 0.5) / wide * 2 - 1, 1 - (rows.mean() + 0.5) / high * 2)


def _spotted(trace: Trace, stage: Stage, camera: Camera, roles: dict[str, str], kept: set[str],
             bands: int) -> Spotted:
    rows, columns = np.nonzero(trace.mask)
    high, wide = trace.mask.shape
    box = (columns.min() / wide, rows.min() / high, (columns.max() + 1) / wide,
           (rows.max() + 1) / high)
    where, lift = IN_FRAME, None
    if trace.within and trace.added is not None:
        lift, level = _lift(trace, stage, camera, bands)
        least = SHEEN if trace.by == GLOSS else NOTICED
        shows = lift >= least and level >= DEFAULT_CRUSH
        # In a mirror a dark thing shows as well as a bright one.
        where = IN_FRAME if trace.by == MIRROR or shows else FAINT
    elif trace.within and trace.by != MIRROR:
        where = FAINT
    sighting = Sighting(trace.name, roles[trace.name], where, trace.share, trace.name in kept,
                        side_of_pixels(trace.mask), trace.within, trace.by, lift,
                        tuple(float(x) for x in box))
    return Spotted(sighting, trace.mask)


def _lift(trace: Trace, stage: Stage, camera: Camera, bands: int) -> tuple[float, float]:
    """Return by how much a reflection brightens its place, and its level from grey. [stops]"""
    weights = luminous_weights(stage.lamps, bands)
    added, behind = (float(np.sum(each * weights)) for each in (trace.added, trace.behind))
    if added <= 0:
        return 0.0, float("-inf")
    # What is behind may be a difference, of which noise alone is left where it is small.
    behind = max(behind, added / (2.0**MOST_LIFT - 1))
    level = stops_from_grey((behind + added) * signal_per_luminance(settings_of(camera)))
    return stops_from(behind + added, behind), float(level)


def scan_hash(job: StageJob, camera: Camera, bodies: Sequence[Stand | CameraBody]) -> str:
    """Return the fingerprint of what of the rig a camera, bare of its opening and focus, can see."""
    standing = [(b.name, b.role, *((b.position, b.world_from_camera) if isinstance(b, CameraBody)
                               else (b.top, b.foot))) for b in bodies]
    return frame_hash(job.paths, camera, "rig", digest_of(standing), job.order.bands,
                      job.order.sampling.seed, __version__)


def scan_file(job: StageJob, camera: Camera, bodies: Sequence[Stand | CameraBody]) -> Path:
    """Return the file of a job's cache that keeps what of the rig a camera sees."""
    return job.order.cache / "meters" / f"{scan_hash(job, _bare(camera), bodies)}-rig.json"


def _bare(camera: Camera) -> Camera:
    return replace(camera, lens_radius=0.0, focus=1.0)


def _cached(job: StageJob, camera: Camera, bodies: Sequence[Stand | CameraBody]) -> list[Trace]:
    bare, path = _bare(camera), scan_file(job, camera, bodies)
    with contextlib.suppress(FramesError, KeyError):
        return [_unpacked(each) for each in read_sealed(path, "previz_rig", path.stem)["traces"]]
    traces = RigScan(job, bare, bodies).traces()
    write_sealed(path, {**marked("previz_rig"), "traces": [_packed(each) for each in traces]}, path.stem)
    return traces


def _packed(trace: Trace) -> dict:
    bits = zlib.compress(np.packbits(trace.mask).tobytes(), 9)
    return {"name": trace.name, "within": trace.within, "by": trace.by, "share": trace.share,
            "shape": list(trace.mask.shape), "mask": base64.b64encode(bits).decode("ascii"),
            "added": trace.added, "behind": trace.behind}


def _unpacked(packed: dict) -> Trace:
    shape = tuple(packed["shape"])
    bits = np.frombuffer(zlib.decompress(base64.b64decode(packed["mask"])), np.uint8)
    mask = np.unpackbits(bits)[:shape[0] * shape[1]].reshape(shape).astype(bool)
    light = (None if packed[key] is None else np.asarray(packed[key], float)
             for key in ("added", "behind"))
    return Trace(packed["name"], packed["within"], packed["by"], packed["share"], mask, *light)
