"""Find what of the rig stands in a camera's frame: from the names plane, and by projection."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from previz.exposure.comparing.coverage import (
    HIDDEN,
    IN_FRAME,
    NEAR_EDGE,
    Coverage,
    Sighting,
)
from previz.frames import Frames
from previz.sight.rig_bodies import BODY
from previz.sight.rig_lines import rig_roles
from previz.sight.rig_seen import Spotted, side_of, side_of_pixels
from previz.sight.subjects import projected
from previz.stage.records import Camera, Stage

EDGE = 1.1
"""Things out to here from the middle, in half frames, are just outside: a breath of the operator
brings them in.  Common practice, no source. [1]"""

DEPTH_ROOM = 0.05
"""What is seen this much nearer than a thing hides it. [m]"""


def coverage(stage: Stage, option: str, camera: Camera, frames: Frames, subject: str | None,
             spotted: Sequence[Spotted] = ()) -> Coverage:
    """Return what of the rig a camera has in or near its frame.

    Parameters
    ----------
    option : str
        Name of the option; '' for the scene as written.
    subject : str or None
        The figure that it is on.
    spotted : sequence of rig_seen.Spotted
        What lines of sight found; its stands and reflections are added.
    """
    seen = [*_rig(stage, camera, frames), *_bodies(stage, camera, frames)]
    seen += [each.sighting for each in spotted if each.sighting.where == IN_FRAME
             and (each.sighting.within or each.sighting.role == "stand")]
    rank = {IN_FRAME: 0, NEAR_EDGE: 1, HIDDEN: 2}
    seen.sort(key=lambda each: (rank[each.where], -each.share, each.name))
    return Coverage(option, camera.name, subject or "", tuple(seen))


def _rig(stage: Stage, camera: Camera, frames: Frames) -> Iterator[Sighting]:
    """Yield the sightings of lamps, boards, frames and flags."""
    roles = rig_roles(stage)
    kept = {rig.name for rig in stage.rig if rig.in_shot}
    index = np.asarray(frames.names_index)
    counts = np.bincount(index[index >= 0], minlength=len(frames.names))
    for name, role in roles.items():
        share = counts[frames.names.index(name)] / index.size if name in frames.names else 0.0
        if share > 0:
            side = side_of_pixels(index == frames.names.index(name))
            yield Sighting(name, role, IN_FRAME, float(share), name in kept, side)
            continue
        points = np.concatenate([m.vertices for m in (*stage.meshes, *stage.emitters)
                                 if m.name == name])
        some = points[:: len(points) // 64 + 1]
        places = np.array([projected(camera, point)[:2] for point in some])
        where, side = _outside(places)
        if where:
            yield Sighting(name, role, where, 0.0, name in kept, side)


def _outside(places: np.ndarray) -> tuple[str, str]:
    """Return how something that is not seen stands to the frame, by its projected points."""
    places = places[np.isfinite(places).all(axis=1)]
    if not len(places):
        return "", ""
    reach = np.abs(places).max(axis=1)
    nearest = int(np.argmin(reach))
    if reach[nearest] < 1:
        return HIDDEN, ""
    if reach[nearest] < EDGE:
        return NEAR_EDGE, side_of(*places[nearest])
    return "", ""


def _bodies(stage: Stage, camera: Camera, frames: Frames) -> Iterator[Sighting]:
    """Yield the sightings of the other cameras' bodies, which no mesh stands for."""
    rows, columns = frames.shape
    depth = np.asarray(frames.depth)
    steps = np.linspace(0, 1, 6)
    for other in stage.cameras:
        if other.name == camera.name:
            continue
        grid = np.stack(np.meshgrid(*(low + (high - low) * steps for low, high in BODY),
                                    indexing="ij"), axis=-1).reshape(-1, 3)
        points = grid @ np.asarray(other.world_from_camera).T + other.position
        placed = np.array([projected(camera, point) for point in points])
        inside = np.isfinite(placed[:, 0]) & (np.abs(placed[:, :2]).max(axis=1) < 1)
        if inside.any():
            x, y, far = placed[inside].T
            seen = depth[((1 - y) / 2 * rows).astype(int).clip(0, rows - 1),
                         ((x + 1) / 2 * columns).astype(int).clip(0, columns - 1)]
            shown = seen > far - DEPTH_ROOM
            if shown.any():
                share = np.ptp(x[shown]) * np.ptp(y[shown]) / 4
                yield Sighting(f"camera {other.name}", "camera", IN_FRAME, float(share), False,
                               side_of(x[shown].mean(), y[shown].mean()))
            else:
                yield Sighting(f"camera {other.name}", "camera", HIDDEN)
            continue
        where, side = _outside(placed[:, :2])
        if where:
            yield Sighting(f"camera {other.name}", "camera", where, 0.0, False, side)
